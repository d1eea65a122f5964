"""Whose the visit is: kept with it on this machine, and found by it in the list."""

import streamlit as st

from ...text.words import Words
from ..state.repository import shop_here
from ..state.visits import WHOSE
from ..widgets import say_text, text_field, unfolding

IN_PAIRS = (("customer", "job_number"), ("model", "serial"))


def ask_whose(words: Words) -> None:
    """Draw the fold with its fields."""
    with unfolding("whose", words.say("whose.title")) as is_open:
        if not is_open:
            return
        for pair in IN_PAIRS:
            for name, column in zip(pair, st.columns(2, wrap=False), strict=True):
                with column:
                    _field(words, name)
        _field(words, "address")
        _field(words, "technician", shop_here().technician)
        key, order = WHOSE["follow_up"], "MM/DD/YYYY" if words.region == "US" else "DD/MM/YYYY"
        st.date_input(words.say("whose.follow_up"), key=key, format=order, value=None, persist_state="session")
        say_text("small", words.say("whose.kept"))


def _field(words: Words, name: str, usual: str = "") -> None:
    text_field(words.say(f"whose.{name}"), WHOSE[name], usual or None)
