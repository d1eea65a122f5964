r"""How a group of jobs differs from all others on like jobs, and whether that can be chance.

Like jobs stand in one cell, such as a class, a fault and a year. Within cells the difference of a group is

.. math:: d = \frac{\sum \tilde x \tilde y}{\sum \tilde x^2}

where x says whether a job is of the group and y is what is compared, both less their means in the cell. Were it chance,
every way to deal out the n jobs of a cell, g of them to the group, would be alike [1]. So the sum has

.. math:: var = \sum \frac{g (n - g)}{n (n - 1)} \sum \tilde y^2, \qquad
    \mu_3 = \sum \frac{g (n - g)(n - 2 g)}{n (n - 1)(n - 2)} \sum \tilde y^3

and the tail is that of the law of Pearson's type III with these moments, which holds for rare answers too [1]. Where
many groups are compared, some stand out by chance: chances are told as Holm has them, for all comparisons at once [2].

Sources, from memory: [1] Mielke & Berry, Permutation Methods: A Distance Function Approach (2001). [2] Holm, A simple
sequentially rejective multiple test procedure, Scandinavian Journal of Statistics 6 (1979) 65-70.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import gammainc, gammaincc, ndtr

from ..arrays import Floats
from .acceptance import NINE_IN_TEN

LEAST_JOBS: Final = 20
"""Jobs of a group, with like jobs of others, below which it is not compared."""

EVEN: Final = 1e-6
"""Skewness below which the law is normal."""


@dataclass(frozen=True, kw_only=True)
class Difference:
    """By how much a group differs from all others on like jobs; the range holds it nine times in ten."""

    group: str
    measure: str
    jobs: int
    """Of the group, with like jobs of others."""
    value: float
    low: float
    high: float
    chance: float
    """That so large a difference would come by chance, for all that is compared at once. [-]"""


def difference(values: Floats, inside: NDArray[np.bool_], cell: NDArray[np.int64]) -> Difference | None:
    """How some jobs differ from the others of their cells; columns of shape (n). None: too few have like ones."""
    known = np.isfinite(values)
    _, cell = np.unique(cell[known], return_inverse=True)
    y, x = values[known], inside[known].astype(float)
    n, g = np.bincount(cell), np.bincount(cell, x)
    both = ((g > 0) & (g < n))[cell]
    y, x, cell, jobs = y[both], x[both], cell[both], int(x[both].sum())
    if jobs < LEAST_JOBS:
        return None
    y, x = y - (np.bincount(cell, y, len(n)) / n)[cell], x - (g / n)[cell]
    squares, cubes = np.bincount(cell, y**2, len(n)), np.bincount(cell, y**3, len(n))
    var = float(np.sum(g * (n - g) / (n * np.maximum(n - 1, 1)) * squares))
    third = float(np.sum(g * (n - g) * (n - 2 * g) / (n * np.maximum((n - 1) * (n - 2), 1)) * cubes))
    if var <= 0:
        return None
    total, size = float(x @ y), float(x @ x)
    value = total / size
    half = NINE_IN_TEN * math.sqrt(max(var, float(np.sum((x * (y - value * x)) ** 2)))) / size
    chance = _chance(total / math.sqrt(var), third / var**1.5)
    return Difference(group="", measure="", jobs=jobs, value=value, low=value - half, high=value + half, chance=chance)


def _chance(z: float, skewness: float) -> float:
    """Two-sided tail at z of a law with mean 0, variance 1 and a skewness: Pearson's type III."""
    if abs(skewness) < EVEN:
        return float(2 * ndtr(-abs(z)))
    k = 4 / skewness**2
    at = max(k + math.copysign(z, z * skewness) * math.sqrt(k), 0.0)
    return float(min(1.0, 2 * min(gammainc(k, at), gammaincc(k, at))))


def holm(chances: Sequence[float]) -> list[float]:
    """Chances of several comparisons, each told for all of them at once [2]."""
    order, found, highest = np.argsort(chances), [0.0] * len(chances), 0.0
    for rank, at in enumerate(order):
        highest = max(highest, (len(chances) - rank) * chances[at])
        found[at] = min(highest, 1.0)
    return found


def differences(
    measures: Mapping[str, Floats], group: NDArray[np.str_], cell: NDArray[np.int64], only: Sequence[str] = ()
) -> list[Difference]:
    """How each group differs from the others in each measure; those in an empty group are of none.

    `only`: groups that are compared; all if none is given.
    """
    named = group != ""
    found = [
        replace(each, group=str(name), measure=measure)
        for name in only or np.unique(group[named])
        for measure, values in measures.items()
        if (each := difference(values[named], group[named] == name, cell[named])) is not None
    ]
    return [replace(each, chance=p) for each, p in zip(found, holm([each.chance for each in found]), strict=True)]
