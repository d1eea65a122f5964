"""The page in the shop: a job book from upload to results, its mapping put right and kept, and own figures in use.

What it says is held to the same functions called by themselves; nothing that is chosen gets lost; a file that cannot be
used is named and changes nothing.
"""

import io
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import openpyxl
import pandas as pd
import pytest
from conftest import ROOT, texts
from shop_books import shop_book
from streamlit.testing.v1 import AppTest
from test_cli_records import write_book
from whole_books import read_jobs

from decide.answers.answer import answer
from decide.answers.book import BookResult, weigh_book
from decide.answers.shop_bands import shop_bands
from decide.answers.shop_groups import compared
from decide.answers.shop_policy import usual_practice
from decide.load.jobs.book import Progress, open_book
from decide.load.jobs.columns import guess_mapping, parse_mapping
from decide.load.jobs.export import RowWriter
from decide.load.jobs.own_figures import parsed, with_local
from decide.load.jobs.own_records import records_of
from decide.load.jobs.rows import read_book
from decide.load.store.store import Store
from decide.load.tables.tables import tables
from decide.shop.job_totals import summary
from decide.show.charts.shop import lives_chart
from decide.show.screens.shop.held import LARGEST
from decide.show.screens.shop.results import as_file, figures_table
from decide.show.terminal.records import figure_rows, life_text
from decide.show.text.jobs import job_sentences, rows_out, skipped_out
from decide.show.text.words import Words

pytestmark = pytest.mark.slow

DEMO = (ROOT / "data" / "demo" / "jobs.csv").read_bytes()

# Invented. Headings that tell nothing, and days that either order fits.
CODED = b"""K1,K2,K3,K4
Washing machine,4,180.50,03/04/2026
Fridge,12,401.00,05/06/2026
Dishwasher,9,240.00,07/08/2026
"""
COLUMNS = {"class": "K1", "age": "K2", "quote": "K3", "date": "K4"}

# Invented.
WORDS = b"""Appliance,Age,Quote,Customer did
Washing machine,4,180.50,repaired
Spin thing,12,401.00,declined
Spin thing,2,99.00,mulling
Other thing,5,120.00,repaired
"""

PAGES = """
import streamlit as st
from decide.load.tables.tables import tables
from decide.show.screens.door import page as door
from decide.show.screens.shop import page as shop
from decide.show.screens.state.session import begin

begin(tables())
{"shop": shop.page, "door": door.page}[st.session_state["page_of_test"]]()
"""


def shop_page(**address: str) -> AppTest:
    page = AppTest.from_string(PAGES, default_timeout=60)
    page.session_state["page_of_test"] = "shop"
    for name, value in address.items():
        page.query_params[name] = value
    return run(page)


def run(touched: Any) -> AppTest:
    """Run the page, or what was touched on it."""
    page: AppTest = touched.run()
    assert not page.exception, page.exception
    return page


@pytest.fixture
def page() -> AppTest:
    return shop_page()


def give(page: AppTest, content: bytes, name: str = "jobs.csv") -> AppTest:
    return run(next(iter(page.file_uploader)).set_value((name, content, "text/csv")))


def opened_part(page: AppTest, part: str) -> AppTest:
    page.session_state[part] = True
    return run(page)


def table_with(page: AppTest, column: str) -> pd.DataFrame:
    return next(table.value for table in page.dataframe if column in table.value)


def weighed(content: bytes, name: str = "jobs.csv", place: str = "US", mapping: Any = None) -> BookResult:
    book = open_book(content, name)
    return weigh_book(book, mapping or guess_mapping(book, place), tables())


def kept_mapping() -> Any:
    with Store.open() as store:
        (book,) = store.books()
        return parse_mapping(book.mapping)


# a book from upload to results


