"""At the door: from appliance, age, fault and quote to the answer, on a phone, with one hand.

Streamlit runs the page anew at each tap. What was typed is kept in the session under plain names, so nothing is lost;
the entries of the case are made from it each time, and the answer from the entries by the same call as at the terminal.
"""

from typing import Final

import streamlit as st

from ....answers.answer import Answer
from ....errors import CaseError, MendpointError
from ...text.words import Words
from ..ask import ask, fields_wanted, say_error
from ..ask_more import ask_more
from ..asked import PageCase, errors_counted, open_another, page_case
from ..html import unseen_head
from ..report_view import tell
from ..state.entry import Question
from ..state.fields import field_at
from ..state.repository import say_not_saved
from ..state.session import bring_back, fields, is_empty, next_customer, write_address
from ..state.visits import keep, say_visits
from ..take_away import give, is_given, take_away
from ..theme import to_top
from ..widgets import say_text, set_fields, show, unfolding
from .evidence import ask_evidence
from .whose import ask_outcome, ask_photos, ask_whose

IN_THE_OPEN: Final = ("age", "quote", "kind", "fault")
"""Fields outside the folded part."""


EXAMPLE: Final = {"group": "cooling", "kind": "refrigerator", "fault": "compressor", "age": "12", "quote": "400"}
"""What the empty page shows at a tap; invented."""


def page() -> None:
    """Draw the page."""
    case = page_case()
    keep(case.words, case.question)
    words, question, found = case.words, case.question, case.found
    st.title(words.say("door.title"), anchor=False)
    beside, result = st.columns([5, 7], gap="medium")
    with beside, st.container(key="asked"):
        ask(words, case.reference, question, case.stop, case.answer)
        if any(field_at(error) not in IN_THE_OPEN for error in question.errors if field_at(error) in question.drawn):
            st.session_state["more"] = True
        ask_evidence(case)
        with unfolding("more", words.say("door.more")) as is_open:
            if is_open:
                ask_more(words, case.reference, question, case.answer)
    with result:
        show(unseen_head(words.say("door.answer"), "answer"))
        if isinstance(found, Answer):
            tell(case, found, words.cautions(found))
            take_away(case, found)
            ask_outcome(words)
        else:
            _say_waiting(words, question, None if isinstance(found, CaseError) else found)
        ask_whose(words)
        ask_photos(words)
        say_not_saved(words)
        say_visits(words, next_customer)
        open_another(words)
    _thumb(case)
    turn = st.session_state["uploads"]
    if st.session_state.get("door_shown", turn) != turn:  # another visit begins at its top
        to_top(turn)
    st.session_state["door_shown"] = turn
    write_address()


def _say_waiting(words: Words, question: Question, unsolved: MendpointError | None) -> None:
    for index, error in enumerate(question.errors_elsewhere):
        say_error(words, error, f"case_{index}")
    if unsolved is not None:
        say_error(words, unsolved, "model")
        return
    with st.container(key="waiting"):
        if question.errors:
            say_text("name", errors_counted(words, len(question.errors)))
            say_text("small", words.say("door.all_kept"))
            return
        if is_empty():
            say_text("sentence", words.say("door.waiting_why"))
            st.button(words.say("door.example"), key="example", on_click=set_fields(EXAMPLE))
        wanted = fields_wanted(words, fields())
        say_text("small", words.say("door.still", what=", ".join(wanted)))


def _thumb(case: PageCase) -> None:
    """What stays at the thumb: where it stands in three words, the next thing to do, and the way back."""
    words = case.words
    text, leads, where = _in_short(case)
    if not text and st.session_state["last"] is None:
        return
    with st.bottom, st.container(key="thumb", horizontal=True, wrap=False):
        with st.container(key="thumb_stop" if case.stop else "thumb_says"):
            say_text("sentence", text or words.say("door.new"))
            if leads:
                with st.container(key="lead"):
                    st.markdown(f"[{leads}](#{where})")
        if st.session_state["last"] is not None:
            st.button(words.say("door.undo"), on_click=bring_back)
        if case.answer is not None:
            give(case, case.answer)
        if not is_empty():
            st.button(words.say("door.next"), on_click=next_customer, type="primary" if is_given(case) else "secondary")


def _in_short(case: PageCase) -> tuple[str, str, str]:
    """What the bar says, and what its link says and leads to: once the sheet was given, to the ways to send it."""
    words, question, stop = case.words, case.question, case.stop
    if stop:
        return stop[0], words.say("door.see_order"), "at-stop"
    if question.errors:
        first = next((field_at(error) for error in question.errors if field_at(error) in question.drawn), "")
        where = f"at-{first}" if first else "answer"
        return errors_counted(words, len(question.errors)), words.say("door.see_error"), where
    if case.answer is None:
        return "", "", ""
    return words.verdict(case.answer), *((words.say("take_away.send"), "take") if is_given(case) else ("", ""))
