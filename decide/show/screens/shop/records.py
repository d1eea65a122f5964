"""What the shop's own job book says of lives, quotes, callbacks and faults, and its use in place of shipped figures."""

import datetime
import string
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Final

import numpy as np
import streamlit as st
from babel.dates import format_date

from ....errors import CaseError
from ....load.jobs.book import Progress
from ....load.jobs.own_figures import LIFE, LONGEST_NAME, LocalFigure, written
from ....load.jobs.own_records import ClassRecords, book_of, callbacks_of, local_figures, records_of
from ....load.jobs.rows import ReadChunk
from ....load.store.store import Store
from ....load.tables.tables import tables
from ....shop.callback_jobs import CallbackJobs, name_of
from ...charts.shop import lives_chart
from ...terminal.records import callback_text, fault_rows, figure_rows, life_text, record_notes
from ...text.certainty import Line
from ...text.words import Words
from ..html import rows
from ..state.repository import keeping, look_up, shop_here
from ..widgets import choice, draw, say_text, show, unfolding
from .book import choose_book
from .held import Held, read_once, says_coverage, worked_out
from .mapping import change

CANDIDATES_SHOWN: Final = 500

NO_NAME = f"{string.punctuation}{string.whitespace}\uff1d\uff0b\uff0d\uff20"
"""Signs that no name begins with; spreadsheets take some for the beginning of a formula."""


@dataclass(frozen=True, eq=False)
class BookRecords:
    """What a book tells, kept for the session."""

    held: Held
    read: ReadChunk
    records: tuple[ClassRecords, ...]
    figures: tuple[LocalFigure, ...]
    dated: bool
    """Whether any job has a date, without which the figures have none either."""
    called: CallbackJobs


def say_records(words: Words) -> None:
    """Draw the part: which figures are in use, and what the open book tells."""
    _say_in_use(words)
    held = choose_book(words)
    if held is None:
        return
    local_words = Words.for_place(held.mapping.place, words.language)
    if held.lacking:
        say_text("sentence", words.say("shop.read_first"))
        return
    if (read := read_once(local_words, held)) is None:
        return
    name = shop_here().name.strip() or held.book.name.rpartition(".")[0]
    plain = "".join(sign for sign in name if sign.isprintable()).lstrip(NO_NAME)
    signed = plain[:LONGEST_NAME].strip() or local_words.say("shop.unnamed")
    work = partial(_records, held, read, signed)
    book_records = worked_out(local_words, "records", held, (held, signed), work)
    if book_records is not None:
        _say_book_records(local_words, book_records)


def _records(held: Held, read: ReadChunk, signed: str, tell: Progress) -> BookRecords:
    jobs, region = read.jobs, tables().region_of(held.mapping.place)
    called = callbacks_of(jobs, region, tables(), held.mapping.callbacks)
    records = records_of(jobs, region, tables(), called, tell)
    try:
        book = book_of(jobs, signed, datetime.date.today())
    except CaseError:
        return BookRecords(held, read, records, (), False, called)
    return BookRecords(held, read, records, local_figures(records, book), True, called)


def _say_book_records(words: Words, book_records: BookRecords) -> None:
    if not book_records.records:
        say_text("sentence", words.say("records.none"))
        return
    concluded = says_coverage(words, book_records.read.coverage, tables())
    if not book_records.dated:
        say_text("sentence", words.say("shop.undated"))
    if not concluded:
        say_text("sentence", words.say("coverage.held_figures"))
        return
    _say_callbacks(words, book_records)
    if book_records.figures:
        _offer_use(words, book_records)
    elif book_records.dated:
        say_text("sentence", words.say("shop.too_few"))
    for each in sorted(book_records.records, key=lambda one: -one.jobs):
        label = words.say("records.class", label=words.kind(each.kind), n=words.number(each.jobs, 0))
        with unfolding(f"shop_records_{each.kind}", label) as is_open:
            if is_open:
                _say_class(words, each)
    say_text("small", *record_notes(words, book_records.records))


def _say_callbacks(words: Words, book_records: BookRecords) -> None:
    """What the book tells of callbacks, and the jobs that it goes by, each of which can be struck out."""
    called, jobs = book_records.called, book_records.read.jobs
    say_text("sentence", *callback_text(words, called))
    found = np.flatnonzero(called.later >= 0)[:CANDIDATES_SHOWN]
    if not len(found):
        return
    import pandas as pd

    with unfolding("shop_callbacks", words.say("callbacks.candidates")) as is_open:
        if is_open:
            say_text("small", words.say("callbacks.head_note"))
            later = called.later[found]
            heads = {name: words.say(f"role.{name}") for name in ("class", "unit", "fault", "quote")}
            table = pd.DataFrame({
                words.say("callbacks.counts"): called.counts[found],
                heads["class"]: [words.kind(jobs.kinds[code]) for code in jobs.kind[found]],
                words.say("callbacks.repair"): jobs.date[found].astype(str),
                words.say("callbacks.later"): jobs.date[later].astype(str),
                heads["fault"]: [words.fault(jobs.faults[code]) for code in jobs.fault[later]],
                heads["quote"]: [words.money(each) for each in jobs.quote[later]],
            })  # fmt: skip
            names, key = [name_of(jobs, int(at)) for at in later], f"shop_called_{st.session_state['shop_turn']}"
            st.data_editor(
                table,
                key=key,
                hide_index=True,
                disabled=[str(name) for name in table][1:],
                on_change=_strike,
                args=(names, key),
            )


