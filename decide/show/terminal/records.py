"""Lays a weighed job book, and what a shop's own records tell, out for a terminal, or gives it as plain data."""

from collections.abc import Sequence
from functools import partial
from typing import Any, Final

from ...answers.book import BookResult, part_data
from ...load.cases.parts.entries import SCHEMA
from ...load.jobs.columns import ColumnMapping
from ...load.jobs.coverage import Coverage
from ...load.jobs.own_records import ClassRecords
from ...load.tables.tables import Tables, tables
from ...shop.callback_jobs import CallbackJobs
from ...shop.job_totals import part, summary
from ...shop.jobs import DECISIONS
from ...shop.lifetimes import LEAST_ENDS, MOST_LOST_TO_FOLLOW_UP
from ...shop.records import RecordFigure
from ..text import jobs as text
from ..text.phrases import Phrases
from ..text.report import Piece
from ..text.words import Words
from .layout import Page
from .outlet import attributes

MOST_FAULTS = 6
"""Faults of a class that are listed, the most frequent ones."""


def show_records(words: Words, records: Sequence[ClassRecords], called: CallbackJobs, held: str) -> None:
    """Show the callbacks of a book, and by class what the records tell, or are too few to tell."""
    if held:
        return
    page = Page()
    page.blocks([Piece(sentences=tuple(callback_text(words, called)))])
    if not records:
        page.line(words.say("records.none"))
    for each in records:
        page.heading(words.say("records.class", label=words.kind(each.kind), n=words.number(each.jobs, 0)))
        heads = [words.say(f"records.head.{head}") for head in ("figure", "own", "range", "jobs", "shipped")]
        page.table(heads, figure_rows(words, each), range(1, 5))
        page.line(life_text(words, each))
        if each.faults:
            page.line()
            page.table(
                [words.say(f"records.head.{head}") for head in ("fault", "share", "range", "count", "shipped")],
                fault_rows(words, each),
                range(1, 5),
            )
    page.line()
    page.blocks([Piece(small=tuple(record_notes(words, records)))])


def record_notes(words: Words, records: Sequence[ClassRecords]) -> list[str]:
    """What to write down where a life is not told, and how the figures of all classes are to be read."""
    jobs = words.number(tables().usual("prior_jobs", words.region).value, 0)
    keys = ["records.life.record"] * (not all(each.life.identified for each in records)) + ["records.range_note"]
    return [*map(words.say, keys), words.say("records.faults_note", jobs=jobs)] if records else []


def callback_text(words: Words, called: CallbackJobs) -> list[str]:
    """What the whole book tells of callbacks, or why it cannot."""
    found = called.whole
    if found.too_few:
        return [words.say("callbacks.cannot_tell"), words.say(f"callbacks.why_{called.reason}")]
    facts = {name: words.percent(getattr(found, name), 1) for name in ("low", "high")}
    numbers = {"n": found.n, "candidates": int((called.later >= 0).sum()), "counted": int(called.counts.sum())}
    facts |= {name: words.number(number, 0) for name, number in numbers.items()}
    days = words.quantity(called.window, "day")
    return [words.say("callbacks.whole", share=words.percent(found.value, 1), days=days, **facts)]


def figure_rows(words: Words, each: ClassRecords) -> list[tuple[str, ...]]:
    """Name, own figure, its interval, the jobs it rests on and the shipped figure; a figure of too few says so."""
    known = (
        ("mean_life", each.life.mean, "year"),
        ("life_shape", each.life.shape, "-"),
        ("median_quote", each.costs.median, "money"),
        ("quote_share", each.share, "share"),
        ("later_repair_log_sd", each.costs.spread, "-"),
        ("repair_success_probability", each.holds, "share"),
    )
    rows: list[tuple[str, ...]] = []
    for name, found, unit in known:
        write = partial(_figure, words, unit=unit)
        there = write(each.shipped[name].value) if name in each.shipped else ""
        own, ends = words.say("records.too_few"), ""
        if not found.too_few:
            own = write(found.value)
            ends = words.say("assumption.range", low=write(found.low), high=write(found.high))
        rows.append((words.say(f"records.figure.{name}"), own, ends, words.number(found.n, 0), there))
    return rows


def _figure(words: Words, value: float, unit: str) -> str:
    if unit == "money":
        return words.money(value)
    return words.percent(value, 1) if unit == "share" else words.number(value, 2 if unit == "-" else 1)


def life_text(words: Words, each: ClassRecords) -> str:
    """What the life rests on, or plainly why there is none."""
    watched = each.life.watched
    counts = {"n": len(watched)} | attributes(watched, "ends", "without", "lost_to_follow_up")
    facts = {name: words.number(count, 0) for name, count in counts.items()}
    if each.life.identified:
        return words.say("records.life.rests_on", **facts)
    if watched.ends < LEAST_ENDS:
        return words.say("records.life.too_few", least=words.number(LEAST_ENDS, 0), **facts)
    if watched.silence > MOST_LOST_TO_FOLLOW_UP:
        return words.say("records.life.lost_to_follow_up", most=words.percent(MOST_LOST_TO_FOLLOW_UP, 0), **facts)
    return words.say("records.life.no_range", **facts)


