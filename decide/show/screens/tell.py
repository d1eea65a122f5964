"""What the page at the door says back: the answer first, then what it rests on. Facts and sentences come from `Words`.

Names and titles come from customers and files, so whatever carries one is shown by `st.text`, never read as marks.
"""

import math
from itertools import groupby
from typing import Final

import streamlit as st

from ..answer import Answer
from ..carbon_words import landlord_said
from ..charts import breakeven_chart, causes_chart, paid_chart
from ..words import Assumption, OptionRow, Words
from .carbon import say_carbon
from .parts import draw, labelled, say_text, unfolding
from .safety import say_cautions
from .sure import say_sure

FACTS: Final = {"today": "today", "years": "lasts", "yearly": "yearly", "present": "present"}
"""What a card shows of an option, each with the key of its label."""


def tell(words: Words, answer: Answer) -> None:
    """Say the whole answer. Where the unit must not be used, the order to heed stands above, and money behind a tap."""
    lines = words.cautions(answer)
    once_safe = words.once_safe(answer)
    if answer.weighing.stopped_by:
        with unfolding("money", words.say("door.once_safe")) as is_open:
            if is_open:
                st.text(once_safe)
                _say_money(words, answer)
    else:
        with st.container(key="answer"):
            say_text("verdict", words.verdict(answer))
            say_text("headline", words.headline(answer))
            if once_safe:
                st.text(once_safe)
            if not math.isnan(float(answer.weighing.repair_limit)):
                _say_sums(words, answer)
        _say_money(words, answer)
    st.subheader(words.say("door.cautions"), anchor="heed")
    said = words.headline(answer)
    say_cautions(words, [line for line in lines if line.text not in said], "stop")
    say_cautions(words, lines, "act")
    notes = sum(line.weight == "note" for line in lines)
    if notes:
        with st.expander(words.say("door.notes", count=words.number(notes, 0))):
            say_cautions(words, lines, "note")
    _say_assumptions(words, words.assumptions(answer))


def _say_money(words: Words, answer: Answer) -> None:
    """Say all that is reckoned: the options, what tips it, how sure it is, where the money goes, and why."""
    if answer.weighing.stopped_by and not math.isnan(float(answer.weighing.repair_limit)):
        _say_sums(words, answer)
    for index, sentence in enumerate(words.findings(answer)):
        say_text(f"finding_{index}", sentence)
    _say_options(words, answer)
    chart = breakeven_chart(answer, words)
    if chart is not None:
        st.subheader(words.say("door.breakeven"), anchor=False)
        st.caption(words.say("door.breakeven_note"))
        draw(chart, "breakeven")
    say_sure(words, answer)
    st.subheader(words.say("door.causes"), anchor=False)
    st.caption(words.say("door.causes_note"))
    draw(causes_chart(answer, words), "causes")
    st.subheader(words.say("door.why"), anchor=False)
    for sentence in (*words.because(answer), *landlord_said(words, answer)):
        st.text(sentence)
    _say_measures(words, answer)
    say_carbon(words, answer)


def _say_sums(words: Words, answer: Answer) -> None:
    limit, quoted = float(answer.weighing.repair_limit), float(answer.weighing.quoted)
    currency = answer.case.household.currency
    cents = not math.isnan(quoted) and bool(round(quoted * 100) % 100)
    with st.container(key="sums", horizontal=True):
        if limit >= 0:
            with st.container(key="sum_limit"):
                st.caption(words.say("door.limit"))
                st.text(words.money(limit, currency, cents))
        if not math.isnan(quoted):
            with st.container(key="sum_quote"):
                st.caption(words.say("door.quoted"))
                st.text(words.money(quoted, currency, cents))


def _say_options(words: Words, answer: Answer) -> None:
    st.subheader(words.say("door.options"), anchor=False)
    st.caption(words.say("door.options_note" if _is_endless(answer) else "door.options_note_ends"))
    undecided = _is_open(answer) or answer.close
    best = None if undecided else int(answer.weighing.best)
    with st.container(key="cards"):
        for index, row in enumerate(words.options(answer)):
            if not row.hidden:
                with st.container(key=f"card_{'best' if index == best else index}"):
                    _card(words, row, index, words.today_parts(answer, index) if row.today else [])


def _is_open(answer: Answer) -> bool:
    """Whether the quote that would decide is still to come."""
    return math.isnan(float(answer.weighing.quoted)) and float(answer.weighing.repair_limit) >= 0


def _is_endless(answer: Answer) -> bool:
    """Whether one is needed without an end in sight."""
    return math.isinf(float(answer.case.household.study_period))


def _card(words: Words, row: OptionRow, index: int, parts: list[tuple[str, str]]) -> None:
    say_text(f"name_{index}", row.name)
    if row.note:
        say_text(f"note_{index}", row.note)
    for name, key in FACTS.items():
        if getattr(row, name):
            with st.container(key=f"fact_{name}_{index}", horizontal=True, wrap=False):
                st.caption(words.say(f"door.{key}"))
                st.text(getattr(row, name))
        if name == "today" and len(parts) > 1:
            say_text(f"small_parts_{index}", "\n".join(f"{label}: {amount}" for label, amount in parts))


def _say_measures(words: Words, answer: Answer) -> None:
    with unfolding("measures", words.say("door.measures")) as is_open:
        if not is_open:
            return
        st.caption(words.say("door.measures_note"))
        for index, (label, value) in enumerate(words.measures(answer)):
            with labelled(f"measure_{index}", label):
                st.text(value)
        chart = paid_chart(answer, words)
        if chart is not None:
            st.markdown(f"**{words.say('door.paid')}**")
            st.caption(words.say("door.paid_note" if _is_endless(answer) else "door.paid_note_ends"))
            draw(chart, "paid")


def _say_assumptions(words: Words, lines: list[Assumption]) -> None:
    figures = [line for line in lines if line.origin == "figure"]
    with unfolding("assumptions", words.say("door.assumptions", count=words.number(len(lines), 0))) as is_open:
        if not is_open:
            return
        st.caption(words.say("door.assumptions_note"))
        for group, members in groupby(figures, key=lambda line: line.group):
            st.markdown(f"**{group}**")
            for line in members:
                _assumption(words, line)
        for origin in ("entered", "plain"):
            st.markdown(f"**{words.say(f'door.{origin}_head')}**")
            for line in lines:
                if line.origin == origin:
                    _assumption(words, line)


def _assumption(words: Words, line: Assumption) -> None:
    key = line.path.replace(".", "_")
    label = line.label if line.origin == "figure" else f"{line.label} ({line.group})"
    with labelled(key, label):
        st.text(f"{line.value}, {words.say('door.range', range=line.range)}" if line.range else line.value)
        if line.origin == "figure":
            told = (f"{line.status}: {line.source}", line.note)
            say_text(f"small_{key}", "\n".join(part for part in told if part))
