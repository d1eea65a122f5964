"""A shop's job book as a stream of chunks of text: CSV and Excel, recognised by their content.

Nothing is understood here. Which column is which is the task of `columns`, what a cell means that of `rows`. What
is too large, or packed to do harm, is refused before it is opened.
"""

from collections.abc import Callable, Collection, Iterable, Iterator
from dataclasses import dataclass, replace
from functools import partial
from io import BytesIO
from pathlib import Path
from typing import IO, Final

import numpy as np

from ...errors import ReadError
from ..files.plain_file import open_plain
from ..tables.vocabulary import tells_who
from .chunks import DENSEST, LARGEST_FILE, LARGEST_UPLOAD, TextChunk, part_of, resized, series, short
from .sheet import ExcelRows
from .text import TextRows

CHUNK: Final = 50_000
"""Rows at a time."""

Progress = Callable[[int, float], None]
"""Told how many rows are done, and what share of the whole."""

_OLD_EXCEL: Final = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"


@dataclass(frozen=True)
class JobBook:
    """A job book that can be read again and again, from its beginning each time."""

    name: str
    header: tuple[str, ...]
    """Names of the columns; one without a name is called by its position, and one that comes twice is numbered."""
    rows: Iterable[TextChunk]
    size: int
    """Of the file. [byte]"""
    sheets: tuple[str, ...] = ()
    """Of an Excel file."""
    sheet: str | None = None
    """The one that is read."""

    def chunks(self, size: int = CHUNK) -> Iterator[TextChunk]:
        """The rows after the heading, at most so many at a time; memory hangs on this size, not on the book's."""
        if size < 1:
            raise ReadError(self.name, "cannot be read {size} rows at a time", size)
        return resized(self.rows, size, self.name, DENSEST * self.size)


def open_book(source: Path | bytes, name: str, sheet: str | None = None) -> JobBook:
    """Open a job book, from a file or from what was uploaded; the name is for messages only.

    `ReadError`: the file is too large, damaged, packed to do harm, or no book at all; says which.
    """
    opened: Callable[[], IO[bytes]]
    try:
        if isinstance(source, bytes):
            size, most, opened = len(source), LARGEST_UPLOAD, partial(BytesIO, source)
        else:
            size, most, opened = source.stat().st_size, LARGEST_FILE, partial(open_plain, source)
        if size > most:
            raise ReadError(name, "is larger than {most:,} MB", most // 1000000)
        with opened() as file:
            begin = file.read(8)
        if begin[:4] == b"PK\x03\x04":
            excel = ExcelRows(opened, name, sheet)
            return JobBook(name, excel.names, excel, size, excel.sheets, excel.sheet)
        if sheet is not None:
            raise ReadError(name, "is no Excel file, so it has no sheets")
        if begin == _OLD_EXCEL:
            raise ReadError(name, "is an old or locked Excel file; save it as .xlsx without a password")
        if begin[:4] == b"PAR1":
            raise ReadError(name, "is a Parquet file; save the book as .xlsx or .csv")
        text = TextRows(opened, size, name)
        return JobBook(name, text.names, text, size)
    except (OSError, ValueError) as error:
        raise ReadError(name, getattr(error, "strerror", None) or "cannot be opened") from error


def mended(book: JobBook, again: JobBook) -> JobBook:
    """A book in which rows that were skipped stand as somebody mended them.

    `again` holds them as `jobs` writes them: the book's own columns, then the line of each row. `ReadError`: its
    columns are not those of the book, or a line is no number.
    """
    size = len(book.header)
    if again.header[:size] != book.header or len(again.header) <= size:
        raise ReadError(again.name, "must begin with the columns of {book}, as the skipped rows are written", book.name)
    rows: dict[int, list[str]] = {}
    for chunk in again.chunks():
        for line, *cells in zip(*(chunk.columns[name] for name in (again.header[size], *book.header)), strict=True):
            if not line.strip().isdecimal():
                raise ReadError(again.name, "has {line!r} where the line of the row in the book stands", short(line))
            rows[int(line)] = cells
    return replace(book, rows=_Mended(book, rows, [name for name in book.header if tells_who(name)]))


@dataclass(frozen=True)
class _Mended:
    """The rows of a book, those of some lines replaced, and those that could not be cut put in."""

    book: JobBook
    mended: dict[int, list[str]]
    people: Collection[str]
    """Columns that may have been left blank when the rows were written."""

    def __iter__(self) -> Iterator[TextChunk]:
        for chunk in self.book.rows:
            added = [row.row for row in chunk.skipped if row.row in self.mended]
            lines = np.concatenate([chunk.lines, np.array(added, dtype=np.int64)])
            at = {int(line): index for index, line in enumerate(lines) if int(line) in self.mended}
            columns, numbers = {}, {name: values.copy() for name, values in chunk.numbers.items()}
            for position, name in enumerate(self.book.header):
                cells = [*chunk.columns[name], *[""] * len(added)]
                for line, index in at.items():
                    cells[index] = self.mended[line][position] or (cells[index] if name in self.people else "")
                columns[name] = series(cells)
                if name in numbers:
                    numbers[name] = np.concatenate([numbers[name], np.full(len(added), np.nan)])
                    numbers[name][list(at.values())] = np.nan
            order = np.argsort(lines, kind="stable")
            left = tuple(row for row in chunk.skipped if row.row not in self.mended)
            whole = TextChunk(lines, columns, numbers, left, chunk.share_done)
            yield part_of(whole, order, left) if added else whole
