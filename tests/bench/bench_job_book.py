"""A job book read and parsed, beside a row loop in the same run, and its memory: `pytest tests/bench/*.py -s`."""

import csv
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest
from test_job_book import read_or_refused, whole_books

from decide.load.jobs.book import open_book
from decide.load.jobs.columns import guess_mapping
from decide.load.jobs.rows import chunk_read

ROWS = 1_000_000
HEADER = ["Date", "Serial no", "Appliance", "Age", "Fault", "Parts", "Labour", "Quote", "Customer did", "Later"]
KINDS = np.array(["Fridge", "Washer", "Dishwasher", "Electric dryer", "Microwave"])
FAULTS = np.array(["Compressor", "Drain pump", "Control board", "Motor", "Belt"])
DID = np.array(["repaired", "bought new", "declined", "left it", "open"])
LATER = np.array(["held", "called back", "failed again", "retired", ""])

WATCHED = """
import sys
from pathlib import Path
from decide.load.jobs.book import open_book
from decide.load.jobs.columns import guess_mapping
from decide.load.jobs.rows import chunk_read
book = open_book(Path(sys.argv[1]), "jobs.csv")
mapping = guess_mapping(book)
print(sum(len(chunk_read(chunk, mapping)[0]) for chunk in book.chunks()))
status = Path("/proc/self/status").read_text()  # the peak that getrusage tells is that of the process before
print(next(line.split()[1] for line in status.splitlines() if line.startswith("VmHWM")))
"""


def written(path: Path, rows: int, separator: str = ",", mark: str = ".", days: str = "%Y-%m-%d") -> Path:
    """A book of made-up jobs: dates, words, and amounts that hardly ever come twice."""
    draw = np.random.default_rng(5)
    dates = [f"{day:{days}}" for day in (np.datetime64("2019-01-01") + np.arange(2500)).tolist()]
    with path.open("w", encoding="utf-8", newline="") as file:
        file.write(separator.join(HEADER) + "\n")
        for begin in range(0, rows, 50_000):
            count = min(50_000, rows - begin)
            money = [np.char.replace(np.char.mod("%.2f", draw.lognormal(5, 0.6, count)), ".", mark) for _ in range(3)]
            columns = [
                np.array(dates)[draw.integers(0, len(dates), count)],
                np.char.mod("U%07d", draw.integers(0, 10_000_000, count)),
                KINDS[draw.integers(0, 5, count)],
                np.char.mod("%d", draw.integers(0, 25, count)),
                FAULTS[draw.integers(0, 5, count)],
                *money,
                DID[draw.integers(0, 5, count)],
                LATER[draw.integers(0, 5, count)],
            ]
            file.writelines(separator.join(row) + "\n" for row in zip(*columns, strict=True))
    return path


def row_loop(path: Path, separator: str, mark: str) -> float:
    """Sum of the quotes by the csv module and `float`, told the form in advance, with no check of anything."""
    total = 0.0
    with path.open(encoding="utf-8", newline="") as file:
        rows = csv.reader(file, delimiter=separator)
        next(rows)
        for row in rows:
            numbers = [float(row[at].replace(mark, ".")) for at in (3, 5, 6, 7)]
            total += numbers[3]
    return total


@pytest.mark.parametrize(("separator", "mark", "days"), [(",", ".", "%Y-%m-%d"), (";", ",", "%d.%m.%Y")])
def test_a_million_rows_against_a_row_loop_of_the_csv_module(
    tmp_path: Path, separator: str, mark: str, days: str
) -> None:
    path = written(tmp_path / "jobs.csv", ROWS, separator, mark, days)
    begun = time.perf_counter()
    book = open_book(path, "jobs.csv")
    mapping = guess_mapping(book)
    guessed = time.perf_counter()
    read, total = 0, 0.0
    for chunk in book.chunks():
        jobs, _ = chunk_read(chunk, mapping)[:2]
        read, total = read + len(jobs), total + float(jobs.quote.sum())
    ended = time.perf_counter()
    looped = row_loop(path, separator, mark)
    loop, ours = time.perf_counter() - ended, ended - guessed
    assert read == ROWS
    assert total == pytest.approx(looped, rel=1e-9)
    print(f"\n{path.stat().st_size / 1e6:.0f} MB, {separator} {mark}: guessed in {guessed - begun:.2f} s,", end=" ")
    print(f"read and parsed in {ours:.2f} s, {ROWS / ours:,.0f} rows a second (asked: under 7 s)")
    print(f"csv module row by row, four numbers and nothing else: {loop:.2f} s, {loop / ours:.2f} times as long")


def test_memory_hangs_on_the_chunk_and_not_on_the_book(tmp_path: Path) -> None:
    peaks = {}
    for rows in (10_000, 100_000, 1_000_000):
        path = written(tmp_path / f"{rows}.csv", rows)
        process = subprocess.run([sys.executable, "-c", WATCHED, str(path)], capture_output=True, text=True, check=True)
        read, peak = map(int, process.stdout.split())
        assert read == rows
        peaks[rows] = peak / 1024
    print("\npeak memory: " + ", ".join(f"{rows:,} rows {peak:.0f} MB" for rows, peak in peaks.items()))
    assert peaks[1_000_000] < 1.25 * peaks[100_000]


@pytest.mark.parametrize(("kind", "files"), [("csv", 6_000), ("utf-16", 1_500), ("xlsx", 1_000)])
def test_ten_thousand_damaged_files_are_read_or_refused_in_words(kind: str, files: int) -> None:
    begun = time.perf_counter()
    read, refused = read_or_refused(whole_books()[kind], files)
    print(f"\n{kind}: of {files:,} damaged files {read:,} read, {refused:,} refused, none else;", end=" ")
    print(f"{(time.perf_counter() - begun) / files * 1000:.0f} ms each")
    assert read + refused == files
