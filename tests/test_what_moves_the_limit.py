"""Which way the repair limit moves with what is known of the appliance, and the verdict against plain counting."""

from collections.abc import Sequence

import numpy as np
import pytest

from decide.answers.answer import Answer, answer
from decide.economics.weigh import weigh
from decide.load.cases.case_file import Entries, complete
from decide.load.tables.tables import tables

CLASSES = [(kind.kind, place) for place in ("US", "DE") for kind in tables().classes("US" if place == "US" else "EU")]
EVERY_CLASS = pytest.mark.parametrize(
    ("kind", "place"),
    [pytest.param(*each, marks=[pytest.mark.slow] * (each[1] != "US"), id="-".join(each)) for each in CLASSES],
)
ALLOWED = 0.002
"""By so much of what a new one costs a limit may move the other way: the draws are few."""


def entries_of(kind: str, place: str, age: float, **appliance: object) -> Entries:
    return {"appliance": {"class": kind, "age": age, **appliance}, "household": {"place": place}}


def half_life(kind: str, place: str) -> float:
    return round(float(complete(entries_of(kind, place, 1)).case.appliance.mean_life) / 2)


def limits_of(cases: Sequence[Entries]) -> np.ndarray:
    """Limits of some cases, over what a new appliance costs in the first of them. [-]"""
    found = [answer(each) for each in cases]
    return np.array([each.weighing.repair_limit for each in found]) / found[0].decision.cost_of_new


# the verdict, counted by hand


@pytest.mark.parametrize("quoted", [0.3, 0.9, 1.1, 2.0])
@EVERY_CLASS
def test_the_verdict_is_the_option_of_least_mean_over_the_draws_added_up_one_by_one(
    kind: str, place: str, quoted: float
) -> None:
    entries = entries_of(kind, place, half_life(kind, place))
    limit = answer(entries).decision
    quote = max(quoted * limit.repair_limit, 0.02 * limit.cost_of_new)
    found = answer({**entries, "repair": {"quote": quote}})
    sums, wins, chosen, draws = counted(found)
    verdict, names = found.verdict, found.decision.names
    assert verdict.option == names[min(range(len(sums)), key=sums.__getitem__)]
    assert verdict.cheapest_share == pytest.approx({name: wins[i] / draws for i, name in enumerate(names)})
    assert verdict.expected_loss == pytest.approx(chosen / draws, abs=1e-6 * found.decision.cost_of_new)


def counted(found: Answer) -> tuple[list[float], list[int], float, int]:
    """Sum of the costs of each option, in how many draws it is the cheapest, and the sum of what the verdict loses.

    The doubts have mean 0 but for the fineness of the draws, so the sums are without them.
    """
    decision, quote = found.decision, found.decision.quote
    costs, draws = decision.costs(quote), len(decision.doubt)
    at = decision.names.index(found.verdict.option)
    sums, wins, lost = [0.0] * len(costs), [0] * len(costs), 0.0
    for draw in range(draws):
        of_draw = [float(cost[draw]) for cost in costs]
        best = min(range(len(of_draw)), key=of_draw.__getitem__)
        wins[best] += 1
        lost += of_draw[at] - of_draw[best]
        of_draw[decision.repair] = float(decision.rest[draw]) + quote
        sums = [total + cost for total, cost in zip(sums, of_draw, strict=True)]
    return sums, wins, lost, draws


# which way the limit moves


@EVERY_CLASS
def test_the_limit_falls_with_the_hazard_of_ending(kind: str, place: str) -> None:
    ratios = (0.8, 1.0, 1.3, 1.8, 2.5, 4.0)
    limits = limits_of([entries_of(kind, place, half_life(kind, place), hazard_ratio=ratio) for ratio in ratios])
    assert np.all(np.diff(limits) < ALLOWED)
    assert limits[-1] < limits[0]


