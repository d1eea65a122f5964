"""A whole job book weighed, chunk by chunk, in a memory that does not grow with it.

While a chunk is weighed and written, a thread reads the next. A second process was tried and brought a tenth: each age
of a case is weighed once, so to hand the rows over takes as long as to weigh them.
"""

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from dataclasses import asdict, dataclass, field
from typing import Any, Final

import numpy as np

from ..economics.case import REPAIR
from ..economics.decision import CLOSE, LEANING
from ..load.jobs.book import JobBook, Progress
from ..load.jobs.cases import JobCases
from ..load.jobs.chunks import RejectedRow, TextChunk
from ..load.jobs.columns import ColumnMapping
from ..load.jobs.coverage import Coverage
from ..load.jobs.lines import job_chunks
from ..load.jobs.rows import chunk_read, no_rows
from ..load.tables.tables import Tables
from ..load.tables.usual_bills import later_bills
from ..shop.job_totals import AGE_EDGES, BANDS, SummaryLine, Tally, tally_of
from ..shop.jobs import DECISIONS, OPEN, Jobs
from ..shop.losses import Losses
from ..shop.weigh_jobs import REASONS, SURE, Remembered, WeighedJobs, weigh_jobs
from .shop_bands import customers_losses, limit_spreads

CHUNK: Final = 50_000
"""Rows at a time: enough for each class to make columns, little enough for a small machine."""

SHOWN: Final = 200
"""Skipped rows that are told one by one; all of them are counted, and written."""

LEAST_SUSPECTED: Final = 50
"""Jobs from which it is looked whether columns were taken for one another."""
MANY: Final = 0.3
"""Share of jobs from which that is said. [-]"""

Rows = Callable[[TextChunk, Jobs, WeighedJobs], None]
"""Takes the rows of a chunk that were weighed."""

SkippedRows = Callable[[TextChunk, Sequence[RejectedRow]], None]
"""Takes those that were not, out of their chunk."""


@dataclass(frozen=True)
class BookResult:
    """What came of a book."""

    tally: Tally
    losses: Losses
    coverage: Coverage
    skipped: Mapping[str, int]
    """Skipped rows, by reason."""
    shown: tuple[RejectedRow, ...]
    """The first of them."""
    states: Mapping[str, int] = field(default_factory=dict)
    """Quotes by what is to be said of them: `repair`, `leaning_repair`, `close`, `leaning_other`, `other`."""
    suspicions: tuple[str, ...] = ()
    """What looks as if columns were taken for one another, as `suspicions_of` has it."""

    @property
    def rows(self) -> int:
        """Rows of the book, those skipped included."""
        return self.coverage.rows

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
    none = chunk_read(no_rows(book), columns).jobs  # what is wrong with the columns is told before anything is begun
    counts, states, shown, suspicions = Counter[str](), Counter[str](), list[RejectedRow](), tuple[str, ...]()
    cases, by_age = JobCases(columns.place, reference), Remembered()
    tally, losses, coverage = tally_of(none, weigh_jobs(none, cases.template)), Losses(), Coverage()
    spread_of = limit_spreads(columns.place, reference)
    with closing(job_chunks(book, columns, size)) as chunks, ThreadPoolExecutor(1) as reader:
        coming = reader.submit(next, chunks, None)
        while (chunk := coming.result()) is not None:
            coming = reader.submit(next, chunks, None)
            jobs, unread, covered = chunk_read(chunk, columns)
            weighed = weigh_jobs(jobs, cases.template, by_age, cases.edges, cases.owed_until)
            reasons = (  # read, but no case: without an age, say
                RejectedRow(int(jobs.row[index]), "", REASONS[weighed.reason[index]], "")
                for index in np.flatnonzero(~weighed.weighed)
            )
            no_case = jobs.take(~weighed.weighed)
            suspicions = suspicions if coverage.rows else suspicions_of(jobs, columns.place, reference)
            skipped = sorted((*unread, *reasons), key=lambda row: row.row)
            jobs, weighed = jobs.take(weighed.weighed), weighed.take(weighed.weighed)
            limit, known = weighed.repair_limit, np.isfinite(weighed.advantage)
            used, spread = jobs.take(known), jobs.by_class(spread_of) * weighed.new_price
            tally += tally_of(jobs, weighed)
            losses += customers_losses(used, limit[known], spread[known], reference, columns.place)
            states.update(_states(weighed))
            coverage += covered.without(("class", jobs.kinds[code]) for code in no_case.kind)
            counts.update(each.reason for each in skipped)
            shown += skipped[: SHOWN - len(shown)]
            if out is not None:
                out(chunk, jobs, weighed)
            if out_skipped is not None and skipped:
                out_skipped(chunk, skipped)
            if progress is not None:
                progress(coverage.rows, chunk.share_done)
    return BookResult(tally, losses, coverage, dict(counts.most_common()), tuple(shown), states, suspicions)


