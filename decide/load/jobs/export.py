"""Rows out: columns to CSV, Excel or Parquet, chunk by chunk, so that memory does not grow with the rows.

A text that a spreadsheet would take for a formula is made harmless; a number stays a number. The file appears under
its name when it is whole, and not before.
"""

import contextlib
import csv
import io
import math
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import IO, TYPE_CHECKING, Any, Final, Protocol, Self

import numpy as np

from ...errors import ReadError
from ..files.plain_file import new_file, refuse_target, write_file
from .chunks import LONGEST_CELL, LONGEST_HEADING, UNSEEN, clean, series
from .numbers import numbers_of
from .rows import day_of

if TYPE_CHECKING:
    import pyarrow as pa

_BLANKS: Final = "\\s\x85\xa0\xad\u1680\u180e\u2000-\u200f\u2028-\u202f\u205f-\u206f\u2800\u3000\u3164\ufeff"
_SIGNS: Final = "=+\\-@\uff1d\uff0b\uff0d\uff20"  # How what a spreadsheet works out begins, full width too.
_HARMLESS: Final = (
    (UNSEEN, ""),
    (f"^([{_BLANKS}]*[{_SIGNS}\t\r])", r"'\1"),
    (f"([;\n\r\t][{_BLANKS}]*)([{_SIGNS}])", r"\1'\2"),
)
"""Patterns and what takes their place: where cells are set apart by semicolons or tabs, a new one begins in a text."""

SHEET: Final = "jobs"
SHEET_ROWS: Final = 1_048_576
"""A sheet of Excel has no more; what is beyond goes on in a further one."""
EPOCH: Final = 25_569
"""Day of a sheet on which 1970 begins."""
FORMATS: Final = {
    "number": "General", "share": "0.0%", "day": "yyyy-mm-dd", "moment": "yyyy-mm-dd hh:mm:ss", "years": "0.0",
}  # fmt: skip
LEAST_WIDE, MOST_WIDE, LOOKED_AT = 9, 40, 200
"""Widths of columns [character], and rows that tell them."""
_AMOUNT: Final = "^[\\s$\u20ac\u00a3\u00a0\u202f]*-?[0-9][0-9.,'\u2019\u00a0\u202f]*[\\s$\u20ac\u00a3]*$"
"""A cell that is a number and nothing else; others stay as they came."""


def neutralised(text: str) -> str:
    """Text that no spreadsheet takes for a formula: an apostrophe before what begins like one; nothing unseen in it."""
    for pattern, harmless in _HARMLESS:
        text = re.sub(pattern, harmless, text)
    return text


def write_table(path: Path, rows: Sequence[Mapping[str, object]], over: bool = True) -> None:
    """Write a few rows of one form as CSV, in plain numbers, its text made harmless; `ReadError` where it cannot."""
    plain = [{name: neutralised(cell) if isinstance(cell, str) else cell for name, cell in row.items()} for row in rows]
    text = io.StringIO(newline="")
    writer = csv.DictWriter(text, list(plain[0]))  # its own line end has a return in it: a cell that has one is quoted
    writer.writeheader()
    writer.writerows(plain)
    write_file(path, text.getvalue(), over)


@dataclass(frozen=True, kw_only=True)
class SheetForm:
    """How a sheet shows columns, and reads those that are text."""

    summary: str = ""
    """Name of a first sheet with what came of the rows; none without it."""
    kinds: Mapping[str, str] = field(default_factory=dict)
    """Kind of a column by its heading: `money`, `share`, `number` or `day`; text is left as text without one."""
    money: str = "#,##0.00"
    """Format of an amount."""
    decimal_mark: str | None = None
    date_order: str | None = None

    def cells(self, name: str, column: "pa.ChunkedArray") -> tuple[list[Any], str]:
        """The cells of a column as a sheet holds them, and its kind; days count from the end of 1899."""
        import pyarrow as pa
        import pyarrow.compute as pc

        kind = self.kinds.get(name, "number")
        if pa.types.is_temporal(column.type):
            days = np.asarray(column.to_numpy(), "datetime64[s]")
            serial = days.astype(float) / 86_400 + EPOCH
            clock = np.any(serial[~np.isnat(days)] % 1)
            return np.where(np.isnat(days), np.nan, serial).tolist(), "moment" if clock else "day"
        if not pa.types.is_large_string(column.type):
            return column.to_pylist(), kind
        text = pc.replace_substring_regex(pc.replace_substring_regex(column, "\r\n?", "\n"), UNSEEN, "")
        found = pc.utf8_slice_codeunits(text, 0, LONGEST_CELL).to_pylist()
        if name in self.kinds and kind == "day":
            read = {word: day_of(word.strip(), self.date_order)[0] for word in set(found) if word}
            known = {word: int(day.astype(int)) + EPOCH for word, day in read.items() if not np.isnat(day)}
            return [known.get(word, word) for word in found], kind
        if name in self.kinds:
            plain = pc.if_else(pc.match_substring_regex(text, _AMOUNT), text, "")
            values, _ = numbers_of(series(plain), None, "money" if kind == "money" else "", self.decimal_mark)
            found = [word if value != value else value for word, value in zip(found, values.tolist(), strict=True)]
        return found, kind


