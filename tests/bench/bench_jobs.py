"""A job book, beside a row loop in the same run, and its memory by size: `pytest tests/bench/bench_jobs.py -s`."""

import csv
import math
import os
import random
import resource
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import numpy_financial as npf
import pandas as pd
import pyarrow.csv as arrow_csv

ROOT = Path(__file__).resolve().parents[2]
DEMO = ROOT / "data" / "demo"
sys.path.insert(0, str(ROOT / "tests"))

from invented_jobs import invented_jobs  # noqa: E402

from decide.economics.case import Appliance, Case, vary  # noqa: E402
from decide.economics.flows import flows_of, money, running_probability  # noqa: E402
from decide.load.jobs.cases import JobCases  # noqa: E402
from decide.load.tables.tables import tables  # noqa: E402
from decide.shop.jobs import DECISIONS, Jobs  # noqa: E402
from decide.shop.weigh_jobs import weigh_jobs  # noqa: E402

MONTHS = 1200
SIZES = (10_000, 100_000, 1_000_000)
ALONE = """
import sys, time
from pathlib import Path
from decide.load.jobs.book import open_book
from decide.load.jobs.columns import guess_mapping
from decide.load.jobs.export import RowWriter
from decide.load.tables.tables import tables
from decide.answers.book import weigh_book
from decide.show.text.jobs import rows_out
from decide.show.text.phrases import Phrases

if __name__ == "__main__":
    source, target = map(Path, sys.argv[1:3])
    begun = time.perf_counter()
    book = open_book(source, source.name)
    columns = guess_mapping(book)
    with RowWriter.of(target) as out:
        found = weigh_book(book, columns, tables(), rows_out(Phrases.of("en"), book.header, out))
    spent = time.perf_counter() - begun
    status = Path("/proc/self/status").read_text()  # ru_maxrss would count the process that started this one
    peak = int(status.partition("VmHWM:")[2].split()[0]) / 1024
    print(found.rows, found.skipped_rows, spent, peak)
"""


def as_book(jobs: Jobs, path: Path) -> None:
    """Jobs as a csv file of a shop."""
    known = tables()
    kinds = np.array([known.known_classes[kind].label for kind in jobs.kinds])
    faults = np.array([known.known_faults[fault].label for fault in jobs.faults])
    pd.DataFrame({
        "Date": jobs.date.astype(str), "Appliance": kinds[jobs.kind], "Age": np.round(jobs.age, 1),
        "Fault": faults[jobs.fault], "Parts": np.round(jobs.quote / 2, 2), "Labour": np.round(jobs.quote / 3, 2),
        "Fee": jobs.fee, "Fee credited": jobs.fee_credited, "Quote": np.nan_to_num(jobs.quote, nan=150.0),
        "Customer did": np.array(DECISIONS)[jobs.decision], "Job no": np.arange(len(jobs)),
    }).to_csv(path, index=False)  # fmt: skip


def survival(appliance: Appliance) -> np.ndarray:
    time_ = appliance.age + np.arange(MONTHS + 1) / 12
    scale = (appliance.mean_life - appliance.failure_free_years) / math.gamma(1 + 1 / appliance.life_shape)
    hazard = (np.maximum(time_ - appliance.failure_free_years, 0) / scale) ** appliance.life_shape
    return np.exp(hazard[0] - hazard)


def limit_by_hand(case: Case) -> float:
    """The limit of one row as one would write it in a loop: monthly flows over a century, npv of numpy-financial."""
    monthly = (1 + case.household.rate) ** (1 / 12) - 1
    new, costs = case.options[1], []
    for option in case.options[:2]:
        standing = survival(case.appliance_of(option)) * running_probability(option)
        fresh = survival(case.appliance_of(new))
        ends, deaths = -np.diff(standing, prepend=1.0), -np.diff(fresh)
        bought = np.zeros(MONTHS + 1)
        for month in range(MONTHS + 1):
            bought[month] = ends[month] + bought[:month] @ deaths[:month][::-1]
        flows, again, price = flows_of(case, option), flows_of(case, new), money(case.household).price
        running, followed = (
            sum(each.yearly[category] * price[category] for category in each.yearly) / 12 for each in (flows, again)
        )
        expected = standing * running + (1 - standing) * followed + bought * sum(again.again.values())
        costs.append(npf.npv(monthly, expected) + sum(flows.once.values()))
    return costs[1] - costs[0]


