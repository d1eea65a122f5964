"""A whole job book weighed, chunk by chunk, in a memory that does not grow with it.

One chunk is read, weighed and written before the next. A second process was tried and brought a tenth: each age of a
case is weighed once, so to hand the rows over takes as long as to weigh them.
"""

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any, Final

import numpy as np

from ..load.jobs.book import JobBook
from ..load.jobs.cases import JobCases
from ..load.jobs.chunks import RejectedRow, TextChunk
from ..load.jobs.columns import ColumnMapping
from ..load.jobs.rows import jobs_of, no_rows
from ..load.tables.tables import Tables
from ..shop.job_totals import AGE_EDGES, BANDS, SummaryLine, Tally, tally_of
from ..shop.jobs import Jobs
from ..shop.weigh_jobs import REASONS, Remembered, WeighedJobs, weigh_jobs

CHUNK: Final = 50_000
"""Rows at a time: enough for each class to make columns, little enough for a small machine."""

SHOWN: Final = 200
"""Skipped rows that are told one by one; all of them are counted, and written."""

Progress = Callable[[int, float], None]
"""Told how many rows are done, and what share of the book."""

Rows = Callable[[TextChunk, Jobs, WeighedJobs], None]
"""Takes the rows of a chunk that were weighed."""

SkippedRows = Callable[[Sequence[RejectedRow]], None]
"""Takes those that were not."""


@dataclass(frozen=True)
class BookResult:
    """What came of a book."""

    tally: Tally
    rows: int
    """Rows of the book, those skipped included."""
    skipped: Mapping[str, int]
    """Skipped rows, by reason."""
    shown: tuple[RejectedRow, ...]
    """The first of them."""

    @property
    def skipped_rows(self) -> int:
        """Rows that could not be read or weighed."""
        return sum(self.skipped.values())


def weigh_book(
    book: JobBook,
    columns: ColumnMapping,
    reference: Tables,
    out: Rows | None = None,
    out_skipped: SkippedRows | None = None,
    progress: Progress | None = None,
    size: int = CHUNK,
) -> BookResult:
    """Weigh every row of a book by the functions that weigh one case, and add them up.

    Raises `ReadError`: the columns lack one that is needed, the book cannot be read on, or the rows cannot be written.

    `out` and `out_skipped` take the rows, and those skipped; `progress` is told after each chunk of `size` rows.
    """
    jobs_of(no_rows(book), columns)  # what is wrong with the columns is told here, before anything is begun
    tally, counts, shown, rows = Tally.empty(), Counter[str](), list[RejectedRow](), 0
    cases, by_age = JobCases(columns.place, reference), Remembered()
    for chunk in book.chunks(size):
        jobs, unread = jobs_of(chunk, columns)
        weighed = weigh_jobs(jobs, cases.template, by_age, cases.edges)
        no_case = (  # read, but without an age, say
            RejectedRow(int(jobs.row[index]), "", REASONS[weighed.reason[index]], "")
            for index in np.flatnonzero(~weighed.weighed)
        )
        skipped = sorted((*unread, *no_case), key=lambda row: row.row)
        jobs, weighed = jobs.take(weighed.weighed), weighed.take(weighed.weighed)
        tally, rows = tally + tally_of(jobs, weighed), rows + len(jobs) + len(skipped)
        counts.update(each.reason for each in skipped)
        shown += skipped[: SHOWN - len(shown)]
        if out is not None:
            out(chunk, jobs, weighed)
        if out_skipped is not None and skipped:
            out_skipped(skipped)
        if progress is not None:
            progress(rows, chunk.share_done)
    return BookResult(tally, rows, dict(counts.most_common()), tuple(shown))


def part_data(line: SummaryLine, by_age: bool = True) -> dict[str, Any]:
    """Lay a line of the summary out: plain numbers, shares as fractions, ages in years."""
    figures = {name: value for name, value in asdict(line).items() if name not in ("kind", "band")}
    figures |= {name: getattr(line, name) for name in ("median_limit", "above_share", "paid_above_each")}
    if not by_age:
        return figures
    band = (0, BANDS - 1) if line.band is None else (line.band, line.band)
    ages = {"age_from": AGE_EDGES[band[0]], "age_below": AGE_EDGES[band[1] + 1]}
    return {"class": line.kind, **ages, **figures}