Summed = Sequence[tuple[str, float, str] | tuple[str]]
"""A name, its number and what kind it is; or a text alone, which is a heading where numbers follow it."""


class _Sink(Protocol):
    def write_table(self, table: "pa.Table") -> None: ...
    def close(self) -> None: ...


class RowWriter(contextlib.ExitStack[bool | None]):
    """Writes columns to a file, chunk by chunk; used in a `with`, it leaves no half a file behind.

    Without a row there are no columns either, and no file.
    """

    def __init__(
        self, path: Path, sink: "Callable[[IO[bytes], pa.Schema, SheetForm], _Sink]", over: bool, form: SheetForm
    ) -> None:
        super().__init__()
        refuse_target(path, over)
        self.path, self.over, self.form = path, over, form
        self.make = sink
        self.schema: pa.Schema | None = None
        self.sink: _Sink | None = None

    @classmethod
    def of(cls, path: Path, over: bool = True, form: SheetForm | None = None) -> Self:
        """Choose how to write by the name: `.csv`, `.xlsx` or `.parquet`; an old file is written over unless told.

        `form`: what a sheet's columns are shown as; the other kinds of file need none.
        """
        sinks: Mapping[str, Any] = {".csv": _Csv, ".xlsx": _Excel, ".parquet": _parquet}
        if path.suffix.lower() not in sinks:
            raise ReadError(str(path), "must end in {kinds}", ", ".join(sinks))
        return cls(path, sinks[path.suffix.lower()], over, form or SheetForm())

    def write(self, columns: Mapping[str, Any]) -> None:
        """Write some rows: columns of one length by heading, the same ones each time.

        A column is what numpy, pandas or a list holds. What is no number is NaN, and a blank cell in the file.
        """
        import pyarrow as pa

        try:
            named = {neutralised(name)[:LONGEST_HEADING] or "column": values for name, values in columns.items()}
            table = pa.table({name: _column(values) for name, values in named.items()})
            if self.sink is None:
                self.schema = table.schema
                self.sink = self.make(self.enter_context(new_file(self.path, self.over)), self.schema, self.form)
                self.push(self._end)
            self.sink.write_table(table.cast(self.schema))
        except OSError as error:
            raise ReadError(str(self.path), error.strerror or "cannot be written") from error
        except (pa.ArrowException, ValueError) as error:
            raise ReadError(str(self.path), "cannot hold these columns ({error})", error) from error

    def summarise(self, lines: Summed) -> None:
        """Fill the first sheet of a workbook: a heading or sentence alone, or a name and its number with its kind."""
        if isinstance(self.sink, _Excel):
            self.sink.summarise(lines)

    def _end(self, _kind: object, error: BaseException | None, _at: object) -> None:
        """Finish the file; where something went wrong it is dropped, and nothing more is said of it."""
        assert self.sink is not None
        with contextlib.suppress(*(() if error is None else (Exception,))):
            self.sink.close()


def _column(values: Any) -> "pa.Array":
    """A column of arrow: numbers, days, or text; nothing where there is NaN."""
    import pyarrow as pa

    array = pa.array(values, from_pandas=True)
    array = array.combine_chunks() if isinstance(array, pa.ChunkedArray) else array
    kind = array.type
    if pa.types.is_dictionary(kind):
        array, kind = array.dictionary_decode(), kind.value_type
    if pa.types.is_string(kind) or pa.types.is_large_string(kind) or pa.types.is_null(kind):
        return array.cast(pa.large_string())
    if pa.types.is_timestamp(kind):
        return array.cast(pa.timestamp("s"), safe=False)
    return array.cast(pa.int64()) if pa.types.is_integer(kind) else array


