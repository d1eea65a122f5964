"""Visits in the store: saved so that none is lost, found, and deleted. Each function works in a transaction at hand."""

import contextlib
import dataclasses
import json
import secrets
import unicodedata
from typing import Any

from sqlalchemy import Connection, RowMapping, Select, delete, insert, select, update

from ...errors import CaseError
from ..files.file_names import made_plain, plain_name
from . import records
from .records import UNSOUND, NotAllowed, NotFound, Thing, Visit, VisitLine
from .schema import FILES, VISITS
from .seals import AsKept, BrokenSealError, digest_of, sealed, sorted_out, telling_damage, unbroken, whole

LINE = [VISITS.c[name] for name in ("id", "title", "version", "created", "changed", "copy_of", "person", "details")]


def new_id() -> str:
    """An id for a new visit, made before its first save so that the save can be repeated.

    Nobody guesses it: 128 bits of chance, less the few that a command would take for an option.
    """
    while (drawn := secrets.token_urlsafe(16))[0] in "-_":
        pass
    return drawn


def folded(text: str) -> str:
    """A text as a search compares it: capitals and forms of the same sign count alike."""
    return unicodedata.normalize("NFKC", text).casefold()


def sought_in(line: VisitLine) -> str:
    """What a visit is found by, as a search compares it: its title, and whose it is."""
    return folded(" ".join((line.title, *(line.details[name] for name in sorted(line.details)))))


def save(connection: Connection, visit: Visit, only: str | None = None) -> Visit:
    """Save a visit that goes on from its `version`; 0 is a visit never saved before.

    What is there word for word is not saved again, so a save may be repeated. Where the visit has changed since that
    version, what is there stays and what comes is kept beside it as a copy, once: the visit that is handed back then
    has an id of its own, and says of which it is a copy.
    """
    locked = select(VISITS).where(VISITS.c.id == visit.id).with_for_update()
    there = connection.execute(locked).mappings().one_or_none()
    if there is None:
        if visit.version:
            raise NotFound("visit", visit.id)
        return add(connection, visit)
    _refuse_others(there, only)
    if _is_the_same(connection, there, visit):
        return dataclasses.replace(visit, **_line(there))
    if there["version"] != visit.version or not _is_whole(connection, there):
        return save_conflict_copy(connection, visit)
    values = {"created": there["created"], "copy_of": there["copy_of"], "person": there["person"]}
    visit = dataclasses.replace(visit, version=visit.version + 1, **values)
    connection.execute(update(VISITS).where(VISITS.c.id == visit.id).values(**_row(visit)))
    _put_files(connection, visit)
    return visit


def add(connection: Connection, visit: Visit) -> Visit:
    """Add a visit that is not there yet, under its own id."""
    visit = dataclasses.replace(visit, version=visit.version + 1)
    connection.execute(insert(VISITS).values(**_row(visit)))
    _put_files(connection, visit)
    return visit


def save_conflict_copy(connection: Connection, visit: Visit) -> Visit:
    """Keep what differs from a visit that is there as a copy with an id of its own; the same only once."""
    copies = select(VISITS).where(VISITS.c.copy_of == visit.id).order_by(VISITS.c.created)
    for there in connection.execute(copies).mappings():
        if _is_the_same(connection, there, visit):
            return dataclasses.replace(visit, **_line(there))
    return add(connection, dataclasses.replace(visit, id=new_id(), version=0, copy_of=visit.id))


def is_there(connection: Connection, visit: Visit) -> bool | None:
    """Whether a visit is there word for word; None where there is none by its id."""
    there = _found(connection, visit.id)
    return None if there is None else _is_the_same(connection, there, visit)


def read(connection: Connection, visit: str, only: str | None = None) -> Visit:
    """Read a visit by its id, as from a link; `NotFound` where there is none, `Damaged` where it is not as saved.

    `only`: whose it must be, else `NotAllowed`.

    A file of an older store whose name is no plain one is handed out under one that is; a field of the page that no
    page could be filled with is left out.
    """
    there = _found(connection, visit)
    if there is None:
        raise NotFound("visit", visit)
    _refuse_others(there, only)
    with telling_damage(connection, Thing("visit", visit)):
        return _whole(connection, there)


def without_files(connection: Connection, only: str | None = None) -> list[Visit]:
    """Every visit that is as it was saved, the last one changed first, at once and without its files; `only` whose."""
    found, digests = list[Visit](), dict[str, dict[str, str]]()
    wanted = select(VISITS).order_by(VISITS.c.changed.desc(), VISITS.c.id)
    if only is not None:
        wanted = wanted.where(VISITS.c.person == only)
    for file in connection.execute(select(FILES.c.visit, FILES.c.name, FILES.c.digest)):
        digests.setdefault(file.visit, {})[file.name] = file.digest
    for there in connection.execute(wanted).mappings():
        with contextlib.suppress(*UNSOUND):
            unbroken(VISITS, there, digests.get(there["id"], {}))
            page = records.page_of_today(json.loads(there["page"], parse_constant=lambda _: None))
            found.append(Visit(**vars(line_of(there)), text=there["entries"], page=page, files={}))
    return found


