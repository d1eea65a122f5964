r"""When a shop should say "repair", show both ways, or say "replace", so that its customers lose least by its word.

The shop works with figures of a class. A customer's own repair limit R* lies about the shop's R with a spread s, taken
as normal. With a quote x and the advantage a = R - x, the expected **regret** of a word, which is what the customer
pays beyond the cheaper way, is

- repair: E[max(x - R*, 0)] = s L(a / s);
- replace: E[max(R* - x, 0)] = s L(-a / s), so that the two differ by a;
- both: a stated cost of attention, for which the customer chooses the cheaper way by the facts at home (so the spread
  is that of facts which a customer can know; what nobody knows stands on both sides of every word alike),

with L(z) = phi(z) - z (1 - Phi(z)), the unit normal loss. The lesser of the first two is what it would be worth to know
R*, so it pays to show both just where that is more than the attention.

**Bands** are two thresholds on one score of a job: repair up to the lower, replace above the higher, both between. Jobs
sorted by score, the regret of a pair of thresholds is a sum of prefixes, f(lower) + g(higher); the best pair is found
by one running minimum: exact, in the time of the sort.

Source: Raiffa & Schlaifer, Applied Statistical Decision Theory (1961), for the normal loss and the worth of knowing.
The scores of rules of thumb are common practice, no source.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.special import log_expit, logit, ndtr

from ..arrays import Floats, Number
from ..errors import CaseError, require
from .acceptance import Curve
from .quoting import FeeTerms

Mask = NDArray[np.bool_]


def normal_loss(z: Number) -> Floats:
    """Unit normal loss, E[max(Z - z, 0)] of a standard normal Z. [-]"""
    z = np.asarray(z, dtype=float)
    return np.exp(-(z**2) / 2) / math.sqrt(2 * math.pi) - z * ndtr(-z)


@dataclass(frozen=True, kw_only=True)
class Regrets:
    """Expected regret of each word, one entry a job. [money]"""

    repair: Floats
    both: Floats
    replace: Floats

    @property
    def least(self) -> float:
        """Regret of all jobs if each got the best word for it: no bands do better. [money]"""
        return float(np.sum(np.minimum(np.minimum(self.repair, self.replace), self.both)))


def regrets_of(quote: Floats, limit: Floats, spread: Number, attention: Number) -> Regrets:
    """What each word can be expected to cost each customer; all columns of shape (n), in money.

    `limit` is the shop's repair limit, `spread` the standard deviation of customers' own limits about it (0: they are
    alike), `attention` what it costs a customer to weigh both ways. A quote, spread or attention below zero, or what is
    no number, raises `OutOfRange`.
    """
    require("quote", quote, 0, math.inf, "money")
    require("limit", limit, -1e9, 1e9, "money")
    require("spread", spread, 0, 1e9, "money")
    require("attention", attention, 0, 1e6, "money")
    repair = _shortfall(limit - quote, spread)
    both = np.broadcast_to(np.asarray(attention, dtype=float), repair.shape)
    return Regrets(repair=repair, both=both, replace=_shortfall(quote - limit, spread))


def _shortfall(mean: Floats, spread: Number) -> Floats:
    """E[max(-A, 0)] of a normal A."""
    wide, mean = np.broadcast_arrays(np.asarray(spread, dtype=float), mean)
    z = np.divide(mean, wide, out=np.zeros(mean.shape), where=wide > 0)
    return np.where(wide > 0, wide * normal_loss(np.clip(z, -1e8, 40.0)), np.maximum(-mean, 0.0))


def share_of_limit(quote: Floats, limit: Floats) -> Floats:
    """Score of a job: its quote over its repair limit; infinite where even a free repair is not worth it. [-]"""
    return np.divide(quote, limit, out=np.full(np.shape(quote), math.inf), where=limit > 0)


# bands


@dataclass(frozen=True)
class Bands:
    """Repair up to `lower`, replace above `higher`, show both between; thresholds on a score."""

    lower: float
    """-inf: never say "repair"; inf: never anything else. [-]"""
    higher: float
    """inf: never say "replace". [-]"""

    @property
    def says(self) -> tuple[str, ...]:
        """Which words these bands can say, from low scores to high ones."""
        conclusions = {
            "repair": self.lower > -math.inf,
            "both": self.higher > self.lower,
            "replace": self.higher < math.inf,
        }
        return tuple(word for word, ever in conclusions.items() if ever)

    def words(self, score: Floats) -> NDArray[np.int8]:
        """0 repair, 1 both, 2 replace; shape (n)."""
        return ((score > self.lower).astype(np.int8) + (score > self.higher)).astype(np.int8)

    def regret(self, score: Floats, regrets: Regrets) -> float:
        """Regret of all jobs under these bands. [money]"""
        return float(np.sum(np.choose(self.words(score), (regrets.repair, regrets.both, regrets.replace))))


def best_bands(score: Floats, regrets: Regrets) -> Bands:
    """The pair of thresholds on a score, shape (n), under which all customers together regret least.

    Jobs of one score get one word. No job, or a score that is no number, raises `CaseError`.
    """
    order, cuts = _cuts(score)
    repair, both, replacing = (_prefixes(each[order])[cuts] for each in (regrets.repair, regrets.both, regrets.replace))
    begun = repair - both  # said "repair" before the cut
    ended = both - replacing  # said "both" before it, and "replace" after
    first = np.minimum.accumulate(begun)
    higher = int(np.argmin(first + ended))
    lower = higher - int(np.argmin(begun[higher::-1]))
    return Bands(_threshold(score, order, cuts[lower]), _threshold(score, order, cuts[higher]))


def best_cut(score: Floats, regrets: Regrets) -> Bands:
    """The single threshold of a rule that says only "repair" or "replace"; else as `best_bands`."""
    order, cuts = _cuts(score)
    repair, replacing = (_prefixes(each[order])[cuts] for each in (regrets.repair, regrets.replace))
    cut = _threshold(score, order, cuts[int(np.argmin(repair - replacing))])
    return Bands(cut, cut)


def _cuts(score: Floats) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Order of the jobs by score, and after how many of them a threshold can lie."""
    if not len(score) or np.any(np.isnan(score)):
        raise CaseError("score", "must be a number for each of one or more jobs, got {n} jobs", len(score))
    order = np.argsort(score, kind="stable")
    steps = np.flatnonzero(score[order][1:] > score[order][:-1]) + 1
    return order, np.concatenate([[0], steps, [len(score)]])


