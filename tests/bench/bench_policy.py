"""How fast the best repair limits are, beside an explicit decision problem: `pytest tests/bench/bench_policy.py -s`.

The named alternative is quantecon's policy iteration on the states (age, quote), without the time to build the problem.
By the quarter it is still the coarser answer; the errors stand beside the times.
"""

import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from policy import MaintenanceAndRepair, best_policy
from policy_quotes import FiniteQuotes
from repair_referees import Household, cost_and_limits, explicit_problem

from decide.finance.life import Weibull

QUOTES = -180 * np.log(1 - (np.arange(40) + 0.5) / 40)
# 25 classes, made up: five shapes of the failure law by five scales
CLASSES = [(shape, scale) for shape in (1.5, 2.0, 2.5, 3.0, 3.5) for scale in (8.0, 10.0, 12.0, 14.0, 16.0)]
SHAPE, SCALE = np.array(CLASSES).T
MAINTENANCE_AND_REPAIR = MaintenanceAndRepair(
    FiniteQuotes(QUOTES, np.full(40, 1 / 40)), 60.0, lambda age: 55 + 1.5 * age
)


def seconds(work: Callable[[], object]) -> float:
    begun = time.perf_counter()
    work()
    return time.perf_counter() - begun


def limits(steps: int, years: float = 60.0) -> np.ndarray:
    ages = np.linspace(0.0, years, round(years * steps) + 1)
    return best_policy(Weibull(SHAPE, SCALE), MAINTENANCE_AND_REPAIR, 700.0, np.expm1(0.03), ages).present_cost


def unchanged(age: int) -> dict[int, float]:
    return {age: 1.0}


def test_limits_of_25_classes_at_all_ages_take_less_than_a_twentieth_of_policy_iteration_on_quotes() -> None:
    truth = (4 * limits(48) - limits(24)) / 3
    print()
    for steps in (1, 4, 12):
        ours = min(seconds(lambda steps=steps: limits(steps)) for _ in range(5))
        error = np.abs(limits(steps) / truth - 1).max()
        print(f"policy, {steps:2d} steps a year: {1000 * ours:8.1f} ms for 25 classes, cost within {error:.1e}")
    yearly = min(seconds(lambda: limits(1)) for _ in range(5))
    spent, errors = 0.0, []
    for shape, scale, cost in zip(SHAPE, SCALE, truth, strict=True):
        home = Household(shape=shape, scale=scale)
        problem = explicit_problem(home, QUOTES, 1 / 4, 40.0, unchanged)
        spent += seconds(lambda problem=problem: problem.solve(method="policy_iteration"))
        errors.append(abs(cost_and_limits(problem, home, 160, unchanged)[0] / cost - 1))
    print(f"quantecon,      4 steps a year: {1000 * spent:8.1f} ms for 25 classes, cost within {max(errors):.1e}")
    print(f"ratio to our yearly steps, which err less: {spent / yearly:.0f}")
    assert np.abs(limits(1) / truth - 1).max() < max(errors)
    assert spent / yearly > 20


def test_ten_thousand_cases() -> None:
    draw, n = np.random.default_rng(1), 10_000
    law, price = Weibull(draw.uniform(1, 4, n), draw.uniform(5, 30, n)), draw.uniform(300, 2000, n)
    for steps in (1, 4):
        ages = np.linspace(0.0, 40.0, 40 * steps + 1)
        spent = seconds(lambda ages=ages: best_policy(law, MAINTENANCE_AND_REPAIR, price, 0.03, ages))
        print(f"\n10,000 cases, 40 years, {steps} steps a year: {spent:.2f} s")
