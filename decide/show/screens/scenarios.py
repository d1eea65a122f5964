"""What-ifs side by side on a page: the shipped ones, and those that somebody names, which are kept with the visit."""

from typing import Any, Final

import streamlit as st

from ...answers.answer import Answer
from ...answers.scenarios import ScenarioAnswer, shipped_for, what_ifs
from ...load.cases.scenarios import SCENARIO
from ...load.tables.tables import Tables
from ..charts.first import gaps_svg
from ..text.answer_facts import has_quote
from ..text.report import gaps_of, gaps_text, scenario_rows
from ..text.words import Words
from .ask import labelled, say_error
from .html import drawing, table, text
from .state.entry import Question
from .state.fields import TYPED, read_typed
from .state.session import folder_of
from .widgets import one_of, say_text, show, text_field

CHANGED: Final = ("quote", "price", "age", "electricity", "electricity_price", "study_period", "earlier_repairs")
"""Fields that a what-if of one's own may change."""


def say_scenarios(words: Words, question: Question, found: Answer, reference: Tables) -> None:
    """Say the case as it is beside the what-ifs, and take another one."""
    state, entries = st.session_state, question.entries
    shipped = shipped_for(entries, found)
    with folder_of(state["files"]) as folder:
        answered = [each for own in (None, shipped) for each in what_ifs(entries, found, own, reference, folder)]
    here = ScenarioAnswer(words.say("scenario.as_it_is"), found)
    # the lines below show the break-even; without a quote there is no NPV and no payback either
    head, *lines = (line[: -1 if has_quote(found) else 3] for line in scenario_rows(words, (here, *answered)))
    gaps = gaps_of(words, (here, *answered))
    places = {gap.name: at for at, gap in enumerate(gaps, start=1)}
    numbered = ((f"{places[name]} · {name}" if name in places else name, *cells) for name, *cells in lines)
    show(table([head, *numbered]))
    if gaps:
        description = gaps_text(words, gaps, words.currency)
        show(text("name", words.say("scenario.chart")), drawing(gaps_svg(words, gaps, words.currency, description)))
    for each in answered:
        if each.error is not None:
            say_error(words, each.error, f"scenario_{each.name}")
    say_text("name", words.say("scenario.own"))
    fields = {key: labelled(words, key) for key in CHANGED}
    text_field(words.say("scenario.name"), "scenario_name", words.say("scenario.name_example"))
    one_of(words.say("scenario.change"), fields, "scenario_field", words.say("use.which"))
    text_field(words.say("scenario.to"), "scenario_value", None)
    st.button(words.say("scenario.add"), key="scenario_add", on_click=_add, args=(words,))
    if state["scenario_error"] is not None:
        say_error(words, state["scenario_error"], "scenario")
    if state["kept"].get(SCENARIO):
        st.button(words.say("scenario.forget"), key="scenario_forget", type="tertiary", on_click=_forget)


def _add(words: Words) -> None:
    """Keep the what-if that is typed with the visit; what cannot be read of it is said, and stays typed."""
    state = st.session_state
    key, name = state["scenario_field"], str(state["scenario_name"] or "").strip()
    if not (key and name and state["scenario_value"]):
        return
    error, value = read_typed(key, str(state["scenario_value"]).strip(), words)
    state["scenario_error"] = error
    if error is None:
        own = [*state["kept"].get(SCENARIO, []), {"name": name, "set": {TYPED[key]: value}}]
        state["kept"] = {**state["kept"], SCENARIO: own}
        state.update({"scenario_name": "", "scenario_value": "", "scenario_field": None})


def _forget() -> None:
    """Let go of the last what-if of one's own."""
    kept: dict[str, Any] = dict(st.session_state["kept"])
    kept[SCENARIO] = kept[SCENARIO][:-1]
    st.session_state["kept"] = kept if kept[SCENARIO] else {name: v for name, v in kept.items() if name != SCENARIO}