def _prefixes(amounts: Floats) -> Floats:
    return np.concatenate([[0.0], np.cumsum(amounts)])


def _threshold(score: Floats, order: NDArray[np.intp], taken: int) -> float:
    """The score up to which so many jobs lie; without an end where it parts nothing."""
    if taken in (0, len(order)):
        return math.inf if taken else -math.inf
    return float(score[order[taken - 1]])


# rules of thumb


def repair_where(says_repair: Mask, regrets: Regrets) -> float:
    """Regret of all jobs under a rule that says "repair" to some and "replace" to the rest. [money]"""
    return float(np.sum(np.where(says_repair, regrets.repair, regrets.replace)))


def below_share(quote: Floats, new_price: Floats, share: float, age: Number = 0.0, until: Number = math.inf) -> Mask:
    """Rule: repair below a share of the price of a new unit, and nothing from an age on.

    A quote that just reaches the share is replaced, as is a unit that just reaches the age.
    """
    return (quote < share * new_price) & (np.asarray(age) < until)


# what if


@dataclass(frozen=True, kw_only=True)
class Offers:
    """Quotes as both sides see them, in columns of shape (n), in money; ages in years."""

    quote: Floats
    """Asked for the repair, tax included."""
    terms: FeeTerms
    limit: Floats
    """Repair limit without any terms."""
    new_price: Floats
    age: Floats
    kept: Floats
    """What the shop keeps of an accepted quote: its lines less what the job costs, fees apart."""
    visit_cost: Number = 0.0
    """What a visit costs the shop, whatever comes of it."""
    calls: float = 1.0
    """Calls that come, where those of the book are 1."""

    @property
    def excess(self) -> Floats:
        """How far the incremental price lies above the limit, as a share of the price of new. [-]"""
        return (self.terms.price(self.quote) - self.limit) / self.new_price


