"""A job book of ten thousand to ten million rows, streamed: time and memory by size, and where the time goes.

    python tests/bench/bench_scale.py FOLDER [ROWS ...]

The books are made in FOLDER, and the curve is drawn there. Ten million rows take about 800 MB and some minutes.
"""

import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import plotly.graph_objects as go
from bench_jobs import ALONE, as_book
from invented_jobs import invented_jobs

from decide.load.jobs.book import JobBook, open_book
from decide.load.jobs.cases import JobCases
from decide.load.jobs.columns import guess_mapping
from decide.load.jobs.rows import chunk_read
from decide.load.tables.tables import tables
from decide.shop.weigh_jobs import Remembered, weigh_jobs

SIZES = (10_000, 100_000, 1_000_000, 10_000_000)
PIECE = 100_000
"""Rows that are invented once and written over and over."""
STAGED = 1_000_000


def book_of(rows: int, folder: Path) -> Path:
    """A book of so many rows, the same every time."""
    path, piece = folder / f"book-{rows}.csv", folder / "piece.csv"
    if not path.exists():
        as_book(invented_jobs(min(rows, PIECE)), piece)
        heading, _, text = piece.read_text("utf-8").partition("\n")
        with path.open("w", encoding="utf-8", newline="") as file:
            file.write(f"{heading}\n")
            for _ in range(max(1, rows // PIECE)):
                file.write(text)
        piece.unlink()
    return path


def streamed(rows: int, folder: Path) -> tuple[float, float]:
    """Seconds, and the greatest memory in MB."""
    arguments = [str(book_of(rows, folder)), str(folder / "rows.csv")]
    sentences = subprocess.run(
        [sys.executable, "-c", ALONE, *arguments], capture_output=True, text=True, check=True, timeout=3600
    ).stdout.split()
    assert int(sentences[0]) == rows
    return float(sentences[2]), float(sentences[3])


def stages(book: JobBook) -> dict[str, float]:
    """Seconds that each stage takes by itself, in one process, on all that came before it. [s]"""
    columns, template = guess_mapping(book), JobCases("US", tables()).template

    def timed(work: Callable[[], list[object]]) -> tuple[float, list[object]]:
        begun = time.perf_counter()
        made = work()
        return time.perf_counter() - begun, made

    read, chunks = timed(lambda: list(book.chunks()))
    parsed, jobs = timed(lambda: [chunk_read(chunk, columns)[0] for chunk in chunks])  # type: ignore[arg-type]
    remembered = Remembered()
    weighed, _ = timed(lambda: [weigh_jobs(each, template, remembered) for each in jobs])  # type: ignore[arg-type]
    return {"read": read, "parse": parsed, "weigh": weighed}


def main(folder: Path, sizes: tuple[int, ...]) -> None:
    """Print the table, and draw the curve."""
    found = [streamed(rows, folder) for rows in sizes]
    for rows, (seconds, memory) in zip(sizes, found, strict=True):
        print(f"{rows:>12,} rows: {seconds:8.1f} s, {rows / seconds:9,.0f}/s, {memory:6.0f} MB")
    figure = go.Figure(go.Scatter(x=sizes, y=[seconds for seconds, _ in found]))
    figure.update_xaxes(type="log", title="rows").update_yaxes(type="log", title="seconds")
    figure.write_html(folder / "scale.html")
    path = book_of(STAGED, folder)
    for stage, seconds in stages(open_book(path, path.name)).items():
        print(f"{stage:>12}: {seconds:6.1f} s of {STAGED:,} rows")


if __name__ == "__main__":
    main(Path(sys.argv[1]), tuple(map(int, sys.argv[2:])) or SIZES)
