"""Rows out and in again: nothing is worked out by a spreadsheet, numbers stay numbers, and no half a file is left."""

import csv
import datetime
import io
import re
import resource
import tempfile
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import openpyxl
import pandas as pd
import pytest
from commands import json_of, run
from conftest import ROOT
from hypothesis import given
from hypothesis import strategies as st

from decide.errors import ReadError
from decide.load.jobs import export as job_export
from decide.load.jobs.book import open_book
from decide.load.jobs.columns import guess_mapping, write_mapping
from decide.load.jobs.export import RowWriter, neutralised

SUFFIXES = [".csv", ".xlsx", ".parquet"]

# How formulas begin in a spreadsheet, and how they are hidden: common practice, no source.
FORMULAS = [
    "=1+1", "+1+1", "-1+1", "@SUM(A1)", "\t=1+1", "\r=1+1", "  =1+1", "\u00a0=1+1", "\u3000+1", "\ufeff=1", "\u200b=1",
    "\uff1d1+1", "\uff0b1", "\uff0d1", "\uff20SUM(1)", "=cmd|' /C calc'!A0", '=HYPERLINK("http://x","y")', "\x07=1+1",
    "-", "=", "\n=1+1", "+49 30 123456", "\u202e=1", "\u2066=1", "\u00ad=1", "\x85=1", "\u180e=1", "\u2800=1",
    "\u3164=1",
]  # fmt: skip
INSIDE = ["x;=cmd|' /C calc'!A0;y", "a\n=1+1", "a\r\n+1", "a\t@SUM(A1)", "a; \n -1", ";\u00a0\uff1d1", "=a;=b", "\n=1"]
"""A new cell of its own where the list separator of a place is a semicolon, as all over Europe, or a tab."""
HARMLESS = ["Oven; 5", "Oven", "a = b", "12-15", "x@y", "'=1+1", "", " ", "5", "\u00e9t\u00e9", "1,234"]


def written(folder: Path, suffix: str, *chunks: dict[str, Any]) -> Path:
    path = folder / f"rows{suffix}"
    with RowWriter.of(path) as writer:
        for chunk in chunks:
            writer.write(chunk)
    return path


def cells_of(path: Path) -> list[list[str]]:
    with path.open(encoding="utf-8-sig", newline="") as file:
        return list(csv.reader(file))


@pytest.mark.parametrize("text", FORMULAS)
def test_what_begins_like_a_formula_gets_an_apostrophe_before_it(text: str) -> None:
    assert neutralised(text).startswith("'")


@pytest.mark.parametrize("text", FORMULAS + INSIDE)
def test_what_is_harmless_stays_so(text: str) -> None:
    assert neutralised(neutralised(text)) == neutralised(text)


@pytest.mark.parametrize("text", HARMLESS)
def test_other_text_stays_as_it_is(text: str) -> None:
    assert neutralised(text) == text


def test_in_csv_no_cell_begins_like_a_formula_and_the_rest_is_unchanged(tmp_path: Path) -> None:
    rows = cells_of(written(tmp_path, ".csv", {"=note": FORMULAS + HARMLESS}))
    assert rows[0] == ["'=note"]
    assert [row[0] for row in rows[1:]] == [neutralised(text) for text in FORMULAS + HARMLESS]


@pytest.mark.parametrize("separator", [";", "\t"])
def test_no_cell_becomes_one_where_others_part_the_cells(tmp_path: Path, separator: str) -> None:
    path = written(tmp_path, ".csv", {"n": range(len(INSIDE)), "note": INSIDE})
    for row in csv.reader(io.StringIO(path.read_text("utf-8-sig"), newline=""), delimiter=separator):
        assert not [cell for cell in row if cell.strip('"\u00a0 ')[:1] in set("=+-@\uff1d")]
    assert [row[1] for row in cells_of(path)[1:]] == [neutralised(text) for text in INSIDE]


