"""At home: the same question for an owner, one step at a time, with or without a quote.

The fields are those of the page at the door, so that moving between the pages loses nothing, and a technician can go on
from what the owner typed. What is seen and found beside them stands in the session too.
"""

from typing import Final

import streamlit as st

from ....errors import CaseError
from ...pdf.sheet import questions
from ..ask import literal, say_error
from ..asked import PageCase, errors_counted, open_another, page_case
from ..html import text
from ..report_view import tell
from ..safety import say_cautions, say_stop
from ..state.fields import AT_STEP, field_at
from ..state.repository import say_not_saved
from ..state.session import bring_back, fields, is_empty, next_customer, write_address
from ..state.symptom_state import STEPS, lacking_step
from ..state.visits import keep, say_visits
from ..take_away import give, take_away
from ..theme import to_top
from ..widgets import say_text, show
from .checks import ask_checks, cautions_at_home, own_fix
from .steps import ask_fault, ask_home, ask_quote, ask_unit, done_text

LAST: Final = len(STEPS)

STATED: Final = ("class", "age")
"""What the appliance has to say before an owner gets an answer: of a symptom the cause may still be open."""


def page() -> None:
    """Draw the page."""
    case = page_case(STATED)
    keep(case.words, case.question)
    words, step = case.words, int(st.session_state["step"])
    with st.container(key="home"):
        st.title(words.say("home.title"), anchor=False)
        if case.stop is not None:
            say_stop(*case.stop)
        _say_done(case, step)
        st.header(words.say(f"home.step.{STEPS[step - 1]}"), anchor="step")
        asked = {"fault": ask_fault, "checks": ask_checks, "unit": ask_unit, "home": ask_home, "quote": ask_quote}
        asked.get(STEPS[step - 1], _say_answer)(case)
        _say_ways_out(case, step)
        say_not_saved(words)
    _thumb(case, step)
    _begin_at_top((step, case.stop))
    write_address()


def _begin_at_top(shown: tuple[int, tuple[str, str] | None]) -> None:
    """Show another step from its top, and an order that comes first."""
    state = st.session_state
    before, turn = state.get("home_shown", (shown, 0))
    if before[0] != shown[0] or (shown[1] is not None and before[1] != shown[1]):
        turn += 1
        to_top(turn)
    state["home_shown"] = (shown, turn)


def _say_done(case: PageCase, step: int) -> None:
    """Say what stands in each step before this one; a tap goes back to it."""
    if step == 1:
        return
    with st.container(key="steps_done"):
        for n in range(1, step):
            text = case.words.say("home.done_line", n=str(n), text=done_text(case, n))
            st.button(literal(text), key=f"to_{n}", type="tertiary", on_click=_go, args=(n,))


def _say_answer(case: PageCase) -> None:
    """Say the answer in the words of the door, what to ask whoever comes, and what to take away."""
    words, found = case.words, case.answer
    if found is None:
        _say_unusable(case)
        return
    if st.session_state["rents"] == "yes":
        say_text("finding", words.say("home.landlord"))
    if own_fix():
        with st.container(key="first"):
            show(text("verdict", words.say("home.nothing_to_pay")) + text("headline", words.say("home.found_yours")))
        say_cautions(words, cautions_at_home(case))
        return
    tell(case, found, cautions_at_home(case))
    st.subheader(words.say("home.questions"), anchor=False)
    say_text("question", *questions(words, found))
    take_away(case, found)


def _say_unusable(case: PageCase) -> None:
    """Name each entry that cannot be used, with the way to where it stands."""
    words, question = case.words, case.question
    if case.found is not None and not isinstance(case.found, CaseError | type(None)):
        say_error(words, case.found, "model")  # type: ignore[arg-type]
        return
    with st.container(key="waiting"):
        say_text("name", errors_counted(words, len(question.errors)))
        say_text("small", words.say("home.all_kept"))
        for index, error in enumerate(question.errors):
            say_error(words, error, f"answer_{index}")
            step = step_of(field_at(error))
            if step is None:
                say_text("small", words.say("home.elsewhere"))
            else:
                st.button(words.say("home.go_to", n=str(step)), key=f"mend_{index}", on_click=_go, args=(step,))


def step_of(field: str) -> int | None:
    """The step at which a field stands; nothing where it stands at the door only."""
    return AT_STEP.get(max((begins for begins in AT_STEP if field.startswith(begins)), key=len, default=""))


def _say_ways_out(case: PageCase, step: int) -> None:
    """Draw the ways on and back that are seldom taken: the answer at once, another customer, a saved case."""
    words = case.words
    if is_empty():
        say_visits(words, next_customer, "home.visits")
        open_another(words)
        return
    with st.container(key="ways_out", horizontal=True):
        if step < LAST - 1 and lacking_step(fields()) is None:
            st.button(words.say("home.to_answer"), key="to_answer", type="tertiary", on_click=_go, args=(LAST,))
        if step < LAST:
            st.button(words.say("home.again"), key="again", type="tertiary", on_click=next_customer)
        if st.session_state["last"] is not None:
            st.button(words.say("door.undo"), key="undo_here", type="tertiary", on_click=bring_back)


def _thumb(case: PageCase, step: int) -> None:
    """What stays at the thumb: which step this is, what it still needs, and the ways back and on."""
    words, state, lacking = case.words, st.session_state, lacking_step(fields())
    with st.bottom, st.container(key="thumb", horizontal=True, wrap=False):
        with st.container(key="thumb_stop" if case.stop else "thumb_says"):
            say_text("sentence", words.say("home.step_of", n=str(step), count=str(LAST)))
            if case.stop:
                with st.container(key="lead"):
                    st.markdown(f"[{words.say('door.see_order')}](#at-stop)")
            elif lacking == step:
                wanted = "age" if step > 1 else "fault" if state["kind"] else "kind"
                say_text("note", words.say("home.still", what=words.say(f"wanted.{wanted}")))
        if step == 1 and is_empty() and state["last"] is not None:
            st.button(words.say("door.undo"), key="undo", on_click=bring_back)
        if step > 1:
            st.button(words.say("home.back"), key="back", on_click=_go, args=(step - 1,))
        if step < LAST:
            on = lacking == step
            st.button(words.say("home.next"), key="next", type="primary", disabled=on, on_click=_go, args=(step + 1,))
        else:
            if case.answer is not None and not own_fix():
                give(case, case.answer, "home.give")
            st.button(words.say("home.again"), key="again", on_click=next_customer)


def _go(step: int) -> None:
    st.session_state["step"] = str(step)
