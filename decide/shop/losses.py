r"""What customers lost by past quotes, less what their own limits explain.

A customer's own limit lies about the shop's R with a spread s, which no shop can see. Even if all knew theirs and went
by it, some would turn down a quote x within R and some would pay one above it. So of what is counted, that is taken off
which is to be expected then:

.. math:: \sum_{declined} (R - x)^+ - \sum (R - x)^+ \Phi\!\left(-\frac{R - x}{s}\right), \qquad
    \sum_{accepted} (x - R)^+ - \sum (x - R)^+ \Phi\!\left(-\frac{x - R}{s}\right)

The range holds the chance of the draw (nine in ten) and the doubt in the spread. Both are losses, and never below 0.
"""

import math
from dataclasses import dataclass, field, fields
from typing import Self

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from ..arrays import Floats
from .acceptance import NINE_IN_TEN

Mask = NDArray[np.bool_]


@dataclass(frozen=True)
class Loss:
    """A loss of all customers together. [money]"""

    counted: float
    """As if every limit were the shop's."""
    explained: float
    """What of it customers' own limits explain."""
    value: float
    low: float
    high: float


@dataclass(frozen=True, kw_only=True)
class Losses:
    """Answered quotes beside the limits; those of parts of a book add up."""

    quotes: int = 0
    """Answered or not."""
    above: int = 0
    accepted_above: int = 0
    declined_within: int = 0
    counted: Floats = field(default_factory=lambda: np.zeros(2))
    """By turning down, and by paying; shape (2,). [money]"""
    sums: Floats = field(default_factory=lambda: np.zeros((2, 2, 3)))
    """Excess over what is expected: its sum and that of its squares, by kind of loss and spread; shape (2, 2, 3)."""

    def __add__(self, other: "Losses") -> Self:
        return type(self)(**{each.name: getattr(self, each.name) + getattr(other, each.name) for each in fields(self)})

    @property
    def passed_up(self) -> Loss:
        """Good repairs turned down."""
        return self._loss(0)

    @property
    def paid_too_much(self) -> Loss:
        """Repairs paid above the limit."""
        return self._loss(1)

    def _loss(self, which: int) -> Loss:
        counted, (excess, squares) = float(self.counted[which]), self.sums[:, which]
        chance = NINE_IN_TEN * math.sqrt(float(squares.max()))
        value, low, high = float(excess[1]), float(excess.min()) - chance, float(excess.max()) + chance
        ends = (max(each, 0.0) for each in (value, low, high))
        return Loss(counted, counted - value, *ends)


def losses_of(
    quote: Floats, limit: Floats, spread: Floats, doubt: tuple[float, float], accepted: Mask, declined: Mask
) -> Losses:
    """What customers lost by some quotes; columns of shape (n), amounts in money.

    `spread` is the standard deviation of customers' own limits, `doubt` its least and greatest factor. An open quote is
    neither accepted nor declined.
    """
    over = quote > limit
    gaps = np.stack([np.maximum(limit - quote, 0.0), np.maximum(quote - limit, 0.0)])
    counted = gaps * np.stack([declined, accepted])
    spreads = np.maximum(np.multiply.outer((doubt[0], 1.0, doubt[1]), spread), 1e-9)
    expected = gaps * np.where(accepted | declined, ndtr(-gaps / spreads[:, np.newaxis]), 0.0)
    excess = counted - expected  # shape (3, 2, n)
    return Losses(
        quotes=len(quote),
        above=int(np.count_nonzero(over)),
        accepted_above=int(np.count_nonzero(over & accepted)),
        declined_within=int(np.count_nonzero(~over & declined)),
        counted=counted.sum(axis=1),
        sums=np.stack([excess.sum(axis=2).T, (excess**2).sum(axis=2).T]),
    )