def test_an_uploaded_book_gets_the_results_of_the_functions_themselves(page: AppTest) -> None:
    give(page, DEMO)
    words, expected = Words.for_place("US"), weighed(DEMO)
    assert set(job_sentences(words, expected, tables())) <= set(texts(page))
    values = {(line.kind, line.band): line for line in summary(expected.tally)}
    table = table_with(page, "Age")
    assert len(table) == len(values)
    assert table["Jobs"].sum() == sum(line.jobs for line in values.values())
    assert table["Overpaid"].to_numpy() == pytest.approx(
        [line.paid_above_cost for line in sorted(values.values(), key=lambda one: _shown_at(words, one))]
    )
    skipped = table_with(page, "Reason")
    assert [int(line) for line in skipped["Line"]] == [row.row for row in expected.shown]
    assert list(skipped["What stood there"]) == [row.text for row in expected.shown]
    assert len(page.get("plotly_chart")) == 1


def _shown_at(words: Words, line: Any) -> tuple[bool, str, int]:
    name = "" if line.kind is None else words.kind(line.kind)
    return line.kind is not None, name, -1 if line.band is None else line.band


@pytest.mark.slow
@pytest.mark.parametrize("ending", ["csv", "xlsx", "parquet"])
def test_the_rows_taken_away_are_those_of_the_functions_themselves(page: AppTest, ending: str, tmp_path: Path) -> None:
    give(page, DEMO)
    done = page.session_state["shop_weighed"][1]
    book, words = open_book(DEMO, "jobs.csv"), Words.for_place("US")
    direct, skipped = tmp_path / f"rows.{ending}", tmp_path / f"skipped.{ending}"
    with RowWriter.of(direct) as out, RowWriter.of(skipped) as out_skipped:
        writers = rows_out(words, book.header, out, ("Note",)), skipped_out(words, book.header, out_skipped, ("Note",))
        weigh_book(book, guess_mapping(book), tables(), *writers, size=77)
    read = {"csv": pd.read_csv, "xlsx": pd.read_excel, "parquet": pd.read_parquet}[ending]
    for kept, path in ((done.rows, direct), (done.skipped, skipped)):
        pd.testing.assert_frame_equal(read(io.BytesIO(as_file(kept, ending))), read(path))


def test_what_begins_like_a_formula_is_harmless_in_what_is_taken_away(page: AppTest) -> None:
    give(page, b"Appliance,Age,Quote,Model\nFridge,3,120,=1+1\nFridge,old,120,@SUM(A1)\n=2+2,4,150,x\n")
    done = page.session_state["shop_weighed"][1]
    rows = as_file(done.rows, "csv").decode("utf-8-sig")
    assert "'=1+1" in rows
    assert ",=" not in rows.replace('"', "")
    assert "'=2+2" in as_file(done.skipped, "csv").decode("utf-8-sig")
    sheet = openpyxl.load_workbook(io.BytesIO(as_file(done.rows, "xlsx"))).active
    assert sheet is not None
    assert all(cell.data_type != "f" for row in sheet.iter_rows() for cell in row)


@pytest.mark.slow
def test_the_invented_book_is_one_tap_away_and_says_that_it_is_invented(page: AppTest) -> None:
    run(page.button(key="shop_try").click())
    mapping = parse_mapping((ROOT / "data" / "demo" / "jobs.toml").read_bytes())
    assert set(job_sentences(Words.for_place("US"), weighed(DEMO, mapping=mapping), tables())) <= set(texts(page))
    assert "invented-jobs.csv" in texts(page)


def test_a_table_holds_numbers_and_shows_them_as_the_place_writes_them() -> None:
    words, found = Words.for_place("DE"), weighed(DEMO, place="DE")
    lines = summary(found.tally)
    table, shown = figures_table(words, {"class": ["x"] * len(lines)}, lines)
    assert table["Overpaid"].dtype == np.float64
    assert "\u20ac" in shown.to_html()
    assert "nan" not in shown.to_html()


def test_excel_comes_to_the_same_as_csv(page: AppTest, tmp_path: Path) -> None:
    path = tmp_path / "jobs.xlsx"
    pd.read_csv(io.BytesIO(WORDS)).to_excel(path, index=False)
    give(page, path.read_bytes(), "jobs.xlsx")
    assert set(job_sentences(Words.for_place("US"), weighed(WORDS), tables())) <= set(texts(page))


