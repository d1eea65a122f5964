r"""Up to what quote a repair is worth paying at each age, when it is decided afresh at every failure.

A unit of age v fails at the rate lambda(v). A failure costs the penalty d whatever is decided, and brings a quote X:
repair it, or buy another for the price K. With rho = ln(1 + rate) and Lambda(R) = E[min(X, R)], a working unit is worth
R(v), and that is the repair limit at its age:

.. math:: R' = \rho R - w e^{-\gamma t} + c(v) + \lambda(v) (d + \Lambda(R)), \qquad R(0) = K

It is replaced on a planned date where R falls to 0. The one unknown is the *cost rate* w = (rho + gamma) U: what it
costs a year to be served for good, U being the present cost of being about to buy. At rate 0 it is the long-run
average. A market that improves makes U fall at the rate gamma.

A policy is a limit in each step between two ages. Its worth is linear in w, so R(0) = K gives w at once (evaluation);
the worth is then the better limit (improvement). Repeating the two is Howard's policy iteration, which is Newton's
method on w. In a step hazard, running cost and limit are constant, taken at its middle: the answer is of second order.
Beyond the last age a unit ages no further.

Ages are in years. A column has one entry a case on the leading axis; age stands on the last axis. A function of age is
called with an array of ages, shape (1 or cases, K).

References
----------
Drinkwater & Hastings, Operational Research Quarterly 18 (1967) 121-138; L'Ecuyer & Haurie, Optimal Control
Applications and Methods 8 (1987) 219-230; Howard, Dynamic Programming and Markov Processes (1960).
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from policy_quotes import LognormalQuotes, Quotes
from scipy.special import exprel

from decide.arrays import Floats, Number, align_cases
from decide.errors import CaseError, NoSolution, require
from decide.finance.life import Life

OfAge: TypeAlias = Callable[[Floats], Floats]

AGES = np.linspace(0.0, 60.0, 241)  # by the quarter
NO_AGEING = 1e6  # [year] stands for the endless stretch beyond the last age
CERTAIN = 1e9  # a hazard gained in one step beyond which nothing changes
SETTLED = 1e-11  # relative change below which an iteration has arrived
SWEEPS = 1_000  # about 6 for minimal repair, 12 for imperfect; a guard


def _nothing(ages: Floats) -> Floats:
    return np.zeros_like(ages)


@dataclass(frozen=True)
class MaintenanceAndRepair:
    """What keeping a unit costs: quotes when it fails, what each failure costs besides [money], and running it.

    `running_cost` takes an array of ages and gives energy, water and the like at each. [money/year]
    """

    quotes: Quotes | LognormalQuotes
    penalty: Number = 0.0
    running_cost: OfAge = _nothing

    def __post_init__(self) -> None:
        require("penalty", self.penalty, 0.0, math.inf, "money")


@dataclass(frozen=True)
class Policy:
    """When to repair, what that costs a household that is about to buy for good, and how long it keeps a unit."""

    ages: Floats
    """Shape (K,). [year]"""
    limits: Floats
    """Highest quote to accept at each age, shape (..., K); 0 once it is to be replaced though it works. [money]"""
    planned_age: Floats
    """Age at which it is replaced though it works, shape (...); infinite: never. [year]"""
    cost_rate: Floats
    """What it costs to be served for good, (rho + gamma) U, shape (...). [money/year]"""
    present_cost: Floats
    """U, shape (...); infinite without discount. [money]"""
    kept: Floats
    """Chance that a unit is still kept at each age, shape (..., K). [-]"""
    mean_life: Floats
    """Shape (...). [year]"""


class _Owning:
    """A failure law and its upkeep on a grid of ages; the last step stands for all that lies beyond it."""

    def __init__(
        self, failures: Life, repairs: MaintenanceAndRepair, rate: Number, ages: Floats, stake: Number,
        fall: Number = 0.0, planned_age: Number = math.inf,
    ) -> None:  # fmt: skip
        require("rate", rate, 0.0, 1.0, "a year")
        require("market_fall", fall, 0.0, 1.0, "a year")
        if not (np.ndim(ages) == 1 and np.size(ages) > 1 and ages[0] >= 0 and np.all(np.diff(ages) > 0)):
            raise CaseError("ages", "must be two or more, rising from 0 or more")
        require("planned_age", np.where(np.isinf(planned_age), ages[0], planned_age), ages[0], ages[-1], "years")
        columns = stake, rate, fall, planned_age, repairs.penalty, repairs.quotes.partial_mean(np.inf)
        self.shape = np.broadcast_shapes(*(np.shape(c) for c in (*columns, failures.cumulative_hazard(1.0))))
        self.stake, rate, self.fall, self.until, self.penalty, _ = (
            np.atleast_1d(np.asarray(column, dtype=float))[:, np.newaxis] for column in columns
        )
        self.rho, self.ages, self.quotes = np.log1p(rate), ages, repairs.quotes
        self.starts = np.minimum(ages, self.until)  # the steps after a planned replacement have no length
        lengths = np.diff(self.starts)
        self.spans = np.append(lengths, np.where(np.isinf(self.until), NO_AGEING, 0.0), axis=-1)
        self.middles = self.starts + np.append(lengths, np.zeros_like(self.until), axis=-1) / 2
        with np.errstate(invalid="ignore"):  # a life that ends on a known day
            hazard = np.fmin(np.diff(failures.cumulative_hazard(self.starts)), CERTAIN)
        pace = np.divide(hazard, lengths, out=np.zeros_like(hazard), where=lengths > 0)
        self.failure_rate = np.append(pace, pace[:, -1:], axis=-1)
        self.running = repairs.running_cost(self.middles) + 0 * self.middles
        require("running_cost", self.running, -math.inf, math.inf, "money a year")
        shapes = (*self.shape, 1), self.starts.shape, self.failure_rate.shape, self.running.shape
        self.zero = np.zeros(np.broadcast_shapes(*shapes))

    def service(self, force: Floats) -> Floats:
        """Years of service that a step gives, each worth less by `force` a year."""
        return self.spans * exprel(-force * self.spans)

    def market(self, when: Floats) -> Floats:
        """What is left by then of today's cost of being about to buy."""
        return np.exp(-self.fall * (when - self.starts[:, :1]))

    def worth(self, limits: Floats, cost_rate: Floats, least: float) -> tuple[Floats, Floats]:
        """Worth of a working unit at each age under these limits, at least `least`; its slope in the cost rate."""
        chance, paid = self.quotes.cdf(limits), self.quotes.partial_mean(limits)
        force = self.rho + self.failure_rate * (1 - chance)
        carried = np.exp(-force * self.spans)
        served = self.service(force + self.fall) * self.market(self.starts)
        cost = self.service(force) * (self.running + self.failure_rate * (self.penalty + paid))
        worth = _backwards(carried, cost_rate * served - cost, least)
        return worth, _backwards(carried * (_next(worth) > least), served, -math.inf)

    def worn_out_at(self, worth: Floats, cost_rate: Floats) -> Floats:
        """Age from which a working unit is worth nothing: there it costs, a year, as much as being served anew."""
        worthless = worth <= 0
        step = np.argmax(worthless, axis=-1, keepdims=True)
        gain = self.zero + cost_rate * self.market(self.middles) - self.running - self.failure_rate * self.penalty
        around = np.maximum(step - 1, 0), step
        last, first = (np.take_along_axis(gain, at, axis=-1) for at in around)
        here, there = (np.take_along_axis(self.zero + self.middles, at, axis=-1) for at in around)
        share = np.clip(np.divide(last, last - first, out=np.ones_like(last), where=last > first), 0.0, 1.0)
        age = np.where(step > 0, here + (there - here) * share, self.ages[0])
        return np.where(worthless.any(axis=-1, keepdims=True), age, math.inf)

    def policy(self, limits: Floats, steps: Floats, planned_age: Floats, cost_rate: Floats) -> Policy:
        """The answer; one without a leading axis where every input was one number."""
        force = self.rho + self.fall + 0 * cost_rate
        present = np.divide(cost_rate, force, out=np.full_like(force, math.inf), where=force > 0)
        retiring = self.failure_rate * (1 - self.quotes.cdf(steps))
        spans = np.clip(planned_age - self.starts, 0.0, self.spans)
        gone = np.cumsum(retiring * spans, axis=-1)
        kept = np.exp(-np.append(np.zeros_like(gone[:, :1]), gone[:, :-1], axis=-1)) * (self.ages < planned_age)
        life = np.sum(kept * spans * exprel(-retiring * spans), axis=-1, keepdims=True)
        answers = limits, planned_age, cost_rate, present, kept, life
        cases = self.shape or ((len(self.zero),) if len(self.zero) > 1 else ())
        wide = (np.broadcast_to(rows, (len(self.zero), rows.shape[-1])) for rows in answers)
        return Policy(self.ages, *(a.reshape((*cases, *a.shape[1:]) if a.shape[-1] > 1 else cases) for a in wide))


