"""Rows that are one job: several lines of a job number are put together, and rows that come twice are dropped.

Lines of a job stand together, with one number and one day. Amounts that differ from line to line are added up;
those that most jobs of a chunk repeat on every line, such as a total, count once. Elsewhere the first cell holds.
A row that is paid back is left to stand by itself.
"""

from collections.abc import Generator
from dataclasses import replace
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from ...arrays import Floats
from ...economics.bounds import MONEY
from .book import CHUNK, JobBook
from .chunks import RejectedRow, TextChunk, part_of, put_together, series, short, texts, trimmed
from .columns import MONEY_ROLES, ColumnMapping
from .numbers import numbers_of

if TYPE_CHECKING:
    import pyarrow as pa

DUPLICATE, LINE, LINE_APART = "duplicate", "line", "line_apart"

MOST_REMEMBERED: Final = 4_000_000
"""Rows that are remembered, so that one that comes again is known; beyond it the older half is forgotten."""

SUMMED: Final = (*MONEY_ROLES, "labour_hours")
NAMING: Final = ("job", "unit", "customer")
"""Roles one of which a row must fill before another like it is the same: else two jobs may be alike by chance."""


def job_chunks(book: JobBook, mapping: ColumnMapping, size: int = CHUNK) -> Generator[TextChunk, None, None]:
    """The rows of a book, at most so many at a time, each of them a job of its own."""
    if not any(role in mapping.columns for role in NAMING):
        yield from book.chunks(size)
        return
    seen, held = (_Seen(), _Seen()), None
    for chunk in book.chunks(size):
        whole = chunk if held is None else put_together([held, chunk])
        if "job" not in mapping.columns:
            yield _once(whole, mapping, *seen)
            continue
        begins = _begins(whole, mapping)
        last = int(np.flatnonzero(begins)[-1]) if len(whole) else 0
        held = part_of(whole, slice(last, None), ())
        yield _once(_grouped(part_of(whole, slice(0, last), whole.skipped), begins[:last], mapping), mapping, *seen)
    if held is not None:
        yield _once(_grouped(held, np.arange(len(held)) == 0, mapping), mapping, *seen)


class _Seen:
    """Hashes of what came before, sorted."""

    def __init__(self) -> None:
        self.older = self.newer = np.array([], np.int64)

    def holds(self, hashes: NDArray[np.int64]) -> NDArray[np.bool_]:
        order, found = np.argsort(hashes), np.zeros(len(hashes), bool)  # in their order they are looked up faster
        for known in (self.older, self.newer):
            at = np.minimum(np.searchsorted(known, hashes[order]), len(known) - 1)
            found[order] |= known[at] == hashes[order] if len(known) else False
        return found

    def add(self, hashes: NDArray[np.int64]) -> None:
        self.newer = np.sort(np.concatenate([self.newer, hashes]), kind="stable")  # two runs, merged
        if 2 * len(self.newer) > MOST_REMEMBERED:
            self.older, self.newer = self.newer, self.newer[:0]


def _once(chunk: TextChunk, mapping: ColumnMapping, rows: _Seen, jobs: _Seen) -> TextChunk:
    """A chunk without rows that came before; a further line of a job that came before is skipped."""
    if not len(chunk):
        return chunk
    named = np.any([_filled(_text(chunk, mapping, role)) for role in NAMING], axis=0)
    row = _hashes([texts(cells) for cells in chunk.columns.values()])
    first = np.zeros(len(chunk), bool)
    first[np.unique(row, return_index=True)[1]] = True
    again, apart = named & (~first | rows.holds(row)), np.zeros(len(chunk), bool)
    rows.add(row[named])
    if "job" in mapping.columns:
        numbered = _filled(_text(chunk, mapping, "job"))
        of = ("job", "date", "class")  # a later visit, or another appliance, may go by the same number
        job = _hashes([_text(chunk, mapping, role) for role in of])
        apart = numbered & ~again & ~_paid_back(chunk, mapping) & jobs.holds(job)
        jobs.add(job[numbered])
    if not np.any(again | apart):
        return chunk
    column = mapping.columns.get("job", "")
    skipped = [
        RejectedRow(int(chunk.lines[at]), column, LINE_APART, short(str(chunk.columns[column].iloc[at])))
        for at in np.flatnonzero(apart)
    ]
    found = part_of(chunk, ~(again | apart), (*chunk.skipped, *skipped))
    doubled = chunk.folded.get(DUPLICATE, 0) + int(again.sum())
    return replace(found, folded={**chunk.folded, DUPLICATE: doubled})


def _hashes(columns: "list[pa.LargeStringArray]") -> NDArray[np.int64]:
    """A hash of each row; no cell holds the sign that is put between them."""
    import pyarrow as pa
    import pyarrow.compute as pc

    joined = pc.binary_join_element_wise(*columns, pa.scalar("\0", pa.large_string()))
    return np.fromiter(map(hash, joined.to_pylist()), np.int64, len(joined))