def test_in_excel_no_cell_is_a_formula_and_every_text_reads_back(tmp_path: Path) -> None:
    texts = [*FORMULAS, *HARMLESS, "#N/A", "#REF!", "2024-01-01", "TRUE"]
    path = written(tmp_path, ".xlsx", {"=note": texts, "quote": np.arange(len(texts)) - 0.5})
    sheet = openpyxl.load_workbook(path).active
    kinds = {cell.data_type for row in sheet.iter_rows() for cell in row}
    assert kinds <= {"s", "n", "inlineStr"}
    read = [row[0].value for row in sheet.iter_rows(min_row=2)]
    unseen = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\ufeff]")
    assert [value or "" for value in read] == [unseen.sub("", text).replace("\r", "\n") for text in texts]
    assert [row[1].value for row in sheet.iter_rows(min_row=2)] == [at - 0.5 for at in range(len(texts))]


@pytest.mark.parametrize("suffix", SUFFIXES)
def test_numbers_days_and_answers_come_back_as_they_went(tmp_path: Path, suffix: str) -> None:
    numbers = np.array([-12.5, np.nan, 0.1 + 0.2, 1e-7])
    days = np.array(["2024-02-29", "NaT", "1999-12-31", "2026-01-01"], dtype="datetime64[D]")
    codes = np.array([1, 2, 3, 4], dtype=np.int16)
    chunk = {"quote": numbers, "day": days, "code": codes, "won": [True, False, True, True]}
    path = written(tmp_path, suffix, chunk, chunk)
    if suffix == ".parquet":  # which a book is not read from
        frame = pd.read_parquet(path)
        assert frame["won"].tolist() == 2 * chunk["won"]
        path = tmp_path / "rows.csv"
        frame.to_csv(path, index=False)
    [read] = open_book(path, path.name).chunks()
    assert read.lines.tolist() == list(range(2, 10))
    as_text = read.numbers["quote"] if suffix == ".xlsx" else pd.to_numeric(read.columns["quote"])
    # A sheet keeps sixteen digits.
    np.testing.assert_allclose(as_text, np.tile(numbers, 2), rtol=1e-15 if suffix == ".xlsx" else 0)
    assert list(read.columns["day"][:4]) == ["2024-02-29", "", "1999-12-31", "2026-01-01"]
    assert list(read.columns["code"][:4]) == ["1", "2", "3", "4"]
    said = {".csv": ["true", "false"], ".xlsx": ["yes", "no"], ".parquet": ["True", "False"]}
    assert list(read.columns["won"][:2]) == said[suffix]


TEXTS = st.text(st.characters(codec="utf-8"), max_size=20) | st.sampled_from(FORMULAS + INSIDE + HARMLESS)
FIGURES = st.floats(-1e300, 1e300)


@given(st.lists(st.tuples(TEXTS, FIGURES), min_size=1, max_size=30), st.sampled_from(SUFFIXES))
def test_any_text_and_number_survive_the_way_out_and_in(rows: list[tuple[str, float]], suffix: str) -> None:
    texts, figures = [text for text, _ in rows], np.array([figure for _, figure in rows])
    with tempfile.TemporaryDirectory() as folder:
        path = written(Path(folder), suffix, {"note": texts, "quote": figures, "end": ["x"] * len(rows)})
        if suffix == ".csv":
            read = [(row[0], float(row[1])) for row in cells_of(path)[1:]]
            assert [figure for _, figure in read] == figures.tolist()
            unseen = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\ufeff\ufffe\uffff]")
            bare = [text.replace("'", "") for text, _ in read]
            assert bare == [unseen.sub("", text).replace("'", "") for text in texts]
            assert not [text for text, _ in read if text != neutralised(text)]
        elif suffix == ".xlsx":
            sheet = openpyxl.load_workbook(path).active
            assert {cell.data_type for row in sheet.iter_rows() for cell in row} <= {"s", "n", "inlineStr"}
            kept = [row[1].value for row in sheet.iter_rows(min_row=2)]
            assert kept == pytest.approx(figures.tolist(), rel=1e-15, abs=0)
        else:
            frame = pd.read_parquet(path)
            assert frame["note"].tolist() == texts
            assert frame["quote"].tolist() == figures.tolist()


