"""What the law promises whoever bought a unit: guarantees by country, and for how long parts must be kept."""

import datetime
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from typing import Final

from ...errors import Message
from ..files.rows import ANY, CsvRow
from .sourced import STATUSES, Register, Source, units_of

COLUMNS: Final = "what,place,classes,value,unit,since,source,locator,year,status,note"

UNITS: Final = units_of("guarantees")
"""What is promised, with its unit: the legal guarantee on a new unit; what a repair under it adds, once; the guarantee
from which on nothing need be added; how long a fault is taken to have been there; how long parts of a model are kept
after the last unit of it was sold first; how soon they come."""


@dataclass(frozen=True, slots=True)
class Promise:
    """One thing that a law promises."""

    value: float
    unit: str
    since: datetime.date | None
    """Day from which it holds; None where it has held for longer than anyone asks."""
    source: Source
    locator: str
    year: int
    status: str
    note: str

    def holds(self, day: datetime.date) -> bool:
        """Whether it holds on a day."""
        return self.since is None or self.since <= day


def read_guarantees(
    listed: Iterable[CsvRow], classes: Collection[str], places: Collection[str], register: Register
) -> dict[tuple[str, str, str], Promise]:
    """Read every row to what is promised, its place and each of its classes.

    Raises `DataError`: an unknown place or class, a wrong unit, a value below 0, no day, or the same given twice.
    """
    promises: dict[tuple[str, str, str], Promise] = {}
    for row in listed:
        what, place = row.choice("what", UNITS), row.choice("place", places)
        value, since = row.number("value"), row.cells["since"]
        if value < 0:
            raise row.broken(Message("value must be 0 or more, got {value:g}", value))
        try:
            day = datetime.date.fromisoformat(since) if since else None
        except ValueError:
            raise row.broken(Message("since must be a day such as 2026-07-31, got {since!r}", since)) from None
        unit, status = row.choice("unit", (UNITS[what],)), row.choice("status", STATUSES)
        if status == "judgement":
            row.text("note")
        source, locator = register.source(row), row.text("locator")
        promise = Promise(value, unit, day, source, locator, row.year(), status, row.cells["note"])
        for kind in row.choices("classes", (*classes, ANY)):
            if (what, place, kind) in promises:
                raise row.broken(Message("{what} of {kind} in {place} is listed twice", what, kind, place))
            promises[what, place, kind] = promise
    return promises
