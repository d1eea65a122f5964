"""Small files that come to very much: each is given to the real command, in a process of its own.

Held to 400 MB by the peak of the process's memory (VmHWM; a limit of the system on data or addresses would also count
what the libraries reserve and never touch) and to 5 s of its processor time, the start of the command included.
"""

import io
import json
import os
import random
import subprocess
import sys
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path

import openpyxl
import pytest

ROOT = Path(__file__).resolve().parents[1]
MOST_MB, MOST_SECONDS = 400, 5.0
WATCHED = """
import json, resource, sys
from pathlib import Path
resource.setrlimit(resource.RLIMIT_CPU, (60, 60))
resource.setrlimit(resource.RLIMIT_DATA, (4 << 30, 4 << 30))
from decide.show.cli.main import main
try:
    main()
finally:
    status = Path("/proc/self/status").read_text()
    used = resource.getrusage(resource.RUSAGE_SELF)
    peak = next(line.split()[1] for line in status.splitlines() if line.startswith("VmHWM"))
    Path("used.json").write_text(json.dumps([int(peak) / 1024, used.ru_utime + used.ru_stime]))
"""
MAPPING = 'place = "US"\n[columns]\nclass = "Kind"\nage = "Age"\nquote = "Quote"\n'
SPREADSHEET = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
HEAD = ("Kind", "Age", "Quote")


def run(folder: Path, *arguments: str) -> tuple[int, str, float, float]:
    """Status, what is said on standard error, peak of memory [MB] and processor time [s] of the command."""
    (folder / "map.toml").write_text(MAPPING)
    done = subprocess.run(
        [sys.executable, "-c", WATCHED, *arguments], cwd=folder, env={**os.environ, "PYTHONPATH": str(ROOT)},
        capture_output=True, text=True, timeout=300,
    )  # fmt: skip
    peak, seconds = json.loads((folder / "used.json").read_text())
    return done.returncode, done.stderr, peak, seconds


# the files


def sheet(rows: Iterator[str], head: tuple[str, ...] = HEAD, **parts: str) -> bytes:
    """A workbook with these rows as they stand in its XML, and with other parts added or in place of its own."""
    plain = openpyxl.Workbook()
    plain.active.append(list(head))
    book, out = io.BytesIO(), io.BytesIO()
    plain.save(book)
    with zipfile.ZipFile(book) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            content = old.read(name).decode()
            if name == "xl/worksheets/sheet1.xml":
                content = content.replace("</sheetData>", "".join((*rows, "</sheetData>")))
            new.writestr(name, parts.pop(name, content))
        for name, content in parts.items():
            new.writestr(name, content)
    return out.getvalue()


def cell(at: str, value: object, kind: str = "n") -> str:
    return f'<c r="{at}" t="{kind}"><v>{value}</v></c>'


def row(line: int, *cells: str) -> str:
    return f'<row r="{line}">{"".join(cells)}</row>'


def far_cells() -> bytes:
    return sheet(row(at, cell(f"A{at}", 1), cell(f"XFD{at}", 1)) for at in range(2, 60_002))


def one_shared_text() -> bytes:
    """One text, which 60,000 cells point at."""
    kind = "application/vnd.openxmlformats-officedocument.spreadsheetml"
    types = (
        '<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">'
        f'<Override PartName="/xl/workbook.xml" ContentType="{kind}.sheet.main+xml"/>'
        f'<Override PartName="/xl/worksheets/sheet1.xml" ContentType="{kind}.worksheet+xml"/>'
        f'<Override PartName="/xl/texts.xml" ContentType="{kind}.sharedStrings+xml"/></Types>'
    )
    texts = f'<sst xmlns="{SPREADSHEET}"><si><t>{"x" * 30_000}</t></si></sst>'
    rows = (row(at, cell(f"A{at}", 0, "s"), cell(f"B{at}", 3), cell(f"C{at}", 90)) for at in range(2, 60_002))
    return sheet(rows, **{"[Content_Types].xml": types, "xl/texts.xml": texts})


def wide_and_blank() -> bytes:
    head = (*HEAD, *(f"c{at}" for at in range(397)))
    return sheet((row(at, cell(f"A{at}", 1)) for at in range(2, 60_002)), head)


def dense_sheet() -> bytes:
    """A hundred bytes to each packed one, which is more than any book has and less than the packing can reach."""
    draw = random.Random(1)
    return sheet(f'<row spans="1:{draw.randrange(10**9)}"/>' + "<row/>" * 700 for _ in range(20_000))


