"""From cells to jobs: no number read otherwise than it was meant, and every row that cannot be read skipped."""

import datetime
import math
import unicodedata
from decimal import Decimal
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from babel.dates import format_date
from babel.numbers import format_decimal
from hypothesis import given, settings
from hypothesis import strategies as st
from whole_books import read_jobs

from decide.errors import CaseError
from decide.load.jobs.book import open_book
from decide.load.jobs.chunks import RejectedRow, series
from decide.load.jobs.columns import ColumnMapping, guess_mapping, read_mapping
from decide.load.jobs.numbers import HABITS, numbers_of
from decide.load.jobs.rows import chunk_read
from decide.load.tables.dates import readings
from decide.load.tables.typed import typed_number
from decide.load.tables.vocabulary import plain, vocabulary
from decide.shop.jobs import DECISIONS, OUTCOMES, Jobs, concatenate
from decide.show.text.jobs import open_questions, skipped_line
from decide.show.text.phrases import Phrases

DEMO = Path(__file__).resolve().parents[1] / "data" / "demo"
HEAD = "Date;Appliance;Age;Year made;Quote;Parts;Fee;Fee credited;Customer did;Later;Serial no"
ROLES = {
    "date": "Date", "class": "Appliance", "age": "Age", "year": "Year made", "quote": "Quote", "parts": "Parts",
    "fee": "Fee", "fee_credited": "Fee credited", "decision": "Customer did", "outcome": "Later", "unit": "Serial no",
}  # fmt: skip
GOOD = {"Date": "2024-07-01", "Appliance": "Wall oven", "Age": "5", "Quote": "185.50"}


def read(*rows: dict[str, str], order: str | None = None, mark: str | None = None) -> tuple[Jobs, list[RejectedRow]]:
    names = HEAD.split(";")
    body = "\n".join(";".join({**GOOD, **row}.get(name, "") for name in names) for row in rows)
    mapping = ColumnMapping(columns=ROLES, date_order=order, decimal_mark=mark)
    return read_jobs(open_book(f"{HEAD}\n{body}\n".encode(), "jobs.csv"), mapping)


# What shops write in their cells: common practice, no source. The codes are ours.
SKIPPED = [
    ({"Appliance": ""}, "Appliance", "missing"),
    ({"Appliance": "Toaster"}, "Appliance", "unknown_word"),
    ({"Appliance": "Stove"}, "Appliance", "two_meanings"),
    ({"Quote": ""}, "Quote", "missing"),
    ({"Quote": "n/a"}, "Quote", "missing"),
    ({"Quote": "two hundred"}, "Quote", "no_number"),
    ({"Quote": "50 %"}, "Quote", "no_number"),
    ({"Quote": "1e3"}, "Quote", "no_number"),
    ({"Quote": "100-150"}, "Quote", "no_number"),
    ({"Quote": "1.234"}, "Quote", "two_readings"),
    ({"Quote": "1,234"}, "Quote", "two_readings"),
    ({"Quote": "$ 1,234"}, "Quote", "two_readings"),
    ({"Quote": "1234.567"}, "Quote", "too_fine"),
    ({"Quote": "1000000"}, "Quote", "range"),
    ({"Parts": "a few"}, "Parts", "no_number"),
    ({"Age": ""}, "Age", "missing"),
    ({"Age": "eight or so"}, "Age", "no_number"),
    ({"Age": "61"}, "Age", "range"),
    ({"Age": "-1"}, "Age", "range"),
    ({"Age": "2014", "Date": ""}, "Age", "a_year"),
    ({"Age": "2025"}, "Age", "range"),
    ({"Age": "1423"}, "Age", "range"),
    ({"Age": "", "Year made": "early"}, "Year made", "no_year"),
    ({"Age": "", "Year made": "2031"}, "Year made", "made_later"),
    ({"Age": "", "Year made": "2014", "Date": ""}, "Date", "no_day"),
    ({"Age": "5", "Year made": "2014"}, "Year made", "age_and_year"),
    ({"Age": "15", "Year made": "2014"}, "Year made", "age_and_year"),
    ({"Date": "2024-02-30"}, "Date", "no_date"),
    ({"Date": "13/13/2024"}, "Date", "no_date"),
    ({"Date": "01/02/95"}, "Date", "no_date"),
    ({"Date": "45123"}, "Date", "no_date"),
    ({"Date": "03/04/2024"}, "Date", "date_order"),
    ({"Customer did": "thinking"}, "Customer did", "unknown_word"),
    ({"Fee": "89", "Fee credited": "50"}, "Fee credited", "credit"),
    ({"Fee": "89", "Fee credited": "half"}, "Fee credited", "no_number"),
    ({"Serial no": "x" * 65}, "Serial no", "too_long"),
]


