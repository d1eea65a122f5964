"""Shares of the variance of an answer (Sobol indices), as a check on what moves it most."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from decide.arrays import Floats
from decide.economics.breakeven import require_verdict
from decide.economics.case import Case
from decide.economics.uncertainty import SEED, Range, varied
from decide.economics.weigh import weigh

AT_ONCE = 4096
"""Points weighed as one column."""


@dataclass(frozen=True)
class VarianceShares:
    """Shares of an answer's variance that go back to each quantity (Sobol indices); NaN where it does not vary."""

    first: Floats
    """By itself; shape (quantities)."""
    total: Floats
    """By itself and together with others."""
    first_within: Floats
    """Half the width of the 95 % interval of `first`."""
    total_within: Floats


def variance_shares_of(
    answer: Callable[[Floats], Floats], quantities: int, base: int = 512, seed: int = SEED
) -> VarianceShares:
    """Share the variance of any answer out among its quantities, by Saltelli's scheme as SALib has it.

    `answer` goes from points in the unit cube, shape (points, quantities), to shape (points). It is asked for base x
    (quantities + 2) of them; `base` is a power of two.
    """
    from SALib.analyze import sobol
    from SALib.sample import sobol as points

    names = [str(i) for i in range(quantities)]
    problem = {"num_vars": quantities, "names": names, "bounds": [[0.0, 1.0]] * quantities}
    values = answer(points.sample(problem, base, calc_second_order=False, seed=seed))
    if np.ptp(values) == 0:
        return VarianceShares(*np.full((4, quantities), math.nan))
    found = sobol.analyze(problem, values, calc_second_order=False, seed=seed)
    return VarianceShares(found["S1"], found["ST"], found["S1_conf"], found["ST_conf"])


def variance_shares(case: Case, ranges: Sequence[Range], base: int = 512, seed: int = SEED) -> VarianceShares:
    """Share the variance of the advantage of repairing out among the ranges; raises as `decision_confidence` does."""
    require_verdict(case)

    def advantage(points: Floats) -> Floats:
        return np.concatenate([weighed(part) for part in np.array_split(points, max(1, len(points) // AT_ONCE))])

    def weighed(part: Floats) -> Floats:
        drawn = [each.at(share) for each, share in zip(ranges, part.T, strict=True)]
        return np.broadcast_to(weigh(varied(case, ranges, drawn)).advantage, len(part))

    return variance_shares_of(advantage, len(ranges), base, seed)
