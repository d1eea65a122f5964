"""At the door: from appliance, age, fault and quote to the answer, on a phone, with one hand.

Streamlit runs the page anew at each tap. What was typed is kept in the session under plain names, so nothing is lost;
the entries of the case are made from it each time, and the answer from the entries by the same call as at the terminal.
"""

from typing import Final

import streamlit as st

from ....answers.answer import Answer
from ....errors import CaseError, MendpointError
from ...text.words import Words
from ..answer_view import tell
from ..ask import ask, fields_wanted, say_error
from ..ask_more import ask_more
from ..asked import errors_counted, open_another, page_case, save_visit
from ..state.entry import CHOSEN, Question, field_at
from ..state.repository import say_not_saved
from ..state.session import bring_back, fields, is_empty, next_customer, write_address
from ..state.visits import say_visits
from ..take_away import take_away
from ..widgets import say_text, unfolding

IN_THE_OPEN: Final = ("age", "quote", "price", *CHOSEN)
"""Fields outside the folded part."""


def page() -> None:
    """Draw the page."""
    case = page_case()
    save_visit(case)
    words, question, found = case.words, case.question, case.found
    st.title(words.say("door.title"), anchor=False)
    beside, result = st.columns([5, 7], gap="medium")
    with beside:
        ask(words, case.reference, question, case.stop)
        if any(field_at(error) not in IN_THE_OPEN for error in question.errors if field_at(error) in question.drawn):
            st.session_state["more"] = True
        with unfolding("more", words.say("door.more")) as is_open:
            if is_open:
                ask_more(words, case.reference, question, case.answer)
    with result:
        st.header(words.say("door.answer"), anchor="answer")
        if isinstance(found, Answer):
            tell(words, found, words.cautions(found))
            take_away(words, question, found)
        else:
            _say_waiting(words, question, None if isinstance(found, CaseError) else found)
        say_not_saved(words)
        say_visits(words, next_customer)
        open_another(words)
    _thumb(words, question, found, case.stop)
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
        say_text("name", words.say("door.waiting"))
        say_text("sentence", words.say("door.waiting_why"))
        wanted = fields_wanted(words, fields())
        say_text("small", words.say("door.still", what=", ".join(wanted)))


def _thumb(
    words: Words, question: Question, found: Answer | MendpointError | None, stop: tuple[str, str] | None
) -> None:
    """What stays at the thumb: where it stands in a few words, the way to the next customer, and the way back."""
    text, leads, where = _in_short(words, question, found, stop)
    if not text and st.session_state["last"] is None:
        return
    with st.bottom, st.container(key="thumb", horizontal=True, wrap=False):
        with st.container(key="thumb_stop" if stop else "thumb_says"):
            say_text("sentence", text or words.say("door.new"))
            if leads:
                with st.container(key="see" if where == "answer" else "lead"):
                    st.markdown(f"[{leads}](#{where})")
        if st.session_state["last"] is not None:
            st.button(words.say("door.undo"), on_click=bring_back)
        if not is_empty():
            st.button(words.say("door.next"), on_click=next_customer, type="primary")


def _in_short(
    words: Words, question: Question, found: Answer | MendpointError | None, stop: tuple[str, str] | None
) -> tuple[str, str, str]:
    """What the bar says, and what its link says and leads to."""
    if stop:
        return stop[0], words.say("door.see_order"), "at-stop"
    if question.errors:
        first = next((field_at(error) for error in question.errors if field_at(error) in question.drawn), "")
        return (
            errors_counted(words, len(question.errors)),
            words.say("door.see_error"),
            f"at-{first}" if first else "answer",
        )
    if isinstance(found, Answer):
        return words.in_short(found), words.say("door.see"), "answer"
    return "", "", ""
