"""The page in the shop: the job book, the shop's own records, quotes, the policy card and the settings."""

from typing import Final

import streamlit as st
from streamlit.runtime.scriptrunner import get_script_run_ctx

from ....load.tables.tables import Tables
from ...text.words import Words
from ..html import unseen_head
from ..state.address import LANGUAGE, VISIT
from ..state.repository import reference_here, say_not_saved
from ..widgets import choice, show, words_here
from .book import open_kept, say_book
from .held import held_here
from .records import say_records

PARTS: Final = ("book", "records", "quotes", "card", "settings")
PART: Final = "part"
BOOK: Final = "book"
SHEET: Final = "sheet"

EMPTY: Final = {
    "shop_part": PARTS[0],
    "shop_held": None,
    "shop_refused": None,
    "shop_uploads": 0,
    "shop_turn": 0,
    "shop_asked_for": None,
    "shop_stopped": None,
    "shop_weighed": None,
    "shop_deleting": None,
}
"""What the page keeps while it is open. What is typed stands in the store, and the address says where."""


def page() -> None:
    """Draw the page."""
    _begin()
    words, reference = words_here(), reference_here()
    st.title(words.say("shop.title"), anchor=False)
    labels = {part: words.say(f"shop.part.{part}") for part in PARTS}
    choice(words.say("shop.parts"), labels, "shop_part", label_visibility="collapsed")
    show(unseen_head(labels[st.session_state["shop_part"]]))
    _draw(words, reference, st.session_state["shop_part"])
    say_not_saved(words)
    # let the address say which part is open, and which book
    state, held = st.session_state, held_here()
    wanted = {PART: state["shop_part"]}
    if held is not None and held.id:
        wanted[BOOK] = held.id
        if held.book.sheet is not None and held.book.sheet != held.book.sheets[0]:
            wanted[SHEET] = held.book.sheet
    if state["visit"]:
        wanted[VISIT] = state["visit"]
    if state["language"] != state["usual_language"]:
        wanted[LANGUAGE] = state["language"]
    if st.query_params.to_dict() != wanted:
        st.query_params.from_dict(wanted)


def _draw(words: Words, reference: Tables, part: str) -> None:
    match part:
        case "records":
            say_records(words)
        case "quotes":
            from .quotes import say_quotes

            say_quotes(words, reference)
        case "card":
            from .card import say_card

            say_card(words, reference)
        case "settings":
            from .settings import say_settings

            say_settings(words)
        case _:
            say_book(words, reference)


def _begin() -> None:
    """Fill a new session from the address, and an old one where the browser's own way back was taken."""
    state, went_back = st.session_state, getattr(get_script_run_ctx(), "is_history_navigation", False)
    fresh = "shop_held" not in state
    if fresh:
        state.update(EMPTY)
    if not (fresh or went_back):
        return
    address = st.query_params.to_dict()
    state["shop_part"] = address[PART] if address.get(PART) in PARTS else PARTS[0]
    held, book = held_here(), address.get(BOOK, "")
    if not book:
        state["shop_held"] = None
    elif held is None or (held.id, held.book.sheet) != (book, address.get(SHEET, held.book.sheet)):
        open_kept(book, address.get(SHEET))
