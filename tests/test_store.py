"""The store, on a file and on a PostgreSQL server: what is kept comes back, and nothing is overwritten unseen."""

import datetime
import hashlib
import itertools
import json
import os
import sys
import threading
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import commands
import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import create_engine, text

sys.path.insert(0, str(Path(__file__).resolve().parent))

from store_servers import Server, running_server

from decide.errors import CaseError, ReadError, StoreError
from decide.load.files.file_names import made_plain
from decide.load.store import archive as store_archive
from decide.load.store import schema as store_schema
from decide.load.store.opening import connected, make_url
from decide.load.store.records import EditConflict, ImportSummary, NotFound, Thing
from decide.load.store.store import Store
from decide.show.text.words import Words

ENTRIES = {
    "title": "Küche, Österle",
    "appliance": {"class": "refrigerator", "age": 9, "label": {"file": "log.csv"}},
    "repair": {"quote": 185.5},
    "ranges": {"repair.remaining_life_factor": [0.5, 1.2]},
}
BEGIN = datetime.datetime(2026, 11, 1, 8, tzinfo=datetime.UTC)
BOOK = b"date;machine;quote\r\n01.02.2026;fridge;185,50\r\n"
MAPPING = '[columns]\ndate = "date"\nclass = "machine"\n'
OTHER_MAPPING = '[columns]\ndate = "day"\n'
FIGURES = """class,region,quantity,value,low,high,unit,n,from,to,shop,made
refrigerator,US,repair_success_probability,0.9,0.8,0.95,share,41,2020-01-01,2026-01-01,An invented shop,2026-10-31
"""
LOGO = bytes(range(256))
COUNTED = b"".join(b"%d\n" % number for number in range(1_000_000))
"""A log that packs as logs do, some four times."""


@pytest.fixture(scope="module")
def server() -> Iterator[Server]:
    with running_server(safe=False) as found:
        yield found


