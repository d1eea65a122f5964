"""The tables as a whole: over all classes, places and ages nothing that they come to is absurd.

What is held elsewhere is not repeated: no value stands on an end of its range, and prices apart from work
(`test_price_level.py`); rated use as new under the law of its year, and exactly 1 for a unit made now
(`test_vintages.py`); later bills between a visit and the price of a new one (`test_lives.py`).
"""

import dataclasses
import itertools
import math

import numpy as np
import pytest

from decide.answers.answer import answer
from decide.economics.weigh import weigh
from decide.load.cases.case_file import complete
from decide.load.cases.ranges import ranges_of
from decide.load.tables.tables import CURRENCIES, TO_INSTALL, tables

T = tables()
PLACES = ("US", "DE", "RO", "FR", "PL", "NO")
SOLD = {place: [kind.kind for kind in T.classes(T.region_of(place))] for place in T.known_places}
SOME = [(place, kind) for place in PLACES for kind in SOLD[place]]
ONE_A_REGION = [(place, kind) for place, kind in SOME if place in ("US", "DE")]
AGES = (0.0, 0.25, 0.5, 0.75, 1.0, 1.25, 1.5)
"""In mean lives."""

OLD_AND_STILL_DEAR = {
    "boiler_gas": (0.48, 0.35, "the household's rate; 63 % is work"),
    "water_heater_gas": (0.46, 0.37, "the household's rate; 59 % is work, and laws changed its use by 13 % at most"),
    "water_heater_electric": (0.45, 0.36, "the household's rate; an old resistance tank uses no more than a new one"),
    "water_heater_tankless_gas": (0.45, 0.35, "the household's rate; 54 % is work, and a new one uses about as much"),
    "heat_pump_air": (0.44, 0.34, "the household's rate; in Europe, 38 % is work"),
    "water_heater_heat_pump": (0.42, 0.33, "the household's rate; a new one uses about as much"),
    "ceiling_fan": (0.41, 0.33, "the household's rate; 56 % is work, and it uses next to nothing"),
    "range_electric": (0.43, 0.36, "the household's rate; a shape of 2.5 drawn to 2.24, and a new one uses as much"),
    "range_gas": (0.41, 0.34, "the household's rate; a shape of 2.5 drawn to 2.24, and a new one uses as much"),
    "oven_electric": (0.42, 0.33, "the household's rate; a shape of 2.5 drawn to 2.24, and a new one uses as much"),
    "central_ac": (0.403, 0.28, "the household's rate; 49 % is work"),
}
"""Classes whose limit at 1.5 mean lives is above 40 % of what a new one costs: how far as usual (a rate of 11 % a year,
at which years that are far off count little), how far at the 3 % of money from savings, and why."""
BESIDE = 0.05
"""How much further it may be where energy is cheaper than in the region, so that what an old one wastes counts less:
a window air conditioner in North Dakota 0.40, a dishwasher there 0.44."""
SAVINGS = 0.03
AGEING = 3.0
"""A shape of lives between the 1.4 and the 3.9 that sources give the boiler."""


def entries(place: str, kind: str, age: float) -> dict[str, object]:
    return {"appliance": {"class": kind, "age": age}, "household": {"place": place, "today": "2026-11-30"}}


def life_of(place: str, kind: str) -> float:
    mean = T.figure("mean_life", kind, T.region_of(place))
    assert mean is not None
    return mean.value


def refuse_absurd_limits(place: str, kind: str, ages: tuple[float, ...]) -> None:
    """Limits that fall, from below a new one to two fifths of it, and never below a visit while it is young."""
    found = [answer(entries(place, kind, share * life_of(place, kind))) for share in ages]
    new = found[0].decision.cost_of_new
    limits = np.array([each.weighing.repair_limit for each in found])
    assert limits[0] < new
    worth = limits[:-1] > 0.05 * new  # below that, fewer years of dear use are better, and it may rise a little
    assert np.all(np.diff(limits)[worth] < 0.002 * new), limits
    most = OLD_AND_STILL_DEAR.get(kind, (0.4,))[0] + (BESIDE if place not in CURRENCIES else 0.005)
    assert limits[-1] <= most * new, limits[-1] / new
    visit = T.figure("service_fee", kind, T.region_of(place))
    assert visit is not None
    assert np.all(limits[np.array(ages) <= 0.5] > visit.value)


@pytest.mark.parametrize(("place", "kind"), SOME, ids=itertools.starmap("{}-{}".format, SOME))
def test_a_young_unit_is_worth_a_visit_and_an_old_one_little(place: str, kind: str) -> None:
    refuse_absurd_limits(place, kind, (0.0, 0.5, 1.5))


@pytest.mark.slow
@pytest.mark.parametrize("place", T.known_places)
def test_the_same_in_every_place_at_every_age(place: str) -> None:
    for kind in SOLD[place]:
        refuse_absurd_limits(place, kind, AGES)


def share_when_old(kind: str, household: dict[str, float], appliance: dict[str, float]) -> float:
    """Limit at 1.5 mean lives over what a new one costs, the higher of the regions."""
    shares = []
    for region in (region for region in CURRENCIES if kind in SOLD[region]):
        case: dict[str, dict] = entries(region, kind, 1.5 * life_of(region, kind))  # type: ignore[assignment]
        found = answer({"appliance": case["appliance"] | appliance, "household": case["household"] | household})
        shares.append(found.weighing.repair_limit / found.decision.cost_of_new)
    return max(shares)


