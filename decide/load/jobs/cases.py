"""The cases behind a shop's jobs: one for each class and each group of faults that lead to different cases.

A job says its class, age, fault and quote. All else of its case is what the tables, or the shop's own figures put in
their place, hold for the place; so the case is completed once and only age and quote are varied.
"""

from dataclasses import dataclass, field
from typing import Final

import numpy as np

from ...arrays import Floats
from ...economics.case import Case
from ...economics.decision import decide
from ...errors import CaseError
from ..cases.case_file import complete
from ..cases.ranges import ranges_of
from ..tables.draws import points, sureness
from ..tables.tables import Tables

STATE_AGES: Final = (0.0, 6.0, 15.0, 30.0)
"""Ages at which states are drawn. [year]"""

STATE_DRAWS: Final = 256
"""Draws behind them: the first of the usual ones, which are low-discrepancy points themselves."""

FAR: Final = 1e9
"""As good as endless. [money]"""

ANY_AGE: Final = 10.0
"""At which a case is completed, before its age is varied. [year]"""

Likeness = tuple[str, str, bool, tuple[tuple[str, str], ...]]
"""What of a fault changes a case: its class, its kind, whether food spoils, and which action each caution stops."""


@dataclass(frozen=True)
class JobCases:
    """Cases of a place by class and fault, each completed once."""

    place: str
    reference: Tables
    _completed: dict[Likeness, Case] = field(default_factory=dict, init=False, repr=False, compare=False)
    _edges: dict[tuple[str, str], Floats] = field(default_factory=dict, init=False, repr=False, compare=False)
    _found: dict[tuple[str, str], Case | CaseError] = field(default_factory=dict, init=False, repr=False, compare=False)

    def template(self, kind: str, fault: str) -> Case:
        """The case of a class and a fault, at an age of ten years and without a quote.

        Raises
        ------
        CaseError
            The class has no figures in the place, or cannot have the fault.

        Examples
        --------
        >>> from decide.load.tables.tables import tables
        >>> cases = JobCases("US", tables())
        >>> cases.template("dishwasher", "drain_pump") is cases.template("dishwasher", "water_inlet")
        True
        """
        if (kind, fault) not in self._found:
            self._found[kind, fault] = self._complete(kind, fault)
        found = self._found[kind, fault]
        if isinstance(found, CaseError):
            raise found
        return found

    def edges(self, template: Case, ages: Floats) -> Floats:
        """Where on the scale of quote less limit the states of such jobs change, shape (ages, 4). [money]

        From the draws of the case at a few ages; between them in proportion.
        """
        kind, fault = next(pair for pair, case in self._found.items() if case is template)
        like = kind, self.reference.known_faults[fault].kind
        if like not in self._edges:
            alike = (each.fault for each in self.reference.faults(kind) if each.kind == like[1])
            fault, found = "other" if like[1] == "ordinary" else next(alike), []  # the same whichever came first
            for age in STATE_AGES:
                filled = complete(entries_of(self.place, kind, fault, age), self.reference)
                ranges = ranges_of(filled)
                sure = sureness(self.reference, self.place)
                found.append(decide(filled.case, ranges, points(len(ranges))[:STATE_DRAWS], sure).zones.beyond)
            self._edges[like] = np.clip(np.array(found), -FAR, FAR)
        return np.stack([np.interp(ages, STATE_AGES, column) for column in self._edges[like].T], axis=-1)

    def _complete(self, kind: str, fault: str) -> Case | CaseError:
        try:
            stops = tuple((a, c.id) for c in self.reference.cautions(kind, fault, self.place) for a in c.prohibits)
            known = self.reference.known_faults[fault]
            likeness = kind, known.kind, known.spoils_food, stops
            if likeness not in self._completed:
                self._completed[likeness] = complete(entries_of(self.place, kind, fault), self.reference).case
        except CaseError as refused:
            return refused
        return self._completed[likeness]


def entries_of(place: str, kind: str, fault: str, age: float = ANY_AGE) -> dict[str, dict[str, object]]:
    """What a job says of its case, as the entries of a case file."""
    return {"appliance": {"class": kind, "fault": fault, "age": age}, "household": {"place": place}}
