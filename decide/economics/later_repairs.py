r"""What later repairs of an appliance cost, when each later quote is accepted just as long as it is worth paying.

Failures come at a rate lambda(v) with age v, each with a bill X. It is paid if X is at most the repair limit R(v) of
that age; a dearer one, or one that nobody can mend, means another appliance. With alpha(v) the share that is paid, d
what one failure costs in waiting, h the hazard of ending as published (whatever its reason), c the running cost,
rho the discount force and U the present cost of being about to buy new,

.. math::
    R' = \rho R - \rho U + c + u + h R, \qquad
    u = \lambda\, (\alpha d + E[X; X \le R]), \qquad R(0) = K,

K being what a new one costs. So ends as published, with a spending u on accepted repairs, *are* the best repair-limit
policy; nothing is calibrated. In warranty all is mended free, and u = lambda d.

Solved backwards: with D(v, s) = exp(-int_v^s (rho + h)), a(v) = int D (c + u) ds and Z(v) = int D h ds,
R(v) = (1 - Z(v)) U - a(v) and U = (K + a(0)) / (1 - Z(0)); u follows from R, and a few rounds settle both.

References
----------
.. [1] Drinkwater & Hastings, An economic replacement model, Operational Research Quarterly 18, 121-138, 1967.
.. [2] Hastings, The repair limit replacement method, Operational Research Quarterly 20, 337-349, 1969.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np

from ..arrays import Floats, Number, align_cases
from ..errors import NoSolution, require
from ..finance.life import Life
from ..finance.special import exprel, ndtr
from .failures import Quality

CELLS: Final = 160  # Cells of age, wider as it grows; finer ones move the limit by 0.05 % of a new appliance at most.
GONE: Final = 20.0  # Cumulative hazard at which next to no appliance is left. [-]

MONTHS: Final = 12
LEAST_SHARE: Final = 1e-9

KNOTS: Final = 80  # Ages at which spending is kept, of those of the grid.

ROUNDS: Final = 80
DAMPED: Final = 15
SETTLED: Final = 1e-5  # Change of the limits, over the cost of a new one, at which the rounds end.


@dataclass(frozen=True)
class LognormalQuotes:
    """Quotes about a median [money], whose logarithm has the standard deviation `spread`. [-]"""

    median: Number
    spread: Number

    def __post_init__(self) -> None:
        require("median", self.median, 1e-9, math.inf, "money")
        require("spread", self.spread, 1e-6, 5.0, "")

    def within(self, limit: Number) -> tuple[Floats, Floats]:
        """Chance that a quote is within a limit, and what is expected to be paid of those that are. [-, money]"""
        median, spread = (align_cases(each, np.ndim(limit)) for each in (self.median, self.spread))
        deviations = np.log(np.maximum(limit, 1e-300) / median) / spread  # standard deviations above the median
        return ndtr(deviations), median * np.exp(spread**2 / 2) * ndtr(deviations - spread)


@dataclass(frozen=True)
class LaterRepairs:
    """Spending on later repairs and the repair limit, by age, for a usual appliance of a class."""

    age: Floats  # Grid of ages, shape (K). [year]
    spending: Floats  # Expected spending on accepted repairs and on waiting for them, u, shape (K). [money/year]
    limit: Floats  # Highest quote worth paying at a later failure, R, shape (K). [money]
    accepted: Floats  # Share of failures whose bill is paid, alpha, shape (K). [-]
    cost_of_new: float  # Present cost of being about to buy new, U. [money]
    level: float  # Level spending over a whole life with the same present cost. [money/year]

    @property
    def over_level(self) -> "ByAge":
        """Spending by age over the level one."""
        knots = np.linspace(0, self.age.size - 1, KNOTS).round().astype(int)
        shares = self.spending[knots] / self.level if self.level > 0 else np.ones(KNOTS)
        return ByAge(tuple(self.age[knots].tolist()), tuple(shares.tolist()))


@dataclass(frozen=True)
class AnotherBill:
    """How likely another bill is within some years, and how large one is then."""

    within_1: float  # Chance within a year. [-]
    within_2: float
    within_5: float
    usual: float  # Expected bill, of those worth paying within five years; NaN where none is. [money]


def another_bill(law: LaterRepairs, bills: LognormalQuotes, quality: Quality, warranty: float = 0.0) -> AnotherBill:
    """Chance and size of another bill of an appliance: a failure out of warranty that is worth mending.

    The chance is 1 - (1 + M / rate)^-shape, M being the failures of quality 1 over the years, each weighed by the share
    of its bills that is paid. `law` has its repair limits by age, `quality` what is known of it at its age today; until
    `warranty` years from today all is mended free.
    """
    edges = float(quality.age) + np.arange(5 * MONTHS + 1) / MONTHS
    middle = _between(edges)
    due = np.diff(quality.frailty.failures(edges)) * (middle - float(quality.age) >= warranty)
    accepted, limit = (np.interp(middle, law.age, each) for each in (law.accepted, law.limit))
    paid = due * accepted
    within = -np.expm1(-quality.shape * np.log1p(np.cumsum(paid) / quality.rate))
    share, sums = bills.within(limit)
    total = float(np.sum(paid))
    usual = float(np.sum(paid * sums / np.maximum(share, LEAST_SHARE))) / total if total > 0 else math.nan
    one, two, five = (float(within[years * MONTHS - 1]) for years in (1, 2, 5))
    return AnotherBill(one, two, five, usual)


@dataclass(frozen=True)
class ByAge:
    """What moves with age, between knots; beyond the last one as there."""

    ages: tuple[float, ...]  # [year]
    values: tuple[float, ...]

    def __call__(self, age: Floats) -> Floats:
        """The value at an age."""
        return np.interp(age, self.ages, self.values)


def later_repairs(
    life: Life,
    bills: LognormalQuotes,
    failure_rate: Callable[[Floats], Floats],
    *,
    discount_force: float,
    price: float,
    running: Callable[[Floats], Floats] | float = 0.0,
    unmendable: float = 0.0,
    waiting: float = 0.0,
    warranty: float = 0.0,
    next_one: float | None = None,
) -> LaterRepairs:
    """Solve the equation for an appliance of one class in one household.

    `failure_rate` is that of an appliance of an age [1/year]; `discount_force` rho with whatever adds to it, such as a
    need that may end [1/year]; `price` K; `running` energy, water and the like at an age, or level [money/year];
    `unmendable` the share of failures that nobody can mend; `waiting` what the days without cost at one failure, spoilt
    food included [money]; until the age `warranty` all is mended free [year]; `next_one` is U, where what follows is
    not one of this kind [money]. Raises `NoSolution`: the rounds do not settle.

    >>> from decide.finance.life import Weibull
    >>> washer = Weibull.with_mean(11.5, 2.2)
    >>> found = later_repairs(
    ...     washer, LognormalQuotes(306.0, 0.35), lambda age: 0.08 + 0 * age, discount_force=0.03, price=985.0)
    >>> round(float(found.limit[0]), 2), bool(np.all(np.diff(found.limit) < 0))
    (984.93, True)
    """
    last = float(life.time_to_gain(0.0, GONE))
    age = np.union1d(last * np.linspace(0.0, 1.0, CELLS + 1) ** 2, float(warranty))  # with an edge where it ends
    middle, width = (age[1:] + age[:-1]) / 2, np.diff(age)
    ended = life.hazard_gained(age[:-1], width)  # hazard summed up over each cell
    kept = np.exp(-discount_force * width - ended)
    force = discount_force * width + ended
    stay = exprel(-force)  # mean discount over a cell, of what flows evenly in it
    rate, cost = failure_rate(middle), running(middle) if callable(running) else np.full(middle.shape, running)
    free = middle < warranty
    owed = np.where(free, 0.0, 1 - unmendable)
    survived = np.concatenate([[1.0], np.cumprod(kept)])
    lasting = width * stay
    end_factor, runs = _backwards(ended * stay, survived, 1.0), _backwards(cost * lasting, survived)

    def worth(spending: Number) -> tuple[float, Floats]:
        """U, and R by age."""
        owning = runs + _backwards(spending * lasting, survived)
        new = (price + owning[0]) / (1 - end_factor[0]) if next_one is None else next_one
        return new, (1 - end_factor) * new - owning

    new, limit = worth(0.0)
    for count in range(ROUNDS):
        share, paid = bills.within(_between(limit))
        accepted = free + owed * share
        spending = rate * (accepted * waiting + owed * paid)
        before, (new, found) = limit, worth(spending)
        if np.max(np.abs(found - before)) <= SETTLED * price:
            break
        limit = found if count < DAMPED else (found + before) / 2  # bills nearly alike may swing in and out
    else:
        raise NoSolution("later repairs: the repair limits do not settle")
    level = np.vecdot(spending * lasting, survived[:-1]) / np.vecdot(lasting, survived[:-1])
    return LaterRepairs(middle, spending, _between(limit), accepted, float(new), float(level))


def _between(edges: Floats) -> Floats:
    return (edges[1:] + edges[:-1]) / 2


def _backwards(cells: Floats, survived: Floats, last: float = 0.0) -> Floats:
    """Sum of what falls in each cell and after it, and `last` at the end, discounted to its edge; shape (cells + 1)."""
    falling = np.append(cells, last) * survived
    return np.cumsum(falling[::-1])[::-1] / survived
