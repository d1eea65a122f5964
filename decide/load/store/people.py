"""Who may do what in a store that asks: names with a role, kept in its settings, and a log of what each did.

A name is what its way of signing in vouches for. Roles are read at each call, so whoever is taken off the list is out.
"""

import datetime
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path
from typing import Final

from sqlalchemy import Connection, delete, func, insert, select

from ...errors import CaseError
from .records import LONGEST_NAME, UNSOUND, Thing, storable_name
from .schema import HISTORY, SETTINGS
from .shelf import setting

PEOPLE: Final = "people"
"""The setting with the names of each role."""

Role = StrEnum("Role", ["TECHNICIAN", "OWNER"])
"""A technician has visits of his own, their evidence and hand-outs; an owner has everything."""

OF_TECHNICIANS: Final = frozenset(
    {
        "visit",
        "visits",
        "save_visit",
        "settings",
        "local_figures",
        "damaged",
        "lacks_log",
        "note_hand_out",
        "visits_without_files",
    }
)
"""What a technician may call of a store, of visits only his own; all else is an owner's."""

TYPED: Final = frozenset({"save_visit", "map_book", "save_mapping"})
"""What is saved at each tap; the log has one line in an hour for it."""

MOST_LINES: Final = 10_000
"""Of the log; the oldest give way."""


@dataclass(frozen=True)
class Deed:
    """A line of the log."""

    at: datetime.datetime
    person: str
    deed: str
    """The name of the method of the store."""
    what: str
    """What it was done to: of a visit its id, never its title, as what is deleted must not live on here."""


def read_people(text: str) -> dict[str, Role]:
    """Names with their roles, as the setting has them; a name that is in both is an owner's."""
    found = json.loads(text or "{}")
    return {name: role for role in Role for name in found.get(role, ())}


def people_text(names: Mapping[Role, Sequence[str]]) -> str:
    """The setting with these names, each once."""
    every = {role: sorted({storable_name(PEOPLE, name) for name in names.get(role, ())}) for role in Role}
    if not every[Role.OWNER]:
        raise CaseError(PEOPLE, "must have an owner")
    return json.dumps(every)


def role_of(connection: Connection, person: str) -> Role | None:
    """The role of a name; none where it is on no list, or the list is damaged."""
    row = connection.execute(select(SETTINGS).where(SETTINGS.c.name == PEOPLE)).mappings().one_or_none()
    try:
        return read_people(str(setting(row)[1])).get(person) if row and person else None
    except UNSOUND:
        return None


def what_of(given: object) -> str:
    """What a call of the store was about, by the first thing that it was given."""
    if isinstance(given, Thing):
        return f"{given.noun} {given.name}"
    if isinstance(given, Mapping):
        return ", ".join(sorted(given))
    return given.name if isinstance(given, Path) else str(given)


def note(connection: Connection, line: Deed) -> None:
    """Add a line to the log, which is never changed; only the oldest are dropped."""
    same = (HISTORY.c.person == line.person, HISTORY.c.deed == line.deed, HISTORY.c.what == line.what)
    if line.deed in TYPED:
        last = connection.scalar(select(func.max(HISTORY.c.at)).where(*same))
        if last is not None and line.at - last < datetime.timedelta(hours=1):
            return
    row = {**vars(line), "what": line.what[:LONGEST_NAME]}
    (number,) = connection.execute(insert(HISTORY).values(**row)).inserted_primary_key or (0,)
    connection.execute(delete(HISTORY).where(HISTORY.c.id <= number - MOST_LINES))


def deeds(connection: Connection, most: int) -> list[Deed]:
    """The last lines of the log, the newest first."""
    asked = select(HISTORY.c.at, HISTORY.c.person, HISTORY.c.deed, HISTORY.c.what).order_by(HISTORY.c.id.desc())
    return [Deed(*row) for row in connection.execute(asked.limit(most))]
