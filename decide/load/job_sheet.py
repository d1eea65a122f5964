"""Job books that are no text: sheets of Excel, and Parquet. Each cell becomes text; numbers are kept beside it."""

import datetime
import math
import warnings
import zipfile
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from typing import IO, Any, Final

import numpy as np

from ..errors import ReadError
from .job_chunks import (
    HEADING_WITHIN,
    LARGEST_UNPACKED,
    MOST_COLUMNS,
    MOST_ROWS,
    SetApart,
    TextChunk,
    heading,
    series,
    short,
)
from .typed import as_typed

LARGEST_SHARED: Final = 200_000_000
"""Of the texts that an Excel file keeps in one place, and that have to be held as a whole. [byte]"""
DENSEST: Final = 300
"""Bytes that one packed byte may come to. Sheets of a book come to 10 or 20; the packing itself can reach 1,000."""
SMALL: Final = 10_000_000
"""A part of a packed file below this does no harm, however densely packed. [byte]"""
EXCEL_ROWS: Final = 1_048_576
BATCH: Final = 10_000
"""Rows made to a chunk at a time."""

Opener = Callable[[], IO[bytes]]


def refuse_bomb(opened: Opener, name: str) -> None:
    """Look at what a packed file says of its parts, before any of it is unpacked."""
    try:
        with opened() as file, zipfile.ZipFile(file) as packed:
            parts = packed.infolist()
    except (zipfile.BadZipFile, NotImplementedError, ValueError, OSError, EOFError) as fault:
        raise ReadError(name, "is a damaged Excel file") from fault
    if not any(part.filename == "xl/workbook.xml" for part in parts):
        raise ReadError(name, "is a packed file, but no Excel workbook (.xlsx); save the book as .xlsx or .csv")
    if sum(part.file_size for part in parts) > LARGEST_UNPACKED:
        raise ReadError(name, f"would come to more than {LARGEST_UNPACKED // 1_000_000:,} MB when unpacked")
    for part in parts:
        if part.file_size > SMALL and part.file_size > DENSEST * max(1, part.compress_size):
            raise ReadError(name, "is packed more densely than any book is; it is not unpacked")
        if "sharedstrings" in part.filename.lower() and part.file_size > LARGEST_SHARED:
            raise ReadError(name, f"holds more than {LARGEST_SHARED // 1_000_000:,} MB of text in its cells")


class ExcelRows:
    """The rows of a sheet after its heading, chunk by chunk. Of a formula, the value that was last worked out."""

    def __init__(self, opened: Opener, name: str, sheet: str | None) -> None:
        refuse_bomb(opened, name)
        self.opened, self.name = opened, name
        with self._workbook() as book:
            self.sheets = tuple(str(each.title) for each in book.worksheets)
            self.sheet = self._chosen(sheet)
            head = [list(map(text_of, row)) for row in self._rows(book, 2 * HEADING_WITHIN)]
        self.at, self.names = heading(head[:HEADING_WITHIN], f"{name}, sheet {short(self.sheet)!r}")

    @contextmanager
    def _workbook(self) -> Iterator[Any]:
        import openpyxl

        with self.opened() as file:
            try:
                with _quietly():
                    book = openpyxl.load_workbook(file, read_only=True, data_only=True, keep_links=False)
            except Exception as fault:  # a damaged workbook fails in as many ways as it has parts
                raise ReadError(self.name, f"is a damaged Excel file ({short(str(fault))})") from fault
            with closing(book):
                yield book

    def _chosen(self, sheet: str | None) -> str:
        if not self.sheets:
            raise ReadError(self.name, "has no sheet of cells")
        if sheet is not None and sheet not in self.sheets:
            raise ReadError(
                self.name, f"has no sheet {short(sheet)!r}; it has {', '.join(map(short, self.sheets[:20]))}"
            )
        return self.sheets[0] if sheet is None else sheet

    def _rows(self, book: Any, most: int = EXCEL_ROWS) -> Iterator[tuple[Any, ...]]:
        page = next(each for each in book.worksheets if each.title == self.sheet)
        page.reset_dimensions()  # what a file says of its size is not to be trusted
        rows = page.iter_rows(max_row=most, values_only=True)
        try:
            with _quietly():
                yield from rows
        except ReadError:
            raise
        except Exception as fault:
            raise ReadError(f"{self.name}, sheet {short(self.sheet)!r}", f"is damaged ({short(str(fault))})") from fault

    def __iter__(self) -> Iterator[TextChunk]:
        with self._workbook() as book:
            total = next(each for each in book.worksheets if each.title == self.sheet).max_row or EXCEL_ROWS
            held: list[tuple[int, tuple[Any, ...]]] = []
            for line, row in enumerate(self._rows(book), start=1):
                if line <= self.at + 1:
                    continue
                if any(cell is not None for cell in row):
                    held.append((line, row))
                if len(held) == BATCH:
                    yield self._chunk(held, min(1.0, line / total))
                    held = []
            yield self._chunk(held, 1.0)

    def _chunk(self, rows: list[tuple[int, tuple[Any, ...]]], done: float) -> TextChunk:
        width = len(self.names)
        kept, apart = [], []
        for line, row in rows:
            surplus = [text_of(cell) for cell in row[width : width + MOST_COLUMNS] if cell is not None]
            if any(cell.strip() for cell in surplus):
                apart.append(SetApart(line, "", "too_many_cells", short(surplus[0])))
            else:
                kept.append((line, (*row, *[None] * (width - len(row)))[:width]))
        columns = [[row[position] for _, row in kept] for position in range(width)]
        named = list(zip(self.names, columns, strict=True))
        texts = {name: series([text_of(cell) for cell in cells]) for name, cells in named}
        numbers = {
            name: np.array([_number(cell) for cell in cells])
            for name, cells in named
            if any(isinstance(cell, int | float) and not isinstance(cell, bool) for cell in cells)
        }
        return TextChunk(np.array([line for line, _ in kept], dtype=np.int64), texts, numbers, tuple(apart), done)