def _states(weighed: WeighedJobs) -> Counter[str]:
    """How many quotes get each word: the three of the door, and to which side a leaning or a clear one is."""
    repair, state = weighed.advantage >= 0, np.array(SURE)[weighed.state]
    side = np.where(repair, REPAIR, "other")
    words = np.where(state == CLOSE, CLOSE, np.where(state == LEANING, np.char.add("leaning_", side), side))
    return Counter(words[np.isfinite(weighed.advantage) & (state != "")].tolist())


def suspicions_of(jobs: Jobs, place: str, reference: Tables) -> tuple[str, ...]:
    """What of some jobs looks as if columns were taken for one another; nothing where there are few.

    `quotes_unusual`: the middle quote is far from the usual one of its class, as where parts are taken for it.
    `quotes_below_lines`: many are less than their own parts and labour. `ages_in_quarters`: they look like hours.
    `one_decision`: all customers did the same. `units_of_several_classes`: serial numbers that are none.
    """
    if len(jobs) < LEAST_SUSPECTED:
        return ()
    region = reference.region_of(place)
    usual = jobs.by_class(lambda kind: later_bills(kind, region, reference).median.value)
    paid = jobs.quote > 0
    middle = float(np.median((jobs.quote / usual)[paid])) if np.any(paid) else 1.0
    most = reference.usual("quote_unusual", place).value
    lines = np.nan_to_num(jobs.parts) + np.nan_to_num(jobs.labour)
    itemised = paid & (lines > 0)
    quarters = (jobs.age % 0.25 == 0) & (jobs.age % 1 != 0)
    of_units = {(unit, code) for unit, code in zip(jobs.unit.tolist(), jobs.kind.tolist(), strict=True) if unit}
    units = Counter(unit for unit, _ in of_units)
    found = {
        "quotes_unusual": not 1 / most <= middle <= most,
        "quotes_below_lines": bool(np.any(itemised)) and float(np.mean((jobs.quote < 0.99 * lines)[itemised])) > MANY,
        "ages_in_quarters": float(np.mean(quarters)) > MANY,
        "one_decision": len(np.unique(jobs.decision)) == 1 and not np.all(jobs.decision == DECISIONS.index(OPEN)),
        "units_of_several_classes": bool(units) and sum(n > 1 for n in units.values()) > MANY * len(units),
    }
    return tuple(name for name, holds in found.items() if holds)


def part_data(line: SummaryLine, by_age: bool = True) -> dict[str, Any]:
    """Lay a line of the summary out: plain numbers, shares as fractions, ages in years."""
    figures = {name: value for name, value in asdict(line).items() if name not in ("kind", "band")}
    figures |= {name: getattr(line, name) for name in ("median_limit", "above_share", "paid_above_each")}
    if not by_age:
        return figures
    band = (0, BANDS - 1) if line.band is None else (line.band, line.band)
    ages = {"age_from": AGE_EDGES[band[0]], "age_below": AGE_EDGES[band[1] + 1]}
    return {"class": line.kind, **ages, **figures}
