"""What the readers of job books have in common: a chunk of text cells, the line of each row, and what was skipped.

A row's line is counted as a spreadsheet counts it: the first record of the file is line 1, blank ones count, and a cell
with a line end in it does not make two lines.
"""

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Final, TypeAlias

import numpy as np
from numpy.typing import NDArray

from ...arrays import Floats
from ...errors import Message, ReadError
from ..meters.log_table import short as short

if TYPE_CHECKING:
    import pandas as pd
    import pyarrow as pa

    Text: TypeAlias = pd.Series[str]

LARGEST_UPLOAD: Final = 300_000_000
"""A million rows of a shop's book come to half of this. [byte]"""
LARGEST_FILE: Final = 10_000_000_000
"""A book on one's own disk is read in chunks, whatever its size; beyond this it is no job book. [byte]"""
LARGEST_UNPACKED: Final = 2_000_000_000
"""What a packed file may come to; a sheet of a million rows is one of about 1,000,000,000. [byte]"""
DENSEST: Final = 300
"""Bytes of cells that one byte of a file may come to. Text comes to 9."""
SMALL: Final = 5_000_000
"""Cells that do no harm, however densely packed. [byte]"""
TOO_DENSE: Final = "is packed more densely than any book is; it is not unpacked"
LARGEST_CHUNK: Final = 16_000_000
"""Cells held at a time; the next ones are read meanwhile. [byte]"""
MOST_CELLS: Final = 400_000
"""Made at a time; most may be blank, and take no byte in the file."""
LONGEST_CELL: Final = 32_767
"""As in Excel. [character]"""
SKIPPED: Final = 200
"""What a row skipped takes. [byte]"""
MOST_ROWS: Final = 50_000_000
MOST_COLUMNS: Final = 400
LONGEST_HEADING: Final = 200
"""Of one column. [character]"""
HEADING_WITHIN: Final = 50
"""Rows at the top of a book, among which its heading stands: titles and blank rows come before it."""


@dataclass(frozen=True, slots=True)
class RejectedRow:
    """A row that could not be read: the line, the heading of the column, the code of the reason, and what stood there.

    The reasons are the keys of `[job_book.reason]` in the language files.
    """

    row: int
    column: str
    reason: str
    text: str


@dataclass(frozen=True)
class TextChunk:
    """Some rows of a book: every column as text, trimmed by nobody; blank cells are empty text."""

    lines: NDArray[np.int64]
    """Line of each row."""
    columns: "Mapping[str, Text]"
    """By heading."""
    numbers: Mapping[str, Floats] = field(default_factory=dict)
    """Columns with cells that came as numbers, as a spreadsheet keeps them; NaN where a cell came as text."""
    skipped: tuple[RejectedRow, ...] = ()
    """Rows that could not be cut into cells; they are not among the lines."""
    share_done: float = 1.0
    """How much of the book has been read when this chunk has, for a bar of progress."""
    folded: Mapping[str, int] = field(default_factory=dict)
    """Rows that are no jobs of their own, by why: `line`, `duplicate`."""

    def __len__(self) -> int:
        return len(self.lines)


def heading(records: Sequence[Sequence[str]], name: str) -> tuple[int, tuple[str, ...]]:
    """Find the row with the names of the columns, and make each name one of its own.

    It is the first row with letters in at least half of as many cells as the fullest row has.
    """
    lettered = [sum(bool(re.search(r"[^\W\d_]", cell)) for cell in record) for record in records]
    widest = max((sum(bool(cell.strip()) for cell in record) for record in records), default=0)
    if widest == 0:
        raise ReadError(name, "is empty")
    if widest < 2:
        raise ReadError(name, "has one column only; cells are set apart by a comma, semicolon, tab or upright stroke")
    at = next((at for at, count in enumerate(lettered) if count >= max(2, widest / 2)), None)
    if at is None:
        raise ReadError(name, "has no heading among its first {n} rows", len(records))
    return at, _names(records[at], f"{name}, line {at + 1}")


def _names(cells: Sequence[str], where: str) -> tuple[str, ...]:
    if len(cells) > MOST_COLUMNS:
        raise ReadError(where, "has more than {most} columns", MOST_COLUMNS)
    names: list[str] = []
    for position, cell in enumerate(cells, start=1):
        bare = " ".join(clean(cell).split())
        if len(bare) > LONGEST_HEADING:
            raise ReadError(
                where, "has a heading of {n:,} characters; the most is {longest_heading}", len(bare), LONGEST_HEADING
            )
        name, count = bare or f"column {position}", 2
        while name in names:
            name, count = f"{bare or f'column {position}'} ({count})", count + 1
        names.append(name)
    return tuple(names)