@pytest.mark.parametrize(("row", "column", "reason"), SKIPPED, ids=[f"{r} {c}" for _, c, r in SKIPPED])
def test_a_row_that_cannot_be_read_is_set_apart_with_its_reason_and_the_rest_go_on(
    row: dict[str, str], column: str, reason: str
) -> None:
    jobs, skipped = read({}, row, {})
    assert jobs.row.tolist() == [2, 4]
    assert [(each.row, each.column, each.reason) for each in skipped] == [(3, column, reason)]
    text = skipped_line(Phrases.of(), skipped[0])
    assert text.startswith(f"Line 3, {column}: ")


def test_blank_rows_are_passed_over() -> None:
    jobs, skipped = read({}, dict.fromkeys(GOOD, " "), {})
    assert (jobs.row.tolist(), skipped) == ([2, 4], [])


@pytest.mark.parametrize(
    ("written", "mark", "meant"),
    [
        ("185,50", None, 185.5), ("185,50", ".", 185.5), ("1.234,50", None, 1234.5), ("1,234.50", ",", 1234.5),
        ("1,234", ".", 1234.0), ("1.234", ",", 1234.0), ("$1,234.50", None, 1234.5), ("185 €", None, 185.0),
        ("1 234,50 €", None, 1234.5), ("1'234.50", None, 1234.5), ("185,-", None, 185.0), ("EUR 7,5", None, 7.5),
        ("12,345,678.90", ".", math.nan),
    ],
)  # fmt: skip
def test_money_is_read_as_it_is_on_the_screen(written: str, mark: str | None, meant: float) -> None:
    jobs, skipped = read({"Quote": written}, mark=mark)
    assert jobs.quote.tolist() == ([] if math.isnan(meant) else [meant])
    assert len(jobs) + len(skipped) == 1


TYPED = st.text("0123456789.,' -$€+%", max_size=12) | st.decimals(0, 99_999, places=2).map(str) | st.text(max_size=8)


@pytest.mark.slow
@given(st.lists(TYPED, min_size=1, max_size=60), st.sampled_from([None, ".", ","]), st.sampled_from(["money", "year"]))
@settings(max_examples=3 * settings.default.max_examples)
def test_a_column_reads_each_cell_as_typed_number_does(cells: list[str], mark: str | None, unit: str) -> None:
    values, refused = numbers_of(series(cells), None, unit, mark)
    for at, cell in enumerate(cells):
        assert np.isnan(values[at]) or at not in refused
        if "%" in unicodedata.normalize("NFKC", cell):  # no column of amounts holds shares
            assert np.isnan(values[at])
            continue
        if unit == "money" and plain(cell) in vocabulary()["free"]:  # "n/c", which is no number where one is typed
            assert values[at] == 0
            continue
        try:
            alone = typed_number(cell.strip(), "cell", HABITS.get(mark or ""), unit)
        except CaseError:
            assert np.isnan(values[at]) or unit == "year"
        else:
            assert values[at] == alone


# Ten thousand rows whose numbers are known: what was generated is the oracle, as a decimal.

FORMS = {
    "en_US": "MM/dd/yyyy", "de_DE": "dd.MM.yyyy", "fr_FR": "dd/MM/yyyy", "es_ES": "d/M/yyyy", "de_CH": "d. MMMM y",
}  # fmt: skip
LOCALES = {"en_US": ".", "de_DE": ",", "fr_FR": ",", "es_ES": ",", "de_CH": "."}


def generated(locale: str, rows: int) -> tuple[str, list[Decimal], list[datetime.date], list[bool]]:
    """A book in a country's habit: its cells, the amounts and days they stand for, and which rows were spoilt."""
    draw = np.random.default_rng(rows)
    amounts = [Decimal(int(cents)).scaleb(-2) for cents in draw.lognormal(9.6, 1.3, rows).clip(1, 9_000_000)]
    days = [datetime.date(2015, 1, 1) + datetime.timedelta(days=int(day)) for day in draw.integers(0, 4_000, rows)]
    patterns = ["#,##0.00", "0.00", "#,##0.##", "0.##", "\u00a4#,##0.00", "#,##0.00 \u00a4"]
    spoils = ["?", "", "about 200", "12-15", "1.2.3", "1,2,3", "=1+1", "1e5", "\u0663\u0664", "12 34", "--"]
    spoilt = (draw.random(rows) < 0.1).tolist()
    lines = ["Date\tAppliance\tAge\tQuote\tParts"]
    for at in range(rows):
        written = format_decimal(amounts[at], format=str(draw.choice(patterns)), locale=locale)
        written = written.replace("\u00a4", "€")
        quote = str(draw.choice(spoils)) if spoilt[at] else written
        lines.append(f"{format_date(days[at], FORMS[locale], locale)}\tWall oven\t5\t{quote}\t{written}")
    return "\n".join(lines), amounts, days, spoilt