def test_rows_a_second_against_a_pandas_loop_with_numpy_financial() -> None:
    jobs, cases = invented_jobs(50_000, seed=3), JobCases("US", tables())
    weigh_jobs(jobs.take(slice(0, 20_000)), cases.template)
    begun = time.perf_counter()
    weighed = weigh_jobs(jobs, cases.template)
    ours = len(jobs) / (time.perf_counter() - begun)
    frame = pd.DataFrame({"kind": jobs.kind[:200], "fault": jobs.fault[:200], "age": jobs.age[:200]})
    begun = time.perf_counter()
    loop = [
        limit_by_hand(
            vary(cases.template(jobs.kinds[int(row.kind)], jobs.faults[int(row.fault)]), "appliance.age", row.age)
        )
        for row in frame.itertuples()
    ]
    theirs = len(frame) / (time.perf_counter() - begun)
    credit = np.where(np.isnan(jobs.quote), 0.0, np.nan_to_num(jobs.fee * jobs.fee_credited))[:200]
    apart = np.abs(weighed.repair_limit[:200] - credit - loop) / weighed.new_price[:200]
    kept = ~np.isnan(apart)
    print(
        f"\n{ours:,.0f} rows a second in columns, all ages different; {theirs:,.1f} in the loop: {ours / theirs:,.0f}"
    )
    print(f"limits apart by {np.median(apart[kept]):.1%} of the price of new in the middle of {kept.sum()} rows")
    print("(the loop has no rise of consumption with age, no warranty and no planned replacement)")
    assert ours > theirs


def test_time_and_memory_by_the_size_of_the_book(tmp_path: Path) -> None:
    script = tmp_path / "alone.py"
    script.write_text(ALONE, encoding="utf-8")
    print()
    for size in SIZES:
        as_book(invented_jobs(size, seed=5), tmp_path / "book.csv")
        begun = time.perf_counter()
        done = subprocess.run(
            [sys.executable, str(script), "book.csv", "rows.csv"],
            capture_output=True, text=True, check=True, cwd=tmp_path, env={"PYTHONPATH": str(ROOT)},
        )  # fmt: skip
        spent = time.perf_counter() - begun
        rows, skipped, inner, peak = map(float, done.stdout.split())
        print(
            f"{rows:,.0f} rows ({skipped:.0f} skipped), csv to csv: {inner:.1f} s, {spent:.1f} s with the start;"
            f" at most {peak:.0f} MB"
        )
        assert rows == size


def much_of_the_demo(path: Path, rows: int) -> Path:
    """The demo book many times over: other numbers and amounts each time, and some 6 % that cannot be read."""
    with (DEMO / "jobs.csv").open(encoding="utf-8", newline="") as file:
        header, *demo = csv.reader(file)
    draw, at = random.Random(7), {name: position for position, name in enumerate(header)}
    wrong = {"Quote": "two hundred", "Date": "2024-02-30", "Appliance": "Toaster", "Age": "a few", "Parts": "see slip"}
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(header)
        for count in range(rows):
            row = list(demo[count % len(demo)])
            for name in ("Job no", "Unit no"):
                row[at[name]] += f"-{count // len(demo)}" if row[at[name]] else ""
            factor = draw.uniform(0.8, 1.25)
            for name in ("Parts", "Labour", "Quote"):
                if row[at[name]].replace(".", "", 1).isdecimal():
                    row[at[name]] = f"{float(row[at[name]]) * factor:.2f}"
            if draw.random() < 0.04:
                name = draw.choice(list(wrong))
                row[at[name]] = wrong[name]
            writer.writerow(row)
    return path


def test_a_million_rows_csv_to_csv_by_the_command_beside_the_csv_library(tmp_path: Path) -> None:
    book, out = much_of_the_demo(tmp_path / "book.csv", 1_000_000), tmp_path / "rows.csv"
    command = [
        sys.executable,
        "-m",
        "decide",
        "jobs",
        str(book),
        "--mapping",
        str(DEMO / "jobs.toml"),
        "--out",
        str(out),
    ]
    before, begun, load = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter(), os.getloadavg()[0]
    subprocess.run(command, check=True, capture_output=True, cwd=ROOT)
    spent, after = time.perf_counter() - begun, resource.getrusage(resource.RUSAGE_CHILDREN)
    processor = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    begun, worked = time.perf_counter(), time.process_time()
    arrow_csv.write_csv(arrow_csv.read_csv(book), tmp_path / "copy.csv")
    library, worked = time.perf_counter() - begun, time.process_time() - worked
    with out.open(encoding="utf-8") as file:
        written = sum(1 for _ in file) - 1
    print(f"\na million rows, {written:,} of them weighed, csv to csv: {spent:.1f} s, {processor:.1f} s of a processor")
    print(f"(asked: 10 s on two cores); at most {after.ru_maxrss / 1024:.0f} MB; load when begun {load:.1f}")
    print(f"the csv library reads and writes the book alone in {library:.1f} s, {worked:.1f} s of a processor")
    assert 900_000 < written < 990_000
