"""Visits that are kept: saved as they are typed, opened again by a link or from the list, and deleted for good.

Where nothing can be kept, the page says so and goes on; nothing of an answer hangs on it.
"""

import datetime
import functools
from collections.abc import Callable
from typing import Any, Final

import streamlit as st
from babel.dates import format_date

from ....load.cases.case_file import parse_case, write_case
from ....load.store.records import DETAILS, Damaged, EditConflict, NotFound, StoredBook, Thing, Visit, VisitLine
from ....load.store.store import Store
from ....load.tables.tables import tables
from ...text.words import Words
from ..ask import SOUND
from ..widgets import say_text, set_fields, unfolding
from .entry import Question, entry_at, fields_of
from .fields import CHOSEN, TYPED, WAYS, local_bounds, unit_of
from .repository import is_owner, keeping, look_up, store
from .symptom_state import SYMPTOM_FIELDS

WHOSE: Final = {name: f"whose_{name}" for name in DETAILS}
"""Fields that say whose a visit is, by the detail that each fills; a day is a day, or None."""

EMPTY: Final[dict[str, Any]] = {
    **dict.fromkeys(TYPED, ""),
    **dict.fromkeys(CHOSEN),
    **WAYS,
    **SYMPTOM_FIELDS,
    "group": None,
    "title": "",
    **dict.fromkeys(WHOSE.values(), ""),
    WHOSE["follow_up"]: None,
    "remaining_life_factor": SOUND,
}
"""A page for the next customer, but for the place: a technician's round lies in one."""

PHOTOS: Final = {name: f"photo-{name}.jpg" for name in ("plate", "fault", "reading")}  # Files that no entry names.

ON_A_PAGE: Final = (*TYPED, *CHOSEN, *WAYS, *SYMPTOM_FIELDS, "group")
"""Fields that are kept with a visit as they were typed."""

LOCAL: Final = "local_units"
"""Says that numbers were typed in the units of the place; before there were any, they were typed in those of files."""

LONGEST_TITLE: Final = 200
"""[character]"""

SHOWN: Final = 20
"""Visits in the list at a time; a search finds the others."""

AS_IT_CAME: Final = "as it came"
"""Stands for what was saved last where the address filled the page: it is kept once somebody changes it."""


def keep(words: Words, question: Question, in_address: bool = True) -> None:
    """Save what stands on the page as the visit of its kind of appliance; the first save gives it an id.

    Another kind of appliance is a visit of its own. While there is no kind, a page that its address holds is not saved.
    """
    state = st.session_state
    here = state.to_dict()
    kind, own = here["kind"] or "", here["own"]
    visit, version = own.get(kind) or own.get("") or ("", 0)
    state["visit"] = visit
    fields = {key: here[key] for key in ON_A_PAGE}
    files = {**here["files"], **{name: (PHOTOS[name], content) for name, content in here["photos"].items()}}
    held = {key: name for key, (name, _) in files.items()}
    page = {**fields, "files": held, "kept": write_case(here["kept"]), LOCAL: "yes"}
    title = title_of(words, question)
    whole = {"page": page, "files": dict(files.values()), "details": details_here()}
    if state["saved"] == AS_IT_CAME:
        state["saved"] = whole
    if state["saved"] == whole or not (kind or _only_kept_here(in_address)):
        return

    def hold(saved: Visit) -> None:
        others = {name: held for name, held in own.items() if name}
        now = {**others, kind: (saved.id, saved.version)}
        state.update({"visit": saved.id, "own": now, "saved": whole})

    def save(there: Store) -> None:
        def saved_as(visit: str, version: int = 0) -> Visit:
            return there.save_visit(visit, question.entries, version=version, title=title, **whole)

        try:
            hold(saved_as(visit or there.new_id(), version))
        except NotFound:  # deleted in another window: what is still on the page here is a visit of its own
            hold(saved_as(there.new_id()))
        except EditConflict as stale:
            hold(stale.kept)
            raise

    if keeping(save):
        state["not_kept"] = None


def _only_kept_here(in_address: bool) -> bool:
    """Whether a page without a kind of appliance holds what its address does not, and is no other visit's going on."""
    state = st.session_state
    whose = details_here().keys() - {"technician"}
    beyond = whose or state["title"] or state["files"] or state["photos"] or state["kept"] or not in_address
    return "" in state["own"] or (not state["own"] and bool(beyond))


def details_here() -> dict[str, str]:
    """Whose the visit is, as typed."""
    typed = {name: str(st.session_state[key] or "").strip() for name, key in WHOSE.items()}
    return {name: text for name, text in typed.items() if text}


def title_of(words: Words, question: Question) -> str:
    """What the visit is found by: its name, else the appliance, its age and the quote."""
    state = st.session_state
    if state["title"]:
        return str(state["title"])
    kind = words.kind(state["kind"]) if state["kind"] else words.say("visit.unnamed")
    years = words.say("visit.aged", age=state["age"]) if state["age"] else ""
    amount = entry_at(question.entries, TYPED["quote"])
    quote = words.money(amount) if isinstance(amount, float) else state["quote"]
    quoted = words.say("visit.quoted", quote=quote) if state["quote"] else ""
    return " ".join(filter(None, (kind, years, quoted)))[:LONGEST_TITLE]


def reopened(visit: str) -> Visit | None:
    """The visit of a link; nothing where it is not kept here."""
    return look_up(lambda there: there.visit(visit))


