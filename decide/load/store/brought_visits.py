"""Visits that a pocket page kept, taken into the store: a JSON file that nobody is trusted to have written well."""

from pathlib import Path
from typing import Any, Final

from ...errors import CaseError, EntryErrors, Message, ReadError
from ..cases.case_file import complete
from ..files.json_text import json_of
from ..files.plain_file import content_of
from .records import ImportSummary, NotFound
from .store import Store

FORMAT: Final = "mendpoint visits"
LAYOUT: Final = 1
LARGEST: Final = 20_000_000
"""[byte]"""


def take_in(store: Store, path: Path, most: int | None = None) -> ImportSummary:
    """Take in what a file holds by its ending: visits of a pocket page, or else an export of at most so many bytes."""
    return take_visits(store, path) if path.suffix.lower() == ".json" else store.import_all(path, most)


def take_visits(store: Store, path: Path) -> ImportSummary:
    """Keep the visits of a file, all or, where one cannot be used, none; one that is there word for word stays.

    `ReadError`: the file is no such file, or one of its visits cannot be kept; `StoreError`: they could not be written.
    """
    too_large = Message("is larger than {most:,} bytes; a visit is a page of text", LARGEST)
    found = json_of(content_of(path, LARGEST, too_large), path.name)
    known = isinstance(found, dict) and (found.get("format"), found.get("layout")) == (FORMAT, LAYOUT)
    if not known or not isinstance(found.get("visits"), list):
        raise ReadError(path.name, "holds no visits of a pocket page")
    asked = [_sound(visit, path.name) for visit in found["visits"]]
    new = same = 0
    for visit, entries, page in asked:
        try:
            same += bool(store.visit(visit).version)
        except NotFound:
            store.save_visit(visit, entries, page=page)
            new += 1
    return ImportSummary(new=new, same=same, both=0)


def _sound(visit: Any, name: str) -> tuple[str, dict[str, Any], dict[str, Any]]:
    """The id, entries and page of a visit that can be weighed. A pocket page names no files, so none is opened."""
    try:
        entries, page = dict(visit["entries"]), dict(visit.get("page") or {})
        tables = (each for part in entries.values() for each in (part if isinstance(part, list) else [part]))
        if any(isinstance(value, dict | list) for each in tables if isinstance(each, dict) for value in each.values()):
            raise CaseError("entries", "must be plain numbers and words")
        there = {name: each for name, each in entries["appliance"].items() if each is not None}
        complete(entries | {"appliance": {"age": 0.0} | there})  # of a danger no age is asked
        return str(visit["id"]), entries | {"appliance": there}, page
    except (TypeError, KeyError, ValueError, AttributeError, EntryErrors, CaseError) as error:
        raise ReadError(name, "holds a visit that cannot be used: {error}", str(error)) from error
