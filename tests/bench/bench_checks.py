"""The exact order of checks by all sets of causes, beside trying every order; run with `pytest -s`."""

import itertools
import time
from collections.abc import Callable

import numpy as np
import pytest

from decide.answers.diagnosis import diagnose
from decide.diagnosis.check_order import best_order, expected_cost

RNG = np.random.default_rng(1)


def spent(work: Callable[[], object]) -> tuple[float, object]:
    """How long it takes, and what it gives. [s]"""
    begun = time.perf_counter()
    given = work()
    return time.perf_counter() - begun, given


def search(n: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    return RNG.dirichlet(np.ones(n)), RNG.uniform(1, 50, n), RNG.uniform(20, 400, n)


def every_order(chance: np.ndarray, check: np.ndarray) -> float:
    """The least cost of looking over all orders, in plain Python."""
    least = np.inf
    for order in itertools.permutations(range(len(chance))):
        left, cost = 1.0, 0.0
        for cause in order:
            cost += left * check[cause]
            left -= chance[cause]
        least = min(least, cost)
    return float(least)


def test_all_sets_of_ten_causes_against_all_orders_of_eight() -> None:
    eight, ten, sixteen = search(8), search(10), search(16)
    best_order(*eight)
    tried, least = spent(lambda: every_order(*eight[:2]))
    same, plan = spent(lambda: best_order(*eight))
    assert float(plan.checking) == pytest.approx(least)  # type: ignore[attr-defined]
    more, _ = spent(lambda: best_order(*ten))
    most, _ = spent(lambda: best_order(*sixteen))
    print(f"\nall orders of 8 {tried * 1e3:.0f} ms; all sets of 8 {same * 1e3:.2f} ms ({tried / same:.0f} times)")
    print(f"all sets of 10 {more * 1e3:.2f} ms, {tried / more:.0f} times faster than all orders of 8")
    print(f"all sets of 16 {most * 1e3:.0f} ms")
    assert more < tried


def test_many_cases_at_once_against_one_by_one() -> None:
    chance, check, repair = RNG.dirichlet(np.ones(9), 500), RNG.uniform(1, 50, 9), RNG.uniform(20, 400, 9)
    together, plan = spent(lambda: best_order(chance, check, repair))
    alone, plans = spent(lambda: [best_order(each, check, repair) for each in chance])
    assert [float(each.cost) for each in plans] == pytest.approx(plan.cost)  # type: ignore[attr-defined]
    print(f"\n500 cases at once {together * 1e3:.0f} ms, one by one {alone * 1e3:.0f} ms")
    assert expected_cost(plan.order, chance, check, repair).cost == pytest.approx(plan.cost)  # type: ignore[attr-defined]


def test_a_first_look() -> None:
    diagnose("refrigerator", "warm_throughout", age=9)
    took, _ = spent(lambda: diagnose("refrigerator", "warm_throughout", age=10))
    print(f"\na first look with its repair limit {took * 1e3:.0f} ms")
