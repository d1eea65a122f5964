"""What is seen and measured, on the pages at the door and at home: each tap moves the causes, the bill and the verdict.

Answers stand in the session as one text and readings as they were typed, so both are kept with the visit. Nothing here
decides anything: `diagnose` and `next_step` do.
"""

import contextlib
import datetime
import functools
import json
import math
import re

import streamlit as st

from ...answers.answer import answer
from ...answers.diagnosis import Diagnosis, LimitOf, condition_of, diagnose
from ...answers.next_step import CHECK, QUESTION, next_step
from ...errors import CaseError, MendpointError
from ...load.cases.case_file import set_entry
from ...load.tables.evidence import Reading, SymptomQuestion
from ...load.tables.symptoms import OWNER, WHO
from ..pdf.checks_sheet import checks_sheet
from ..text import evidence as telling
from ..text.checks import likeliest
from ..text.words import Words
from .ask import literal, say_error
from .asked import PageCase
from .state.repository import paper_here, reference_here, shop_here, taken, visits_tell
from .state.session import fields, folder_of
from .state.symptom_state import checks_of, joined, pairs, split, symptom_of
from .widgets import choice, download, say_text, text_field, unfolding


def diagnosis_of(case: PageCase) -> Diagnosis | None:
    """What is behind the symptom that is chosen; nothing where none is, or where all of it is ruled out."""
    state, (listed, asked) = st.session_state, checks_of(fields())
    symptom = symptom_of(fields(), listed)
    out = tuple(split(state["out"]))
    if symptom is None or len(out) == len(symptom.ids):
        return None
    limit = math.nan if case.answer is None else float(case.answer.weighing.repair_limit)
    return diagnose(
        state["kind"],
        symptom.symptom,
        place=state["place"],
        age=case.question.entries.get("appliance", {}).get("age"),
        limit=None if math.isnan(limit) else limit,
        limit_of=None if math.isnan(limit) else _limit_of(case),
        out=out,
        meter=bool(state.get("by_meter")),
        answers=pairs(state["answers"]),
        readings=_measured(case.words, symptom.symptom),
        listed=listed,
        asked=asked,
        covered=("sealed",) if state["covered"] else (),
        counts=visits_tell()[0],
        reference=case.reference,
    )


def seen_here(case: PageCase) -> list[str]:
    """What was answered and measured last on the page, in short: as much as a sheet has room for."""
    state = st.session_state
    found = diagnosis_of(case) if state["answers"] or state["measured"] else None
    rows = telling.seen_rows(case.words, found) if found else []
    return [f"{re.sub('[?].*', '?', asked)} {seen.rstrip('.')}." for asked, seen in rows[-2:]]


def _limit_of(case: PageCase) -> LimitOf:
    """The highest bill worth paying with a fault in place of the one entered; kept while the other entries stay."""
    state, entries = st.session_state, case.question.entries
    wanted = (json.dumps(entries, default=str, sort_keys=True), len(state["files"]), id(case.reference))
    if state.get("limits", (None, {}))[0] != wanted:
        state["limits"] = (wanted, {})
    known: dict[str, float] = state["limits"][1]

    def limit(fault: str) -> float:
        if fault not in known:
            with folder_of(state["files"]) as folder:
                tried = set_entry(entries, "appliance.fault", fault)
                known[fault] = float(answer(tried, case.reference, folder).weighing.repair_limit)
        return known[fault]

    return limit


def _measured(words: Words, symptom: str) -> dict[str, float]:
    """The readings that can be used of those typed; the field says what is wrong with another."""
    typed, found = pairs(st.session_state["measured"]), {}
    listed, asked = checks_of(fields())
    for test in asked.readings_of(listed.known[symptom], st.session_state["kind"], words.region):
        with contextlib.suppress(CaseError):
            if test.key in typed:
                found[test.key] = telling.value_beside(words, test, typed[test.key])
    return found