@pytest.fixture(params=["file", "server"])
def address(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """Where an empty store may stand."""
    if request.param == "file":
        return str(tmp_path / "kept")
    return request.getfixturevalue("server").new_database("shop")


@pytest.fixture
def store(address: str) -> Iterator[Store]:
    ticks = itertools.count()
    with Store.open(address, clock=lambda: BEGIN + datetime.timedelta(minutes=next(ticks))) as found:
        yield found


def other_store(store: Store, tmp_path: Path) -> Store:
    """An empty store beside one."""
    return Store.open(str(tmp_path / "another"), clock=store._clock)


def filled(store: Store) -> str:
    """Something of everything; the id of the visit."""
    page, details = {"quote": "185,50"}, {"customer": "Invented Österle", "job_number": "J-1042"}
    visit = store.save_visit(store.new_id(), ENTRIES, page=page, files={"log.csv": b"1\n2\n"}, details=details)
    store.keep_book("jobs.csv", BOOK, MAPPING, rows=1)
    store.save_mapping("desk", MAPPING)
    store.keep_figures("our lives", FIGURES, datetime.date(2026, 10, 31), used=True)
    store.save_settings({"shop": "Mending “Ö”", "logo": LOGO})
    return visit.id


def everything(store: Store) -> dict[str, Any]:
    return {
        "visits": [store.visit(line.id) for line in store.visits()],
        "books": [(book, store.book_content(book.id)) for book in store.books()],
        "mappings": store.mappings(),
        "figures": store.local_figures(),
        "settings": store.settings(),
    }


# visits


def test_a_visit_is_reopened_by_its_id_as_it_was_saved(store: Store) -> None:
    files = {"log.csv": b"\x00\xff\r\n", "Tarif für 2026.toml": b""}
    page = {
        "quote": "185,50",
        "fault": None,
        "remaining_life_factor": 0.7,
        "place": "US-OH",
        "files": {"log": "Tarif für 2026.toml"},
    }
    saved = store.save_visit(store.new_id(), ENTRIES, page=page, files=files)
    found = store.visit(saved.id)
    assert found == saved
    assert (found.entries, found.page, found.files) == (ENTRIES, page, files)
    assert (found.title, found.version, found.created, found.changed) == ("Küche, Österle", 1, BEGIN, BEGIN)


def test_ids_are_long_and_never_the_same() -> None:
    ids = {Store.new_id() for _ in range(1000)}
    assert len(ids) == 1000
    assert all(len(each) >= 22 for each in ids)  # 22 signs of 6 bits hold 128 bits


def test_a_visit_cannot_be_kept_under_an_id_that_can_be_guessed(store: Store) -> None:
    for guessable in ("", "1", "visit", "../../etc/passwd", "a" * 15, "ä" * 22):
        with pytest.raises(NotFound):
            store.save_visit(guessable, ENTRIES)
    assert store.visits() == []


def test_each_save_goes_on_from_the_last(store: Store) -> None:
    visit = store.save_visit(store.new_id(), ENTRIES, files={"a": b"1", "b": b"2"})
    later = store.save_visit(visit.id, {"title": "later"}, version=visit.version, files={"b": b"3", "c": b"4"})
    assert (later.version, later.created, later.changed > visit.changed) == (2, visit.created, True)
    assert store.visit(visit.id) == later
    assert store.visit(visit.id).files == {"b": b"3", "c": b"4"}


def test_a_save_that_is_repeated_changes_nothing(store: Store) -> None:
    name = store.new_id()
    first = store.save_visit(name, ENTRIES, files={"a": b"1"})
    assert store.save_visit(name, ENTRIES, files={"a": b"1"}) == first
    second = store.save_visit(name, {"title": "x"}, version=1)
    assert store.save_visit(name, {"title": "x"}, version=1) == second == store.visit(name)
    assert len(store.visits()) == 1


def test_a_stale_save_overwrites_nothing_and_both_are_kept(store: Store) -> None:
    name = store.new_id()
    store.save_visit(name, {"title": "read by both"})
    store.save_visit(name, {"title": "by the first"}, version=1)
    with pytest.raises(EditConflict, match=r"^visit: was changed elsewhere") as refused:
        store.save_visit(name, {"title": "by the second"}, version=1, files={"a": b"1"})
    kept = refused.value.kept
    assert isinstance(refused.value, CaseError)
    assert refused.value.field == "visit"
    assert store.visit(name).title == "by the first"
    assert store.visit(kept.id) == kept
    assert (kept.title, kept.copy_of, kept.files) == ("by the second", name, {"a": b"1"})
    assert kept.id in Words.of().explain(refused.value)[0]


def test_a_stale_save_that_is_repeated_is_kept_once_and_saves_go_on_from_the_copy(store: Store) -> None:
    name, copies = store.new_id(), set()
    store.save_visit(name, {"title": "read by both"})
    store.save_visit(name, {"title": "by the first"}, version=1)
    for _ in range(3):
        with pytest.raises(EditConflict) as refused:
            store.save_visit(name, {"title": "by the second"}, version=1)
        copies.add(refused.value.kept.id)
    (copy,) = copies
    gone_on = store.save_visit(copy, {"title": "more"}, version=refused.value.kept.version)
    assert (gone_on.copy_of, store.visit(copy).copy_of, len(store.visits())) == (name, name, 2)


def test_a_visit_that_was_deleted_is_not_brought_back_by_a_page_still_open(store: Store) -> None:
    visit = store.save_visit(store.new_id(), ENTRIES)
    store.delete(Thing("visit", visit.id))
    with pytest.raises(NotFound) as refused:
        store.save_visit(visit.id, ENTRIES, version=visit.version)
    assert "deleted" in Words.of().explain(refused.value)[0]
    assert store.visits() == []


def test_visits_are_found_by_words_of_the_title_in_any_writing_the_newest_first(store: Store) -> None:
    for title in ("Österle, washer", "OSTERLE, dryer", "100% wool_cycle", "Straße 5"):
        store.save_visit(store.new_id(), {}, title=title)

    def found(search: str) -> list[str]:
        return [line.title for line in store.visits(search)]

    assert found("") == ["Straße 5", "100% wool_cycle", "OSTERLE, dryer", "Österle, washer"]
    assert found("ÖSTERLE") == ["Österle, washer"]
    assert found("o\u0308sterle WASHER") == ["Österle, washer"]
    assert found("osterle") == ["OSTERLE, dryer"]
    assert found("STRASSE") == ["Straße 5"]
    assert found("%") == found("wool_") == ["100% wool_cycle"]
    assert found("w__l") == found("\\") == found("'") == []
    assert [line.title for line in store.visits("er", most=1)] == ["OSTERLE, dryer"]


def test_the_visit_changed_last_comes_first(store: Store) -> None:
    first = store.save_visit(store.new_id(), {"title": "first"})
    store.save_visit(store.new_id(), {"title": "second"})
    store.save_visit(first.id, {"title": "first again"}, version=1)
    assert [line.title for line in store.visits()] == ["first again", "second"]


@pytest.mark.parametrize(("field", "asked"), [
    ("title", {"entries": {}, "title": "a\0b"}),
    ("title", {"entries": {}, "title": "\ud800"}),
    ("title", {"entries": {}, "title": "x" * 501}),
    ("visit.files", {"entries": {}, "files": {"a\0b": b""}}),
    ("visit.files", {"entries": {}, "files": {" ": b""}}),
    ("visit.entries", {"entries": {"title": "\udfff"}, "title": ""}),
])  # fmt: skip
def test_what_some_database_cannot_hold_is_refused_by_all(store: Store, field: str, asked: dict[str, Any]) -> None:
    with pytest.raises(CaseError) as refused:
        store.save_visit(store.new_id(), **asked)
    assert refused.value.field == field
    assert store.visits() == []


def test_a_file_over_the_limit_is_refused(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("decide.load.store.records.LARGEST", 10)
    with pytest.raises(CaseError, match="at most 10 bytes, got 11"):
        store.save_visit(store.new_id(), {}, files={"a": b"x" * 11})
    with pytest.raises(CaseError, match="at most 10 bytes, got 11"):
        store.keep_book("jobs.csv", b"x" * 11)


SIGNS = st.characters(exclude_categories=["Cs"], exclude_characters="\0")
OF_A_KIND = ("remaining_life_factor", "files", "kept", "place")
"""Fields of a page that are not any text."""
TYPED = st.one_of(st.text(SIGNS), st.integers(-(2**62), 2**62), st.booleans(), st.floats(allow_nan=False))


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    title=st.text(SIGNS, max_size=50),
    page=st.dictionaries(
        st.text(SIGNS).filter(lambda name: name not in OF_A_KIND), st.none() | st.text(SIGNS), max_size=4
    ),
    files=st.dictionaries(st.text(SIGNS, min_size=1, max_size=30).map(made_plain), st.binary(), max_size=1),
    notes=st.dictionaries(st.text(SIGNS, min_size=1, max_size=9), TYPED, max_size=4),
)
def test_any_text_and_any_bytes_come_back_as_they_went(
    store: Store, title: str, page: dict[str, Any], files: dict[str, bytes], notes: dict[str, Any]
) -> None:
    saved = store.save_visit(store.new_id(), {"notes": notes}, title=title, page=page, files=files)
    found = store.visit(saved.id)
    assert (found.title, found.page, found.files) == (title, page, files)
    assert found.entries == {"notes": notes}
    assert saved.id in {line.id for line in store.visits(title)}


# the rest


def test_a_job_book_comes_back_byte_for_byte_and_is_kept_once(store: Store) -> None:
    book = store.keep_book("Aufträge 2026.csv", BOOK, MAPPING, rows=1)
    assert store.keep_book("Aufträge 2026.csv", BOOK, MAPPING, rows=1) == book
    assert store.books() == [book]
    assert store.book_content(book.id) == BOOK
    store.map_book(book.id, OTHER_MAPPING, rows=0)
    (mapped,) = store.books()
    assert (mapped.mapping, mapped.rows, mapped.size, mapped.imported) == (OTHER_MAPPING, 0, len(BOOK), BEGIN)
    store.delete(Thing("book", book.id))
    assert store.books() == []


def test_a_mapping_is_kept_by_name_and_must_be_toml(store: Store) -> None:
    store.save_mapping("desk", OTHER_MAPPING)
    store.save_mapping("desk", MAPPING)
    for none in ("a = \n", "a = 1\n", "place = [1]\n"):
        with pytest.raises(ReadError):
            store.save_mapping("desk", none)
    assert store.mappings() == {"desk": MAPPING}
    store.delete(Thing("mapping", "desk"))
    assert store.mappings() == {}


def test_own_figures_are_dated_and_used_only_when_said(store: Store) -> None:
    older = store.keep_figures("lives", FIGURES, datetime.date(2025, 12, 31))
    newer = store.keep_figures("lives", FIGURES, datetime.date(2026, 10, 31))
    store.use_figures(older.id, True)
    assert [(each.id, each.used) for each in store.local_figures()] == [(newer.id, False), (older.id, True)]
    store.delete(Thing("figures", newer.id))
    assert [each.dated for each in store.local_figures()] == [datetime.date(2025, 12, 31)]


def test_settings_are_text_or_pictures_and_can_be_taken_away(store: Store) -> None:
    store.save_settings({"shop": "Mending", "logo": LOGO, "language": ""})
    store.save_settings({"shop": None, "logo": b"", "paper": "A4"})
    assert store.settings() == {"language": "", "logo": b"", "paper": "A4"}


def test_what_is_not_there_is_said(store: Store) -> None:
    name = store.new_id()
    for ask in (
        store.visit, store.book_content, lambda book: store.map_book(book, "", 0),
        lambda each: store.use_figures(each, True),
    ):  # fmt: skip
        with pytest.raises(NotFound, match=name):
            ask(name)
    for noun in ("visit", "book", "mapping", "figures", "setting"):
        with pytest.raises(NotFound, match=name):
            store.delete(Thing(noun, name))


# all of it


def test_an_export_taken_in_by_an_empty_store_is_the_same_store(store: Store, tmp_path: Path) -> None:
    visit = filled(store)
    store.save_visit(visit, ENTRIES | {"title": "later"}, version=1)
    with pytest.raises(EditConflict):
        store.save_visit(visit, ENTRIES | {"title": "stale"}, version=1)
    path = store.export_all(tmp_path / "all.zip")
    assert os.name != "posix" or path.stat().st_mode & 0o777 == 0o600, "it names customers"
    with other_store(store, tmp_path) as other:
        assert other.import_all(path) == ImportSummary(new=7)
        assert everything(other) == everything(store)
        assert other.import_all(path) == ImportSummary(same=7)
        assert everything(other) == everything(store)
        assert other.check() == 7  # two visits, a book, a mapping, a set of figures, two settings


def test_an_export_is_plain_files_that_other_programs_can_read(store: Store, tmp_path: Path) -> None:
    filled(store)
    with zipfile.ZipFile(store.export_all(tmp_path / "all.zip")) as archive:
        assert archive.testzip() is None
        assert "refrigerator" in archive.read("visits/1/case.toml").decode()
        assert archive.read("visits/1/1-log.csv") == b"1\n2\n"
        assert archive.read("books/1/1-jobs.csv") == BOOK
        assert archive.read("figures/1.csv").decode() == FIGURES
        assert json.loads(archive.read("visits/1/page.json")) == {"quote": "185,50"}


def test_an_import_into_a_store_that_holds_something_keeps_both(store: Store, tmp_path: Path) -> None:
    visit = filled(store)
    path = store.export_all(tmp_path / "all.zip")
    store.save_visit(visit, {"title": "went on here"}, version=1)
    store.map_book(store.books()[0].id, "", 0)
    store.save_mapping("desk", OTHER_MAPPING)
    store.save_settings({"shop": "A new name"})
    store.keep_figures("others", FIGURES, datetime.date(2026, 11, 1))
    assert store.import_all(path) == ImportSummary(same=2, both=4)
    here = store.visit(visit)
    (came,) = (line for line in store.visits() if line.copy_of == visit)
    assert (here.title, store.visit(came.id).entries) == ("went on here", ENTRIES)
    assert {book.mapping for book in store.books()} == {"", MAPPING}
    assert store.mappings() == {"desk": OTHER_MAPPING, "desk (2)": MAPPING}
    assert store.settings() == {"shop": "A new name", "shop (2)": "Mending “Ö”", "logo": LOGO}
    before = everything(store)
    assert store.import_all(path) == ImportSummary(same=6)
    assert everything(store) == before


def test_own_figures_that_come_beside_others_are_not_used_unasked(store: Store, tmp_path: Path) -> None:
    filled(store)
    path = store.export_all(tmp_path / "all.zip")
    with other_store(store, tmp_path) as other:
        other.keep_figures("ours", FIGURES, datetime.date(2026, 1, 1), used=True)
        other.import_all(path)
        assert {each.name: each.used for each in other.local_figures()} == {"ours": True, "our lives": False}


def test_an_export_never_overwrites_a_file(store: Store, tmp_path: Path) -> None:
    (tmp_path / "all.zip").write_text("precious")
    with pytest.raises(ReadError, match="is there already"):
        store.export_all(tmp_path / "all.zip")
    with pytest.raises(ReadError, match="No such file"):
        store.export_all(tmp_path / "nowhere" / "all.zip")
    assert (tmp_path / "all.zip").read_text() == "precious"
    assert not list(tmp_path.glob(".*part"))


def changed_export(path: Path, change: Callable[[dict[str, bytes], dict[str, Any]], None]) -> Path:
    """The export with files changed, its list written anew."""
    with zipfile.ZipFile(path) as archive:
        files = {name: archive.read(name) for name in archive.namelist()}
    listed = json.loads(files.pop("manifest.json"))
    change(files, listed)
    out = path.with_name("changed.zip")
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in {**files, "manifest.json": json.dumps(listed).encode()}.items():
            archive.writestr(name, content)
    return out


def slipped_in(name: str) -> Callable[[dict[str, bytes], dict[str, Any]], None]:
    def change(files: dict[str, bytes], listed: dict[str, Any]) -> None:
        files[name] = b"x"
        listed["digests"][name] = store_archive.digest_of(b"x")

    return change


def listing(kind: str, **values: object) -> Callable[[dict[str, bytes], dict[str, Any]], None]:
    return lambda files, listed: listed[kind][0].update(values)


@pytest.mark.parametrize("change", [
    slipped_in("../outside"), slipped_in("/etc/cron"), slipped_in("visits/../../x"), slipped_in("C:/x"),
    slipped_in("..\\outside"), slipped_in("folder/"),
    lambda files, listed: files.update({"unlisted": b"x"}),
    lambda files, listed: files.pop("books/1/1-jobs.csv"),
    lambda files, listed: files.update({"books/1/1-jobs.csv": b"other"}),
    lambda files, listed: listed.pop("settings"),
    lambda files, listed: listed.update(format="another program"),
    lambda files, listed: listed.update(layout=3), listing("visits", details={"friend": "A"}),
        listing("visits", details={"follow_up": "soon"}), listing("visits", details={"customer": " "}),
        listing("visits", details=["A"]),
    lambda files, listed: listed.update(visits={"a": 1}),
    listing("visits", id="1"), listing("visits", id=None), listing("visits", version=0),
    listing("visits", version=2**40), listing("visits", created="yesterday"), listing("visits", title=5),
    listing("visits", changed="2026-11-01T08:00:00"), listing("visits", case="manifest.json"),
    listing("visits", page="visits/1/case.toml"), listing("visits", title="a\0b"), listing("books", rows=-1),
    listing("visits", case="visits/1/page.json"), listing("figures", dated="2026-13-01"),
    listing("mappings", path="figures/1.csv"), listing("settings", name=""),
])  # fmt: skip
def test_an_import_that_was_tampered_with_is_refused_and_nothing_of_it_stays(
    tmp_path: Path, change: Callable[[dict[str, bytes], dict[str, Any]], None]
) -> None:
    with Store.open(str(tmp_path / "from")) as store, Store.open(str(tmp_path / "to")) as other:
        filled(store)
        path = changed_export(store.export_all(tmp_path / "all.zip"), change)
        with pytest.raises(ReadError):
            other.import_all(path)
        assert not any(everything(other).values())


@pytest.mark.parametrize("limit", ["LARGEST", "LARGEST_EXPORT", "LARGEST_MANIFEST"])
def test_a_small_file_that_would_unpack_to_a_large_one_is_refused(
    tmp_path: Path, limit: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    with Store.open(str(tmp_path / "from")) as store, Store.open(str(tmp_path / "to")) as other:
        store.save_visit(store.new_id(), {"note": "n"}, title="t", files={"log": COUNTED[:2_000_000]})
        path = store.export_all(tmp_path / "all.zip")
        assert path.stat().st_size < 1_000_000
        module = "records" if limit == "LARGEST" else "archive"
        most = 1_000_000 if limit != "LARGEST_MANIFEST" else 100
        monkeypatch.setattr(f"decide.load.store.{module}.{limit}", most)
        with pytest.raises(ReadError, match="would unpack to more than"):
            other.import_all(path)
        assert other.visits() == []


def test_a_file_that_unpacks_to_more_than_it_states_is_refused(tmp_path: Path) -> None:
    with Store.open(str(tmp_path / "from")) as store, Store.open(str(tmp_path / "to")) as other:
        store.save_visit(store.new_id(), {}, title="t", files={"log": COUNTED[:5_000_000]})
        path = store.export_all(tmp_path / "all.zip")
        raw = path.read_bytes()
        assert raw.count((5_000_000).to_bytes(4, "little")) == 2  # beside the file, and in the list at the end
        path.write_bytes(raw.replace((5_000_000).to_bytes(4, "little"), (100).to_bytes(4, "little")))
        with pytest.raises(ReadError, match="is damaged"):
            other.import_all(path)
        assert other.visits() == []


def test_an_export_that_was_damaged_is_refused_or_taken_in_whole(tmp_path: Path) -> None:
    with Store.open(str(tmp_path / "from")) as store, Store.open(str(tmp_path / "to")) as other:
        filled(store)
        sound, whole, path = (
            store.export_all(tmp_path / "all.zip").read_bytes(),
            everything(store),
            tmp_path / "bad.zip",
        )
        refused = []

        @settings(max_examples=3 * settings.default.max_examples)
        @given(at=st.floats(0, 1, exclude_max=True), flip=st.integers(1, 255), cut=st.booleans())
        def take_in(at: float, flip: int, cut: bool) -> None:
            raw, place, before = bytearray(sound), int(at * len(sound)), everything(other)
            raw[place] ^= flip
            path.write_bytes(raw[:place] if cut else raw)
            try:
                other.import_all(path)
            except ReadError:
                refused.append(place)
                assert everything(other) == before
            else:  # a byte that says nothing, such as a date within the zip
                assert everything(other) == whole

        take_in()
        assert len(refused) > settings.default.max_examples


def test_a_file_that_is_no_export_is_said_to_be_none(store: Store, tmp_path: Path) -> None:
    (tmp_path / "text").write_text("hello")
    with zipfile.ZipFile(tmp_path / "other.zip", "w") as archive:
        archive.writestr("a", "b")
    for name in ("text", "other.zip", "missing"):
        with pytest.raises(ReadError, match=name):
            store.import_all(tmp_path / name)


# the tables


def test_the_tables_that_the_changes_make_are_the_tables_that_the_program_knows(store: Store, address: str) -> None:
    with store._engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"version_table": store_schema.VERSIONS})
        assert compare_metadata(context, store_schema.METADATA) == []


