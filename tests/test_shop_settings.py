"""Settings of the shop, on the page: kept as typed, refused in plain words, and all of a store taken into another."""

import io
import json
import re
import struct
import zipfile
import zlib
from pathlib import Path
from typing import Any

import pytest
import streamlit as st
from conftest import texts
from PIL import Image
from streamlit.testing.v1 import AppTest
from test_own_evidence import GOOD, changed
from test_shop_page import give, run, shop_page

from decide.errors import Message
from decide.load.jobs.book import open_book
from decide.load.jobs.columns import guess_mapping
from decide.load.jobs.people import without_people
from decide.load.store.store import Store
from decide.load.tables.evidence import COLUMNS, OWN_TABLES
from decide.load.tables.tables import data_dir
from decide.show.pdf.logo import MOST_BYTES, MOST_PIXELS
from decide.show.screens.ask import literal
from decide.show.screens.shop.settings import ExportRefusedError, exported, taken_in
from decide.show.screens.state.repository import paper_here, shop_here
from decide.show.text.words import Words

pytestmark = pytest.mark.slow

WORDS = Words.for_place("US")
DEMO = (data_dir() / "demo" / "jobs.csv").read_bytes()


def picture(kind: str = "PNG", size: tuple[int, int] = (40, 20)) -> bytes:
    file = io.BytesIO()
    Image.new("RGB", size, "#0f6b62").save(file, kind)
    return file.getvalue()


def bomb() -> bytes:
    """A PNG of a few hundred bytes that says it has 60,000 x 60,000 pixels."""

    def chunk(name: bytes, content: bytes) -> bytes:
        return struct.pack(">I", len(content)) + name + content + struct.pack(">I", zlib.crc32(name + content))

    head = struct.pack(">IIBBBBB", 60_000, 60_000, 8, 2, 0, 0, 0)
    body = chunk(b"IDAT", zlib.compress(b"\0" * 60_000))
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + body + chunk(b"IEND", b"")


@pytest.fixture
def page() -> AppTest:
    return shop_page(part="settings")


def settings() -> dict[str, Any]:
    with Store.open() as store:
        return store.settings()


def upload(page: AppTest, which: str, name: str, content: bytes, mime: str) -> AppTest:
    [field] = [each for each in page.file_uploader if each.key.startswith(f"set_{which}")]
    return run(field.set_value((name, content, mime)))


def press(page: AppTest, key: str) -> AppTest:
    [button] = [each for each in page.button if each.key.startswith(key)]
    return run(button.click())


# how the shop signs


def test_name_address_and_paper_are_kept_as_typed_and_stand_there_the_next_day(page: AppTest) -> None:
    run(page.text_input(key="set_name").set_value("  Öfen & Køl, repairs "))
    run(page.text_input(key="set_address").set_value("12 High Street"))
    run(page.pills(key="set_paper").set_value("A4"))
    assert settings() == {"shop_name": "Öfen & Køl, repairs", "shop_address": "12 High Street", "paper": "A4"}
    again = shop_page(part="settings")
    assert again.text_input(key="set_name").value == "Öfen & Køl, repairs"
    assert again.pills(key="set_paper").value == "A4"
    assert shop_here().address == "12 High Street"
    assert paper_here(WORDS) == "A4"
    run(again.text_input(key="set_name").set_value(""))
    assert "shop_name" not in settings()


def test_what_a_sheet_is_signed_with_is_kept_and_days_that_are_none_are_refused(page: AppTest) -> None:
    typed = {"phone": "555-0142", "licence": "HV-1", "technician": "A. Example", "valid": "30"}
    for part, text in typed.items():
        run(page.text_input(key=f"set_{part}").set_value(text))
    assert settings() == {f"shop_{part}": text for part, text in typed.items()}
    found = shop_here()
    assert (found.phone, found.licence, found.technician, found.valid_days) == ("555-0142", "HV-1", "A. Example", 30)
    for wrong in ("soon", "0", "366", "1.5"):
        run(page.text_input(key="set_valid").set_value(wrong))
        assert any("whole number from 1 to 365" in text for text in texts(page)), wrong
        assert page.text_input(key="set_valid").value == wrong  # nothing typed is lost
    assert shop_here().valid_days == 30
    run(page.text_input(key="set_valid").set_value(""))
    assert shop_here().valid_days == 0


def test_the_paper_is_that_of_the_region_until_one_is_chosen(page: AppTest) -> None:
    assert page.pills(key="set_paper").value == "Letter"
    run(page.pills(key="shop_part").set_value("card"))
    run(page.selectbox(key="place").set_value("DE"))
    assert page.pills(key="set_paper").value == "A4"
    assert "paper" not in settings()


