"""Nothing that comes from outside crashes or hangs a reader: malformed files, attacks, and formulas in what we write.

A malformed file is read or refused with an error of our own that names the place. `bench/fuzz_readers.py` tries 10,000
malformed files for each reader; here are some of them, and all that once came through.
"""

import csv
import io
import resource
import time
import zipfile
from pathlib import Path

import numpy as np
import pytest
from fuzzing import READERS, read_case, read_feed, read_log, read_tariff
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from decide.errors import DataError, MendpointError, ReadError
from decide.load.cases.case_file import complete
from decide.load.files.json_text import json_of
from decide.load.jobs.book import open_book
from decide.load.jobs.columns import parse_mapping
from decide.load.jobs.export import RowWriter, neutralised, write_table
from decide.load.meters.interval_data import parse_intervals
from decide.load.store.store import Store

LONGEST = 15.0
"""What no file of a few megabytes may take, even on a busy machine. [s]"""


def refusal(name: str, seed: int) -> str | None:
    """What a reader says against a spoilt file; a broken table of our own is no refusal."""
    try:
        READERS[name].read(READERS[name].spoilt(seed))
    except DataError:
        raise
    except MendpointError as error:
        return str(error)
    return None


@pytest.mark.slow
@pytest.mark.parametrize("name", READERS)
@settings(suppress_health_check=list(HealthCheck))
@given(seed=st.integers(0, 2**40))
def test_a_spoilt_file_is_read_or_refused_with_a_reason(name: str, seed: int) -> None:
    begun = time.perf_counter()
    text = refusal(name, seed)
    assert text is None or ": " in text
    assert time.perf_counter() - begun < LONGEST


@pytest.mark.parametrize("name", READERS)
def test_the_samples_that_are_spoilt_are_whole(name: str) -> None:
    for sample in READERS[name].samples():
        READERS[name].read(sample)


# What came through once

CASE = b'[appliance]\nclass = "refrigerator"\nage = 12\n'
LINES = b'commodity = "electricity"\nsource = "my bill"\n'
FEED = (
    "<feed><entry><content><ReadingType><uom>72</uom></ReadingType></content></entry>"
    "<entry><content>{}</content></entry></feed>"
)
ONCE_READ_WRONG = {
    "a number of 400 digits": (read_case, CASE + b"electricity = " + b"9" * 400, "appliance.electricity"),
    "a number of 5,000 digits": (read_case, CASE + b"electricity = " + b"9" * 5000, "case, line 4: holds a number"),
    "a number of 5,000 hexadecimals": (read_case, CASE + b"electricity = 0x" + b"F" * 5000, "appliance.electricity"),
    "a huge share of a landlord": (
        read_case, CASE + b"[household.landlord]\ndepreciation_years = " + b"9" * 400,
        "household.landlord.depreciation",
    ),
    "an age of 1e308": (read_case, b'[appliance]\nclass = "refrigerator"\nage = -1e308\n', "appliance.age: must be"),
    "a name of many parts": (read_case, CASE + b"a." * 400_000 + b"a = 1", "line 4: holds a name of more than 20"),
    "quoted names of many parts": (read_case, CASE + b'"a".' * 200_000 + b"a = 1", "line 4: holds a name of more"),
    "lists in lists": (read_case, CASE + b"a = " + b"[" * 30 + b"]" * 30, "nests deeper than 20"),
    "20,000 names that mean nothing": (
        read_case, CASE + b"".join(b"a%d = 1\n" % at for at in range(20_000)), "has 20,000 names that are not known",
    ),
    "900 replacements": (read_case, CASE + b"[[replace]]\n" * 900, "replace: must be 50 at most, got 900"),
    "5,000 ranges": (
        read_case, CASE + b"[ranges]\n" + b"".join(b"a%d = [1, 2]\n" % at for at in range(5_000)), "ranges: has 5,000",
    ),
    "a text as long as the file": (read_case, CASE + b'fault = "' + b"x" * 900_000 + b'"',
    "appliance.fault: is longer"),
    "a tariff's huge number": (read_tariff, LINES + b"price = " + b"9" * 400, "price"),
    "a price that no sum can hold": (read_tariff, LINES + b"price = 1e308", "price must be 1e\\+09 or less"),
    "a span of many digits": (
        read_tariff, LINES + b'[[line]]\nname = "e"\n[[line.band]]\nhours = "' + b"9" * 900 + b'"\nprice = 1', "hours",
    ),
    "a bill of 900 lines": (
        read_tariff, LINES + b"".join(b'[[line]]\nname = "%d"\namount = 1\n' % at for at in range(900)), "100 tables",
    ),
    "a JSON number of 5,000 digits": (
        lambda content: json_of(content, "counts.json"), b'{"a": ' + b"9" * 5000 + b"}", "5,000 digits is too long",
    ),
    "JSON lists in lists": (lambda content: json_of(content, "counts.json"), b"[" * 100_000, "is no JSON file"),
    "a power that no sum can hold": (
        read_log, b"time,kW\n2026-01-01 00:00,1\n2026-01-01 00:01,1e308\n2026-01-01 00:02,1\n", "row 3, column 'kW'",
    ),
    "a log of 40,000 columns": (read_log, b"2026-01-01 00:00" + b",1" * 40_000 + b"\n", "has 40,001 fields"),
    "a clock a million years ahead": (
        read_feed, READERS["feed"].samples()[1].replace(b"-18000", b"-999999999999999"), "tzOffset must be",
    ),
    "a reading of no duration": (
        read_feed, READERS["feed"].samples()[1].replace(b"<duration>3600<", b"<duration>1e-320<"),
        "reading 1 must begin",
    ),
    "a value that no sum can hold": (
        read_feed, READERS["feed"].samples()[1].replace(b"<value>300<", b"<value>1e308<"), "reading 1, value must be",
    ),
    "20,000 meters": (
        read_feed,
        b"<feed>" + b"<entry><content><MeterReading/></content></entry>" * 20_000
        + b"<entry><content><IntervalBlock/></content></entry>" * 20_000 + b"</feed>",
        "more than 100 entries of MeterReading",
    ),
    "entries in entries": (
        read_feed,
        b"<feed>" + b"<entry><content><IntervalBlock>" * 30_000
        + b"</IntervalBlock></content></entry>" * 30_000 + b"</feed>",
        "holds no use",
    ),
    "readings in readings": (
        read_feed,
        FEED.format(
            f"<IntervalBlock>{'<IntervalReading>' * 30_000}{'</IntervalReading>' * 30_000}</IntervalBlock>"
        ).encode(),
        "holds no use",
    ),
}  # fmt: skip


