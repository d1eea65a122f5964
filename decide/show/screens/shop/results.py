"""What came of a job book: said first, then by class and age, drawn, skipped, and to be taken away."""

import math
from dataclasses import dataclass, replace
from functools import partial
from io import BytesIO
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any, Final

import streamlit as st

from ....answers.book import CHUNK, SHOWN, BookResult, part_data, weigh_book
from ....load.jobs.book import Progress
from ....load.jobs.export import RowWriter, SheetForm, Summed
from ....load.tables.tables import Tables
from ....shop.job_totals import SummaryLine, part, summary
from ....shop.jobs import DECISIONS
from ...charts.shop import advantage_chart
from ...text.certainty import Line
from ...text.jobs import (
    COLUMNS,
    band_name,
    class_name,
    count,
    figure_text,
    held_lines,
    job_sentences,
    reason_text,
    rows_out,
    sheet_form,
    skipped_out,
    summary_lines,
)
from ...text.words import Words
from ..html import rows, text
from ..state.repository import taken
from ..widgets import download, draw, say_text, show, unfolding
from .held import Held, count_rows, worked_out

if TYPE_CHECKING:
    import pandas as pd

STEP: Final = 2_000
LARGE_STEP: Final = 10_000
"""Rows that are weighed before the bar moves, of a small book and of a large one."""


FORMATS: Final = {"csv": "text/csv", "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"} | {
    "parquet": "application/vnd.apache.parquet"
}
FIRST_COLUMNS: Final = ("jobs", "above", "above_share", "paid_above_cost", "value_lost_by_declining")


@dataclass(frozen=True, eq=False)
class Weighed:
    """A book that was weighed, and what came of it."""

    held: Held
    found: BookResult
    rows: bytes
    """Parquet; empty where no row could be weighed."""
    skipped: bytes
    """The skipped rows; likewise."""


def say_results(words: Words, held: Held, reference: Tables) -> None:
    """Weigh the book, unless that was done, and say what came of it."""
    wants = held, reference, words.language
    done = worked_out(words, "weighed", held, wants, partial(_weigh, words, held, reference))
    if done is None:
        return
    _say_sums(words, done.found, reference)
    _take_away(words, done, reference)
    if part(done.found.tally).jobs:
        _say_summary(words, done.found, done.found.coverage.held_back(reference, words.region))
        if (chart := advantage_chart(words, done.found.tally)) is not None:
            st.subheader(words.say("shop.chart.spread"), anchor=False)
            draw(chart, "shop_chart_spread")
    _say_skipped(words, done.found)


# weighing


def _weigh(words: Words, held: Held, reference: Tables, tell: Progress) -> Weighed:
    size = LARGE_STEP if held.is_large else STEP
    with TemporaryDirectory() as folder:
        rows, skipped = Path(folder, "rows.parquet"), Path(folder, "apart.parquet")
        with RowWriter.of(rows) as out, RowWriter.of(skipped) as out_skipped:
            found = weigh_book(
                held.book,
                held.mapping,
                reference,
                rows_out(words, held.book.header, out, held.left_out),
                skipped_out(words, held.book.header, out_skipped, held.left_out),
                lambda rows, share: tell(rows, rows / held.lines if held.lines else share),
                size,
            )
        contents = [path.read_bytes() if path.exists() else b"" for path in (rows, skipped)]
    count_rows(held, found.rows)
    return Weighed(held, found, *contents)


# in words and numbers


def _say_sums(words: Words, found: BookResult, reference: Tables) -> None:
    """What came of it in a sentence, the few numbers that matter, and the rest that is to be said."""
    whole, sentences = part(found.tally), list(job_sentences(words, found, reference))
    held = found.coverage.held_back(reference, words.region)
    with st.container(key="answer"):
        if whole.quoted:
            headline, *sentences = sentences  # how much of the book this rests on
            sums = {} if held else {"limit": words.percent(whole.above_share, 0)}
            known = not held and part(found.tally, None, None, *DECISIONS[1:]).jobs  # by answers alone
            losses = {"paid": found.losses.paid_too_much, "unused": found.losses.passed_up} if known else {}
            sums |= {key: words.money(loss.value) for key, loss in losses.items()}
            lines = (Line(words.say(f"shop.sum.{key}"), amount, name=key) for key, amount in sums.items())
            show(text("headline", headline), rows("sums", lines))
        say_text("sentence", *sentences)


def _say_summary(words: Words, found: BookResult, held: str) -> None:
    st.subheader(words.say("terminal.jobs.summary"), anchor=False)
    lines = sorted(  # totals go first, so that they are seen before one scrolls
        held_lines(summary(found.tally), held),
        key=lambda line: (line.kind is not None, class_name(words, line.kind), -1 if line.band is None else line.band),
    )
    named = {
        "class": [class_name(words, line.kind) for line in lines],
        "age": [band_name(words, x.band) for x in lines],
    }
    _figures(words, "shop_summary", named, lines)
    say_text("small", words.say("terminal.jobs.legend"))
    with unfolding("shop_decisions", words.say("terminal.jobs.decisions")) as is_open:
        if is_open:
            told = held_lines((part(found.tally, None, None, each) for each in DECISIONS), held)
            decided = [(each, line) for each, line in zip(DECISIONS, told, strict=True) if line.jobs]
            named = {"decision": [words.say(f"jobs.decision.{each}") for each, _ in decided]}
            _figures(words, "shop_by_decision", named, [line for _, line in decided])


