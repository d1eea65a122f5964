"""Work on a job book that may take long: told while it is done, stopped at a tap, and kept for the session."""

from collections.abc import Callable
from typing import Final, TypeVar

import streamlit as st

from ....errors import MendpointError
from ....load.jobs.book import Progress
from ....load.jobs.rows import ReadChunk, read_book
from ...text.words import Words
from ..ask import say_error
from ..widgets import set_fields
from .held import Held

Found = TypeVar("Found")

SAYS: Final = {
    "weighed": ("shop.weigh", "shop.weighing"),
    "records": ("shop_quotes.work_out", "shop.reading_records"),
}
"""What begins some work, and what is said meanwhile; of the rest it is the usual."""


def worked_out(
    words: Words, name: str, held: Held, wants: tuple[object, ...], work: Callable[[Progress], Found]
) -> Found | None:
    """What some work on the open book comes to; nothing while it waits, or where it cannot be done, which is said.

    A large book, and one whose work was stopped, waits until it is asked for. `work` is given what it tells how far it
    is, in rows, or 0, and as a share: there a stop is heeded. `wants` is all that the work hangs on.
    """
    state, key = st.session_state, f"shop_{name}"
    if state.get(key) is not None and state[key][0] == wants:
        known: Found = state[key][1]
        return known
    begin, meanwhile = (words.say(each) for each in SAYS.get(name, ("shop_quotes.work_out", "shop_quotes.working")))
    if (held.is_large or state["shop_stopped"] is held) and state["shop_asked_for"] is not held:
        asked = set_fields({"shop_asked_for": held})
        st.button(begin, key=f"shop_begin_{name}", type="primary", on_click=asked)
        return None
    bar, stop = st.progress(0.0, meanwhile), st.empty()
    stopped = set_fields({"shop_stopped": held, "shop_asked_for": None})
    stop.button(words.say("shop.stop"), key=f"shop_stop_{name}", on_click=stopped)  # heeded where the bar moves

    def tell(rows: int, share: float) -> None:
        done = words.say("shop.weighed", rows=words.counted("jobs.count.row", rows)) if rows else meanwhile
        bar.progress(min(1.0, share), done)

    found: Found | None = None
    try:
        found = work(tell)
        state[key] = wants, found
    except MendpointError as error:
        say_error(words, error, f"{key}_error")
    bar.empty()
    stop.empty()
    return found


def read_once(words: Words, held: Held) -> ReadChunk | None:
    """The jobs of the open book and how much of it could be read, read once while it stays open."""
    return worked_out(words, "read", held, (held,), lambda tell: read_book(held.book, held.mapping, tell))
