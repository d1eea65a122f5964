"""The settings of the shop: how it signs, its paper, and everything that is kept, to be taken out, in, or away."""

import json
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, Final

import streamlit as st
from babel.dates import format_date
from streamlit.typing import UploadedFile

from ....errors import MendpointError, ReadError
from ....load.store.brought_visits import take_in
from ....load.store.people import PEOPLE, Role, people_text, read_people
from ....load.store.records import ImportSummary, Thing
from ....load.store.store import Store
from ....load.tables.evidence import COLUMNS, OWN_TABLES, read_kept
from ....load.tables.symptoms import COLUMNS as CAUSE_COLUMNS
from ....load.tables.tables import CURRENCIES
from ...pdf.logo import LONGEST_VALID, MOST_MB, logo_of
from ...pdf.paper import SIZES
from ...pocket.page import stamp
from ...text.words import Words
from ..ask import say_error
from ..sign_in import as_here, who
from ..state.repository import keeping, look_up, paper_here, shop_here, store
from ..state.session import next_customer
from ..state.visits import book_line, say_damaged, say_kept, say_visits
from ..widgets import choice, download, say_text, text_field, unfolding, upload, words_here
from .held import LARGEST_MB, held_here
from .rates import forget_rates

SIGNED: Final = ("name", "address", "phone", "licence", "technician", "valid")
TYPED: Final = {f"set_{each}": f"shop_{each}" for each in SIGNED}
"""Fields of text, each with the setting that it fills."""

LONGEST: Final = 120
"""Of a name or an address line; more does not fit on a page. [character]"""

LOOPBACK: Final = "127.0.0.1"

LOGO_WIDTH: Final = 160
"""[pixel]"""


def say_settings(words: Words) -> None:
    """Draw the part: the shop, and what is kept."""
    state = st.session_state
    state.setdefault("set_turn", 0)
    state.setdefault("set_outcome", None)
    signed, kept = st.columns(2, gap="large")
    with signed:
        _ask_shop(words)
        _ask_logo(words)
        ask_paper(words)
    with kept:
        _say_store(words)
        say_visits(words, next_customer)
        _say_deleting(words)
        _say_people(words)
        _ask_checks(words)


def _say_refused(words: Words, place: str) -> None:
    """Say beside a field why what was given there was not taken."""
    error = st.session_state.get(f"refused_{place}")
    if error is not None:
        say_error(words, error, place)


def _try(place: str, action: Callable[[Store], None]) -> bool:
    """Do something with the store; what stands in the way is said at its place."""
    st.session_state.pop(f"refused_{place}", None)
    return keeping(action, f"refused_{place}")


def _take(place: str, use: Callable[[Store, Any], None], key: str) -> None:
    """Do something with the file, or files, that a field was given; the field is empty afterwards."""
    given = st.session_state[key]
    if given:
        _try(place, lambda there: use(there, given))
        st.session_state["set_turn"] += 1


# who may do what

LINES: Final = 200
"""Of the log, shown at a time."""


def _say_people(words: Words) -> None:
    """Draw the names of each role, and what they did last; where nobody signs in, what everybody may do."""
    if who() is None:
        if st.get_option("server.address") != LOOPBACK:
            say_text("sentence", words.say("people.open"))
        return
    state = st.session_state
    st.header(words.say("people.head"), anchor="people")
    say_text("small", words.say("people.note"))
    names = read_people(str((look_up(Store.settings) or {}).get(PEOPLE, "")))
    for role in reversed(Role):
        if "refused_set_people" not in state or f"people_{role}" not in state:
            state[f"people_{role}"] = "\n".join(name for name, of in names.items() if of is role)
        st.text_area(words.say(f"people.{role}"), key=f"people_{role}", on_change=_save_people)
    _say_refused(words, "set_people")
    with unfolding("set_history", words.say("people.history")) as is_open:
        lines = (look_up(lambda there: there.deeds(LINES)) or []) if is_open else None
        if lines == []:
            say_text("small", words.say("people.none"))
        for line in lines or ():
            deed = words.say(f"people.deed.{line.deed}", what=line.what)
            say_text("small", words.say("people.line", when=words.moment(line.at), person=line.person, deed=deed))