class _Csv:
    """UTF-8 with a mark that tells spreadsheets so; commas, points, days year first."""

    def __init__(self, file: IO[bytes], schema: "pa.Schema", form: SheetForm) -> None:
        from pyarrow import csv

        file.write(b"\xef\xbb\xbf")
        self.writer = csv.CSVWriter(file, schema)

    def write_table(self, table: "pa.Table") -> None:
        import pyarrow as pa
        import pyarrow.compute as pc

        columns = []
        for cells in table.columns:
            odd = "|".join(pattern for pattern, _ in _HARMLESS)
            if pa.types.is_large_string(cells.type) and pc.any(pc.match_substring_regex(cells.unique(), odd)).as_py():
                for pattern, harmless in _HARMLESS:
                    cells = pc.replace_substring_regex(cells, pattern, harmless)
            columns.append(cells)
        self.writer.write_table(pa.table(columns, schema=table.schema))

    def close(self) -> None:
        self.writer.close()


class _Excel:
    """Numbers, days, shares and money as such; text as text whatever it begins with, and never a formula."""

    def __init__(self, file: IO[bytes], schema: "pa.Schema", form: SheetForm) -> None:
        import xlsxwriter

        self.names, self.form, self.rows = [clean(name) for name in schema.names], form, 0
        self.folder, self.widths = TemporaryDirectory(), [MOST_WIDE] * len(schema)
        self.book = xlsxwriter.Workbook(file, {"constant_memory": True, "tmpdir": self.folder.name})
        self.book.use_zip64()
        codes = {**FORMATS, "money": form.money}
        self.formats = {kind: self.book.add_format({"num_format": code}) for kind, code in codes.items()}
        self.bold = self.book.add_format({"bold": True, "text_wrap": True, "valign": "top"})
        self.first = self.book.add_worksheet(form.summary) if form.summary else None

    def summarise(self, lines: Summed) -> None:
        """Write the first sheet; it stays two columns wide, so that no reader takes it for a book."""
        if self.first is None:
            return
        self.first.set_column(0, 0, 2 * MOST_WIDE)
        self.first.set_column(1, 1, 2 * LEAST_WIDE)
        plain = self.book.add_format({"text_wrap": True, "valign": "top"})
        for at, line in enumerate(lines):
            heads = len(line) == 1 < len(lines[min(at + 1, len(lines) - 1)])
            self.first.write_string(at, 0, clean(line[0]), self.bold if heads else plain)
            if len(line) == 3:
                self.first.write_number(at, 1, line[1], self.formats[line[2]])

    def _begin(self) -> None:
        """Begin a sheet; the one before gets its filter."""
        self._filter()
        count = len(self.book.worksheets()) - bool(self.first)
        self.sheet, self.rows = self.book.add_worksheet(f"{SHEET} {count + 1}" if count else SHEET), 1
        self.sheet.freeze_panes(1, 0)
        for at, (name, width) in enumerate(zip(self.names, self.widths, strict=True)):
            self.sheet.set_column(at, at, width)
            self.sheet.write_string(0, at, name, self.bold)

    def _filter(self) -> None:
        if self.rows:
            self.sheet.autofilter(0, 0, self.rows - 1, len(self.names) - 1)

    def write_table(self, table: "pa.Table") -> None:
        read = [self.form.cells(name, column) for name, column in zip(table.column_names, table.columns, strict=True)]
        if not self.rows:
            seen = (max((len(str(cell)) for cell in cells[:LOOKED_AT]), default=0) for cells, _ in read)
            self.widths = [
                min(MOST_WIDE, max(LEAST_WIDE, most + 2, len(name) // 2))
                for most, name in zip(seen, self.names, strict=True)
            ]
            self._begin()
        formats = [self.formats[kind] for _, kind in read]
        for row in zip(*(cells for cells, _ in read), strict=True):
            if self.rows == SHEET_ROWS:
                self._begin()
            text, number, line = self.sheet.write_string, self.sheet.write_number, self.rows
            for at, cell in enumerate(row):
                if cell is None or cell == "" or cell != cell:
                    continue
                if cell.__class__ is str:
                    text(line, at, cell)
                elif cell.__class__ is bool:
                    self.sheet.write_boolean(line, at, cell)
                elif abs(cell) == math.inf:
                    text(line, at, str(cell))
                else:
                    number(line, at, cell, formats[at])
            self.rows += 1

    def close(self) -> None:
        if self.book.fileclosed:  # a workbook is saved once, even where its place then proves full
            return
        from xlsxwriter.exceptions import XlsxWriterException

        self._filter()
        self.book.fileclosed = True
        try:
            self.book._store_workbook()
        except XlsxWriterException as error:
            raise error.args[0] if isinstance(error.args[0], OSError) else OSError(str(error)) from error
        finally:
            self.folder.cleanup()


def _parquet(file: IO[bytes], schema: "pa.Schema", form: SheetForm) -> _Sink:
    """Text as it is: nothing works it out."""
    import pyarrow.parquet as pq

    return pq.ParquetWriter(file, schema)
