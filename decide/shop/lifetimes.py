r"""How long units serve, as a shop's own jobs tell it: left-truncated, right-censored.

Units come into a book only because they failed, so a book is no sample of all units, and it must not be read as one.
A unit tells of life only over the ages through which its end, had it come, would have been heard of. It enters at an
age and leaves at one, either by its end or still in service; what went before its entry is *truncated*, what comes
after is *censored*:

.. math:: L = \prod_i h(exit_i)^{ended_i}\, \frac{S(exit_i)}{S(entry_i)}

- A unit with a day `known_since` enters at its age on that day. By the meaning of that day silence is an answer: where
  no end was heard of, it still serves on the last day of the book. This holds if every unit so known has a row, be it
  for a visit at which nothing was broken; where the healthy ones have none, lives come out too short.
- Any other unit enters with the first job after which it served on (repaired, or left as it was), at its age then, and
  leaves with its last sign: its end, a later job, or the day of a later outcome. One that was replaced at its first job
  has no time at risk: it would not be in the book but for its end, and to count that end would count the dead and
  forget the living. It tells nothing of life, though it does of faults and quotes.
- A unit of which nothing was heard after its last job is *lost to follow-up*, and is left out. That is harmless only
  where asking after units does not depend on their fate. But an end at a later job is heard of without asking, while
  health is not: the more units lost to follow-up, the shorter the life comes out. Where too many are lost, no life is
  told.

Ages in whole years are taken as they stand. An end is leaving the household's service, by `replaced` or `retired`, as
in published lives; the units stand for such as a shop is called to.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq, minimize_scalar
from scipy.special import chdtri, gamma

from ..arrays import Floats
from ..finance.life import SHAPES, Weibull
from .jobs import LEFT, OUTCOMES, REPAIRED, REPLACED, RETIRED, UNKNOWN, Jobs
from .records import LEVEL, RecordFigure, days_since

LEAST_ENDS: Final = 20
"""Ends of units below which no life is told. In simulated books (tests/test_own_records.py) the interval of the mean
holds at its level from there on, and as a rule ends within 1.3 times either way; with half as many ends it may go to
three times."""

MOST_LOST_TO_FOLLOW_UP: Final = 0.15
"""Share of units lost to follow-up above which no life is told. In simulated books where a seventh are silent the mean
life comes out 4 % too short, which its interval still covers; with a quarter of them 8 %, which it does not. [-]"""

YEAR: Final = 365.25
"""[day]"""

LIKELIHOOD_DROP: Final = float(chdtri(1, 1 - LEVEL)) / 2
"""How far the log likelihood falls at the ends of an interval: half the quantile of chi-squared."""

WIDEST: Final = 12.0
"""Logarithm of the farthest that the end of an interval is looked for, as a ratio to the estimate."""


@dataclass(frozen=True, kw_only=True)
class Spells:
    """Ages through which units were watched, one entry a unit with time at risk. [year]"""

    entry: Floats
    exit: Floats
    ended: NDArray[np.bool_]
    """Whether the unit left service at its exit; it still served otherwise."""
    jobs: int = 0
    """Jobs of these units."""
    without: int = 0
    """Units that tell nothing of life, such as those replaced at their first job."""
    lost_to_follow_up: int = 0
    """Units of which nothing was heard after their last job."""

    def __len__(self) -> int:
        return len(self.entry)

    @property
    def ends(self) -> int:
        """How many units left service."""
        return int(self.ended.sum())

    @property
    def silence(self) -> float:
        """Share of all units that served on of which nothing was heard later. [-]"""
        return self.lost_to_follow_up / max(1, self.lost_to_follow_up + len(self))


def spells(jobs: Jobs) -> Spells:
    """Ages through which the units of a class were watched, by its jobs; the head of the module says what counts.

    A job without the name of a unit is a unit of its own.
    """
    if not len(jobs):
        return Spells(entry=np.empty(0), exit=np.empty(0), ended=np.empty(0, dtype=bool))
    names, unit = np.unique(jobs.unit, return_inverse=True)
    alone = jobs.unit == ""
    _, unit = np.unique(np.where(alone, len(names) + np.cumsum(alone) - 1, unit), return_inverse=True)
    units = int(unit.max()) + 1
    day = days_since(jobs.date)
    new = _first(unit, units, day - jobs.age * YEAR)
    since, heard = _first(unit, units, days_since(jobs.known_since)), days_since(jobs.outcome_date)
    served_on, replaced = jobs.decided(REPAIRED, LEFT), jobs.decided(REPLACED)
    outcome = jobs.outcome
    retired = outcome == OUTCOMES.index(RETIRED)
    end = _first(unit, units, np.where(replaced, day, np.where(retired, heard, np.nan)))
    entry = np.where(np.isnan(since), _first(unit, units, np.where(served_on, day, np.nan)), np.fmax(since, new))
    sign = -_first(unit, units, -np.fmax(day, np.where(outcome == OUTCOMES.index(UNKNOWN), np.nan, heard)))
    closing = float(np.fmax.reduce(np.fmax(day, heard)))
    leave = np.where(np.isnan(end), np.where(np.isnan(since), sign, closing), end)
    watched = leave > entry
    last_job = -_first(unit, units, -day)
    lost_to_follow_up = np.isnan(end) & np.isnan(since) & ~np.isnan(entry) & (sign <= last_job)
    kept = watched & np.isfinite(new)
    return Spells(
        entry=((entry - new) / YEAR)[kept],
        exit=((leave - new) / YEAR)[kept],
        ended=np.isfinite(end)[kept],
        jobs=int(np.isin(unit, np.flatnonzero(kept)).sum()),
        without=int(np.sum(~kept & ~lost_to_follow_up)),
        lost_to_follow_up=int(np.sum(lost_to_follow_up)),
    )


def _first(unit: NDArray[np.intp], units: int, days: Floats) -> Floats:
    """The first day of each unit, or of days with their sign turned the last; NaN where none of its jobs gives one."""
    first = np.full(units, np.nan)
    np.fmin.at(first, unit, days)
    return first


def log_likelihood(watched: Spells, shape: float, scale: float) -> float:
    r"""How well a Weibull life explains what was seen.

    .. math:: \sum_{ended} \ln h(exit) - \sum \left(H(exit) - H(entry)\right)
    """
    with np.errstate(over="ignore"):
        lived = (watched.exit / scale) ** shape - (watched.entry / scale) ** shape
    hazard = math.log(shape / scale) + (shape - 1) * np.log(watched.exit[watched.ended] / scale)
    return float(hazard.sum() - lived.sum())


@dataclass(frozen=True)
class OwnLife:
    """A Weibull life fitted to what was watched, its mean and scale in years; NaN where it is not told."""

    watched: Spells
    mean: RecordFigure
    shape: RecordFigure
    scale: float = math.nan

    @property
    def identified(self) -> bool:
        """Whether there is a life to tell."""
        return not self.mean.too_few

    @property
    def law(self) -> Weibull:
        """The life, with no delay."""
        return Weibull(shape=self.shape.value, scale=self.scale)

    def band(self, age: Floats) -> tuple[Floats, Floats]:
        r"""Interval of the share still in service at each age, on the scale of ln H from the observed information.

        .. math:: var(\ln H) = shape^2 \left[var(\ln scale) - 2 u\, cov + u^2 var(\ln shape)\right],
            \qquad u = \ln(age / scale)
        """
        shape, away = self.shape.value, np.log(age / self.scale)
        spread = covariance(self.watched, shape, self.scale)
        variance = shape**2 * (spread[0, 0] - 2 * away * spread[0, 1] + away**2 * spread[1, 1])
        half = math.sqrt(2 * LIKELIHOOD_DROP) * np.sqrt(variance)
        hazard = (age / self.scale) ** shape
        return np.exp(-hazard * np.exp(half)), np.exp(-hazard * np.exp(-half))


def enough(watched: Spells) -> bool:
    """Whether what was watched identifies a life: enough ends, and not too many units of which nothing was heard."""
    return watched.ends >= LEAST_ENDS and watched.silence <= MOST_LOST_TO_FOLLOW_UP


def not_identified(watched: Spells) -> OwnLife:
    """No life: what was watched does not identify one."""
    return OwnLife(watched, RecordFigure(len(watched)), RecordFigure(len(watched)))


def own_life(watched: Spells, shape: float, scale: float) -> OwnLife:
    """A fitted life with the intervals of its mean and its shape, by profile likelihood.

    The mean exists as a figure of the law even where few units were watched to a great age; its interval says how far
    it can be trusted. No life is told where the shape is not within the bounds of `Weibull` or an interval has no end.
    """
    if not SHAPES[0] <= shape <= SHAPES[1]:
        return not_identified(watched)
    mean = float(scale * _of_mean(shape))
    low, high = profile(watched, shape, scale, _of_mean)
    shapes = _profile_of_shape(watched, shape)
    if min(low, *shapes) <= 0 or math.isinf(max(high, *shapes)):
        return not_identified(watched)
    n = len(watched)
    return OwnLife(watched, RecordFigure(n, mean, low, high), RecordFigure(n, shape, *shapes), scale)


def _of_mean(shape: float) -> float:
    """Mean of a Weibull life over its scale."""
    return float(gamma(1 + 1 / shape))


def profile(watched: Spells, shape: float, scale: float, factor: Callable[[float], float]) -> tuple[float, float]:
    r"""Interval of a figure of the life that is its scale times a factor of its shape, by profile likelihood. [year]

    .. math:: 2 \left[\ell(\hat\theta) - \max_{shape} \ell(shape, value / factor(shape))\right] \le \chi^2_{1, level}

    For the mean the factor is Gamma(1 + 1 / shape). An end is infinite where the likelihood never falls so far. Source:
    Meeker & Escobar, Statistical Methods for Reliability Data, section 8.3.
    """
    best = log_likelihood(watched, shape, scale) - LIKELIHOOD_DROP
    value = scale * factor(shape)

    def beyond(ratio: float) -> float:
        """Log likelihood above that of the ends, at a value so far (as a logarithm) from the estimate."""
        there = value * math.exp(ratio)
        found = minimize_scalar(
            lambda log_shape: -log_likelihood(watched, math.exp(log_shape), there / factor(math.exp(log_shape))),
            bounds=(math.log(SHAPES[0]) - 1, math.log(SHAPES[1]) + 1),
            method="bounded",
            options={"xatol": 1e-6},
        )
        return -float(found.fun) - best

    return value * math.exp(_crossing(beyond, -1)), value * math.exp(_crossing(beyond, 1))


def _profile_of_shape(watched: Spells, shape: float) -> tuple[float, float]:
    r"""Interval of the shape; the best scale of a shape has a closed form, and drops out.

    .. math:: scale^s = A / d, \qquad \ell(s) = d \ln s + (s - 1) \sum_{ended} \ln exit - d \ln A + const,
        \qquad A = \sum (exit^s - entry^s)
    """
    # in units of the longest exit, so that a high power stays within what a float can carry
    longest = float(watched.exit.max())
    entry, leave = watched.entry / longest, watched.exit / longest
    logs = float(np.log(leave[watched.ended]).sum())

    def at(power: float) -> float:
        lived = float(np.sum(leave**power - entry**power))
        return watched.ends * (math.log(power) - math.log(lived)) + (power - 1) * logs

    best = at(shape) - LIKELIHOOD_DROP
    low, high = (_crossing(lambda ratio: at(shape * math.exp(ratio)) - best, side) for side in (-1, 1))
    return shape * math.exp(low), shape * math.exp(high)


def _crossing(beyond: Callable[[float], float], side: int) -> float:
    """Where a function that is above 0 at 0 falls to 0, to one side; infinite where it does not."""
    step = 0.05
    while beyond(side * step) > 0:
        step *= 2
        if step > WIDEST:
            return side * math.inf
    near = step / 2 if step > 0.05 else 0.0
    return float(brentq(beyond, side * near, side * step, xtol=1e-6))


def covariance(watched: Spells, shape: float, scale: float) -> Floats:
    """Covariance of the logarithms of scale and shape, from the curvature of the likelihood at its top."""
    step = 1e-4

    def at(there: Floats) -> float:
        return log_likelihood(watched, shape * math.exp(float(there[1])), scale * math.exp(float(there[0])))

    moves = step * np.eye(2)
    curved = np.array([
        [at(a + b) - at(a - b) - at(b - a) + at(-a - b) for b in moves] for a in moves
    ])  # fmt: skip
    return np.asarray(np.linalg.inv(-curved / (4 * step**2)))