def _strike(names: list[str], key: str) -> None:
    """Take what was ticked or unticked; it is kept with the way that the book is read by."""
    edited = st.session_state[key]["edited_rows"]
    ruled = {names[int(at)]: bool(value) for at, cells in edited.items() for value in cells.values()}
    st.session_state["shop_turn"] += 1
    change(lambda mapping: replace(mapping, callbacks={**mapping.callbacks, **ruled}))


def _say_class(words: Words, each: ClassRecords) -> None:
    """One class: each figure beside the shipped one, the lives drawn, and the faults."""
    figures, lives = st.columns(2, gap="large")
    with figures:
        show(rows("lines", (_figure_row(words, *row) for row in figure_rows(words, each))))
    with lives:
        if (chart := lives_chart(words, each)) is not None:
            draw(chart, f"shop_lives_{each.kind}")
        say_text("sentence", life_text(words, each))
        if each.faults:
            import pandas as pd

            heads = [words.say(f"records.head.{head}") for head in ("fault", "share", "range", "count", "shipped")]
            st.dataframe(
                pd.DataFrame(fault_rows(words, each), columns=heads),
                key=f"shop_faults_{each.kind}",
                hide_index=True,
            )


def _figure_row(words: Words, label: str, own: str, ends: str, jobs: str, shipped: str) -> Line:
    text = words.say("shop.own" if ends else "shop.own_too_few", own=own, range=ends, jobs=jobs)
    return Line(label, text, words.say("shop.shipped", value=shipped) if shipped else "")


# use in place of the shipped figures


def _offer_use(words: Words, book_records: BookRecords) -> None:
    """Let the owner choose which own figures take the place of shipped ones; all of them unless some are left out."""
    groups = _groups(book_records.figures)
    labels = {
        (kind, group): words.say("shop.figure_of", label=words.kind(kind), figure=words.say(f"shop.group.{group}"))
        for kind, group in groups
    }
    with st.container(key="shop_use"):
        say_text("sentence", words.say("shop.can_replace", count=words.counted("shop.count.figure", len(groups))))
        with unfolding("shop_which", words.say("shop.which")):
            choice(
                words.say("shop.which_hint"),
                labels,
                f"shop_chosen_{book_records.held.id}",
                required=False,
                selection_mode="multi",
                default=list(labels),
            )
        st.button(words.say("shop.use"), key="shop_use_own", type="primary", on_click=_use, args=(book_records,))


def _groups(figures: Sequence[LocalFigure]) -> dict[tuple[str, str], list[LocalFigure]]:
    """Figures by class and by what they are together: those of a life mean something only as a whole."""
    found: dict[tuple[str, str], list[LocalFigure]] = {}
    for figure in figures:
        group = "life" if figure.quantity in LIFE else figure.quantity
        found.setdefault((figure.kind, group), []).append(figure)
    return found


def _use(book_records: BookRecords) -> None:
    """Keep the chosen figures, dated, and let them stand in for the shipped ones; others no longer do."""
    groups = _groups(book_records.figures)
    chosen = st.session_state.get(f"shop_chosen_{book_records.held.id}", list(groups))
    figures = [figure for key, some in groups.items() if key in chosen for figure in some]

    def use(there: Store) -> None:
        _back(there)
        if figures:
            name, dated = figures[0].shop, max(figure.until for figure in figures)
            there.use_figures(there.keep_figures(name, written(figures), dated).id, True)

    keeping(use)


def _back(there: Store) -> None:
    """Let the shipped figures stand again."""
    for figures in there.local_figures():
        if figures.used:
            there.use_figures(figures.id, False)


def _take_back() -> None:
    keeping(_back)


def _say_in_use(words: Words) -> None:
    """Which figures the answers rest on, and the way back."""
    used = [each for each in look_up(Store.local_figures) or () if each.used]
    with st.container(key="shop_in_use", horizontal=True, vertical_alignment="center"):
        if not used:
            say_text("sentence", words.say("shop.shipped_used"))
            return
        days = [str(format_date(each.dated, "medium", locale=words.locale)) for each in used]
        names = "; ".join(words.say("shop.set", name=each.name, on=day) for each, day in zip(used, days, strict=True))
        say_text("sentence", words.say("shop.own_used", sets=names))
        st.button(words.say("shop.back"), key="shop_back", on_click=_take_back)