def test_another_sheet_is_read_when_it_is_chosen_and_found_again(page: AppTest, tmp_path: Path) -> None:
    path = tmp_path / "jobs.xlsx"
    with pd.ExcelWriter(path) as file:
        pd.DataFrame({"Month": ["May", "June"], "Turnover": [1.0, 2.0]}).to_excel(file, sheet_name="Sums", index=False)
        pd.read_csv(io.BytesIO(WORDS)).to_excel(file, sheet_name="Jobs", index=False)
    give(page, path.read_bytes(), "jobs.xlsx")
    assert page.session_state["shop_weighed"] is None
    run(page.selectbox(key="shop_sheet").set_value("Jobs"))
    expected = set(job_sentences(Words.for_place("US"), weighed(WORDS), tables()))
    assert expected <= set(texts(page))
    again = shop_page(part="book", book=page.session_state["shop_held"].id)
    assert expected <= set(texts(again))


# the mapping


def code_the_columns(page: AppTest) -> AppTest:
    for role, heading in COLUMNS.items():
        if f"shop_role_{role}" not in [box.key for box in page.selectbox]:
            opened_part(page, "shop_reading")
        run(page.selectbox(key=f"shop_role_{role}").set_value(heading))
    return page


def test_a_book_whose_headings_tell_nothing_is_read_once_the_owner_says(page: AppTest) -> None:
    give(page, CODED)
    assert page.session_state["shop_weighed"] is None
    assert any("No row can be weighed" in text for text in texts(page))
    code_the_columns(page)
    run(page.pills(key="shop_date_order").set_value("day first"))
    mapping = kept_mapping()
    assert mapping.columns == COLUMNS
    assert mapping.date_order == "day first"
    expected = weighed(CODED, mapping=mapping)
    assert expected.skipped_rows == 0
    assert set(job_sentences(Words.for_place("US"), expected, tables())) <= set(texts(page))


def test_a_book_that_tells_no_answers_tells_no_losses(page: AppTest) -> None:
    book = b"Appliance,Age,Quote,Decision\n" + 12 * b"Dishwasher,8,900.00,declined\n"
    give(page, book)
    assert "Lost by paying too much" in "".join(texts(page))
    run(page.button(key="shop_another").click())
    give(page, book.replace(b",Decision", b"").replace(b",declined", b""), "silent.csv")
    assert "Quotes above the limit" in "".join(texts(page))
    assert "Lost by" not in "".join(texts(page))


def test_how_a_book_is_read_is_found_again_by_its_link_and_by_the_next_book_like_it(page: AppTest) -> None:
    code_the_columns(give(page, CODED))
    run(page.pills(key="shop_date_order").set_value("month first"))
    said_before = texts(page)
    link = {name: page.query_params[name] for name in ("part", "book")}
    assert texts(shop_page(**link)) == said_before
    run(page.button(key="shop_another").click())
    give(page, CODED + b"Wall oven,6,150.00,09/10/2026\n", "june.csv")
    held = page.session_state["shop_held"]
    assert (held.mapping.columns, held.mapping.date_order, held.like) == (COLUMNS, "month first", "jobs.csv")
    assert any("4 of 4 rows could be read" in text for text in texts(page))


def test_what_a_new_book_tells_for_certain_goes_before_an_earlier_habit(page: AppTest) -> None:
    code_the_columns(give(page, CODED))
    run(page.pills(key="shop_date_order").set_value("month first"))
    run(page.button(key="shop_another").click())
    give(page, CODED + b"Microwave,6,150.00,28/10/2026\n", "june.csv")
    assert page.session_state["shop_held"].mapping.date_order == "day first"


def test_a_column_serves_one_role_only(page: AppTest) -> None:
    give(page, WORDS)
    opened_part(page, "shop_reading")
    run(page.selectbox(key="shop_role_parts").set_value("Quote"))
    mapping = page.session_state["shop_held"].mapping
    assert mapping.columns["parts"] == "Quote"
    assert "quote" not in mapping.columns
    assert "quote" in page.session_state["shop_held"].lacking
    run(page.selectbox(key="shop_role_quote").set_value("Quote"))
    assert page.session_state["shop_held"].lacking == ()


