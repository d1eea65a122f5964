"""Rows out: columns to CSV, Excel or Parquet, chunk by chunk, so that memory does not grow with the rows.

A text that a spreadsheet would take for a formula is made harmless; a number stays a number. The file appears under
its name when it is whole, and not before.
"""

import contextlib
import csv
import io
import re
import zipfile
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from types import TracebackType
from typing import IO, TYPE_CHECKING, Any, Final, Protocol, Self

from ...errors import ReadError
from ..files.plain_file import NewFile, refuse_target, write_file
from .chunks import LONGEST_CELL, LONGEST_HEADING, UNSEEN, clean

if TYPE_CHECKING:
    import pyarrow as pa

_BLANKS: Final = "\\s\u00a0\u1680\u2000-\u200f\u2028\u2029\u202f\u205f\u2060\u3000\ufeff"
_FORMULA: Final = f"^([{_BLANKS}]*[=+\\-@\t\r\uff1d\uff0b\uff0d\uff20])"
"""How a text begins that a spreadsheet works out: the signs, their full-width forms, a tab, a return; blanks before."""

SHEET: Final = "jobs"
SHEET_ROWS: Final = 1_048_576
"""A sheet of Excel has no more; what is beyond goes on in a further one."""


def neutralised(text: str) -> str:
    """Text that no spreadsheet takes for a formula: an apostrophe before what begins like one; nothing unseen in it.

    >>> neutralised("=1+1"), neutralised("  @sum"), neutralised("-12.5"), neutralised("a = b")
    ("'=1+1", "'  @sum", "'-12.5", 'a = b')
    """
    return re.sub(_FORMULA, r"'\1", clean(text))


def write_table(path: Path, rows: Sequence[Mapping[str, object]], over: bool = True) -> None:
    """Write a few rows of one form as CSV, in plain numbers, its text made harmless; `ReadError` where it cannot."""
    plain = [{name: neutralised(cell) if isinstance(cell, str) else cell for name, cell in row.items()} for row in rows]
    text = io.StringIO(newline="")
    writer = csv.DictWriter(text, list(plain[0]))  # its own line end has a return in it: a cell that has one is quoted
    writer.writeheader()
    writer.writerows(plain)
    write_file(path, text.getvalue(), over)


class _Sink(Protocol):
    def write_table(self, table: "pa.Table") -> None: ...
    def close(self) -> None: ...


class RowWriter:
    r"""Writes columns to a file, chunk by chunk; used in a `with`, it leaves no half a file behind.

    >>> import tempfile, numpy as np
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     path = Path(folder) / "rows.csv"
    ...     with RowWriter.of(path) as writer:
    ...         writer.write({"quote": np.array([185.5, -3.0]), "note": ["=1+1", "none"]})
    ...     path.read_text("utf-8-sig").splitlines()
    ['"quote","note"', '185.5,"\'=1+1"', '-3,"none"']
    """

    def __init__(self, path: Path, sink: "Callable[[IO[bytes], pa.Schema], _Sink]", over: bool) -> None:
        refuse_target(path, over)
        self.path, self.over = path, over
        self.make = sink
        self.whole: NewFile | None = None
        self.schema: pa.Schema | None = None
        self.sink: _Sink | None = None

    @classmethod
    def of(cls, path: Path, over: bool = True) -> Self:
        """Choose how to write by the name: `.csv`, `.xlsx` or `.parquet`; an old file is written over unless told."""
        kinds: dict[str, Callable[[IO[bytes], Any], _Sink]] = {".csv": _Csv, ".xlsx": _Excel, ".parquet": _parquet}
        if path.suffix.lower() not in kinds:
            raise ReadError(str(path), "must end in {kinds}", ", ".join(kinds))
        return cls(path, kinds[path.suffix.lower()], over)

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
                self.whole = NewFile(self.path, self.over)
                self.sink = self.make(self.whole.__enter__(), self.schema)
            self.sink.write_table(table.cast(self.schema))
        except OSError as error:
            self.drop()
            raise ReadError(str(self.path), error.strerror or "cannot be written") from error
        except (pa.ArrowException, ValueError) as error:
            self.drop()
            raise ReadError(str(self.path), "cannot hold these columns ({error})", error) from error

    def close(self) -> None:
        """Finish the file, and give it its name."""
        if self.sink is None or self.whole is None:
            return  # without a row there are no columns either
        try:
            self.sink.close()
            self.whole.keep()
        except OSError as error:
            self.drop()
            raise ReadError(str(self.path), error.strerror or "cannot be written") from error
        self.sink = None

    def drop(self) -> None:
        """Leave nothing behind."""
        with contextlib.suppress(Exception):
            if self.sink is not None:
                self.sink.close()
        self.sink = None
        if self.whole is not None:
            self.whole.drop()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        if kind is None:
            self.close()
        else:
            self.drop()


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

    def __init__(self, file: IO[bytes], schema: "pa.Schema") -> None:
        from pyarrow import csv

        file.write(b"\xef\xbb\xbf")
        self.writer = csv.CSVWriter(file, schema)

    def write_table(self, table: "pa.Table") -> None:
        import pyarrow as pa
        import pyarrow.compute as pc

        columns = []
        for cells in table.columns:
            if pa.types.is_large_string(cells.type):
                seen = pc.replace_substring_regex(cells, UNSEEN, "")
                cells = pc.replace_substring_regex(seen, _FORMULA, r"'\1")
            columns.append(cells)
        self.writer.write_table(pa.table(columns, schema=table.schema))

    def close(self) -> None:
        self.writer.close()


class _Excel:
    """Text as text whatever it begins with, and never a formula."""

    def __init__(self, file: IO[bytes], schema: "pa.Schema") -> None:
        import openpyxl

        self.file, self.names = file, schema.names
        self.book = openpyxl.Workbook(write_only=True)
        self.finished = False
        self._begin()

    def _begin(self) -> None:
        count = len(self.book.worksheets)
        self.sheet = self.book.create_sheet(f"{SHEET} {count + 1}" if count else SHEET)
        self.rows = 0
        self._append(self.names)

    def _append(self, row: Any) -> None:
        self.sheet.append([self._text(cell) if isinstance(cell, str) else cell for cell in row])
        self.rows += 1

    def _text(self, text: str) -> Any:
        from openpyxl.cell import WriteOnlyCell

        cell = WriteOnlyCell(self.sheet, clean(text)[:LONGEST_CELL])
        cell.data_type = "s"  # what begins like a formula, or is called like an error, came out as one
        return cell

    def write_table(self, table: "pa.Table") -> None:
        import math

        for row in zip(*(column.to_pylist() for column in table.columns), strict=True):
            if self.rows == SHEET_ROWS:
                self._begin()
            self._append(str(cell) if isinstance(cell, float) and math.isinf(cell) else cell for cell in row)

    def close(self) -> None:
        if self.finished:  # a workbook is saved once, even where its place then proves full
            return
        from openpyxl.writer.excel import ExcelWriter

        self.finished = True
        packed = zipfile.ZipFile(self.file, "w", zipfile.ZIP_DEFLATED)
        try:
            ExcelWriter(self.book, packed).save()
        except OSError:
            packed.fp = None  # else it complains once more when it is forgotten, as do the sheets
            for sheet in self.book.worksheets:
                with contextlib.suppress(OSError, AttributeError):
                    sheet._writer.xf.close()  # type: ignore[attr-defined]
            raise


def _parquet(file: IO[bytes], schema: "pa.Schema") -> _Sink:
    """Text as it is: nothing works it out."""
    import pyarrow.parquet as pq

    return pq.ParquetWriter(file, schema)
