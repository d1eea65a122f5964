"""What the law promises whoever bought a unit: guarantees by country, and for how long parts must be kept."""

import datetime
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from typing import Final

from ..files.rows import ANY, CsvRow
from .sourced import Citation, Register, units_of

UNITS: Final = units_of("guarantees")
"""What is promised, with its unit: the legal guarantee on a new unit; what a repair under it adds, once; the guarantee
from which on nothing need be added; how long a fault is taken to have been there; how long parts of a model are kept
after the last unit of it was sold first; how soon they come."""


@dataclass(frozen=True, slots=True)
class Promise(Citation):
    """One thing that a law promises."""

    value: float
    unit: str
    since: datetime.date | None  # Day from which it holds; None where it has held for longer than anyone asks.

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
        what, place, value = row.choice("what", UNITS), row.choice("place", places), row.number("value")
        if value < 0:
            raise row.broken("value must be 0 or more, got {value:g}", value)
        promise = Promise(value, row.choice("unit", (UNITS[what],)), row.day("since"), **register.cited(row))
        for kind in row.choices("classes", (*classes, ANY)):
            if (what, place, kind) in promises:
                raise row.broken("{what} of {kind} in {place} is listed twice", what, kind, place)
            promises[what, place, kind] = promise
    return promises