def _next(at_ages: Floats) -> Floats:
    return np.append(at_ages[:, 1:], at_ages[:, -1:], axis=-1)


def _backwards(carried: Floats, gained: Floats, least: float) -> Floats:
    """Worth at each age from the worth at the next: x_k = carried_k max(x_(k+1), least) + gained_k."""
    carried, gained = (np.ascontiguousarray(steps.T) for steps in np.broadcast_arrays(carried, gained))
    worth, later = np.empty_like(gained), np.zeros(gained.shape[1:])
    for step in range(len(gained) - 1, -1, -1):
        later = worth[step] = carried[step] * np.maximum(later, least) + gained[step]
    return worth.T


def best_policy(
    failures: Life, repairs: MaintenanceAndRepair, price: Number, rate: Number, ages: Floats = AGES,
    market_fall: Number = 0.0
) -> Policy:  # fmt: skip
    """The highest quote worth paying at each age of a unit that is followed by its like.

    Parameters
    ----------
    failures : law of the first failure; a repair leaves the failure rate as it was (minimal repair), shape (...) [-]
    repairs : quotes, penalty and running cost, shape (...) [-]
    price : cost of replacing, K, shape (...) [money]
    rate : discount rate; 0 gives long-run averages, shape (...) [1/year]
    ages : ages at which to answer, rising from that at which units are bought, 0 if new, shape (K,) [year]
    market_fall : rate at which the cost of being about to buy falls, gamma, shape (...) [1/year]

    Returns
    -------
    policy : limits, planned age, cost and retirement, shape (...) [-]

    Raises
    ------
    OutOfRange
        A price below zero, or a case out of the bounds of its parts.
    NoSolution
        The limits did not come to rest.

    Examples
    --------
    >>> from decide.finance.life import Weibull
    >>> from policy_quotes import ExponentialQuotes
    >>> repairs = MaintenanceAndRepair(ExponentialQuotes(180.0), 60.0, lambda age: 55 + 1.5 * age)
    >>> best = best_policy(Weibull(shape=2.5, scale=12.0), repairs, price=700.0, rate=0.03)
    >>> np.interp([5.0, 10.0, 15.0], best.ages, best.limits).round().tolist(), round(float(best.planned_age), 1)
    ([417.0, 215.0, 99.0], 26.8)
    """
    require("price", price, 0.0, math.inf, "money")
    owning = _Owning(failures, repairs, rate, ages, price, market_fall)
    limits, cost_rate, least = owning.zero + owning.stake, owning.zero[:, :1], -math.inf
    for _ in range(SWEEPS):
        worth, slope = owning.worth(limits, cost_rate, least)
        change = (owning.stake - worth[:, :1]) / slope[:, :1]
        cost_rate, worth = cost_rate + change, worth + slope * change
        if least == 0 and np.all(change >= -SETTLED * np.abs(cost_rate)):  # policies get no cheaper
            worth = np.maximum(worth, 0.0)
            return owning.policy(worth, limits, owning.worn_out_at(worth, cost_rate), cost_rate)
        limits, least = _between(worth), 0.0
    raise NoSolution("repair limit: the policy found no rest")


