"""What the pages for one appliance share: the case that their fields make, its answer, and a saved case to open."""

from dataclasses import dataclass

import streamlit as st

from ...answers.answer import Answer, answer
from ...errors import CaseError, MendpointError
from ...load.tables.tables import Tables
from ..text.words import Words
from .ask import say_error
from .safety import stop_of
from .state.entry import Question, question_of, settled
from .state.repository import reference_here
from .state.session import fields, folder_of, follow_history, open_upload
from .state.symptom_state import settled_look, symptom_of, symptoms_of
from .widgets import say_text, unfolding, upload, words_here

STATED = ("class", "age", "fault")
"""What the appliance has to say before a technician gets an answer: cautions hang on the fault."""


@dataclass(frozen=True)
class PageCase:
    """What a page asks about, and what comes of it."""

    words: Words
    reference: Tables
    question: Question
    found: Answer | MendpointError | None
    """The answer, what cannot be used, or nothing while something is still to be entered."""
    stop: tuple[str, str] | None

    @property
    def answer(self) -> Answer | None:
        """The answer, where there is one."""
        return self.found if isinstance(self.found, Answer) else None


def page_case(stated: tuple[str, ...] = STATED) -> PageCase:
    """Read the fields of the page and answer them; nothing is saved."""
    reference, state = reference_here(), st.session_state
    words, question = read_question(reference)
    found = answered(question, reference, stated)
    if isinstance(found, CaseError):
        question = question.with_errors(found, words)
    named = (stop_of(words, reference, state["kind"], state[key]) for key in ("fault", "second_fault"))
    stop = next(filter(None, named), None) or _stop_by_symptom(words, reference)
    if stop is None and isinstance(found, Answer) and found.weighing.stopped_by:  # whoever looked at it said so
        orders = (each for each in found.cautions if each.id in found.weighing.stopped_by)
        stop = words.verdict(found), " ".join(map(words.caution_text, orders))
    return PageCase(words, reference, question, found, stop)


def _stop_by_symptom(words: Words, reference: Tables) -> tuple[str, str] | None:
    """What stops the use where whatever may be behind the symptom does, as a smell of gas."""
    here = fields()
    symptom = symptom_of(here, symptoms_of(here))
    links = symptom.links if symptom else ()
    stops = [stop_of(words, reference, here["kind"], link.cause.fault) for link in links]
    return stops[0] if stops and all(stops) else None


def read_question(reference: Tables) -> tuple[Words, Question]:
    """Settle the fields of the page, as where a kind cannot have the fault that was chosen, and read them."""
    state = st.session_state
    follow_history(reference)
    state.update(settled(fields(), reference))
    here = fields()
    state.update(settled_look(here, symptoms_of(here)))
    words = words_here()
    return words, question_of(fields(), state["kept"], words)


def answered(question: Question, reference: Tables, stated: tuple[str, ...]) -> Answer | MendpointError | None:
    """The answer, what cannot be used, or nothing while something is still to be entered.

    An answer is kept while the entries stay, for a part that opens changes none.
    """
    there, state = question.entries.get("appliance", {}), st.session_state
    if question.errors or not all(there.get(name) is not None for name in stated):
        return None
    wanted = (question.entries, state["files"], reference)
    if state["answered"] is None or state["answered"][0] != wanted:
        try:
            with folder_of(state["files"]) as folder:
                state["answered"] = (wanted, answer(question.entries, reference, folder))
        except MendpointError as error:
            return error
    found: Answer = state["answered"][1]
    return found


def errors_counted(words: Words, count: int) -> str:
    """Say how many entries cannot be used."""
    return words.say("door.one_error") if count == 1 else words.say("door.some_errors", count=words.number(count, 0))


def open_another(words: Words) -> None:
    """Offer to open a saved case; why one cannot be opened stands below."""
    state = st.session_state
    with unfolding("opening", words.say("door.open")) as is_open:
        if is_open:
            upload(words.say("door.open_hint"), "toml", f"upload_{state['uploads']}", open_upload, 1)
    if state["refused"] is not None:
        say_error(words, state["refused"], "file")
    if state["kept"]:
        for before, now in state.get("old_names", {}).items():
            say_text("small", words.say("file.renamed" if now else "file.gone", old=before, new=now))
    if state["lost"]:
        say_text("small", words.say("door.lost"))