def _figures(words: Words, key: str, named: dict[str, list[str]], lines: list[SummaryLine]) -> None:
    """A table of real numbers, written as people of the place write them; without columns that say nothing."""
    table, shown = figures_table(words, named, lines)
    pinned = {words.say(f"jobs.summary.{name}"): st.column_config.Column(pinned=True) for name in list(named)[:1]}
    height = min(440, 36 * (len(table) + 1) + 2)
    st.dataframe(shown, key=key, hide_index=True, column_config=pinned, height=height, placeholder="")


def figures_table(
    words: Words, named: dict[str, list[str]], lines: list[SummaryLine]
) -> "tuple[pd.DataFrame, pd.io.formats.style.Styler]":
    """Figures of a summary as a table, and the same as it is shown; totals stand out."""
    import pandas as pd

    rows = [part_data(line) for line in lines]
    order = (*FIRST_COLUMNS, *(name for name in COLUMNS if name not in FIRST_COLUMNS))
    values = {name: [float(row[name]) for row in rows] for name in order}
    known = {name: column for name, column in values.items() if any(each and not math.isnan(each) for each in column)}
    table = pd.DataFrame({words.say(f"jobs.summary.{name}"): column for name, column in {**named, **known}.items()})
    written: Any = {words.say(f"jobs.summary.{name}"): partial(figure_text, words, name) for name in known}
    total = [line.band is None for line in lines]
    shown = table.style.format(written, na_rep="").apply(
        lambda column: ["background-color: #eef3f0" if each else "" for each in total], axis=0
    )
    return table, shown


# skipped


def _say_skipped(words: Words, found: BookResult) -> None:
    """Which rows could not be weighed, and why; said by reason, and listed by line."""
    if not found.skipped:
        return
    import pandas as pd

    st.subheader(words.say("shop.skipped", count=count(words, "row", found.skipped_rows)), anchor=False)
    counted = [(count(words, "row", number), reason_text(words, reason)) for reason, number in found.skipped.items()]
    say_text("sentence", "\n".join(words.say("jobs.skipped_of", count=rows, reason=reason) for rows, reason in counted))
    heads = {name: words.say(f"jobs.skipped.{name}") for name in ("line", "column", "text", "reason")}
    cells = [(str(row.row), row.column, row.text, reason_text(words, row.reason)) for row in found.shown]
    table = pd.DataFrame(cells, columns=list(heads.values()))
    st.dataframe(table, key="shop_apart", hide_index=True, height=min(400, 36 * (len(table) + 1) + 2))
    if found.skipped_rows > SHOWN:
        say_text("small", words.say("shop.skipped_more", shown=words.number(SHOWN, 0)))


# to take away


def _take_away(words: Words, done: Weighed, reference: Tables) -> None:
    """The rows with what came of each, and those skipped, as a file of the kind that is wanted."""
    if not done.rows and not done.skipped:
        return
    labels = {ending: words.say(f"shop.format.{ending}") for ending in FORMATS}
    with st.container(key="take_away", horizontal=True, vertical_alignment="bottom"):
        ending = st.segmented_control(
            words.say("take_away.head"),
            list(labels),
            format_func=labels.__getitem__,
            key="shop_format",
            default="csv",
            required=True,
            persist_state="session",
        )
        form = sheet_form(words, done.held.book.header, done.held.mapping)
        summed = summary_lines(words, done.found, reference)
        _offer(words, "rows", done.rows, str(ending or "csv"), form, summed)
        _offer(words, "skipped", done.skipped, str(ending or "csv"), replace(form, summary=""))
    say_text("small", words.say("shop.take_note"))


def _offer(words: Words, what: str, parquet: bytes, ending: str, form: SheetForm, summed: Summed = ()) -> None:
    if parquet:
        name, made = f"{words.say(f'shop.file.{what}')}.{ending}", partial(as_file, parquet, ending, form, summed)
        label, key = words.say(f"shop.take.{what}"), f"shop_take_{what}"
        download(label, taken(made, name), name, FORMATS[ending], key, first=what == "rows")


def as_file(parquet: bytes, ending: str, form: SheetForm | None = None, summed: Summed = ()) -> bytes:
    """Rows that are kept as Parquet, as a file of another kind; in a spreadsheet no text of them is a formula."""
    import pyarrow.parquet as pq

    if ending == "parquet":
        return parquet
    with TemporaryDirectory() as folder:
        path = Path(folder, f"rows.{ending}")
        with RowWriter.of(path, form=form) as writer:
            for batch in pq.ParquetFile(BytesIO(parquet)).iter_batches(CHUNK):
                writer.write(dict(zip(batch.schema.names, batch.columns, strict=True)))
            writer.summarise(summed)
        return path.read_bytes()