def fault_rows(words: Words, each: ClassRecords) -> list[tuple[str, ...]]:
    """The most frequent faults with their share, its interval, their jobs, and the shipped share where there is one."""
    rows: list[tuple[str, ...]] = []
    for fault, found in list(each.faults.items())[:MOST_FAULTS]:
        ends = words.say("assumption.range", low=words.percent(found.low, 0), high=words.percent(found.high, 0))
        label = words.fault(fault)
        usual = words.percent(each.usual.get(fault, 0.0), 0) if each.usual else ""
        rows.append((label, words.percent(found.value, 0), ends, words.number(found.n, 0), usual))
    return rows


def records_data(
    records: Sequence[ClassRecords], called: CallbackJobs, coverage: Coverage, held: str
) -> dict[str, Any]:
    """The same as plain data; what there are too few jobs for, or too little of the book was read for, is null."""
    by_class = coverage.by("class")
    return {
        "schema": SCHEMA,
        "coverage": coverage_data(coverage, held),
        **_holds(called.whole, held or called.reason),
        "candidates": int((called.later >= 0).sum()),
        "classes": {
            each.kind: _class_data(each, _coverage(*by_class.get(each.kind, (0, 0))), held) for each in records
        },
    }


def coverage_data(coverage: Coverage, held: str) -> dict[str, Any]:
    """How much of a book was read, and whether the rest is like it."""
    more = {
        "share": coverage.share,
        "folded": dict(coverage.folded),
        "differs_by": coverage.differs(0.0),
        "held_back": held or None,
    }
    return _coverage(coverage.rows, coverage.read) | more


def _coverage(rows: int, read: int) -> dict[str, Any]:
    return {"rows": rows, "read": read, "share": read / rows if rows else None}


def _holds(found: RecordFigure, reason: str) -> dict[str, Any]:
    known = {**attributes(found, "value", "low", "high"), "jobs": found.n, "n": found.n}
    return {"repair_success_probability": None if reason else known, "reason": reason or None}


def _class_data(each: ClassRecords, coverage: dict[str, Any], held: str) -> dict[str, Any]:
    return {
        "class": each.kind,
        "coverage": coverage,
        **attributes(each, "region", "jobs"),
        "life": {
            "identified": each.life.identified,
            "mean": _plain(each.life.mean),
            "shape": _plain(each.life.shape),
            "units": len(each.life.watched),
            "ends": each.life.watched.ends,
            "units_that_tell_nothing": each.life.watched.without,
            "lost_to_follow_up": each.life.watched.lost_to_follow_up,
        },
        "median_quote": _plain(each.costs.median),
        "quote_share": _plain(each.share),
        "later_repair_log_sd": _plain(each.costs.spread),
        **_holds(each.holds, held or each.cannot_tell),
        "faults": {fault: _plain(found) for fault, found in each.faults.items()},
        "shipped_faults": dict(each.usual),
        "shipped": {
            name: {"value": figure.value, "source": figure.source.citation, "status": figure.status}
            for name, figure in each.shipped.items()
        },
    }


def _plain(found: RecordFigure) -> dict[str, Any]:
    known = not found.too_few
    return {"n": found.n, **{name: getattr(found, name) if known else None for name in ("value", "low", "high")}}


# a weighed book


WIDTH: Final = 136
"""Of the summary. [character]"""


def show_mapping(phrases: Phrases, header: tuple[str, ...], columns: ColumnMapping) -> None:
    """Show which column of the book is taken for what."""
    page = Page()
    page.heading(phrases.say("terminal.jobs.mapping"))
    roles = {heading: phrases.say(f"role.{role}") for role, heading in columns.columns.items()}
    rows = [(heading, roles.get(heading, phrases.say("terminal.jobs.unused"))) for heading in header]
    page.table([phrases.say(f"terminal.jobs.{head}") for head in ("column", "role")], rows)
    if questions := tuple(text.open_questions(phrases, columns)):
        page.blocks([Piece(phrases.say("terminal.jobs.questions"), questions)])


def show_jobs(words: Words, found: BookResult, reference: Tables, skipped_path: str = "") -> None:
    """Show what came of a book: the sums, then the summary, then what was skipped."""
    page = Page(WIDTH)
    page.line()
    page.blocks([Piece(sentences=tuple(text.job_sentences(words, found, reference)))])
    page.heading(words.say("terminal.jobs.summary"))
    held = found.coverage.held_back(reference, words.region)
    names, rows = ("class", "age", *text.COLUMNS), text.summary_rows(words, found.tally, held)
    nothing = ("", words.number(0, 0))  # a column in which no line has a figure is left out
    known = [at for at in range(len(names)) if at < 2 or any(row[at] not in nothing for row in rows)]
    heads = [words.say(f"jobs.summary.{names[at]}") for at in known]
    page.table(heads, [[row[at] for at in known] for row in rows], range(2, len(known)))
    page.line(words.say("terminal.jobs.legend"), "dim")
    if found.skipped:
        every = [words.say("jobs.skipped_all", path=skipped_path)] if skipped_path else []
        lines = *text.skipped_lines(words, found, text.MOST_LISTED), *every
        page.blocks([Piece(words.say("terminal.jobs.skipped"), lines)])


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
        "summary": [part_data(line) for line in text.held_lines(summary(found.tally), held)],
        "by_decision": {
            decision: part_data(line, by_age=False)
            for decision in DECISIONS
            for line in text.held_lines([part(found.tally, None, None, decision)], held)
        },
    }
