"""The best bands of 100,000 jobs beside thresholds tried in a loop: `pytest tests/bench/bench_bands.py -s`."""

import time

import numpy as np

from decide.shop.bands import Bands, best_bands, regrets_of, share_of_limit

JOBS = 100_000
GRID = 60


def test_exact_bands_beside_a_loop_over_a_grid_of_thresholds() -> None:
    rng = np.random.default_rng(1)
    price, age = rng.uniform(400, 1500, JOBS), rng.uniform(0, 18, JOBS)
    limit, quote = price * (0.7 - 0.045 * age), price * rng.lognormal(-1.2, 0.5, JOBS)
    regrets = regrets_of(quote, limit, 0.12 * price, 10.0)
    score = share_of_limit(quote, limit)
    begun = time.perf_counter()
    exact = best_bands(score, regrets)
    quick = time.perf_counter() - begun
    ends = np.quantile(score[np.isfinite(score)], np.linspace(0, 1, GRID))
    begun = time.perf_counter()
    best = min(Bands(low, high).regret(score, regrets) for i, low in enumerate(ends) for high in ends[i:])
    slow = time.perf_counter() - begun
    found = exact.regret(score, regrets)
    print(f"\nexact {quick:.3f} s, {found:,.0f}; grid of {GRID} {slow:.2f} s, {best:,.0f}; {slow / quick:.0f} times")
    assert found <= best
    assert slow > 10 * quick