def _save_people() -> None:
    typed = {role: str(st.session_state[f"people_{role}"]).splitlines() for role in Role}
    names = {role: [name.strip() for name in lines if name.strip()] for role, lines in typed.items()}

    def keep(there: Store) -> None:
        if who() not in names[Role.OWNER]:
            raise ReadError(words_here().say("people.owner"), "must have your own name, or you are locked out")
        there.save_settings({PEOPLE: people_text(names)})

    _try("set_people", keep)


# its own tables of checks


def _ask_checks(words: Words) -> None:
    """Take tables of questions, readings and causes, which stand beside the shipped ones at the door and at home."""
    state = st.session_state
    st.header(words.say("own_checks.head"), anchor="checks")
    say_text("small", words.say("own_checks.note"))
    label, turn = words.say("own_checks.upload", most=words.number(MOST_MB, 0)), state["set_turn"]
    upload(label, "csv", f"set_checks_{turn}", partial(_take, "set_checks", _keep_checks), MOST_MB, several=True)
    _say_refused(words, "set_checks")
    with unfolding("set_columns", words.say("own_checks.columns")) as is_open:
        columns = {**CAUSE_COLUMNS, **COLUMNS} if is_open else {}
        say_text("small", *(f"{name}: {heads}" for name, heads in columns.items()))
    if (look_up(Store.settings) or {}).get(OWN_TABLES):
        say_text("sentence", words.say("own_checks.used", files=", ".join(_checks_here()) or "0"))
        st.button(words.say("own_checks.drop"), key="set_no_checks", on_click=_drop, args=("set_checks", OWN_TABLES))


def _checks_here() -> dict[str, str]:
    """The files in use, by name; none where what is kept cannot be used, which the page says."""
    found: dict[str, str] = json.loads(st.session_state[OWN_TABLES] or "{}")
    return found


def _keep_checks(there: Store, given: list[UploadedFile]) -> None:
    """Keep tables once every row of them can be used; those of another name stay as they are."""
    known = _checks_here()
    for file in given:
        try:
            known[file.name] = file.getvalue().decode("utf-8-sig")
        except UnicodeDecodeError as error:
            raise ReadError(file.name, "cannot be read as UTF-8 text") from error
    for region in CURRENCIES:
        read_kept(json.dumps(known), region)
    there.save_settings({OWN_TABLES: json.dumps(known)})


def _drop(place: str, setting: str) -> None:
    _try(place, lambda there: there.save_settings({setting: None}))


# how the shop signs


def _ask_shop(words: Words) -> None:
    st.header(words.say("shop_settings.shop"), anchor="shop")
    say_text("small", words.say("shop_settings.shop_note"))
    state, shop = st.session_state, _typed_here()
    for key in TYPED:
        state.setdefault(key, shop[key])
        label = words.say(f"shop_settings.{key.removeprefix('set_')}")
        text_field(label, key, None, live=False, max_chars=LONGEST, on_change=_save_text, args=(key,))
        _say_refused(words, key)


def _typed_here() -> dict[str, str]:
    kept = look_up(Store.settings) or {}
    return {key: str(kept.get(name) or "") for key, name in TYPED.items()}


def _save_text(key: str) -> None:
    text = str(st.session_state[key]).strip()

    def keep(there: Store) -> None:
        if key == "set_valid" and text and not (text.isdecimal() and 1 <= int(text) <= LONGEST_VALID):
            label = words_here().say("shop_settings.valid")
            raise ReadError(label, "must be a whole number from {least} to {most}, got {got}", 1, LONGEST_VALID, text)
        there.save_settings({TYPED[key]: text or None})

    _try(key, keep)


def _ask_logo(words: Words) -> None:
    label, turn = words.say("shop_settings.logo", most=words.number(MOST_MB, 0)), st.session_state["set_turn"]
    upload(label, ["png", "jpg", "jpeg"], f"set_logo_{turn}", partial(_take, "set_logo", _keep_logo), MOST_MB)
    _say_refused(words, "set_logo")
    shop = shop_here()
    if not shop.logo:
        return
    try:
        shown = logo_of(shop.logo)
    except ReadError as error:
        say_error(words, error, "set_logo_kept")
    else:
        st.image(shown, width=LOGO_WIDTH, alt=words.say("paper.logo", name=shop.name))
    st.button(words.say("shop_settings.no_logo"), key="set_no_logo", on_click=_drop, args=("set_logo", "shop_logo"))


def _keep_logo(there: Store, given: UploadedFile) -> None:
    """Keep a logo, once it has proved to be a picture that can be printed."""
    content = given.getvalue()
    logo_of(content)
    there.save_settings({"shop_logo": content})