def _text(chunk: TextChunk, mapping: ColumnMapping, role: str) -> "pa.LargeStringArray":
    """The trimmed text of a column; blank where the book has none."""
    name = mapping.columns.get(role)
    return trimmed(series([""] * len(chunk)) if name is None else chunk.columns[name])


def _filled(text: "pa.LargeStringArray") -> NDArray[np.bool_]:
    import pyarrow.compute as pc

    return np.asarray(pc.not_equal(text, ""), bool)


def _amounts(chunk: TextChunk, mapping: ColumnMapping, role: str) -> tuple[Floats, dict[int, str]]:
    name = mapping.columns[role]
    unit = "hour" if role == "labour_hours" else MONEY
    return numbers_of(chunk.columns[name], chunk.numbers.get(name), unit, mapping.decimal_mark)


def _paid_back(chunk: TextChunk, mapping: ColumnMapping) -> NDArray[np.bool_]:
    known = "quote" in mapping.columns
    return _amounts(chunk, mapping, "quote")[0] < 0 if known else np.zeros(len(chunk), bool)


def _begins(chunk: TextChunk, mapping: ColumnMapping) -> NDArray[np.bool_]:
    """Which rows begin a job: another number, no number, another day or appliance, or an amount paid back."""
    import pyarrow as pa

    at, job = np.arange(len(chunk)), _text(chunk, mapping, "job")
    begins = ~_filled(job) | _changes(job)
    for role in ("date", "class"):
        text = _text(chunk, mapping, role)
        last = np.maximum.accumulate(np.where(_filled(text), at, -1))  # that says one, of the same job
        told = last >= np.maximum.accumulate(np.where(begins, at, -1))
        changes = _changes(text.take(pa.array(np.maximum(last, 0))))
        begins |= told & np.concatenate([[False], told[:-1]])[: len(at)] & changes
    back = _paid_back(chunk, mapping)
    return np.asarray(begins | back | np.concatenate([[True], back[:-1]])[: len(back)], bool)


def _changes(text: "pa.LargeStringArray") -> NDArray[np.bool_]:
    """Which cells differ from the one before."""
    import pyarrow.compute as pc

    return np.concatenate([[True], np.asarray(pc.not_equal(text[1:], text[:-1]), bool)])[: len(text)]


def _grouped(chunk: TextChunk, begins: NDArray[np.bool_], mapping: ColumnMapping) -> TextChunk:
    """A chunk with one row a job."""
    job = begins.cumsum() - 1
    several = np.bincount(job) > 1
    if not np.any(several):
        return chunk
    joined = _joined(part_of(chunk, several[job], ()), begins[several[job]], mapping)
    whole = put_together([part_of(chunk, ~several[job], chunk.skipped), joined])
    return replace(part_of(whole, np.argsort(whole.lines), chunk.skipped), folded=joined.folded)


def _joined(chunk: TextChunk, begins: NDArray[np.bool_], mapping: ColumnMapping) -> TextChunk:
    """Jobs of several lines each, put together."""
    import pandas as pd

    first, job = np.flatnonzero(begins), begins.cumsum() - 1
    size = np.bincount(job)
    table = pd.DataFrame(dict(chunk.columns))
    alike = ~(table != table.iloc[first[job]].reset_index(drop=True)).any(axis=1).to_numpy()
    twice = np.bincount(job, weights=alike) == size  # all rows of the job are the same one
    filled = table.mask(table == "").groupby(job).first().fillna("")
    columns = {name: filled[name].to_numpy(object) for name in chunk.columns}
    numbers = {name: values[first].copy() for name, values in chunk.numbers.items()}
    for role in SUMMED:
        if role not in mapping.columns:
            continue
        name = mapping.columns[role]
        values, refused = _amounts(chunk, mapping, role)
        by_job = pd.Series(values).groupby(job)
        low, high, count, total = (getattr(by_job, of)().to_numpy() for of in ("min", "max", "count", "sum"))
        whole = ~twice & (count == size)
        repeated = np.any(whole) and np.mean((low == high)[whole]) > 0.5
        amount = np.where(count > 0, high if repeated else total, np.nan)
        amount = np.where(twice, numbers.get(name, np.nan), amount)
        unread = list(refused)
        columns[name][job[unread]] = table[name].to_numpy(object)[unread]
        amount[job[unread]] = np.nan
        numbers[name] = amount
    folded = {LINE: int((size - 1)[~twice].sum()), DUPLICATE: int((size - 1)[twice].sum())}
    joined = {name: series(cells.tolist()) for name, cells in columns.items()}
    return TextChunk(chunk.lines[first], joined, numbers, (), chunk.share_done, folded)
