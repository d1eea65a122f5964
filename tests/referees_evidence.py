"""Referees of the evidence: Bayes written out by hand, and the best of all policies found by trying every one.

Nothing here is taken from the package: causes are dicts, chances fractions where they can be.
"""

import functools
import random
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any


def bayes_by_hand(prior: Mapping[str, Fraction], seen: Sequence[Mapping[str, Fraction]]) -> dict[str, Fraction]:
    """Shares after all that was seen, each independent given the cause; exact, without a cap."""
    weights = dict(prior)
    for likelihood in seen:
        weights = {cause: weights[cause] * likelihood[cause] for cause in weights}
    total = sum(weights.values())
    return {cause: weight / total for cause, weight in weights.items()}


@dataclass(frozen=True)
class Test:
    """A question or a reading: its cost, and the chance of each outcome under each cause."""

    cost: float
    likelihoods: tuple[tuple[float, ...], ...]
    """By outcome, then by cause."""


@dataclass(frozen=True)
class Puzzle:
    """One fault to find: what checks, repairs, tests and giving up cost."""

    chance: tuple[float, ...]
    check: tuple[float, ...]
    repair: tuple[float, ...]
    needs: tuple[frozenset[int], ...]
    tests: tuple[Test, ...]
    give_up: float


def best_policy(puzzle: Puzzle) -> float:
    """Least expected cost of all policies that mix tests and checks in any order: every one is tried."""
    everyone = frozenset(range(len(puzzle.chance)))

    @functools.cache
    def least(weights: tuple[float, ...], checked: frozenset[int], used: frozenset[int]) -> float:
        total = sum(weights[i] for i in everyone - checked)
        if total < 1e-12:
            return 0.0
        ways = [puzzle.give_up * total]
        for i in everyone - checked:
            if weights[i] > 0 and puzzle.needs[i] <= checked | {j for j in everyone if weights[j] == 0}:
                went = puzzle.check[i] * total + weights[i] * puzzle.repair[i]
                ways.append(went + least(weights, checked | {i}, used))
        for t, test in enumerate(puzzle.tests):
            if t not in used:
                after = (tuple(w * row[i] for i, w in enumerate(weights)) for row in test.likelihoods)
                ways.append(test.cost * total + sum(least(each, checked, used | {t}) for each in after))
        return min(ways)

    return least(puzzle.chance, frozenset(), frozenset())


Act = tuple[str, int]
"""`check` or `test` with its number, or `stop`."""


def cost_of(puzzle: Puzzle, policy: Callable[[tuple[float, ...], frozenset[int], frozenset[int]], Act]) -> float:
    """Expected cost of a policy, which is told the shares, the causes checked and the tests used."""
    everyone = frozenset(range(len(puzzle.chance)))

    def cost(weights: tuple[float, ...], checked: frozenset[int], used: frozenset[int]) -> float:
        left = everyone - checked
        total = sum(weights[i] for i in left)
        if total < 1e-12:
            return 0.0
        shares = tuple(weights[i] / total if i in left else 0.0 for i in range(len(weights)))
        kind, at = policy(shares, checked, used)
        if kind == "stop":
            return puzzle.give_up * total
        if kind == "check":
            return puzzle.check[at] * total + weights[at] * puzzle.repair[at] + cost(weights, checked | {at}, used)
        test = puzzle.tests[at]
        after = (tuple(w * row[i] if i in left else 0.0 for i, w in enumerate(weights)) for row in test.likelihoods)
        return test.cost * total + sum(cost(each, checked, used | {at}) for each in after)

    return cost(puzzle.chance, frozenset(), frozenset())


def puzzles(seed: int, n: int, causes: int, tests: int) -> list[Puzzle]:
    """Random small ones: some checks free, some prerequisites, tests free or paid, giving up always open."""
    dice = random.Random(seed)
    found = []
    for _ in range(n):
        raw = [dice.gammavariate(1.0, 1.0) + 0.02 for _ in range(causes)]
        chance = tuple(each / sum(raw) for each in raw)
        made = []
        for _ in range(tests):
            outcomes = dice.choice((2, 3))
            columns = []
            for _ in range(causes):
                parts = [dice.gammavariate(0.5, 1.0) + 0.02 for _ in range(outcomes)]
                columns.append([part / sum(parts) for part in parts])
            rows: tuple[Any, ...] = tuple(tuple(column[o] for column in columns) for o in range(outcomes))
            made.append(Test(cost=dice.choice((0.0, 0.0, 8.0, 20.0)), likelihoods=rows))
        needs = [frozenset[int]() for _ in range(causes)]
        needs[causes - 1] = frozenset({causes - 2})
        found.append(
            Puzzle(
                chance=chance,
                check=(*tuple(dice.choice((0.0, 15.0, 25.0, 40.0)) for _ in range(causes - 2)), 20.0, 30.0),
                repair=tuple(dice.uniform(0, 380) for _ in range(causes)),
                needs=tuple(needs),
                tests=tuple(made),
                give_up=400.0,
            )
        )
    return found
