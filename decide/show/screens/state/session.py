"""What a page keeps while it is open: the fields under plain names, an opened case, files, and the last customer.

The address of the page carries what is typed, and the store keeps it, so that a reload finds it again.
"""

import os
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, Final

import streamlit as st
from streamlit.runtime.scriptrunner import get_script_run_ctx

from ....errors import MendpointError
from ....load.cases.case_file import Entries, complete, parse_case, read_case, set_entry
from ....load.cases.reading import CaseReader
from ....load.files.file_names import made_plain, plain_names
from ....load.tables.tables import Tables, tables
from ...text.phrases import current_language, languages
from ...text.words import Words
from ..ask import SOUND
from .address import LANGUAGE, OPENED, VISIT, address_of, fields_at
from .entry import entry_at, fields_of
from .input_methods import FILED
from .symptom_state import SYMPTOM_FIELDS
from .visits import AS_IT_CAME, EMPTY, WHOSE, fill, reopened

FIRST_CASE: Final = "MENDPOINT_CASE"
"""Variable of the environment with the path of a case file that fills a new page."""

OF_A_VISIT: Final[dict[str, Any]] = {"visit": "", "own": {}, "saved": None, "photos": {}, "photo_errors": {}}
"""Id of the visit in the store; of each kind of appliance that was on the page the id and the version that the next
save goes on from; what was saved last; photos by what they show (`PHOTOS`), and what is wrong with others."""

NOTHING_YET: Final = ("last", "given", "refused", "not_kept", "answered", "section", "scenario_error")
"""What a new page has none of."""

OF_A_CUSTOMER: Final = (*EMPTY, "kept", "files", "lost", *OF_A_VISIT)


def fields() -> dict[str, Any]:
    """What stands in the fields of the page, and what is kept beside them."""
    return st.session_state.to_dict()


def begin(reference: Tables) -> None:
    """Fill a new session from its address, from the case that the program was started with, or not at all."""
    state = st.session_state
    if "kept" not in state:
        # the country and the language that the browser is set to, where they are known
        browser, known = (st.context.locale or "").replace("_", "-"), list(reference.known_places)
        language, country = browser.partition("-")[0].lower(), browser.rpartition("-")[2].upper()
        usual = {**EMPTY, "place": country if country in known else known[0]}
        state.update({**usual, "usual_place": usual["place"], "kept": {}, "files": {}, "lost": False})
        state.update({**OF_A_VISIT, **dict.fromkeys(NOTHING_YET), "uploads": 0})
        state["usual_language"] = language if language in languages() else current_language()
        address = st.query_params.to_dict()
        state["language"] = address.get(LANGUAGE, "")
        if state["language"] not in languages():
            state["language"] = state["usual_language"]
        visit = reopened(address[VISIT]) if address.get(VISIT) else None
        if visit is not None:
            fill(visit)
            return
        if os.environ.get(FIRST_CASE) and (not address or OPENED in address):
            first = Path(os.environ[FIRST_CASE])
            _load(lambda old: read_case(first, old), first.resolve().parent)
        if address:
            _follow(address, reference)
            state["saved"] = AS_IT_CAME


def follow_history(reference: Tables) -> None:
    """Fill the fields from the address again where the browser's own way back was taken."""
    if not getattr(get_script_run_ctx(), "is_history_navigation", False):
        return
    address, state = st.query_params.to_dict(), st.session_state
    asked = address.get(VISIT, "")
    if asked != state["visit"]:  # of another customer
        visit = reopened(asked) if asked else None
        state.update(OF_A_VISIT)
        if visit is not None:
            fill(visit)
            return
        state["saved"] = AS_IT_CAME
    _follow(address, reference)


def _follow(address: Mapping[str, str], reference: Tables) -> None:
    """Fill the fields from an address. A file that was open then has to be given again, unless it still is."""
    state = st.session_state
    found = fields_at(address, _usual())
    if found["place"] not in reference.known_places:
        found["place"] = state["usual_place"]
    if OPENED not in address:
        state.update({"kept": {}, "files": {}})
    lost = OPENED in address and not (state["kept"] or state["files"])
    state.update({**found, "lost": lost})


def write_address() -> None:
    """Let the address of the page say what stands in its fields."""
    wanted = address_of(fields(), {**_usual(), LANGUAGE: st.session_state["usual_language"]})
    if st.query_params.to_dict() != wanted:
        st.query_params.from_dict(wanted)


