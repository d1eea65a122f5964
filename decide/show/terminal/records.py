"""Lays what a shop's own records tell out for a terminal, each figure beside the shipped one; or gives it as data."""

from collections.abc import Sequence
from functools import partial
from typing import Any

from ...load.cases.parts.entries import SCHEMA
from ...load.jobs.coverage import Coverage
from ...load.jobs.own_records import ClassRecords
from ...load.tables.tables import CURRENCIES, tables
from ...shop.callback_jobs import CallbackJobs
from ...shop.lifetimes import LEAST_ENDS, MOST_LOST_TO_FOLLOW_UP
from ...shop.records import RecordFigure
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
    for sentence in callback_text(words, called):
        page.line(sentence)
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
    for note in record_notes(words, records):
        page.line(note, "dim")


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
    days = words.quantity(called.window, "day", CURRENCIES[words.region])
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
        write = partial(_figure, words, unit=unit, currency=CURRENCIES[each.region])
        there = write(each.shipped[name].value) if name in each.shipped else ""
        own, ends = words.say("records.too_few"), ""
        if not found.too_few:
            own = write(found.value)
            ends = words.say("assumption.range", low=write(found.low), high=write(found.high))
        rows.append((words.say(f"records.figure.{name}"), own, ends, words.number(found.n, 0), there))
    return rows


def _figure(words: Words, value: float, unit: str, currency: str) -> str:
    if unit == "money":
        return words.money(value, currency)
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
    if reason:
        return {"repair_success_probability": None, "reason": reason}
    return {
        "repair_success_probability": {
            "value": found.value, "low": found.low, "high": found.high, "jobs": found.n, "n": found.n
        },
        "reason": None,
    }  # fmt: skip


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
