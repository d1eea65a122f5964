"""Whose the visit is, by which it is found in the list, and how it ended, which the shop's records count."""

from typing import Any

import streamlit as st

from ....load.cases.filled import LONGEST_REASON, WITH_REASON
from ....load.store.records import EARLIEST, LATEST, LONGEST_DETAIL
from ...text.words import Words
from ..state.entry import ENDS
from ..state.repository import shop_here
from ..state.visits import WHOSE
from ..widgets import one_of, say_text, text_field, unfolding


def ask_whose(words: Words) -> None:
    """Draw the fold with its fields."""
    with unfolding("whose", words.say("whose.title")) as is_open:
        if not is_open:
            return
        for pair in (("customer", "job_number"), ("model", "serial")):
            for name, column in zip(pair, st.columns(2, wrap=False), strict=True):
                with column:
                    _field(words, name)
        _field(words, "address")
        _field(words, "technician", shop_here().technician)
        key, order = WHOSE["follow_up"], "MM/DD/YYYY" if words.region == "US" else "DD/MM/YYYY"
        days: dict[str, Any] = {"value": None, "min_value": EARLIEST, "max_value": LATEST, "format": order}
        st.date_input(words.say("whose.follow_up"), key=key, persist_state="session", **days)
        say_text("small", words.say("whose.kept"))


def _field(words: Words, name: str, usual: str = "") -> None:
    text_field(words.say(f"whose.{name}"), WHOSE[name], usual or None, max_chars=LONGEST_DETAIL)


def ask_outcome(words: Words) -> None:
    """Draw the one choice after the answer, and a line for the reason where there is one to give."""
    outcome = st.session_state["outcome"]
    labels = {end: words.say(f"ended.{end}") for end in ENDS if end != "several_faults" or end == outcome}
    one_of(words.say("ended.title"), labels, "outcome", words.say("ended.open"), required=False)
    if outcome in (*WITH_REASON, "declined"):
        label = words.say("ended.reason" if outcome in WITH_REASON else "ended.why")
        text_field(label, "outcome_reason", None, max_chars=LONGEST_REASON)
