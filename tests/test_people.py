"""What tells who a customer is: found, left out of the store and of files unless asked for, and gone once deleted."""

import io
import json
import re
import zipfile
from dataclasses import replace
from pathlib import Path

import commands
import openpyxl
import pytest
from streamlit.testing.v1 import AppTest
from test_shop_page import give, page, run  # noqa: F401
from untidy_books import untidy_book

from decide.load.jobs.book import open_book
from decide.load.jobs.columns import ColumnMapping, guess_mapping, parse_mapping
from decide.load.jobs.own_records import callbacks_of
from decide.load.jobs.people import left_out, people_like, without_people
from decide.load.jobs.rows import read_book
from decide.load.store.records import Thing
from decide.load.store.store import Store
from decide.load.tables.tables import tables
from decide.load.tables.vocabulary import tells_who

BOOK = (
    b"Date,Cust Name,Service address,Reach at,Appliance,Age,Total,Status,Job notes,Bin\n"
    b"2024-01-05,Invented One,1 Sample St.,(555) 010-4477,Fridge,5,200,paid,gate code 4711,A1\n"
    b"2024-01-25,INVENTED ONE,1 sample st,555-010-4477,Fridge,5,0,paid,,A1\n"
    b"2024-02-05,Invented Two,2 Sample St,two@mail.invalid,Washing machine,5,180,declined,call first,B2\n"
)
SECRETS = (b"nvented", b"NVENTED", b"ample", b"4477", b"@", b"4711", b"call first")


def mapping_of(content: bytes, name: str = "book.csv") -> ColumnMapping:
    return guess_mapping(open_book(content, name))


@pytest.mark.parametrize(
    "heading",
    [
        "Cust Name",
        "Customer phone",
        "E-mail",
        "Service Address",
        "Bill to",
        "Notes",
        "Tel.",
        "Straße",
        "Teléfono",
        "Nom",
    ],
)
def test_columns_of_people_are_known_by_their_headings(heading: str) -> None:
    assert tells_who(heading)


@pytest.mark.parametrize("heading", ["Appliance", "S/N", "Age", "Total", "Zip", "WO #", "Tech", "Model", "Hotel"])
def test_other_columns_are_not(heading: str) -> None:
    assert not tells_who(heading)


def test_numbers_to_reach_people_by_are_known_by_their_cells() -> None:
    like = people_like(open_book(BOOK, "book.csv"))
    assert like == ("Cust Name", "Service address", "Reach at", "Job notes")
    mapping = replace(mapping_of(BOOK), columns={**mapping_of(BOOK).columns, "fault": "Job notes"})
    assert left_out(like, mapping) == ("Cust Name", "Service address", "Reach at")  # what is read otherwise stays


def test_a_book_without_people_reads_alike_and_knows_appliances_again() -> None:
    book = untidy_book(3, 600)
    mapping = parse_mapping(book.mapping)
    content = without_people(book.text.encode(), "book.csv", None, mapping)
    assert not any(word in content for word in (b"Invented", b"Sample", b"gate code"))
    before, after = (read_book(open_book(each, "book.csv"), mapping) for each in (book.text.encode(), content))
    assert after.jobs.row.tolist() == before.jobs.row.tolist()
    assert after.jobs.quote.tolist() == before.jobs.quote.tolist()
    assert after.coverage == before.coverage
    ends = [callbacks_of(each.jobs, "US", tables()).whole for each in (before, after)]
    assert ends[0] == ends[1]
    assert without_people(content, "book.csv", None, mapping) == content  # once is enough
    other = without_people(book.text.encode() + b"\n", "book.csv", None, mapping)
    marks = [set(re.findall(rb"~[0-9a-f]{12}", each)) for each in (content, other)]
    assert marks[0]
    assert not marks[0] & marks[1]  # they are of one book alone


def test_the_sheet_that_is_read_is_kept_of_an_excel_file() -> None:
    file, out = openpyxl.Workbook(), io.BytesIO()
    file.active.append(["READ ME", "x"])
    sheet = file.create_sheet("jobs")
    for line in BOOK.decode().splitlines():
        sheet.append(line.split(","))
    file.save(out)
    book = open_book(out.getvalue(), "b.xlsx", "jobs")
    content = without_people(out.getvalue(), "b.xlsx", None, guess_mapping(book))
    assert not any(secret in content for secret in SECRETS)
    assert len(read_book(open_book(content, "b.xlsx"), guess_mapping(book)).jobs) == 3


# the command


