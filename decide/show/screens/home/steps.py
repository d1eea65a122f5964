"""The steps of the page at home that ask: what is wrong, the unit itself, the home, and the quote."""

from typing import Final

import streamlit as st

from ....load.tables.symptoms import OWNER
from ....load.tables.tables import ENERGY
from ...charts.pictures import label_place, picture
from ...text.checks import money_text, symptom_name
from .. import ask
from ..ask_more import ask_energy_price, ask_grade, ask_means, ask_new_use, ask_stay, ask_use
from ..asked import PageCase
from ..evidence import diagnosis_of
from ..safety import danger_symptoms, stop_of
from ..state.entry import can_be_fitted
from ..state.fields import ABOUT
from ..state.input_methods import LABEL, METER, USUAL, YEAR
from ..state.session import fields
from ..state.symptom_state import ELSE, symptoms_of
from ..widgets import choice, say_text, set_fields, unfolding
from .checks import say_visit_worth

ENTERED_AT: Final = {YEAR: "electricity", LABEL: "label", METER: "meter"}
"""What of the appliance is entered once a way to say what it uses is gone to its end."""


def ask_fault(case: PageCase) -> None:
    """Draw the first step: the appliance, what is dangerous, and what is seen or heard."""
    words, reference, state = case.words, case.reference, st.session_state
    ask.choose_kind(words, reference.classes(words.region))
    if not state["kind"]:
        return
    listed = symptoms_of(fields()).of_class(state["kind"])
    alike = danger_symptoms(words, reference, state["kind"], listed)
    if _ask_danger(case, alike):
        return
    if listed:
        shown = [each for each in listed if each.symptom not in {*alike.values()} - {state["symptom"]}]
        labels = {each.symptom: ask.literal(each.name) or symptom_name(words, each) for each in shown}
        labels[ELSE] = words.say("home.else")
        # what was found behind another symptom does not count for this one
        anew = set_fields({"out": "", "finding": "", "fault": None})
        choice(words.say("home.symptom"), labels, "symptom", on_change=anew)
    if not listed or state["symptom"] == ELSE:
        ask.choose_fault(words, state["kind"])
    elif state["fault"]:
        say_text("small", words.say("home.taken", name=words.fault(state["fault"])))


def _ask_danger(case: PageCase, alike: dict[str, str]) -> bool:
    """Draw what stops the use at once, before all else that could be wrong, and say whether one is chosen."""
    words, state = case.words, st.session_state
    anew = None if state["fault"] else state["symptom"]  # who looks again has it as the complaint
    faults = (each.fault for each in case.reference.faults(state["kind"]) if alike.get(each.fault, "") != anew)
    stops = {f: words.fault(f) for f in faults if stop_of(words, case.reference, state["kind"], f)}
    if stops:
        state["danger"] = state["fault"] if state["fault"] in stops else None
        label = words.say("home.danger")
        choice(label, stops, "danger", required=False, on_change=_take_danger, args=(alike,), persist_state=None)
        if case.stop is None:
            say_text("small", words.say("home.danger_none"))
    return bool(stops and state["danger"])


def _take_danger(alike: dict[str, str]) -> None:
    """A danger is the fault of the case, with the complaint in its words; a second tap takes it back."""
    state = st.session_state
    before = None if state["symptom"] in alike.values() else state["symptom"]
    state.update({"fault": state["danger"], "finding": "", "symptom": alike.get(state["danger"], before)})


def ask_unit(case: PageCase) -> None:
    """Draw the third step: how old it is, what shape it is in, and what it uses."""
    words, question, state = case.words, case.question, st.session_state
    ask.number(words, question, "age", words.say("door.age"), words.say("door.age_example"))
    if not state["age"]:
        about = {age: words.say(f"home.about.{age}") for age in ABOUT}
        choice(words.say("home.age_about"), about, "age_about", required=False)
    ask.choose_remaining_life_factor(words, case.reference, question)
    ask.ask_earlier_repairs(words, question)
    kind = case.reference.kind(state["kind"])
    with st.container(key="use"):
        ask_use(words, case.reference, question, kind)
        if state["use_way"] == USUAL:
            for used in case.answer.defaults if case.answer is not None else ():
                if used.field in [f"appliance.{fuel}" for fuel in ENERGY] and used.value:
                    value = ask.usual_of(words, used.value, used.unit, used.field)
                    label = words.say("home.usual_use", label=words.label(used.field), value=value)
                    say_text("small", label)
        elif state["use_way"] == LABEL:
            with st.container(key="label_picture", horizontal=True, vertical_alignment="center"):
                st.image(picture(kind), width=200, alt=words.say("picture.alt"))
                say_text("sentence", f"{label_place(words, kind)}\n{words.say('home.label_says')}")
        for fuel in kind.fuels:
            ask.say_worked_out(words, case.answer, f"appliance.{fuel}")


