"""What the technician sees and measures, at the door: from the complaint to the next test and the bill."""

import streamlit as st

from ....load.tables.symptoms import WHO
from ...text.checks import cause_name, check_rows, symptom_name
from ..asked import PageCase
from ..evidence import diagnosis_of, offer_print, say_evidence
from ..home.checks import find_cause, say_found, say_rows, say_ruled_out
from ..safety import danger_symptoms
from ..state.session import fields
from ..state.symptom_state import symptoms_of
from ..widgets import one_of, unfolding


def ask_evidence(case: PageCase) -> None:
    """Draw the complaints of the kind that is chosen, and all that follows from one; nothing where there are none."""
    words, state = case.words, st.session_state
    listed = symptoms_of(fields()).of_class(state["kind"] or "")
    if not listed:
        return
    with unfolding("seen", words.say("evidence.title")) as is_open:
        if not is_open:
            return
        alike = danger_symptoms(words, case.reference, state["kind"], listed)
        if state["symptom"] not in {each.symptom for each in listed}:
            state["symptom"] = alike.get(state["fault"])
        hidden = set(alike.values()) - {state["symptom"]}
        labels = {each.symptom: symptom_name(words, each) for each in listed if each.symptom not in hidden}
        one_of(words.say("evidence.complaint"), labels, "symptom", words.say("evidence.chosen_none"))
        diagnosis = diagnosis_of(case)
        say_ruled_out(words)
        if diagnosis is None:
            return
        if state["finding"]:
            say_found(case, diagnosis)
            offer_print(words, diagnosis)
            return
        say_evidence(case, diagnosis, WHO[-1])
        with unfolding("order", words.say("evidence.order")) as shown:
            if shown:
                say_rows(words, check_rows(words, diagnosis))
        names = {link.cause.cause: cause_name(words, link.cause) for link in diagnosis.symptom.links}
        state["found_here"] = None
        one_of(words.say("evidence.found"), names, "found_here", "", on_change=_take)


def _take() -> None:
    if cause := st.session_state["found_here"]:
        find_cause(cause)
