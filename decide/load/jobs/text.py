"""A job book as text, cut into cells: any usual separator and encoding, in memory that does not grow with the book."""

import codecs
import csv
import io
from bisect import bisect_left
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import IO, Any, Final

import numpy as np
from numpy.typing import NDArray

from ...errors import Message, ReadError
from ..meters.log_table import SEPARATORS
from .chunks import HEADING_WITHIN, MOST_CELLS, MOST_ROWS, RejectedRow, TextChunk, heading, series, short

HEAD: Final = 256_000
"""Beginning of a file in which separator and heading are looked for. [byte]"""
BLOCK: Final = 1_000_000
"""Read at a time; a single row is never longer. [byte]"""
MOST_SPARSE: Final = 10_000_000
"""Cells read at a time, those that rows lack at their end among them."""


def encoding_of(opened: Callable[[], IO[bytes]], name: str) -> tuple[str, int]:
    """Which encoding a file has: UTF-16 by its mark, UTF-8 if all of it is, else Windows-1252; and most lines at once.

    The latter is the most line ends in what is read at a time.
    """
    with opened() as file:
        begin = file.read(4)
    if begin[:2] in (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE) and begin != codecs.BOM_UTF32_LE:
        candidates: tuple[str, ...] = ("utf-16",)
    else:
        candidates = ("utf-8-sig", "cp1252")
    for encoding in candidates:
        decoder, most = codecs.getincrementaldecoder(encoding)(), 0
        try:
            with opened() as file:
                while block := file.read(BLOCK):
                    text = decoder.decode(block)
                    if "\0" in text:
                        raise ReadError(name, "is not a text file, nor an Excel file")
                    most = max(most, text.count("\n"), text.count("\r"))
                decoder.decode(b"", True)
            return encoding, most
        except UnicodeDecodeError:
            continue
    raise ReadError(name, "is not text in {candidates}", " or ".join(candidates))


def sketch(opened: Callable[[], IO[bytes]], name: str) -> tuple[str, str, int, tuple[str, ...]]:
    """Encoding, separator, position of the heading and names of the columns."""
    encoding, lines = encoding_of(opened, name)
    with opened() as file:
        raw = file.read(HEAD)
    text = codecs.getincrementaldecoder(encoding)().decode(raw, False).removeprefix("\ufeff")
    whole = len(raw) < HEAD
    tried = [(separator, _records(text, separator, whole)) for separator in SEPARATORS]
    separator, records = max(tried, key=lambda each: _agreement(each[1]))
    if not records and text.strip():
        raise ReadError(name, "has no row that ends within its first {head:,} bytes", HEAD)
    at, names = heading(records, name)
    if lines * len(names) > MOST_SPARSE:  # whole rows have a byte a cell at least
        raise ReadError(name, "has {n} columns, and most rows have fewer cells", len(names))
    return encoding, separator, at, names


def _records(text: str, separator: str, whole: bool) -> list[list[str]]:
    """The first rows; the last is left out where the text was cut, for it may be cut too."""
    found: list[list[str]] = []
    try:
        for record in csv.reader(io.StringIO(text, newline=""), delimiter=separator):
            found.append(record)
            if len(found) > 2 * HEADING_WITHIN:
                break
    except csv.Error:  # a cell without an end, which the rows themselves will come to
        return found
    return found if whole or len(found) > 2 * HEADING_WITHIN else found[:-1]


def _agreement(records: Sequence[Sequence[str]]) -> float:
    """How many separators a row has, where the rows agree on it."""
    widths = [len(record) for record in records if any(cell.strip() for cell in record)]
    if not widths:
        return 0.0
    usual = max(set(widths), key=widths.count)
    return (usual - 1) * (widths.count(usual) / len(widths)) ** 2


