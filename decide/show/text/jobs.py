"""A weighed job book: from numbers to sentences, rows and the columns that are written."""

import math
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from ...answers.book import BookResult, Rows, SkippedRows
from ...load.jobs.chunks import RejectedRow, TextChunk, series
from ...load.jobs.columns import DATE_ROLES, MONEY_ROLES, ColumnMapping, Undecided
from ...load.jobs.coverage import Coverage
from ...load.jobs.export import SheetForm, Summed
from ...load.tables.tables import Tables
from ...shop.job_totals import AGE_EDGES, BANDS, SummaryLine, Tally, part, summary
from ...shop.jobs import Jobs
from ...shop.losses import Loss
from ...shop.weigh_jobs import REASONS, SURE, VERDICTS, WeighedJobs
from .freshness import money_of
from .phrases import Phrases
from .words import Words

if TYPE_CHECKING:
    from ...load.jobs.export import RowWriter

MOST_LISTED: Final = 20
"""Skipped rows that the terminal tells one by one."""

COLUMNS: Final = (
    "jobs", "repair", "replace", "leave", "no_quote", "refused", "median_limit", "median_limit_share", "above",
    "above_share", "paid_above_cost", "value_lost_by_declining",
)  # fmt: skip
"""Figures of a line of the summary, by their names in `job_tally.Part`."""
STATE_NAMES: Final = ("repair", "leaning_repair", "close", "leaning_other", "other")
SHARES: Final = ("median_limit_share", "above_share")
SUMS: Final = ("median_limit", "paid_above_cost", "value_lost_by_declining")


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
        yield undecided_text(phrases, unclear)
    for role, words in columns.unknown_words.items():
        facts = {"role": phrases.say(f"role.{role}"), "words": "; ".join(words[:MOST_LISTED])}
        yield phrases.say("job_book.unknown_words", **facts)


def undecided_text(phrases: Phrases, unclear: Undecided) -> str:
    """Say which column could play several roles, or which columns could play one."""
    roles = "; ".join(phrases.say(f"role.{role}") for role in unclear.roles)
    if len(unclear.headers) == 1:
        return phrases.say("job_book.undecided_column", column=unclear.headers[0], roles=roles)
    return phrases.say("job_book.undecided_role", role=roles, columns="; ".join(unclear.headers))


def coverage_sentences(words: Words, found: Coverage, reference: Tables) -> Iterator[str]:
    """Say how much of a book was read, whether the rest is like it, and what would help most."""
    further, share = found.folded.total(), words.percent(found.share, 0)
    rows, read = count(words, "row", found.rows - further), words.number(found.read - further, 0)
    yield words.say("coverage.read", rows=rows, read=read, share=share)
    if further:
        yield words.say("coverage.folded", rows=count(words, "row", further))
    if differs := found.differs(reference.usual("most_mix_shift", words.region).value):
        traits = ", ".join(words.say(f"coverage.trait.{trait}") for trait in differs)
        yield words.say("coverage.differs", traits=traits)
    if held := found.held_back(reference, words.region):
        least = words.percent(reference.usual("least_read_share", words.region).value, 0)
        yield words.say(f"coverage.held.{held}", least=least)
    if helps := found.helps():
        cell, n = helps
        facts = {"role": words.say(f"role.{cell.role}"), "rows": count(words, "row", n), "text": cell.text}
        key = "word" if cell.text else "cells"
        yield words.say(f"coverage.helps_{key}", reason=reason_text(words, cell.reason), **facts)


def job_sentences(words: Words, found: BookResult, reference: Tables) -> Iterator[str]:
    """Say in a few sentences what came of a book: its coverage first, and no losses where they are held back."""
    whole = part(found.tally)
    yield from coverage_sentences(words, found.coverage, reference)
    yield from (words.say(f"suspicion.{each}") for each in found.suspicions)
    if not whole.jobs:
        yield words.say("jobs.none")
        return
    if whole.quoted:
        quotes = {"quoted": count(words, "quote", whole.quoted), "above": words.number(whole.above, 0)}
        yield words.say("jobs.share_above", **quotes, share=words.percent(whole.above_share, 0))
        if whole.turned_by_fee:
            yield words.say("jobs.turned_by_fee", count=count(words, "quote", whole.turned_by_fee))
        if total := sum(found.states.values()):
            shares = {name: words.percent(found.states.get(name, 0) / total, 0) for name in STATE_NAMES}
            yield words.say("jobs.states", **shares)
    if not found.coverage.held_back(reference, words.region):
        losses = found.losses
        if whole.above:
            key = "jobs.paid_above" if whole.paid_above else "jobs.paid_none"
            yield words.say(key, count=count(words, "quote", whole.paid_above))
        if whole.paid_above:
            yield loss_text(words, losses.paid_too_much)
        if whole.passed_up:
            yield words.say("jobs.passed_up", count=count(words, "quote", whole.passed_up))
            yield loss_text(words, losses.passed_up)
    if whole.refused:
        yield words.say("jobs.refused", count=count(words, "job", whole.refused))


