"""The normal law and the gamma function, one number at a time by the standard library.

SciPy's are the same to the last digit or two, but loading them takes longer than a whole answer. What is asked of
them on the way to an answer is a few thousand numbers; columns of jobs use SciPy's.
"""

import functools
import math
from collections.abc import Callable
from statistics import NormalDist

import numpy as np

from ..arrays import Floats, Number

KEPT = 1024  # numbers up to which it is worth keeping what was asked
_NORMAL = NormalDist()


def _each(function: Callable[[float], float], values: Number) -> Floats:
    """A function of one number at each of many; shape of the values."""
    column = np.asarray(values, dtype=float)
    return np.fromiter(map(function, column.ravel().tolist()), float, column.size).reshape(column.shape)


def _of_draws(function: Callable[[float], float], values: Number) -> Floats:
    """The same; what is drawn is kept a while, since it is drawn alike for every case of a kind."""
    column = np.asarray(values, dtype=float)
    if column.size > KEPT:
        return _each(function, column)
    return _kept(function, column.tobytes()).reshape(column.shape)


@functools.lru_cache(maxsize=16)
def _kept(function: Callable[[float], float], numbers: bytes) -> Floats:
    found = _each(function, np.frombuffer(numbers))
    found.setflags(write=False)
    return found


def ndtr(deviations: Number) -> Floats:
    """Chance that a normal figure is at most so many standard deviations above its mean. [-]

    >>> ndtr(0.0).item(), round(ndtr(1.96).item(), 3)
    (0.5, 0.975)
    """
    return 0.5 * _each(math.erfc, np.asarray(deviations) * -math.sqrt(0.5))


def ndtri(share: Number) -> Floats:
    """Standard deviations above its mean that a normal figure stays within in a share of cases, 0 and 1 left out. [-]

    Wichura's AS241, as `statistics.NormalDist` has it.

    >>> round(ndtri(0.975).item(), 2)
    1.96
    """
    return _of_draws(_NORMAL.inv_cdf, share)


def gamma(value: Number) -> Floats:
    """The gamma function.

    >>> gamma(5.0).item()
    24.0
    """
    return _of_draws(math.gamma, value)


def exprel(value: Number) -> Floats:
    """(exp(x) - 1) / x, which is 1 at 0.

    >>> exprel(0.0).item(), round(exprel(1.0).item(), 4)
    (1.0, 1.7183)
    """
    value = np.asarray(value, dtype=float)
    with np.errstate(over="ignore"):
        return np.divide(np.expm1(value), value, out=np.ones(value.shape), where=value != 0)
