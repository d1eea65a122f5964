"""Laws of the repair quote that only the referees use."""

import math
from abc import ABC, abstractmethod
from dataclasses import dataclass

import numpy as np

from decide.arrays import Floats, Number, align_cases
from decide.economics import later_repairs
from decide.errors import CaseError, require


class Quotes(ABC):
    """A law of the repair quotes to come, with what each limit on them accepts and pays."""

    @abstractmethod
    def _accepted(self, limit: Floats) -> tuple[Floats, Floats]:
        """Chance that a quote is within a limit, and what is expected to be paid for those that are."""

    def cdf(self, limit: Number) -> Floats:
        """Chance that a quote is within a limit. [-]"""
        return self._accepted(np.asarray(limit, dtype=float))[0]

    def partial_mean(self, limit: Number) -> Floats:
        """What is expected to be paid if just the quotes within a limit are accepted, E[X; X <= R]. [money]"""
        return self._accepted(np.asarray(limit, dtype=float))[1]


class LognormalQuotes(later_repairs.LognormalQuotes):
    """The law of the package, with both of what it says by themselves."""

    def cdf(self, limit: Number) -> Floats:
        """Chance that a quote is within a limit. [-]"""
        return self.within(limit)[0]

    def partial_mean(self, limit: Number) -> Floats:
        """What is expected to be paid if just the quotes within a limit are accepted, E[X; X <= R]. [money]"""
        return self.within(limit)[1]


def limited_mean(quotes: Quotes | LognormalQuotes, limit: Number) -> Floats:
    """Mean of the lesser of quote and limit, E[min(X, R)]. [money]"""
    chance, paid = quotes.cdf(limit), quotes.partial_mean(limit)
    return paid + np.where(chance < 1, limit, 0.0) * (1 - chance)


@dataclass(frozen=True)
class ExponentialQuotes(Quotes):
    """Many small repairs and a few dear ones, of the given mean. [money]"""

    average: Number

    def __post_init__(self) -> None:
        require("average", self.average, 1e-9, math.inf, "money")

    def _accepted(self, limit: Floats) -> tuple[Floats, Floats]:
        average = align_cases(self.average, limit.ndim)
        part = np.clip(limit / average, 0.0, 700.0)  # exp(-700) is nothing, and an endless limit stays a number
        return -np.expm1(-part), average * (-np.expm1(-part) - part * np.exp(-part))


@dataclass(frozen=True)
class FiniteQuotes(Quotes):
    """A price list, on the last axis: `values` [money], infinite: no repair is offered, and their `weights`. [-]"""

    values: Floats
    weights: Floats

    def __post_init__(self) -> None:
        require("values", self.values, 0.0, math.inf, "money")
        require("weights", self.weights, 0.0, 1.0, "")
        if not np.allclose(np.sum(self.weights, axis=-1), 1.0):
            raise CaseError("weights", "must add up to 1, got {got}", np.sum(self.weights, axis=-1))

    def _accepted(self, limit: Floats) -> tuple[Floats, Floats]:
        chance = paid = np.zeros(())
        for value, weight in zip(np.moveaxis(self.values, -1, 0), np.moveaxis(self.weights, -1, 0), strict=True):
            within = align_cases(weight, limit.ndim) * (align_cases(value, limit.ndim) <= limit)
            chance, paid = chance + within, paid + within * np.where(within > 0, align_cases(value, limit.ndim), 0.0)
        return chance, paid