def test_the_newest_version_is_that_of_the_last_change(store: Store) -> None:
    scripts = ScriptDirectory(str(store_schema.MIGRATIONS))
    assert scripts.get_current_head() == store_schema.NEWEST == store.schema
    assert len(list(scripts.walk_revisions())) >= 2


def url_of(address: str) -> str:
    return address if "://" in address else f"sqlite:///{Path(address) / 'store.sqlite'}"


def first_version(address: str) -> None:
    """A store as the first version made it, with three visits in it, written without any code of today's store."""
    engine = connected(make_url(url_of(address)), 5)
    with engine.begin() as connection:
        store_schema.migrate(connection, "0001")
        for number, title in enumerate(("ÖSTERLE", "plain", ""), 1):
            row = {"id": f"{number}" * 22, "title": title, "content": f"log {number}".encode()}
            row["digest"] = hashlib.sha256(row["content"]).hexdigest()  # type: ignore[arg-type]
            connection.execute(
                text(
                    "INSERT INTO visits (id, title, entries, page, version, created, changed) VALUES"
                    " (:id, :title, 'title = \"kept\"', '{}', 4, '2026-01-02 03:04:05.000006', '2026-02-03 04:05:06')"
                ),
                row,
            )
            connection.execute(text("INSERT INTO visit_files VALUES (:id, 'log.csv', :digest, :content)"), row)
        connection.execute(text("INSERT INTO mappings VALUES ('desk', 'place = \"DE\"', '2026-01-02 03:04:05')"))
    engine.dispose()


