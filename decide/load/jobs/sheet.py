"""Job books that are sheets of Excel. Each cell becomes text; numbers are kept beside it."""

import datetime
import math
import warnings
import zipfile
import zlib
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from typing import IO, Any, Final
from xml.etree.ElementTree import ParseError

import numpy as np
from defusedxml.ElementTree import fromstring

from ...errors import Message, ReadError
from ..tables.typed import as_typed
from . import chunks
from .chunks import RejectedRow, TextChunk, heading, series, short

LARGEST_SHARED: Final = 100_000_000
"""Of the texts that an Excel file keeps in one place, and that have to be held as a whole. [byte]"""
DENSEST: Final = 50
"""Bytes that one packed byte may come to. Sheets of a book come to 10 or 20; the packing itself can reach 1,000."""
SMALL: Final = 100_000
"""A part of a packed file below this does no harm, however densely packed. [byte]"""
MOST_MARKS: Final = 100_000
"""Elements of a part that is read before any sheet, such as the styles; Excel has 64,000 formats at most."""
READ_FIRST: Final = (
    "[Content_Types].xml", "xl/workbook.xml", "xl/styles.xml", "xl/_rels/workbook.xml.rels",
    "docProps/core.xml", "docProps/custom.xml",
)  # fmt: skip
EXCEL_ROWS: Final = 1_048_576
MOST_FAR: Final = 1_000
"""Rows with cells beyond the last column that is read."""
BATCH: Final = 10_000
"""Rows made to a chunk at a time."""
ROOM: Final = 16_000_000
"""Text of a chunk. [character]"""

Opener = Callable[[], IO[bytes]]


