"""Widgets that pages are built of: text, a chart, and a section that opens at a tap."""

import functools
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import Any

import streamlit as st

from ...economics.household import NATURAL_GAS
from ..charts.charts import Chart
from ..text.words import Words
from .html import text


def words_here() -> Words:
    """The words of the place and the language that are chosen on the page."""
    state = st.session_state
    return Words.for_place(state["place"], state["language"], state.get("gas_kind") or NATURAL_GAS)


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


def set_fields(values: Mapping[str, Any]) -> Callable[[], None]:
    """What a tap does that only sets fields of the page."""
    return functools.partial(st.session_state.update, dict(values))


def choice(label: str, labels: Mapping[Any, str], key: str, **settings: Any) -> Any:
    """Draw a few choices to tap; a second tap on the chosen one changes nothing."""
    usual: dict[str, Any] = {"required": True, "wrap": True, "persist_state": "session"}
    return st.pills(label, list(labels), format_func=labels.__getitem__, key=key, **usual | settings)


def one_of(label: str, labels: Mapping[str, str], key: str, wanted: str | None = None, **settings: Any) -> None:
    """Draw a list to choose from, with nothing chosen until someone does."""
    usual: dict[str, Any] = {"index": None, "required": True, "filter_mode": "contains", "persist_state": "session"}
    st.selectbox(label, list(labels), format_func=labels.__getitem__, key=key, placeholder=wanted, **usual | settings)


def text_field(label: str, key: str, example: str | None, **settings: Any) -> None:
    """Draw a field that is read while someone types."""
    usual: dict[str, Any] = {"autocomplete": "off", "live": "400ms", "persist_state": "session"}
    st.text_input(label, key=key, placeholder=example, **usual | settings)


def upload(
    label: str, endings: str | Sequence[str], key: str, take: Callable[[str], None], most: int, several: bool = False
) -> None:
    """Draw a field for a file of some megabytes at most, or several; who takes it is given the key of the field."""
    usual: dict[str, Any] = {"on_change": take, "args": (key,), "max_upload_size": most}
    st.file_uploader(label, type=endings, key=key, accept_multiple_files=several, **usual)


def download(
    label: str, made: Callable[[], str | bytes], name: str, mime: str, key: str, first: bool, **settings: Any
) -> None:
    """Draw a button for a file that is made once somebody asks for it; the first of several stands out."""
    usual: dict[str, Any] = {"on_click": "ignore", "type": "primary" if first else "secondary"}
    st.download_button(label, made, name, mime, key, **usual | settings)


def draw(chart: Chart, key: str) -> None:
    """A chart that stays as it is drawn, in the numbers of the place, with its words for who cannot see it."""
    chart.sketch.layout["separators"] = words_here().separators
    config = {"displayModeBar": False, "responsive": True, "staticPlot": True}
    st.plotly_chart(chart.figure, theme=None, key=key, config=config, alt=chart.alt)