def ask_paper(words: Words) -> None:
    """Draw the size of paper, which is kept with the settings."""
    st.session_state["set_paper"] = paper_here(words)
    labels = {size: words.say(f"shop_settings.paper.{size.lower()}") for size in SIZES}
    choice(words.say("shop_settings.paper_size"), labels, "set_paper", wrap=None, on_change=_save_paper)


def _save_paper() -> None:
    size = str(st.session_state["set_paper"])
    keeping(lambda there: there.save_settings({"paper": size}))


# what is kept


def _say_store(words: Words) -> None:
    st.header(words.say("shop_settings.kept"), anchor="kept")
    there = store()
    if there is None:
        return
    say_text("sentence", words.say("store.where", where=there.where))
    say_text("small", words.say("shop_settings.kept_note"))
    with st.container(key="set_actions", horizontal=True):
        st.button(words.say("shop_settings.check"), key="set_check", on_click=_check)
        name, made = f"{words.say('shop_settings.export_file')}.zip", as_here(partial(exported, there, words))
        download(words.say("shop_settings.export"), made, name, "application/zip", "set_export", first=False)
    _say_refused(words, "set_check")
    label, turn = words.say("shop_settings.import", most=words.number(LARGEST_MB, 0)), st.session_state["set_turn"]
    upload(label, ["zip", "json"], f"set_import_{turn}", partial(_take, "set_import", _keep_import), LARGEST_MB)
    _say_refused(words, "set_import")
    outcome = st.session_state["set_outcome"]
    if isinstance(outcome, ImportSummary):
        counts = {name: words.number(getattr(outcome, name), 0) for name in ("new", "same", "both")}
        stale = [words.say("pocket.stale")] if outcome.stamp not in (None, stamp()) else []
        say_text("sentence", words.say("store.imported", **counts), *stale)
    elif outcome is not None:
        say_text("sentence", words.say("store.sound", count=words.number(outcome, 0)))


def _check() -> None:
    state = st.session_state
    state["set_outcome"] = None
    _try("set_check", lambda there: state.update({"set_outcome": there.check()}))


class ExportRefusedError(RuntimeError):
    """Why nothing could be written, in the words that the page shows in place of the file."""


def exported(there: Store, words: Words) -> bytes:
    """Everything that is kept, as one file; `ExportRefusedError` where it cannot be read, or no room is left."""
    try:
        with TemporaryDirectory() as folder:
            return there.export_all(Path(folder, "export.zip")).read_bytes()
    except MendpointError as error:
        raise ExportRefusedError(" ".join(words.explain(error))) from error
    except OSError as error:
        raise ExportRefusedError(words.say("shop_settings.no_room", detail=error.strerror or "")) from error


def _keep_import(there: Store, given: UploadedFile) -> None:
    """Take in an export or the visits of a phone whole, or nothing of it."""
    state = st.session_state
    state["set_outcome"] = None
    state["set_outcome"] = taken_in(there, given.name, given.getvalue())
    state.update(_typed_here())
    forget_rates()


def taken_in(there: Store, name: str, content: bytes) -> ImportSummary:
    """Take in what was given; the file is named as its owner knows it.

    `ReadError`: it is no export, is damaged, or cannot be written down to be read.
    """
    try:
        with TemporaryDirectory() as folder:
            path = Path(folder, "import.json" if name.lower().endswith(".json") else "import.zip")
            path.write_bytes(content)
            return take_in(there, path)
    except ReadError as error:
        raise ReadError(name, error.message) from error
    except OSError as error:
        raise ReadError(name, error.strerror or "cannot be read") from error


# books, ways to read them and own figures, each to be deleted for good


def _say_deleting(words: Words) -> None:
    """List what is kept beside visits, each with the way to delete it."""
    with unfolding("set_books", words.say("shop_settings.books")) as is_open:
        found = (
            look_up(lambda there: (there, [*_things(words, there)], there.damaged(beside_visits=True)))
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
            say_kept(words, label, "set_line", "set_", key, partial(_delete_thing, thing))


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


def _delete_thing(thing: Thing) -> None:
    held = held_here() if thing.noun == "book" else None
    if keeping(lambda there: there.delete(thing)) and held is not None and held.id == thing.key:
        st.session_state["shop_held"] = None
    st.session_state["set_deleting"] = None
