"""What repairs to come may be quoted: the law of the quote, with what each limit on it accepts and pays."""

import math
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr

from ..arrays import Floats, Number, align_cases
from ..errors import require


@dataclass(frozen=True)
class LognormalQuotes:
    """Quotes about a median [money], whose logarithm has the standard deviation `spread`. [-]"""

    median: Number
    spread: Number

    def __post_init__(self) -> None:
        require("median", self.median, 1e-9, math.inf, "money")
        require("spread", self.spread, 1e-6, 5.0, "")

    def cdf(self, limit: Number) -> Floats:
        """Chance that a quote is within a limit. [-]"""
        return ndtr(self._deviations(limit))

    def partial_mean(self, limit: Number) -> Floats:
        """What is expected to be paid if just the quotes within a limit are accepted, E[X; X <= R]. [money]"""
        median, spread = (align_cases(each, np.ndim(limit)) for each in (self.median, self.spread))
        return median * np.exp(spread**2 / 2) * ndtr(self._deviations(limit) - spread)

    def _deviations(self, limit: Number) -> Floats:
        """Standard deviations by which a limit lies above the median."""
        median, spread = (align_cases(each, np.ndim(limit)) for each in (self.median, self.spread))
        return np.log(np.maximum(limit, 1e-300) / median) / spread