def loss_text(words: Words, loss: Loss) -> str:
    """Say what customers lost, how far that is known, and what of the plain count their own limits explain."""
    return words.say("jobs.loss", **{name: words.money(each) for name, each in vars(loss).items()})


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


def held_lines(lines: Iterable[SummaryLine], held: str) -> list[SummaryLine]:
    """Lines of a summary; what customers lost is in none where it is held back."""
    if not held:
        return list(lines)
    return [replace(line, paid_above_cost=math.nan, value_lost_by_declining=math.nan) for line in lines]


def summary_rows(phrases: Phrases, tally: Tally, held: str) -> list[tuple[str, ...]]:
    """The summary by class and age, as texts."""
    return [
        (
            class_name(phrases, line.kind),
            band_name(phrases, line.band),
            *(figure_text(phrases, name, getattr(line, name)) for name in COLUMNS),
        )
        for line in held_lines(summary(tally), held)
    ]


def figure_text(phrases: Phrases, name: str, value: float) -> str:
    """Write a figure of the summary; nothing where there is none."""
    if math.isnan(value):
        return ""
    if name in SHARES:
        return phrases.percent(value, 0)
    return phrases.money(value) if name in SUMS else phrases.number(value, 0)


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


# what is written


def summary_lines(words: Words, found: BookResult, reference: Tables) -> Summed:
    """The first sheet of a book that was weighed: its rows, verdicts and money, and the same in sentences."""
    whole, say = part(found.tally), words.say
    (line,) = held_lines([whole], found.coverage.held_back(reference, words.region))
    rows = {"read": found.rows, "answered": whole.jobs, "folded": found.coverage.folded.total()}
    kinds = {"above": "number", "above_share": "share", **dict.fromkeys(SUMS[1:], "money")}
    money = ((say(f"jobs.sheet.{name}"), float(getattr(line, name)), kind) for name, kind in kinds.items())
    verdicts = [each.replace(" ", "_") for each in VERDICTS[1:]]
    texts = (*job_sentences(words, found, reference), say("terminal.jobs.legend"), money_of(words))
    return [
        (say("jobs.sheet.rows"),),
        *((say(f"jobs.sheet.{name}"), n, "number") for name, n in rows.items()),
        (say("jobs.sheet.unanswered"), found.skipped_rows, "number"),
        *((reason_text(words, reason), n, "number") for reason, n in found.skipped.items()),
        (say("jobs.column.verdict"),),
        *((say(f"jobs.verdict.{each}"), getattr(whole, each), "number") for each in verdicts),
        (say("jobs.column.state"),),
        *((say(f"jobs.sheet.{name}"), found.states.get(name, 0), "number") for name in STATE_NAMES),
        (say("jobs.sheet.money"),),
        *(each for each in money if math.isfinite(each[1])),
        *((each,) for each in texts),
    ]


def reason_text(phrases: Phrases, reason: str) -> str:
    """Why a row was skipped, in words."""
    return phrases.say(f"jobs.reason.{reason}" if reason in REASONS else f"job_book.reason.{reason}")


RESULTS: Final = {
    "class": "text", "age": "years", "fault": "text", "quote": "money", "limit": "money", "advantage": "money",
    "credit": "money", "verdict": "text", "state": "text", "limit_share": "share", "quote_share": "share",
    "new_price": "money", "cautions": "text",
}  # fmt: skip
"""What is added to each row of the book, the first four as they were read, and what kind of cells it is."""

OWN_KINDS: Final = {
    **dict.fromkeys(MONEY_ROLES, "money"), **dict.fromkeys(DATE_ROLES, "day"),
    **dict.fromkeys(("age", "year", "labour_hours"), "number"),
}  # fmt: skip
"""Kinds of cells of the book's own columns, by role."""


