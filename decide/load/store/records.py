"""What the store keeps, as nouns, and what can be wrong with asking for it. Nothing here knows a database."""

import dataclasses
import datetime
import functools
import json
import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from ...economics.case import Option
from ...errors import CaseError, MendpointError, StoreError
from ..cases.case_file import Entries, parse_case
from ..cases.reading import numbers_of
from ..cases.renamed import name_of_today
from ..files.file_names import plain_name, plain_names
from ..tables.tables import tables

LARGEST: Final = 500_000_000
"""A file or job book beyond this is not kept. [byte]"""

LONGEST_NAME: Final = 500
"""Of a title, or of the name of a file, book, mapping, set of figures or setting. [character]"""

LARGEST_TEXT: Final = 4_000_000
"""Of the entries of a visit, its page, a mapping, a set of figures or a setting. [character]"""

MOST: Final = 2**31 - 1
"""Of rows and of saves, as every database can count them."""

EARLIEST, LATEST = datetime.date(1970, 1, 1), datetime.date(2199, 12, 31)
"""Days on which something can have been kept."""

UNSOUND: Final = (MendpointError, ValueError, TypeError, LookupError, AttributeError, RecursionError)
"""What comes of reading a thing that is not as it was saved."""

DETAILS: Final = ("customer", "address", "job_number", "model", "serial", "technician", "follow_up")
"""Whose a visit is, and what is to be done: kept on this machine, and in no export but the back-up. Each is a text; the
day of a follow-up is written 2026-11-30."""

LONGEST_DETAIL: Final = 200
"""[character]"""

LINK: Final = re.compile(r"[A-Za-z0-9_-]{16,64}")
"""How the id of a visit, a book or a set of figures looks; long enough that nobody guesses one."""


@dataclass(frozen=True, kw_only=True)
class VisitLine:
    """A visit as a list shows it."""

    id: str
    title: str
    version: int
    """Counts the saves; a save names the one that it goes on from."""
    created: datetime.datetime
    changed: datetime.datetime
    copy_of: str
    """Id of the visit that this one was kept beside, as both had changed; '' for most."""
    person: str = ""
    """Who made it, where people sign in."""
    details: Mapping[str, str] = dataclasses.field(default_factory=dict)
    """Whose it is, by `DETAILS`; what is not known is left out."""


@dataclass(frozen=True, kw_only=True)
class Visit(VisitLine):
    """A case at the door or at home, with all that belongs to it."""

    text: str
    """Its entries as a case file, TOML."""
    page: Mapping[str, Any]
    """Fields of the page, as they were typed: text or None; but `remaining_life_factor` a share, `kept` the text of a
    case that was opened, and `files` the names of files by their fields."""
    files: Mapping[str, bytes]
    """Files that the entries name: a meter's log, a tariff, interval data."""

    @property
    def entries(self) -> Entries:
        """The entries, to be completed and weighed."""
        return parse_case(self.text.encode(), self.title or self.id)


@dataclass(frozen=True, kw_only=True)
class StoredBook:
    """A job book as it came, but for its bytes."""

    id: str
    name: str
    """Of the file."""
    mapping: str
    """Which column means what, TOML."""
    rows: int
    size: int
    """[byte]"""
    imported: datetime.datetime


@dataclass(frozen=True, kw_only=True)
class LocalFigures:
    """A set of the shop's own figures, and whether they stand in for the shipped ones."""

    id: str
    name: str
    text: str
    """Rows, CSV."""
    dated: datetime.date
    used: bool
    kept: datetime.datetime


@dataclass(frozen=True, kw_only=True)
class ImportSummary:
    """What an import brought, counted in things: visits, books, mappings, sets of figures and settings."""

    new: int = 0
    same: int = 0
    """Were there already, word for word."""
    both: int = 0
    """Were there otherwise; both are kept."""
    stamp: str | None = None
    """What the pocket page was made of that they come from; None where they come from none."""