@pytest.mark.parametrize(("read", "content", "says"), ONCE_READ_WRONG.values(), ids=ONCE_READ_WRONG)
def test_what_once_came_through_is_refused_in_time_with_its_place(read: object, content: bytes, says: str) -> None:
    begun = time.perf_counter()
    with pytest.raises(MendpointError, match=says):
        read(content)  # type: ignore[operator]
    assert time.perf_counter() - begun < LONGEST


ENTITIES = {
    "a billion laughs": '<!DOCTYPE l [<!ENTITY a "ha">'
    + "".join(f'<!ENTITY a{at} "{(f"&a{at - 1};" if at else "&a;") * 10}">' for at in range(10))
    + "]><feed>&a9;</feed>",
    "quadratic blow-up": f'<!DOCTYPE l [<!ENTITY a "{"x" * 50_000}">]><feed>{"&a;" * 50_000}</feed>',
    "a file": '<!DOCTYPE l [<!ENTITY a SYSTEM "file:///etc/passwd">]><feed>&a;</feed>',
    "another host": '<!DOCTYPE l SYSTEM "http://127.0.0.1:9/x.dtd"><feed/>',
    "a parameter entity": '<!DOCTYPE l [<!ENTITY % a SYSTEM "file:///etc/passwd"> %a;]><feed/>',
}


@pytest.mark.parametrize("encoding", ["utf-8", "utf-16"])
@pytest.mark.parametrize("text", ENTITIES.values(), ids=ENTITIES)
def test_a_feed_with_entities_is_refused_before_any_is_worked_out(text: str, encoding: str) -> None:
    begun = time.perf_counter()
    with pytest.raises(ReadError, match="declares a document type or entities"):
        parse_intervals(text.encode(encoding))
    assert time.perf_counter() - begun < 1


