"""What other processes do to a store in the tests: each runs in a process of its own, started from here."""

import contextlib
import datetime
import multiprocessing
import sqlite3
import sys
import time
import types
from collections.abc import Iterator
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any

from decide.load.store.records import EditConflict
from decide.load.store.store import Store

PROCESSES = multiprocessing.get_context("forkserver")
PROCESSES.set_forkserver_preload(["decide.load.store.store", "alembic.runtime.environment", "psycopg"])  # to start fast


def content(number: int) -> dict[str, Any]:
    """A visit that says one number in every part, so that a torn one shows."""
    return {
        "entries": {"note": f"{number} " * 300},
        "title": f"visit {number}",
        "page": {"number": str(number)},
        "files": {"log.csv": f"{number}\n".encode() * 2000, "other.csv": str(number).encode()},
    }


def number_of(store: Store, visit: str) -> int:
    """The number that a visit says, in every part of it the same."""
    found = store.visit(visit)
    number = int(found.page["number"])
    values = {"entries": found.entries, "title": found.title, "page": found.page, "files": found.files}
    assert values == content(number), visit
    return int(number)


def save_until_killed(address: str, out: Connection, first: int) -> None:
    """Save new visits, each twice over, and say what was acknowledged."""
    with Store.open(address) as store:
        number = first
        while True:
            visit = store.save_visit(store.new_id(), **content(number))
            out.send((visit.id, number))
            store.save_visit(visit.id, version=visit.version, **content(number + 1))
            out.send((visit.id, number + 1))
            number += 2


def open_and_say(address: str, out: Connection) -> None:
    """Open a store, which brings an older one up."""
    with Store.open(address):
        out.send("open")


def save_many(address: str, out: Connection, times: int) -> None:
    """Save so many new visits; hand back their ids and how long each save took."""
    ids, seconds = [], []
    with Store.open(address) as store:
        for number in range(times):
            begun = time.perf_counter()
            ids.append(store.save_visit(store.new_id(), **content(number)).id)
            seconds.append(time.perf_counter() - begun)
    out.send((ids, seconds))


def count_up(address: str, out: Connection, visit: str, times: int) -> None:
    """Add one to the number in a visit that others count up too; hand back how many saves came too late.

    Each signs what it saves: two that save the same, word for word, have nothing to lose to each other.
    """
    late, me = 0, multiprocessing.current_process().name
    with Store.open(address) as store:
        for _ in range(times):
            while True:
                there = store.visit(visit)
                try:
                    page = {"number": str(int(there.page["number"]) + 1), "by": me}
                    store.save_visit(visit, {}, version=there.version, page=page)
                    break
                except EditConflict:
                    late += 1
    out.send(late)


def hold(file: str, out: Connection, seconds: float) -> None:
    """Hold the turn to write for some time."""
    with contextlib.closing(sqlite3.connect(file, isolation_level=None)) as connection:
        connection.execute("BEGIN IMMEDIATE")
        out.send("held")
        time.sleep(seconds)
        connection.execute("ROLLBACK")


def fill_up(address: str, out: Connection) -> None:
    """Save until there is no room; hand back what was acknowledged, what was said, and what was said after that."""
    reports, kept = [], []
    with Store.open(address) as store:
        for number in range(10_000):
            try:
                kept.append((store.save_visit(store.new_id(), **content(number)).id, number))
            except Exception as error:
                reports.append((type(error).__name__, getattr(error, "trouble", ""), getattr(error, "where", "")))
                if len(reports) == 3:
                    break
    out.send((kept, reports))


@contextlib.contextmanager
def _nobody_is_the_main_program() -> Iterator[None]:
    """A new process runs the main program's file first; a page that was tested before passes for it."""
    there = sys.modules["__main__"]
    sys.modules["__main__"] = types.ModuleType("__main__")
    try:
        yield
    finally:
        sys.modules["__main__"] = there


def started(work: Any, *given: Any) -> tuple[Any, Connection]:
    """A process at work, and where it speaks to us."""
    ours, theirs = PROCESSES.Pipe(duplex=False)
    process = PROCESSES.Process(target=work, args=(given[0], theirs, *given[1:]))
    with _nobody_is_the_main_program():
        process.start()
    theirs.close()
    return process, ours


def heard(ours: Connection) -> list[Any]:
    """All that a process said, until its end of the line was closed."""
    found = []
    with contextlib.suppress(EOFError):
        while True:
            found.append(ours.recv())
    ours.close()
    return found


def at_once(*jobs: tuple[Any, ...]) -> list[Any]:
    """Let several processes work at the same time; what each of them hands back."""
    running = [started(*job) for job in jobs]
    found = [heard(ours) for _, ours in running]
    for process, _ in running:
        process.join()
        assert process.exitcode == 0
        process.close()
    return [last for (last,) in found]


def first_version_file(folder: Path, visits: int) -> None:
    """A store as the first version made it, with visits in it, written without any code of today's store."""
    from sqlalchemy import make_url, text

    from decide.load.store import schema as store_schema
    from decide.load.store.opening import connected

    when = datetime.datetime(2026, 1, 2, 3, 4, 5)
    engine = connected(make_url(f"sqlite:///{folder / 'store.sqlite'}"), 5)
    with engine.begin() as connection:
        store_schema.migrate(connection, "0001")
        rows = [{"id": f"{number:022}", "title": f"VISIT {number}", "when": str(when)} for number in range(visits)]
        put = (
            "INSERT INTO visits (id, title, entries, page, version, created, changed) VALUES (:id, :title, '', '{}', 1,"
        )
        connection.execute(text(f"{put} :when, :when)"), rows)
    engine.dispose()