@dataclass(frozen=True)
class Thing:
    """Something in the store, to be listed or deleted."""

    noun: str
    """`visit`, `book`, `mapping`, `figures` or `setting`."""
    key: Any
    """What the store has it by: text, unless it is damaged."""
    title: str = ""
    """What people call it, where its key does not say that."""

    @property
    def name(self) -> str:
        """Its key, without signs that a terminal could trip over."""
        return shown(self.key.decode(errors="replace") if isinstance(self.key, bytes) else self.key)

    @property
    def label(self) -> str:
        """What people call it, in signs that can be printed."""
        return shown(self.title) or self.name


class NotAllowed(MendpointError):
    """Whoever asks may not do this."""


class Damaged(StoreError):
    """Things in the store that are not as they were saved; they are set aside, and all else works."""

    def __init__(self, where: str, things: tuple[Thing, ...]) -> None:
        super().__init__(where, "damaged", "; ".join(f"{thing.noun} {thing.name}" for thing in things))
        self.things = things


class EditConflict(CaseError):
    """A visit was changed elsewhere since it was read; what was to be saved is kept beside it, as a copy."""

    def __init__(self, kept: Visit) -> None:
        super().__init__("visit", "was changed elsewhere since it was opened; both are kept, this one as {id}", kept.id)
        self.kept = kept
        """The copy; further saves go on from there."""


class NotFound(CaseError):
    """The store holds no such thing; it never did, or it was deleted."""

    def __init__(self, noun: str, name: str) -> None:
        super().__init__(noun, "the store holds none by {name!r}", name)
        self.noun, self.name = noun, name


def shown(found: object, most: int = LONGEST_NAME) -> str:
    """What came from outside, in signs that a terminal cannot trip over."""
    return "".join(sign if sign.isprintable() else "?" for sign in str(found)[:most])


def storable_text(field: str, text: Any, longest: int | None = None) -> str:
    """Hand a text back that every database can hold; `CaseError` for any other."""
    if not isinstance(text, str):
        raise CaseError(field, "must be text, got {got!r}", shown(text, 60))
    if "\0" in text or any("\ud800" <= sign <= "\udfff" for sign in text):
        raise CaseError(field, "holds a sign that is no text")
    if longest is not None and len(text) > longest:
        raise CaseError(field, "must have at most {longest} characters, got {got}", longest, len(text))
    return text


def storable_name(field: str, text: Any) -> str:
    """Hand a name back that can be kept: some text, and not too much of it."""
    if not storable_text(field, text, LONGEST_NAME).strip():
        raise CaseError(field, "is empty")
    return str(text)


def storable_bytes(field: str, content: bytes) -> bytes:
    """Hand the bytes of a file back, unless they are too many."""
    if len(content) > LARGEST:
        raise CaseError(field, "must have at most {largest:,} bytes, got {got:,}", LARGEST, len(content))
    return content


def storable_toml(field: str, text: Any) -> str:
    """Hand a TOML text back; `ReadError` where it is none."""
    parse_case(storable_text(field, text, LARGEST_TEXT).encode(), field)
    return text


@functools.lru_cache(maxsize=256)
def kept_mapping(text: str) -> str:
    """Hand a mapping back that a job book can be read by; `ReadError` where it is none."""
    from ..jobs.columns import parse_mapping

    parse_mapping(storable_text("mapping", text, LARGEST_TEXT), "mapping")
    return text


def kept_figures(field: str, text: str) -> str:
    """Hand a set of own figures back; `ReadError` where a row of it is no figure."""
    from ..jobs.own_figures import parsed

    parsed(storable_text(field, text, LARGEST_TEXT), field)
    return text


def storable_id(noun: str, name: object) -> str:
    """Hand an id back that has the form of one."""
    if not isinstance(name, str) or not LINK.fullmatch(name):
        raise NotFound(noun, str(name))
    return name


def kept_day(field: str, day: object) -> datetime.date:
    """Hand a day back, or an instant, on which something can have been kept."""
    on = day.date() if isinstance(day, datetime.datetime) else day
    if not isinstance(on, datetime.date) or not EARLIEST <= on <= LATEST:
        wanted = "must be a day from {first} to {last}, got {got}"
        raise CaseError(field, wanted, EARLIEST.year, LATEST.year, shown(day, 60))
    return on