NONE = "none of these; set such rows apart"


def answer_words(page: AppTest, meant: dict[str, str]) -> None:
    """Fill in the table of open words: a grid that this driver cannot type in, so what it reports is put there."""
    from decide.load.jobs.open_words import ranked

    asked = [
        each.word for each in ranked(page.session_state["shop_held"].mapping) if each.role in ("class", "decision")
    ]
    key = f"shop_words_asked_{page.session_state['shop_turn']}"
    page.session_state[key] = {"edited_rows": {asked.index(word): {"means": label} for word, label in meant.items()}}
    run(page.button(key="shop_take_words").click())


def test_the_shops_own_words_are_asked_in_one_table_and_kept(page: AppTest) -> None:
    give(page, WORDS)
    assert page.session_state["shop_weighed"][1].found.skipped_rows == 3
    meant = {"Spin thing": "Washing machine", "mulling": "still open", "Other thing": NONE}
    answer_words(page, meant)
    mapping = kept_mapping()
    assert mapping.classes["Spin thing"] == "clothes_washer"
    assert mapping.classes["Other thing"] == ""
    assert mapping.decisions["mulling"] == "open"
    assert page.session_state["shop_weighed"][1].found.skipped_rows == 1
    assert page.session_state["shop_weighed"][1].found.rows == 4


def test_what_a_word_is_taken_for_can_be_put_right(page: AppTest) -> None:
    """The table of words is a grid that this driver cannot type in; its callback is run with what the grid reports."""
    from unittest.mock import patch

    from decide.show.screens.shop import mapping as shop_mapping

    give(page, WORDS)
    held = page.session_state["shop_held"]
    state = {"shop_held": held, "shop_turn": 0, "grid": {"edited_rows": {1: {"means": "dishwasher"}}}}
    with patch.object(shop_mapping.st, "session_state", state), patch.object(shop_mapping, "held_here", lambda: held):
        shop_mapping._take_words("class", ("Other thing", "Washing machine"), "grid")
    assert state["shop_held"].mapping.classes["Washing machine"] == "dishwasher"
    assert state["shop_turn"] == 1


def test_the_place_of_a_book_decides_its_money(page: AppTest) -> None:
    give(page, WORDS)
    opened_part(page, "shop_reading")
    run(page.selectbox(key="shop_place").set_value("DE"))
    expected = weighed(WORDS, mapping=page.session_state["shop_held"].mapping)
    assert set(job_sentences(Words.for_place("DE"), expected, tables())) <= set(texts(page))


# own records


def records_page(page: AppTest, content: bytes = DEMO) -> AppTest:
    give(page, content)
    return run(page.pills(key="shop_part").set_value("records"))


def test_own_records_say_what_the_functions_themselves_find(page: AppTest) -> None:
    records_page(page)
    jobs, _ = read_jobs(open_book(DEMO, "jobs.csv"), guess_mapping(open_book(DEMO, "jobs.csv")))
    words = Words.for_place("US")
    for each in records_of(jobs, "US", tables()):
        opened_part(page, f"shop_records_{each.kind}")
        text = "\n".join(texts(page))
        assert life_text(words, each) in text
        for _, own, ends, _, _ in figure_rows(words, each):
            assert own in text
            assert not ends or f"({ends})" in text
        assert each.life.identified or words.say("records.too_few") in text


def test_a_book_with_enough_ends_has_its_lives_drawn(page: AppTest, tmp_path: Path) -> None:
    path = tmp_path / "lives.csv"
    write_book(path, shop_book(np.random.default_rng(4), 600, 2.4, 13.0))
    records_page(page, path.read_bytes())
    opened_part(page, "shop_records_refrigerator")
    book = open_book(path, "lives.csv")
    (each,) = records_of(read_jobs(book, guess_mapping(book))[0], "US", tables())
    assert each.life.identified
    chart = lives_chart(Words.for_place("US"), each)
    assert chart is not None
    assert [drawn.proto.alt for drawn in page.get("plotly_chart")] == [chart.alt]


