"""A shop's jobs in columns, one entry a job: what broke, what was quoted, what the customer did, what became of it."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, fields, replace
from typing import Any, Final, Self

import numpy as np
from numpy.typing import NDArray

from ..arrays import Floats

OPEN: Final = "open"
REPAIRED: Final = "repaired"
REPLACED: Final = "replaced"
LEFT: Final = "left"
DECLINED: Final = "declined"
DECISIONS: Final = (OPEN, REPAIRED, REPLACED, LEFT, DECLINED)
"""What the customer did; `declined` is a repair turned down with nothing said of what came instead."""

UNKNOWN: Final = "unknown"
HELD: Final = "held"
CALLED_BACK: Final = "called back"
FAILED_AGAIN: Final = "failed again"
RETIRED: Final = "retired"
OUTCOMES: Final = (UNKNOWN, HELD, CALLED_BACK, FAILED_AGAIN, RETIRED)
"""What is known later. `called back`: the same repair had to be done once more; `failed again`: another fault came."""

Codes = NDArray[np.int16]
Dates = NDArray[np.datetime64]


@dataclass(frozen=True, kw_only=True)
class Jobs:
    """Jobs in columns; each array has shape (jobs,). What a job does not say is NaN, NaT or an empty text.

    Parts, labour, trip, the diagnostic fee that was charged and the quote are in money, labour hours in hours. The
    quote is what the customer was asked for the repair, tax included, before any credit.
    """

    row: NDArray[np.int64]
    """Line in the book, its heading being line 1."""
    date: Dates
    """Day of the quote. [day]"""
    kinds: tuple[str, ...]
    """Ids of classes that `kind` points to."""
    kind: Codes
    age: Floats
    """Of the unit at that day. [year]"""
    faults: tuple[str, ...]
    """Ids of faults that `fault` points to; the first is `other`."""
    fault: Codes
    parts: Floats
    labour: Floats
    labour_hours: Floats
    trip: Floats
    fee: Floats
    fee_credited: Floats
    """Share of the fee that came off an accepted quote. [-]"""
    quote: Floats
    decision: Codes
    """Index in `DECISIONS`."""
    outcome: Codes
    """Index in `OUTCOMES`."""
    outcome_date: Dates
    """Day that the outcome was known. [day]"""
    known_since: Dates
    """Day since which the shop would have heard of the unit's end, where that is before the job. [day]"""
    unit: NDArray[np.str_]
    """What tells one unit from another, such as a serial or job number; empty where the book has none."""
    own: Mapping[str, Floats] = field(default_factory=dict)
    """What jobs say of their own case in place of the tables, and `parts_cost` what parts cost the shop, by role. [unit
    of the input]"""
    traits: Mapping[str, NDArray[np.str_]] = field(default_factory=dict)
    """By whom (`technician`) and where (`postcode`); empty texts where a job does not say."""

    def __len__(self) -> int:
        return len(self.row)

    def take(self, which: NDArray[np.intp] | NDArray[np.bool_] | slice) -> Self:
        """Some of the jobs, in the order of an index, a mask or a slice."""

        def some(of: Any) -> Any:
            return {role: each[which] for role, each in of.items()} if isinstance(of, Mapping) else of[which]

        return replace(self, **{name: some(of) for name, of in vars(self).items() if name not in ("kinds", "faults")})

    def of_kind(self, kind: str) -> Self:
        """The jobs of one class; none where the book has none."""
        code = self.kinds.index(kind) if kind in self.kinds else -1
        return self.take(self.kind == code)

    def by_class(self, figure: Callable[[str], float]) -> Floats:
        """A figure of the class of each job; it is asked once for each class that has any."""
        found = np.full(len(self.kinds), np.nan)
        for code in np.unique(self.kind):
            found[code] = figure(self.kinds[code])
        return found[self.kind]

    def decided(self, *decisions: str) -> NDArray[np.bool_]:
        """Which jobs ended in one of the decisions."""
        return np.isin(self.decision, [DECISIONS.index(decision) for decision in decisions])


def concatenate(parts: Sequence[Jobs]) -> Jobs:
    """Put parts of a book one after another."""
    if any((part.kinds, part.faults) != (parts[0].kinds, parts[0].faults) for part in parts):
        raise ValueError("parts of a book have the same lists of classes and faults")
    plain = [item.name for item in fields(Jobs) if item.name not in ("own", "traits", "kinds", "faults")]
    columns: dict[str, Any] = {name: np.concatenate([getattr(part, name) for part in parts]) for name in plain}
    for name, nothing in (("own", np.nan), ("traits", "")):
        roles = dict.fromkeys(role for part in parts for role in getattr(part, name))
        columns[name] = {
            role: np.concatenate([getattr(part, name).get(role, np.full(len(part), nothing)) for part in parts])
            for role in roles
        }
    return replace(parts[0], **columns)