def sheet_form(words: Words, header: tuple[str, ...], columns: ColumnMapping) -> SheetForm:
    """How a sheet shows the rows of a book and what came of them: days as days, money as money."""
    symbol, called = words.unit("money"), _headings(words, header, "jobs.column", RESULTS)
    own = {columns.columns[role]: kind for role, kind in OWN_KINDS.items() if role in columns.columns}
    return SheetForm(
        kinds=own | {called[name]: kind for name, kind in RESULTS.items() if kind != "text"},
        money=f'"{symbol}"#,##0.00' if words.region == "US" else f'#,##0.00 "{symbol}"',
        decimal_mark=columns.decimal_mark,
        date_order=columns.date_order,
        summary=words.say("jobs.sheet.name"),
    )


def rows_out(phrases: Phrases, header: tuple[str, ...], writer: "RowWriter", without: Collection[str] = ()) -> Rows:
    """Write the rows of a book as they came, with what came of each of them; money to the cent.

    `without`: columns that are left out.
    """
    import pyarrow as pa

    def text(choices: Sequence[str], which: Any) -> "pa.LargeStringArray":
        return pa.array(choices, pa.large_string()).take(pa.array(which))

    called = _headings(phrases, header, "jobs.column", RESULTS)
    verdicts = [phrases.say(f"jobs.verdict.{verdict.replace(' ', '_')}") for verdict in VERDICTS]
    states = [phrases.say(f"jobs.state.{state or 'none'}") for state in SURE]
    remarks = [phrases.say(f"jobs.{each}") for each in ("stop", "claim", "fee_alone")]
    cautions = ["; ".join(each for bit, each in enumerate(remarks) if code >> bit & 1) for code in range(8)]

    def write(chunk: TextChunk, jobs: Jobs, weighed: WeighedJobs) -> None:
        which = np.searchsorted(chunk.lines, jobs.row)
        kinds, faults = map(phrases.kind, jobs.kinds), map(phrases.fault, jobs.faults)
        results: dict[str, Any] = {
            "class": text([*kinds], jobs.kind),
            "age": np.round(jobs.age, 2),
            "fault": text([*faults], jobs.fault),
            "quote": np.round(jobs.quote, 2),
            "limit": np.round(weighed.repair_limit, 2),
            "advantage": np.round(weighed.advantage, 2),
            "credit": np.round(weighed.credit, 2),
            "verdict": text(verdicts, weighed.verdict),
            "state": text(states, weighed.state),
            "limit_share": np.round(weighed.limit_share, 4),
            "quote_share": np.round(weighed.quote_share, 4),
            "new_price": np.round(weighed.new_price, 2),
            "cautions": text(cautions, weighed.stopped + 2 * weighed.claimable + 4 * weighed.turned_by_fee),
        }
        own = {name: chunk.columns[name].iloc[which].reset_index(drop=True) for name in header if name not in without}
        writer.write(own | {called[name]: values for name, values in results.items()})

    return write


def _headings(phrases: Phrases, header: tuple[str, ...], section: str, names: Iterable[str]) -> dict[str, str]:
    """Headings of what is added, by name; one that the book has itself gets a number."""
    taken, called = set(header), {}
    for name in names:
        heading = plain = phrases.say(f"{section}.{name}")
        count = 2
        while heading in taken:
            heading, count = f"{plain} ({count})", count + 1
        called[name] = heading
        taken.add(heading)
    return called


def skipped_out(
    phrases: Phrases, header: tuple[str, ...], writer: "RowWriter", without: Collection[str] = ()
) -> SkippedRows:
    """Write the skipped rows as they came, each with its line and reason, to be mended and given again.

    `without`: columns that are left blank; what stands there stays as it is where the rows come back.
    """
    import pyarrow as pa
    import pyarrow.compute as pc

    called = _headings(phrases, header, "jobs.skipped", ("line", "column", "reason", "text"))

    def write(chunk: TextChunk, skipped: Sequence[RejectedRow]) -> None:
        at = pc.index_in(pa.array([each.row for each in skipped]), pa.array(chunk.lines))  # null where it was not cut
        rows: dict[str, Any] = {
            name: [""] * len(at) if name in without else series(pa.array(chunk.columns[name].array).take(at))
            for name in header
        }
        why = [reason_text(phrases, each.reason) for each in skipped]
        columns = zip(
            *((each.row, each.column, reason, each.text) for each, reason in zip(skipped, why, strict=True)),
            strict=True,
        )
        writer.write({**rows, **dict(zip(called.values(), map(list, columns), strict=True))})

    return write