@pytest.mark.parametrize("name", ["=1+1.csv", "@@.csv", "..csv", "\uff1dSUM.csv", f"{'x' * 120}.csv"])
def test_any_name_of_a_file_can_sign_own_figures(page: AppTest, name: str) -> None:
    give(page, DEMO, name)
    run(page.pills(key="shop_part").set_value("records"))
    run(page.button(key="shop_use_own").click())
    with Store.open() as store:
        (kept,) = store.local_figures()
    assert parsed(kept.text, "own")
    assert kept.used


ENTRIES = {
    "appliance": {"class": "refrigerator", "age": 12.0, "fault": "compressor"},
    "household": {"place": "US"},
    "repair": {"quote": 250.0, "remaining_life_factor": 1.0},
}


def at_the_door() -> list[str]:
    page = AppTest.from_string(PAGES, default_timeout=60)
    page.session_state["page_of_test"] = "door"
    for name, value in {"group": "cooling", "kind": "refrigerator", "fault": "compressor", "age": "12"}.items():
        page.query_params[name] = value
    page.query_params["quote"], page.query_params["place"] = "250", "US"
    return texts(run(page))


def test_own_figures_in_use_change_the_answer_at_the_door_and_go_again(page: AppTest) -> None:
    words = Words.for_place("US")
    shipped = words.headline(answer(ENTRIES))
    assert shipped in at_the_door()
    records_page(page)
    assert "In use: the shipped figures." in texts(page)
    run(page.button(key="shop_use_own").click())
    with Store.open() as store:
        (kept,) = store.local_figures()
    assert kept.used
    own = words.headline(answer(ENTRIES, with_local(tables(), parsed(kept.text, "own"))))
    assert own != shipped
    assert own in at_the_door()
    run(page.button(key="shop_back").click())
    assert "In use: the shipped figures." in texts(page)
    assert shipped in at_the_door()


def test_only_the_figures_that_are_chosen_are_used_and_a_second_use_takes_the_place_of_the_first(page: AppTest) -> None:
    records_page(page)
    run(page.button(key="shop_use_own").click())
    held = page.session_state["shop_held"]
    chosen = page.pills(key=f"shop_chosen_{held.id}")
    run(chosen.set_value([("refrigerator", "repair_success_probability")]))
    run(page.button(key="shop_use_own").click())
    with Store.open() as store:
        used = [each for each in store.local_figures() if each.used]
    assert len(used) == 1
    assert [(each.kind, each.quantity) for each in parsed(used[0].text, "own")] == [
        ("refrigerator", "repair_success_probability")
    ]


@pytest.mark.slow
def test_own_figures_weigh_the_job_book_too(page: AppTest) -> None:
    records_page(page)
    before = page.session_state["shop_weighed"][1].found
    run(page.button(key="shop_use_own").click())
    run(page.pills(key="shop_part").set_value("book"))
    with Store.open() as store:
        reference = with_local(tables(), parsed(store.local_figures()[0].text, "own"))
    book, words = open_book(DEMO, "jobs.csv"), Words.for_place("US")
    expected = weigh_book(book, guess_mapping(book), reference)
    assert set(job_sentences(words, expected, tables())) <= set(texts(page))
    assert list(job_sentences(words, expected, tables())) != list(job_sentences(words, before, tables()))


def test_too_few_jobs_are_said_plainly_and_cannot_be_used(page: AppTest) -> None:
    records_page(page, WORDS + b"")
    assert any("No job of the book has a date" in text for text in texts(page))
    run(page.button(key="shop_another").click())
    give(page, b"Appliance,Age,Quote,Date\nFridge,3,120,2026-03-01\n", "few.csv")
    assert any("too few jobs" in text for text in texts(page))
    assert "shop_use_own" not in [button.key for button in page.button]


# what cannot be used


def _zip() -> bytes:
    import zipfile

    file = io.BytesIO()
    with zipfile.ZipFile(file, "w") as packed:
        packed.writestr("a.txt", "no workbook")
    return file.getvalue()


