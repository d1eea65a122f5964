"""A whole job book weighed, chunk by chunk, in a memory that does not grow with it.

One chunk is read, weighed and written before the next. A second process was tried and brought a tenth: each age of a
case is weighed once, so to hand the rows over takes as long as to weigh them.
"""

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from ..load.jobs.book import JobBook
from ..load.jobs.cases import JobCases
from ..load.jobs.chunks import RejectedRow, TextChunk, series
from ..load.jobs.columns import ColumnMapping
from ..load.jobs.rows import jobs_of
from ..load.tables.tables import Tables
from ..shop.job_totals import Tally, tally_of
from ..shop.jobs import Jobs
from ..shop.weigh_jobs import REASONS, VERDICTS, Remembered, WeighedJobs, weigh_jobs
from ..show.text.phrases import Phrases

if TYPE_CHECKING:
    from ..load.jobs.export import RowWriter

CHUNK: Final = 50_000
"""Rows at a time: enough for each class to make columns, little enough for a small machine."""

SHOWN: Final = 200
"""Skipped rows that are told one by one; all of them are counted, and written."""

Progress = Callable[[int, float], None]
"""Told how many rows are done, and what share of the book."""


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


@dataclass(frozen=True)
class Task:
    """How each chunk of a book is to be read, weighed and written."""

    columns: ColumnMapping
    header: tuple[str, ...]
    """Of the rows written; empty where none are."""
    words: Mapping[str, str]
    """How columns and verdicts are called in the rows written."""


@dataclass(frozen=True)
class Done:
    """A chunk that is weighed."""

    tally: Tally
    skipped: tuple[RejectedRow, ...]
    rows: Mapping[str, Any] | None
    count: int
    share: float


def weigh_book(
    book: JobBook,
    columns: ColumnMapping,
    reference: Tables,
    phrases: Phrases,
    out: "RowWriter | None" = None,
    out_skipped: "RowWriter | None" = None,
    progress: Progress | None = None,
    size: int = CHUNK,
) -> BookResult:
    """Weigh every row of a book by the functions that weigh one case, and add them up.

    Parameters
    ----------
    book : as opened [-]
    columns : which column of it is which, and where the shop is [-]
    reference : the shipped figures, or the shop's own in their place [-]
    phrases : the language of the rows written [-]
    out, out_skipped : where the rows go, and those that are skipped; closed by who opened them [-]
    progress : told after each chunk [-]
    size : rows at a time [-]

    Returns
    -------
    result : the sums, and what was skipped [-]

    Raises
    ------
    ReadError
        The columns lack one that is needed, the book cannot be read on, or the rows cannot be written.
    """
    jobs_of(_no_rows(book), columns)  # what is wrong with the columns is told here, before anything is begun
    task = Task(columns, book.header if out else (), _called(book.header, phrases))
    tally, counts, shown, rows = Tally.empty(), Counter[str](), list[RejectedRow](), 0
    cases, by_age = JobCases(columns.place, reference), Remembered()
    for chunk in book.chunks(size):
        done = _weighed(chunk, task, cases, by_age)
        tally, rows = tally + done.tally, rows + done.count
        counts.update(each.reason for each in done.skipped)
        shown += done.skipped[: SHOWN - len(shown)]
        if out is not None and done.rows is not None:
            out.write(done.rows)
        if out_skipped is not None and done.skipped:
            out_skipped.write(_skipped_columns(done.skipped, phrases))
        if progress is not None:
            progress(rows, done.share)
    return BookResult(tally, rows, dict(counts.most_common()), tuple(shown))


def reason_text(phrases: Phrases, reason: str) -> str:
    """Why a row was skipped, in words."""
    return phrases.say(f"jobs.reason.{reason}" if reason in REASONS else f"job_book.reason.{reason}")


def _weighed(chunk: TextChunk, task: Task, cases: JobCases, by_age: Remembered) -> Done:
    """Read a chunk of text as jobs, and weigh them."""
    jobs, unread = jobs_of(chunk, task.columns)
    weighed = weigh_jobs(jobs, cases.template, by_age)
    kept = weighed.weighed
    skipped = sorted((*unread, *_not_weighed(jobs, weighed)), key=lambda row: row.row)
    jobs, weighed = jobs.take(kept), weighed.take(kept)
    rows = _rows(chunk, jobs, weighed, task) if task.header else None
    return Done(tally_of(jobs, weighed), tuple(skipped), rows, len(jobs) + len(skipped), chunk.share_done)


def _no_rows(book: JobBook) -> TextChunk:
    return TextChunk(np.array([], dtype=np.int64), {name: series([]) for name in book.header})


RESULTS: Final = ("limit", "advantage", "verdict", "limit_share", "quote_share", "new_price", "cautions")
"""What is added to each row of the book."""


def _called(header: Iterable[str], phrases: Phrases) -> dict[str, str]:
    """Headings of the results, none of them a heading of the book; verdicts; and what to mind."""
    taken, called = set(header), {}
    for name in RESULTS:
        heading, count = phrases.say(f"jobs.column.{name}"), 2
        while heading in taken:
            heading, count = f"{phrases.say(f'jobs.column.{name}')} ({count})", count + 1
        called[name] = heading
        taken.add(heading)
    verdicts = {verdict: phrases.say(f"jobs.verdict.{verdict.replace(' ', '_')}") for verdict in VERDICTS}
    return called | verdicts | {"stop": phrases.say("jobs.stop")}


def _rows(chunk: TextChunk, jobs: Jobs, weighed: WeighedJobs, task: Task) -> dict[str, Any]:
    """The rows of the book that were weighed, with what came of them; money to the cent."""
    import pandas as pd

    which = np.searchsorted(chunk.lines, jobs.row)
    verdicts = [task.words[verdict] for verdict in VERDICTS]
    results: dict[str, Any] = {
        "limit": np.round(weighed.repair_limit, 2),
        "advantage": np.round(weighed.advantage, 2),
        "verdict": pd.Series(np.array(verdicts, dtype=object)[weighed.verdict], dtype="str"),
        "limit_share": np.round(weighed.limit_share, 4),
        "quote_share": np.round(weighed.quote_share, 4),
        "new_price": np.round(weighed.new_price, 2),
        "cautions": pd.Series(np.where(weighed.stopped, task.words["stop"], ""), dtype="str"),
    }
    own = {name: chunk.columns[name].iloc[which].reset_index(drop=True) for name in task.header}
    return own | {task.words[name]: values for name, values in results.items()}


def _not_weighed(jobs: Jobs, weighed: WeighedJobs) -> Iterator[RejectedRow]:
    """Jobs that were read but are no case: without an age, say."""
    for index in np.flatnonzero(~weighed.weighed):
        yield RejectedRow(int(jobs.row[index]), "", REASONS[weighed.reason[index]], "")


def _skipped_columns(skipped: Iterable[RejectedRow], phrases: Phrases) -> dict[str, list[Any]]:
    """Skipped rows, as columns to write."""
    listed = list(skipped)
    reasons = {each.reason: reason_text(phrases, each.reason) for each in listed}
    return {
        phrases.say("jobs.skipped.line"): [each.row for each in listed],
        phrases.say("jobs.skipped.column"): [each.column for each in listed],
        phrases.say("jobs.skipped.reason"): [reasons[each.reason] for each in listed],
        phrases.say("jobs.skipped.text"): [each.text for each in listed],
    }
