"""What a save costs, beside the standard sqlite3 alone with the same promise: `pytest tests/bench/bench_store.py -s`.

The named alternative writes one row of text a save, each on the disk before it is acknowledged (WAL, synchronous FULL),
and knows no versions, no copies and no files. What the disk takes for a commit is in both.
"""

import contextlib
import json
import sqlite3
import statistics
import time
from collections.abc import Callable
from pathlib import Path

from decide.load.cases.case_file import write_case
from decide.load.store.store import Store

SAVES = 300
PAGE = {"quote": "185,50", "age": "9", "fault": "no_cool", "place": "US-OH"}
LOG = b"2026-11-01 08:00,121.5\n" * 20_000


def entries(number: int) -> dict[str, object]:
    return {"title": f"visit {number}", "appliance": {"class": "refrigerator", "age": 9}, "repair": {"quote": number}}


def seconds_of(save: Callable[[int], None]) -> list[float]:
    spent = []
    for number in range(SAVES):
        begun = time.perf_counter()
        save(number)
        spent.append(time.perf_counter() - begun)
    return spent


def plain_saves(file: Path) -> list[float]:
    with contextlib.closing(sqlite3.connect(file, isolation_level=None)) as plain:
        plain.execute("PRAGMA journal_mode=WAL")
        plain.execute("PRAGMA synchronous=FULL")
        plain.execute("CREATE TABLE visits (id TEXT PRIMARY KEY, entries TEXT, page TEXT, version INTEGER)")
        plain.execute("INSERT INTO visits VALUES ('a', '', '', 0)")

        def save(number: int) -> None:
            plain.execute("BEGIN IMMEDIATE")
            change = "UPDATE visits SET entries = ?, page = ?, version = version + 1 WHERE id = 'a'"
            plain.execute(change, (write_case(entries(number)), json.dumps(PAGE)))
            plain.execute("COMMIT")

        return seconds_of(save)


def our_saves(folder: Path, files: dict[str, bytes]) -> list[float]:
    with Store.open(str(folder)) as store:
        visit = store.save_visit(store.new_id(), {}, files=files)

        def save(number: int) -> None:
            store.save_visit(visit.id, entries(number), version=number + 1, page=PAGE, files=files)

        spent = seconds_of(save)
        assert store.visit(visit.id).version == SAVES + 1
    return spent


def test_an_autosave_takes_less_than_four_times_a_plain_update(tmp_path: Path) -> None:
    plain = plain_saves(tmp_path / "plain.sqlite")
    ours = our_saves(tmp_path / "bare", {})
    with_log = our_saves(tmp_path / "log", {"log.csv": LOG})
    print()
    for name, spent in (("sqlite3", plain), ("the store", ours), (f"with a log of {len(LOG):,} bytes", with_log)):
        median, rate = statistics.median(spent), SAVES / sum(spent)
        print(f"{name:>30}: {rate:5.0f} saves/s, median {1e3 * median:.2f} ms, slowest {1e3 * max(spent):.1f} ms")
    ratio = statistics.median(ours) / statistics.median(plain)
    print(f"{'ratio of medians':>30}: {ratio:.1f}")
    assert ratio < 4
