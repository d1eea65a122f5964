r"""How long a unit serves: survival, years left at an age, and annuities on a life.

Everything follows from one primitive, the cumulative hazard H of a law of life:

.. math:: S(t) = e^{-H(t)}, \qquad \frac{S(a + t)}{S(a)} = e^{-(H(a + t) - H(a))}

A household knows today's age a, so every question about the years ahead conditions on it.
Published lives measure retirement from the household. A unit with other worn parts may have a worse
*remaining-life factor* f: the share of the usual remaining years that it has left, T' = f x T; 1 is a usual unit.

All times are in years, today is 0. An argument is one number, or a column with one entry a case; an array of
times with more axes than a column meets that column on its leading axis.
"""

import functools
import math
from abc import ABC, abstractmethod
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import ClassVar, Self

import numpy as np
from numpy.polynomial.legendre import leggauss

from ..arrays import Floats, Number, align_cases
from ..errors import NoSolution, OutOfRange, require
from .special import KEPT, gamma

REACH = 32.0  # once the cumulative hazard has grown by this much, one unit in 10^14 is left
FOR_EVER = 1e6  # [year] no unit lives so long; holds powers of a time within what a float can carry
BRIEFEST = 1e-3  # [year] least scale of a life
TRICOMI = 100.0  # cumulative hazard beyond which SciPy's Tricomi function holds to 10^-12 for every shape
SHAPES = (0.3, 20.0)  # within these the quadrature below is known to hold
PLAIN = (0.6, 6.0)  # shapes for which fewer nodes are as good
AT_ONCE = 1e-9  # remaining-life factor of a unit with nothing left: it counts as 0, and may be divided by


def _gauss(panels: int, points: int) -> tuple[Floats, Floats]:
    """Positions and weights of the Gauss-Legendre rule on each of several equal panels of [0, 1]."""
    position, weight = leggauss(points)
    starts = np.arange(panels)[:, np.newaxis]
    return ((starts + (position + 1) / 2) / panels).ravel(), np.tile(weight / 2 / panels, panels)


def _crowded(panels: int, points: int) -> tuple[Floats, Floats]:
    """The same rule in s^2 for s: crowded at the start, where survival may fall as a broken power."""
    position, weight = _gauss(panels, points)
    return position**2, 2 * position * weight


def _force(rate: Number, escalation: Number) -> Floats:
    """Net force of discount, ln(1 + rate) - ln(1 + escalation)."""
    for name, value in (("rate", rate), ("escalation", escalation)):
        require(name, value, -0.99, np.inf, "a year")
    return np.log1p(rate) - np.log1p(escalation)


@dataclass(frozen=True)
class Exposure:
    """Years of service that a unit can be expected to give, spread over the moments at which it gives them.

    Any expected discounted flow is `(years * flow_at(time)).sum(-1)`; both have shape (..., K).

    Attributes
    ----------
    time : moments of service, counted from today, shape (..., K) [year]
    years : expected years of service lived around each moment: quadrature weight times survival, shape (..., K) [year]
    """

    time: Floats
    years: Floats


def without_delay(shape: float, scale: float, delay: float) -> float:
    """Shape of the Weibull life without a delay that has the mean and the spread of one with it. [-]

    A delay says that no unit ends before it, which is false of single units.

    >>> round(without_delay(1.272, 11.75, 8.874), 2)  # refrigerators, Lutz et al. 2011, Table 11
    2.45
    """
    if not delay > 0:
        return shape

    def variation(k: float) -> float:
        return math.sqrt(math.gamma(1 + 2 / k) / math.gamma(1 + 1 / k) ** 2 - 1)

    mean = delay + scale * math.gamma(1 + 1 / shape)
    aim = variation(shape) * (mean - delay) / mean
    low, high = SHAPES
    for _ in range(60):  # bisection: the variation falls with the shape, and scipy.optimize is slow to load
        middle = (low + high) / 2
        low, high = (middle, high) if variation(middle) > aim else (low, middle)
    return middle


def drawn_to(shape: float, usual: float) -> float:
    """A published shape half-way, in logarithms, to the usual one: one study errs as much as classes differ. [-]

    >>> round(drawn_to(1.0, 2.0), 2)  # boilers, for which a survey saw no ageing
    1.41
    """
    return float(np.sqrt(shape * usual))


