"""Lays a weighed job book out for a terminal, and as plain data."""

from typing import Any, Final

from ...answers.book import BookResult, part_data
from ...load.jobs.columns import ColumnMapping
from ...load.tables.tables import Tables
from ...shop.job_totals import part, summary
from ...shop.jobs import DECISIONS
from ..text import jobs as text
from ..text.phrases import Phrases
from ..text.words import Words
from .layout import Page
from .records import coverage_data

WIDTH: Final = 136
"""Of the summary. [character]"""


def show_mapping(phrases: Phrases, header: tuple[str, ...], columns: ColumnMapping) -> None:
    """Show which column of the book is taken for what."""
    page = Page()
    page.heading(phrases.say("terminal.jobs.mapping"))
    roles = {heading: phrases.say(f"role.{role}") for role, heading in columns.columns.items()}
    rows = [(heading, roles.get(heading, phrases.say("terminal.jobs.unused"))) for heading in header]
    page.table([phrases.say(f"terminal.jobs.{head}") for head in ("column", "role")], rows)
    questions = list(text.open_questions(phrases, columns))
    if questions:
        page.heading(phrases.say("terminal.jobs.questions"))
        for question in questions:
            page.line(question)


def show_jobs(words: Words, currency: str, found: BookResult, reference: Tables, skipped_path: str = "") -> None:
    """Show what came of a book: the sums, then the summary, then what was skipped."""
    page = Page(WIDTH)
    page.line()
    for sentence in text.job_sentences(words, currency, found, reference):
        page.line(sentence)
    page.heading(words.say("terminal.jobs.summary"))
    names, rows = ("class", "age", *text.COLUMNS), text.summary_rows(words, currency, found.tally)
    nothing = ("", words.number(0, 0))  # a column in which no line has a figure is left out
    known = [at for at in range(len(names)) if at < 2 or any(row[at] not in nothing for row in rows)]
    heads = [words.say(f"jobs.summary.{names[at]}") for at in known]
    page.table(heads, [[row[at] for at in known] for row in rows], range(2, len(known)))
    page.line(words.say("terminal.jobs.legend"), "dim")
    if found.skipped:
        page.heading(words.say("terminal.jobs.skipped"))
        for line in text.skipped_lines(words, found, text.MOST_LISTED):
            page.line(line)
        if skipped_path:
            page.line(words.say("jobs.skipped_all", path=skipped_path))


def jobs_data(found: BookResult, currency: str, held: str) -> dict[str, Any]:
    """Lay the sums out in dictionaries and lists; losses are null where they are held back."""
    return {
        "currency": currency,
        "rows": found.rows,
        "coverage": coverage_data(found.coverage, held),
        "losses": None
        if held
        else {name: vars(getattr(found.losses, name)) for name in ("passed_up", "paid_too_much")},
        "states": dict(found.states),
        "skipped_rows": dict(found.skipped),
        "summary": [part_data(line) for line in summary(found.tally)],
        "by_decision": {
            decision: part_data(part(found.tally, None, None, decision), by_age=False) for decision in DECISIONS
        },
    }
