"""What an owner can look at before anyone is paid, and whether a visit is worth its fee, on the page at home."""

import math

import streamlit as st

from ....answers.diagnosis import Diagnosis
from ....answers.safety import safety
from ....load.tables.symptoms import NOBODY, OWNER
from ...text.certainty import Line
from ...text.checks import CheckRow, basis_text, cause_name, caution_list, check_rows, likeliest, money_text, visit_text
from ...text.words import CautionLine, Words
from ..ask import number
from ..asked import PageCase
from ..evidence import diagnosis_of, say_evidence
from ..html import rows, text
from ..safety import say_cautions
from ..state.session import fields
from ..state.symptom_state import split, symptom_of, symptoms_of
from ..widgets import say_text, set_fields, show, unfolding


def ask_checks(case: PageCase) -> None:
    """Draw the second step: what an owner can look at, what is known by then, and what a visit may come to."""
    words, state, symptom = case.words, st.session_state, symptom_of(fields(), symptoms_of(fields()))
    if symptom is None:
        say_text("sentence", words.say("home.no_checks"))
        if state["fault"]:
            _say_cautions(case)
        return
    diagnosis = diagnosis_of(case)
    if state["fault"]:
        _say_cautions(case)
        say_found(case, diagnosis)
    elif diagnosis is None:
        say_text("sentence", words.say("home.none_left"))
    else:
        _say_cautions(case)
        say_evidence(case, diagnosis, OWNER)
        # an owner may ask for what takes a meter and a dead circuit; nowhere where gas burns
        burns_gas = "gas" in diagnosis.reference.kind(diagnosis.kind).fuels
        may = not burns_gas and any(each.cause.meter for each in diagnosis.symptom.links)
        measured = may and st.toggle(words.say("home.meter"), key="by_meter")
        mine = [words.say(f"checks.{who}") for who in (OWNER, "meter")]
        if left := [row for row in check_rows(words, diagnosis) if row.who in mine]:
            say_text("sentence", words.in_place("checks.by_meter") if measured else words.say("home.checks_intro"))
            say_rows(words, left)
        else:
            say_text("sentence", words.say("home.all_checked"))
        if int((diagnosis.chance > 0).sum()) == 1:
            at = int(diagnosis.chance.argmax())
            link = diagnosis.symptom.links[at]
            say_text("sentence", words.say("home.only_left", name=cause_name(words, link.cause)))
            st.button(words.say("home.take_it"), key="take", on_click=find_cause, args=(link.cause.cause,))
    say_ruled_out(words)
    if diagnosis is not None and not state["fault"]:
        with unfolding("causes", words.say("home.causes")) as is_open:
            if is_open:
                shares = ((name, words.percent(share, 0)) for name, share in likeliest(words, diagnosis))
                show(rows("lines", (Line(*row) for row in shares)))
        with unfolding("bill", words.say("home.bill")) as is_open:
            if is_open:
                say_text("sentence", *money_text(words, diagnosis), basis_text(words, diagnosis))
        st.subheader(words.say("checks.visit"), anchor=False)
        number(words, case.question, "age", words.say("home.age_for_visit"), words.say("door.age_example"))
        say_visit_worth(words, diagnosis)


def own_fix() -> bool:
    """Whether what was found is for the people of the home to put right, and costs nothing."""
    symptom, finding = symptom_of(fields(), symptoms_of(fields())), st.session_state["finding"]
    links = symptom.links if symptom and finding else ()
    return any(link.cause.cause == finding and link.cause.mend == OWNER for link in links)


def say_found(case: PageCase, diagnosis: Diagnosis | None) -> None:
    """Say what it is taken to be, what such a repair may come to, and the way back."""
    words, state = case.words, st.session_state
    with st.container(key="found"):
        if state["finding"] and diagnosis is not None:
            cause = next(link.cause for link in diagnosis.symptom.links if link.cause.cause == state["finding"])
            say_text("name", words.say("home.found", name=cause_name(words, cause)))
            if cause.mend == OWNER:
                say_text("sentence", words.say("home.found_yours"))
            elif cause.mend == NOBODY:
                say_text("sentence", words.say("checks.cannot_all"))
            else:
                at = diagnosis.symptom.ids.index(cause.cause)
                low, high = (words.money(end[at]) for end in (diagnosis.bill.low, diagnosis.bill.high))
                say_text("sentence", words.say("home.found_bill", low=low, high=high))
        else:
            say_text("name", words.say("home.taken", name=words.fault(state["fault"])))
        st.button(words.say("home.look_again"), key="look_again", on_click=set_fields({"finding": "", "fault": None}))


def cautions_at_home(case: PageCase) -> list[CautionLine]:
    """What the people of the home mind: of the fault, else of all that may be behind the symptom."""
    words, state = case.words, st.session_state
    if not state["fault"] and (diagnosis := diagnosis_of(case)) is not None:
        return caution_list(words, diagnosis, reader=OWNER)
    if case.answer is not None:
        return words.cautions(case.answer, OWNER)
    fault = state["fault"] or "other"
    return words.safety_lines(safety(case.reference.cautions(state["kind"], fault, words.region), (fault,), OWNER))


def _say_cautions(case: PageCase) -> None:
    if case.stop is None:
        say_cautions(case.words, cautions_at_home(case))


def say_rows(words: Words, rows: list[CheckRow]) -> None:
    """Draw checks in their order, each with how it is made and what it may find."""
    for row in rows:
        with st.container(key=f"check_{row.cause}"):
            facts = words.say("home.check_facts", minutes=row.minutes, share=row.share)
            sentences = [text("small", fact) for fact in row.facts]
            show(text("name", row.name), text("small", facts), text("sentence", row.look), *sentences)
            with st.container(key=f"answers_{row.cause}", horizontal=True):
                # `accessibility.html` adds to the name of each what it is about
                out = set_fields({"out": ",".join([*split(st.session_state["out"]), row.cause])})
                st.button(words.say("home.that_was_it"), f"found_{row.cause}", on_click=find_cause, args=(row.cause,))
                st.button(words.say("home.not_it"), f"out_{row.cause}", on_click=out)


def say_ruled_out(words: Words) -> None:
    """Say which causes are ruled out, with the way back; nothing where none is."""
    out, symptom = split(st.session_state["out"]), symptom_of(fields(), symptoms_of(fields()))
    if not out or symptom is None:
        return
    names = {link.cause.cause: cause_name(words, link.cause) for link in symptom.links}
    with st.container(key="ruled_out", horizontal=True, vertical_alignment="center"):
        say_text("small", words.say("home.ruled_out", names="; ".join(names[cause] for cause in out)))
        st.button(words.say("home.put_back"), key="put_back", on_click=set_fields({"out": ""}))


def say_visit_worth(words: Words, diagnosis: Diagnosis) -> None:
    """Say whether a visit is worth its fee, as far as that is known."""
    if math.isnan(diagnosis.age):
        say_text("sentence", words.say("home.visit_by_age", fee=words.money(diagnosis.fee)))
        return
    say_text("sentence", *visit_text(words, diagnosis))


# what a tap does


def find_cause(cause: str) -> None:
    """Take a cause for what is wrong: it is the fault of the case."""
    state = st.session_state
    symptom = symptom_of(fields(), symptoms_of(fields()))
    if symptom is not None:
        fault = next(link.cause.fault for link in symptom.links if link.cause.cause == cause)
        state.update({"finding": cause, "fault": fault, "out": ",".join(c for c in split(state["out"]) if c != cause)})