def _between(worth: Floats) -> Floats:
    """Limits in the steps from the worth at the ages."""
    worth = np.maximum(worth, 0.0)
    return (worth + _next(worth)) / 2


def limits_against(
    failures: Life, repairs: MaintenanceAndRepair, cost_rate: Number, rate: Number, ages: Floats = AGES,
    market_fall: Number = 0.0
) -> Policy:  # fmt: skip
    """The highest quote worth paying for a unit that a unit of another kind will follow.

    Parameters and errors are as in `best_policy`, but `cost_rate` is that of the other kind's policy [money/year], and
    `ages` start at the unit's age today. `kept` and `mean_life` count from there.

    Examples
    --------
    >>> from decide.finance.life import Weibull
    >>> from policy_quotes import ExponentialQuotes
    >>> sound, repairs = Weibull(shape=2.5, scale=12.0), MaintenanceAndRepair(ExponentialQuotes(180.0))
    >>> old = limits_against(sound, repairs, cost_rate=100.0, rate=0.0, ages=np.linspace(8.0, 40.0, 129))
    >>> round(float(old.limits[0]))
    1009
    """
    require("cost_rate", cost_rate, 0.0, math.inf, "money a year")
    owning = _Owning(failures, repairs, rate, ages, cost_rate, market_fall)
    limits, before = owning.zero, owning.zero - math.inf
    for _ in range(SWEEPS):
        worth, _ = owning.worth(limits, owning.stake, 0.0)
        if np.all(worth <= before + SETTLED * np.abs(worth)):  # nothing more to gain
            return owning.policy(np.maximum(worth, 0.0), limits, owning.worn_out_at(worth, owning.stake), owning.stake)
        limits, before = _between(worth), worth
    raise NoSolution("repair limit: the policy found no rest")


