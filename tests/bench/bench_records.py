"""A life fitted to 16,000 units, against SciPy climbing the plain likelihood of the same units; one run.

pytest tests/bench/bench_records.py -s
"""

import time

import numpy as np
import pytest
from scipy.optimize import minimize
from test_own_records import watched_shop

from decide.load.jobs.own_records import maximum_likelihood
from decide.shop.lifetimes import Spells

UNITS = 16_000


def plain(watched: Spells) -> np.ndarray:
    """Scale and shape that maximise the likelihood, by Nelder and Mead."""

    def against(logs: np.ndarray) -> float:
        scale, shape = np.exp(logs)
        died = watched.exit[watched.ended]
        lived = np.sum((watched.exit / scale) ** shape - (watched.entry / scale) ** shape)
        return float(lived - np.sum(np.log(shape) - shape * np.log(scale) + (shape - 1) * np.log(died)))

    best = minimize(against, [np.log(10.0), 0.0], method="Nelder-Mead", options={"xatol": 1e-8, "fatol": 1e-8})
    return np.exp(best.x)


def test_a_life_with_its_intervals_costs_a_small_multiple_of_a_bare_fit() -> None:
    watched = watched_shop(np.random.default_rng(1), UNITS)
    maximum_likelihood(watched)  # the library is imported, and compiles what it needs
    start = time.perf_counter()
    life = maximum_likelihood(watched)
    ours = time.perf_counter() - start
    start = time.perf_counter()
    scale, shape = plain(watched)
    theirs = time.perf_counter() - start
    print(f"\n{len(watched):,} units, {watched.ends:,} ends: fit with both intervals {ours:.3f} s, ", end="")
    print(f"bare fit by SciPy {theirs:.3f} s, ratio {ours / theirs:.1f}")
    assert [life.scale, life.shape.value] == [
        pytest.approx(scale, rel=1e-5),
        pytest.approx(shape, rel=1e-5),
    ]
    assert ours < 40 * theirs
