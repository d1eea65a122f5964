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
from ...shop.weigh_jobs import Own, by_age
from ..cases.case_file import complete, set_entry
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
    _completed: dict[tuple[Likeness, Own], Case] = field(default_factory=dict, init=False, repr=False, compare=False)
    _edges: dict[tuple[str, str], Floats] = field(default_factory=dict, init=False, repr=False, compare=False)
    _found: dict[tuple[str, str, Own], Case | CaseError] = field(
        default_factory=dict, init=False, repr=False, compare=False
    )

    def template(self, kind: str, fault: str, own: Own = ()) -> Case:
        """The case of a class and a fault, at an age of ten years and without a quote; `own`: what is entered besides.

        `CaseError`: the class has no figures in the place, or cannot have the fault.
        """
        if (kind, fault, own) not in self._found:
            self._found[kind, fault, own] = self._complete(kind, fault, own)
        found = self._found[kind, fault, own]
        if isinstance(found, CaseError):
            raise found
        return found

    def edges(self, template: Case, ages: Floats) -> Floats:
        """What the expected limit adds to that of the case as it stands, then where states change, as `EdgesOf` says.

        From the draws of the case at a few ages; between them in proportion. Shape (ages, 5). [money]
        """
        kind, fault, _ = next(key for key, case in self._found.items() if case is template)
        like = kind, self.reference.known_faults[fault].kind
        if like not in self._edges:
            alike = (each.fault for each in self.reference.faults(kind) if each.kind == like[1])
            fault, found = "other" if like[1] == "ordinary" else next(alike), []  # the same whichever came first
            for age in STATE_AGES:
                filled = complete(entries_of(self.place, kind, fault, age), self.reference)
                ranges = ranges_of(filled)
                sure = sureness(self.reference, self.place)
                drawn = decide(filled.case, ranges, points(len(ranges))[:STATE_DRAWS], sure)
                found.append((drawn.repair_limit, *drawn.zones.beyond))
            stands = by_age(self.template(kind, fault), np.array(STATE_AGES)).limit
            self._edges[like] = np.clip(np.array(found), -FAR, FAR) - np.outer(stands, (1, 0, 0, 0, 0))
        return np.stack([np.interp(ages, STATE_AGES, column) for column in self._edges[like].T], axis=-1)

    def owed_until(self, kind: str) -> float:
        """Age below which the seller by law, or usually the maker, owes a repair. [year]"""
        promised = self.reference.promised("guarantee", kind, self.place)
        usual = self.reference.figure("warranty_new", kind, self.reference.region_of(self.place))
        return max((each.value for each in (promised, usual) if each is not None), default=0.0)

    def _complete(self, kind: str, fault: str, own: Own) -> Case | CaseError:
        try:
            stops = tuple((a, c.id) for c in self.reference.cautions(kind, fault, self.place) for a in c.prohibits)
            known = self.reference.known_faults[fault]
            likeness = kind, known.kind, known.spoils_food, stops
            if (likeness, own) not in self._completed:
                entries = entries_of(self.place, kind, fault)
                for path, value in own:
                    entries = set_entry(entries, path, value)
                self._completed[likeness, own] = complete(entries, self.reference).case
        except CaseError as refused:
            return refused
        return self._completed[likeness, own]


def entries_of(place: str, kind: str, fault: str, age: float = ANY_AGE) -> dict[str, dict[str, object]]:
    """What a job says of its case, as the entries of a case file."""
    return {"appliance": {"class": kind, "fault": fault, "age": age}, "household": {"place": place}}