class Life(ABC):
    """A law of life, given by its cumulative hazard; all else derives from it."""

    delay: Number = 0.0  # age before which no unit fails: survival has a kink there [year]
    _calm: ClassVar[tuple[Floats, Floats]] = _gauss(1, 10)
    _tail: ClassVar[tuple[Floats, Floats]] = _crowded(8, 16)

    def _nodes(self) -> tuple[Floats, Floats]:
        """Positions and weights of the rule after the delay."""
        return self._tail

    @abstractmethod
    def cumulative_hazard(self, age: Number) -> Floats:
        """Hazard summed up from new to an age, H. [-]"""

    def hazard(self, age: Number) -> Floats:
        """Failure rate at an age among units still serving, h = dH/dt, by central difference. [1/year]"""
        age = np.asarray(age, dtype=float)
        step = 1e-5 * (1 + age)
        before, after = np.maximum(age - step, 0), age + step
        return (self.cumulative_hazard(after) - self.cumulative_hazard(before)) / (after - before)

    def survival(self, age: Number) -> Floats:
        """Share of new units that still serve at an age, S = exp(-H). [-]"""
        return np.exp(-self.cumulative_hazard(age))

    def survival_given(self, age: Number, time: Number) -> Floats:
        """Chance that a unit of this age still serves after some more time, S(age + time) / S(age). [-]"""
        return np.exp(-self.hazard_gained(age, time))

    def hazard_gained(self, age: Number, time: Number) -> Floats:
        """Growth of the cumulative hazard from an age over some more time, H(age + time) - H(age). [-]"""
        age = align_cases(age, np.ndim(time))
        with np.errstate(over="ignore", invalid="ignore"):
            then = self.cumulative_hazard(age + time)
            return np.where(np.isinf(then), np.inf, then - self.cumulative_hazard(age))

    def time_to_gain(self, age: Number, hazard: Number) -> Floats:
        """Time over which the cumulative hazard grows by so much from an age, by bisection. [year]

        Raises
        ------
        NoSolution
            The hazard levels off, so that some units would never fail.
        """
        goal = np.asarray(hazard, dtype=float)
        age = align_cases(age, goal.ndim)
        late = np.ones_like(self.hazard_gained(age, np.zeros_like(goal)) + goal)
        while (short := np.isfinite(goal) & (self.hazard_gained(age, late) < goal)).any():
            late = np.where(short, 2 * late, late)
            if late.max() > 1e30:
                raise NoSolution("life: the hazard levels off, so that some units would never fail")
        early = np.zeros_like(late)
        for _ in range(60):  # halvings, down to the spacing of floats
            middle = (early + late) / 2
            short = self.hazard_gained(age, middle) < goal
            early, late = np.where(short, middle, early), np.where(short, late, middle)
        return np.where(np.isfinite(goal), late, np.inf)

    def remaining(self, age: Number, chance: Number) -> Floats:
        r"""Years that a unit of this age outlives with the given chance, shape (..., K). [year]

        .. math:: S(a + t) / S(a) = chance

        Given uniform random numbers as chances, it draws lives.

        Parameters
        ----------
        age : age today, shape (...) [year]
        chance : chance of outliving the answer; at 0 the answer is infinite, shape (..., K) [-]

        Examples
        --------
        >>> round(float(Weibull(shape=1.272, scale=11.75, delay=8.874).remaining(12.0, 0.5)), 2)
        7.49
        """
        require("chance", chance, 0.0, 1.0, "")
        with np.errstate(divide="ignore"):
            return self.time_to_gain(age, -np.log(chance))

    def mean(self) -> Floats:
        """Mean life of a new unit. [year]"""
        return self.mean_residual_life(0.0)

    def median(self) -> Floats:
        """Life that half of the new units outlive. [year]"""
        return self.remaining(0.0, 0.5)

    def mean_residual_life(self, age: Number) -> Floats:
        """Expected years left to a usual unit of this age, the integral of S(age + t) / S(age). [year]"""
        return self.exposure(age).years.sum(axis=-1)

    def exposure(
        self, age: Number, *, remaining_life_factor: Number = 1.0, start: Number = 0.0, until: Number = np.inf
    ) -> Exposure:
        r"""When, and how likely, a unit of this age is in service: the weights of every expected flow.

        .. math:: \sum_k years_k\, f(time_k) \approx
            \int_{start}^{until} f(t)\, \frac{S(a + t / f)}{S(a)}\, dt

        Parameters
        ----------
        age : age today, shape (...) [year]
        remaining_life_factor : share of the usual remaining years; 1 is a usual unit of its age, shape (...) [-]
        start, until : first and last moment that count, from today, shape (...) [year]

        Raises
        ------
        OutOfRange
            Age, remaining_life_factor, start or until is negative or not a number.

        Notes
        -----
        Gauss-Legendre before the delay, where survival is 1, and after it. After it the time is
        L (exp(c s^2) - 1), where L is the time in which the hazard grows by 1: even steps where life ends
        abruptly, ever longer ones where it fades. For a Weibull life and a smooth flow the relative error is
        below 1e-6 for shapes from 0.4 to 10, 1e-5 up to 20, and 5e-4 down to 0.3. A column of a million cases is
        best asked for in chunks of some ten thousand, as each case takes K entries of memory.

        Examples
        --------
        >>> unit = Weibull(shape=2.0, scale=10.0).exposure(5.0, until=3.0)
        >>> round(float((unit.years * 40.0).sum()), 2)  # a flow of 40 a year over the next three years
        100.87
        """
        require("age", age, 0.0, FOR_EVER, "years")
        for name, value in (("remaining_life_factor", remaining_life_factor), ("start", start), ("until", until)):
            require(name, value, 0.0, np.inf, "years" if name != "remaining_life_factor" else "")
        pace = np.maximum(remaining_life_factor, AT_ONCE)
        # From here on in the unit's own time, in which its remaining-life factor is 1.
        opening, closing = np.minimum(np.asarray(start) / pace, FOR_EVER), np.asarray(until) / pace
        safe = np.maximum(np.asarray(self.delay) - age, 0.0)  # until then it cannot fail
        time, years = self._failing(age, np.maximum(opening, np.minimum(safe, closing)), closing)
        if np.any(safe > opening):
            calm = np.maximum(np.minimum(safe, closing) - opening, 0.0)[..., np.newaxis]
            position, weight = self._calm
            before = np.asarray(opening)[..., np.newaxis] + calm * position
            time, years = _side_by_side(before, time), _side_by_side(calm * weight, years)
        pace = np.asarray(pace)[..., np.newaxis]
        return Exposure(pace * time, pace * years) if np.any(pace != 1) else Exposure(time, years)

    def _failing(self, age: Number, opening: Floats, closing: Floats) -> tuple[Floats, Floats]:
        """Nodes and expected years of a usual remaining life after the delay."""
        then = age + opening
        unit = self.time_to_gain(then, 1.0)[..., np.newaxis]
        width = np.clip(closing - opening, 0.0, self.time_to_gain(then, REACH))[..., np.newaxis]
        position, weight = self._nodes()
        stretch = np.log1p(width / unit)
        time = unit * np.expm1(stretch * position)
        years = self.hazard_gained(then, time)  # turned into years in place: new memory takes longer than the sums
        if np.any(opening):
            years += self.hazard_gained(age, opening)[..., np.newaxis]
        np.exp(np.negative(years, out=years), out=years)
        years *= unit + time
        years *= stretch * weight
        return opening[..., np.newaxis] + time if np.any(opening) else time, years

    def annuity(
        self,
        age: Number,
        rate: Number,
        escalation: Number = 0.0,
        *,
        remaining_life_factor: Number = 1.0,
        until: Number = np.inf,
    ) -> Floats:
        r"""Discounted years of service that a unit of this age can be expected to give. [year]

        .. math:: A_g(a) = \int_0^{until} e^{-(\rho - g) t}\, \frac{S(a + t / f)}{S(a)}\, dt,
            \qquad \rho = \ln(1 + rate),\ g = \ln(1 + escalation)

        Parameters
        ----------
        age : age today, shape (...) [year]
        rate, escalation : discount rate, and yearly growth of the flow's price, shape (...) [1/year]
        remaining_life_factor : share of the usual remaining years, shape (...) [-]
        until : last moment that counts, shape (...) [year]

        Notes
        -----
        NaN where the price outgrows discount so fast that the last unit in 10^14 still matters: the value is then
        infinite, or beyond what can be computed.

        References
        ----------
        .. [1] Dickson, Hardy & Waters, Actuarial Mathematics for Life Contingent Risks, whole life continuous
           annuity.

        Examples
        --------
        >>> round(float(Weibull(shape=1.272, scale=11.75, delay=8.874).annuity(12.0, 0.03)), 2)
        7.71
        """
        force = _force(rate, escalation)
        service = self.exposure(age, remaining_life_factor=remaining_life_factor, until=until)
        worth = (service.years * np.exp(-force[..., np.newaxis] * service.time)).sum(axis=-1)
        if np.all(force >= 0):
            return worth
        end = np.asarray(remaining_life_factor) * self.time_to_gain(age, REACH)
        return np.where((-force * end > REACH / 2) & (until > end), np.nan, worth)

    def end_factor(
        self, age: Number, rate: Number, escalation: Number = 0.0, *, remaining_life_factor: Number = 1.0
    ) -> Floats:
        r"""Worth today of one unit of money due when the unit's service ends.

        .. math:: Z_g(a) = E[e^{-(\rho - g) T}] = 1 - (\rho - g) A_g(a)

        Parameters and NaN are as in `annuity`.

        Examples
        --------
        >>> round(float(Weibull(shape=1.0, scale=10.0).end_factor(4.0, 0.05)), 4)  # 1 / (1 + 10 ln 1.05)
        0.6721
        """
        return 1 - _force(rate, escalation) * self.annuity(
            age, rate, escalation, remaining_life_factor=remaining_life_factor
        )