def fill(visit: Visit) -> None:
    """Fill the page with a visit, as it was left; what it does not say is as on an empty page."""
    state, page = st.session_state, dict(visit.page)
    known = {key: page[key] for key in ON_A_PAGE if page.get(key) is not None}
    known = {**EMPTY, "place": state["usual_place"], **known}
    if not page.get(LOCAL):
        words, typed = Words.for_place(known["place"]), fields_of(visit.entries)
        counted = (key for key, path in TYPED.items() if local_bounds(words, path).unit != unit_of(path))
        known |= {key: typed[key] for key in counted if typed[key]}
    names = {key: name for key, name in page.get("files", {}).items() if name in visit.files}
    files = {key: (name, visit.files[name]) for key, name in names.items() if key not in PHOTOS}
    photos = {key: visit.files[name] for key, name in names.items() if key in PHOTOS}
    known |= {key: visit.details.get(name, EMPTY[key]) for name, key in WHOSE.items()}
    if known[WHOSE["follow_up"]]:
        known[WHOSE["follow_up"]] = datetime.date.fromisoformat(known[WHOSE["follow_up"]])
    state.update(
        {**known, "kept": parse_case(page.get("kept", "").encode()), "files": files, "photos": photos, "lost": False}
    )
    kind = known["kind"] if known["kind"] in tables().known_classes else ""
    own = {kind: (visit.id, visit.version)}
    state.update({"visit": visit.id, "own": own, "refused": None, "saved": None})
    state["uploads"] += 1


def say_visits(words: Words, leave: Callable[[], None], head: str = "visit.head") -> None:
    """List what was kept, newest first, each to be opened or deleted."""
    with unfolding("visits", words.say(head)) as is_open:
        there = store() if is_open else None
        if there is None:
            return
        sought = st.text_input(words.say("visit.search"), key="visit_search", live="400ms", autocomplete="off")
        lists = look_up(lambda there: (there.visits(sought), there.damaged()))
        if lists is None:
            return
        found, damaged = lists
        if not found:
            say_text("small", words.say("visit.none"))
        say_damaged(words, there, [thing for thing in damaged if thing.noun == "visit"])
        may, today = is_owner(), datetime.date.today().isoformat()
        due = sorted(at for at, line in enumerate(found) if line.details.get("follow_up", "9") <= today)
        for line in [found[at] for at in dict.fromkeys((*due, *range(len(found))))][:SHOWN]:
            text = _line(words, line)
            opened, deleted = functools.partial(_open, line.id, leave), functools.partial(_delete, line.id)
            say_kept(words, text, "visit", "", line.id, deleted if may else None, opened)


def _line(words: Words, line: VisitLine) -> str:
    """Say whose a visit is, what it is about, when it was changed and when it is to be followed up."""
    named = " · ".join(filter(None, (line.details.get("customer"), line.details.get("job_number"), line.title)))
    text = words.say("visit.line", title=named, when=words.moment(line.changed))
    if "follow_up" not in line.details:
        return text
    day = format_date(datetime.date.fromisoformat(line.details["follow_up"]), "short", locale=words.locale)
    return f"{words.say('visit.follow_up', day=day)} · {text}"


def say_damaged(words: Words, there: Store, things: list[Thing]) -> None:
    """Say what was set aside, each with the way to delete it."""
    for at, thing in enumerate(things):
        with st.container(key=f"damaged_{thing.noun}_{at}", horizontal=True, vertical_alignment="center"):
            say_text("sentence", *words.explain(Damaged(there.where, (thing,))))
            st.button(words.say("visit.really"), key=f"drop_{thing.noun}_{at}", on_click=_drop, args=(thing,))


def _drop(thing: Thing) -> None:
    keeping(lambda there: there.delete(thing))


def say_kept(
    words: Words,
    text: str,
    line: str,
    page: str,
    key: str,
    delete: Callable[[], None] | None,
    opened: Callable[[], None] | None = None,
) -> None:
    """Say one thing that is kept, to be opened, and to be deleted once it was asked again; `page` begins its keys."""
    asked = f"{page}deleting"
    with st.container(key=f"{line}_{key}", horizontal=True, vertical_alignment="center"):
        say_text("sentence", text)
        if opened is not None:
            st.button(words.say("visit.open"), key=f"{page}open_{key}", on_click=opened)
        if delete is None:
            return
        if st.session_state.get(asked) == key:
            st.button(words.say("visit.really"), key=f"{page}really_{key}", on_click=delete)
        else:
            st.button(words.say("visit.delete"), key=f"{page}delete_{key}", on_click=set_fields({asked: key}))


def book_line(words: Words, book: StoredBook) -> str:
    """Say which job book is kept, how many rows it has, and since when."""
    rows = words.counted("jobs.count.row", book.rows) if book.rows else words.say("shop.not_weighed")
    return words.say("shop.kept_line", name=book.name, rows=rows, when=words.moment(book.imported))


def _open(visit: str, leave: Callable[[], None]) -> None:
    found = reopened(visit)
    if found is not None:
        leave()
        fill(found)


def _delete(visit: str) -> None:
    keeping(lambda there: there.delete(Thing("visit", visit)))
    state = st.session_state
    if state["visit"] == visit:
        state["visit"] = ""
    own = {kind: held for kind, held in state["own"].items() if held[0] != visit}
    state.update({"own": own, "deleting": None})