@pytest.mark.parametrize("locale", LOCALES)
def test_of_ten_thousand_rows_no_amount_and_no_day_is_read_otherwise_than_it_was_meant(locale: str) -> None:
    text, amounts, days, spoilt = generated(locale, 2_000)
    book = open_book(text.encode(), "jobs.csv")
    mapping = guess_mapping(book, "US" if locale == "en_US" else "DE")
    assert mapping.decimal_mark == LOCALES[locale]
    jobs, skipped = read_jobs(book, mapping)
    for line, day, quote, parts in zip(jobs.row, jobs.date.tolist(), jobs.quote, jobs.parts, strict=True):
        assert (day, quote, parts) == (days[line - 2], *[float(amounts[line - 2])] * 2)
    lost = {each.row - 2 for each in skipped}
    assert lost | {int(line) - 2 for line in jobs.row} == set(range(2_000))
    assert lost == {at for at in range(2_000) if spoilt[at]}


CELL = st.text(max_size=12) | st.sampled_from(
    ["Wall oven", "5", "185.50", "2024-07-01", "", "=1+1", "1,234", "\x07", "NaN"]
)


@pytest.mark.slow
@given(st.lists(st.fixed_dictionaries(dict.fromkeys(HEAD.split(";"), CELL)), min_size=1, max_size=40))
def test_any_cells_give_jobs_within_their_bounds_or_rows_set_apart(rows: list[dict[str, str]]) -> None:
    """No fault but those named, and each row is read, skipped or blank."""
    frame = pd.DataFrame(rows, dtype=str)
    chunk = next(iter(open_book(b"a;b\n1;2\n", "jobs.csv").chunks()))
    chunk = type(chunk)(np.arange(2, 2 + len(rows)), {name: series(list(frame[name])) for name in frame})
    jobs, skipped = chunk_read(chunk, ColumnMapping(columns=ROLES))[:2]
    blank = sum(not any(cell.strip() for cell in row.values()) for row in rows)
    assert len(jobs) + len(skipped) == len(rows) - blank
    assert ((jobs.quote >= 0) & (jobs.quote <= 100_000) & (jobs.age >= 0) & (jobs.age <= 60)).all()
    assert all(skipped_line(Phrases.of(), each) for each in skipped)


# Ages


def test_an_age_from_the_year_of_manufacture_takes_the_middle_of_that_year() -> None:
    jobs, _ = read({"Age": "", "Year made": "2014", "Date": "2024-07-01"})
    assert jobs.age[0] == pytest.approx(10.0, abs=0.01)


@pytest.mark.parametrize("made", ["2019", "2018", "2020", "2019-03-01", "03/2019"])
def test_an_age_that_the_year_bears_out_is_kept_as_it_stands(made: str) -> None:
    jobs, skipped = read({"Age": "5", "Year made": made})
    assert (jobs.age.tolist(), skipped) == ([5.0], [])


def test_a_unit_made_in_the_year_of_the_job_is_new() -> None:
    assert read({"Age": "", "Year made": "2024", "Date": "2024-02-01"})[0].age.tolist() == [0.0]


@pytest.mark.parametrize("age", ["8 years", "8 yrs.", "8y", "8 ans", "8 Jahre", "8 años", "8,0", "8.0"])
def test_an_age_may_say_that_it_is_in_years(age: str) -> None:
    assert read({"Age": age})[0].age.tolist() == [8.0]


# Days

# Names of months as Babel's data have them; the forms are common practice, no source.
DAYS = [
    "2024-03-05", "2024/3/5", "20240305", "5 March 2024", "March 5, 2024", "Mar 5 2024", "5. März 2024",
    "5 mars 2024", "5 de marzo de 2024", "5th March 2024", "5. 3. 2024", "05.03.24", "2024-03-05T10:20:00Z",
    "5/3/2024 10:20", "5/3/2024, 10:20", "5/3/2024T10:20",
]  # fmt: skip


