"""The report of an answer on a page: its first layer in the open, and one of its sections at a tap."""

import html
from collections.abc import Callable

import streamlit as st

from ...answers.answer import Answer
from ..charts.charts import breakeven_chart
from ..charts.first import paid_svg, ruler_svg
from ..text.answer_facts import has_quote
from ..text.certainty import Line
from ..text.report import SECTIONS, FirstLayer, Piece, first_layer, paid_text
from ..text.words import CautionLine, Words
from .html import LabelledRow, compared, drawing, late, listed, rows, table, text
from .safety import say_cautions
from .widgets import choice, draw, say_text, show, unfolding


def tell(words: Words, answer: Answer, mind: list[CautionLine], scenarios: Callable[[], None]) -> None:
    """Say the first layer and, at a tap, one of the sections behind it; `scenarios` draws what-ifs."""
    layer = first_layer(words, answer)
    if layer.stopped:
        with unfolding("money", words.say("door.once_safe")) as is_open:
            if is_open:
                say_text("sentence", words.once_safe(answer))
                show(*_money(words, layer))
    else:
        with st.container(key="first"):
            quote = words.say("first.no_quote")
            if has_quote(answer):
                quote = words.money(answer.weighing.quoted, words.currency, cents=words.with_cents(answer))
            show(late(words.say("first.late", quote=quote)))
            head = text("verdict", layer.verdict) + text("headline", "\n".join(layer.sentences))
            with st.container(key="answer"):
                show(head, *([] if layer.ruler is None else [drawing(ruler_svg(words, layer.ruler, words.currency))]))
            show(*_money(words, layer))
    say_text("finding", *(line for found in answer.findings for line in words.against_rated(found)))
    st.subheader(words.say("first.safety"), anchor="cautions")
    elements = " ".join(layer.sentences)
    say_cautions(words, [line for line in mind if line.text not in elements])
    names = {name: words.say(f"section.{name}") for name in ("scenarios", *SECTIONS)}
    choice(words.say("first.sections"), names, "section", required=False, persist_state=None)
    section = st.session_state["section"]
    if section == "scenarios":
        scenarios()
    elif section:
        say_blocks(words, answer, SECTIONS[section](words, answer))


def _money(words: Words, layer: FirstLayer) -> list[str]:
    """The cards, what will have been paid, and NPV and payback."""
    pieces = [compared(layer.labels, ((card.name, card.values, card.best) for card in layer.cards))]
    if layer.paid is not None:
        drawn = paid_svg(words, layer.paid, words.currency, paid_text(words, layer.paid, words.currency))
        key = listed("key", map(html.escape, layer.paid.names))
        pieces += [text("name", words.say("first.paid")), key, drawing(drawn)]
        pieces += [text("small", note) for note in layer.paid.notes]
    pieces += [rows("gains", map(_row, layer.gains))] if layer.gains else []
    both = [text("name", words.say("door.second_repair")), text("sentence", layer.both)]
    return pieces + both * bool(layer.both)


def say_blocks(words: Words, answer: Answer, blocks: list[Piece]) -> None:
    """Say the pieces of a section."""
    for block in blocks:
        elements = [text("sentence", each) for each in block.sentences]
        elements += [rows("lines", map(_row, block.lines))] if block.lines else []
        elements += [table(block.table)] if block.table else []
        show(*([text("name", block.head)] if block.head else []), *elements)
        if block.has_chart and (chart := breakeven_chart(answer, words)) is not None:
            draw(chart, "breakeven")
        say_text("small", *block.small)


def _row(line: Line) -> LabelledRow:
    return LabelledRow(line.label, line.text, line.small)
