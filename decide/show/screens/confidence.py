"""What the page at the door says of how sure the answer is, and what would change it."""

from typing import Final

import streamlit as st

from ...answers.answer import Answer
from ...answers.confidence import (
    breakeven_of,
    has_limit,
    has_verdict,
    outcome_distribution_of,
    ready_paths,
)
from ...economics.breakeven import STUDY_PERIOD
from ..charts.confidence import movers_chart, share_chart, spread_chart
from ..text.certainty import (
    breakeven_row,
    confidence_text,
    limit_text,
    nothing_to_find,
    outcome_distribution_text,
    quote_row,
    worth_finding,
)
from ..text.words import Words
from .html import LabelledRow, rows
from .widgets import draw, say_text, show, unfolding

HOUSEHOLDS: Final = 2_000
"""Households in which luck is drawn."""

LONGEST_STAY: Final = 20.0
"""Study periods are tried up to this one. [year]"""


def say_confidence(words: Words, answer: Answer) -> None:
    """Say how sure the answer is and what would change it; nothing where a repair is ruled out."""
    if not has_limit(answer):
        return
    st.subheader(words.say("confidence_door.head"), anchor="confidence")
    _say_confidence(words, answer)
    if has_verdict(answer):
        _say_breakeven(words, answer)


def _say_confidence(words: Words, answer: Answer) -> None:
    if not has_verdict(answer):
        say_text("sentence", *limit_text(words, answer, *answer.decision.limit_range))
        say_text("small", words.say("confidence_door.needs_quote"))
        return
    confidence = answer.confidence
    first, *more = confidence_text(words, answer, confidence)
    say_text("sentence", first)
    draw(share_chart(answer, words, confidence), "shares")
    say_text("sentence", *more)
    say_text("small", words.say("confidence.drawn", draws=words.number(confidence.draws, 0)))
    say_text("name", words.say("confidence_door.find"))
    found = worth_finding(words, answer, confidence)
    if found:
        show(rows("lines", (LabelledRow(each.label, each.text) for each in found)))
    else:
        say_text("sentence", nothing_to_find(words, answer, confidence))
    with unfolding("movers", words.say("confidence_door.movers")) as is_open:
        if is_open:
            say_text("small", words.say("confidence_door.movers_note"))
            moved = movers_chart(answer, words, confidence)
            if moved is not None:
                draw(moved, "moved")
            say_text("name", words.say("confidence_door.spread"))
            draw(spread_chart(answer, words, confidence), "spread")
    with unfolding("outcome_distribution", words.say("confidence_door.outcome_distribution")) as is_open:
        if is_open:
            say_text("sentence", outcome_distribution_text(words, answer, outcome_distribution_of(answer, HOUSEHOLDS)))


def _say_breakeven(words: Words, answer: Answer) -> None:
    st.subheader(words.say("confidence_door.breakeven"), anchor=False)
    paths = (path for path in ready_paths(answer) if path != STUDY_PERIOD)
    breakeven = [
        quote_row(words, answer),
        *(breakeven_row(words, answer, breakeven_of(answer.case, path)) for path in paths),
    ]
    show(rows("lines", (LabelledRow(flip.label, flip.text) for flip in breakeven)))
    with unfolding("stay", words.say("confidence_door.stay")) as is_open:
        if is_open:
            found = breakeven_of(answer.case, STUDY_PERIOD, LONGEST_STAY)
            say_text("sentence", breakeven_row(words, answer, found).text)
            say_text("small", words.say("confidence_door.stay_note"))
