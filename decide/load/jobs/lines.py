"""Rows that are one job: several lines of a job number are put together, and rows that come twice are dropped.

Lines of a job stand together, with one number and one day. Amounts that differ from line to line are added up;
those that most jobs of a chunk repeat on every line, such as a total, count once. Elsewhere the first cell holds.
A row that is paid back is left to stand by itself.
"""

from collections.abc import Iterator
from dataclasses import replace
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from ...arrays import Floats
from ...economics.bounds import MONEY
from .book import CHUNK, JobBook
from .chunks import RejectedRow, TextChunk, part_of, put_together, short
from .columns import MONEY_ROLES, ColumnMapping
from .numbers import numbers_of

if TYPE_CHECKING:
    import pandas as pd

DUPLICATE, LINE, LINE_APART = "duplicate", "line", "line_apart"

MOST_REMEMBERED: Final = 4_000_000
"""Rows that are remembered, so that one that comes again is known; beyond it the first are forgotten."""

SUMMED: Final = (*MONEY_ROLES, "labour_hours")
NAMING: Final = ("job", "unit", "customer")
"""Roles one of which a row must fill before another like it is the same: else two jobs may be alike by chance."""


def job_chunks(book: JobBook, mapping: ColumnMapping, size: int = CHUNK) -> Iterator[TextChunk]:
    """The rows of a book, at most so many at a time, each of them a job of its own."""
    if not any(role in mapping.columns for role in NAMING):
        yield from book.chunks(size)
        return
    seen, held = _Seen(), None
    for chunk in book.chunks(size):
        whole = chunk if held is None else put_together([held, chunk])
        if "job" not in mapping.columns:
            yield seen.once(whole, mapping)
            continue
        begins = np.flatnonzero(_begins(whole, mapping))
        last = int(begins[-1]) if len(begins) else 0
        held = part_of(whole, slice(last, None), ())
        yield seen.once(_grouped(part_of(whole, slice(0, last), whole.skipped), mapping), mapping)
    if held is not None:
        yield seen.once(_grouped(held, mapping), mapping)


class _Seen:
    """Rows and job numbers that came before, by their hashes."""

    def __init__(self) -> None:
        self.rows, self.jobs = np.array([], np.uint64), np.array([], np.uint64)

    def once(self, chunk: TextChunk, mapping: ColumnMapping) -> TextChunk:
        """A chunk without rows that came before; a further line of a job that came before is skipped."""
        import pandas as pd

        if not len(chunk):
            return chunk
        named = np.zeros(len(chunk), bool)
        for role in NAMING:
            if role in mapping.columns:
                named |= (chunk.columns[mapping.columns[role]].str.strip() != "").to_numpy(bool)
        rows = pd.util.hash_pandas_object(pd.DataFrame(dict(chunk.columns)), index=False).to_numpy()
        again = named & (pd.Series(rows).duplicated().to_numpy() | np.isin(rows, self.rows))
        apart = np.zeros(len(chunk), bool)
        if "job" in mapping.columns:
            key = _texts(chunk, mapping, "job")
            for role in ("date", "class"):  # a later visit, or another appliance, may go by the same number
                key = key + "\n" + _texts(chunk, mapping, role)
            numbered = (_texts(chunk, mapping, "job") != "").to_numpy(bool)
            jobs = pd.util.hash_pandas_object(key, index=False).to_numpy()
            back = _amounts(chunk, mapping, "quote")[0] < 0
            apart = numbered & ~again & ~back & np.isin(jobs, self.jobs)
            self.jobs = np.concatenate([self.jobs, jobs[numbered]])[-MOST_REMEMBERED:]
        self.rows = np.concatenate([self.rows, rows[named]])[-MOST_REMEMBERED:]
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


def _texts(chunk: TextChunk, mapping: ColumnMapping, role: str) -> "pd.Series[str]":
    import pandas as pd

    name = mapping.columns.get(role)
    return pd.Series([""] * len(chunk), dtype="str") if name is None else chunk.columns[name].str.strip()


def _amounts(chunk: TextChunk, mapping: ColumnMapping, role: str) -> tuple[Floats, dict[int, str]]:
    if role not in mapping.columns:
        return np.full(len(chunk), np.nan), {}
    name = mapping.columns[role]
    unit = "hour" if role == "labour_hours" else MONEY
    return numbers_of(chunk.columns[name], chunk.numbers.get(name), unit, mapping.decimal_mark)


def _begins(chunk: TextChunk, mapping: ColumnMapping) -> NDArray[np.bool_]:
    """Which rows begin a job: another number, no number, another day or appliance, or an amount paid back."""
    job = _texts(chunk, mapping, "job")
    begins = ((job != job.shift()) | (job == "")).to_numpy(bool)
    for role in ("date", "class"):
        text = _texts(chunk, mapping, role)
        filled = text.mask(text == "").groupby(begins.cumsum()).ffill()
        before = filled.shift()
        begins = begins | (filled.notna() & before.notna() & (filled != before)).to_numpy(bool)
    back = _amounts(chunk, mapping, "quote")[0] < 0
    return np.asarray(begins | back | np.concatenate([[True], back[:-1]])[: len(back)], bool)


def _grouped(chunk: TextChunk, mapping: ColumnMapping) -> TextChunk:
    """A chunk with one row a job."""
    import pandas as pd

    if not len(chunk):
        return chunk
    begins = _begins(chunk, mapping)
    first = np.flatnonzero(begins)
    if len(first) == len(chunk):
        return chunk
    job = begins.cumsum() - 1
    size = np.bincount(job)
    table = pd.DataFrame(dict(chunk.columns))
    alike = ~(table != table.iloc[first[job]].reset_index(drop=True)).any(axis=1).to_numpy()
    twice = np.bincount(job, weights=alike) == size  # all rows of the job are the same one
    several = (size > 1) & ~twice
    filled = table.mask(table == "").groupby(job).first().fillna("")
    numbers = {name: values[first].copy() for name, values in chunk.numbers.items()}
    for role in SUMMED:
        if role not in mapping.columns:
            continue
        name = mapping.columns[role]
        values, refused = _amounts(chunk, mapping, role)
        by_job = pd.Series(values).groupby(job)
        low, high, count, total = (getattr(by_job, of)().to_numpy() for of in ("min", "max", "count", "sum"))
        whole = several & (count == size)
        repeated = np.any(whole) and np.mean((low == high)[whole]) > 0.5
        amount = np.where(count > 0, high if repeated else total, np.nan)
        kept = chunk.numbers[name][first] if name in chunk.numbers else np.full(len(first), np.nan)
        amount = np.where(several, amount, kept)
        unread = np.zeros(len(first), bool)
        for at in refused:
            filled.loc[int(job[at]), name] = table[name].iloc[at]
            unread[job[at]] = True
        numbers[name] = np.where(unread, np.nan, amount)
    columns = {name: filled[name].astype("str").reset_index(drop=True) for name in chunk.columns}
    folded = {LINE: int((size - 1)[several].sum()), DUPLICATE: int((size - 1)[(size > 1) & twice].sum())}
    return TextChunk(chunk.lines[first], columns, numbers, chunk.skipped, chunk.share_done, folded)
