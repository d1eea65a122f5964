"""The job book in the shop: given, chosen among those that are kept, or an invented one; then read and weighed."""

from collections.abc import Callable
from functools import partial

import streamlit as st

from ....errors import MendpointError
from ....load.store.records import StoredBook as Kept
from ....load.store.records import Thing
from ....load.store.store import Store
from ....load.store.visit_book import DECIDED
from ....load.tables.tables import Tables
from ...text.words import Words
from ..ask import say_error
from ..state.repository import keeping, look_up
from ..state.visits import book_line, say_kept
from ..widgets import say_text, set_fields, unfolding, upload
from .held import LARGEST_MB, Held, held_here, invented, of_visits, other_sheet, reopened, taken_in
from .mapping import ask_mapping
from .results import say_results

ENDINGS = ("csv", "txt", "tsv", "xlsx")


def say_book(words: Words, reference: Tables) -> None:
    """Draw the part: the book, how it is read, and what came of it."""
    held = choose_book(words)
    if held is None:
        return
    local_words = Words.for_place(held.mapping.place, words.language)
    if not held.of_visits:
        ask_mapping(local_words, held)
    if not held.lacking:
        say_results(local_words, held, reference)


def choose_book(words: Words) -> Held | None:
    """Say which book is open, or ask for one; nothing while there is none."""
    held, refused = held_here(), st.session_state["shop_refused"]
    if held is None:
        with st.container(key="shop_give"):
            visits = look_up(lambda there: there.visits_without_files()) or []
            if count := sum(visit.page.get("outcome") in DECIDED for visit in visits):
                label, opened = words.say("shop.open_visits", count=str(count)), partial(of_visits, words, visits)
                st.button(label, key="shop_visits", type="primary", on_click=_open, args=(opened,))
            say_text("name", words.say("shop.give"))
            say_text("sentence", words.say("shop.give_why"))
            label, turn = words.say("shop.upload", most=words.number(LARGEST_MB, 0)), st.session_state["shop_uploads"]
            upload(label, ENDINGS, f"shop_upload_{turn}", _take_upload, LARGEST_MB)
            say_text("small", words.say("shop.upload_note"))
            st.button(words.say("shop.try"), key="shop_try", on_click=_open, args=(invented,))
    else:
        with st.container(key="shop_held_line", horizontal=True, vertical_alignment="center"):
            say_text("name", held.book.name)
            let_go = set_fields({"shop_held": None, "shop_refused": None})
            st.button(words.say("shop.another"), key="shop_another", on_click=let_go)
        if len(held.book.sheets) > 1:
            st.session_state["shop_sheet"] = held.book.sheet
            st.selectbox(
                words.say("shop.sheet"), list(held.book.sheets), key="shop_sheet", on_change=_take_sheet, required=True
            )
    if refused is not None:
        say_error(words, refused, "shop_book")
    if held is None:
        _say_kept(words, look_up(Store.books) or [])
    return held


def _take_upload(key: str) -> None:
    given = st.session_state[key]
    if given is not None:
        _open(lambda: taken_in(given.getvalue(), given.name, st.session_state["place"]))


def _take_sheet() -> None:
    held, sheet = held_here(), st.session_state["shop_sheet"]
    if held is not None and sheet != held.book.sheet:
        _open(lambda: other_sheet(held, sheet))


def _open(opened: Callable[[], Held]) -> None:
    """Open a book; one that cannot be used changes nothing but says why."""
    state = st.session_state
    state["shop_uploads"] += 1
    try:
        held = opened()
    except MendpointError as error:
        state["shop_refused"] = error
        return
    state.update({"shop_held": held, "shop_refused": None})
    state["shop_turn"] += 1


def open_kept(book: str, sheet: str | None = None) -> None:
    """Open a book of the store."""
    _open(lambda: reopened(book, st.session_state["place"], sheet))


# those that are kept


def _say_kept(words: Words, books: list[Kept]) -> None:
    if not books:
        return
    with unfolding("shop_books", words.say("shop.kept", count=words.number(len(books), 0))) as is_open:
        for book in books if is_open else ():
            opened, deleted = partial(open_kept, book.id), partial(_delete, book.id)
            say_kept(words, book_line(words, book), "shop_kept", "shop_", book.id, deleted, opened)


def _delete(book: str) -> None:
    keeping(lambda there: there.delete(Thing("book", book)))
    st.session_state["shop_deleting"] = None
