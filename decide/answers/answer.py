"""From entries to the whole answer, in one call; the terminal, the screens and the hand-out all start here."""

import functools
import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from ..economics.case import Case
from ..economics.uncertainty import Range
from ..economics.weigh import Measures, Weighing, measure, weigh
from ..load.cases.case_file import complete
from ..load.cases.filled import DECIDED_AGAIN, ENDS_IT, Remarks
from ..load.cases.measured import AgainstRated
from ..load.cases.ranges import ranges_of
from ..load.cases.reading import DefaultUsed, Derived
from ..load.tables.tables import Caution, Tables

if TYPE_CHECKING:
    from ..economics.repeat_decisions import DecidingAgain


NEAR: Final = 0.03
"""Repairing and the best other way are too close to call within this share of the price of a new unit: no price, and
hardly any reading of a meter, is surer. Our judgement. [-]"""

HALF: Final = 0.5
"""Amounts closer than this are the same amount once rounded. [money]"""


@dataclass(frozen=True)
class Answer:
    """A case, what was taken for granted in it, and what comes of it."""

    case: Case
    defaults: tuple[DefaultUsed, ...]
    cautions: tuple[Caution, ...]
    weighing: Weighing
    measures: Measures
    derived: tuple[Derived, ...] = ()
    findings: tuple[AgainstRated, ...] = ()
    ranges: tuple[Range, ...] = ()
    """What the figures may be instead."""
    asked: Case | None = None
    """The case as it was entered, where the one weighed has every later failure decided again."""
    carbon: Mapping[str, float] = field(default_factory=dict)
    """What was entered about carbon."""
    remarks: Remarks | None = None
    """What is to be said of the entries themselves."""

    @property
    def entered(self) -> Case:
        """The case as it was entered: a failure ends a unit, and units end as published."""
        return self.asked or self.case

    @property
    def next_failure(self) -> str:
        """What the verdict takes the next failure of a unit to do: `ends it` or `decided again`."""
        return ENDS_IT if self.asked is None else DECIDED_AGAIN

    @property
    def guaranteed(self) -> bool:
        """Whether the unit is still within the legal guarantee, so that whoever sold it is to be asked first."""
        return self.remarks is not None and float(self.case.appliance.age) < self.remarks.guarantee

    @property
    def unusual(self) -> bool:
        """Whether the quote lies so far outside the usual one of its fault that it is asked about."""
        quoted, remarks = float(self.weighing.quoted), self.remarks
        return bool(remarks and remarks.usual and quoted > 0 and remarks.usual.far(quoted, remarks.far))

    @property
    def close(self) -> bool:
        """Whether the quote lies so near the highest one worth paying that cost does not decide."""
        weighing = self.weighing
        new = weighing.options[int(np.asarray(weighing.successor))].option
        near = max(NEAR * float(new.asked_price), HALF)
        return float(weighing.repair_limit) >= 0 and abs(float(weighing.advantage)) < near

    @functools.cached_property
    def ends_it(self) -> Weighing:
        """The weighing in which the next failure ends a unit."""
        return self.weighing if self.asked is None else weigh(self.asked)

    @functools.cached_property
    def deciding_again(self) -> "DecidingAgain":
        """The case with every later failure decided again. It takes about a second, once for a class and its prices.

        Raises
        ------
        CaseError
            The usual quote of a unit is 0, or the discount rate is.
        NoSolution
            No failures explain the published life.
        """
        return decided_again(self.entered, self.ends_it)

    @functools.cached_property
    def again(self) -> Weighing:
        """The weighing of that case; raises as `deciding_again` does."""
        return self.weighing if self.asked is not None else weigh(self.deciding_again.case)

    @property
    def other_limit(self) -> float:
        """Highest quote worth paying by the answer that the verdict does not use; NaN unless it was worked out."""
        if self.asked is not None:
            return float(np.asarray(self.ends_it.repair_limit))
        return float(np.asarray(self.again.repair_limit)) if "again" in self.__dict__ else math.nan


def decided_again(case: Case, weighing: Weighing) -> "DecidingAgain":
    """The case with every later failure decided again, followed by what its weighing is followed by."""
    from ..economics.repeat_decisions import (
        deciding_again,  # here, since the search for failures is heavy and seldom asked for
    )

    return deciding_again(case, weighing.options[int(np.asarray(weighing.successor))].option)


def answer(entries: Mapping[str, Any], reference: Tables | None = None, folder: Path | None = None) -> Answer:
    """Complete a case from its entries and weigh it; `EntryErrors` lists all that cannot be used.

    Files that the entries name are looked up in the folder, which is that of the case file.
    """
    filled = complete(entries, reference, folder)
    case, weighing, asked = filled.case, weigh(filled.case), None
    if filled.next_failure == DECIDED_AGAIN:
        case, asked = decided_again(case, weighing).case, case
        weighing = weigh(case)
    return Answer(
        case,
        filled.defaults,
        filled.cautions,
        weighing,
        measure(case, weighing),
        filled.derived,
        filled.findings,
        ranges_of(filled),
        asked,
        filled.carbon,
        filled.remarks,
    )
