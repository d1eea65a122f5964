"""What the customer takes away: the answer on paper, and the case as a file."""

import datetime
import functools

import streamlit as st

from ...answers.answer import Answer
from ...load.cases.case_file import write_case
from ..pdf.handout import handout
from ..pdf.sheet import handout_text
from ..text.carbon_words import beside_the_money
from ..text.words import Words
from .state.entry import Question
from .state.repository import paper_here, shop_here
from .widgets import say_text


def take_away(words: Words, question: Question, found: Answer) -> None:
    """Offer the answer on paper and as text, and the case as a file."""
    st.subheader(words.say("take_away.head"), anchor=False)
    name = f"{words.say('door.file_name')}-{datetime.date.today().isoformat()}"
    with st.container(key="take_away", horizontal=True):
        _offer(words, "paper", functools.partial(_printed, words, found), f"{name}.pdf", "application/pdf")
        _offer(words, "text", functools.partial(_as_text, words, found), f"{name}.txt", "text/plain")
        _offer(words, "case", functools.partial(write_case, question.entries), f"{name}.toml", "application/toml")
    if st.session_state["files"]:
        say_text("small", words.say("door.save_files"))


def _offer(
    words: Words, key: str, made: "functools.partial[str] | functools.partial[bytes]", name: str, mime: str
) -> None:
    st.download_button(
        words.say(f"take_away.{key}"),
        data=made,
        file_name=name,
        mime=mime,
        on_click="ignore",
        key=f"take_{key}",
        type="primary" if key == "paper" else "secondary",
    )


def _printed(words: Words, found: Answer) -> bytes:
    today, size = datetime.date.today(), paper_here(words)
    return handout(
        words,
        found,
        on=today,
        shop=shop_here(),
        size=size,
        extra=beside_the_money(words, found),
    )


def _as_text(words: Words, found: Answer) -> str:
    return handout_text(
        words,
        found,
        on=datetime.date.today(),
        shop=shop_here(),
        extra=beside_the_money(words, found),
    )
