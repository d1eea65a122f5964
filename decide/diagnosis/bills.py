"""What later repairs cost: bills from the causes behind them, failures that come more often with age.

A class fails at rate lambda(v) at age v; its expected number of failures by then is -ln(1 - F3) (v/3)^g, from the share
F3 of units with a failure within three years. Each failure has a bill from the class's own causes, or cannot be mended.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from ..arrays import Floats, Number
from ..economics.repair_costs import LognormalQuotes
from ..errors import CaseError, require
from .expected_bill import Bill

YEARS_OF_SHARE: Final = 3.0
"""Years within which the published share of units with a failure is counted. [year]"""


@dataclass(frozen=True)
class RepairBills:
    """The law of a class's later bills: a lognormal of those that can be mended, and the share that cannot."""

    median: float
    """[money]"""
    spread: float
    """Standard deviation of the logarithm. [-]"""
    unmendable: float
    """Share of failures that no repair ends. [-]"""

    def accepted(self, most: Number) -> Number:
        """What a failure is expected to cost when only bills up to `most` are paid; a dearer one ends the unit. [money]

        >>> round(float(RepairBills(median=200.0, spread=0.5, unmendable=0.1).accepted(1e9)), 1)
        204.0
        """
        return (1 - self.unmendable) * LognormalQuotes(self.median, self.spread).partial_mean(most)


def bills_of(
    weights: Sequence[float], low: Sequence[float], high: Sequence[float], mended: Sequence[bool]
) -> RepairBills:
    """The law of bills over the causes of a class, by the mean and the spread of their logarithm.

    Parameters
    ----------
    weights : how often each cause is behind a failure, in any proportion [-]
    low, high : bills of which eight in ten for that cause lie within [money]
    mended : whether a repair ends it [-]

    Raises
    ------
    CaseError
        No cause that can be mended, or a weight below 0.

    Examples
    --------
    >>> law = bills_of([3, 1], [100, 200], [100, 800], [True, False])
    >>> round(law.median, 6), law.spread, law.unmendable
    (100.0, 0.0, 0.25)
    """
    weight, can = np.asarray(weights, dtype=float), np.asarray(mended, dtype=bool)
    require("weights", weight, 0.0, np.inf, "")
    total = np.sum(weight[can])
    if not total > 0:
        raise CaseError("weights", "needs at least one cause that can be mended")
    chance = weight[can] / total
    bill = Bill(chance=chance, low=np.asarray(low, dtype=float)[can], high=np.asarray(high, dtype=float)[can])
    middle, within = bill.logarithm
    mean = float(np.sum(chance * middle))
    spread = float(np.sqrt(np.sum(chance * (within**2 + (middle - mean) ** 2))))
    return RepairBills(float(np.exp(mean)), spread, float(1 - total / np.sum(weight)))


def failures_by(age: Number, share: float, growth: float) -> Number:
    """Expected number of failures of a unit by an age, `share` of units having had one within three years. [-]

    >>> round(float(1 - np.exp(-failures_by(5.0, 0.22, 1.2))), 2)  # within five years
    0.37
    """
    require("failure_share_3_years", share, 0.0, 0.99, "share")
    return -np.log1p(-share) * (np.asarray(age, dtype=float) / YEARS_OF_SHARE) ** growth


@dataclass(frozen=True)
class Rising:
    """How upkeep rises with age, over its mean from new to `years`: g (v / years)^(g - 1), as failures do.

    >>> float(Rising(growth=1.2, years=10.0)(np.array(10.0)))
    1.2
    """

    growth: float
    years: float
    """[year]"""

    def __call__(self, age: Floats) -> Floats:
        """Upkeep at an age over the mean. [-]"""
        return self.growth * (np.asarray(age, dtype=float) / self.years) ** (self.growth - 1)
