"""What somebody sends, and what a disk or another program spoils: nothing gets out, no page stops, all is said."""

import json
import os
import random
import shutil
import subprocess
import sys
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import commands
import pytest
from conftest import ROOT, texts
from store_attacks import (
    BOOK,
    CASE,
    FIGURES,
    FIGURES_ID,
    JOBS,
    MAPPING,
    PAGE,
    VISIT,
    archive,
    edited,
    old_store,
    sound,
)
from streamlit.testing.v1 import AppTest
from test_shop_page import give, run, shop_page
from test_store import everything

from decide.errors import MendpointError, ReadError, StoreError
from decide.load.files.file_names import plain_name, same_file
from decide.load.store.records import Damaged, Thing
from decide.load.store.schema import NEWEST
from decide.load.store.store import Store
from decide.show.screens.state.fields import CHOSEN, TYPED, WAYS
from decide.show.screens.state.session import FIRST_CASE
from decide.show.screens.state.symptom_state import SYMPTOM_FIELDS
from decide.show.text.words import Words

pytestmark = pytest.mark.slow

RUNS = 1000 if "SOAK" in os.environ else 250
"""Spoilt archives, and as many spoilt stores."""


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Where the store of the pages and of the command stands, empty still."""
    monkeypatch.setenv("MENDPOINT_STORE", str(tmp_path / "kept"))
    monkeypatch.delenv(FIRST_CASE, raising=False)
    return tmp_path / "kept"


def opened(**address: str) -> AppTest:
    """A page at an address; any exception on it fails."""
    found = AppTest.from_file(str(ROOT / "app.py"), default_timeout=30)
    for key, value in address.items():
        found.query_params[key] = value
    found.run()
    assert not found.exception, [each.value for each in found.exception]
    return found


def command(*asked: str, status: int = 0, typed: str | None = None) -> str:
    """What the command says; nothing but a sentence may come of it."""
    done = commands.run("store", *asked, typed=typed)
    assert done.exception is None or isinstance(done.exception, SystemExit), done.exception
    assert done.exit_code == status, done.output
    return done.output


def import_by_page(path: Path) -> AppTest:
    page = shop_page(part="settings")
    [field] = [each for each in page.file_uploader if each.key.startswith("set_import")]
    return run(field.set_value((path.name, path.read_bytes(), "application/zip")))


# names that lead out of a folder


def astray(victim: Path) -> list[str]:
    up = "/".join([".."] * 12)
    return [
        str(victim), f"{up}{victim}", f"..{victim}", "..\\x", "C:\\x", "C:x", "\\\\host\\share\\x", "a/b", ".", "..",
        "CON", "con.csv", "NUL.txt", "COM1", "LPT9.log", "log.csv.", "log.csv ", " log.csv", "a\x1b]0;x\x07", "a\nb",
        "a\u202egol.csv", "x" * 300,
    ]  # fmt: skip


@pytest.mark.parametrize("which", range(22))
def test_a_file_name_that_leads_elsewhere_is_refused_at_import_and_names_its_row(
    which: int, folder: Path, tmp_path: Path
) -> None:
    victim = tmp_path / "victim"
    victim.write_text("original")
    path = archive(tmp_path / "exploit.zip", *sound({astray(victim)[which]: b"overwritten"}))
    sentence = command("import", str(path), status=2)
    assert "visits, row 1: visit.files: must be the name of a file" in sentence
    page = import_by_page(path)
    assert any("visits, row 1" in text for text in texts(page))
    opened(visit=VISIT)
    assert victim.read_text() == "original"
    assert opened_store(folder) == []


def opened_store(folder: Path) -> list[str]:
    with Store.open(str(folder)) as store:
        return [line.id for line in store.visits()]


@pytest.mark.parametrize(
    "pair", [("log.csv", "LOG.csv"), ("l\u00f6g.csv", "lo\u0308g.csv"), ("stra\u00dfe", "STRASSE")]
)
def test_two_names_that_some_system_takes_for_one_are_refused(
    pair: tuple[str, str], folder: Path, tmp_path: Path
) -> None:
    path = archive(tmp_path / "twice.zip", *sound(dict.fromkeys(pair, b"x")))
    assert "only in their capitals" in command("import", str(path), status=2)
    with Store.open(str(folder)) as store, pytest.raises(MendpointError, match="only in their capitals"):
        store.save_visit(store.new_id(), {}, files=dict.fromkeys(pair, b"x"))


def test_a_link_in_an_archive_is_no_file_on_its_list(folder: Path, tmp_path: Path) -> None:
    listed, files = sound({"log.csv": b"x"})
    path = archive(tmp_path / "link.zip", listed, files)
    link = zipfile.ZipInfo("visits/1/link")
    link.external_attr = 0o120777 << 16
    with zipfile.ZipFile(path, "a") as packed:
        packed.writestr(link, "/etc/hostname")
    assert "does not hold the files that it lists" in command("import", str(path), status=2)


def test_an_archive_that_holds_one_name_twice_is_refused(folder: Path, tmp_path: Path) -> None:
    path = archive(tmp_path / "twice.zip", *sound({"log.csv": b"x"}))
    with zipfile.ZipFile(path) as packed:
        name = packed.namelist()[-1]
    with zipfile.ZipFile(path, "a") as packed, pytest.warns(UserWarning, match="Duplicate name"):
        packed.writestr(name, b"y")
    assert "holds a file where none belongs" in command("import", str(path), status=2)
    assert opened_store(folder) == []


@pytest.mark.parametrize("which", [0, 1, 2, 3, 4, 7, 10, 18])
def test_a_visit_of_an_old_store_with_such_a_name_opens_with_a_plain_one(
    which: int, folder: Path, tmp_path: Path
) -> None:
    victim = tmp_path / "victim"
    victim.write_text("original")
    name = astray(victim)[which]
    held = {**PAGE, "use_way": "meter", "meter_way": "log", "files": {"log": name}}
    case = CASE.replace("[household]", f"[appliance.meter]\nfile = {json.dumps(name)}\n[household]")
    old_store(folder, held, {name: b"2026-01-01 00:00,100\n"}, case=case)
    page = opened(visit=VISIT)
    assert victim.read_text() == "original"
    ((shown, content),) = page.session_state["files"].values()
    assert plain_name("shown", shown) == shown
    assert content == b"2026-01-01 00:00,100\n"
    path = tmp_path / "all.zip"
    command("export", str(path))
    with Store.open(str(tmp_path / "another")) as other:
        other.import_all(path)
        assert list(other.visit(VISIT).files.values()) == [b"2026-01-01 00:00,100\n"]


def test_a_name_in_the_session_of_a_page_leads_nowhere_either(folder: Path, tmp_path: Path) -> None:
    victim = tmp_path / "victim"
    old_store(folder, {**PAGE, "use_way": "meter", "meter_way": "log"})
    page = opened(visit=VISIT)
    page.session_state["files"] = {"log": (str(victim), b"overwritten")}
    page.run()
    assert not page.exception
    assert not victim.exists()
    assert any("without folders or drives" in text for text in texts(page))


def test_a_case_beside_its_log_in_a_folder_below_is_opened_and_kept_with_it(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    log = "time,W\n" + "".join(f"2026-01-{day:02} {hour:02}:00,100\n" for day in range(1, 9) for hour in range(24))
    (tmp_path / "logs").mkdir()
    (tmp_path / "logs" / "kitchen.csv").write_text(log)
    (tmp_path / "case.toml").write_text(
        CASE.replace("[household]", '[appliance.meter]\nfile = "logs/kitchen.csv"\n[household]')
    )
    monkeypatch.setenv(FIRST_CASE, str(tmp_path / "case.toml"))
    page = opened()
    assert page.session_state["refused"] is None
    assert page.session_state["files"] == {"log": ("kitchen.csv", log.encode())}
    page.text_input(key="quote").set_value("190").run()
    with Store.open(str(folder)) as store:
        (line,) = store.visits()
        assert store.visit(line.id).files == {"kitchen.csv": log.encode()}
        assert store.visit(line.id).entries["appliance"]["meter"]["file"] == "kitchen.csv"


@pytest.mark.parametrize("name", ["CON", "logs/nul.csv", "log.csv.", "a\x1b[2J.csv"])
def test_a_case_file_names_no_device_and_no_control_sign(name: str, tmp_path: Path) -> None:
    from decide.load.cases.reading import CaseReader
    from decide.load.tables.tables import tables

    reader = CaseReader(tables(), tmp_path)
    assert reader.file("appliance.meter.file", name) is None
    assert "must be the name of a file" in str(reader.errors[0])


def test_names_that_differ_in_capitals_or_form_are_one_file() -> None:
    assert same_file("STRA\u1e9eE") == same_file("stra\u00dfe") != same_file("strase")


# what stopped every page


def test_figures_that_are_none_are_refused_at_import_and_row_and_line_are_told(folder: Path, tmp_path: Path) -> None:
    listed, files = sound()
    files["figures/1.csv"] = b"garbage"
    text = command("import", str(archive(tmp_path / "brick.zip", listed, files)), status=2)
    assert "figures, row 1: figures line 1: the columns must be" in text
    opened()
    shop_page(part="settings")


@pytest.mark.parametrize("text", ["garbage", FIGURES.replace("0.9", "9"), FIGURES + FIGURES.split("\n")[1] + "\n",
                                  FIGURES.replace("refrigerator", "unicorn")])  # fmt: skip
def test_figures_of_an_old_store_that_cannot_be_used_stop_no_page_and_are_said_and_deleted(
    text: str, folder: Path
) -> None:
    old_store(folder, figures=text)
    for page in (opened(), opened(visit=VISIT), shop_page(part="book")):
        assert any("ours" in sentence for sentence in texts(page))
    page = shop_page(part="settings")
    page.session_state["set_books"] = True
    run(page)
    keys = [b.key for b in page.button if b.key.startswith(("drop_figures_", "set_delete_figures_"))]
    assert len(keys) == 1
    run(page.button(key=keys[0]).click())
    if keys[0].startswith("set_delete"):
        run(page.button(key=keys[0].replace("delete", "really")).click())
    with Store.open(str(folder)) as store:
        assert (store.local_figures(), store.damaged(deep=True)) == ([], [])


@pytest.mark.parametrize("page", ["home", "shop"])
def test_the_other_pages_open_with_such_figures_too(page: str, folder: Path) -> None:
    old_store(folder, figures="garbage")
    found = AppTest.from_string(
        f"from decide.load.tables.tables import tables\nfrom decide.show.screens.{page}.page import page\n"
        f"from decide.show.screens.state.session import begin\nbegin(tables())\npage()\n"
    )
    found.run(timeout=30)
    assert not found.exception
    assert any("set of own figures" in text for text in texts(found)) or page == "home"


SPOILT_FIELDS = [
    ("files", 5), ("kept", 5), ("kept", "%%%"), ("age", 5), ("age", [1]), ("kind", ["refrigerator"]), ("place", None),
    ("place", "XX"), ("remaining_life_factor", "x"), ("group", {}), ("title", 5),
    ("remaining_life_factor", None),
    ("files", {"log": 5}), ("files", {"log": "nowhere.csv"}),
]  # fmt: skip


@pytest.mark.parametrize(("field", "value"), SPOILT_FIELDS)
def test_a_page_field_of_a_wrong_kind_opens_as_on_an_empty_page(field: str, value: Any, folder: Path) -> None:
    old_store(folder, {**PAGE, field: value})
    page = opened(visit=VISIT)
    assert page.session_state["visit"] == VISIT
    if field != "quote":
        assert page.session_state["quote"] == "185.50"
    assert page.session_state["place"] == "US"


@pytest.mark.parametrize(
    ("field", "value"), [each for each in SPOILT_FIELDS if each[1] not in (None, {"log": "nowhere.csv"})]
)
def test_an_import_with_such_a_field_is_refused_and_names_it(
    field: str, value: Any, folder: Path, tmp_path: Path
) -> None:
    path = archive(tmp_path / "evil.zip", *sound(page={**PAGE, field: value}))
    assert f"visits, row 1: page.{field}" in command("import", str(path), status=2)
    assert opened_store(folder) == []


@pytest.mark.parametrize("page", [b"[]", b"5", b'{"age": NaN}', b'{"age": "\\u0000"}', b'{"age": "\\ud800"}', b"{",
                                  b"[" * 100_000, b'{"a\\u0000": "x"}', b"\xff"])  # fmt: skip
def test_a_page_that_is_no_table_of_texts_is_refused(page: bytes, folder: Path, tmp_path: Path) -> None:
    text = command("import", str(archive(tmp_path / "evil.zip", *sound(page=page))), status=2)
    assert "evil.zip" in text
    assert "\0" not in text


@pytest.mark.parametrize(("kind", "field", "value"), [
    ("visits", "version", True), ("visits", "copy_of", VISIT), ("visits", "created", "0001-01-01T00:00:00+00:00"),
    ("visits", "changed", "9999-12-31T23:59:59+00:00"), ("visits", "title", "a\ud800"), ("books", "rows", 1.5),
    ("books", "imported", "1969-12-31T00:00:00+00:00"), ("figures", "dated", "9999-01-01"), ("figures", "used", "yes"),
    ("mappings", "changed", 5), ("settings", "picture", 1), ("books", "name", None), ("visits", "id", "a/b"),
])  # fmt: skip
def test_a_row_of_a_wrong_kind_is_refused_by_one_sentence_that_names_it(
    kind: str, field: str, value: Any, folder: Path, tmp_path: Path
) -> None:
    listed, files = sound()
    listed[kind][0][field] = value
    text = command("import", str(archive(tmp_path / "evil.zip", listed, files)), status=2)
    assert f"evil.zip: holds what cannot be kept: {kind}, row 1: " in text
    assert text.count("\n") == 1
    assert opened_store(folder) == []


@pytest.mark.parametrize("path", ["mappings/1.toml", "books/1/mapping.toml"])
@pytest.mark.parametrize("text", ["place = [1]", "columns = 5", "[classes]\nfridge = 7", "place = 'XX'", "a = "])
def test_a_mapping_of_a_wrong_kind_is_refused_at_import(path: str, text: str, folder: Path, tmp_path: Path) -> None:
    listed, files = sound()
    files[path] = text.encode()
    sentence = command("import", str(archive(tmp_path / "evil.zip", listed, files)), status=2)
    assert f"{path.partition('/')[0]}, row 1: mapping" in sentence


def test_a_mapping_of_an_old_store_that_cannot_be_read_stops_no_upload_and_not_its_book(folder: Path) -> None:
    old_store(folder, mapping="place = [1]")
    page = give(
        shop_page(part="book"),
        b"date,machine,age,quote\n2026-02-01,fridge,9,185.50\n2026-02-02,fridge,8,99\n",
        "new.csv",
    )
    assert page.session_state["shop_refused"] is None
    assert page.session_state["shop_held"] is not None
    assert any("Damaged, so it was set aside: way to read a book \u201cdesk\u201d" in text for text in texts(page))
    assert run(shop_page(part="book", book=BOOK)).session_state["shop_held"].content == JOBS
    assert "deleted for good" in command("delete", "desk", "--yes")
    assert "is sound" in command("check")


@pytest.mark.parametrize("value", ["garbage", "9999-99-99", None, 5, b"\xff\xfe"])
@pytest.mark.parametrize("place", ["visits.created", "visits.changed", "books.imported", "local_figures.dated",
                                   "mappings.changed", "settings.changed"])  # fmt: skip
def test_a_spoilt_date_is_set_aside_and_the_rest_works(place: str, value: object, folder: Path, tmp_path: Path) -> None:
    table, _, column = place.partition(".")
    with Store.open(str(folder)) as store:
        good = store.save_visit(store.new_id(), {"title": "good"}).id
        store.import_all(archive(tmp_path / "in.zip", *sound()))
    if value is None:
        value = 10**15
    edited(
        folder / "store.sqlite",
        f"UPDATE {table} SET {column} = ? WHERE rowid = (SELECT max(rowid) FROM {table})",
        value,
    )
    noun = {"visits": "visit", "books": "job book", "local_figures": "own figures", "mappings": "way to read",
            "settings": "setting"}[table]  # fmt: skip
    assert good in command("list")
    assert noun in command("check", status=2)
    assert noun in command("export", str(tmp_path / "out.zip"))
    with Store.open(str(tmp_path / "another")) as other:
        came = other.import_all(tmp_path / "out.zip")
        assert came.new + came.same + came.both == 5
        assert other.check() == 5
    page = shop_page(part="settings")
    page.session_state["set_books"] = page.session_state["visits"] = True
    run(page)
    (drop,) = [b.key for b in page.button if b.key.startswith("drop_")]
    run(page.button(key=drop).click())
    assert "is sound" in command("check")


@pytest.mark.parametrize("version", ["0000", "", "garbage", "0002x", b"\xff", 5])
def test_a_version_that_is_none_is_said_and_changes_nothing(version: object, folder: Path) -> None:
    with Store.open(str(folder)) as store:
        store.save_visit(store.new_id(), {"title": "stays"})
    edited(folder / "store.sqlite", "UPDATE store_version SET version_num = ?", version)
    for asked in (("check",), ("list",), ("export", str(folder / "x.zip"))):
        text = command(*asked, status=2)
        assert "damaged" in text or "newer version" in text
    assert any("damaged" in text or "newer version" in text for text in texts(opened()))
    edited(folder / "store.sqlite", "UPDATE store_version SET version_num = ?", NEWEST)
    assert "stays" in command("list")


# what the check says


CHANGES = [
    ("visits", "entries", "replace(entries, '185.5', '985.5')"), ("visits", "title", "title || ' '"),
    ("visits", "page", "replace(page, '185.50', '985.50')"), ("visits", "version", "version + 1"),
    ("visits", "copy_of", "'ExploitVisit00000002'"), ("visits", "details", "'{\"customer\": \"X\"}'"),
    ("visits", "created", "'2026-11-01 08:00:01.000000'"),
    ("visits", "sought", "'another'"), ("visit_files", "content", "x'00'"), ("visit_files", "name", "'other.csv'"),
    ("books", "content", "x'00'"), ("books", "mapping", "''"), ("books", "name", "'x.csv'"), ("books", "rows", "9"),
    ("mappings", "mapping", "replace(mapping, 'machine', 'other')"), ("mappings", "name", "'other'"),
    ("local_figures", "rows", "replace(rows, '0.9,', '0.85,')"), ("local_figures", "used", "0"),
    ("local_figures", "dated", "'2026-10-30'"), ("settings", "value", "'Another shop'"),
    ("settings", "name", "'shop_address'"), ("visits", "seal", "''"),
]  # fmt: skip


@pytest.mark.parametrize(("table", "column", "to"), CHANGES, ids=[f"{table}.{column}" for table, column, _ in CHANGES])
def test_the_check_finds_any_change_made_behind_its_back(
    table: str, column: str, to: str, folder: Path, tmp_path: Path
) -> None:
    with Store.open(str(folder)) as store:
        store.import_all(archive(tmp_path / "in.zip", *sound({"log.csv": b"1\n"})))
        store.save_visit("ExploitVisit00000002", {"title": "beside"})
        assert store.check() == 7
    where = "WHERE id = 'ExploitVisit00000001'" if table == "visits" else ""
    edited(folder / "store.sqlite", f"UPDATE {table} SET {column} = {to} {where}")
    with Store.open(str(folder)) as store:
        with pytest.raises(Damaged) as refused:
            store.check()
        assert len(refused.value.things) == 1
        if table in ("visits", "visit_files") and column != "sought":
            with pytest.raises(Damaged):
                store.visit(VISIT)
        if (table, column) == ("books", "content"):
            with pytest.raises(Damaged):
                store.book_content(BOOK)
    assert "set aside" in command("check", status=2)
    opened(visit=VISIT)
    shop_page(part="book", book=BOOK)
    assert "set aside" in command("export", str(tmp_path / "out.zip")) or column == "sought"


def test_a_damaged_visit_is_said_on_the_page_and_in_the_export_as_it_stands(folder: Path, tmp_path: Path) -> None:
    with Store.open(str(folder)) as store:
        store.import_all(archive(tmp_path / "in.zip", *sound({"log.csv": b"1\n"})))
    edited(folder / "store.sqlite", "UPDATE visits SET entries = replace(entries, '185.5', '985.5')")
    page = opened(visit=VISIT)
    assert any("Damaged, so it was set aside" in text for text in texts(page))
    assert "985" not in " ".join(texts(page))
    command("export", str(tmp_path / "out.zip"))
    with zipfile.ZipFile(tmp_path / "out.zip") as packed:
        assert b"985.5" in packed.read("damaged/1/visits.0.entries")
        assert packed.read("damaged/1/visit_files.0.content") == b"1\n"


def test_a_setting_changed_on_the_disk_is_not_made_sound_by_a_change_beside_it(folder: Path, tmp_path: Path) -> None:
    with Store.open(str(folder)) as store:
        store.import_all(archive(tmp_path / "in.zip", *sound()))
        edited(folder / "store.sqlite", "UPDATE local_figures SET rows = replace(rows, '0.9,', '0.85,')")
        with pytest.raises(Damaged):
            store.use_figures(FIGURES_ID, False)
        edited(folder / "store.sqlite", "UPDATE books SET name = 'x.csv'")
        with pytest.raises(Damaged):
            store.map_book(BOOK, MAPPING, 2)
        assert {thing.noun for thing in store.damaged(deep=True)} == {"figures", "book"}


def test_a_save_over_a_damaged_visit_keeps_both(folder: Path) -> None:
    with Store.open(str(folder)) as store:
        visit = store.save_visit(store.new_id(), {"quote": 1})
        edited(folder / "store.sqlite", "UPDATE visits SET entries = 'quote = 2'")
        with pytest.raises(MendpointError):
            store.save_visit(visit.id, {"quote": 3}, version=1)
        assert [store.visit(line.id).entries for line in store.visits() if line.id != visit.id] == [{"quote": 3}]


def test_a_store_of_version_0002_is_brought_up_whole_and_sealed_as_it_is_saved(folder: Path, tmp_path: Path) -> None:
    old_store(folder, files={"log.csv": b"1\n"})
    with Store.open(str(folder)) as store:
        assert (store.schema, store.check(), store.damaged(deep=True)) == (NEWEST, 6, [])
        visit = store.visit(VISIT)
        assert (visit.page, visit.files, visit.text) == (PAGE, {"log.csv": b"1\n"}, CASE)
        store.use_figures(FIGURES_ID, False)
        store.map_book(BOOK, "", 2)
        store.save_visit(VISIT, {"title": "later"}, version=1)
        assert store.check() == 5


def test_a_store_of_version_0002_that_is_damaged_is_brought_up_too(folder: Path) -> None:
    file = old_store(folder)
    edited(file, "UPDATE visits SET created = 'garbage'")
    edited(file, "UPDATE settings SET value = ?", b"\xff")
    with Store.open(str(folder)) as store:
        assert {thing.noun for thing in store.damaged(deep=True)} == {"visit", "setting"}
        assert {thing.noun for thing in store.damaged(beside_visits=True)} == {"setting"}
        assert len(store.books()) == len(store.mappings()) == len(store.local_figures()) == 1


# a file that was copied without its log


def test_a_store_copied_without_its_log_is_noticed_and_an_import_mends_it(folder: Path, tmp_path: Path) -> None:
    copy, both = tmp_path / "copy", tmp_path / "both"
    with Store.open(str(folder)) as store:
        store.save_visit(store.new_id(), {"title": "first"})
        for number in range(6):
            store.save_visit(store.new_id(), {"n": number})
        shutil.copytree(folder, both)
        copy.mkdir()
        shutil.copy(folder / "store.sqlite", copy)
        path = store.export_all(tmp_path / "all.zip")
    with Store.open(str(both)) as store:
        assert (store.check(), store.lacks_log()) == (7, False)
    for _ in range(2):  # it is not forgotten by being opened
        with Store.open(str(copy)) as store:
            assert store.lacks_log()
            with pytest.raises(StoreError) as refused:
                store.check()
            assert refused.value.trouble == "log"
    with Store.open(str(copy)) as store:
        store.import_all(path)
        assert (store.check(), store.lacks_log()) == (7, False)


def test_the_command_and_the_page_say_of_such_a_copy_that_it_lacks_something(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "copy").mkdir()
    with Store.open(str(folder)) as store:
        for number in range(3):
            store.save_visit(store.new_id(), {"n": number})
        shutil.copy(folder / "store.sqlite", tmp_path / "copy")
    monkeypatch.setenv("MENDPOINT_STORE", str(tmp_path / "copy"))
    assert "ends in -wal" in command("check", status=2)
    assert any("ends in -wal" in text for text in texts(opened()))


def test_a_store_that_was_closed_killed_or_tidied_by_another_program_lacks_nothing(
    folder: Path, tmp_path: Path
) -> None:
    with Store.open(str(folder)) as store:
        store.save_visit(store.new_id(), {"title": "closed"})
        store.delete(Thing("visit", store.save_visit(store.new_id(), {}).id))
    (tmp_path / "copy").mkdir()
    shutil.copy(folder / "store.sqlite", tmp_path / "copy")  # closed: the file alone is all
    with Store.open(str(tmp_path / "copy")) as store:
        assert (store.check(), store.lacks_log()) == (1, False)
    killed = (
        "import os; from decide.load.store.store import Store; s = Store.open(); s.save_visit(s.new_id(), {}); "
        "os._exit(9)"
    )
    subprocess.run([sys.executable, "-c", killed], check=False)
    edited(folder / "store.sqlite", "SELECT count(*) FROM visits")  # brings the log to the file, and takes it away
    assert not (folder / "store.sqlite-wal").exists()
    with Store.open(str(folder)) as store:
        assert (store.check(), store.lacks_log()) == (2, False)


def test_a_long_log_is_brought_to_the_file_and_a_copy_without_it_is_noticed_still(folder: Path, tmp_path: Path) -> None:
    with Store.open(str(folder)) as store:
        for number in range(30):
            store.save_visit(
                store.new_id(), {"n": number}, files={"log.csv": random.Random(number).randbytes(1_000_000)}
            )
        assert (folder / "store.sqlite-wal").stat().st_size < 20_000_000
        assert (folder / "store.sqlite").stat().st_size > 10_000_000
        (tmp_path / "copy").mkdir()
        shutil.copy(folder / "store.sqlite", tmp_path / "copy")
        assert store.check() == 60
    with Store.open(str(tmp_path / "copy")) as store:
        assert store.lacks_log()
        assert 0 < len(store.visits()) < 30


# an import in proportion


CHILD = """
import resource, sys
from pathlib import Path
sys.path.insert(0, {root!r})
from decide.errors import ReadError
from decide.load.store.store import Store
import decide.load.store.archive, decide.load.jobs.columns, decide.load.jobs.own_figures
resource.setrlimit(resource.RLIMIT_CPU, (5 + int(resource.getrusage(resource.RUSAGE_SELF).ru_utime) + 1,) * 2)
before = resource.getrusage(resource.RUSAGE_SELF)
with Store.open({to!r}) as store:
    try:
        store.import_all(Path({path!r}), {most})
        print("taken in")
    except ReadError as error:
        print(error)
    used = resource.getrusage(resource.RUSAGE_SELF)
    held = next(line for line in Path("/proc/self/status").read_text().splitlines() if line.startswith("VmHWM"))
    print(int(held.split()[1]) // 1024, used.ru_utime + used.ru_stime - before.ru_utime - before.ru_stime)
"""


def imported_in_a_child(path: Path, to: Path, most: int = 1_000_000_000) -> tuple[str, int, float]:
    """What an import says, the most memory that its process ever held [MB] and the processor's time [s]."""
    done = subprocess.run(
        [sys.executable, "-c", CHILD.format(root=str(ROOT), to=str(to), path=str(path), most=most)],
        capture_output=True, text=True, check=False, timeout=120,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    text, measured = done.stdout.strip().rsplit("\n", 1)
    held, spent = measured.split()
    print(f"\n{text[:90]}: {held} MB, {float(spent):.2f} s")
    return text, int(held), float(spent)


def bombs() -> Iterator[tuple[str, Any, dict[str, bytes]]]:
    zeros = bytes(480_000_000)
    listed, files = sound({"a": b"", "b": b"", "c": b""})
    yield "three of 480 MB", listed, {**files, **{f"visits/1/{number}-log": zeros for number in (1, 2, 3)}}
    listed, files = sound()
    yield "a page", listed, {**files, "visits/1/page.json": b"[" * 60_000_000}
    yield "a case", listed, {**files, "visits/1/case.toml": b"#" * 90_000_000}
    yield "figures", listed, {**files, "figures/1.csv": b",\n" * 40_000_000}
    many = {f"books/1/{number}": bytes(900_000) for number in range(300)}
    yield (
        "many small ones",
        {**listed, "books": [{**listed["books"][0], "path": name} for name in many]},
        {**files, **many},
    )
    yield "a list", {**listed, "more": [[]] * 15_000_000}, files


@pytest.mark.skipif(sys.platform != "linux", reason="other systems tell otherwise what a process held")
def test_bombs_are_refused_in_little_memory_and_time(tmp_path: Path) -> None:
    """Memory is the most that the process ever held (VmHWM of Linux); limits of the system count what is only mapped.

    ru_maxrss would count what the tests themselves held when they started the process.
    """
    for number, (name, listed, files) in enumerate(bombs()):
        path = archive(tmp_path / f"{number}.zip", listed, files)
        assert path.stat().st_size < 3_000_000, name
        text, held, spent = imported_in_a_child(path, tmp_path / f"to{number}")
        assert "would unpack to more than" in text, name
        assert held < 400, name
        assert spent < 5, name
        path.unlink()


def test_an_archive_of_the_same_bytes_under_many_names_is_no_way_round(tmp_path: Path, folder: Path) -> None:
    many = {f"books/1/{number}": bytes(900_000) for number in range(120)}
    listed, files = sound()
    listed["books"] = [{**listed["books"][0], "name": name, "path": name} for name in many]
    text = command("import", str(archive(tmp_path / "many.zip", listed, {**files, **many})), status=2)
    assert "would unpack to more than" in text


def test_a_back_up_with_large_books_and_files_that_pack_well_restores_all_of_it(tmp_path: Path) -> None:
    rows = b"".join(
        b"2026-02-%02d,Refrigerator,%d,no cooling,%d.50,repaired\n" % (n % 28 + 1, n % 20, n % 900)
        for n in range(900_000)
    )
    with Store.open(str(tmp_path / "from")) as store:
        store.import_all(archive(tmp_path / "in.zip", *sound({"log.csv": b"1\n"})))
        store.keep_book("many jobs.csv", b"date,machine,age,fault,quote,decision\n" + rows, MAPPING, 900_000)
        store.keep_book("one word.csv", b"word\n" * 8_000_000, "", 0)
        store.save_visit(
            store.new_id(),
            {"title": "zeros"},
            files={f"{n}.csv": bytes(n) for n in (9_999, 10_001, 900_000, 30_000_000)},
        )
        store.save_settings({"shop_logo": bytes(500_000), "rates": json.dumps({"markup": "40 %"})})
        path = store.export_all(tmp_path / "all.zip")
        with Store.open(str(tmp_path / "to")) as other:
            arrived = other.import_all(path)
            assert arrived.new == 10
            assert everything(other) == everything(store)
            assert other.check() == store.check() == 15


def test_an_export_larger_than_usual_is_taken_in_by_the_command_where_its_owner_says_so(
    folder: Path, tmp_path: Path
) -> None:
    with Store.open(str(tmp_path / "from")) as store:
        store.keep_book("jobs.csv", random.Random(1).randbytes(3_000_000))
        path = store.export_all(tmp_path / "all.zip")
    assert "would unpack to more than 1,000,000 bytes" in command("import", str(path), "--most", "0.001", status=2)
    assert "1 new" in command("import", str(path), "--most", "0.01")


# deleted by the command


OLD_IDS = ("-pQAkXl2m0c4Yd8h7Zs1nA", "--QAkXl2m0c4Yd8h7Zs1nA", "-y_AkXl2m0c4Yd8h7Zs1nA", "_QAkXl2m0c4Yd8h7Zs1nAA")


@pytest.mark.parametrize("old", OLD_IDS)
def test_an_id_that_begins_as_an_option_does_can_be_deleted(old: str, folder: Path) -> None:
    with Store.open(str(folder)) as store:
        store.save_visit(old, {"title": "an old one"})
    assert "All of it was kept" in command("delete", old, typed="n\n")
    assert "an old one" in command("delete", old, "--yes")
    assert opened_store(folder) == []


def test_no_new_id_begins_as_an_option_does() -> None:
    assert not [name for name in (Store.new_id() for _ in range(20_000)) if name[0] in "-_"]


def test_the_command_lists_and_deletes_all_that_is_kept(folder: Path, tmp_path: Path) -> None:
    with Store.open(str(folder)) as store:
        store.import_all(archive(tmp_path / "in.zip", *sound()))
    kinds = {"visit": VISIT, "book": BOOK, "mapping": "desk", "figures": FIGURES_ID, "setting": "shop_name"}
    for kind, name in kinds.items():
        assert name in command("list", "--kind", kind)
        assert any(each["id"] == name for each in json.loads(command("list", "--kind", kind, "--json")))
        assert "deleted for good" in command("delete", name, "--yes")
        assert "holds nothing by" in command("delete", name, "--yes", status=2)
        assert name not in command("list", "--kind", kind)
    with Store.open(str(folder)) as store:
        assert store.check() == 0


def test_one_name_of_two_things_is_told_apart_by_its_kind(folder: Path) -> None:
    with Store.open(str(folder)) as store:
        store.save_mapping("desk", MAPPING)
        store.save_settings({"desk": "x"})
    assert "--kind" in command("delete", "desk", "--yes", status=2)
    assert "deleted for good" in command("delete", "desk", "--kind", "setting", "--yes")
    with Store.open(str(folder)) as store:
        assert store.things() == [Thing("mapping", "desk")]


# any field, of any wrong kind


WRONG = [None, True, 5, -1, 2**70, 1.5, "", "garbage", "\0", "\ud800", "../x", "x" * 100_000, [], [1], {}, {"a": 1},
         [[[]]], "9999-12-31T23:59:59+00:00", "0001-01-01T00:00:00+00:00", "\u202e", "\x1b[2J"]  # fmt: skip
WRONG_ON_DISK = [5, -1, 2**62, 1.5, "", "garbage", "\0", b"\xff\x00", b"", "../x", "x" * 100_000, "[]", "{}", "null",
                 "5", "9999-99-99", "0001-01-01 00:00:00.000000", '{"age": 5}', "a = [", "\x1b[2J"]  # fmt: skip


def every_place(listed: Any) -> Iterator[tuple[Any, Any]]:
    """Every place in a list of lists and tables where a value stands, as what holds it and by what."""
    for key in listed if isinstance(listed, dict) else range(len(listed)):
        yield listed, key
        if isinstance(listed[key], dict | list):
            yield from every_place(listed[key])


def spoilt_archive(chance: random.Random, path: Path) -> Path:
    listed, files = sound({"log.csv": b"1\n", "b.csv": b"2\n"}, {**PAGE, "files": {"log": "log.csv"}, "kept": CASE})
    for _ in range(chance.choice((1, 1, 1, 2, 5))):
        if chance.random() < 0.4:
            page = json.loads(files["visits/1/page.json"]) if files["visits/1/page.json"][:1] == b"{" else {}
            page[chance.choice([*PAGE, *TYPED, *CHOSEN, *WAYS, *SYMPTOM_FIELDS, "files", "kept"])] = chance.choice(
                WRONG
            )
            files["visits/1/page.json"] = json.dumps(page).encode()
        elif chance.random() < 0.3:
            files[chance.choice(sorted(files))] = chance.choice(
                [b"", b"\xff", b"5", b"[]", b"{}", b"a = 1", b"\0", b"null"]
            )
        else:
            held, key = chance.choice([each for each in every_place(listed) if each[1] != "format"])
            held[key] = chance.choice(WRONG)
            if not all(isinstance(listed.get(kind), list) for kind in ("visits", "books")):
                break
    return archive(path, listed, files)


def goes_on(folder: Path, out: Path) -> None:
    """All that can be asked of a store, of which nothing but words of its own may come; and it can be exported."""
    with Store.open(str(folder)) as store:
        asked = [store.things, store.damaged, lambda: store.damaged(deep=True), store.check, lambda: store.visits("an"),
                 store.local_figures, store.mappings, store.settings]  # fmt: skip
        asked += [lambda line=line: store.visit(line.id).entries for line in store.visits()]  # type: ignore[misc]
        asked += [lambda book=book: store.book_content(book.id) for book in store.books()]  # type: ignore[misc]
        for ask in asked:
            try:
                ask()
            except MendpointError as error:
                Words.of().explain(error)
        out.unlink(missing_ok=True)
        store.export_all(out)
        shutil.copytree(out.parent / "empty", out.with_suffix(".store"))
        with Store.open(str(out.with_suffix(".store"))) as other:
            arrived = other.import_all(out)
            assert arrived.new + arrived.same + arrived.both == sum(readable(store, thing) for thing in store.things())
            assert other.damaged(deep=True) == []
        shutil.rmtree(out.with_suffix(".store"))


def readable(store: Store, thing: Thing) -> bool:
    try:
        {"visit": store.visit, "book": store.book_content}.get(thing.noun, str)(thing.key)
    except Damaged:
        return False
    return True


def test_archives_with_any_field_of_any_wrong_kind_are_refused_or_kept_whole(folder: Path, tmp_path: Path) -> None:
    chance, refused = random.Random(20261101), 0
    Store.open(str(tmp_path / "empty")).close()
    for number in range(RUNS):
        shutil.rmtree(folder, ignore_errors=True)
        shutil.copytree(tmp_path / "empty", folder)
        path = spoilt_archive(chance, tmp_path / "in.zip")
        try:
            with Store.open(str(folder)) as store:
                store.import_all(path)
        except ReadError as error:
            refused += len(Words.of().explain(error))
            with Store.open(str(folder)) as store:
                assert store.things() == []
        else:
            with Store.open(str(folder)) as store:
                assert store.check() >= 1 or not store.things()
            goes_on(folder, tmp_path / "out.zip")
        if number % 50 == 0:
            for asked in (["import", str(path)], ["list"], ["check"]):
                done = commands.run("store", *asked)
                assert done.exit_code in (0, 2), done.exception
    assert 0.3 * RUNS < refused < RUNS


def test_stores_with_any_field_of_any_wrong_kind_go_on(folder: Path, tmp_path: Path) -> None:
    chance = random.Random(20261102)
    old_store(tmp_path / "old", {**PAGE, "files": {"log": "log.csv"}, "kept": CASE}, {"log.csv": b"1\n"})
    shutil.copytree(tmp_path / "old", tmp_path / "new")
    Store.open(str(tmp_path / "empty")).close()
    with Store.open(str(tmp_path / "new")) as store:
        assert store.check() == 6
    places = [
        (table, column) for table, columns in {
            "visits": "id title entries page version created changed sought copy_of", 
            "visit_files": "visit name digest content",
            "books": "id name mapping rows size digest content imported", "mappings": "name mapping changed",
            "local_figures": "id name rows dated used kept", "settings": "name value content changed",
        }.items() for column in columns.split()
    ]  # fmt: skip
    for number in range(RUNS):
        shutil.rmtree(folder, ignore_errors=True)
        shutil.copytree(tmp_path / ("old", "new")[number % 2], folder)
        for table, column in chance.sample(places, chance.choice((1, 1, 2, 4))):
            edited(folder / "store.sqlite", f"UPDATE {table} SET {column} = ?", chance.choice(WRONG_ON_DISK))
        goes_on(folder, tmp_path / "out.zip")
        if number % 50 < 2:
            for asked in (["list"], ["list", "--kind", "book"], ["check"], ["export", str(tmp_path / f"{number}.zip")]):
                done = commands.run("store", *asked)
                assert done.exit_code in (0, 2), done.exception
        with Store.open(str(folder)) as store:
            for thing in store.damaged(deep=True):
                store.delete(thing)
            assert store.damaged(deep=True) == []


@pytest.mark.parametrize("field", [*dict.fromkeys([*TYPED, *CHOSEN, *WAYS, *SYMPTOM_FIELDS, "group", "files", "kept"])])
def test_a_page_opens_whatever_a_field_of_an_old_visit_holds(field: str, folder: Path) -> None:
    for number, value in enumerate([None, 5, True, [1], {"a": 1}, "zzz"]):
        old_store(folder / str(number), {**PAGE, field: value})
        with pytest.MonkeyPatch.context() as patch:
            patch.setenv("MENDPOINT_STORE", str(folder / str(number)))
            page = opened(visit=VISIT)
            assert page.session_state["visit"] == VISIT