@pytest.mark.parametrize(
    "name", ["../../passwd", "/etc/passwd", "a\0b", "C:\\con", "..\\x", "\\\\host\\x", " ", "../data"]
)
@pytest.mark.parametrize("entry", ["meter.file", "electricity_tariff.file", "electricity_tariff.interval_data"])
def test_a_case_reads_no_file_outside_its_folder(name: str, entry: str, tmp_path: Path) -> None:
    table, key = entry.split(".")
    tables = {"appliance": {"class": "refrigerator", "age": 12}, "household": {}}
    rest = {"meter.file": {}, "electricity_tariff.file": {"base_use": 3800}}.get(entry, {"price": 0.3, "source": "b"})
    tables["appliance" if table == "meter" else "household"][table] = {key: name, **rest}
    with pytest.raises(MendpointError, match=entry.replace(".", r"\.")):
        complete(tables, folder=tmp_path)


def test_a_mapping_that_cannot_be_is_refused_by_its_name() -> None:
    with pytest.raises(ReadError, match="my mapping, line 2: holds a number"):
        parse_mapping(b'place = "US"\nx = ' + b"9" * 5000, "my mapping")


# What we write holds no formula

FORMULAS = (
    "=1+1",
    "+1",
    "-1+cmd|' /C calc'!A0",
    "@sum(1)",
    "\t=1",
    "\r=1",
    "  =1",
    "\u00a0=1",
    "\uff1d1",
    "\u200b=1",
    "\ufeff=1",
    "\x00=1",
)


def first_signs(text: str) -> str:
    return "".join(sign for sign in text if sign.isprintable() and not sign.isspace())[:1]


@pytest.mark.parametrize("text", FORMULAS)
def test_no_text_of_a_table_can_be_worked_out(text: str, tmp_path: Path) -> None:
    write_table(tmp_path / "a.csv", [{"shop": text, "limit": -3.5}])
    with RowWriter.of(tmp_path / "b.csv") as rows:
        rows.write({"shop": [text], "limit": np.array([-3.5])})
    for name in ("a.csv", "b.csv"):
        with (tmp_path / name).open(encoding="utf-8-sig", newline="") as file:
            (row,) = csv.DictReader(file)
        assert first_signs(row["shop"]) == "'"
        assert float(row["limit"]) == -3.5
    assert neutralised(neutralised(text)) == neutralised(text)


@pytest.mark.parametrize("text", ["x\r=1+1", "x\n=1+1", "x\r\n=1+1", 'x",=1+1', "x;=1+1"])
def test_no_text_begins_a_cell_or_a_row_of_its_own(text: str, tmp_path: Path) -> None:
    write_table(tmp_path / "a.csv", [{"shop": text, "limit": 1}, {"shop": "y", "limit": 2}])
    with (tmp_path / "a.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.reader(file))
    assert rows == [["shop", "limit"], [neutralised(text), "1"], ["y", "2"]]


def packed(parts: dict[str, bytes]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in parts.items():
            archive.writestr(name, content)
    return out.getvalue()


def nested(depth: int) -> bytes:
    content = b"0" * 1_000_000
    for _ in range(depth):
        content = packed({f"{at}.zip": content for at in range(4)})
    return content


PACKED = {
    "zips in zips": nested(4),
    "a zip of one hundred megabytes of zeros": packed({"xl/workbook.xml": b"",
    "xl/worksheets/sheet1.xml": b"0" * 100_000_000}),
    "an empty zip": packed({}),
    "a name that leads out": packed({"../../x": b"1", "/etc/x": b"2"}),
}  # fmt: skip


@pytest.mark.parametrize("content", PACKED.values(), ids=PACKED)
def test_a_packed_file_that_means_harm_is_refused_unopened(content: bytes, tmp_path: Path) -> None:
    begun, before = time.perf_counter(), resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    with pytest.raises(ReadError):
        open_book(content, "jobs.xlsx")
    (tmp_path / "in.zip").write_bytes(content)
    with Store.open(str(tmp_path / "store")) as store, pytest.raises(ReadError):
        store.import_all(tmp_path / "in.zip")
    assert time.perf_counter() - begun < LONGEST
    assert resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before < 60_000, "60 MB of growth"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["in.zip", "store"]


def test_every_table_is_written_through_the_one_door() -> None:
    """Whoever writes CSV elsewhere must neutralise by himself; a shop's figures refuse a name that begins so.

    A book without its people, and one made of visits, are kept to be read again, and leave as rows through that door.
    """
    package = Path(__file__).parents[1] / "decide"
    writers = {
        path.name
        for path in package.rglob("*.py")
        if "csv.writer(" in path.read_text("utf-8") or "csv.DictWriter(" in path.read_text("utf-8")
    }
    assert writers == {"export.py", "own_figures.py", "people.py", "visit_book.py"}