@contextmanager
def _quietly() -> Iterator[None]:
    """A spreadsheet's extras that a library passes over are nothing to warn a shop about."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        yield


def _number(cell: object) -> float:
    return float(cell) if isinstance(cell, int | float) and not isinstance(cell, bool) else math.nan


def text_of(cell: object) -> str:
    """A cell's value as text that can be read in one way only: dates year first, numbers with a point.

    >>> text_of(12.0), text_of(datetime.datetime(2026, 3, 1)), text_of(None)
    ('12', '2026-03-01', '')
    """
    match cell:
        case None:
            return ""
        case bool():
            return "yes" if cell else "no"
        case int() | float():
            return as_typed(cell) if math.isfinite(cell) else ""
        case datetime.datetime():
            return cell.date().isoformat() if cell.time() == datetime.time() else cell.isoformat(" ", "seconds")
    return str(cell)


class ParquetRows:
    """The rows of a Parquet file, chunk by chunk."""

    def __init__(self, opened: Opener, name: str) -> None:
        import pyarrow as pa
        import pyarrow.parquet as pq

        self.opened, self.name = opened, name
        try:
            with opened() as file, pq.ParquetFile(file) as book:
                about, schema = book.metadata, book.schema_arrow
                unpacked = sum(about.row_group(at).total_byte_size for at in range(about.num_row_groups))
        except (pa.ArrowException, OSError, ValueError) as fault:
            raise ReadError(name, f"is a damaged Parquet file ({short(str(fault))})") from fault
        if about.num_rows > MOST_ROWS:
            raise ReadError(name, f"has {about.num_rows:,} rows; the most is {MOST_ROWS:,}")
        if unpacked > LARGEST_UNPACKED:
            raise ReadError(name, f"would come to more than {LARGEST_UNPACKED // 1_000_000:,} MB when unpacked")
        for column in schema:
            if pa.types.is_nested(column.type):
                raise ReadError(name, f"column {short(column.name)!r} holds lists or tables, not cells")
        self.rows = about.num_rows
        _, self.names = heading([list(schema.names)], name)

    def __iter__(self) -> Iterator[TextChunk]:
        import pyarrow as pa
        import pyarrow.parquet as pq

        line = 2
        try:
            with self.opened() as file, pq.ParquetFile(file) as book:
                for batch in book.iter_batches(BATCH * 5, use_threads=False):
                    lines = np.arange(line, line + len(batch))
                    line += len(batch)
                    yield self._chunk(batch.columns, lines, min(1.0, (line - 2) / max(1, self.rows)))
        except (pa.ArrowException, OSError, ValueError) as fault:
            raise ReadError(self.name, f"is a damaged Parquet file ({short(str(fault))})") from fault

    def _chunk(self, arrays: list[Any], lines: Any, done: float) -> TextChunk:
        import pyarrow as pa

        numbers, texts = {}, {}
        for name, cells in zip(self.names, arrays, strict=True):
            kind = cells.type
            if pa.types.is_dictionary(kind):
                cells = cells.dictionary_decode()
                kind = cells.type
            cells.validate(full=True)  # a damaged file may hold text that is none
            if pa.types.is_integer(kind) or pa.types.is_floating(kind) or pa.types.is_decimal(kind):
                numbers[name] = cells.cast(pa.float64()).to_numpy(zero_copy_only=False).astype(float)
            if pa.types.is_string(kind) or pa.types.is_large_string(kind):
                texts[name] = series(cells)
            else:
                texts[name] = series([text_of(_plain(cell)) for cell in cells.to_pylist()])
        return TextChunk(lines, texts, numbers, (), done)


def _plain(cell: Any) -> Any:
    """A value of Parquet as one of a spreadsheet."""
    import decimal

    if isinstance(cell, decimal.Decimal):
        return float(cell)
    return cell.decode("utf-8", "replace") if isinstance(cell, bytes) else cell
