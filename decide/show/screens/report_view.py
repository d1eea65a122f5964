"""The report of an answer on a page: its first layer in the open, and one of its sections or what-ifs at a tap.

What-ifs that somebody names are kept with the visit.
"""

import html
from typing import Any, Final

import streamlit as st

from ...answers.answer import Answer
from ...answers.scenarios import ScenarioAnswer, shipped_for, what_ifs
from ...load.cases.scenarios import SCENARIO
from ..charts.charts import breakeven_chart
from ..charts.first import gaps_svg, paid_svg, ruler_svg
from ..text.answer_facts import has_quote, with_cents
from ..text.report import SECTIONS, FirstLayer, Piece, first_layer, gaps_of, gaps_text, paid_text, scenario_rows
from ..text.words import CautionLine, Words
from .ask import labelled, say_error
from .asked import PageCase
from .html import compared, drawing, late, listed, rows, table, text
from .safety import say_cautions
from .state.fields import TYPED, read_typed
from .state.session import folder_of
from .widgets import choice, draw, one_of, say_text, show, text_field, unfolding


def tell(case: PageCase, answer: Answer, mind: list[CautionLine]) -> None:
    """Say the first layer and, at a tap, one of the sections behind it."""
    words = case.words
    layer = first_layer(words, answer)
    if layer.stopped:
        with unfolding("money", words.say("door.once_safe")) as is_open:
            if is_open:
                say_text("sentence", words.once_safe(answer))
                show(*money_pieces(words, layer))
    else:
        with st.container(key="first"):
            quote = words.say("first.no_quote")
            if has_quote(answer):
                quote = words.money(answer.weighing.quoted, cents=with_cents(answer))
            show(late(words.say("first.late", quote=quote)))
            head = text("verdict", layer.verdict) + text("headline", "\n".join(layer.sentences))
            with st.container(key="answer"):
                show(head, *([] if layer.ruler is None else [drawing(ruler_svg(words, layer.ruler))]))
            show(*money_pieces(words, layer))
    say_text("finding", *words.to_look_at(answer))
    st.subheader(words.say("first.safety"), anchor="cautions")
    elements = " ".join(layer.sentences)
    say_cautions(words, [line for line in mind if line.text not in elements])
    names = {name: words.say(f"section.{name}") for name in ("scenarios", *SECTIONS)}
    choice(words.say("first.sections"), names, "section", required=False, persist_state=None)
    section = st.session_state["section"]
    if section == "scenarios":
        _say_scenarios(case, answer)
    elif section:
        say_blocks(words, answer, SECTIONS[section](words, answer))


def money_pieces(words: Words, layer: FirstLayer) -> list[str]:
    """The cards, what will have been paid, and NPV and payback."""
    pieces = [compared(layer.labels, ((card.name, card.values, card.best) for card in layer.cards))]
    if layer.paid is not None:
        drawn = paid_svg(words, layer.paid, paid_text(words, layer.paid))
        key = listed("key", map(html.escape, layer.paid.names))
        pieces += [text("name", words.say("first.paid")), key, drawing(drawn)]
        pieces += [text("small", note) for note in layer.paid.notes]
    pieces += [rows("gains", layer.gains)] if layer.gains else []
    pieces += [text("small", layer.sums)] * bool(layer.sums)
    both = [text("name", words.say("door.second_repair")), text("sentence", layer.both)]
    return pieces + both * bool(layer.both)


def say_blocks(words: Words, answer: Answer, blocks: list[Piece]) -> None:
    """Say the pieces of a section."""
    for block in blocks:
        elements = [text("sentence", each) for each in block.sentences]
        elements += [rows("lines", block.lines)] if block.lines else []
        elements += [table(block.table)] if block.table else []
        show(*([text("name", block.head)] if block.head else []), *elements)
        if block.has_chart and (chart := breakeven_chart(answer, words)) is not None:
            draw(chart, "breakeven")
        say_text("small", *block.small)


# what-ifs

CHANGED: Final = ("quote", "price", "age", "electricity", "electricity_price", "study_period", "earlier_repairs")
"""Fields that a what-if of one's own may change."""


def _say_scenarios(case: PageCase, found: Answer) -> None:
    """Say the case as it is beside the what-ifs, and take another one."""
    state, words, entries = st.session_state, case.words, case.question.entries
    shipped = shipped_for(entries, found)
    with folder_of(state["files"]) as folder:
        answered = [each for own in (None, shipped) for each in what_ifs(entries, found, own, case.reference, folder)]
    here = ScenarioAnswer(words.say("scenario.as_it_is"), found)
    # the lines below show the break-even; without a quote there is no NPV and no payback either
    head, *lines = (line[: -1 if has_quote(found) else 3] for line in scenario_rows(words, (here, *answered)))
    gaps = gaps_of(words, (here, *answered))
    places = {gap.name: at for at, gap in enumerate(gaps, start=1)}
    numbered = ((f"{places[name]} · {name}" if name in places else name, *cells) for name, *cells in lines)
    show(table([head, *numbered]))
    if gaps:
        description = gaps_text(words, gaps)
        show(text("name", words.say("scenario.chart")), drawing(gaps_svg(words, gaps, description)))
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
