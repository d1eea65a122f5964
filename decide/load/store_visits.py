"""Visits in the store: saved so that none is lost, found, and deleted. Each function works in a transaction at hand."""

import dataclasses
import datetime
import hashlib
import json
import secrets
import unicodedata
from collections.abc import Mapping
from typing import Any

from sqlalchemy import Connection, RowMapping, delete, insert, select, update

from .store_records import NotKept, StaleVisit, Visit, VisitLine, kept_bytes, kept_id, kept_name, kept_text
from .store_schema import FILES, VISITS

LINE = (VISITS.c.id, VISITS.c.title, VISITS.c.version, VISITS.c.created, VISITS.c.changed, VISITS.c.copy_of)


def new_id() -> str:
    """An id that nobody guesses: 128 bits of chance."""
    return secrets.token_urlsafe(16)


def digest_of(content: bytes) -> str:
    """SHA-256 of some bytes."""
    return hashlib.sha256(content).hexdigest()


def folded(text: str) -> str:
    """A text as a search compares it: capitals and forms of the same sign count alike.

    >>> folded("ÖSTERLE") == folded("österle")
    True
    """
    return unicodedata.normalize("NFKC", text).casefold()


def page_as_text(page: Mapping[str, Any]) -> str:
    """Fields of a page as they are kept: JSON, the same fields always the same text."""
    return json.dumps(page, sort_keys=True)


def save(connection: Connection, visit: Visit) -> Visit:
    """Save a visit that goes on from its `version`; 0 is a visit never saved before.

    What is there word for word is not saved again, so a save may be repeated. Where the visit has changed since that
    version, what is there stays and what comes is kept beside it as a copy, once: the visit that is handed back then
    has an id of its own, and says of which it is a copy.
    """
    locked = select(VISITS).where(VISITS.c.id == visit.id).with_for_update()
    there = connection.execute(locked).mappings().one_or_none()
    if there is None:
        if visit.version:
            raise NotKept("visit", visit.id)
        return add(connection, visit)
    if _is_the_same(connection, there, visit):
        return dataclasses.replace(visit, **_line(there))
    if there["version"] != visit.version:
        return keep_beside(connection, visit)
    connection.execute(update(VISITS).where(VISITS.c.id == visit.id).values(**_values(visit)))
    _put_files(connection, visit)
    told = {"created": there["created"], "copy_of": there["copy_of"]}
    return dataclasses.replace(visit, version=visit.version + 1, **told)


def add(connection: Connection, visit: Visit) -> Visit:
    """Add a visit that is not there yet, under its own id."""
    first = {"id": visit.id, "created": visit.created, "copy_of": visit.copy_of}
    connection.execute(insert(VISITS).values(**first, **_values(visit)))
    _put_files(connection, visit)
    return dataclasses.replace(visit, version=visit.version + 1)


def keep_beside(connection: Connection, visit: Visit) -> Visit:
    """Keep what differs from a visit that is there as a copy with an id of its own; the same only once."""
    copies = select(VISITS).where(VISITS.c.copy_of == visit.id).order_by(VISITS.c.created)
    for there in connection.execute(copies).mappings():
        if _is_the_same(connection, there, visit):
            return dataclasses.replace(visit, **_line(there))
    return add(connection, dataclasses.replace(visit, id=new_id(), version=0, copy_of=visit.id))


def copies_of(connection: Connection, visit: str) -> set[str]:
    """Ids of the copies that were kept beside a visit."""
    return set(connection.scalars(select(VISITS.c.id).where(VISITS.c.copy_of == visit)))


def is_there(connection: Connection, visit: Visit) -> bool | None:
    """Whether a visit is there word for word; None where there is none by its id."""
    there = connection.execute(select(VISITS).where(VISITS.c.id == visit.id)).mappings().one_or_none()
    return None if there is None else _is_the_same(connection, there, visit)


def checked(visit: Visit) -> Visit:
    """Hand a visit back that can be kept; `CaseError` for any other."""
    kept_id("visit", visit.id)
    kept_text("title", visit.title, 500)
    kept_text("visit.entries", visit.text)
    for name, content in visit.files.items():
        kept_bytes("visit.files", content)
        kept_name("visit.files", name)
    return visit


def read(connection: Connection, visit: str) -> Visit:
    """Read a visit with all that belongs to it."""
    there = connection.execute(select(VISITS).where(VISITS.c.id == visit)).mappings().one_or_none()
    if there is None:
        raise NotKept("visit", visit)
    files = connection.execute(select(FILES.c.name, FILES.c.content).where(FILES.c.visit == visit).order_by("name"))
    return Visit(
        **_line(there),
        text=there["entries"],
        page=json.loads(there["page"]),
        files={name: bytes(content) for name, content in files},
    )


def listed(connection: Connection, search: str = "", most: int | None = None) -> list[VisitLine]:
    """List the visits whose title has every word that is sought, the last one changed first."""
    wanted = select(*LINE).order_by(VISITS.c.changed.desc(), VISITS.c.id).limit(most)
    for word in folded(kept_text("search", search, 500)).split():
        wanted = wanted.where(VISITS.c.sought.contains(word, autoescape=True))
    return [VisitLine(**row) for row in connection.execute(wanted).mappings()]


def remove(connection: Connection, visit: str) -> None:
    """Delete a visit and its files, and its id wherever a copy names it."""
    if not connection.execute(delete(VISITS).where(VISITS.c.id == visit)).rowcount:
        raise NotKept("visit", visit)
    connection.execute(update(VISITS).where(VISITS.c.copy_of == visit).values(copy_of=""))


def refuse_stale(asked: str, saved: Visit) -> Visit:
    """Hand a saved visit back; `StaleVisit` where it had to be kept as a copy."""
    if saved.id != asked:
        raise StaleVisit(saved)
    return saved


def _line(there: RowMapping) -> dict[str, Any]:
    return {column.name: there[column.name] for column in LINE}


def _values(visit: Visit) -> dict[str, str | int | datetime.datetime]:
    return {
        "title": visit.title,
        "sought": folded(visit.title),
        "entries": visit.text,
        "page": page_as_text(visit.page),
        "version": visit.version + 1,
        "changed": visit.changed,
    }


def _is_the_same(connection: Connection, there: RowMapping, visit: Visit) -> bool:
    told = (visit.title, visit.text, page_as_text(visit.page))
    if (there["title"], there["entries"], there["page"]) != told:
        return False
    return _digests(connection, there["id"]) == {name: digest_of(content) for name, content in visit.files.items()}


def _digests(connection: Connection, visit: str) -> dict[str, str]:
    rows = connection.execute(select(FILES.c.name, FILES.c.digest).where(FILES.c.visit == visit))
    return {name: digest for name, digest in rows}


def _put_files(connection: Connection, visit: Visit) -> None:
    """Let the files of a visit be these, writing only those that differ: a log may be large, and saves are many."""
    there = _digests(connection, visit.id)
    wanted = {name: digest_of(content) for name, content in visit.files.items()}
    changed = [name for name in wanted if there.get(name) != wanted[name]]
    gone = [*changed, *(name for name in there if name not in wanted)]
    for name in gone:
        connection.execute(delete(FILES).where(FILES.c.visit == visit.id, FILES.c.name == name))
    for name in changed:
        row = {"visit": visit.id, "name": name, "digest": wanted[name], "content": visit.files[name]}
        connection.execute(insert(FILES).values(**row))
