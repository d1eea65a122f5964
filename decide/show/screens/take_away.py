"""What the customer takes away: the answer on paper, and the case as a file."""

import datetime
import functools
from typing import Any

import streamlit as st

from ...answers.answer import Answer
from ...load.cases.case_file import write_case
from ..pdf.handout import handout
from ..pdf.sheet import handout_text
from ..text.carbon_words import beside_the_money
from ..text.words import Words
from .state.entry import Question
from .state.repository import paper_here, shop_here
from .widgets import download, say_text


def take_away(words: Words, question: Question, found: Answer) -> None:
    """Offer the answer on paper and as text, and the case as a file."""
    st.subheader(words.say("take_away.head"), anchor=False)
    name = f"{words.say('door.file_name')}-{datetime.date.today().isoformat()}"
    with st.container(key="take_away", horizontal=True):
        for key, made, ending, mime in (
            ("paper", functools.partial(_printed, words, found), "pdf", "application/pdf"),
            ("text", functools.partial(_as_text, words, found), "txt", "text/plain"),
            ("case", functools.partial(write_case, question.entries), "toml", "application/toml"),
        ):
            label = words.say(f"take_away.{key}")
            download(label, made, f"{name}.{ending}", mime, f"take_{key}", first=key == "paper")
    if st.session_state["files"]:
        say_text("small", words.say("door.save_files"))


def _printed(words: Words, found: Answer) -> bytes:
    return handout(words, found, size=paper_here(words), **_beside(words, found))


def _as_text(words: Words, found: Answer) -> str:
    return handout_text(words, found, **_beside(words, found))


def _beside(words: Words, found: Answer) -> dict[str, Any]:
    """What stands on the page besides the answer itself."""
    return {
        "on": datetime.date.today(),
        "shop": shop_here(),
        "extra": beside_the_money(words, found),
    }
