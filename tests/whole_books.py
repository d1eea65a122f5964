"""Whole job books, as most tests want them: the jobs, and the rows that were skipped."""

from pathlib import Path

from decide.load.jobs.book import JobBook
from decide.load.jobs.chunks import RejectedRow
from decide.load.jobs.columns import ColumnMapping
from decide.load.jobs.rows import read_book
from decide.shop.jobs import Jobs


def read_jobs(source: JobBook | Path | bytes, mapping: ColumnMapping) -> tuple[Jobs, list[RejectedRow]]:
    """Read a book at once."""
    jobs, skipped, _ = read_book(source, mapping)
    return jobs, list(skipped)
