"""The store under hardship: killed while it writes, written to by many, no room, no leave to write, a damaged file."""

import contextlib
import os
import random
import shutil
import sqlite3
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).resolve().parent))

from store_crowd import (
    at_once,
    content,
    count_up,
    fill_up,
    first_version_file,
    heard,
    hold,
    number_of,
    open_and_say,
    save_many,
    save_until_killed,
    started,
)
from store_servers import Server, running_server

from decide.errors import StoreError
from decide.load.store.records import Thing
from decide.load.store.schema import NEWEST
from decide.load.store.store import Store
from decide.show.text.words import Words

pytestmark = pytest.mark.slow

KILLS = 100
SECRET = "Quittenmarmelade-0815"


@pytest.fixture(scope="module")
def server() -> Iterator[Server]:
    with running_server(safe=True) as found:
        yield found


@pytest.fixture(params=["file", "server"])
def address(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    if request.param == "file":
        return str(tmp_path / "kept")
    return request.getfixturevalue("server").new_database("crowd")


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A disk of one megabyte; a file system in memory, where root may mount one."""
    folder = tmp_path / "disk"
    folder.mkdir()
    made = subprocess.run(["mount", "-t", "tmpfs", "-o", "size=1m", "tmpfs", folder], capture_output=True, check=False)
    if made.returncode:
        if os.environ.get("CI") == "true":
            pytest.fail("no disk can be mounted: a full one would go untested")
        pytest.skip("only root may mount a disk")
    yield folder
    subprocess.run(["umount", folder], check=True)


def output_of(error: StoreError) -> str:
    (line,) = Words.of().explain(error)
    return line


# killed


def test_after_a_hundred_kills_in_mid_write_nothing_is_lost_and_nothing_torn(tmp_path: Path) -> None:
    draw, acknowledged, begun = random.Random(0), {}, time.monotonic()
    for kill in range(KILLS):
        process, ours = started(save_until_killed, str(tmp_path), kill * 10_000)
        acknowledged.update([ours.recv()])  # it is at work; now let it be anywhere in a save
        time.sleep(draw.uniform(0, 0.06))
        process.kill()
        acknowledged.update(heard(ours))
        process.join()
        assert process.exitcode == -9
        process.close()
        with contextlib.closing(sqlite3.connect(tmp_path / "store.sqlite")) as looked:
            assert looked.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        _all_there(tmp_path, acknowledged, since=kill * 10_000)
    _all_there(tmp_path, acknowledged, since=0)
    with Store.open(str(tmp_path)) as store:
        assert store.check() > 3 * KILLS
        beyond = sum(number_of(store, line.id) != acknowledged.get(line.id) for line in store.visits())
    seconds = time.monotonic() - begun
    print(f"\n{KILLS} kills, {beyond} between commit and word of it; {len(acknowledged)} visits, {seconds:.1f} s")


def _all_there(folder: Path, acknowledged: dict[str, int], since: int) -> None:
    """Every write that was acknowledged is there whole; one more may be, which was not acknowledged yet."""
    with Store.open(str(folder)) as store:
        for line in store.visits():
            if int(line.title.split()[1]) >= since:
                assert number_of(store, line.id) >= acknowledged.get(line.id, 0)
        there = {line.id for line in store.visits()}
    assert set(acknowledged) <= there


def test_a_program_killed_while_it_brings_an_old_store_up_loses_nothing(tmp_path: Path) -> None:
    draw, half_way = random.Random(1), 0
    first_version_file(tmp_path, 3000)
    old = {path.name: path.read_bytes() for path in tmp_path.iterdir()}
    for _ in range(20):
        folder = tmp_path / Store.new_id()
        folder.mkdir()
        for name, raw in old.items():
            (folder / name).write_bytes(raw)
        process, ours = started(open_and_say, str(folder))
        ours.poll(draw.uniform(0, 0.12))
        process.kill()
        half_way += heard(ours) == []
        process.join()
        process.close()
        with Store.open(str(folder)) as store:
            assert store.schema == NEWEST
            assert len(store.visits()) == len(store.visits("visit")) == 3000
        shutil.rmtree(folder)
    assert half_way >= 3  # killed before it was done


# many at once


def test_two_programs_that_write_five_hundred_times_each_lose_nothing(tmp_path: Path) -> None:
    _nothing_lost(str(tmp_path), 2, 500)


def test_four_programs_that_write_a_hundred_times_each_on_a_server_lose_nothing(server: Server) -> None:
    _nothing_lost(server.new_database("four"), 4, 100)


def _nothing_lost(address: str, programs: int, times: int) -> None:
    begun = time.perf_counter()
    found = at_once(*((save_many, address, times) for _ in range(programs)))
    spent = time.perf_counter() - begun
    saved = [visit for ids, _ in found for visit in ids]
    slowest = max(second for _, seconds in found for second in seconds)
    with Store.open(address) as store:
        assert {line.id for line in store.visits()} == set(saved)
        assert len(saved) == programs * times
        for ids, _ in found:
            assert [number_of(store, visit) for visit in ids] == list(range(times))
    print(f"\n{programs} x {times}: {len(saved) / spent:.0f} writes/s, the slowest {1000 * slowest:.0f} ms")


def test_programs_that_change_the_same_visit_never_undo_each_other(address: str) -> None:
    with Store.open(address) as store:
        visit = store.save_visit(store.new_id(), {}, page={"number": "0"}).id
        late = at_once(*((count_up, address, visit, 40) for _ in range(3)))
        assert store.visit(visit).page["number"] == "120"
        # what came too late is kept as a copy, once where a program was late with the same
        assert len(store.visits()) - 1 <= sum(late)
        assert bool(sum(late)) == (len(store.visits()) > 1)


def test_a_look_at_the_store_does_not_wait_for_the_one_who_writes(tmp_path: Path) -> None:
    with Store.open(str(tmp_path), wait=0.1) as store:
        visit = store.save_visit(store.new_id(), {"title": "seen"})
        process, ours = started(hold, str(tmp_path / "store.sqlite"), 30.0)
        assert ours.recv() == "held"
        assert store.visit(visit.id) == visit
        store.export_all(tmp_path / "all.zip")
        process.kill()
        process.join()
        ours.close()


def test_a_store_that_another_program_holds_for_too_long_is_said_to_be_held(tmp_path: Path) -> None:
    with Store.open(str(tmp_path), wait=0.2) as store:
        process, ours = started(hold, str(tmp_path / "store.sqlite"), 30.0)
        assert ours.recv() == "held"
        with pytest.raises(StoreError) as refused:
            store.save_visit(store.new_id(), {})
        assert "Another program holds the store" in output_of(refused.value)
        process.kill()
        process.join()
        ours.close()
        assert store.save_visit(store.new_id(), {}).version == 1


def test_a_writer_waits_for_its_turn(tmp_path: Path) -> None:
    with Store.open(str(tmp_path)) as store:
        process, ours = started(hold, str(tmp_path / "store.sqlite"), 1.0)
        assert ours.recv() == "held"
        assert store.save_visit(store.new_id(), {}).version == 1
        process.join()
        ours.close()


def test_a_row_held_on_a_server_for_too_long_is_said_to_be_held(server: Server) -> None:
    with Store.open(server.new_database("held"), wait=0.3) as store:
        visit = store.save_visit(store.new_id(), {})
        held = f"SELECT pg_sleep(3) FROM (SELECT id FROM visits WHERE id = '{visit.id}' FOR UPDATE) AS held"
        asked = [server.programs / "psql", "-h", server.folder, "-U", "postgres", "-d", "held", "-c", held]
        with subprocess.Popen(asked, stdout=subprocess.DEVNULL) as holder:
            time.sleep(0.5)
            with pytest.raises(StoreError) as refused:
                store.save_visit(visit.id, {"title": "x"}, version=1)
            # the server itself, since a client that is gone does not end what it asked for
            server.run("SELECT pg_terminate_backend(pid, 5000) FROM pg_stat_activity WHERE datname = 'held'")
            holder.terminate()
        assert refused.value.trouble == "locked"


# no room, no leave, no store


def test_a_full_disk_is_said_to_be_full_and_keeps_all_that_was_acknowledged(small_disk: Path) -> None:
    kept, found = at_once((fill_up, str(small_disk)))[0]
    assert found == [("StoreError", "full", str(small_disk / "store.sqlite"))] * 3
    assert len(kept) >= 3
    shutil.copytree(small_disk, small_disk.parent / "copy")
    with Store.open(str(small_disk.parent / "copy")) as store:
        assert store.check() == 3 * len(kept)  # each with two files
        assert [number_of(store, visit) for visit, _ in kept] == [number for _, number in kept]
    error = StoreError(found[0][2], "full")
    assert output_of(error).startswith(f"There is no room left where the store is ({small_disk / 'store.sqlite'})")


def test_a_disk_with_no_room_for_a_store_is_said_to_be_full(small_disk: Path) -> None:
    (small_disk / "filler").write_bytes(bytes((1 << 20) - 3 * 4096))
    with pytest.raises(StoreError) as refused:
        Store.open(str(small_disk / "kept"))
    assert refused.value.trouble == "full"


def test_a_file_that_may_not_grow_is_said_to_be_full(tmp_path: Path) -> None:
    with Store.open(str(tmp_path)) as store:
        first = store.save_visit(store.new_id(), **content(1))
        store._engine.dispose()
        with store._engine.connect() as connection:
            connection.exec_driver_sql("PRAGMA max_page_count=30")
        with pytest.raises(StoreError) as refused:
            store.save_visit(store.new_id(), {}, files={"log.csv": os.urandom(1_000_000)})
        assert refused.value.trouble == "full"
        assert store.visits()[0].id == first.id
        assert store.save_visit(first.id, {"title": "small"}, version=1).version == 2


def test_a_disk_that_may_only_be_read_is_said_to_be_so(small_disk: Path) -> None:
    with Store.open(str(small_disk)) as store:
        store.save_visit(store.new_id(), {"title": "kept"})
        store.vacuum()
    subprocess.run(["mount", "-o", "remount,ro", small_disk], check=True)
    for folder in (small_disk, small_disk / "new"):
        with pytest.raises(StoreError) as refused:
            Store.open(str(folder))
        assert f"cannot be written here ({folder / 'store.sqlite'})" in output_of(refused.value)
        assert "MENDPOINT_STORE" in output_of(refused.value)


def test_a_disk_that_comes_to_be_read_only_is_said_to_be_so_at_the_next_save(small_disk: Path) -> None:
    with Store.open(str(small_disk)) as store:
        visit = store.save_visit(store.new_id(), {"title": "kept"})
        store.close()
        subprocess.run(["mount", "-o", "remount,ro", small_disk], check=True)
        with pytest.raises(StoreError) as refused:
            store.save_visit(visit.id, {"title": "not kept"}, version=1)
        assert refused.value.trouble == "readonly"
        store.close()
        subprocess.run(["mount", "-o", "remount,rw", small_disk], check=True)
        assert store.visit(visit.id) == visit


def test_a_folder_that_is_a_file_is_said_to_be_no_place(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("here")
    with pytest.raises(StoreError) as refused:
        Store.open(str(tmp_path / "file"))
    assert "name another folder" in output_of(refused.value)


@pytest.mark.parametrize("raw", [b"hello, I am a text and no store. " * 200, os.urandom(20_000)], ids=["text", "noise"])
def test_a_file_that_is_no_store_is_left_as_it_is_and_said_to_be_none(tmp_path: Path, raw: bytes) -> None:
    (tmp_path / "store.sqlite").write_bytes(raw)
    with pytest.raises(StoreError) as refused:
        Store.open(str(tmp_path))
    assert "is damaged, or is no store" in output_of(refused.value)
    assert "take in your last export" in output_of(refused.value)
    assert (tmp_path / "store.sqlite").read_bytes() == raw


def test_damage_in_the_middle_of_the_file_is_found_by_the_check(tmp_path: Path) -> None:
    with Store.open(str(tmp_path)) as store:
        for number in range(5):
            store.save_visit(store.new_id(), **content(number))
        store.vacuum()
    file = tmp_path / "store.sqlite"
    raw = bytearray(file.read_bytes())
    for at in range(4096 * 8, len(raw), 4096):
        damaged = bytearray(raw)
        damaged[at + 500 : at + 900] = bytes(400)
        if damaged == raw:
            continue
        file.write_bytes(damaged)
        with pytest.raises(StoreError) as refused, Store.open(str(tmp_path)) as store:
            store.check()
        assert refused.value.trouble in ("corrupt", "damaged"), at


def test_a_server_that_is_not_there_is_said_to_be_so_without_its_password(tmp_path: Path) -> None:
    with pytest.raises(StoreError) as refused:
        Store.open(f"postgresql+psycopg://shop:sesame@/mendpoint?host={tmp_path}", wait=0.5)
    assert "does not answer" in output_of(refused.value)
    assert "sesame" not in output_of(refused.value)


def test_a_server_without_that_database_or_user_is_said_to_be_so(server: Server) -> None:
    for address in (server.url("nowhere"), server.url("postgres").replace("postgres@", "nobody@")):
        with pytest.raises(StoreError) as refused:
            Store.open(address)
        assert refused.value.trouble == "unreachable"


def test_a_server_that_lets_us_only_read_is_said_to_be_so(server: Server) -> None:
    address = server.new_database("shut")
    with Store.open(address) as store:
        store.save_visit(store.new_id(), {})
    server.run("ALTER DATABASE shut SET default_transaction_read_only = on")
    with Store.open(address) as store, pytest.raises(StoreError) as refused:
        store.save_visit(store.new_id(), {})
    assert refused.value.trouble == "readonly"


@pytest.mark.parametrize("address", ["mysql://here/there", "sqlite://", "sqlite:///:memory:", "://", "a b://c"])
def test_an_address_of_nothing_that_is_known_is_refused(address: str) -> None:
    with pytest.raises(StoreError) as refused:
        Store.open(address)
    assert output_of(refused.value).startswith("This is no address of a store: ")


def test_the_store_stands_where_the_environment_says_else_in_the_data_folder_of_the_user(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("MENDPOINT_STORE", str(tmp_path / "said"))
    with Store.open() as store:
        assert store.where == str(tmp_path / "said" / "store.sqlite")
    monkeypatch.delenv("MENDPOINT_STORE")
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))  # of the open standard for a user's folders
    monkeypatch.setenv("HOME", str(tmp_path))
    with Store.open() as store:
        assert Path(store.where).is_relative_to(tmp_path)
        assert Path(store.where).is_file()


@pytest.mark.skipif(os.name != "posix", reason="other systems have other rights")
def test_only_its_owner_can_look_into_a_new_store(tmp_path: Path) -> None:
    with Store.open(str(tmp_path / "kept")) as store:
        store.save_visit(store.new_id(), {})
        for path in (tmp_path / "kept", *(tmp_path / "kept").iterdir()):
            assert path.stat().st_mode & 0o077 == 0, path


# deleted


def _bytes_of(folder: Path) -> bytes:
    return b"".join(path.read_bytes() for path in folder.rglob("*") if path.is_file())


def test_a_deleted_visit_leaves_no_trace_in_the_file_or_beside_it(tmp_path: Path) -> None:
    with Store.open(str(tmp_path)) as store:
        others = [store.save_visit(store.new_id(), **content(number)).id for number in range(40)]
        files = {f"{SECRET}.csv": f"{SECRET},".encode() * 5000, "b": SECRET.encode()}
        entries = {"note": f"{SECRET} " * 400}
        visit = store.save_visit(store.new_id(), entries, title=SECRET, page={"a": SECRET}, files=files)
        store.save_visit(visit.id, {"note": SECRET}, version=1, title=f"{SECRET} 2", page={"b": SECRET})
        assert SECRET.encode() in _bytes_of(tmp_path)
        store.delete(Thing("visit", visit.id))
        for trace in (SECRET, visit.id, SECRET.casefold()):
            assert trace.encode() not in _bytes_of(tmp_path)
        store.vacuum()
        assert SECRET.encode() not in _bytes_of(tmp_path)
        assert sorted(number_of(store, other) for other in others) == list(range(40))


def test_a_deleted_book_mapping_or_set_of_figures_leaves_no_trace(tmp_path: Path) -> None:
    import datetime

    from decide.load.jobs.own_figures import COLUMNS

    with Store.open(str(tmp_path)) as store:
        book = store.keep_book("jobs.csv", f"{SECRET}\n".encode() * 3000)
        figures = store.keep_figures(SECRET, ",".join(COLUMNS) + "\n" * 500, datetime.date(2026, 1, 1))
        store.save_mapping("desk", f'[classes]\n"{SECRET}" = "refrigerator"')
        store.save_settings({"shop": SECRET})
        store.delete(Thing("book", book.id))
        store.delete(Thing("figures", figures.id))
        store.save_settings({"shop": None})
        store.delete(Thing("mapping", "desk"))
        assert SECRET.encode() not in _bytes_of(tmp_path)


def test_a_visit_deleted_on_a_server_leaves_no_trace_in_its_tables(server: Server) -> None:
    with Store.open(server.new_database("forgets")) as store:
        folder = server.run("SELECT oid FROM pg_database WHERE datname = 'forgets'").strip()
        store.save_visit(store.new_id(), {"title": "stays"})
        visit = store.save_visit(store.new_id(), {"note": SECRET}, page={"a": SECRET}, files={"a": SECRET.encode()})
        server.run("CHECKPOINT")
        tables = server.folder / "data" / "base" / folder
        assert SECRET.encode() in _bytes_of(tables)
        store.delete(Thing("visit", visit.id))
        store.vacuum()
        server.run("CHECKPOINT")
        assert [path.name for path in tables.iterdir() if SECRET.encode() in path.read_bytes()] == []
        assert [line.title for line in store.visits()] == ["stays"]


def test_a_copy_of_a_deleted_visit_stays_and_no_longer_names_it(address: str) -> None:
    from decide.load.store.records import EditConflict

    with Store.open(address) as store:
        visit = store.save_visit(store.new_id(), {"title": "one"})
        store.save_visit(visit.id, {"title": "two"}, version=1)
        with pytest.raises(EditConflict):
            store.save_visit(visit.id, {"title": "three"}, version=1)
        store.delete(Thing("visit", visit.id))
        (left,) = store.visits()
        assert (left.title, left.copy_of) == ("three", "")
