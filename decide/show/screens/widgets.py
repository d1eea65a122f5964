"""Widgets that pages are built of: text, a chart, and a section that opens at a tap."""

from collections.abc import Iterator
from contextlib import contextmanager

import streamlit as st

from ..charts.charts import Chart
from ..text.words import Words
from .html import text


def words_here() -> Words:
    """The words of the place and the language that are chosen on the page."""
    return Words.for_place(st.session_state["place"], st.session_state["language"])


@contextmanager
def unfolding(key: str, label: str) -> Iterator[bool]:
    """A part that is drawn only once it is opened; there is much of it."""
    with st.expander(label, key=key, on_change="rerun") as part:
        yield bool(part.open)


def show(*pieces: str) -> None:
    """What is told, in one; each piece escapes what stands in it. Nothing where there is none."""
    if any(pieces):
        st.html("".join(pieces))


def say_text(kind: str, *texts: str) -> None:
    """Texts as they are, never read as marks; `kind` is how they look."""
    show(*(text(kind, each) for each in texts))


def draw(chart: Chart, key: str) -> None:
    """A chart that stays as it is drawn, in the numbers of the place, with its words for who cannot see it."""
    chart.sketch.update_layout(separators=words_here().separators)
    config = {"displayModeBar": False, "responsive": True, "staticPlot": True}
    st.plotly_chart(chart.figure, theme=None, key=key, config=config, alt=chart.alt)