@EVERY_CLASS
def test_the_limit_falls_with_age(kind: str, place: str) -> None:
    mean = 2 * half_life(kind, place)
    limits = limits_of([entries_of(kind, place, share * mean) for share in (0.1, 0.3, 0.5, 0.7, 0.9, 1.1, 1.3)])
    assert np.all(np.diff(limits) < ALLOWED)
    assert limits[-1] < limits[0]


@EVERY_CLASS
def test_the_limit_rises_with_the_remaining_life_factor(kind: str, place: str) -> None:
    entries = entries_of(kind, place, half_life(kind, place))
    factors = (0.4, 0.55, 0.7, 0.85, 1.0, 1.2)
    limits = limits_of([{**entries, "repair": {"remaining_life_factor": factor}} for factor in factors])
    assert np.all(np.diff(limits) > -ALLOWED)
    assert limits[-1] > limits[0]


@EVERY_CLASS
def test_the_limit_rises_with_the_price_of_a_new_one(kind: str, place: str) -> None:
    entries = entries_of(kind, place, half_life(kind, place))
    price = next(float(o.price) for o in complete(entries).case.options if o.appliance is not None)
    installed = next(o.price_includes_installation for o in complete(entries).case.options if o.appliance is not None)
    new = {"price_includes_installation": True} if installed else {}
    cases = [{**entries, "replace": [{"price": price * times, **new}]} for times in (0.6, 0.8, 1.0, 1.3, 1.7)]
    assert np.all(np.diff(limits_of(cases)) > 0)


@EVERY_CLASS
def test_no_repair_before_is_good_news_and_two_are_bad(kind: str, place: str) -> None:
    plain = entries_of(kind, place, half_life(kind, place))
    none, two = (entries_of(kind, place, half_life(kind, place), earlier_repairs=times) for times in (0, 2))
    good, unknown, bad = limits_of([none, plain, two])
    assert good > unknown > bad


@EVERY_CLASS
def test_a_second_fault_found_today_is_a_failure_more(kind: str, place: str) -> None:
    age = half_life(kind, place)
    known = [
        entries_of(kind, place, age, earlier_repairs=1),
        entries_of(kind, place, age, earlier_repairs=0, second_fault=True),
    ]
    plain, second = entries_of(kind, place, age), entries_of(kind, place, age, second_fault=True)
    one_earlier, second_today = limits_of(known)
    assert second_today == pytest.approx(one_earlier, abs=1e-9)
    assert np.all(np.diff(limits_of([plain, second])) < ALLOWED)


def repairable(kind: str, place: str, how: str) -> str:
    """A fault of a kind of appliance for which no caution stops anything; '' where there is none."""
    region = "US" if place == "US" else "EU"
    faults = (each.fault for each in tables().faults(kind) if each.kind == how)
    return next((each for each in faults if not any(c.prohibits for c in tables().cautions(kind, each, region))), "")


FAULTS = [
    (kind, place, core, consumable)
    for kind, place in CLASSES
    if (core := repairable(kind, place, "core")) and (consumable := repairable(kind, place, "consumable"))
]


@pytest.mark.parametrize(("kind", "place", "core", "consumable"), FAULTS)
def test_a_core_fault_is_worth_a_cheaper_repair_than_a_consumable_one(
    kind: str, place: str, core: str, consumable: str
) -> None:
    age = half_life(kind, place)
    dear, cheap = limits_of([entries_of(kind, place, age, fault=fault) for fault in (core, consumable)])
    assert dear < cheap
    assert len(FAULTS) > 10


@pytest.mark.slow
@EVERY_CLASS
def test_a_second_fault_found_today_is_never_good_news(kind: str, place: str) -> None:
    mean = 2 * half_life(kind, place)
    for known in ({}, {"earlier_repairs": 0}, {"earlier_repairs": 2}):
        for age in sorted({1.0, *(round(share * mean, 1) for share in (0.25, 0.5, 0.8, 1.1, 1.5))}):
            plain, second = (
                weigh(complete(entries_of(kind, place, age, **known, **more)).case)
                for more in ({}, {"second_fault": True})
            )
            assert second.repair_limit <= plain.repair_limit + 1e-6, (known, age)
