"""A job book from outside: every habit of files is read, and what is damaged or packed to do harm is refused."""

import io
import zipfile
from pathlib import Path

import numpy as np
import openpyxl
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from decide.errors import MendpointError, ReadError
from decide.load.jobs import book as job_book
from decide.load.jobs.book import JobBook, open_book
from decide.load.jobs.columns import guess_mapping
from decide.load.jobs.rows import chunk_read

DEMO = Path(__file__).resolve().parents[1] / "data" / "demo" / "jobs.csv"
ROWS = [["Kühlschrank", "12", "185,50"], ["Lave-linge d'été", "7", "92,00"], ["Horno", "", "70,10"]]


def cells(book: JobBook, size: int = 50_000) -> list[list[str]]:
    chunks = list(book.chunks(size))
    return [list(row) for chunk in chunks for row in zip(*chunk.columns.values(), strict=True)]


def lines(book: JobBook) -> list[int]:
    return [line for chunk in book.chunks() for line in chunk.lines.tolist()]


def workbook(*sheets: tuple[str, list[list[object]]]) -> bytes:
    book = openpyxl.Workbook()
    book.remove(book.active)
    for title, rows in sheets:
        sheet = book.create_sheet(title)
        for row in rows:
            sheet.append(row)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "cp1252", "utf-16"])
@pytest.mark.parametrize("separator", [";", "\t", "|"])
def test_every_separator_encoding_and_line_end_gives_the_same_cells(separator: str, encoding: str, end: str) -> None:
    text = end.join(separator.join(row) for row in [["Gerät", "Alter", "Preis"], *ROWS]) + end
    book = open_book(text.encode(encoding), "jobs.csv")
    assert book.header == ("Gerät", "Alter", "Preis")
    assert cells(book) == ROWS
    assert lines(book) == [2, 3, 4]


def test_commas_inside_quotes_do_not_cut() -> None:
    book = open_book(b'Kind,Note,Quote\nFridge,"said ""no"", then yes",185\nOven,"two\nlines",90\n', "jobs.csv")
    assert cells(book) == [["Fridge", 'said "no", then yes', "185"], ["Oven", "two\nlines", "90"]]
    assert lines(book) == [2, 3]


def test_titles_and_blank_rows_above_the_heading_are_passed_over_and_counted() -> None:
    book = open_book(b"Repairs 2026;;\n\n;;\nKind;Age;Quote\nFridge;12;185\n\nOven;3;90\n", "jobs.csv")
    assert book.header == ("Kind", "Age", "Quote")
    assert [row for row in cells(book) if any(row)] == [["Fridge", "12", "185"], ["Oven", "3", "90"]]
    assert lines(book) == [5, 6, 7]


def test_a_short_row_is_filled_with_blanks_and_one_too_long_is_set_apart() -> None:
    book = open_book(b"Kind;Age;Quote\nFridge;12\nOven;3;90;;\nRange;4;80;extra\nWasher;5;70\n", "jobs.csv")
    [chunk] = book.chunks()
    assert cells(book) == [["Fridge", "12", ""], ["Oven", "3", "90"], ["Washer", "5", "70"]]
    assert chunk.lines.tolist() == [2, 3, 5]
    assert [(each.row, each.reason, each.text) for each in chunk.skipped] == [(4, "too_many_cells", "Range;4;80;extra")]


def test_columns_without_a_name_or_with_the_same_one_get_names_of_their_own() -> None:
    book = open_book(b"Price,,Price,Kind\n1,2,3,Oven\n", "jobs.csv")
    assert book.header == ("Price", "column 2", "Price (2)", "Kind")


@given(st.integers(1, 40), st.lists(st.integers(0, 4), max_size=60))
def test_cutting_into_chunks_of_any_size_changes_no_row(size: int, widths: list[int]) -> None:
    rows = "\n".join(";".join(f"c{at}{cell}" for cell in range(width)) for at, width in enumerate(widths))
    book = open_book(f"Kind;Age;Quote\n{rows}\n".encode(), "jobs.csv")
    chunks = list(book.chunks(size))
    assert all(len(chunk) <= size for chunk in chunks)
    assert cells(book, size) == cells(book)
    found = [line for chunk in chunks for line in [*chunk.lines.tolist(), *(each.row for each in chunk.skipped)]]
    assert sorted(found) == list(range(2, 2 + max(1, len(widths))))