def test_a_name_that_is_no_text_is_refused_at_its_field_and_the_address_stays(page: AppTest) -> None:
    run(page.text_input(key="set_address").set_value("12 High Street"))
    run(page.text_input(key="set_name").set_value("a\0b"))
    assert any("holds a sign that is no text" in text for text in texts(page))
    assert settings() == {"shop_address": "12 High Street"}
    run(page.text_input(key="set_name").set_value("ab"))
    assert not any("no text" in text for text in texts(page))


@pytest.mark.parametrize("kind", ["PNG", "JPEG"])
def test_a_logo_is_kept_byte_for_byte_shown_and_taken_away(page: AppTest, kind: str) -> None:
    content = picture(kind)
    upload(page, "logo", f"logo.{kind.lower()}", content, f"image/{kind.lower()}")
    assert settings() == {"shop_logo": content}
    assert shop_here().logo == content
    assert len(page.image) == 1
    press(page, "set_no_logo")
    assert settings() == {}
    assert not page.image


@pytest.mark.parametrize(
    ("content", "sentence"),
    [
        (bomb(), "is not a PNG or JPEG picture that can be read"),
        (picture(size=(MOST_PIXELS + 1, 2)), f"is more than {WORDS.number(MOST_PIXELS)} pixels wide or high"),
        (picture("GIF"), "is not a PNG or JPEG picture that can be read"),
        (b"", "is not a PNG or JPEG picture that can be read"),
        (b"\x89PNG\r\n\x1a\nno more", "is not a PNG or JPEG picture that can be read"),
        (picture() + bytes(MOST_BYTES), "is larger than 1 MB"),
    ],
    ids=["bomb", "wide", "gif", "empty", "torn", "large"],
)
def test_a_file_that_is_no_logo_is_refused_with_its_reason_and_the_old_one_stays(
    page: AppTest, content: bytes, sentence: str
) -> None:
    good = picture()
    upload(page, "logo", "logo.png", good, "image/png")
    upload(page, "logo", "other.png", content, "image/png")
    assert any(sentence in text for text in texts(page)), texts(page)
    assert settings() == {"shop_logo": good}
    upload(page, "logo", "logo.png", good, "image/png")
    assert not any(sentence in text for text in texts(page))


@pytest.mark.parametrize("language", ["en", "es"])
def test_sizes_and_words_of_the_shop_are_those_that_people_know(language: str) -> None:
    values = Words.of(language).text
    found = [
        values["shop_settings"]["logo"],
        Words.of(language).translated(Message("is larger than {most} MB", 1)),
        *values["bands"].values(),
    ]
    found += values["job_book"]["reason"].values()
    strange = r"\bkB\b|[Rr]egret(?!\})|\b[Bb]and(s|as)\b|\bthe mapping\b|la correspondencia|lament"
    assert [text for text in found if re.search(strange, str(text))] == []


def test_a_logo_may_be_as_large_as_its_field_says(page: AppTest) -> None:
    [field] = [each.proto for each in page.get("file_uploader") if "logo" in each.proto.label.lower()]
    assert field.max_upload_size_mb * 1024 * 1024 == MOST_BYTES
    assert f"up to {field.max_upload_size_mb} MB" in field.label


# what is kept


def test_the_page_says_where_the_store_is_and_that_it_is_sound(page: AppTest, tmp_path: Path) -> None:
    assert any(str(tmp_path / "store") in text for text in texts(page))
    run(page.text_input(key="set_name").set_value("Repairs"))
    press(page, "set_check")
    with Store.open() as store:
        assert WORDS.say("store.sound", count=str(store.check())) in texts(page)


