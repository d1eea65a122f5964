"""What the store keeps, as nouns, and what can be wrong with asking for it. Nothing here knows a database."""

import datetime
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from ..errors import CaseError
from .case_file import Entries, parse_case

LARGEST: Final = 500_000_000
"""A file or job book beyond this is not kept. [byte]"""

LONGEST_NAME: Final = 500
"""Of a title, or of the name of a file, book, mapping, set of figures or setting. [character]"""

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


@dataclass(frozen=True, kw_only=True)
class Visit(VisitLine):
    """A case at the door or at home, with all that belongs to it."""

    text: str
    """Its entries as a case file, TOML."""
    page: Mapping[str, Any]
    """Fields of the page, as they were typed."""
    files: Mapping[str, bytes]
    """Files that the entries name: a meter's log, a tariff, interval data."""

    @property
    def entries(self) -> Entries:
        """The entries, to be completed and weighed."""
        return parse_case(self.text.encode(), self.title or self.id)


@dataclass(frozen=True, kw_only=True)
class Book:
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
class Arrived:
    """What an import brought, counted in things: visits, books, mappings, sets of figures and settings."""

    new: int = 0
    same: int = 0
    """Were there already, word for word."""
    both: int = 0
    """Were there otherwise; both are kept."""


class StaleVisit(CaseError):
    """A visit was changed elsewhere since it was read; what was to be saved is kept beside it, as a copy."""

    def __init__(self, kept: Visit) -> None:
        super().__init__("visit", f"was changed elsewhere since it was opened; both are kept, this one as {kept.id}")
        self.kept = kept
        """The copy; further saves go on from there."""


class NotKept(CaseError):
    """The store holds no such thing; it never did, or it was deleted."""

    def __init__(self, noun: str, name: str) -> None:
        super().__init__(noun, f"the store holds none by {name!r}")
        self.noun, self.name = noun, name


def kept_text(field: str, text: str, longest: int | None = None) -> str:
    """Hand a text back that every database can hold; `CaseError` for any other.

    >>> kept_text("title", "Frau Österle")
    'Frau Österle'
    """
    if "\0" in text or any("\ud800" <= sign <= "\udfff" for sign in text):
        raise CaseError(field, "holds a sign that is no text")
    if longest is not None and len(text) > longest:
        raise CaseError(field, f"must have at most {longest} characters, got {len(text)}")
    return text


def kept_name(field: str, text: str) -> str:
    """Hand a name back that can be kept: some text, and not too much of it."""
    if not text.strip():
        raise CaseError(field, "is empty")
    return kept_text(field, text, LONGEST_NAME)


def kept_bytes(field: str, content: bytes) -> bytes:
    """Hand the bytes of a file back, unless they are too many."""
    if len(content) > LARGEST:
        raise CaseError(field, f"must have at most {LARGEST:,} bytes, got {len(content):,}")
    return content


def kept_toml(field: str, text: str) -> str:
    """Hand a TOML text back; `ReadError` where it is none."""
    parse_case(kept_text(field, text).encode(), field)
    return text


def kept_id(noun: str, name: str) -> str:
    """Hand an id back that has the form of one."""
    if not LINK.fullmatch(name):
        raise NotKept(noun, name)
    return name