def _side_by_side(first: Floats, second: Floats) -> Floats:
    cases = np.broadcast_shapes(first.shape[:-1], second.shape[:-1])
    return np.concatenate([np.broadcast_to(part, (*cases, part.shape[-1])) for part in (first, second)], axis=-1)


@dataclass(frozen=True)
class FromHazard(Life):
    """A life given by its cumulative hazard as a function of age, which must take an array of any shape.

    The function may jump to infinity (a life that ends on a known day); it may not level off.

    Examples
    --------
    >>> round(float(FromHazard(lambda age: (age / 10) ** 2).mean()), 4)
    8.8623
    """

    cumulative_hazard_function: Callable[[Floats], Floats]
    delay: Number = 0.0

    def cumulative_hazard(self, age: Number) -> Floats:
        """Hazard summed up from new to an age, H. [-]"""
        return self.cumulative_hazard_function(np.asarray(age, dtype=float))


@dataclass(frozen=True)
class Weibull(Life):
    r"""A delayed Weibull life, the law in which appliance lives are published.

    .. math:: H(t) = \left(\frac{\max(t - delay, 0)}{scale}\right)^{shape}

    Parameters
    ----------
    shape : 1: age does not matter; above: units wear out; below: the weak ones go first, shape (...) [-]
    scale : years after the delay by which 63.2 % have gone, shape (...) [year]
    delay : age before which none has gone, shape (...) [year]

    Raises
    ------
    OutOfRange
        Shape not within 0.3 to 20, scale below 0.001 or delay below 0.

    References
    ----------
    .. [1] Lutz, Hopkins, Letschert, Franco & Sturges, Using national survey data to estimate lifetimes of
       residential appliances, LBNL-5093E, 2011.

    Examples
    --------
    >>> refrigerator = Weibull(shape=1.272, scale=11.75, delay=8.874)
    >>> round(float(refrigerator.mean()), 2), round(float(refrigerator.mean_residual_life(12.0)), 2)
    (19.78, 9.65)
    """

    shape: Number
    scale: Number
    delay: Number = 0.0
    _tail: ClassVar[tuple[Floats, Floats]] = _crowded(1, 36)
    _plain_tail: ClassVar[tuple[Floats, Floats]] = _crowded(1, 24)

    def _nodes(self) -> tuple[Floats, Floats]:
        plain = PLAIN[0] <= np.min(self.shape) and np.max(self.shape) <= PLAIN[1]
        return self._plain_tail if plain else self._tail

    def _failing(self, age: Number, opening: Floats, closing: Floats) -> tuple[Floats, Floats]:
        """As of any life; kept a while, since a what-if asks of most units what its case has asked."""
        asked = [np.asarray(each, dtype=float) for each in (self.shape, self.scale, self.delay, age, opening, closing)]
        if max(each.size for each in asked) > KEPT:
            return super()._failing(age, opening, closing)
        return _kept(_Asked(tuple((each.shape, each.tobytes()) for each in asked), self, (age, opening, closing)))

    def __post_init__(self) -> None:
        require("shape", self.shape, *SHAPES, "")
        require("scale", self.scale, BRIEFEST, FOR_EVER, "years")
        require("delay", self.delay, 0.0, FOR_EVER, "years")

    @classmethod
    def with_mean(cls, mean: Number, shape: Number, delay: Number = 0.0) -> Self:
        r"""Find the life of this shape and delay that has the published mean.

        .. math:: scale = (mean - delay) / \Gamma(1 + 1 / shape)

        Raises
        ------
        OutOfRange
            The mean is not above the delay, or a parameter is not within its bounds.

        Examples
        --------
        >>> round(float(Weibull.with_mean(14.61, shape=2.2).scale), 1)
        16.5
        """
        require("shape", shape, *SHAPES, "")
        after = np.asarray(mean) - delay
        if not np.all(after > 0):
            shortest = float(np.max(delay))
            raise OutOfRange("mean", shortest + BRIEFEST, np.inf, "years", np.min(mean))
        return cls(shape, after / gamma(1 + 1 / np.asarray(shape)), delay)

    def cumulative_hazard(self, age: Number) -> Floats:
        """Hazard summed up from new to an age, H. [-]"""
        shape, scale, delay = self._fields(np.ndim(age))
        with np.errstate(over="ignore"):
            return (np.maximum(age - delay, 0.0) / scale) ** shape

    def hazard(self, age: Number) -> Floats:
        """Failure rate among units still serving, dH/dt; unbounded at the delay if shape < 1. [1/year]"""
        shape, scale, delay = self._fields(np.ndim(age))
        wear = np.asarray(np.maximum(age - delay, 0.0) / scale)
        with np.errstate(divide="ignore"):
            return np.where(age >= delay, shape / scale * wear ** (shape - 1), 0.0)

    def hazard_gained(self, age: Number, time: Number) -> Floats:
        """H(age + time) - H(age), free of cancellation however old the unit is. [-]"""
        shape, scale, delay = self._fields(np.ndim(time))
        age = align_cases(age, np.ndim(time))
        wear = self._wear(age, shape, scale, delay)
        safe = np.maximum(delay - age, 0.0)
        more = np.maximum(time - safe, 0.0) if np.any(safe) else time
        with np.errstate(over="ignore"):
            return wear**shape * np.expm1(shape * np.log1p(more / (scale * wear)))

    def time_to_gain(self, age: Number, hazard: Number) -> Floats:
        """Time over which the cumulative hazard grows by so much from an age. [year]"""
        shape, scale, delay = self._fields(np.ndim(hazard))
        age = align_cases(age, np.ndim(hazard))
        wear = self._wear(age, shape, scale, delay)
        more = wear * np.expm1(np.log1p(hazard / wear**shape) / shape)
        return np.maximum(delay - age, 0.0) + scale * more

    def mean_residual_life(self, age: Number) -> Floats:
        r"""Expected years left to a usual unit of this age, exact however old it is.

        .. math:: m(a) = \max(delay - a, 0) + \frac{scale}{shape}\, e^x\, \Gamma(1/shape, x), \qquad x = H(a)

        Far in the tail, where the exponential would overflow, Tricomi's function U(1 - 1/shape, 1 - 1/shape, x)
        takes the place of the last two factors; nearer by, SciPy's is wrong where shape is within rounding of 1
        or 1/2. [year]
        """
        from scipy.special import gamma, gammaincc, hyperu  # here: slow to load

        shape, scale, delay = self._fields(np.ndim(age))
        share, hazard = 1 / shape, self.cumulative_hazard(age)
        near = np.minimum(hazard, TRICOMI)
        left = np.asarray(np.exp(near) * gamma(share) * gammaincc(share, near))
        hyperu(1 - share, 1 - share, hazard, out=left, where=hazard > TRICOMI)
        return np.maximum(delay - age, 0.0) + scale * share * left

    def _fields(self, axes: int) -> tuple[Floats, Floats, Floats]:
        return align_cases(self.shape, axes), align_cases(self.scale, axes), align_cases(self.delay, axes)

    @staticmethod
    def _wear(age: Floats, shape: Floats, scale: Floats, delay: Floats) -> Floats:
        """Age since the delay over scale; held above 0 (where H < 10^-16) so that one may divide by it."""
        return np.maximum((age - delay) / scale, 10 ** (-12 - 16 / shape))


@dataclass(frozen=True)
class _Asked:
    """When a unit is in service, as a question; the same one where all numbers are."""

    numbers: tuple[tuple[tuple[int, ...], bytes], ...]
    life: Weibull = field(compare=False)
    when: tuple[Number, Floats, Floats] = field(compare=False)


@functools.lru_cache(maxsize=32)
def _kept(asked: _Asked) -> tuple[Floats, Floats]:
    found = Life._failing(asked.life, *asked.when)
    for each in found:
        each.setflags(write=False)
    return found