def test_a_store_of_the_first_version_is_brought_up_and_keeps_all_that_it_held(address: str) -> None:
    first_version(address)
    with Store.open(address) as store:
        assert store.schema == store_schema.NEWEST
        for number in (1, 2, 3):
            visit = store.visit(f"{number}" * 22)
            assert (visit.entries, visit.version, visit.copy_of) == ({"title": "kept"}, 4, "")
            assert visit.files == {"log.csv": f"log {number}".encode()}
            assert visit.created == datetime.datetime(2026, 1, 2, 3, 4, 5, 6, tzinfo=datetime.UTC)
        assert [line.title for line in store.visits("österle")] == ["ÖSTERLE"]
        assert store.mappings() == {"desk": 'place = "DE"'}
        assert store.check() == 7
        saved = store.save_visit("1" * 22, ENTRIES, version=4)
        assert saved.version == 5


def test_a_store_newer_than_the_program_is_refused_and_left_as_it_is(address: str) -> None:
    with Store.open(address) as store:
        filled(store)
        with store._engine.begin() as connection:
            connection.execute(text("UPDATE store_version SET version_num = '0999'"))
    with pytest.raises(StoreError, match="newer") as refused:
        Store.open(address)
    assert "newer version of this program" in Words.of().explain(refused.value)[0]
    engine = create_engine(url_of(address))
    with engine.connect() as connection:
        assert connection.execute(text("SELECT count(*) FROM visits")).scalar() == 1
        assert connection.execute(text("SELECT version_num FROM store_version")).scalar() == "0999"
    engine.dispose()