def _usual() -> dict[str, Any]:
    return {**EMPTY, "place": st.session_state["usual_place"]}


# cases


def open_upload(key: str) -> None:
    """Open the case file that was just given."""
    uploaded = st.session_state[key]
    if uploaded is not None:
        _load(lambda old: parse_case(uploaded.getvalue(), uploaded.name, old), None)


def _load(read: Callable[[dict[str, str]], Entries], folder: Path | None) -> None:
    """Fill the page from a case; one that cannot be used changes nothing but says why."""
    state, old = st.session_state, dict[str, str]()
    try:
        entries = read(old)
        files = _files_beside(entries, folder)
        for key, (name, _) in files.items():
            entries = set_entry(entries, FILED[key], name)
        with folder_of(files) as held:
            complete(_without_files(entries, files), folder=held)
    except MendpointError as error:
        state["refused"] = error
        return
    found = fields_of(entries)
    filled = {"remaining_life_factor": found["remaining_life_factor"] or SOUND, "fault": found["fault"] or "other"}
    place = tables().place(str(found["place"])).place if found["place"] else Words.for_entries(entries).region
    state.update({**EMPTY, **found, **filled, "place": place, "group": None, **OF_A_VISIT, "refused": None})
    state.update({"kept": entries, "old_names": old, "files": files, "lost": False, "uploads": state["uploads"] + 1})


def _without_files(entries: Entries, files: Mapping[str, Any]) -> Entries:
    """The entries without the tables whose file is still to be given: the page asks for it."""
    for key, path in FILED.items():
        if entry_at(entries, path) is not None and key not in files:
            table, _, _ = path.rpartition(".")
            head, _, name = table.rpartition(".")
            entries = set_entry(entries, head, {n: v for n, v in entry_at(entries, head).items() if n != name})
    return entries


def _files_beside(entries: Entries, folder: Path | None) -> dict[str, tuple[str, bytes]]:
    """The files that a case names, where it was read from a folder."""
    reader = CaseReader(tables(), folder)
    found: dict[str, tuple[str, bytes]] = {}
    for key, path in FILED.items():
        name = entry_at(entries, path)
        file = reader.file(path, name) if name is not None and folder is not None else None
        if file is not None and file.is_file():
            found[key] = _held(str(name), file.read_bytes(), found)
    return found


# files


def _held(name: str, content: bytes, others: Mapping[str, tuple[str, bytes]]) -> tuple[str, bytes]:
    """A file under a plain name that no other one has; the same file has one name."""
    same = next((held for held in others.values() if held == (made_plain(name), content)), None)
    return same or (made_plain(name, [held[0] for held in others.values()]), content)


def hold_file(key: str, widget: str) -> None:
    """Keep the file that was just given, or let go of the one that was taken away."""
    uploaded = st.session_state[widget]
    files = {name: held for name, held in st.session_state["files"].items() if name != key}
    if uploaded is not None:
        files[key] = _held(uploaded.name, uploaded.getvalue(), files)
    st.session_state["files"] = files


@contextmanager
def folder_of(files: Mapping[str, tuple[str, bytes]]) -> Iterator[Path | None]:
    """A folder with the files for as long as they are read; `CaseError` for a name that leads out of it."""
    if not files:
        yield None
        return
    plain_names("files", dict(files.values()))
    with TemporaryDirectory() as folder:
        for name, content in dict(files.values()).items():
            with Path(folder, name).open("xb") as file:
                file.write(content)
        yield Path(folder)


# customers


def is_empty() -> bool:
    """Whether nothing was entered yet."""
    here = {**fields(), "place": st.session_state["usual_place"], "step": SYMPTOM_FIELDS["step"]}
    return not address_of(here, _usual())


def next_customer() -> None:
    """Clear the page for the next customer, and keep this one."""
    state = st.session_state
    state["last"] = {key: state[key] for key in (*OF_A_CUSTOMER, "place")}
    stay = {key: state[key] for key in ("place", WHOSE["technician"])}
    state.update({**EMPTY, **stay, "kept": {}, "files": {}, "lost": False, "refused": None})
    state.update({**OF_A_VISIT, "uploads": state["uploads"] + 1})


def bring_back() -> None:
    """Change places with the last customer, so that neither is lost."""
    state = st.session_state
    here = None if is_empty() else {key: state[key] for key in (*OF_A_CUSTOMER, "place")}
    state.update(state["last"])
    state["last"] = here
    state["uploads"] += 1