def test_the_share_done_rises_to_one() -> None:
    shares = [chunk.share_done for chunk in open_book(DEMO, "jobs.csv").chunks(100)]
    assert shares == sorted(shares)
    assert shares[-1] == 1.0


# Excel


def test_a_sheet_is_chosen_by_its_name_and_its_dates_and_numbers_arrive_as_such() -> None:
    day = pd.Timestamp("2026-03-01").to_pydatetime()
    rows = [["Date", "Kind", "Quote"], [day, "Oven", 198.4125], [day, "Fridge", "1,234"], [None, None, None], [1]]
    raw = workbook(("Notes", [["nothing", "here"]]), ("Jobs", rows))
    book = open_book(raw, "jobs.xlsx", "Jobs")
    assert (book.sheets, book.sheet) == (("Notes", "Jobs"), "Jobs")
    [chunk] = book.chunks()
    assert cells(book)[:2] == [["2026-03-01", "Oven", "198.4125"], ["2026-03-01", "Fridge", "1,234"]]
    assert chunk.lines.tolist() == [2, 3, 5]
    assert np.array_equal(chunk.numbers["Quote"], [198.4125, np.nan, np.nan], equal_nan=True)


@pytest.mark.parametrize("title", ["..", "..\u2215..\u2215etc\u2215passwd", "=cmd", "\u00e9t\u00e9 <b>", "a" * 31])
def test_a_sheet_of_any_name_is_only_a_name(title: str) -> None:
    raw = workbook((title, [["Kind", "Quote"], ["Oven", 90]]))
    assert cells(open_book(raw, "jobs.xlsx", title)) == [["Oven", "90"]]
    with pytest.raises(ReadError, match="has no sheet"):
        open_book(raw, "jobs.xlsx", "../../etc/passwd")


def repacked(raw: bytes, name: str, content: bytes) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(raw)) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for part in old.namelist():
            new.writestr(part, content if part == name else old.read(part))
    return out.getvalue()


def test_a_packed_bomb_is_refused_before_it_is_unpacked(monkeypatch: pytest.MonkeyPatch) -> None:
    raw = workbook(("Jobs", [["Kind", "Quote"], ["Oven", 90]]))
    bomb = repacked(raw, "xl/worksheets/sheet1.xml", b" " * 50_000_000)
    assert len(bomb) < 100_000
    opened: list[str] = []
    monkeypatch.setattr(zipfile.ZipFile, "open", lambda *_, **__: opened.append("unpacked"))
    with pytest.raises(ReadError, match="packed more densely"):
        open_book(bomb, "jobs.xlsx")
    assert not opened


def test_what_comes_to_too_much_when_unpacked_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    raw = workbook(("Jobs", [["Kind", "Quote"], ["Oven", 90]]))
    monkeypatch.setattr("decide.load.jobs.chunks.LARGEST_UNPACKED", 1_000)
    with pytest.raises(ReadError, match="when unpacked"):
        open_book(raw, "jobs.xlsx")


def test_a_row_that_claims_to_be_the_last_of_all_does_not_hang_the_reader() -> None:
    raw = workbook(("Jobs", [["Kind", "Quote"], ["Oven", 90]]))
    with zipfile.ZipFile(io.BytesIO(raw)) as packed:
        sheet = packed.read("xl/worksheets/sheet1.xml")
    far = repacked(raw, "xl/worksheets/sheet1.xml", sheet.replace(b'<row r="2"', b'<row r="99999999999"'))
    assert far != raw
    assert cells(open_book(far, "jobs.xlsx")) == []


def test_entities_that_grow_are_never_followed() -> None:
    raw = workbook(("Jobs", [["Kind", "Quote"], ["Oven", 90]]))
    laughs = b'<!DOCTYPE x [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;">]><sst><si><t>&b;</t></si></sst>'
    with pytest.raises(ReadError):
        list(open_book(repacked(raw, "xl/workbook.xml", laughs), "jobs.xlsx").chunks())


# What is refused