def many_styles() -> bytes:
    """Of 1,000,000 bytes and more, so various that it is packed like any other."""
    draw = random.Random(1)
    formats = "".join(f'<font><sz val="{draw.random()}"/></font>' for _ in range(150_000))
    styles = f'<styleSheet xmlns="{SPREADSHEET}"><fonts>{formats}</fonts>'
    return sheet(iter([row(2, cell("A2", 1))]), **{"xl/styles.xml": f"{styles}</styleSheet>"})


def huge_numbers() -> bytes:
    """Numbers of 309 digits, and of more than any number has."""
    head, draw = (*HEAD, *(f"c{at}" for at in range(97))), random.Random(1)
    drawn = (f"{'9' * 400 if at % 10 == 5 else draw.random() * 1e308}" for at in range(200_000))
    return sheet((f"<row>{''.join(f'<c><v>{next(drawn)}</v></c>' for _ in head)}</row>" for _ in range(2_000)), head)


def line_ends_below_a_wide_heading() -> bytes:
    return ";".join((*HEAD, *(f"c{at}" for at in range(397)))).encode() + b"\n" * 1_000_000


BOOKS: dict[str, tuple[Callable[[], bytes], str]] = {
    "far_cells.xlsx": (far_cells, "cells beyond column 400"),
    "one_shared_text.xlsx": (one_shared_text, "packed more densely"),
    "wide_and_blank.xlsx": (wide_and_blank, "packed more densely"),
    "dense_sheet.xlsx": (dense_sheet, "packed more densely"),
    "many_styles.xlsx": (many_styles, "styles or names"),
    "huge_numbers.xlsx": (huge_numbers, ""),
    "one_line.csv": (lambda: b"Kind;Age;Quote\n" + b"x" * 100_000_000, "longer than 1,000,000 bytes"),
    "one_cell.csv": (lambda: b"Kind;Age;Quote\n" + b"x" * 900_000 + b";3;90\n", "a cell of 900,000 characters"),
    "line_ends.csv": (line_ends_below_a_wide_heading, "most rows have fewer"),
}


@pytest.mark.slow
@pytest.mark.parametrize("name", BOOKS)
def test_a_small_book_that_comes_to_very_much_is_refused_or_read_in_little_memory(tmp_path: Path, name: str) -> None:
    made, why = BOOKS[name]
    (tmp_path / name).write_bytes(made())
    status, text, peak, seconds = run(tmp_path, "jobs", name, "--mapping", "map.toml")
    print(f"{name}: {(tmp_path / name).stat().st_size:,} bytes, {status}, {peak:.0f} MB, {seconds:.1f} s")
    assert (status, why in text, "Traceback" in text) == (2 if why else 0, True, False), text
    assert peak < MOST_MB
    assert seconds < MOST_SECONDS


UNIT = '[appliance]\nclass = "refrigerator"\nage = 9\n'


@pytest.mark.slow
def test_a_meter_log_of_line_ends_below_a_wide_row_is_refused(tmp_path: Path) -> None:
    (tmp_path / "log.csv").write_text(";".join(["2026-01-01 00:00", *["1"] * 399]) + "\n" * 1_000_000)
    (tmp_path / "case.toml").write_text(f'{UNIT}[appliance.meter]\nfile = "log.csv"\n')
    status, text, peak, seconds = run(tmp_path, "weigh", "case.toml")
    assert (status, "most other rows have fewer" in text) == (2, True), text
    assert peak < MOST_MB
    assert seconds < MOST_SECONDS


@pytest.mark.slow
@pytest.mark.parametrize("attributes", [False, True])
def test_interval_data_of_very_many_elements_is_refused(tmp_path: Path, attributes: bool) -> None:
    inside = "<a " + " ".join(f'b{at}=""' for at in range(3_000_000)) + "/>" if attributes else "<a/>" * 9_000_000
    (tmp_path / "use.xml").write_text(f"<feed>{inside}</feed>")
    priced = '[household.electricity_tariff]\nprice = 0.30\ninterval_data = "use.xml"\n'
    (tmp_path / "case.toml").write_text(UNIT + priced)
    status, text, peak, seconds = run(tmp_path, "weigh", "case.toml")
    assert (status, "more than 1,000,000 elements" in text) == (2, True), text
    assert peak < MOST_MB
    assert seconds < MOST_SECONDS
