"""The bill before any quote, and whether a visit is worth its fee.

What the repair of one cause asks for is spread over a range of which eight in ten such repairs fall inside; over the
causes that may be behind what is seen it is a mixture. Causes stand on the last axis of each array, cases on the rest.
Against the repair limit of a case it says what it is worth to have someone look.
"""

from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from ..arrays import Floats, Number
from ..errors import CaseError, require
from ..finance.special import ndtr, ndtri
from .check_order import require_chances

INSIDE: Final = 0.8  # Share of the repairs of one cause that fall inside its range. [-]


@dataclass(frozen=True, kw_only=True)
class Bill:
    """The bill before anyone has quoted: for each cause a lognormal of which `INSIDE` falls between low and high.

    Where both ends are the same, that amount is certain.
    """

    chance: Floats  # Of each cause, shape (..., causes). [-]
    low: Floats  # One bill in ten for that cause is smaller, shape (..., causes). [money]
    high: Floats  # One in ten is larger. [money]

    def __post_init__(self) -> None:
        require_chances(self.chance)
        require("checks.repair_low", self.low, 0.0, 1e9, "money")
        require("checks.repair_high", self.high, 0.0, 1e9, "money")
        if np.any(self.high < self.low) or np.any((self.low == 0) & (self.high > 0)):
            raise CaseError("checks.repair_high", "must be the low end or more, and a range must not begin at 0")

    @cached_property
    def middle(self) -> Floats:
        """Median bill of each cause, shape (..., causes). [money]"""
        return np.sqrt(self.low * self.high)

    @cached_property
    def _spread(self) -> Floats:
        """Standard deviation of the logarithm."""
        ratio = np.divide(self.high, self.low, out=np.ones_like(self.middle), where=self.low > 0)
        return np.log(ratio) / (2 * ndtri((1 + INSIDE) / 2))

    @property
    def logarithm(self) -> tuple[Floats, Floats]:
        """Mean and standard deviation of the logarithm of each cause's bill; shape (..., causes)."""
        return np.log(self.middle), self._spread

    @cached_property
    def by_cause(self) -> Floats:
        """Mean bill of each cause, shape (..., causes). [money]"""
        return self.middle * np.exp(self._spread**2 / 2)

    @property
    def mean(self) -> Number:
        """Mean bill. [money]"""
        return np.sum(self.chance * self.by_cause, axis=-1)

    def below(self, amount: Number) -> Number:
        """Chance that the bill is at most an amount, one for each case. [-]"""
        score, ends = self._score(np.asarray(amount, dtype=float)[..., None])
        inside = np.where(self._spread > 0, ndtr(score), ends >= 0)
        return np.sum(self.chance * inside, axis=-1)

    def _score(self, amount: Floats) -> tuple[Floats, Floats]:
        """How many spreads an amount lies above the middle of each cause; and by how much money."""
        with np.errstate(divide="ignore"):
            gap = np.log(np.maximum(amount, 0.0)) - np.log(np.where(self.middle > 0, self.middle, 1.0))
        return np.divide(gap, self._spread, out=np.zeros(gap.shape), where=self._spread > 0), amount - self.middle

    def quantile(self, share: float) -> Number:
        """Smallest amount that a share of all bills stays within."""
        require("checks.share", share, 1e-6, 1 - 1e-6, "")
        top = np.max(self.middle * np.exp(self._spread * ndtri(share)), axis=-1)
        low, high = np.zeros(self.chance.shape[:-1]), np.broadcast_to(top, self.chance.shape[:-1]) * (1 + 1e-12)
        for _ in range(64):
            middle = (low + high) / 2
            enough = self.below(middle) >= share
            low, high = np.where(enough, low, middle), np.where(enough, middle, high)
        return np.where(self.below(np.zeros_like(low)) >= share, 0.0, high)

    def gain(self, limits: ArrayLike) -> Floats:
        """What a repair is expected to bring for each cause, done only where the bill is below its limit.

        ``E max(L - B, 0) = L N(d) - E[B] N(d - s)``, with d the place of L in the spread s. Limits, one for all causes
        or with one for each, and what comes back have shape (..., causes). [money]
        """
        most = np.maximum(np.asarray(limits, dtype=float), 0.0)
        score, gap = self._score(most)
        spread_out = most * ndtr(score) - self.by_cause * ndtr(score - self._spread)
        return np.where(self._spread > 0, np.maximum(spread_out, 0.0), np.maximum(gap, 0.0))