class TextRows:
    """The rows of a text file after its heading, chunk by chunk."""

    def __init__(self, opened: Callable[[], IO[bytes]], size: int, name: str) -> None:
        self.opened, self.size, self.name = opened, size, name
        self.encoding, self.separator, self.at, self.names = sketch(opened, name)

    def __iter__(self) -> Iterator[TextChunk]:
        import pyarrow as pa

        odd: dict[int, str] = {}
        line = self.at + 2
        with self.opened() as plain, _native(plain) as file:
            try:
                for batch in self._batches(file, odd):
                    yield from self._chunks(batch, odd, line, min(1.0, file.tell() / max(1, self.size)))
                    line = self.last + 1
                    if line > MOST_ROWS:
                        raise ReadError(self.name, "has more than {most_rows:,} rows", MOST_ROWS)
            except (pa.ArrowException, UnicodeError, csv.Error) as error:
                why = Message("cannot be cut into cells ({error})", short(str(error)))
                if any(sign in str(error) for sign in ("straddling", "out of sync", "truncated")):
                    why = Message("a quoted text has no end, or a row is longer than {most:,} bytes", BLOCK)
                raise ReadError(Message("{name}, after line {line}", self.name, line - 1), why) from error

    def _batches(self, file: Any, odd: dict[int, str]) -> Iterator[Any]:
        """Batches of rows with as many cells as the heading has; the text of any other row is noted by its line."""
        import pyarrow as pa
        from pyarrow import csv as arrow_csv

        def note(row: Any) -> str:
            odd[row.number] = row.text
            return "skip"

        positions = [str(position) for position in range(len(self.names))]
        kinds = dict.fromkeys(positions, pa.large_string())
        reader = arrow_csv.open_csv(
            file,
            arrow_csv.ReadOptions(
                use_threads=False, block_size=BLOCK, column_names=positions, skip_rows_after_names=self.at + 1,
                encoding="utf-8" if self.encoding == "utf-8-sig" else self.encoding,
            ),
            arrow_csv.ParseOptions(
                delimiter=self.separator, newlines_in_values=True, ignore_empty_lines=False, invalid_row_handler=note
            ),
            arrow_csv.ConvertOptions(column_types=kinds, strings_can_be_null=False),
        )  # fmt: skip
        yield from reader
        if odd:  # after the last row of the usual width
            yield pa.RecordBatch.from_pydict({position: pa.array([], pa.large_string()) for position in positions})

    def _chunks(self, batch: Any, odd: dict[int, str], line: int, done: float) -> Iterator[TextChunk]:
        """The rows of a batch with the odd ones between them, few enough at a time that blank cells take no room."""
        whole = len(batch)
        spread = np.arange(line, line + whole + len(odd))
        even = spread[~np.isin(spread, list(odd))][:whole] if odd else spread
        self.last = int(even[-1]) if whole else max(odd, default=line - 1)
        due = [number for number in sorted(odd) if number <= self.last]
        step = max(1, MOST_CELLS // len(self.names))
        for begin in range(line, self.last + 1, step):
            first, end = np.searchsorted(even, (begin, begin + step))
            some = due[bisect_left(due, begin) : bisect_left(due, begin + step)]
            piece = batch.slice(first, end - first).columns
            yield self._chunk(piece, even[first:end], {number: odd.pop(number) for number in some}, done)

    def _chunk(self, arrays: list[Any], even: NDArray[np.int64], due: dict[int, str], done: float) -> TextChunk:
        import pyarrow as pa

        mended, skipped = self._mended(due)
        if mended:
            extra = list(zip(*mended.values(), strict=True))
            lines = np.concatenate([even, np.fromiter(mended, np.int64)])
            order = np.argsort(lines)
            arrays = [
                pa.concat_arrays([cells, pa.array(more, pa.large_string())]).take(pa.array(order))
                for cells, more in zip(arrays, extra, strict=True)
            ]
            even = lines[order]
        columns = dict(zip(self.names, map(series, arrays), strict=True))
        return TextChunk(even.astype(np.int64), columns, {}, skipped, done)

    def _mended(self, odd: dict[int, str]) -> tuple[dict[int, list[str]], tuple[RejectedRow, ...]]:
        """Rows of another width: what is missing at the end is blank; a filled cell too many skips the row."""
        width = len(self.names)
        mended: dict[int, list[str]] = {}
        skipped: list[RejectedRow] = []
        for line, text in odd.items():
            try:
                cells = next(csv.reader(io.StringIO(text, newline=""), delimiter=self.separator), [])
            except csv.Error:
                cells = [text] * (width + 1)
            if any(cell.strip() for cell in cells[width:]):
                skipped.append(RejectedRow(line, "", "too_many_cells", short(text)))
            else:
                mended[line] = (cells + [""] * width)[:width]
        return mended, tuple(skipped)


def _native(file: IO[bytes]) -> Any:
    """The file as Arrow reads it by itself: a thread of it that reads ahead through Python dies of Python's end."""
    import pyarrow as pa

    if isinstance(file, io.BytesIO):
        return pa.BufferReader(file.getvalue())
    again = f"/dev/fd/{file.fileno()}"
    return pa.OSFile(again) if Path(again).exists() else file
