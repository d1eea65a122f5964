"""A figure with its bounds, and the causes of error that set them apart.

Errors multiply, so an interval is even in the logarithm: value / f to value f.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.special import stdtrit

from ..arrays import Floats, Number
from .consumption import require_amount, require_within

METER: Final = 0.02
"""Relative standard deviation of a plug-in meter, a judgement [-]."""


@dataclass(frozen=True)
class Interval:
    """A figure and the bounds that hold the truth with the chance `coverage`."""

    value: Number
    low: Number
    high: Number
    coverage: float


@dataclass(frozen=True)
class ErrorSources:
    """The causes of error, relative standard deviations, and the degrees of freedom behind the scatter [-]."""

    scatter: Number
    freedom: Number
    daily: Number = 0.0
    season: Number = 0.0
    defrost: Number = 0.0
    ambient: Number = 0.0
    meter: Number = METER


def interval_around(value: Number, spread: ErrorSources, coverage: float) -> Interval:
    """Bounds of a figure above zero, shape (...), from the causes of its error; `coverage` is 0.01 to 0.999. [any]"""
    factor = np.exp(half_width(spread, coverage))
    return Interval(value, value / factor, value * factor, coverage)


def half_width(spread: ErrorSources, coverage: float) -> Floats:
    """Half of an interval, in the logarithm: Student's quantile times all causes in quadrature. [-]

    The bounds are value exp(-width) and value exp(width). Degrees of freedom by Welch and Satterthwaite (JCGM 100:2008,
    G.4.1): only the scatter is known from few. `OutOfRange`: a coverage outside 0.01 to 0.999, a meter's error below 0.
    """
    require_within("coverage", coverage, 0.01, 0.999, "")
    require_amount("meter", spread.meter, "")
    parts = (spread.scatter, spread.daily, spread.season, spread.defrost, spread.ambient, spread.meter)
    total = np.sqrt(sum(np.square(part) for part in parts))
    scatter = np.maximum(spread.scatter, np.finfo(np.float64).eps)
    # Beyond a million degrees of freedom, Student's law is the normal one to every digit printed.
    freedom = np.minimum(spread.freedom * (total / scatter) ** 4, 1e6)
    return np.asarray(stdtrit(freedom, (1 + coverage) / 2) * total, dtype=np.float64)


def pooled(own_variance: float, own_freedom: float, prior: float, prior_freedom: float) -> tuple[float, float]:
    """Standard deviation and degrees of freedom of what was seen (its variance) with a prior (its deviation). [-]"""
    freedom = own_freedom + prior_freedom
    return float(np.sqrt((own_freedom * own_variance + prior_freedom * prior**2) / freedom)), freedom
