"""Job books, ways to read them and own figures that are kept, each to be deleted for good; asked twice, done once."""

import functools
from collections.abc import Iterator

import streamlit as st
from babel.dates import format_date

from ....load.store.records import Thing
from ....load.store.store import Store
from ...text.words import Words
from ..state.repository import keeping, look_up
from ..state.visits import book_line, say_damaged, say_kept
from ..widgets import say_text, unfolding
from .held import held_here


def say_deleting(words: Words) -> None:
    """List what is kept beside visits, each with the way to delete it."""
    with unfolding("set_books", words.say("shop_settings.books")) as is_open:
        found = (
            look_up(lambda there: (there, list(_things(words, there)), there.damaged(beside_visits=True)))
            if is_open
            else None
        )
        if found is None:
            return
        there, things, damaged = found
        if not things:
            say_text("small", words.say("shop_settings.none"))
        say_damaged(words, there, damaged)
        for key, label, thing in things:
            say_kept(words, label, "set_line", "set_", key, functools.partial(_delete, thing))


def _things(words: Words, there: Store) -> Iterator[tuple[str, str, Thing]]:
    """A key, a label and what it is of everything that is kept."""
    for book in there.books():
        yield f"book_{book.id}", book_line(words, book), Thing("book", book.id)
    for figures in there.local_figures():
        facts = {"name": figures.name, "on": format_date(figures.dated, "medium", locale=words.locale)}
        label = words.say("shop_settings.figures_used" if figures.used else "shop_settings.figures", **facts)
        yield f"figures_{figures.id}", label, Thing("figures", figures.id)
    for at, name in enumerate(there.mappings()):
        label = words.say("shop_settings.mapping", name=name)
        yield f"mapping_{at}", label, Thing("mapping", name)


def _delete(thing: Thing) -> None:
    held = held_here() if thing.noun == "book" else None
    if keeping(lambda there: there.delete(thing)) and held is not None and held.id == thing.key:
        st.session_state["shop_held"] = None
    st.session_state["set_deleting"] = None
