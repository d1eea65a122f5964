"""Replacement chains and policies under imperfect repair, which published checks go by."""

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from policy import (
    AGES,
    SETTLED,
    SWEEPS,
    MaintenanceAndRepair,
    Policy,
    _backwards,
    _next,
    _Owning,
    best_policy,
)
from policy_quotes import Quotes, limited_mean
from scipy.special import gamma, gammainc

from decide.arrays import Floats, Number, align_cases
from decide.errors import CaseError, NoSolution, require
from decide.finance.life import Life


def imperfect_repair_policy(
    failures: Life, repairs: MaintenanceAndRepair, price: Number, rate: Number, age_kept: Number, ages: Floats = AGES
) -> Policy:
    r"""The best policy when a repair makes a unit of (virtual) age v as good as one of age q v.

    .. math:: R(v) = S(q v), \qquad
        S' = \rho S - w + c(v) + \lambda(v) (d + S - S(q v) + \Lambda(S(q v))), \qquad S(0) = K

    Parameters are as in `best_policy`; `age_kept` is q: 0 as good as new, 1 minimal repair. [-] Ages are virtual, so
    how long a household keeps a unit is not told: `kept` and `mean_life` are NaN.

    References
    ----------
    Kijima, J. Appl. Probability 26 (1989) 89-102, model II.
    """
    require("age_kept", age_kept, 0.0, 1.0, "")
    require("ages[0]", ages[0], 0.0, 0.0, "years")
    price = price + np.zeros(np.shape(age_kept))
    owning = _Owning(failures, repairs, rate, ages, price)
    force = owning.rho + owning.failure_rate
    carried, served = np.exp(-force * owning.spans), owning.service(force)
    idle = owning.running + owning.failure_rate * owning.penalty
    minimal = best_policy(failures, repairs, price, rate, ages)  # to start from: no better than the answer
    worth, cost_rate = owning.zero + minimal.limits, owning.zero[:, :1] + minimal.cost_rate.reshape(-1, 1)
    repaired_at = owning.zero + align_cases(age_kept, 2) * owning.middles
    for _ in range(SWEEPS):  # relative value iteration: w holds S(0) = K while S(q v) is that of the sweep before
        limits, before = _at(repaired_at, ages, worth), worth
        hope = owning.failure_rate * (limits - limited_mean(repairs.quotes, limits))
        worth = _backwards(carried, served * (cost_rate - idle + hope), 0.0)
        slope = _backwards(carried * (_next(worth) > 0), served, -math.inf)
        change = (owning.stake - worth[:, :1]) / slope[:, :1]
        cost_rate, worth = cost_rate + change, np.maximum(worth + slope * change, 0.0)
        if np.all(np.abs(worth - before) <= SETTLED * owning.stake):
            found = owning.policy(worth, limits, owning.worn_out_at(worth, cost_rate), cost_rate)
            limits = _at(owning.zero + align_cases(age_kept, 2) * ages, ages, worth).reshape(found.limits.shape)
            return replace(found, limits=limits, kept=math.nan * found.kept, mean_life=math.nan * found.mean_life)
    raise NoSolution("repair limit: the policy found no rest")


def _at(wanted: Floats, ages: Floats, values: Floats) -> Floats:
    """Values between the ages, by straight lines, case by case."""
    left = np.clip(np.searchsorted(ages, wanted, side="right") - 1, 0, ages.size - 2)
    share = (wanted - ages[left]) / (ages[left + 1] - ages[left])
    return (1 - share) * np.take_along_axis(values, left, -1) + share * np.take_along_axis(values, left + 1, -1)


@dataclass(frozen=True)
class Chain:
    """What to do with a machine in each of n conditions."""

    choice: NDArray[np.intp]
    """Condition to exchange it for, shape (n,); its own: keep it. [-]"""
    value: Floats
    """Cost from each condition on; without discount, in excess of condition 0, shape (n,). [money]"""
    cost_rates: Floats
    """Level cost a period, from condition 0 on, of each policy tried; the last is the best. [money/period]"""


def replacement_chain(keeping: Floats, survival: Floats, exchange: Floats, discount: float = 1.0) -> Chain:
    """Whether to keep a machine another period, or trade it for one of another age or condition, used ones too.

    Parameters
    ----------
    keeping : cost of running it through the next period, shape (n,) [money]
    survival : chance to be in each condition after that, shape (n, n) [-]
    exchange : cost of trading condition i for j, at once; infinite: cannot be, shape (n, n) [money]
    discount : worth of money a period later; at 1 the long-run average is minimised [-]

    Raises
    ------
    OutOfRange
        A discount outside 0 to 1, or a cost that is not a number.
    CaseError
        Chances from one condition that do not add up to 1.
    NoSolution
        The choices did not come to rest.

    References
    ----------
    Howard, Dynamic Programming and Markov Processes (1960), automobile replacement.

    Examples
    --------
    >>> wear = np.array([[0.0, 1.0, 0.0], [0.0, 0.0, 1.0], [0.0, 0.0, 1.0]])
    >>> anew = np.array([[np.inf, np.inf, np.inf], [60.0, np.inf, np.inf], [80.0, np.inf, np.inf]])
    >>> best = replacement_chain(np.array([10.0, 40.0, 90.0]), wear, anew)
    >>> best.choice.tolist(), round(float(best.cost_rates[-1]), 9)
    ([0, 1, 0], 65.0)
    """
    require("discount", discount, 1e-9, 1.0, "")
    for field, given in (("keeping", keeping), ("exchange", exchange)):
        require(field, given, -math.inf, math.inf, "money")
    if not np.allclose(np.sum(survival, axis=1), 1.0):
        raise CaseError("survival", f"rows must add up to 1, got {np.sum(survival, axis=1)}")
    here = np.arange(keeping.size)
    costs = np.where(np.eye(here.size, dtype=bool), 0.0, exchange)
    choice, rates = np.argmin(costs + keeping, axis=1), []
    for _ in range(SWEEPS):
        system = np.eye(here.size) - discount * survival[choice]
        if discount == 1:
            system[:, 0] = 1.0  # condition 0 is worth nothing, its place is taken by the average cost
        value = np.linalg.solve(system, costs[here, choice] + keeping[choice])
        rates.append(value[0] if discount == 1 else (1 - discount) * value[0])
        value = np.where((discount == 1) & (here == 0), 0.0, value)
        onward = costs + keeping + discount * survival @ value
        best = np.argmin(onward, axis=1)
        better = onward[here, best] < onward[here, choice] - SETTLED * np.abs(value).max()
        if not better.any():
            return Chain(choice, value, np.array(rates))
        choice = np.where(better, best, choice)
    raise NoSolution("replacement chain: the policy found no rest")


@dataclass(frozen=True)
class WeibullQuotes(Quotes):
    """Quotes of a Weibull law: its `shape` [-], and the `scale` that 63.2 % of them stay within. [money]"""

    shape: Number
    scale: Number

    def __post_init__(self) -> None:
        require("shape", self.shape, 0.1, 100.0, "")
        require("scale", self.scale, 1e-9, math.inf, "money")

    def _accepted(self, limit: Floats) -> tuple[Floats, Floats]:
        shape, scale = align_cases(self.shape, limit.ndim), align_cases(self.scale, limit.ndim)
        power = np.maximum(limit / scale, 0.0) ** shape
        return -np.expm1(-power), scale * gamma(1 + 1 / shape) * gammainc(1 + 1 / shape, power)
