"""The job book in the shop: given, chosen among those that are kept, or an invented one; then read and weighed."""

from collections.abc import Callable

import streamlit as st

from ....errors import MendpointError
from ....load.store.records import StoredBook as Kept
from ....load.store.records import Thing
from ....load.tables.tables import Tables
from ...text.words import Words
from ..ask import say_error
from ..state.repository import keeping, store
from ..widgets import say_text, unfolding
from .held import LARGEST_MB, Held, held_here, invented, other_sheet, reopened, taken_in
from .mapping import ask_mapping
from .results import say_results

ENDINGS = ("csv", "txt", "tsv", "xlsx", "parquet")


def say_book(words: Words, reference: Tables) -> None:
    """Draw the part: the book, how it is read, and what came of it."""
    held = choose_book(words)
    if held is None:
        return
    local_words = Words.for_place(held.mapping.place, words.language)
    ask_mapping(local_words, held)
    if not held.lacking:
        say_results(local_words, held, reference)


def choose_book(words: Words) -> Held | None:
    """Say which book is open, or ask for one; nothing while there is none."""
    held, refused = held_here(), st.session_state["shop_refused"]
    if held is None:
        _ask_book(words)
    else:
        _say_held(words, held)
    if refused is not None:
        say_error(words, refused, "shop_book")
    if held is None:
        _say_kept(words, _kept())
    return held


def _ask_book(words: Words) -> None:
    with st.container(key="shop_give"):
        say_text("name", words.say("shop.give"))
        say_text("sentence", words.say("shop.give_why"))
        key = f"shop_upload_{st.session_state['shop_uploads']}"
        st.file_uploader(
            words.say("shop.upload", most=words.number(LARGEST_MB, 0)),
            type=list(ENDINGS),
            key=key,
            on_change=_take_upload,
            args=(key,),
            max_upload_size=LARGEST_MB,
        )
        say_text("small", words.say("shop.upload_note"))
        st.button(words.say("shop.try"), key="shop_try", on_click=_open, args=(invented,))


def _say_held(words: Words, held: Held) -> None:
    with st.container(key="shop_held_line", horizontal=True, vertical_alignment="center"):
        say_text("name", held.book.name)
        st.button(words.say("shop.another"), key="shop_another", on_click=_let_go)
    if len(held.book.sheets) > 1:
        st.session_state["shop_sheet"] = held.book.sheet
        st.selectbox(
            words.say("shop.sheet"), list(held.book.sheets), key="shop_sheet", on_change=_take_sheet, required=True
        )


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
    state.update({"shop_held": held, "shop_refused": None, "shop_asked_for": None})
    state["shop_turn"] += 1


def open_kept(book: str, sheet: str | None = None) -> None:
    """Open a book of the store."""
    _open(lambda: reopened(book, st.session_state["place"], sheet))


def _let_go() -> None:
    st.session_state.update({"shop_held": None, "shop_refused": None})


# those that are kept


def _kept() -> list[Kept]:
    there = store()
    try:
        return [] if there is None else there.books()
    except MendpointError as trouble:
        st.session_state["not_kept"] = trouble
        return []


def _say_kept(words: Words, books: list[Kept]) -> None:
    if not books:
        return
    with unfolding("shop_books", words.say("shop.kept", count=words.number(len(books), 0))) as is_open:
        for book in books if is_open else ():
            _say_one(words, book)


def _say_one(words: Words, book: Kept) -> None:
    rows = words.counted("jobs.count.row", book.rows) if book.rows else words.say("shop.not_weighed")
    text = words.say("shop.kept_line", name=book.name, rows=rows, when=words.moment(book.imported))
    with st.container(key=f"shop_kept_{book.id}", horizontal=True, vertical_alignment="center"):
        say_text("sentence", text)
        st.button(words.say("visit.open"), key=f"shop_open_{book.id}", on_click=open_kept, args=(book.id,))
        if st.session_state["shop_deleting"] == book.id:
            st.button(words.say("visit.really"), key=f"shop_really_{book.id}", on_click=_delete, args=(book.id,))
        else:
            st.button(words.say("visit.delete"), key=f"shop_delete_{book.id}", on_click=_ask_first, args=(book.id,))


def _ask_first(book: str) -> None:
    st.session_state["shop_deleting"] = book


def _delete(book: str) -> None:
    keeping(lambda there: there.delete(Thing("book", book)))
    st.session_state["shop_deleting"] = None
