"""Lays a weighed job book out for a terminal, as a table to write, and as plain data."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any, Final

from ...answers.book import BookResult, reason_text
from ...load.jobs.chunks import RejectedRow
from ...load.jobs.columns import ColumnMapping
from ...load.jobs.export import write_table
from ...shop.job_totals import AGE_EDGES, BANDS, SummaryLine, Tally, part, summary
from ...shop.jobs import DECISIONS
from ..text.phrases import Phrases
from ..text.words import Words
from .layout import Page

WIDTH: Final = 136
"""Of the summary. [character]"""

MOST_LISTED: Final = 20
"""Skipped rows that the terminal tells one by one."""

COLUMNS: Final = (
    "jobs", "repair", "replace", "leave", "no_quote", "refused", "median_limit", "median_limit_share", "above",
    "above_share", "paid_above_cost", "value_lost_by_declining",
)  # fmt: skip
"""Figures of a line of the summary, by their names in `job_tally.Part`."""

SHARES: Final = ("median_limit_share", "above_share")
SUMS: Final = ("median_limit", "paid_above_cost", "value_lost_by_declining")


def show_mapping(phrases: Phrases, header: tuple[str, ...], columns: ColumnMapping) -> None:
    """Show which column of the book is taken for what."""
    page = Page()
    page.heading(phrases.say("terminal.jobs.mapping"))
    roles = {heading: phrases.say(f"role.{role}") for role, heading in columns.columns.items()}
    rows = [(heading, roles.get(heading, phrases.say("terminal.jobs.unused"))) for heading in header]
    page.table([phrases.say(f"terminal.jobs.{head}") for head in ("column", "role")], rows)
    questions = list(open_questions(phrases, columns))
    if questions:
        page.heading(phrases.say("terminal.jobs.questions"))
        for question in questions:
            page.line(question)


def open_questions(phrases: Phrases, columns: ColumnMapping) -> Iterator[str]:
    """Say what the owner should tell of the book: what is needed first."""
    missing = columns.missing()
    for role in missing:
        if role in columns.asks:
            yield phrases.say(f"job_book.ask_{role}")
        else:
            named = phrases.say(f"role.{role}")
            yield phrases.say("job_book.need_age") if role == "age" else phrases.say("job_book.need", role=named)
    for unclear in columns.undecided:
        names = "; ".join(phrases.say(f"role.{role}") for role in unclear.roles)
        if len(unclear.headers) == 1:
            yield phrases.say("job_book.undecided_column", column=unclear.headers[0], roles=names)
        else:
            yield phrases.say("job_book.undecided_role", role=names, columns="; ".join(unclear.headers))
    for role, words in columns.unknown_words.items():
        facts = {"role": phrases.say(f"role.{role}"), "words": "; ".join(words[:MOST_LISTED])}
        yield phrases.say("job_book.unknown_words", **facts)


def show_jobs(words: Words, currency: str, found: BookResult, skipped_path: str = "") -> None:
    """Show what came of a book: the sums, then the summary, then what was skipped."""
    page = Page(WIDTH)
    page.line()
    for sentence in job_sentences(words, currency, found):
        page.line(sentence)
    page.heading(words.say("terminal.jobs.summary"))
    _figures_table(page, words, ("class", "age"), summary_rows(words, currency, found.tally))
    page.line(words.say("terminal.jobs.legend"), "dim")
    page.heading(words.say("terminal.jobs.decisions"))
    _figures_table(page, words, ("decision",), decision_rows(words, currency, found.tally))
    if found.skipped:
        page.heading(words.say("terminal.jobs.skipped"))
        for line in skipped_lines(words, found, MOST_LISTED):
            page.line(line)
        if skipped_path:
            page.line(words.say("jobs.skipped_all", path=skipped_path))


def _figures_table(page: Page, phrases: Phrases, names: Sequence[str], rows: Sequence[Sequence[str]]) -> None:
    """A table of figures, without the columns in which no line has any."""
    nothing = ("", phrases.number(0, 0))
    fixed = len(names)
    known = [at for at in range(fixed + len(COLUMNS)) if at < fixed or any(row[at] not in nothing for row in rows)]
    heads = [phrases.say(f"jobs.summary.{head}") for head in (*names, *COLUMNS)]
    page.table([heads[at] for at in known], [[row[at] for at in known] for row in rows], range(fixed, len(known)))


def job_sentences(words: Words, currency: str, found: BookResult) -> Iterator[str]:
    """Say in a few sentences what came of a book."""
    whole = part(found.tally)
    facts = {"rows": count(words, "row", found.rows), "weighed": words.number(whole.jobs, 0)}
    yield words.say("jobs.rows", **facts, skipped=words.number(found.skipped_rows, 0))
    if not whole.jobs:
        yield words.say("jobs.none")
        return
    if whole.quoted:
        quotes = {"quoted": count(words, "quote", whole.quoted), "above": words.number(whole.above, 0)}
        yield words.say("jobs.share_above", **quotes, share=words.percent(whole.above_share, 0))
    if whole.above:
        costs = {"cost": words.money(whole.paid_above_cost, currency), "count": words.number(whole.paid_above, 0)}
        each = "" if not whole.paid_above else words.money(whole.paid_above_each, currency)
        yield words.say("jobs.paid_above", **costs, each=each) if whole.paid_above else words.say("jobs.paid_none")
    if whole.passed_up:
        cost = words.money(whole.value_lost_by_declining, currency)
        yield words.say("jobs.passed_up", count=count(words, "quote", whole.passed_up), cost=cost)
    if whole.refused:
        yield words.say("jobs.refused", count=count(words, "job", whole.refused))


def count(phrases: Phrases, what: str, number: int) -> str:
    """A number of rows, quotes or jobs, with its word."""
    return phrases.counted(f"jobs.count.{what}", number)


def band_name(phrases: Phrases, band: int | None) -> str:
    """Name a band of age."""
    if band is None:
        return phrases.say("jobs.all_ages")
    low, high = (phrases.number(edge, 0) if math.isfinite(edge) else "" for edge in AGE_EDGES[band : band + 2])
    key = "band_first" if band == 0 else "band_last" if band == BANDS - 1 else "band"
    return phrases.say(f"jobs.{key}", low=low, high=high)


def class_name(phrases: Phrases, kind: str | None) -> str:
    """Name a class, or all."""
    return phrases.say("jobs.all_classes") if kind is None else phrases.kind(kind)


def summary_rows(phrases: Phrases, currency: str, tally: Tally) -> list[tuple[str, ...]]:
    """The summary by class and age, as texts."""
    return [
        (class_name(phrases, line.kind), band_name(phrases, line.band), *_figures(phrases, currency, line))
        for line in summary(tally)
    ]


def decision_rows(phrases: Phrases, currency: str, tally: Tally) -> list[tuple[str, ...]]:
    """The summary by what the customer did, as texts."""
    lines = [(decision, part(tally, None, None, decision)) for decision in DECISIONS]
    return [
        (phrases.say(f"jobs.decision.{decision}"), *_figures(phrases, currency, line))
        for decision, line in lines
        if line.jobs
    ]


def _figures(phrases: Phrases, currency: str, line: SummaryLine) -> Iterator[str]:
    for name in COLUMNS:
        value = getattr(line, name)
        if math.isnan(value):
            yield ""
        elif name in SHARES:
            yield phrases.percent(value, 0)
        else:
            yield phrases.money(value, currency) if name in SUMS else phrases.number(value, 0)


def skipped_lines(phrases: Phrases, found: BookResult, most: int) -> Iterator[str]:
    """Say how many rows were skipped for which reason, and the first of them."""
    for reason, number in found.skipped.items():
        yield phrases.say("jobs.skipped_of", count=count(phrases, "row", number), reason=reason_text(phrases, reason))
    yield from (skipped_line(phrases, row) for row in found.shown[:most])
    if found.skipped_rows > most:
        yield phrases.say("jobs.skipped_more", count=phrases.number(found.skipped_rows - most, 0))


def skipped_line(phrases: Phrases, row: RejectedRow) -> str:
    """Say of one row why it was skipped, and what stands there."""
    facts = {"line": str(row.row), "column": row.column, "reason": reason_text(phrases, row.reason), "text": row.text}
    if not row.column and not row.text:
        return phrases.say("jobs.skipped_row", **facts)
    key = "skipped_rows" if row.column and row.text else "skipped_blank" if row.column else "skipped_row"
    return phrases.say(f"job_book.{key}", **facts)


def jobs_data(found: BookResult, currency: str) -> dict[str, Any]:
    """Lay the sums out in dictionaries and lists."""
    return {
        "currency": currency,
        "rows": found.rows,
        "skipped_rows": dict(found.skipped),
        "summary": [part_data(line) for line in summary(found.tally)],
        "by_decision": {
            decision: part_data(part(found.tally, None, None, decision), by_age=False) for decision in DECISIONS
        },
    }


def write_summary(path: Path, found: BookResult, over: bool = True) -> None:
    """Write the summary as a csv table; names that stay as they are, and blanks for what does not exist."""
    rows = [part_data(line) for line in summary(found.tally)]
    write_table(path, [{name: "" if _missing(value) else value for name, value in row.items()} for row in rows], over)


def _missing(value: object) -> bool:
    return value is None or (isinstance(value, float) and not math.isfinite(value))


def part_data(line: SummaryLine, by_age: bool = True) -> dict[str, Any]:
    """Lay a line of the summary out: plain numbers, shares as fractions, ages in years."""
    figures = {name: value for name, value in asdict(line).items() if name not in ("kind", "band")}
    figures |= {name: getattr(line, name) for name in ("median_limit", "above_share", "paid_above_each")}
    if not by_age:
        return figures
    band = (0, BANDS - 1) if line.band is None else (line.band, line.band)
    ages = {"age_from": AGE_EDGES[band[0]], "age_below": AGE_EDGES[band[1] + 1]}
    return {"class": line.kind, **ages, **figures}