def test_files_that_are_written_leave_people_out_unless_asked(tmp_path: Path) -> None:
    path, out = tmp_path / "book.csv", tmp_path / "rows.csv"
    path.write_bytes(BOOK.replace(b"Washing machine,5", b"Washing machine,old"))
    told = commands.run("jobs", str(path), "--out", str(out))
    assert told.exit_code == 0
    assert "Cust Name" in told.stderr
    written = out.read_bytes(), (tmp_path / "rows.set-apart.csv").read_bytes()
    assert not any(secret in each for secret in SECRETS for each in written)
    assert b"A1" in written[0]
    assert b'"B2"' in written[1]
    commands.run("jobs", str(path), "--out", str(out), "--force", "--with-people")
    assert all(secret in out.read_bytes() for secret in (*SECRETS[:4], b"4711"))


def test_skipped_rows_come_back_with_their_customers(tmp_path: Path) -> None:
    path, out = tmp_path / "book.csv", tmp_path / "rows.csv"
    path.write_bytes(BOOK.replace(b"Fridge,5,0", b"Fridge,old,0"))
    commands.run("jobs", str(path), "--out", str(out))
    skipped = tmp_path / "rows.set-apart.csv"
    skipped.write_text(skipped.read_text("utf-8-sig").replace('"old"', '"5"', 1), "utf-8")
    told = commands.run("records", str(path), "--mended", str(skipped), "--json")
    found = json.loads(told.stdout)
    assert (found["coverage"]["share"], found["candidates"]) == (1.0, 1)  # the same customer at the same address


# the store


def bytes_of(folder: Path) -> bytes:
    return b"".join(path.read_bytes() for path in folder.rglob("*") if path.is_file())


def store_folder(store: Store) -> Path:
    return Path(store.where).parent


def test_the_page_keeps_no_people_unless_that_is_chosen(page: AppTest) -> None:  # noqa: F811
    give(page, BOOK)
    with Store.open() as store:
        [book] = store.books()
        assert not any(secret in store.book_content(book.id) for secret in SECRETS)
        assert not any(secret in bytes_of(store_folder(store)) for secret in (b"nvented", b"4477"))
        run(page.checkbox(key="shop_keep_people").check())
        [book] = store.books()
        assert all(secret in store.book_content(book.id) for secret in SECRETS)
        run(page.checkbox(key="shop_keep_people").uncheck())
        [book] = store.books()
        assert not any(secret in store.book_content(book.id) for secret in SECRETS)
        assert not any(secret in bytes_of(store_folder(store)) for secret in (b"nvented", b"4477"))  # nor what was


def test_a_back_up_holds_everything_or_leaves_people_out(tmp_path: Path) -> None:
    with Store.open(str(tmp_path / "one")) as store:
        store.keep_book("book.csv", BOOK)
        visit = store.new_id()
        store.save_visit(visit, {"title": "Invented Three", "appliance": {"class": "dishwasher", "age": 4}})
        whole, without = (store.export_all(tmp_path / f"{people}.zip", people) for people in (True, False))
    with zipfile.ZipFile(whole) as file:
        everything = b"".join(file.read(name) for name in file.namelist())
    with zipfile.ZipFile(without) as file:
        nothing = b"".join(file.read(name) for name in file.namelist())
    assert all(secret in everything for secret in SECRETS)
    assert not any(secret in nothing for secret in (*SECRETS[:5], b"gate", b"call first"))
    with Store.open(str(tmp_path / "two")) as other:
        assert other.import_all(without).new == 2
        [book] = other.books()
        assert len(read_book(open_book(other.book_content(book.id), "book.csv"), mapping_of(BOOK)).jobs) == 3
        assert other.visit(visit).entries["appliance"]["class"] == "dishwasher"


def test_the_command_writes_a_back_up_without_people(tmp_path: Path) -> None:
    with Store.open() as store:
        store.keep_book("book.csv", BOOK)
    told = commands.run("store", "export", str(tmp_path / "out.zip"), "--without-people")
    assert told.exit_code == 0
    with zipfile.ZipFile(tmp_path / "out.zip") as file:
        assert not any(b"nvented" in file.read(name) for name in file.namelist())


def test_what_is_deleted_is_in_no_file_of_the_store(tmp_path: Path) -> None:
    with Store.open(str(tmp_path / "one")) as store:
        book = store.keep_book("book.csv", BOOK * 50)
        assert b"nvented" in bytes_of(tmp_path)
        store.delete(Thing("book", book.id))
        assert b"nvented" not in bytes_of(tmp_path)
    assert b"nvented" not in bytes_of(tmp_path)