def test_many_can_open_a_store_that_is_not_there_yet(address: str) -> None:
    errors: list[BaseException] = []

    def open_and_save() -> None:
        try:
            with Store.open(address) as store:
                store.save_visit(store.new_id(), ENTRIES)
        except BaseException as error:
            errors.append(error)

    threads = [threading.Thread(target=open_and_save) for _ in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert errors == []
    with Store.open(address) as store:
        assert len(store.visits()) == 6


def test_one_store_serves_many_threads(store: Store) -> None:
    store._clock = lambda: BEGIN
    errors: list[BaseException] = []

    def work() -> None:
        try:
            for number in range(25):
                visit = store.save_visit(store.new_id(), {"n": number})
                assert store.visit(visit.id).entries == {"n": number}
                store.save_settings({"same": str(number)})
        except BaseException as error:
            errors.append(error)

    threads = [threading.Thread(target=work) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert errors == []
    assert len(store.visits()) == 200


def test_a_connection_that_the_server_dropped_is_made_anew(server: Server) -> None:
    with Store.open(server.new_database("dropped")) as store:
        first = store.save_visit(store.new_id(), ENTRIES)
        server.run("SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = 'dropped'")
        assert store.visit(first.id) == first


# the command


def test_the_command_tells_lists_exports_imports_checks_and_deletes(
    tmp_path: Path, address: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    def run(*asked: str, status: int = 0, typed: str | None = None) -> str:
        done = commands.run("store", *asked, typed=typed)
        assert done.exit_code == status, done.output
        return done.output

    monkeypatch.setenv("MENDPOINT_STORE", address)
    assert "holds no visit yet" in run("list")
    with Store.open() as store:
        visit = filled(store)
        store.save_visit(visit, ENTRIES | {"note": 1}, version=1)
        with pytest.raises(EditConflict) as refused:
            store.save_visit(visit, ENTRIES | {"note": 2}, version=1)
        place = store.where
    assert place in run("where")
    assert json.loads(run("where", "--json")) == {"where": place, "version": store_schema.NEWEST}
    assert visit in run("list", "küche")
    assert "a copy" in run("list")
    assert "no visit with these words" in run("list", "washer")
    (copy, first) = json.loads(run("list", "--json"))
    assert (copy["id"], copy["copy_of"], first["version"]) == (refused.value.kept.id, visit, 2)
    path = str(tmp_path / "all.zip")
    assert path in run("export", path)
    assert "is there already" in run("export", path, status=2)
    assert "0 new, 7 that were there already" in run("import", path)
    assert "All of it was kept" in run("delete", visit, typed="n\n")
    assert "deleted for good" in run("delete", visit, typed="y\n")
    assert "1 new" in run("import", path)
    assert "deleted for good" in run("delete", visit, "--yes")
    assert "holds nothing by" in run("delete", visit, "--yes", status=2)
    assert "is sound: 6 things" in run("check")
