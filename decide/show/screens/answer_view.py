"""What the page at the door says back: the answer first, then what it rests on. Facts and sentences come from `Words`.

Names and titles come from customers and files, so each goes through `html`, which escapes it.
"""

import math
from itertools import groupby
from typing import Final

import streamlit as st

from ...answers.answer import Answer
from ..charts.charts import breakeven_chart, categories_chart, paid_chart
from ..text.carbon_words import landlord_text
from ..text.words import Assumption, CautionLine, OptionRow, Words
from .carbon import say_carbon
from .confidence import say_confidence
from .html import LabelledRow, cards, rows, text
from .safety import say_cautions
from .widgets import draw, say_text, show, unfolding

FACTS: Final = {"today": "today", "years": "lasts", "yearly": "yearly", "present": "present"}
"""What a card shows of an option, each with the key of its label."""


def tell(words: Words, answer: Answer, lines: list[CautionLine]) -> None:
    """Say the whole answer. Where the unit must not be used, what to mind stands above, and money behind a tap."""
    once_safe = words.once_safe(answer)
    if answer.weighing.stopped_by:
        with unfolding("money", words.say("door.once_safe")) as is_open:
            if is_open:
                say_text("sentence", once_safe)
                show(*_sums(words, answer))
                say_text("small", *words.money_text(answer))
                _say_money(words, answer)
    else:
        with st.container(key="answer"):
            first = text("verdict", words.verdict(answer)) + text("headline", words.headline(answer))
            show(first, *([text("sentence", once_safe)] if once_safe else []), *_sums(words, answer))
            say_text("small", *words.money_text(answer))
        _say_money(words, answer)
    st.subheader(words.say("door.cautions"), anchor="cautions")
    sentence = words.headline(answer)
    say_cautions(words, [line for line in lines if line.text not in sentence])
    _say_assumptions(words, words.assumptions(answer))


def _say_money(words: Words, answer: Answer) -> None:
    """Say all that is reckoned: the options, what tips it, how sure it is, where the money goes, and why."""
    say_text("finding", *words.findings(answer))
    _say_options(words, answer)
    chart = breakeven_chart(answer, words)
    if chart is not None:
        st.subheader(words.say("door.breakeven"), anchor=False)
        say_text("small", words.say("door.breakeven_note"))
        draw(chart, "breakeven")
    say_confidence(words, answer)
    st.subheader(words.say("door.categories"), anchor=False)
    say_text("small", words.say("door.categories_note"))
    draw(categories_chart(answer, words), "categories")
    st.subheader(words.say("door.why"), anchor=False)
    say_text("sentence", *words.because(answer), *landlord_text(words, answer))
    _say_measures(words, answer)
    say_carbon(words, answer)


def _sums(words: Words, answer: Answer) -> list[str]:
    """The highest quote worth paying beside what is quoted; nothing where a repair is ruled out."""
    limit, quoted = answer.weighing.repair_limit, answer.weighing.quoted
    if math.isnan(limit):
        return []
    currency = answer.case.household.currency
    cents = not math.isnan(quoted) and bool(round(quoted * 100) % 100)
    sums = {"limit": limit if limit >= 0 else math.nan, "quoted": quoted}
    lines = (
        LabelledRow(words.say(f"door.{name}"), words.money(amount, currency, cents), name=name)
        for name, amount in sums.items()
        if not math.isnan(amount)
    )
    return [rows("sums", lines)]


def _say_options(words: Words, answer: Answer) -> None:
    st.subheader(words.say("door.options"), anchor=False)
    say_text("small", words.say("door.options_note" if _is_endless(answer) else "door.options_note_ends"))
    best = None if answer.undecided or answer.close else int(answer.weighing.best)
    shown = [(index, row) for index, row in enumerate(words.options(answer)) if not row.hidden]
    parts = {index: words.today_parts(answer, index) if row.today else [] for index, row in shown}
    show(cards((_card(words, row, parts[index]), index == best) for index, row in shown))


def _is_endless(answer: Answer) -> bool:
    """Whether one is needed without an end in sight."""
    return math.isinf(float(answer.case.household.study_period))


def _card(words: Words, row: OptionRow, parts: list[tuple[str, str]]) -> str:
    note = text("note", row.note) if row.note else ""
    small = "\n".join(f"{label}: {amount}" for label, amount in parts) if len(parts) > 1 else ""
    facts = [
        LabelledRow(words.say(f"door.{key}"), getattr(row, name), small if name == "today" else "")
        for name, key in FACTS.items()
        if getattr(row, name)
    ]
    return text("name", row.name) + note + rows("facts", facts)


def _say_measures(words: Words, answer: Answer) -> None:
    with unfolding("measures", words.say("door.measures")) as is_open:
        if not is_open:
            return
        say_text("small", words.say("door.measures_note"))
        show(rows("lines", (LabelledRow(label, value) for label, value in words.measures(answer))))
        chart = paid_chart(answer, words)
        if chart is not None:
            say_text("name", words.say("door.paid"))
            say_text("small", words.say("door.paid_note" if _is_endless(answer) else "door.paid_note_ends"))
            draw(chart, "paid")


def _say_assumptions(words: Words, lines: list[Assumption]) -> None:
    figures = [line for line in lines if line.origin == "figure"]
    with unfolding("assumptions", words.say("door.assumptions", count=words.number(len(lines), 0))) as is_open:
        if not is_open:
            return
        say_text("small", words.say("door.assumptions_note"))
        for group, members in groupby(figures, key=lambda line: line.group):
            say_text("name", group)
            show(rows("lines", (_assumption(words, line) for line in members)))
        for origin in ("entered", "plain"):
            say_text("name", words.say(f"door.{origin}_head"))
            show(rows("lines", (_assumption(words, line) for line in lines if line.origin == origin)))


def _assumption(words: Words, line: Assumption) -> LabelledRow:
    value = f"{line.value}, {words.say('door.range', range=line.range)}" if line.range else line.value
    if line.origin != "figure":
        return LabelledRow(f"{line.label} ({line.group})", value)
    found = (f"{line.status}: {line.source}", line.note)
    return LabelledRow(line.label, value, "\n".join(part for part in found if part))
