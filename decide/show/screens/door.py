"""At the door: from appliance, age, fault and quote to the answer, on a phone, with one hand.

Streamlit runs the page anew at each tap. What was typed is kept in the session under plain names, so nothing is lost;
the entries of the case are made from it each time, and the answer from the entries by the same call as at the terminal.
"""

from typing import Final

import streamlit as st

from ...errors import CaseError, MendpointError
from ...load.case_file import write_case
from ...load.tables import Tables, tables
from ..answer import Answer, answer
from ..words import Words
from .ask import ask, fields_wanted, say_fault
from .ask_more import ask_more
from .entry import CHOSEN, Question, field_at, question_of, settled
from .kept import begin, bring_back, fields, folder_of, is_empty, next_customer, open_upload, write_address
from .look import dress
from .safety import stop_of
from .tell import tell

IN_THE_OPEN: Final = ("age", "quote", "price", *CHOSEN)
"""Fields outside the folded part."""


def page() -> None:
    """Draw the page."""
    reference = tables()
    begin(reference)
    for name, value in settled(fields(), reference).items():
        st.session_state[name] = value
    words = Words.for_place(st.session_state["place"])
    question = question_of(fields(), st.session_state["kept"], words)
    found = _answered(question)
    if isinstance(found, CaseError):
        question = question.with_faults(found)
    stop = stop_of(words, reference, st.session_state["kind"], st.session_state["fault"])
    dress()
    st.title(words.say("door.title"), anchor=False)
    asked, told = st.columns([5, 7], gap="medium")
    with asked:
        _ask(words, reference, question, stop, found if isinstance(found, Answer) else None)
    with told:
        st.header(words.say("door.answer"), anchor="answer")
        if isinstance(found, Answer):
            tell(words, found)
            _save(words, question)
        else:
            _say_waiting(words, question, None if isinstance(found, CaseError) else found)
        _open_another(words)
    _thumb(words, question, found, stop)
    write_address()


def _answered(question: Question) -> Answer | MendpointError | None:
    """The answer, what cannot be used, or nothing while something is still to be entered.

    An answer is kept while the entries stay, for a part that opens changes none.
    """
    there, state = question.entries.get("appliance", {}), st.session_state
    if question.faults or not all(there.get(name) is not None for name in ("class", "age", "fault")):
        return None
    asked = (question.entries, state["files"])
    if state["answered"] is None or state["answered"][0] != asked:
        try:
            with folder_of(state["files"]) as folder:
                state["answered"] = (asked, answer(question.entries, folder=folder))
        except MendpointError as fault:
            return fault
    found: Answer = state["answered"][1]
    return found


def _ask(
    words: Words, reference: Tables, question: Question, stop: tuple[str, str] | None, found: Answer | None
) -> None:
    ask(words, reference, question, stop)
    if any(field_at(fault) not in IN_THE_OPEN for fault in question.faults if field_at(fault) in question.drawn):
        st.session_state["more"] = True
    with st.expander(words.say("door.more"), key="more", on_change="rerun"):
        ask_more(words, reference, question, found)


def _say_waiting(words: Words, question: Question, unsolved: MendpointError | None) -> None:
    for index, fault in enumerate(question.faults_elsewhere):
        say_fault(words, fault, f"case_{index}")
    if unsolved is not None:
        say_fault(words, unsolved, "model")
        return
    with st.container(key="waiting"):
        if question.faults:
            st.markdown(f"**{_faults_counted(words, question)}**")
            st.caption(words.say("door.all_kept"))
            return
        st.markdown(f"**{words.say('door.waiting')}**")
        st.markdown(words.say("door.waiting_why"))
        wanted = fields_wanted(words, fields())
        st.caption(words.say("door.still", what=", ".join(wanted)))


def _faults_counted(words: Words, question: Question) -> str:
    count = len(question.faults)
    return words.say("door.one_fault") if count == 1 else words.say("door.some_faults", count=words.number(count, 0))


def _save(words: Words, question: Question) -> None:
    st.download_button(
        words.say("door.save"),
        data=lambda: write_case(question.entries),
        file_name=f"{words.say('door.file_name')}.toml",
        mime="application/toml",
        on_click="ignore",
        width="stretch",
    )
    if st.session_state["files"]:
        st.caption(words.say("door.save_files"))


def _open_another(words: Words) -> None:
    state = st.session_state
    with st.expander(words.say("door.open")):
        key = f"upload_{state['uploads']}"
        st.file_uploader(
            words.say("door.open_hint"), type="toml", key=key, on_change=open_upload, args=(key,), max_upload_size=1
        )
    if state["refused"] is not None:
        say_fault(words, state["refused"], "file")
    if state["lost"]:
        st.caption(words.say("door.lost"))


def _thumb(
    words: Words, question: Question, found: Answer | MendpointError | None, stop: tuple[str, str] | None
) -> None:
    """What stays at the thumb: where it stands in a few words, the way to the next customer, and the way back."""
    said, leads, where = _in_short(words, question, found, stop)
    if not said and st.session_state["last"] is None:
        return
    with st.bottom, st.container(key="thumb", horizontal=True, wrap=False):
        with st.container(key="thumb_stop" if stop else "thumb_says"):
            st.text(said or words.say("door.new"))
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
    if question.faults:
        first = next((field_at(fault) for fault in question.faults if field_at(fault) in question.drawn), "")
        return _faults_counted(words, question), words.say("door.see_fault"), f"at-{first}" if first else "answer"
    if isinstance(found, Answer):
        return words.verdict(found), words.say("door.see"), "answer"
    return "", "", ""
