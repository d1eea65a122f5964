"""What the screens take from the store: visits, the shop's own name and figures; and what is said where it fails."""

import functools
import os
from collections.abc import Callable
from typing import Final, TypeVar

import streamlit as st

from ....errors import CaseError, MendpointError, ReadError, StoreError
from ....load.jobs.own_figures import LocalFigure, parsed, with_local
from ....load.store.people import Role
from ....load.store.records import Damaged
from ....load.store.store import Store
from ....load.store.visit_book import cause_counts
from ....load.tables.evidence import OWN_TABLES, read_kept
from ....load.tables.tables import CURRENCIES, Tables, tables
from ...pdf.logo import Shop
from ...pdf.paper import SIZES, USUAL_SIZE, Size
from ...text.words import Words
from .. import sign_in
from ..widgets import say_text

Found = TypeVar("Found")

LATELY: Final = 20
"""Visits whose appliances stand first in the list. A judgement."""

PLACE_OF_STORE: Final = "MENDPOINT_STORE"
"""Variable of the environment that says where the store is."""


def store() -> Store | None:
    """The store, or nothing where it cannot be opened; the reason is kept to be said."""
    try:
        return _opened(os.environ.get(PLACE_OF_STORE, ""))
    except (CaseError, StoreError) as trouble:
        st.session_state["not_kept"] = trouble
        return None


@st.cache_resource(show_spinner=False)
def _opened(place: str) -> Store:
    return Store.open(place or None, who=sign_in.who)


def keeping(action: Callable[[Store], object], at: str = "not_kept") -> bool:
    """Do something with the store; what stands in the way is kept to be said, and stops nothing else.

    `at`: under which name of the session it is kept; said at the foot of the page unless one is given.
    """
    there = store()
    if there is None:
        return False
    try:
        action(there)
    except MendpointError as trouble:
        st.session_state[at] = trouble
        return False
    return True


def look_up(look: Callable[[Store], Found]) -> Found | None:
    """What the store has of something, or nothing; what stands in the way is kept to be said."""
    found: list[Found] = []
    return found[0] if keeping(lambda there: found.append(look(there))) else None


def is_owner() -> bool:
    """Whether whoever is here may do all; so where nobody signs in."""
    return sign_in.who() is None or look_up(Store.role) is Role.OWNER


def taken(made: Callable[[], Found], name: str = "") -> Callable[[], Found]:
    """The same file, made once whoever takes it was asked, and noted; without a name it is one for the customer.

    Only an owner may take others. What is noted of a customer's is the id of the visit.
    """
    visit = str(st.session_state.get("visit", ""))

    def make() -> Found:
        if sign_in.who() is not None:
            there = _opened(os.environ.get(PLACE_OF_STORE, ""))
            if name:
                there.note_export(name)
            else:
                there.note_hand_out(visit)
        return made()

    return sign_in.as_here(make)


def say_not_saved(words: Words) -> None:
    """Say why what was typed is not kept, where it is not, and what of the store was set aside."""
    for trouble in (st.session_state["not_kept"], *st.session_state.get("set_aside", ())):
        if trouble is not None:
            say_text("sentence", *words.explain(trouble))


def reference_here() -> Tables:
    """The tables, with the shop's own figures in place of shipped ones where it uses any that can be used.

    Its own tables of checks go to the session as they are kept, where they can be used.
    """
    used: list[tuple[str, str]] = []
    aside: list[MendpointError] = []

    def read(there: Store) -> None:
        used.extend((kept.name, kept.text) for kept in there.local_figures() if kept.used)
        if there.lacks_log():
            aside.append(StoreError(there.where, "log"))
        aside.append(Damaged(there.where, tuple(there.damaged(beside_visits=True))))

    keeping(read)
    own = str((look_up(Store.settings) or {}).get(OWN_TABLES) or "")
    try:
        for region in CURRENCIES if own else ():
            read_kept(own, region)
    except MendpointError as error:  # of an import, say
        own, aside = "", [*aside, error]
    st.session_state[OWN_TABLES] = own
    found, unused = _with_own(tuple(used))
    st.session_state["set_aside"] = [*aside, *unused]
    return found


@functools.lru_cache(maxsize=8)
def _with_own(used: tuple[tuple[str, str], ...]) -> tuple[Tables, tuple[MendpointError, ...]]:
    """The tables with each set of own figures that goes with those before it, and why others do not."""
    found = tables()
    figures: tuple[LocalFigure, ...] = ()
    unused: list[MendpointError] = []
    for name, text in used:
        try:
            more = (*figures, *parsed(text, name))
            found, figures = with_local(tables(), more), more
        except MendpointError as error:
            unused.append(ReadError(name, error.sentence))
    return found, tuple(unused)


def visits_tell() -> tuple[dict[str, dict[str, float]], list[str]]:
    """What other visits kept here tell, read anew at the next customer: causes found [job], and the last kinds."""
    state = st.session_state
    if state.get("visits_tell", (None,))[0] != state["uploads"]:
        visits = look_up(lambda there: there.visits_without_files()) or []
        pages = [visit.page for visit in visits if visit.id != state["visit"]]
        lately = [str(page.get("kind")) for page in pages[:LATELY]]
        state["visits_tell"] = state["uploads"], (cause_counts(pages), lately)
    found: tuple[dict[str, dict[str, float]], list[str]] = state["visits_tell"][1]
    return found


def shop_here() -> Shop:
    """How the shop signs what it hands over, from its settings."""
    kept = look_up(Store.settings) or {}
    parts = {
        part: str(kept.get(f"shop_{part}") or "") for part in ("name", "address", "phone", "licence", "technician")
    }
    logo, days = kept.get("shop_logo"), str(kept.get("shop_valid") or "")
    return Shop(**parts, logo=logo if isinstance(logo, bytes) else b"", valid_days=int(days) if days.isdecimal() else 0)


def paper_here(words: Words) -> Size:
    """The size of paper: that of the settings, else what is usual in the region."""
    kept = look_up(Store.settings) or {}
    return next((size for size in SIZES if size == kept.get("paper")), USUAL_SIZE[words.region])
