"""Pieces that pages are built of: a line with its label, a text, a chart, and a part that opens at a tap."""

from collections.abc import Iterator
from contextlib import contextmanager

import streamlit as st

from ..charts import Chart
from ..words import Words


def words_here() -> Words:
    """The words of the place and the language that are chosen on the page."""
    return Words.for_place(st.session_state["place"], st.session_state["language"])


@contextmanager
def unfolding(key: str, label: str) -> Iterator[bool]:
    """A part that is drawn only once it is opened; there is much of it."""
    with st.expander(label, key=key, on_change="rerun") as part:
        yield bool(part.open)


@contextmanager
def labelled(key: str, label: str) -> Iterator[None]:
    """A small label, and below it what the caller writes."""
    with st.container(key=f"line_{key}"):
        st.caption(label)
        yield


def say_text(key: str, text: str) -> None:
    """A text as it is, never read as marks."""
    with st.container(key=key):
        st.text(text)


def draw(chart: Chart, key: str) -> None:
    """A chart that stays as it is drawn, in the numbers of the place, with its words for who cannot see it."""
    chart.figure.update_layout(separators=words_here().separators)
    config = {"displayModeBar": False, "responsive": True, "staticPlot": True}
    st.plotly_chart(chart.figure, theme=None, key=key, config=config, alt=chart.alt)