def refuse_bomb(opened: Opener, name: str) -> None:
    """Look at what a packed file says of its parts, before any of it is unpacked."""
    try:
        with opened() as file, zipfile.ZipFile(file) as packed:
            parts = packed.infolist()
            if not any(part.filename == "xl/workbook.xml" for part in parts):
                raise ReadError(name, "is a packed file, but no Excel workbook (.xlsx); save the book as .xlsx or .csv")
            beside = sum(part.file_size for part in parts if part.filename in READ_FIRST)
            if sum(part.file_size for part in parts) > chunks.LARGEST_UNPACKED or beside > LARGEST_SHARED:
                raise ReadError(
                    name, "would come to more than {most:,} MB when unpacked", chunks.LARGEST_UNPACKED // 1000000
                )
            if any(part.file_size > SMALL and part.file_size > DENSEST * max(1, part.compress_size) for part in parts):
                raise ReadError(name, chunks.TOO_DENSE)
            for part in parts:
                if part.filename in READ_FIRST and packed.read(part).count(b"<") > MOST_MARKS:
                    raise ReadError(name, "has more than {most:,} styles or names beside its cells", MOST_MARKS)
            kinds = fromstring(packed.read(READ_FIRST[0]))
    except (
        zipfile.BadZipFile, zlib.error, RuntimeError, NotImplementedError, ParseError, LookupError, ValueError, OSError,
        EOFError,
    ) as error:  # fmt: skip
        raise ReadError(name, "is a damaged Excel file") from error
    shared = [kind.get("PartName", "") for kind in kinds if kind.get("ContentType", "").endswith("sharedStrings+xml")]
    if any(f"/{part.filename}" in shared and part.file_size > LARGEST_SHARED for part in parts):
        raise ReadError(name, "holds more than {most:,} MB of text in its cells", LARGEST_SHARED // 1000000)


class ExcelRows:
    """The rows of a sheet after its heading, chunk by chunk. Of a formula, the value that was last worked out."""

    def __init__(self, opened: Opener, name: str, sheet: str | None) -> None:
        refuse_bomb(opened, name)
        self.opened, self.name = opened, name
        with self._workbook() as book:
            self.sheets = tuple(str(each.title) for each in book.worksheets)
            if not self.sheets:
                raise ReadError(self.name, "has no sheet of cells")
            if sheet is not None and sheet not in self.sheets:
                raise ReadError(
                    self.name,
                    "has no sheet {sheet!r}; it has {known}",
                    short(sheet),
                    ", ".join(map(short, self.sheets[:20])),
                )
            for tried in self.sheets if sheet is None else (sheet,):
                self.sheet = tried
                head = [
                    [text_of(cell) for cell in row[: chunks.MOST_COLUMNS + 1]]
                    for row in self._rows(book, 2 * chunks.HEADING_WITHIN)
                ]
                try:
                    self.at, self.names = heading(head[: chunks.HEADING_WITHIN], f"{name}, sheet {short(self.sheet)!r}")
                    return
                except ReadError as error:  # a sheet of remarks, say; the next one may be a book
                    refused = error
        if len(self.sheets) > 1:
            known = ", ".join(map(short, self.sheets[:20]))
            raise ReadError(name, "has no book on this sheet ({why}); its sheets are {known}", str(refused), known)
        raise refused

    @contextmanager
    def _workbook(self) -> Iterator[Any]:
        import openpyxl

        with self.opened() as file:
            try:
                with _quietly():
                    book = openpyxl.load_workbook(file, read_only=True, data_only=True, keep_links=False)
            except Exception as error:  # a damaged workbook fails in as many ways as it has parts
                raise ReadError(self.name, "is a damaged Excel file ({error})", short(str(error))) from error
            with closing(book):
                yield book

    def _rows(self, book: Any, most: int = EXCEL_ROWS) -> Iterator[tuple[Any, ...]]:
        page = next(each for each in book.worksheets if each.title == self.sheet)
        page.reset_dimensions()  # what a file says of its size is not to be trusted
        rows = page.iter_rows(max_row=most, values_only=True)
        try:
            with _quietly():
                yield from rows
        except ReadError:
            raise
        except Exception as error:
            raise ReadError(
                Message("{name}, sheet {sheet!r}", self.name, short(self.sheet)),
                "is damaged ({error})",
                short(str(error)),
            ) from error

    def __iter__(self) -> Iterator[TextChunk]:
        with self._workbook() as book:
            total = next(each for each in book.worksheets if each.title == self.sheet).max_row or EXCEL_ROWS
            width = len(self.names)
            most = max(1, min(BATCH, chunks.MOST_CELLS // width))
            kept: list[tuple[int, tuple[Any, ...]]] = []
            skipped: list[RejectedRow] = []
            far = room = 0
            for line, row in enumerate(self._rows(book), start=1):
                if line <= self.at + 1:
                    continue
                far += len(row) > chunks.MOST_COLUMNS
                if far > MOST_FAR:
                    where = f"{self.name}, sheet {short(self.sheet)!r}, row {line}"
                    raise ReadError(
                        where, "is one of many with cells beyond column {most}; delete these", chunks.MOST_COLUMNS
                    )
                surplus = next((cell for cell in row[width:] if cell is not None and text_of(cell).strip()), None)
                if surplus is not None:
                    skipped.append(RejectedRow(line, "", "too_many_cells", short(text_of(surplus))))
                elif any(cell is not None for cell in row):
                    row = (*row, *[None] * (width - len(row)))[:width]
                    kept.append((line, row))
                    room += sum(len(cell) for cell in row if isinstance(cell, str))
                if len(kept) >= most or len(skipped) >= BATCH or room >= ROOM:
                    yield self._chunk(kept, skipped, min(1.0, line / total))
                    kept, skipped, room = [], [], 0
            yield self._chunk(kept, skipped, 1.0)

    def _chunk(self, kept: list[tuple[int, tuple[Any, ...]]], skipped: list[RejectedRow], done: float) -> TextChunk:
        columns = zip(*(row for _, row in kept), strict=True) if kept else [()] * len(self.names)
        named = dict(zip(self.names, columns, strict=True))
        filled = {name: cells for name, cells in named.items() if cells.count(None) < len(cells)}
        texts = dict.fromkeys(self.names, series([""] * len(kept)))
        texts |= {name: series([text_of(cell) for cell in cells]) for name, cells in filled.items()}
        numbers = {
            name: np.array([_number(cell) for cell in cells])
            for name, cells in filled.items()
            if any(isinstance(cell, int | float) and not isinstance(cell, bool) for cell in cells)
        }
        return TextChunk(np.array([line for line, _ in kept], dtype=np.int64), texts, numbers, tuple(skipped), done)


@contextmanager
def _quietly() -> Iterator[None]:
    """A spreadsheet's extras that a library passes over are nothing to warn a shop about."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        yield


def _number(cell: object) -> float:
    try:
        return float(cell) if isinstance(cell, int | float) and not isinstance(cell, bool) else math.nan
    except OverflowError:
        return math.inf


HUGE, TINY = 1e15, 1e-9
"""Numbers beyond these are no amounts, and would make texts of hundreds of digits."""


def text_of(cell: object) -> str:
    """A cell's value as text that can be read in one way only: dates year first, numbers with a point."""
    match cell:
        case None:
            return ""
        case bool():
            return "yes" if cell else "no"
        case int() | float():
            number = _number(cell)
            if not math.isfinite(number):
                return ""
            return as_typed(number) if not number or TINY < abs(number) < HUGE else f"{number:.15g}"
        case datetime.datetime():
            return cell.date().isoformat() if cell.time() == datetime.time() else cell.isoformat(" ", "seconds")
    return str(cell)
