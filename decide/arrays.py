"""The two kinds of number in the package: one value, or a column of cases.

A *column* is a one-dimensional array with one entry a case: ten thousand draws, or the rows of a job book.
Every numeric input may be one number or a column, and the same function serves both.
"""

from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

Floats: TypeAlias = NDArray[np.float64]
Number: TypeAlias = float | Floats
Truths: TypeAlias = NDArray[np.bool_]

# The C library of Linux hands memory back above a threshold, and page faults then take a fifth of a verdict. Releasing
# one block, never written to, raises the threshold to the block's size (mallopt(3), M_MMAP_THRESHOLD, "dynamic").
np.empty(16 * 2**20, dtype=np.uint8)


def align_cases(column: Number, axes: int) -> Floats:
    """Stretch a column, shape (n), over the axes of an array of times, shape (n, 1, ...); a number stays a number.

    >>> align_cases(np.array([1.0, 2.0]), 3).shape, align_cases(5.0, 3).shape
    ((2, 1, 1), ())
    """
    array = np.asarray(column, dtype=float)
    return array.reshape(array.shape + (1,) * (axes - array.ndim)) if 0 < array.ndim < axes else array


def some(value: Number) -> bool:
    """Whether any number is not 0.

    >>> some(0.0), some(np.array([0.0, 2.0]))
    (False, True)
    """
    return bool(value) if isinstance(value, float) else bool(np.asarray(value).any())


def sum_over_time(left: Floats, right: Floats) -> Number:
    """Products summed up over time, the last axis.

    >>> sum_over_time(np.array([1.0, 2.0]), np.array([3.0, 4.0]))
    11.0
    """
    return unwrap(np.einsum("...t,...t->...", left, right))


def with_time_axis(value: Number) -> Floats:
    """The same numbers with an axis for time behind them; shape (..., 1)."""
    return np.asarray(value, dtype=float)[..., np.newaxis]


def unwrap(value: Floats) -> Number:
    """A plain number where there is one case, the column where there are many."""
    return float(value) if np.ndim(value) == 0 else value
