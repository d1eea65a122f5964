"""What the customer takes away: the answer on paper, and the case as a file."""

import datetime
import functools

import streamlit as st

from ...answers.answer import Answer
from ...load.cases.case_file import write_case
from ..pdf.handout import handout
from ..pdf.sheet import Sheet, handout_text, sheet_of
from ..text.carbon_words import beside_the_money
from ..text.words import Words
from .state.entry import Question
from .state.repository import paper_here, shop_here
from .widgets import download, say_text, set_fields


def take_away(words: Words, question: Question, found: Answer) -> None:
    """Offer the answer on paper and as text, and the case as a file."""
    st.subheader(words.say("take_away.head"), anchor=False)
    name = f"{words.say('door.file_name')}-{datetime.date.today().isoformat()}"
    with st.container(key="take_away", horizontal=True):
        for key, made, ending, mime in (
            ("paper", lambda: handout(words, found, _sheet(words, found), paper_here(words)), "pdf", "application/pdf"),
            ("text", lambda: handout_text(words, found, _sheet(words, found)), "txt", "text/plain"),
            ("case", functools.partial(write_case, question.entries), "toml", "application/toml"),
        ):
            label = words.say(f"take_away.{key}")
            download(label, made, f"{name}.{ending}", mime, f"take_{key}", first=False)
    if st.session_state["files"]:
        say_text("small", words.say("door.save_files"))


def give(words: Words, question: Question, found: Answer, label: str = "door.give") -> bool:
    """Offer the sheet at the thumb; whether it was given already for what stands on the page."""
    state = st.session_state
    here = (question.entries, words.language)
    given = bool(state["given"] == here)
    if not given:
        name = f"{words.say('door.file_name')}-{datetime.date.today().isoformat()}.pdf"
        done = set_fields({"given": here})

        def made() -> bytes:
            return handout(words, found, _sheet(words, found), paper_here(words))

        st.download_button(words.say(label), made, name, "application/pdf", key="give", on_click=done, type="primary")
    return given


def _sheet(words: Words, found: Answer) -> Sheet:
    extra = beside_the_money(words, found)
    return sheet_of(words, found, on=datetime.date.today(), shop=shop_here(), extra=extra)
