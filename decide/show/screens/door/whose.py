"""Whose the visit is, by which it is found in the list, and how it ended, which the shop's records count."""

import streamlit as st

from ....load.cases.filled import LONGEST_REASON, OUTCOMES, WITH_REASON
from ....load.store.records import LONGEST_DETAIL
from ....load.store.visit_book import DECIDED
from ...text.words import Words
from ..state.repository import shop_here
from ..state.visits import WHOSE
from ..widgets import one_of, say_text, text_field, unfolding

IN_PAIRS = (("customer", "job_number"), ("model", "serial"))

ENDS = (*DECIDED, *(outcome for outcome in OUTCOMES if outcome != "several_faults"), "made_safe")
"""How a visit can end: what the customer said, or what was found."""


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
    text_field(words.say(f"whose.{name}"), WHOSE[name], usual or None, max_chars=LONGEST_DETAIL)


def ask_outcome(words: Words) -> None:
    """Draw the one choice after the answer, and a line for the reason where there is one to give."""
    outcome = st.session_state["outcome"]
    labels = {end: words.say(f"ended.{end}") for end in dict.fromkeys((*ENDS, *filter(None, (outcome,))))}
    one_of(words.say("ended.title"), labels, "outcome", words.say("ended.open"), required=False)
    if outcome in (*WITH_REASON, "declined"):
        label = words.say("ended.reason" if outcome in WITH_REASON else "ended.why")
        text_field(label, "outcome_reason", None, max_chars=LONGEST_REASON)