@pytest.mark.parametrize(
    ("name", "content", "why"),
    [
        ("empty.csv", lambda: b"", "is empty"),
        ("one.csv", lambda: b"Quote\n12\n13\n", "has one column only"),
        ("numbers.csv", lambda: b"1,2,3\n4,5,6\n", "has no heading"),
        ("zeros.csv", lambda: b"a,b\n\x00\x01,2\n", "is not a text file"),
        ("old.xlsx", lambda: b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 500, "old or locked Excel file"),
        ("packed.xlsx", _zip, "no Excel workbook"),
        ("torn.xlsx", lambda: _zip()[:60], "damaged Excel file"),
        ("columns.csv", lambda: b"PAR1" + b"x" * 80 + b"PAR1", "save the book as .xlsx or .csv"),
        ("large.csv", lambda: b"a,b\n" * (LARGEST // 4 + 1), "is larger than 50 MB"),
    ],
)
def test_a_file_that_cannot_be_used_is_named_and_changes_nothing(
    page: AppTest, name: str, content: Callable[[], bytes], why: str
) -> None:
    give(page, content(), name)
    sentences = [text for text in texts(page) if name in text]
    assert any(why in text for text in sentences), texts(page)
    assert page.session_state["shop_held"] is None
    with Store.open() as store:
        assert store.books() == []
    give(page, WORDS)
    assert not any(name in text for text in texts(page))
    assert page.session_state["shop_weighed"] is not None


def test_a_book_without_a_row_says_so(page: AppTest) -> None:
    give(page, b"Appliance,Age,Quote\n")
    assert "No row could be weighed." in texts(page)


def test_nothing_of_a_book_is_read_as_marks(page: AppTest) -> None:
    evil = "<img src=x> [tap](http://example.org) **b**"
    give(page, f"Appliance,Age,Quote,{evil}\n{evil},3,120,{evil}\nFridge,4,99,{evil}\n".encode(), f"{evil}.csv")
    opened_part(page, "shop_reading")
    run(page.selectbox(key="shop_role_fault").set_value(evil))
    read = [*page.markdown, *page.title, *page.subheader, *page.pills, *page.error]
    shown = [str(getattr(element, "value", "")) for element in read] + [expander.label for expander in page.expander]
    assert [text for text in shown if "[tap](http" in text or "<img" in text] == []
    assert [piece.value for piece in page.get("html") if "<img" in piece.value] == []


# keeping


def test_the_open_book_stays_while_one_goes_to_another_part_or_page_and_back(page: AppTest) -> None:
    give(page, WORDS)
    before = texts(page)
    run(page.pills(key="shop_part").set_value("records"))
    page.session_state["page_of_test"] = "door"
    run(page)
    page.session_state["page_of_test"] = "shop"
    run(page)
    assert page.session_state["shop_part"] == "records"
    assert texts(run(page.pills(key="shop_part").set_value("book"))) == before


def test_the_same_file_is_kept_once_and_can_be_opened_and_deleted(page: AppTest) -> None:
    for _ in range(2):
        give(page, WORDS)
        run(page.button(key="shop_another").click())
    with Store.open() as store:
        (book,) = store.books()
    assert book.rows == 4
    opened_part(page, "shop_books")
    run(page.button(key=f"shop_open_{book.id}").click())
    assert page.session_state["shop_held"].content == WORDS
    run(page.button(key="shop_another").click())
    opened_part(page, "shop_books")
    run(page.button(key=f"shop_delete_{book.id}").click())
    with Store.open() as store:
        assert store.books() != []
    run(page.button(key=f"shop_really_{book.id}").click())
    with Store.open() as store:
        assert store.books() == []


def test_a_link_to_a_book_that_is_gone_says_so(page: AppTest) -> None:
    again = shop_page(part="book", book="AAAAAAAAAAAAAAAAAAAAAA")
    assert any("AAAAAAAAAAAAAAAAAAAAAA" in text for text in texts(again))
    assert again.session_state["shop_held"] is None
    assert page.session_state["shop_part"] == "book"


def test_where_nothing_can_be_kept_the_book_is_weighed_all_the_same(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    blocked = tmp_path / "file"
    blocked.write_text("no folder")
    monkeypatch.setenv("MENDPOINT_STORE", str(blocked / "store"))
    page = give(shop_page(), WORDS)
    assert set(job_sentences(Words.for_place("US"), weighed(WORDS), tables())) <= set(texts(page))
    assert any(str(blocked) in text for text in texts(page))
    answer_words(page, {"Spin thing": "Washing machine"})
    assert page.session_state["shop_weighed"][1].found.skipped_rows == 2


def test_a_large_book_waits_until_it_is_asked_for(page: AppTest, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("decide.show.screens.shop.held.LARGE", 100)
    give(page, WORDS)
    assert page.session_state["shop_weighed"] is None
    run(page.button(key="shop_begin_weighed").click())
    assert set(job_sentences(Words.for_place("US"), weighed(WORDS), tables())) <= set(texts(page))


def test_what_the_page_takes_the_server_takes_too() -> None:
    from decide.show.serve import SETTINGS

    config = tomllib.loads((ROOT / ".streamlit" / "config.toml").read_text("utf-8"))
    assert SETTINGS["server.maxUploadSize"] * 1024 * 1024 >= LARGEST
    assert config["server"]["maxUploadSize"] * 1024 * 1024 >= LARGEST


def test_a_book_that_was_stopped_waits_until_it_is_asked_for(page: AppTest) -> None:
    give(page, b"Appliance,Age,Quote\nFridge,3,120\n")
    held = page.session_state["shop_held"]
    page.session_state["shop_weighed"] = None
    page.session_state["shop_stopped"] = held  # what the button does that stands beside the bar
    run(page)
    assert page.session_state["shop_weighed"] is None
    run(page.button(key="shop_begin_weighed").click())
    assert page.session_state["shop_weighed"] is not None


@pytest.mark.parametrize(("part", "name", "key"), [("records", "read", "shop_read"), ("quotes", "read", "shop_read")])
def test_reading_fitting_and_bands_wait_until_they_are_asked_for_once_they_were_stopped(
    page: AppTest, part: str, name: str, key: str
) -> None:
    give(page, DEMO)
    held = page.session_state["shop_held"]
    page.session_state["shop_stopped"] = held  # what the button does that stands beside the bar
    run(page.pills(key="shop_part").set_value(part))
    assert key not in page.session_state
    run(page.button(key=f"shop_begin_{name}").click())
    assert page.session_state[key][0] == (held,)
    if part == "quotes":
        assert page.session_state["shop_bands"][1].jobs > 0
        assert page.session_state["shop_groups"][1].jobs > 0
        del page.session_state["shop_bands"]
        page.session_state["shop_asked_for"] = None  # stopped while the bands are found
        run(page)
        assert "shop_bands" not in page.session_state
        run(page.button(key="shop_begin_bands").click())
        assert page.session_state["shop_bands"][1].jobs > 0
    else:
        assert page.session_state["shop_records"][1].records


class Stopped(Exception):
    """What a tap on Stop raises where the bar moves."""


def test_each_long_work_tells_how_far_it_is_and_ends_there_once_it_is_stopped() -> None:
    book = open_book(DEMO, "jobs.csv")
    mapping = parse_mapping((ROOT / "data" / "demo" / "jobs.toml").read_text("utf-8"))
    jobs, practice = read_jobs(book, mapping)[0], usual_practice("US", tables())
    works: dict[str, Callable[[Progress], object]] = {
        "read": lambda tell: read_book(book, mapping, tell),
        "records": lambda tell: records_of(jobs, "US", tables(), progress=tell),
        "bands": lambda tell: shop_bands(jobs, "US", practice, tables(), tell),
        "groups": lambda tell: compared(jobs, "US", practice, tables(), progress=tell),
    }
    for name, work in works.items():
        told: list[float] = []

        def tell(rows: int, share: float, told: list[float] = told, name: str = name) -> None:
            told.append(share)
            if len(told) == 2 or name == "read":
                raise Stopped

        with pytest.raises(Stopped):
            work(tell)
        assert 0 <= told[-1] <= 1, name