@pytest.mark.slow
def test_everything_goes_out_as_one_file_and_comes_back_through_the_page(
    page: AppTest, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    run(page.text_input(key="set_name").set_value("Repairs"))
    upload(page, "logo", "logo.png", picture(), "image/png")
    run(page.pills(key="shop_part").set_value("book"))
    give(page, DEMO, "jobs.csv")
    run(page.pills(key="shop_part").set_value("quotes"))
    run(page.text_input(key="build_markup").set_value("33"))
    run(page.text_input(key="age").set_value("7"))
    with Store.open() as store:
        content = exported(store, WORDS)
        held = (store.settings(), [book.id for book in store.books()], [visit.id for visit in store.visits()])
    assert zipfile.ZipFile(io.BytesIO(content)).testzip() is None

    monkeypatch.setenv("MENDPOINT_STORE", str(tmp_path / "another"))
    other = shop_page(part="settings")
    assert other.text_input(key="set_name").value == ""
    upload(other, "import", "all.zip", content, "application/zip")
    with Store.open() as store:
        assert held == (store.settings(), [book.id for book in store.books()], [each.id for each in store.visits()])
        mapping = guess_mapping(open_book(DEMO, "jobs.csv"))
        assert store.book_content(held[1][0]) == without_people(DEMO, "jobs.csv", None, mapping) != DEMO
    count = len(held[0]) + len(held[1]) + len(held[2]) + 1  # and the way that the book is read by
    assert WORDS.say("store.imported", new=str(count), same="0", both="0") in texts(other)
    assert other.text_input(key="set_name").value == "Repairs"
    run(other.pills(key="shop_part").set_value("quotes"))
    assert other.text_input(key="build_markup").value == "33"
    run(other.pills(key="shop_part").set_value("settings"))
    upload(other, "import", "all.zip", content, "application/zip")
    assert WORDS.say("store.imported", new="0", same=str(count), both="0") in texts(other)


@pytest.mark.parametrize("content", [b"", b"no zip", picture()], ids=["empty", "text", "picture"])
def test_what_is_no_export_is_refused_by_its_own_name_and_changes_nothing(page: AppTest, content: bytes) -> None:
    run(page.text_input(key="set_name").set_value("Repairs"))
    upload(page, "import", "holiday.zip", content, "application/zip")
    assert any(text.startswith("holiday.zip: ") for text in texts(page)), texts(page)
    assert settings() == {"shop_name": "Repairs"}


def test_a_torn_export_brings_nothing(page: AppTest, tmp_path: Path) -> None:
    run(page.text_input(key="set_name").set_value("Repairs"))
    with Store.open() as store:
        content = exported(store, WORDS)
    with Store.open(str(tmp_path / "another")) as other:
        from decide.errors import ReadError

        with pytest.raises(ReadError, match=r"mine\.zip"):
            taken_in(other, "mine.zip", content[: len(content) // 2])
        assert other.settings() == {}


def test_an_export_without_room_says_so(page: AppTest, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path / "nowhere"))
    with Store.open() as store, pytest.raises(ExportRefusedError, match="could not be written"):
        exported(store, WORDS)


# deletion


def test_a_book_a_way_to_read_it_and_a_visit_are_asked_for_twice_and_then_gone(page: AppTest) -> None:
    run(page.pills(key="shop_part").set_value("book"))
    give(page, DEMO, "jobs.csv")
    run(page.pills(key="shop_part").set_value("quotes"))
    run(page.text_input(key="age").set_value("7"))
    run(page.pills(key="shop_part").set_value("settings"))
    for part in ("set_books", "visits"):
        page.session_state[part] = True
    run(page)
    press(page, "set_delete_book_")
    with Store.open() as store:
        assert len(store.books()) == 1
    press(page, "set_really_book_")
    with Store.open() as store:
        assert store.books() == []
    assert page.session_state["shop_held"] is None
    press(page, "set_delete_mapping_0")
    press(page, "set_really_mapping_0")
    press(page, "delete_")
    press(page, "really_")
    with Store.open() as store:
        assert store.mappings() == {}
        assert store.visits() == []
    assert WORDS.say("shop_settings.none") in texts(page)


def test_own_figures_can_be_deleted(page: AppTest) -> None:
    import datetime

    from decide.load.jobs.own_figures import COLUMNS

    with Store.open() as store:
        store.keep_figures("Own figures", ",".join(COLUMNS) + "\n", datetime.date(2026, 5, 4))
    page.session_state["set_books"] = True
    run(page)
    assert any(text.startswith("Own figures: Own figures, May 4, 2026") for text in texts(page))
    press(page, "set_delete_figures_")
    press(page, "set_really_figures_")
    with Store.open() as store:
        assert store.local_figures() == []


def test_without_a_store_the_page_says_why_and_goes_on(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    blocked = tmp_path / "a-file"
    blocked.write_text("no folder")
    monkeypatch.setenv("MENDPOINT_STORE", str(blocked))
    page = shop_page(part="settings")
    assert any(str(blocked) in text for text in texts(page))
    run(page.text_input(key="set_name").set_value("Repairs"))
    run(page.pills(key="shop_part").set_value("quotes"))
    assert page.text_input(key="build_parts").value == ""
    assert any(str(blocked) in text for text in texts(page))


# who may do what


def test_where_nobody_signs_in_the_network_is_told_what_everyone_may_do(monkeypatch: pytest.MonkeyPatch) -> None:
    everyone = "All who are in this network can open, change, take out and delete each visit and each book."
    usual = st.get_option
    for address, said in (("127.0.0.1", False), ("192.0.2.1", True)):
        monkeypatch.setattr(st, "get_option", lambda key, at=address: at if key == "server.address" else usual(key))
        page = shop_page(part="settings")
        assert any(everyone in text for text in texts(page)) is said
        assert not any(each.key.startswith("people_") for each in page.text_area)


# tables of checks of its own


def give_tables(page: AppTest, files: dict[str, str]) -> AppTest:
    [field] = [each for each in page.file_uploader if each.key.startswith("set_checks")]
    return run(field.set_value([(name, text.encode(), "text/csv") for name, text in files.items()]))


def as_files(rows: dict[str, tuple[str, ...]]) -> dict[str, str]:
    return {name: "\n".join((COLUMNS[name], *some)) + "\n" for name, some in rows.items()}


def the_door(page: AppTest) -> AppTest:
    page.session_state["page_of_test"] = "door"
    page.session_state["kind"] = "refrigerator"
    page.session_state["symptom"] = "warm_throughout"
    page.session_state["seen"] = page.session_state["evidence_all"] = True
    return run(page)


def test_a_shops_own_tables_are_kept_and_asked_at_the_door_until_they_are_taken_away(page: AppTest) -> None:
    give_tables(page, as_files(GOOD))
    assert WORDS.say("own_checks.used", files=", ".join(GOOD)) in texts(page)
    assert set(json.loads(settings()[OWN_TABLES])) == set(GOOD)
    again = shop_page(part="settings")  # the next day
    assert WORDS.say("own_checks.used", files=", ".join(GOOD)) in texts(again)
    door = the_door(again)
    assert "read_our_leak_ppm" in {each.key for each in door.text_input}
    before = [each for each in texts(door) if "%" in each and " · " in each]
    [asked] = [each for each in door.pills if each.key == "seen_smells_sweet"]
    assert asked.label == "Does it smell sweet at the back?"
    run(asked.set_value("yes"))
    assert door.session_state["answers"] == "smells_sweet=yes"
    assert [each for each in texts(door) if "%" in each and " · " in each] != before
    gone = press(shop_page(part="settings"), "set_no_checks")
    assert OWN_TABLES not in settings()
    assert not any("smells_sweet" in str(each.key) for each in the_door(gone).pills)


@pytest.mark.parametrize(
    ("files", "said"),
    [
        (changed("questions.csv", "yes;a little;no", "yes"), "questions.csv line 2: answers must list two or more"),
        (changed("readings.csv", ",ppm,", ",furlong,"), "readings.csv line 2: unit must be one of"),
        ({"prices.csv": ("a",)}, "prices.csv: is none of symptoms.csv"),
        ({"../../questions.csv": (GOOD["questions.csv"])}, "is none of symptoms.csv"),
    ],
)
def test_a_bad_table_is_refused_by_file_line_and_field_and_nothing_of_it_is_kept(
    page: AppTest, files: dict[str, tuple[str, ...]], said: str
) -> None:
    columns = {name: COLUMNS.get(name, "a") for name in files}
    texts_of = {name: "\n".join((columns[name], *some)) for name, some in files.items()}
    give_tables(page, texts_of)
    [text] = [each for each in texts(page) if said in each]
    assert "/tmp" not in text
    assert OWN_TABLES not in settings()


def test_own_tables_that_came_damaged_with_an_import_are_said_and_leave_the_shipped_ones(page: AppTest) -> None:
    with Store.open() as store:
        for kept in ("no json", json.dumps({"../x": "y"}), json.dumps({"questions.csv": "question\nx\n"}), "[1]"):
            store.save_settings({OWN_TABLES: kept})
            said = (f"{OWN_TABLES}: ", "../x: ", "checks: questions.csv line 1: ")
            assert any(text.startswith(said) for text in texts(run(page))), kept
    assert "seen_compressor_sound" in {each.key for each in the_door(page).pills}
    press(shop_page(part="settings"), "set_no_checks")
    assert OWN_TABLES not in settings()


MARKED = "![x](http://192.0.2.7/p.png) [go](javascript:go) <b>:red[now]</b>"


def test_own_words_are_no_marks_links_or_pictures_on_the_page(page: AppTest) -> None:
    files = as_files(GOOD)
    files = {name: text.replace("Does it smell sweet at the back?", MARKED) for name, text in files.items()}
    files = {
        name: text.replace("Sniffer at the coil", MARKED).replace("a little", MARKED) for name, text in files.items()
    }
    give_tables(page, files)
    door = the_door(page)
    [asked] = [each for each in door.pills if each.key == "seen_smells_sweet"]
    [read] = [each for each in door.text_input if each.key == "read_our_leak_ppm"]
    for shown in (asked.label, asked.options[1], read.label.rpartition(" (")[0]):
        assert shown == literal(MARKED)
        assert not re.search(r"(?<!\\)[\[\](<:]", shown)  # each mark stands for itself
    assert MARKED not in [each.value for each in door.markdown]
