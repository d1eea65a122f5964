"""What one repair of a class costs: the law of its bills, from the causes behind its failures."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..errors import CaseError, require
from .expected_bill import Bill


@dataclass(frozen=True)
class RepairBills:
    """The law of a class's later bills: a lognormal of those that can be mended, and the share that cannot."""

    median: float
    """[money]"""
    spread: float
    """Standard deviation of the logarithm. [-]"""
    unmendable: float
    """Share of failures that no repair ends. [-]"""


def bills_of(
    weights: Sequence[float], low: Sequence[float], high: Sequence[float], mended: Sequence[bool]
) -> RepairBills:
    """The law of bills over the causes of a class, by the mean and the spread of their logarithm.

    `weights` say how often each cause is behind a failure, in any proportion; eight in ten of its bills lie between
    `low` and `high` [money]; `mended` is whether a repair ends it.
    Raises `CaseError`: no cause that can be mended, or a weight below 0.

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