def bill_of_causes(
    chance: Floats, parts: Floats, hours: Floats, rate: float, tax: float = 0.0, fee: float = 0.0
) -> Bill:
    """The bill of causes by what each asks for: parts with their tax, and labour; dear parts go with long work.

    `parts` [money] and `hours` have shape (causes, 2), both ends of a range of which `INSIDE` of such repairs fall
    inside. The fee of the visit is spent by the time of a quote, so that it counts only where it is given.
    """
    low, high = (fee + parts[:, end] * (1 + tax) + hours[:, end] * rate for end in (0, 1))
    return Bill(chance=chance, low=low, high=high)


def law_of_bills(weights: ArrayLike, low: ArrayLike, high: ArrayLike, mended: ArrayLike) -> tuple[float, float, float]:
    """The law of later bills over the causes of a class: median, spread of the logarithm, and the share none mends.

    A lognormal by mean and spread of the logarithm of bills that can be mended. `weights` say how often each cause is
    behind a failure, in any proportion; eight in ten of its bills lie between `low` and `high`. [money, -, -]
    Raises `CaseError`: no cause that can be mended, or a weight below 0.
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
    return float(np.exp(mean)), spread, float(1 - total / np.sum(weight))


@dataclass(frozen=True, kw_only=True)
class VisitValue:
    """Whether it is worth paying someone to come and look. All against doing without the repair."""

    gain: Number
    """What deciding with the bill known is expected to bring: mean of limit less bill, at least 0 each. [money]"""
    worth: Number  # The same less the fee; above 0 the visit pays. [money]
    found_by_owner: Number  # Chance that the owner's own checks find the cause. [-]
    worth_after_own: Number
    """What the visit is worth when the own checks have found nothing; NaN where they find all there is. [money]"""
    worth_own_first: Number
    """What it is worth to make the own checks, and then pay for a visit only where that pays. [money]"""


def visit(
    bill: Bill, limits: ArrayLike, fee: Number, by_owner: ArrayLike, mended_by_owner: ArrayLike, credited: Number = 0.0
) -> VisitValue:
    """Say whether a visit is worth its fee, at once or after the owner's own checks.

    ``worth = sum of p_i E max(L + k F - B_i, 0) - F``: the repair is done where its bill, less what is credited of the
    fee, is below the limit. After own checks that found nothing the chances are shared anew. What the owner finds and
    can mend takes no fee; what is found but needs a technician is worth ``max(E max(L + k F - B_i, 0) - F, 0)``.

    `limits` are the highest bills worth paying with each cause, shape (..., causes) or one for all [money]. `by_owner`
    and `mended_by_owner` mark the causes that an owner can check and put right, shape (causes,). `credited` is the
    share of the fee that comes off an accepted bill [-].
    Raises `OutOfRange`: a fee below 0, or a share outside 0 to 1.
    """
    require("checks.fee", fee, 0.0, 1e6, "money")
    require("checks.credited", credited, 0.0, 1.0, "")
    own, self_mended = np.asarray(by_owner, dtype=bool), np.asarray(mended_by_owner, dtype=bool)
    fees, most = np.asarray(fee, dtype=float), np.asarray(limits, dtype=float)
    paid = fees[..., None]
    p, brought = bill.chance, bill.gain(most + np.asarray(credited)[..., None] * paid)
    share = np.sum(np.where(own, p, 0.0), axis=-1)
    rest = np.sum(np.where(own, 0.0, p * brought), axis=-1)
    left = np.sum(np.where(own, 0.0, p), axis=-1)
    known = np.where(self_mended, bill.gain(most), np.maximum(brought - paid, 0.0))
    after = np.divide(rest, left, out=np.full(np.broadcast(rest, left).shape, np.nan), where=left > 0) - fees
    gain = np.sum(p * brought, axis=-1)
    return VisitValue(
        gain=gain,
        worth=gain - fees,
        found_by_owner=share,
        worth_after_own=after,
        worth_own_first=np.sum(np.where(own, p * known, 0.0), axis=-1) + np.maximum(rest - left * fees, 0.0),
    )
