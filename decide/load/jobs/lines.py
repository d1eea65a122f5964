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
from .chunks import RejectedRow, TextChunk, part_of, put_together, series, short, trimmed
from .columns import MONEY_ROLES, ColumnMapping
from .numbers import numbers_of

if TYPE_CHECKING:
    import pandas as pd

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
    """Hashes of what came before, sorted; the first is nobody's."""

    def __init__(self) -> None:
        self.older = self.newer = np.full(1, np.iinfo(np.int64).min)

    def holds(self, hashes: NDArray[np.int64]) -> NDArray[np.bool_]:
        parts = (self.older, self.newer)
        return np.any([p.take(np.searchsorted(p, hashes), mode="clip") == hashes for p in parts], axis=0)

    def add(self, hashes: NDArray[np.int64]) -> None:
        self.newer = np.sort(np.concatenate([self.newer, hashes]), kind="stable")  # two runs, merged
        if 2 * len(self.newer) > MOST_REMEMBERED:
            self.older, self.newer = self.newer, self.newer[:1]


def _once(chunk: TextChunk, mapping: ColumnMapping, rows: _Seen, jobs: _Seen) -> TextChunk:
    """A chunk without rows that came before; a further line of a job that came before is skipped."""
    import pandas as pd

    if not len(chunk):
        return chunk
    job, named = _texts(chunk, mapping, "job"), np.any([_texts(chunk, mapping, role) != "" for role in NAMING], axis=0)
    row = _hashes(list(chunk.columns.values()))
    again, apart = named & (pd.Series(row).duplicated().to_numpy() | rows.holds(row)), np.zeros(len(chunk), bool)
    rows.add(row[named])
    if "job" in mapping.columns:
        # a later visit, or another appliance, may go by the same number
        key, numbered = _hashes([job, *(_texts(chunk, mapping, role) for role in ("date", "class"))]), job != ""
        apart = numbered.to_numpy(bool) & ~again & ~(_amounts(chunk, mapping, "quote")[0] < 0) & jobs.holds(key)
        jobs.add(key[numbered])
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


def _hashes(columns: "list[pd.Series[str]]") -> NDArray[np.int64]:
    """A hash of each row; no cell holds the sign that is put between them."""
    import pyarrow as pa
    import pyarrow.compute as pc

    cells = [pa.array(each.array) for each in columns]
    joined = pc.binary_join_element_wise(*cells, pa.scalar("\0", pa.large_string()))
    return np.fromiter(map(hash, joined.to_pylist()), np.int64, len(joined))


def _texts(chunk: TextChunk, mapping: ColumnMapping, role: str) -> "pd.Series[str]":
    name = mapping.columns.get(role)
    return series([""] * len(chunk)) if name is None else series(trimmed(chunk.columns[name]))


def _amounts(chunk: TextChunk, mapping: ColumnMapping, role: str) -> tuple[Floats, dict[int, str]]:
    if role not in mapping.columns:
        return np.full(len(chunk), np.nan), {}
    name, unit = mapping.columns[role], "hour" if role == "labour_hours" else MONEY
    return numbers_of(chunk.columns[name], chunk.numbers.get(name), unit, mapping.decimal_mark)


def _begins(chunk: TextChunk, mapping: ColumnMapping) -> NDArray[np.bool_]:
    """Which rows begin a job: another number, no number, another day or appliance, or an amount paid back."""
    import pandas as pd

    job = _texts(chunk, mapping, "job")
    begins = ((job != job.shift()) | (job == "")).to_numpy(bool)
    for role in ("date", "class"):
        text = _texts(chunk, mapping, role)
        filled = pd.Series(text.factorize()[0]).mask(text == "").groupby(begins.cumsum()).ffill()
        before = filled.shift()
        begins = begins | (filled.notna() & before.notna() & (filled != before)).to_numpy(bool)
    back = _amounts(chunk, mapping, "quote")[0] < 0
    return np.asarray(begins | back | np.concatenate([[True], back[:-1]])[: len(back)], bool)


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
    for role, name in ((role, mapping.columns[role]) for role in SUMMED if role in mapping.columns):
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
