"""What repairs to come may be quoted: laws of the quote, with what each limit on them accepts and pays."""

import math
from abc import ABC, abstractmethod
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr

from ..arrays import Floats, Number, align_cases
from ..errors import require


class Quotes(ABC):
    """The law of the repair quotes to come."""

    @abstractmethod
    def _accepted(self, limit: Floats) -> tuple[Floats, Floats]:
        """Chance that a quote is within a limit, and what is expected to be paid for those that are."""

    @property
    def mean(self) -> Floats:
        """Mean quote. [money]"""
        return self.partial_mean(math.inf)

    def cdf(self, limit: Number) -> Floats:
        """Chance that a quote is within a limit. [-]"""
        return self._accepted(np.asarray(limit, dtype=float))[0]

    def partial_mean(self, limit: Number) -> Floats:
        """What is expected to be paid if just the quotes within a limit are accepted, E[X; X <= R]. [money]"""
        return self._accepted(np.asarray(limit, dtype=float))[1]


@dataclass(frozen=True)
class LognormalQuotes(Quotes):
    """Quotes about a median [money], whose logarithm has the standard deviation `spread`. [-]"""

    median: Number
    spread: Number

    def __post_init__(self) -> None:
        require("median", self.median, 1e-9, math.inf, "money")
        require("spread", self.spread, 1e-6, 5.0, "")

    def _accepted(self, limit: Floats) -> tuple[Floats, Floats]:
        median, spread = align_cases(self.median, limit.ndim), align_cases(self.spread, limit.ndim)
        deviations = np.log(np.maximum(limit, 1e-300) / median) / spread
        return ndtr(deviations), median * np.exp(spread**2 / 2) * ndtr(deviations - spread)