REFUSED = [
    (b"", "is empty"),
    (b"  \n \n", "is empty"),
    (b"Kind\nOven\n", "one column only"),
    (b"1,2,3\n4,5,6\n", "no heading"),
    (b"Kind,Quote\nOven\x00,90\n", "not a text file"),
    (b"Kind,Quote\nOven\x81,90\n", "not text in"),
    (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1rest", "old or locked Excel"),
    (b"PK\x03\x04rest", "damaged Excel"),
    (b"PAR1rest", "save the book as .xlsx"),
    (b"a,b," * 300 + b"c\n1,2\n", "has more than 400 columns"),
    (b"x" * 300 + b",Quote\nOven,90\n", "a heading of 300 characters"),
    (b"x" * 2_000_000 + b",Quote\nOven,90\n", "no row that ends"),
]


@pytest.mark.parametrize(("raw", "why"), REFUSED, ids=[why for _, why in REFUSED])
def test_what_is_no_book_is_refused_with_its_reason(raw: bytes, why: str) -> None:
    with pytest.raises(ReadError, match=why):
        list(open_book(raw, "jobs.csv").chunks())


def test_a_packed_file_that_is_no_workbook_is_refused() -> None:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as packed:
        packed.writestr("../../evil.txt", "x")
    with pytest.raises(ReadError, match="no Excel workbook"):
        open_book(out.getvalue(), "jobs.xlsx")


def test_a_quoted_text_without_an_end_is_refused_with_the_line_before_it() -> None:
    raw = b"Kind,Quote\nOven,90\n" + b'"Fridge,' + b"x" * 9_000_000
    with pytest.raises(ReadError, match="quoted text has no end"):
        list(open_book(raw, "jobs.csv").chunks())


def test_a_file_over_the_limit_is_refused_before_it_is_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "jobs.csv"
    with path.open("wb") as file:
        file.truncate(job_book.LARGEST_FILE + 1)  # a hole, which takes no room
    monkeypatch.setattr(Path, "open", lambda *_: pytest.fail("was opened"))
    with pytest.raises(ReadError, match="larger than 10,000 MB"):
        open_book(path, "jobs.csv")


def test_an_upload_over_the_limit_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(job_book, "LARGEST_UPLOAD", 1_000_000)
    with pytest.raises(ReadError, match="larger than 1 MB"):
        open_book(b"Kind,Quote\n" + b"Oven,90\n" * 200_000, "jobs.csv")


def test_a_file_that_is_not_there_is_told_plainly(tmp_path: Path) -> None:
    with pytest.raises(ReadError, match="No such file"):
        open_book(tmp_path / "none.csv", "none.csv")


# Files of every kind, damaged at random


def damaged(raw: bytes, draw: np.random.Generator) -> bytes:
    """A file with bytes changed, cut out or doubled."""
    content = bytearray(raw)
    for _ in range(int(draw.integers(1, 12))):
        at = int(draw.integers(0, len(content)))
        match draw.integers(0, 4):
            case 0:
                content[at] = int(draw.integers(0, 256))
            case 1:
                del content[at : at + int(draw.integers(1, 40))]
            case 2:
                content[at:at] = bytes(draw.integers(0, 256, int(draw.integers(1, 20)), dtype=np.uint8))
            case 3:
                content[at:at] = draw.choice([b'"', b",", b";", b"\n", b"\r", b"=", b"\xff\xfe", b"1,234", b"\t"])
        content = content or bytearray(b" ")
    return bytes(content)


def whole_books() -> dict[str, bytes]:
    text = DEMO.read_text("utf-8").splitlines(keepends=True)[:25]
    frame = pd.read_csv(io.StringIO("".join(text)))
    rows = [list(frame.columns), *frame.astype(object).where(frame.notna(), None).to_numpy().tolist()]
    return {
        "csv": "".join(text).encode(),
        "utf-16": "".join(text).encode("utf-16"),
        "xlsx": workbook(("Jobs", rows)),
    }


def read_or_refused(raw: bytes, files: int) -> tuple[int, int]:
    """How many damaged copies of a file are read, and how many are refused; any other end is a fault of ours."""
    draw = np.random.default_rng(files)
    read = refused = 0
    for _ in range(files):
        try:
            book = open_book(damaged(raw, draw), "jobs")
            mapping = guess_mapping(book)
            for chunk in book.chunks():
                jobs, skipped = chunk_read(chunk, mapping)[:2]
                assert np.isfinite(jobs.quote).all()
                assert len(jobs) + len(skipped) <= len(chunk) + len(chunk.skipped)
            read += 1
        except MendpointError:
            refused += 1
    return read, refused


@pytest.mark.slow
@pytest.mark.parametrize(("kind", "files"), [("csv", 600), ("utf-16", 100), ("xlsx", 150)])
def test_damaged_files_are_read_or_refused_in_words(kind: str, files: int) -> None:
    """Ten thousand of them are tried in the bench; here about as many rows."""
    read, refused = read_or_refused(whole_books()[kind], files)
    assert read + refused == files
    assert refused > 0
    assert read > 0