def fixed_policy(
    failures: Life, repairs: MaintenanceAndRepair, price: Number, rate: Number, limit: OfAge,
    planned_age: Number = math.inf, ages: Floats = AGES, market_fall: Number = 0.0,
) -> Policy:  # fmt: skip
    """What a given rule costs: repair up to the limit at each age, and replace at the planned age at the latest.

    Parameters are as in `best_policy`; a limit below zero raises `OutOfRange`. The rule costs a household `cost_rate`
    less that of the best policy a year more than it need pay. A limit should jump, if at all, on one of the ages.

    Examples
    --------
    >>> from decide.finance.life import Weibull
    >>> from policy_quotes import FiniteQuotes
    >>> repairs = MaintenanceAndRepair(FiniteQuotes(np.array([180.0]), np.array([1.0])))
    >>> rule = constant_limit(np.inf)  # repair whatever it costs, replace at 17.5 years (Barlow & Hunter, 1960)
    >>> round(float(fixed_policy(Weibull(shape=2.5, scale=12.0), repairs, 700.0, 0.0, rule, 17.5).cost_rate), 2)
    66.42
    """
    require("price", price, 0.0, math.inf, "money")
    owning = _Owning(failures, repairs, rate, ages, price, market_fall, planned_age)
    steps = owning.zero + limit(owning.middles)
    require("limit", steps, 0.0, math.inf, "money")
    worth, slope = owning.worth(steps, owning.zero[:, :1], -math.inf)
    limits = np.where(ages < owning.until, limit(ages[np.newaxis]), 0.0)
    return owning.policy(limits, steps, owning.until, (owning.stake - worth[:, :1]) / slope[:, :1])


def constant_limit(limit: Number, until: Number = math.inf) -> OfAge:
    """Rule: repair up to one limit before a given age, and nothing from then on.

    A share of the price, the same until half the usual life, or `numpy.inf` until an age (Muth, 1977).
    """
    return lambda ages: np.where(ages < align_cases(until, 2), align_cases(limit, 2), 0.0)


def age_times_quote(ceiling: Number) -> OfAge:
    """Rule: repair as long as the age times the quote stays below a ceiling. [money year]"""
    return lambda ages: align_cases(ceiling, 2) / np.maximum(ages, 1e-9)