def with_dearer_line(offers: Offers, line: Floats, factor: float, tax_rate: float) -> Offers:
    """The same offers with one line, such as labour, which is charged before tax, at so many times itself. [money]"""
    require("line", line, 0, 1e7, "money")
    more = (factor - 1) * line
    return replace(offers, quote=offers.quote + more * (1 + tax_rate), kept=offers.kept + more)


def under_terms(offers: Offers, terms: FeeTerms) -> Offers:
    """The same offers under other terms of the fee; what is credited can be no more than the quote."""
    credit = np.minimum(terms.credit, offers.quote)
    return replace(offers, terms=replace(terms, credit=credit))


def with_warranty(offers: Offers, more_repairs: Number, redo_cost: Floats) -> Offers:
    """The same offers under a warranty that brings so many more free repairs, each at a cost to the shop. [money]

    A customer is spared the lesser of quote and limit each time, so accepting is worth that much more.
    """
    spared = np.clip(offers.limit, 0.0, offers.quote)
    return replace(
        offers, limit=offers.limit + more_repairs * spared, kept=offers.kept - np.asarray(more_repairs) * redo_cost
    )


@dataclass(frozen=True)
class Outcome:
    """What is to be expected of all offers together."""

    jobs_won: float
    margin: float
    """What the shop keeps, fees included. [money]"""
    gain: float
    """What the offers are worth to customers beside declining, fees included. [money]"""


def outcome(offers: Offers, curve: Curve) -> Outcome:
    r"""Jobs won, margin and customers' gain of a set of offers, if customers accept by a curve.

    .. math:: \sum p, \qquad \sum visit + p (kept - credit) + (1 - p)\, if\ declined - cost\ of\ visit, \qquad
        \sum \frac{new}{|slope|} \ln(1 + e^{logit\, p}) - visit - if\ declined

    The gain is the surplus of customers who know their own limits and accept by the curve: a dearer offer always lowers
    it, and one that is cheaper to them always raises it (Small & Rosen, Applied welfare economics with discrete choice
    models, Econometrica 49 (1981) 105-130, for the logarithm of the sum; from memory).
    """
    chance = np.asarray(curve.chance(offers.excess, offers.age))
    income = np.broadcast_to(offers.terms.income(offers.kept, chance), chance.shape)
    steep = -curve.by_excess if curve.told and curve.by_excess < 0 else math.nan
    surplus = -log_expit(-logit(chance)) * offers.new_price / steep
    gain = surplus - offers.terms.at_visit - offers.terms.if_declined
    return Outcome(*(offers.calls * float(np.sum(each)) for each in (chance, income - offers.visit_cost, gain)))


@dataclass(frozen=True)
class WhatIf:
    """Outcomes now and after a change, under each curve of acceptance."""

    now: tuple[Outcome, ...]
    then: tuple[Outcome, ...]

    def change(self, measure: str) -> tuple[float, float]:
        """Least and greatest change of a measure of `Outcome` over the curves."""
        moved = [getattr(b, measure) - getattr(a, measure) for a, b in zip(self.now, self.then, strict=True)]
        return min(moved), max(moved)


def what_if(now: Offers, then: Offers, curves: Sequence[Curve]) -> WhatIf:
    """What a change does to jobs won, margin and gain: one curve fitted, or several that span what is not known."""
    return WhatIf(tuple(outcome(now, curve) for curve in curves), tuple(outcome(then, curve) for curve in curves))