def test_columns_of_every_usual_holder_are_taken(tmp_path: Path) -> None:
    chunk = {
        "series": pd.Series(["=1", None]),
        "numpy": np.array(["=1", ""]),
        "words": pd.Categorical(["a", "b"]),
        "times": pd.to_datetime(["2024-01-01 10:00", None]),
        "blank": [None, None],
    }
    rows = cells_of(written(tmp_path, ".csv", chunk))
    assert rows[1] == ["'=1", "'=1", "a", "2024-01-01 10:00:00", ""]
    assert rows[2] == ["", "", "b", "", ""]


def test_what_is_beyond_a_sheet_goes_on_in_a_further_one(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(job_export, "SHEET_ROWS", 4)
    book = open_book(written(tmp_path, ".xlsx", {"a": np.arange(7), "note": ["x"] * 7}), "rows.xlsx")
    assert book.sheets == ("jobs", "jobs 2", "jobs 3")
    [last] = open_book(tmp_path / "rows.xlsx", "rows.xlsx", "jobs 3").chunks()
    assert last.numbers["a"].tolist() == [6.0]


def test_an_unknown_kind_of_file_is_refused() -> None:
    with pytest.raises(ReadError, match=r"must end in \.csv, \.xlsx, \.parquet"):
        RowWriter.of(Path("rows.ods"))


@pytest.mark.parametrize("suffix", SUFFIXES)
def test_a_writer_that_fails_leaves_the_old_file_and_no_half_one(tmp_path: Path, suffix: str) -> None:
    path = written(tmp_path, suffix, {"a": [1.0], "note": ["old"]})
    before = path.read_bytes()

    def write_and_fail() -> None:
        with RowWriter.of(path) as writer:
            writer.write({"a": [2.0], "note": ["new"]})
            raise RuntimeError

    with pytest.raises(RuntimeError):
        write_and_fail()
    assert path.read_bytes() == before
    assert [each.name for each in tmp_path.iterdir()] == [path.name]


@pytest.mark.parametrize("suffix", SUFFIXES)
def test_columns_that_change_between_chunks_are_refused(tmp_path: Path, suffix: str) -> None:
    def write() -> None:
        with RowWriter.of(tmp_path / f"rows{suffix}") as writer:
            writer.write({"a": [1.0]})
            writer.write({"b": [1.0]})

    with pytest.raises(ReadError, match="cannot hold these columns"):
        write()
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("suffix", SUFFIXES)
def test_a_folder_that_is_not_there_is_told_plainly(tmp_path: Path, suffix: str) -> None:
    with pytest.raises(ReadError, match="No such file"), RowWriter.of(tmp_path / "none" / f"rows{suffix}") as writer:
        writer.write({"a": [1.0]})


@pytest.mark.parametrize("suffix", SUFFIXES)
def test_a_full_disk_is_told_plainly(tmp_path: Path, suffix: str) -> None:
    before = resource.getrlimit(resource.RLIMIT_FSIZE)

    def write() -> None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (10_000, before[1]))
        try:
            with RowWriter.of(tmp_path / f"rows{suffix}") as writer:
                writer.write({"a": np.random.default_rng(1).random(200_000 if suffix != ".xlsx" else 20_000)})
        finally:
            resource.setrlimit(resource.RLIMIT_FSIZE, before)

    with pytest.raises(ReadError, match="File too large"):
        write()
    assert list(tmp_path.iterdir()) == []
    assert not (tmp_path / f"rows{suffix}").exists()


def test_the_bytes_of_a_csv_tell_their_encoding_to_a_spreadsheet(tmp_path: Path) -> None:
    raw = written(tmp_path, ".csv", {"Gerät": ["Kühlschrank"], "quote": [1.5]}).read_bytes()
    assert raw.startswith(b"\xef\xbb\xbf")
    assert io.StringIO(raw.decode("utf-8-sig")).readline() == '"Gerät","quote"\n'


def test_a_day_is_a_day_in_excel(tmp_path: Path) -> None:
    path = written(tmp_path, ".xlsx", {"day": np.array(["2024-02-29"], dtype="datetime64[D]"), "a": [1]})
    assert openpyxl.load_workbook(path).active["A2"].value == datetime.datetime(2024, 2, 29)


