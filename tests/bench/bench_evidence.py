"""Visits drawn at random: what finding and mending costs by our steps, by the order without evidence, and by chance.

The cause is drawn from the shares, what would be seen from the likelihoods; run with `pytest -s`, and
`MENDPOINT_VISITS=2000` for the table of all symptoms.
"""

import os
import time
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from decide.answers.answer import answer
from decide.answers.diagnosis import Diagnosis, diagnose
from decide.answers.next_step import CHECK, Step, next_step
from decide.diagnosis.check_order import NOT_MADE
from decide.load.tables.evidence import evidence
from decide.load.tables.symptoms import symptoms
from decide.load.tables.tables import tables

VISITS = int(os.environ.get("MENDPOINT_VISITS", "60"))
AGE = 8.0
EVERY = [(kind, each.symptom) for kind in tables().known_classes for each in symptoms().of_class(kind)]
SHOWN = EVERY if VISITS >= 2000 else [("refrigerator", "warm_throughout"), ("furnace_gas", "furnace_cold")]

State = tuple[frozenset[tuple[str, str]], frozenset[str]]


def value_for(reading: Any, outcome: str) -> float:
    """A value of a reading that comes to that outcome."""
    low = reading.low if np.isfinite(reading.low) else reading.high - 1
    high = reading.high if np.isfinite(reading.high) else reading.low + 1
    beside = high + reading.margin / 2 if np.isfinite(reading.high) else low - reading.margin / 2
    far = 2 * reading.margin + 1
    value = {"below": low - far, "pass": (low + high) / 2, "above": high + far, "marginal": beside}[outcome]
    return float(np.clip(value, reading.least, reading.most))  # nothing takes less than no time


def steps_by(kind: str, symptom: str, place: str, first: Diagnosis) -> Callable[[State], Step | None]:
    """Our next step in each state of knowledge, worked out once."""
    known: dict[State, Step | None] = {}

    def step(state: State) -> Step | None:
        if state not in known:
            seen, out = state
            pairs = dict(seen)
            found = diagnose(
                kind, symptom, place=place, age=AGE, out=tuple(sorted(out)),
                answers={key: each for key, each in sorted(pairs.items()) if key in first.questions},
                readings={key: value_for(first.tests[key], each) for key, each in sorted(pairs.items())
                          if key in first.tests},
            )  # fmt: skip
            known[state] = next_step(found)
        return known[state]

    return step


def simulated(kind: str, symptom: str, visits: int, dice: np.random.Generator) -> tuple[float, float, float, float]:
    """Mean cost by our steps, by the order without evidence, by a random one, and the steps of ours. [money]"""
    place = tables().kind(kind).regions[0]
    first = diagnose(kind, symptom, place=place, age=AGE)
    ids, looking, table = first.symptom.ids, first.looking, {**first.questions, **first.tests}
    likely = {key: each.under(first.symptom) for key, each in table.items()}
    next_of = steps_by(kind, symptom, place, first)
    order = [int(at) for at in first.plan.order if at != NOT_MADE]
    costs, steps = np.zeros((visits, 3)), 0
    for visit in range(visits):
        cause = int(dice.choice(len(ids), p=first.chance))
        would = {
            key: table[key].outcomes[int(dice.choice(len(rows), p=rows[:, cause]))] for key, rows in likely.items()
        }
        costs[visit, 1] = by_order(order, cause, looking)
        costs[visit, 2] = by_order(allowed(dice, looking.after), cause, looking)
        state: State = (frozenset(), frozenset())
        for _ in range(80):
            step = next_of(state)
            if step is None:
                # one cause is left and known, or giving up costs less than going on
                left = set(ids) - state[1]
                costs[visit, 0] += looking.repair_cost[cause] if left == {ids[cause]} else looking.fallback
                break
            steps += 1
            costs[visit, 0] += step.cost
            if step.kind != CHECK:
                state = (state[0] | {(step.key, would[step.key])}, state[1])
            elif step.key == ids[cause]:
                costs[visit, 0] += looking.repair_cost[cause]
                break
            else:
                state = (state[0], state[1] | {step.key})
                if len(state[1]) == len(ids):
                    raise AssertionError(state)
    ours, old, chance = costs.mean(axis=0)
    return float(ours), float(old), float(chance), steps / visits


def by_order(order: list[int], cause: int, looking: Any) -> float:
    """What one order of checks costs where that is the cause; giving up at its end."""
    cost = 0.0
    for at in order:
        cost += looking.check_cost[at]
        if at == cause:
            return cost + float(looking.repair_cost[at])
    return cost + float(looking.fallback)


def allowed(dice: np.random.Generator, after: np.ndarray) -> list[int]:
    """A random order that keeps to the prerequisites."""
    left, order = list(range(len(after))), []
    while left:
        ready = [at for at in left if not any(after[at, other] for other in left)]
        order.append(int(dice.choice(ready)))
        left.remove(order[-1])
    return order


@pytest.mark.parametrize(("kind", "symptom"), SHOWN)
def test_evidence_costs_less_than_the_order_alone_and_that_less_than_chance(kind: str, symptom: str) -> None:
    ours, old, chance, steps = simulated(kind, symptom, VISITS, np.random.default_rng(5))
    print(f"\n{kind},{symptom},{ours:.2f},{old:.2f},{chance:.2f},{steps:.1f}")
    if VISITS >= 1000:
        assert ours <= old * 1.01 + 0.5
        assert old <= chance * 1.01 + 0.5


def test_what_each_class_holds() -> None:
    """Complaints, causes, questions and readings of each class where it is sold, the regions together."""
    print("\nclass,complaints,causes,questions,readings")
    for kind in tables().known_classes.values():
        listed = [(region, each) for region in kind.regions for each in symptoms(region).of_class(kind.kind)]
        found = [
            {each.symptom for _, each in listed},
            {cause for _, each in listed for cause in each.ids},
            {q.key for region, each in listed for q in evidence().questions_of(each, kind.kind, region)},
            {r.key for region, each in listed for r in evidence().readings_of(each, kind.kind, region)},
        ]
        print(kind.kind, *map(len, found), sep=",")
        assert all(found), kind.kind


def test_a_redraw_with_evidence_against_a_whole_verdict() -> None:
    seen = {"answers": {"compressor_sound": "clicks"}, "readings": {"start_device_ohm": 900.0}}
    entries = {"appliance": {"class": "refrigerator", "age": AGE}, "repair": {"quote": 250}}

    def spent(work: Callable[[], object]) -> float:
        """Median of nine runs. [ms]"""
        taken = []
        for _ in range(9):
            begun = time.process_time()
            work()
            taken.append(1000 * (time.process_time() - begun))
        return sorted(taken)[4]

    redraw = spent(lambda: next_step(diagnose("refrigerator", "warm_throughout", age=AGE, **seen)))
    whole = spent(lambda: answer(entries))
    print(f"\na redraw with evidence {redraw:.1f} ms (asked: 15), {redraw / whole:.2f} of a whole verdict")