def say_evidence(case: PageCase, diagnosis: Diagnosis, who: str) -> None:
    """Draw what to do next, the causes so far, and all that someone of that training can answer and measure."""
    words = case.words
    step = next_step(diagnosis, who)
    with st.container(key="evidence"):
        shares = (f"{name} {words.percent(share, 0)}" for name, share in likeliest(words, diagnosis, 4))
        say_text("sentence", " · ".join(shares))
        say_text("name", telling.step_text(words, diagnosis, step))
        if step is not None and step.kind == QUESTION:
            _ask(words, diagnosis.questions[step.key], hidden=True)
        elif step is not None and step.kind != CHECK:
            _measure(words, diagnosis.tests[step.key])
        say_text("small", *telling.bill_text(words, diagnosis), *telling.verdict_text(words, diagnosis))
        if any(diagnosis.reference.opens_the_circuit(link.cause.fault) for link in diagnosis.symptom.links):
            choice(words.say("evidence.warranty"), {"sealed": words.say("evidence.sealed")}, "covered", required=False)
        every: list[SymptomQuestion | Reading] = [*diagnosis.questions.values(), *diagnosis.tests.values()]
        able = WHO[: WHO.index(who) + 1]
        rest = [each for each in every if each.who in able and (step is None or each.key != step.key)]
        with unfolding("evidence_all", words.say("evidence.more")) as is_open:
            if is_open:
                for each in rest:
                    if isinstance(each, SymptomQuestion):
                        _ask(words, each)
                    else:
                        _measure(words, each)
                say_text("small", telling.rule_text(words, diagnosis))
    if who != OWNER:
        offer_print(words, diagnosis)


def offer_print(words: Words, diagnosis: Diagnosis) -> None:
    """Offer what was seen, and what was found, on paper; nothing before anything was."""
    if not (diagnosis.answers or diagnosis.readings):
        return
    found, on = st.session_state["finding"] or None, datetime.date.today()
    made = functools.partial(checks_sheet, words, diagnosis, shop_here().name, on, paper_here(words), found)
    name = f"{words.say('door.file_name')}-{on.isoformat()}.pdf"
    download(words.say("evidence.print"), taken(made), name, "application/pdf", "print_checks", first=False)


def _ask(words: Words, question: SymptomQuestion, hidden: bool = False) -> None:
    """Draw a question with its answers to tap; a second tap takes the answer back."""
    state, key = st.session_state, f"seen_{question.key}"
    state[key] = pairs(state["answers"]).get(question.key)
    plain = {code: telling.answer_text(words, code) for code in question.outcomes}
    labels = {code: literal(text) if text == code else text for code, text in plain.items()}  # of a shop's own
    choice(
        literal(question.name) or telling.question_text(words, question),
        labels,
        key,
        required=False,
        label_visibility="collapsed" if hidden else "visible",
        on_change=_keep,
        args=("answers", question.key, key),
    )


def _measure(words: Words, reading: Reading) -> None:
    """Draw a field for a reading, with how it is measured, and what it comes to."""
    state, key = st.session_state, f"read_{reading.key}"
    typed = pairs(state["measured"]).get(reading.key, "")
    state[key] = typed
    with st.container(key=f"measure_{reading.key}"):
        sign = telling.unit_text(words, reading.unit)
        name = literal(reading.name) or telling.reading_name(words, reading)
        label = f"{name} ({sign})" if sign else name
        text_field(label, key, None, on_change=_keep, args=("measured", reading.key, key))
        if typed:
            try:
                say_text("small", telling.measured_text(words, reading, telling.value_beside(words, reading, typed)))
            except MendpointError as error:
                say_error(words, error, key)
        say_text("small", f"{telling.reading_point(words, reading)}. {telling.how_text(words, reading)}")


def _keep(field: str, asked: str, key: str) -> None:
    """Keep what was tapped or typed; an answer about the whole unit sets its condition, which can still be changed."""
    state = st.session_state
    found = {**pairs(state[field]), asked: str(state[key] or "")}
    before, now = (condition_of(each, reference_here(), state["place"]) for each in (pairs(state[field]), found))
    state[field] = joined({name: value for name, value in found.items() if value})
    if now != before:
        state["remaining_life_factor"] = now