# a sheet with its types

BOOK = (
    "Date,Appliance,Age,Parts,Zip,Serial,Total,Status\n"
    "07-Sep-15,Fridge,~7,$120.50,02134,007,328.45,paid\n"
    '02/03/2024,Dishwasher,9,,90001,S2,"1,204.00",declined\n'
    "2024-05-01,Fridge,7-9,80,10001,=1+1,385 + tax,paid\n"
)


def typed_sheet(folder: Path, text: str = BOOK, place: str = "US") -> Any:
    mapping, book = folder / "map.toml", folder / "book.csv"
    book.write_text(text)
    guess = guess_mapping(open_book(book, "book.csv"), place)
    mapping.write_text(write_mapping(replace(guess, date_order="month first" if place == "US" else "day first")))
    given = ["jobs", str(book), "--mapping", str(mapping), "--out", str(folder / "rows.xlsx")]
    told = run(*given)
    assert told.exit_code == 0, told.output
    return openpyxl.load_workbook(folder / "rows.xlsx")["jobs"]


def test_a_sheet_has_numbers_days_money_and_shares_as_such(tmp_path: Path) -> None:
    sheet = typed_sheet(tmp_path)
    heads = [cell.value for cell in sheet[1]]
    first, second, third = ({head: cell for head, cell in zip(heads, sheet[at], strict=True)} for at in (2, 3, 4))
    assert [each["Date"].value for each in (first, second)] == [
        datetime.datetime(2015, 9, 7), datetime.datetime(2024, 2, 3)
    ]  # fmt: skip
    assert first["Date"].number_format == "yyyy-mm-dd"
    assert (first["Total"].value, second["Total"].value) == (328.45, 1204.0)
    assert (first["Parts"].value, second["Parts"].value) == (120.5, None)
    assert first["Total"].number_format == '"$"#,##0.00'
    assert third["Total"].value == "385 + tax"  # no number alone, so it stays as it came
    assert (first["Zip"].value, first["Serial"].value) == ("02134", "007")
    assert (third["Serial"].value, third["Serial"].data_type) in (("=1+1", "s"), ("=1+1", "inlineStr"))
    read = [(each["Read as: appliance"].value, each["Read as: age"].value) for each in (first, third)]
    assert read == [("Refrigerator-freezer", 7), ("Refrigerator-freezer", 8)]
    assert first["Age"].value == "~7"
    quote = third["Read as: quote"]
    assert (quote.value, quote.number_format) == (pytest.approx(385 * 1.07), '"$"#,##0.00')
    limit, share = first["Highest quote worth paying"], first["Limit over price of new"]
    assert isinstance(limit.value, float)
    assert (limit.number_format, share.number_format) == ('"$"#,##0.00', "0.0%")
    assert share.value == pytest.approx(limit.value / first["Price of new"].value, abs=1e-4)


def test_a_sheet_has_a_bold_heading_that_stays_a_filter_and_widths(tmp_path: Path) -> None:
    sheet = typed_sheet(tmp_path)
    assert all(cell.font.bold for cell in sheet[1])
    assert sheet.freeze_panes == "A2"
    assert sheet.auto_filter.ref == sheet.dimensions
    assert 9 <= sheet.column_dimensions["A"].width <= 41


def test_amounts_and_days_of_another_place_are_read_by_the_habit_of_the_book(tmp_path: Path) -> None:
    text = 'Datum,Gerät,Alter,Angebot\n03.02.2024,Spülmaschine,9,"1.204,50 €"\n04.02.2024,Spülmaschine,9,"99,50 €"\n'
    sheet = typed_sheet(tmp_path, text, "DE")
    assert (sheet["D2"].value, sheet["D2"].number_format) == (1204.5, '#,##0.00 "€"')
    assert sheet["A2"].value == datetime.datetime(2024, 2, 3)


