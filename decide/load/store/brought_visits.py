"""Visits that a pocket page kept, taken into the store: a JSON file that nobody is trusted to have written well."""

import datetime
from pathlib import Path
from typing import Any, Final

from ...errors import CaseError, Message, ReadError
from ..cases.case_file import complete, write_case
from ..files.json_text import json_of
from ..files.plain_file import content_of
from .records import UNSOUND, ImportSummary, NotFound, Visit, kept_visit
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
    new = same = 0
    for visit in [_sound(each, path.name) for each in found["visits"]]:
        try:
            same += 1 if store.visit(visit.id).version else 0
        except NotFound:
            store.save_visit(visit.id, visit.entries, page=visit.page)
            new += 1
    return ImportSummary(new=new, same=same, stamp=str(found.get("stamp", "")))


def _sound(found: Any, name: str) -> Visit:
    """A visit that can be kept and weighed. A pocket page names no files, so none is opened."""
    try:
        entries, now = dict(found["entries"]), datetime.datetime.now(datetime.UTC)
        tables = (each for part in entries.values() for each in (part if isinstance(part, list) else [part]))
        if any(isinstance(value, dict | list) for each in tables if isinstance(each, dict) for value in each.values()):
            raise CaseError("entries", "must be plain numbers and words")
        entries["appliance"] = {name: each for name, each in entries["appliance"].items() if each is not None}
        complete(entries | {"appliance": {"age": 0.0} | entries["appliance"]})  # of a danger no age is asked
        kept: dict[str, Any] = {"version": 0, "created": now, "changed": now, "copy_of": "", "files": {}}
        title, page, text = entries.get("title", ""), dict(found.get("page") or {}), write_case(entries)
        return kept_visit(Visit(id=found["id"], title=title, page=page, text=text, **kept))
    except UNSOUND as error:
        raise ReadError(name, "holds a visit that cannot be used: {error}", str(error)) from error