@pytest.mark.parametrize("kind", OLD_AND_STILL_DEAR)
def test_each_exception_stands_where_it_was_measured_and_for_the_reason_named(kind: str) -> None:
    usual, from_savings, _ = OLD_AND_STILL_DEAR[kind]
    assert share_when_old(kind, {}, {}) == pytest.approx(usual, abs=0.01)
    assert usual > 0.4
    assert share_when_old(kind, {"rate": SAVINGS}, {}) == pytest.approx(from_savings, abs=0.01)
    assert from_savings < 0.4
    assert share_when_old(kind, {}, {"life_shape": AGEING}) <= 0.4


@pytest.mark.parametrize("kind", ["boiler_gas", "furnace_gas"])
def test_equipment_of_before_the_first_law_uses_what_was_sold_then(kind: str) -> None:
    """A boiler of 1976 used 5 % more than a new one while it was held to be of 1992; sold were 72 % ones."""
    new, sold = {"boiler_gas": (84, 72.3), "furnace_gas": (90, 72)}[kind]
    ratio = T.vintages[kind, "US", "gas"].ratio
    assert float(ratio(1976.0, 2026.0)) == pytest.approx(new / sold, rel=0.005)
    assert float(ratio(1976.0, 2026.0)) > float(ratio(1986.0, 2026.0)) > float(ratio(1993.0, 2026.0)) > 1
    limits = [answer(entries("US", kind, age)).weighing.repair_limit for age in (30.0, 38.0, 50.0)]
    assert limits[0] - limits[2] > 700


@pytest.mark.parametrize(("place", "kind"), ONE_A_REGION, ids=itertools.starmap("{}-{}".format, ONE_A_REGION))
def test_a_new_unit_whose_repair_is_sure_to_hold_is_worth_what_a_new_one_costs(place: str, kind: str) -> None:
    """R(0) = K of the equation of later failures (Hastings 1969; Drinkwater & Hastings 1967): a failure that is no
    news, a repair that holds and takes no time, and a warranty that is still whole."""
    bought = {"days_without": 0, "food_loss": 0, "food_loss_at_later_failures": 0}
    sure = {"repair_success_probability": 1, "days_without": 0, "food_loss": 0}
    case = complete({**entries(place, kind, 0.0), "repair": sure, "replace": [bought]}).case
    new = next(option for option in case.options if option.appliance is not None)
    found = weigh(dataclasses.replace(case, appliance=new.appliance, by_age={}))
    cost = next(cost.today for cost in found.options if cost.name == new.name)
    assert found.repair_limit == pytest.approx(float(cost), rel=1e-4)


@pytest.mark.parametrize(("place", "kind"), ONE_A_REGION, ids=itertools.starmap("{}-{}".format, ONE_A_REGION))
def test_what_a_case_may_be_instead_lies_on_both_sides_of_what_it_is(place: str, kind: str) -> None:
    for each in ranges_of(complete(entries(place, kind, 8.0))):
        for path, low, value, high in zip(each.paths, each.lows, each.values, each.highs, strict=True):
            assert low < value < high or low == value == high == 0, (path, low, value, high)


@pytest.mark.parametrize(("region", "kind"), [(r, k) for r in CURRENCIES for k in SOLD[r]])
def test_work_is_a_part_of_what_a_new_one_costs_that_the_trade_would_know(region: str, kind: str) -> None:
    """Common practice, no source: an appliance is put in for up to half its price, equipment for up to three times."""
    price, *work = (T.figure(name, kind, region) for name in ("price", *TO_INSTALL))
    assert price is not None
    share, known = math.fsum(each.value for each in work if each is not None) / price.value, T.kind(kind)
    assert share <= (3 if region in known.sold_installed else 0.6 if region in known.built_in else 0.5) or (
        kind == "ceiling_fan" and share < 1.3  # an electrician's visit costs as much as the fan
    )


@pytest.mark.published("Eurostat nrg_pc_204, second half of 2025", "geo NO, 0.1922 EUR/kWh")
def test_norway_has_its_own_electricity_and_names_the_average_that_stands_for_its_gas() -> None:
    own = T.energy_price("NO", "electricity")
    assert (own.value, own.status) == (0.1922, "found")
    taken = {each.field: each for each in complete(entries("NO", "boiler_gas", 8.0)).defaults}
    assert taken["household.gas_price"].stands_for == "NO"
    assert taken["household.electricity_price"].stands_for == ""
    promised = T.promised("guarantee", "clothes_washer", "NO")
    assert promised is not None
    assert promised.value == 5


@pytest.mark.parametrize(("place", "kind"), ONE_A_REGION, ids=itertools.starmap("{}-{}".format, ONE_A_REGION))
def test_the_limit_stands_in_the_middle_of_its_own_doubt(place: str, kind: str) -> None:
    """As many draws lie above it as below, or the headline would lean to one side of what is known."""
    for share in (0.5, 1.0):
        found = answer(entries(place, kind, share * life_of(place, kind)))
        assert 0.42 < np.mean(found.decision.limits > found.weighing.repair_limit) < 0.58


@pytest.mark.parametrize("region", CURRENCIES)
def test_new_units_get_cheaper_than_other_things_by_a_little(region: str) -> None:
    """Without a trend of prices every answer would lean to buying now."""
    trend = T.usual("price_escalation", region)
    assert (trend.value, trend.low, trend.high) == (-0.01, -0.03, 0.01)
    assert complete(entries(region, "dishwasher", 5.0)).case.household.price_escalation == trend.value