@pytest.mark.parametrize(("language", "named"), [("en", "Summary"), ("es", "Resumen")])
def test_the_first_sheet_sums_the_book_up(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, language: str, named: str
) -> None:
    monkeypatch.setenv("MENDPOINT_LANGUAGE", language)
    demo, path = ROOT / "data" / "demo" / "jobs.csv", tmp_path / "rows.xlsx"
    given = ("jobs", demo, "--mapping", demo.with_suffix(".toml"))
    assert run(*given, "--out", path).exit_code == 0
    told, book = json_of(*given), openpyxl.load_workbook(path)
    whole = next(line for line in told["summary"] if line["class"] is None)
    assert book.sheetnames == [named, "jobs"]
    assert {cell.data_type for row in book[named] for cell in row} <= {"s", "n", "inlineStr"}
    lines = [[cell.value for cell in row] for row in book[named]]
    assert [line[1] for line in lines[1:5]] == [
        told["rows"], whole["jobs"], sum(told["coverage"]["folded"].values()), sum(told["skipped_rows"].values())
    ]  # fmt: skip
    assert told["rows"] == sum(line[1] for line in lines[2:5]) == 393
    heads = [at for at, line in enumerate(lines) if book[named].cell(at + 1, 1).font.bold]
    why, verdicts, sure, money = ([line[1] for line in lines[at + 1 :]] for at in heads)
    assert why[4:][: len(told["skipped_rows"])] == list(told["skipped_rows"].values())
    assert verdicts[:5] == [whole[each] for each in ("repair", "replace", "leave", "no_quote", "refused")]
    assert (sum(verdicts[:5]), sum(sure[:5])) == (whole["jobs"], whole["quoted"])
    states = ("repair", "leaning_repair", "close", "leaning_other", "other")
    assert sure[:5] == [told["states"].get(each, 0) for each in states]
    figures = [whole[each] for each in ("above", "above_share", "paid_above_cost", "value_lost_by_declining")]
    assert money[:4] == pytest.approx(figures)
    assert book[named].cell(heads[3] + 4, 2).number_format == '"$"#,##0.00'
    assert any("2026" in str(line[0]) for line in lines[-1:])  # of when the money is
    assert len(pd.read_excel(path, sheet_name="jobs")) == whole["jobs"]
    [*_] = chunks = list(open_book(path, path.name).chunks())  # and no reader takes the summary for the book
    assert sum(len(chunk.lines) for chunk in chunks) == whole["jobs"]


def test_what_is_held_back_of_a_book_is_no_sum_and_no_word_of_it_a_formula(tmp_path: Path) -> None:
    rows = "".join(f"2024-05-{day:02d},=HYPERLINK(1),9,80,10001,S{day},385,paid\n" for day in range(1, 9))
    typed_sheet(tmp_path, BOOK + rows)
    sheet = openpyxl.load_workbook(tmp_path / "rows.xlsx")["Summary"]
    assert {cell.data_type for row in sheet for cell in row} <= {"s", "n", "inlineStr"}
    lines = {row[0].value: row[1].value for row in sheet}
    assert (lines["Read"], lines["Answered"], lines["We do not know this word. Say what it means."]) == (11, 3, 8)
    assert "Overpaid" not in lines
    assert any("=HYPERLINK(1)" in line for line in lines)


@pytest.mark.slow
def test_a_hundred_thousand_rows_take_half_a_minute_of_work_and_no_more_memory(tmp_path: Path) -> None:
    import time

    rows = 100_000
    chunk = {f"text {at}": ["some text"] * 10_000 for at in range(14)}
    chunk |= {f"amount {at}": np.arange(10_000) / 7 for at in range(12)}
    before, begun = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss, time.process_time()
    written(tmp_path, ".xlsx", *([chunk] * (rows // 10_000)))
    assert time.process_time() - begun < 32.4  # 185,000 rows in a minute
    assert resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before < 200_000


def test_what_is_broken_off_leaves_no_file(tmp_path: Path) -> None:
    writer = RowWriter.of(tmp_path / "rows.xlsx")
    writer.write({"a": [1.0]})
    writer.__exit__(KeyboardInterrupt, KeyboardInterrupt(), None)
    assert list(tmp_path.iterdir()) == []