@pytest.mark.parametrize("written", DAYS)
def test_a_day_is_read_in_every_usual_form(written: str) -> None:
    jobs, skipped = read({"Date": written}, order="day first")
    assert (jobs.date.tolist(), skipped) == ([datetime.date(2024, 3, 5)], [])


@given(st.dates(datetime.date(1950, 1, 1), datetime.date(2099, 12, 31)))
def test_a_day_written_in_either_order_is_one_of_its_two_readings(day: datetime.date) -> None:
    number = day.toordinal() - datetime.date(1970, 1, 1).toordinal()
    assert readings(day.strftime("%d.%m.%Y"))[0] == number
    assert readings(day.strftime("%m/%d/%Y"))[1] == number


def test_an_order_that_is_told_is_never_turned_round() -> None:
    jobs, skipped = read({"Date": "12/25/2024"}, {"Date": "25/12/2024"}, order="day first")
    assert jobs.date.tolist() == [datetime.date(2024, 12, 25)]
    assert [each.reason for each in skipped] == ["no_date"]


# Words


@pytest.mark.parametrize(
    ("word", "decision"),
    [("Repariert", "repaired"), ("achat neuf", "replaced"), ("RECHAZADO", "declined"), ("", "open")],
)
def test_what_the_customer_did_is_read_in_several_languages(word: str, decision: str) -> None:
    assert read({"Customer did": word})[0].decision.tolist() == [DECISIONS.index(decision)]


def test_what_became_of_it_is_unknown_where_its_words_are() -> None:
    jobs, _ = read({"Later": "who knows"}, {"Later": "Called-back"}, {"Later": ""})
    assert [OUTCOMES[code] for code in jobs.outcome] == ["unknown", "called back", "unknown"]


@pytest.mark.parametrize(
    ("credited", "share"),
    [("yes", 1.0), ("Nein", 0.0), ("50 %", 0.5), ("0.5", 0.5), ("1", 1.0), ("89", 1.0), ("", None)],
)
def test_how_much_of_the_fee_came_off_is_a_share(credited: str, share: float | None) -> None:
    [read_share] = read({"Fee": "89", "Fee credited": credited})[0].fee_credited.tolist()
    assert (None if math.isnan(read_share) else read_share) == share


def test_a_fault_that_the_class_cannot_have_is_other() -> None:
    book = open_book(b"Appliance,Age,Quote,Fault\nWall oven,5,100,Magnetron\nMicrowave,5,100,Magnetron\n", "jobs.csv")
    jobs, _ = read_jobs(book, guess_mapping(book))
    assert [jobs.faults[code] for code in jobs.fault] == ["other", "magnetron"]


# The whole


def test_chunks_put_together_are_the_book() -> None:
    book, mapping = open_book(DEMO / "jobs.csv", "jobs.csv"), read_mapping(DEMO / "jobs.toml")
    whole, _ = read_jobs(book, mapping)
    parts = concatenate([chunk_read(chunk, mapping)[0] for chunk in book.chunks(37)])
    for name in ("row", "date", "kind", "age", "quote", "parts", "decision", "outcome", "unit", "fault"):
        np.testing.assert_array_equal(getattr(parts, name), getattr(whole, name))


def test_a_number_that_a_sheet_keeps_has_one_reading() -> None:
    chunk = next(
        iter(open_book(f"{HEAD}\n;Wall oven;5;;1;;;;;;\n;Wall oven;5;;2;;;;;;\n".encode(), "jobs.csv").chunks())
    )
    chunk = type(chunk)(chunk.lines, chunk.columns, {"Quote": np.array([1.234567, np.nan])})
    assert chunk_read(chunk, ColumnMapping(columns=ROLES))[0].quote.tolist() == [1.23, 2.0]


def test_a_book_without_rows_has_no_jobs() -> None:
    jobs, skipped = read_jobs(open_book(f"{HEAD}\n".encode(), "jobs.csv"), ColumnMapping(columns=ROLES))
    assert (len(jobs), skipped) == (0, [])


def test_everything_that_is_asked_has_a_sentence() -> None:
    book = open_book(b"Date;Estimate;Total;Appliance;Status\n03/04/2026;1.234;1.234;Dryer;fine\n", "jobs.csv")
    asked = " ".join(open_questions(Phrases.of(), guess_mapping(book)))
    for part in ("Quote", "age, or the year", "day or the month", "\u201cQuote\u201d: Estimate; Total", "Dryer"):
        assert part in asked
    assert all(Phrases.of().say(f"role.{role}") for role in ROLES)