UNSEEN: Final = "[\\x00-\\x08\\x0b\\x0c\\x0e-\\x1f\\x7f\ufeff\ufffe\uffff]"
"""What cannot be seen, or may not stand in a spreadsheet, as a pattern for `re` and for arrow."""


def clean(text: str) -> str:
    """Take out what cannot be seen, and what no spreadsheet may hold."""
    return re.sub(UNSEEN, "", text)


def series(cells: Any) -> "Text":
    """Cells of an arrow array, or of a list, as a column of text; blank where there is none."""
    import pandas as pd
    import pyarrow as pa
    import pyarrow.compute as pc

    array = cells if isinstance(cells, pa.Array | pa.ChunkedArray) else pa.array(cells, pa.string())
    filled = array.cast(pa.large_string())
    filled = pc.fill_null(filled, "") if filled.null_count else filled
    return pd.Series(pd.array(filled, dtype="str"))


def trimmed(cells: "Text") -> "pa.LargeStringArray":
    """A column of text without blanks at either end, as one array of arrow."""
    import pyarrow as pa
    import pyarrow.compute as pc

    text = pc.utf8_trim_whitespace(pa.array(cells.array))
    return text.combine_chunks() if isinstance(text, pa.ChunkedArray) else text


def resized(chunks: Iterable[TextChunk], size: int, name: str, most: int) -> Iterator[TextChunk]:
    """Cut and join chunks to a size, so that memory does not hang on how a file was written.

    `ReadError`: a cell is too long, or the cells come to more bytes than `most`.
    """
    held: list[TextChunk] = []
    count = room = came = 0
    for chunk in chunks:
        if not len(chunk) and not chunk.skipped:
            continue
        held.append(chunk)
        taken = SKIPPED * len(chunk.skipped) + sum(_bytes_of(cells, chunk, name) for cells in chunk.columns.values())
        count, room, came = count + len(chunk), room + taken, came + taken
        if came > max(SMALL, most):
            raise ReadError(name, TOO_DENSE)
        while count >= size or room >= LARGEST_CHUNK:
            whole = put_together(held)
            yield part_of(whole, slice(0, size), whole.skipped)
            rest = part_of(whole, slice(size, None), ())
            held, count, room = [rest], len(rest), sum(cells.nbytes for cells in rest.columns.values())
    if count or any(chunk.skipped for chunk in held):
        yield put_together([chunk for chunk in held if len(chunk) or chunk.skipped])


def _bytes_of(cells: "Text", chunk: TextChunk, name: str) -> int:
    """Bytes of a column, of which no cell is too long."""
    import pyarrow as pa
    import pyarrow.compute as pc

    array = pa.array(cells.array)
    if (pc.max(pc.binary_length(array)).as_py() or 0) > LONGEST_CELL:
        lengths = pc.utf8_length(array).to_numpy(zero_copy_only=False)
        if lengths.max() > LONGEST_CELL:
            line = chunk.lines[int(lengths.argmax())]
            raise ReadError(
                Message("{where}, line {line}", name, line),
                "has a cell of {n:,} characters; the most is {most:,}",
                lengths.max(),
                LONGEST_CELL,
            )
    return int(cells.nbytes)


def part_of(
    chunk: TextChunk, which: slice | NDArray[np.bool_] | NDArray[np.intp], skipped: tuple[RejectedRow, ...]
) -> TextChunk:
    """Some rows of a chunk."""
    columns = {name: cells.iloc[which].reset_index(drop=True) for name, cells in chunk.columns.items()}
    numbers = {name: values[which] for name, values in chunk.numbers.items()}
    return TextChunk(chunk.lines[which], columns, numbers, skipped, chunk.share_done)


def put_together(chunks: Sequence[TextChunk]) -> TextChunk:
    """Chunks one after another."""
    import pandas as pd

    if len(chunks) == 1:
        return chunks[0]
    names = list(chunks[0].columns)
    numeric = [name for name in names if any(name in chunk.numbers for chunk in chunks)]
    nothing = {id(chunk): np.full(len(chunk), np.nan) for chunk in chunks}
    return TextChunk(
        np.concatenate([chunk.lines for chunk in chunks]),
        {name: pd.concat([chunk.columns[name] for chunk in chunks], ignore_index=True) for name in names},
        {name: np.concatenate([chunk.numbers.get(name, nothing[id(chunk)]) for chunk in chunks]) for name in numeric},
        tuple(skipped for chunk in chunks for skipped in chunk.skipped),
        chunks[-1].share_done,
    )