def ask_home(case: PageCase) -> None:
    """Draw the fourth step: where it is, and for how long one is needed there."""
    words = case.words
    ask.choose_place(words, case.reference)
    say_text("small", words.say("home.place_why"))
    for fuel in case.reference.kind(st.session_state["kind"]).fuels:
        if fuel in ENERGY:
            ask_energy_price(words, case.reference, case.question, fuel)
            ask.say_worked_out(words, case.answer, f"household.{fuel}_price")
    ask_stay(words, case.question)
    renting = {"yes": words.say("home.yes"), "no": words.say("home.no")}
    choice(words.say("home.rents"), renting, "rents", required=False)
    if st.session_state["rents"] == "yes":
        say_text("finding", words.say("home.landlord"))


def ask_quote(case: PageCase) -> None:
    """Draw the fifth step: the quote, or what a visit is worth while there is none; and what a new one costs."""
    words, state = case.words, st.session_state
    own = can_be_fitted(fields(), words.region)
    if own:
        who = {"shop": words.say("home.shop"), OWNER: words.say("home.self")}
        choice(words.say("home.who_mends"), who, "who_mends")
    own = own and state["who_mends"] == OWNER
    label = ask.in_money(words, "home.part" if own else "home.quote")
    ask.number(words, case.question, "quote", label, words.say("door.quote_example"))
    say_text("small", words.say("home.part_why" if own else "home.quote_why"))
    ask.ask_price(words, case.reference, case.question)
    kind = case.reference.kind(state["kind"])
    ask_grade(words, case.reference, kind)
    with unfolding("means", words.say("home.means")) as is_open:
        if is_open:
            ask_new_use(words, case.reference, case.question, kind)
            ask_means(words, case.question)
    diagnosis = None if state["quote"] or state["fault"] else diagnosis_of(case)
    if diagnosis is not None:
        st.subheader(words.say("checks.visit"), anchor=False)
        say_visit_worth(words, diagnosis)
        say_text("sentence", *money_text(words, diagnosis))


def done_text(case: PageCase, step: int) -> str:
    """Say in one line what a finished step holds."""
    words, state = case.words, st.session_state
    there = case.question.entries.get("appliance", {})
    if step == 1:
        listed = {each.symptom: symptom_name(words, each) for each in symptoms_of(fields()).of_class(state["kind"])}
        what = listed.get(state["symptom"]) or words.fault(state["fault"])
        return words.say("home.done.fault", kind=words.kind(state["kind"]), what=what)
    if step == 2:
        count = len(state["out"].split(",")) if state["out"] else 0
        if state["fault"]:
            return words.say("home.done.found", fault=words.fault(state["fault"]))
        return words.say("home.done.ruled_out", count=words.number(count, 0)) if count else words.say("home.done.open")
    if step == 3:
        age = words.years(there["age"]) if isinstance(there.get("age"), float) else state["age"]
        if state["age_about"] and not state["age"]:
            age = words.say(f"home.about.{state['age_about']}")
        way = state["use_way"] if ENTERED_AT.get(state["use_way"]) in there else USUAL
        return words.say("home.done.unit", age=age, way=words.say(f"home.way.{way}"))
    if step == 4:
        years = case.question.entries.get("household", {}).get("study_period")
        facts = {"place": words.place(state["place"])}
        if not state["study_period"]:
            return words.say("home.done.home", **facts)
        shown = words.years(years) if isinstance(years, float) else state["study_period"]
        return words.say("home.done.home_years", **facts, years=shown)
    if not state["quote"]:
        return words.say("home.done.no_quote")
    amount = case.question.entries.get("repair", {}).get("quote")
    shown = words.money(amount) if isinstance(amount, float) else state["quote"]
    return words.say("home.done.quote", quote=shown)
