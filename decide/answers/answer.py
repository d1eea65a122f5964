"""From entries to the whole answer, in one call; the terminal, the screens and the hand-out all start here."""

import functools
import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from ..economics.case import Case
from ..economics.cash_flow import Cash, cash
from ..economics.flows import money
from ..economics.uncertainty import Range
from ..economics.weigh import Measures, Weighing, limit_under_claim, measure, single, weigh
from ..load.cases.case_file import complete
from ..load.cases.filled import DECIDED_AGAIN, ENDS_IT, ClaimTerms, Remarks
from ..load.cases.ranges import ranges_of
from ..load.cases.reading import DefaultUsed, Derived
from ..load.tables.tables import Caution, Tables, tables

if TYPE_CHECKING:
    from ..economics.repeat_decisions import DecidingAgain
    from ..load.cases.measured import AgainstRated


HALF: Final = 0.5
"""Amounts closer than this are the same amount once rounded. [money]"""


@dataclass(frozen=True)
class Answer:
    """A case, what was taken for granted in it, and what comes of it."""

    case: Case
    defaults: tuple[DefaultUsed, ...]
    cautions: tuple[Caution, ...]
    weighing: Weighing[float]
    measures: Measures
    close_share: float
    """Repairing and the best other way are too close to call within this share of the price of a new unit. [-]"""
    derived: tuple[Derived, ...] = ()
    findings: "tuple[AgainstRated, ...]" = ()
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
    def claim(self) -> ClaimTerms | None:
        """Who owes the repair and is asked first; None where nobody does, or paying at once is cheaper."""
        terms, quoted = self.remarks.claim if self.remarks else None, float(self.weighing.quoted)
        if terms is None or quoted < limit_under_claim(math.inf, terms.waiting, terms.refused):
            return None
        return terms

    @property
    def claim_limit(self) -> float:
        """Highest quote worth paying before whoever owes the repair is asked; the repair limit where nobody does."""
        terms, limit = self.remarks.claim if self.remarks else None, self.weighing.repair_limit
        return limit if terms is None else float(limit_under_claim(limit, terms.waiting, terms.refused))

    @property
    def unusual(self) -> bool:
        """Whether the quote lies so far outside the usual one of its fault that it is asked about."""
        quoted, remarks = float(self.weighing.quoted), self.remarks
        return bool(remarks and remarks.usual and quoted > 0 and remarks.usual.far(quoted, remarks.far))

    @property
    def close(self) -> bool:
        """Whether the quote lies so near the highest one worth paying that cost does not decide."""
        weighing = self.weighing
        new = weighing.options[int(weighing.successor)].option
        near = max(self.close_share * float(new.asked_price), HALF)
        return weighing.repair_limit >= 0 and abs(weighing.advantage) < near

    @functools.cached_property
    def ends_it(self) -> Weighing[float]:
        """The weighing in which the next failure ends a unit."""
        return self.weighing if self.asked is None else single(weigh(self.asked))

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
    def again(self) -> Weighing[float]:
        """The weighing of that case; raises as `deciding_again` does."""
        return self.weighing if self.asked is not None else single(weigh(self.deciding_again.case))

    @functools.cached_property
    def cash_by_year(self) -> tuple[Cash, ...]:
        """Expected cash of each option of the weighing, undiscounted: today, then each year that the measures look at.

        Over a need without end what is left at the last year counts nothing; over a study period it is credited, as in
        the present costs.
        """
        case, costs = self.case, self.weighing.options
        prices = money(case.household)
        ends = math.isfinite(case.household.study_period)
        return tuple(
            cash(case, cost.option, costs[int(cost.successor)].option, prices, self.measures.years, ends)
            for cost in costs
        )

    @property
    def other_limit(self) -> float:
        """Highest quote worth paying by the answer that the verdict does not use; NaN unless it was worked out."""
        if self.asked is not None:
            return self.ends_it.repair_limit
        return self.again.repair_limit if "again" in self.__dict__ else math.nan


def decided_again(case: Case, weighing: Weighing[Any]) -> "DecidingAgain":
    """The case with every later failure decided again, followed by what its weighing is followed by."""
    from ..economics.repeat_decisions import deciding_again  # here, since it is heavy and seldom asked for

    return deciding_again(case, weighing.options[int(weighing.successor)].option)


def answer(entries: Mapping[str, Any], reference: Tables | None = None, folder: Path | None = None) -> Answer:
    """Complete a case from its entries, weigh it, and measure replacing as an investment: the whole answer.

    What was not entered is taken from the tables (`complete`), the options are weighed (`weigh`), and the cheapest
    replacement is measured against the repair (`measure`). Where `household.next_failure` is `decided again`, the
    weighing takes every later failure to be decided by the best policy.

    Parameters
    ----------
    entries : mapping
        What is known, as the nested tables of a case file; amounts in the household's money, units as `case` declares.
    reference : Tables, optional
        Figures for all else; the shipped ones unless given.
    folder : Path, optional
        Where files that the entries name are looked up: that of the case file.

    Returns
    -------
    Answer
        The case, its defaults and cautions, its weighing and measures. [money, year, share]

    Raises
    ------
    EntryErrors
        One or more entries cannot be used; each error names its field, what is allowed with unit, and what came.
    CaseError, NoSolution
        Later failures cannot be decided again in this case.

    References
    ----------
    Formulas and sources stand at `weigh`, `measure` and `flows`; figures carry their sources in `defaults`.

    Examples
    --------
    >>> found = answer({"appliance": {"class": "clothes_washer", "age": 8}, "repair": {"quote": 250}})
    >>> found.weighing.verdict, found.close, [caution.weight for caution in found.cautions][:1] != []
    ('repair', False, True)
    """
    filled = complete(entries, reference, folder)
    case, weighing, asked = filled.case, single(weigh(filled.case)), None
    if filled.next_failure == DECIDED_AGAIN:
        case, asked = decided_again(case, weighing).case, case
        weighing = single(weigh(case))
    return Answer(
        case,
        filled.defaults,
        filled.cautions,
        weighing,
        measure(case, weighing),
        (reference or tables()).usual("close_call_share", case.household.region).value,
        filled.derived,
        filled.findings,
        ranges_of(filled),
        asked,
        filled.carbon,
        filled.remarks,
    )