def kept_moment(field: str, moment: object) -> datetime.datetime:
    """Hand an instant back, of which no one needs to guess the zone."""
    if not isinstance(moment, datetime.datetime) or moment.tzinfo is None:
        raise CaseError(field, "must be a time with its zone, got {got}", shown(moment, 60))
    kept_day(field, moment)
    return moment


def kept_count(field: str, found: object, least: int = 0) -> int:
    """Hand a whole number back, as every database can count it."""
    if not isinstance(found, int) or isinstance(found, bool) or not least <= found <= MOST:
        wanted = "must be a whole number from {least} to {most}, got {got}"
        raise CaseError(field, wanted, least, MOST, shown(found, 60))
    return found


# visits


def kept_line(line: VisitLine) -> None:
    """Refuse a visit that no list could show."""
    storable_id("visit", line.id)
    storable_text("title", line.title, LONGEST_NAME)
    storable_text("person", line.person, LONGEST_NAME)
    kept_count("version", line.version)
    kept_moment("created", line.created)
    kept_moment("changed", line.changed)
    if storable_text("copy_of", line.copy_of) and storable_id("copy_of", line.copy_of) == line.id:
        raise CaseError("copy_of", "names the visit itself")
    if not isinstance(line.details, dict):
        raise CaseError("details", "must be a table")
    for name, detail in line.details.items():
        if name not in DETAILS or not storable_text(f"details.{name}", detail, LONGEST_DETAIL).strip():
            raise CaseError("details", "holds what belongs to no visit: {name}", shown(name, 60))
    if "follow_up" in line.details:
        try:
            kept_day("details.follow_up", datetime.date.fromisoformat(line.details["follow_up"]))
        except ValueError:
            kept_day("details.follow_up", line.details["follow_up"])


def kept_visit(visit: Visit) -> Visit:
    """Hand a visit back, by the names of today, that can be kept and opened on every system; else `CaseError`."""
    kept_line(visit)
    visit = dataclasses.replace(visit, page=page_of_today(visit.page))
    storable_toml("visit.entries", visit.text)
    for content in visit.files.values():
        storable_bytes("visit.files", content)
    plain_names("visit.files", visit.files)
    for error in page_faults(visit.page).values():
        raise error
    storable_text("page", page_as_text(visit.page), LARGEST_TEXT)
    return visit


def page_of_today(page: Mapping[str, Any]) -> dict[str, Any]:
    """Fields of a page by the names that they have today."""
    return {name_of_today(name) if isinstance(name, str) else name: value for name, value in page.items()}


def page_as_text(page: Mapping[str, Any]) -> str:
    """Fields of a page as they are kept: JSON, the same fields always the same text."""
    return json.dumps(page, sort_keys=True)


def page_faults(page: Mapping[str, Any]) -> dict[str, MendpointError]:
    """What no page could be filled with, by its field."""
    errors: dict[str, MendpointError] = {}
    for name, value in page.items():
        try:
            _page_field(f"page.{shown(storable_text('page', name, LONGEST_NAME), 60)}", name, value)
        except MendpointError as error:
            errors[name] = error
    return errors


def _page_field(field: str, name: str, value: object) -> None:
    match name:
        case "remaining_life_factor":
            share = value if isinstance(value, int | float) and not isinstance(value, bool) else math.nan
            if not numbers_of(Option)["remaining_life_factor"].admits(share):
                raise CaseError(field, "must be a share, got {got!r}", shown(value, 60))
        case "files":
            if not isinstance(value, dict):
                raise CaseError(field, "must name files by their fields")
            for key, file in value.items():
                storable_text(field, key, LONGEST_NAME)
                plain_name(field, file)
        case "kept":
            storable_toml(field, value)
        case "place":
            if storable_text(field, value) not in tables().known_places:
                raise CaseError(field, "must be a place of the tables, got {got!r}", shown(value, 60))
        case _:
            if value is not None:
                storable_text(field, value)
