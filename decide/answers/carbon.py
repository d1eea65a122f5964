"""From an answer in money to the one in carbon beside it; the terminal, the screens and the hand-out all start here."""

import functools
import math
from dataclasses import dataclass

from ..economics.carbon import CarbonConfidence, carbon_confidence, with_price_of_carbon
from ..economics.case import REPAIR
from ..economics.uncertainty import Range
from ..economics.weigh import Measures, OptionCost, Weighing, measure, single, weigh
from ..load.cases.carbon_figures import CarbonFilled, all_ranges, carbon_of, carbon_tables
from ..load.files.rows import ANY
from .answer import Answer


@dataclass(frozen=True)
class CarbonAnswer:
    """What each way emits, and what comes of it. Amounts in kilograms of CO2 equivalent."""

    filled: CarbonFilled  # The case in carbon, and what it rests on.
    weighing: Weighing[float]
    measures: Measures  # Its payback is the years until the lower use of a new unit has made up for its making. [year]
    priced: Weighing[float] | None  # In money with a price on carbon; None unless the household gave one.
    in_money: Weighing[float]  # In money without, and by the same answer to the next failure.
    shared: tuple[Range, ...]  # What lives and consumption may be instead.

    @property
    def years(self) -> float:
        """Years over which it is counted. [year]"""
        return self.filled.years

    @property
    def best_other(self) -> OptionCost[float]:
        """The other way that emits least."""
        others = [o for o in self.weighing.options if o.action != REPAIR and not o.blocked_by]
        return min(others, key=lambda option: option.present_cost)

    @property
    def limit(self) -> float:
        """The most that a repair may emit and still be the greener way; NaN where a caution refuses it. [kg]

        The repaired unit runs until it fails: planning its replacement as well would only put off the question.
        """
        return self.advantage + self.weighing.quoted

    @property
    def advantage(self) -> float:
        """What repairing emits less than the best other way. [kg]"""
        if self.weighing.repair.blocked_by:
            return math.nan
        return self.best_other.present_cost - self.weighing.repair.present_cost

    @property
    def close(self) -> bool:
        """Whether they emit so nearly alike that nobody can tell which is greener."""
        near = carbon_tables().figure("too_near", ANY, self.filled.case.household.region).value
        return abs(self.advantage) < near * max(float(made) for made in self.filled.figures.made)

    @functools.cached_property
    def confidence(self) -> CarbonConfidence | None:
        """How sure it is; it takes about a second. None where a caution refuses the repair."""
        if math.isnan(self.limit):
            return None
        return carbon_confidence(self.filled.case, all_ranges(self.filled, self.shared))


def carbon_answer(answer: Answer, this_year: int | None = None) -> CarbonAnswer:
    """What each way of an answer emits, on the same engine and the same flows.

    Raises `CaseError`: the price of carbon makes no case, as where energy then rises faster than the discount rate.
    Raises `NoSolution`: no steady growth is worth the same as energy and its carbon together.
    """
    case = answer.case
    filled = carbon_of(case, answer.carbon, this_year)
    weighing = single(weigh(filled.case))
    priced = None
    if filled.price > 0:
        priced = single(weigh(with_price_of_carbon(case, filled.figures, filled.price)))
    return CarbonAnswer(filled, weighing, measure(filled.case, weighing), priced, answer.weighing, answer.ranges)