def _found(connection: Connection, visit: str) -> RowMapping | None:
    return connection.execute(select(VISITS).where(VISITS.c.id == visit)).mappings().one_or_none()


def _refuse_others(there: RowMapping, only: str | None) -> None:
    if only is not None and there["person"] != only:
        raise NotAllowed("This visit is another person's.")


def _whole(connection: Connection, there: RowMapping) -> Visit:
    found = connection.execute(select(FILES).where(FILES.c.visit == there["id"]).order_by(FILES.c.name)).all()
    unbroken(VISITS, there, {file.name: file.digest for file in found})
    line = line_of(there)
    names: dict[str, str] = {}
    for file in found:
        try:
            free = plain_name("visit.files", file.name) not in names.values()
        except CaseError:
            free = False
        names[file.name] = file.name if free else made_plain(file.name, names.values())
    page = records.page_of_today(json.loads(there["page"], parse_constant=lambda _: None))
    held = page.get("files")
    if isinstance(held, dict):
        page["files"] = {key: names[name] for key, name in held.items() if name in names}
    errors = records.page_faults(page)
    return Visit(
        **dataclasses.asdict(line),
        text=records.storable_toml("visit.entries", there["entries"]),
        page={name: value for name, value in page.items() if name not in errors},
        files={names[file.name]: whole(file.content, file.digest) for file in found},
    )


def line_of(there: AsKept) -> VisitLine:
    """What a list shows of a visit; `CaseError` for what no list could show."""
    line = VisitLine(**_line(there))
    records.kept_line(line)
    return line


def listed(
    connection: Connection, search: str = "", most: int | None = None, only: str | None = None
) -> list[VisitLine]:
    """List the visits that have every word sought, the last one changed first; no damaged ones; `only` whose."""
    wanted = _lines().limit(most)
    if only is not None:
        wanted = wanted.where(VISITS.c.person == only)
    for word in folded(records.storable_text("search", search, 500)).split():
        wanted = wanted.where(VISITS.c.sought.contains(word, autoescape=True))
    return sorted_out(connection, VISITS, wanted, line_of)[0]


def damaged(connection: Connection, deep: bool) -> list[Thing]:
    """Visits that are not as they were saved: those that no list can show, or with `deep` all."""
    lines, found = sorted_out(connection, VISITS, _lines(), line_of)
    for line in lines if deep else ():
        there = connection.execute(select(VISITS).where(VISITS.c.id == line.id)).mappings().one()
        try:
            if sought_in(_whole(connection, there)) != there["sought"]:
                raise BrokenSealError(line.id)
        except UNSOUND:
            found.append(Thing("visit", line.id, line.title))
    return found


def _lines() -> Select[*tuple[Any, ...]]:
    return select(*LINE).order_by(VISITS.c.changed.desc(), VISITS.c.id)


def forget_original(connection: Connection, visit: str) -> None:
    """Take the id of a visit that is gone out of the copies that name it."""
    copies = select(VISITS).where(VISITS.c.copy_of == visit).with_for_update()
    for there in connection.execute(copies).mappings().all():
        after = there["seal"]
        if _is_whole(connection, there):
            after = sealed(VISITS, {**there, "copy_of": ""}, _digests(connection, there["id"]))["seal"]
        connection.execute(update(VISITS).where(VISITS.c.id == there["id"]).values(copy_of="", seal=after))


def _line(there: AsKept) -> dict[str, Any]:
    return {column.name: there[column.name] for column in LINE} | {"details": json.loads(there["details"])}


def _row(visit: Visit) -> dict[str, Any]:
    """A visit as its row; its own version is that of the row."""
    values = {column.name: getattr(visit, column.name) for column in LINE}
    values |= {"details": records.page_as_text(visit.details), "page": records.page_as_text(visit.page)}
    row = {**values, "sought": sought_in(visit), "entries": visit.text}
    return sealed(VISITS, row, {name: digest_of(content) for name, content in visit.files.items()})


def _is_whole(connection: Connection, there: RowMapping) -> bool:
    try:
        unbroken(VISITS, there, _digests(connection, there["id"]))
        line_of(there)
    except UNSOUND:
        return False
    return True


def _is_the_same(connection: Connection, there: RowMapping, visit: Visit) -> bool:
    columns = (visit.title, visit.text, *map(records.page_as_text, (visit.page, visit.details)))
    stand = tuple(there[name] for name in ("title", "entries", "page", "details"))
    if stand != columns or not _is_whole(connection, there):
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
