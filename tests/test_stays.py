"""A stay that ends: what becomes of the unit, a used one, and doing without; and no total below nothing."""

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from entry_errors import errors_of
from households import case_of, standard_error

from decide.economics.case import LEAVE, REPAIR, REPLACE, WITHOUT, Case, vary, vary_all
from decide.economics.flows import money
from decide.economics.horizon import horizon_of
from decide.economics.outcomes import outcome_distribution
from decide.economics.weigh import weigh
from decide.load.cases.case_file import complete
from decide.load.tables.tables import tables

AGES = np.array([0.0, 1.0, 4.0, 8.0, 12.0, 20.0, 40.0])
DISHWASHER = {"class": "dishwasher", "age": 8}


def staying(years: float, kind: str = "dishwasher", place: str = "US", **entries: Any) -> Case:
    """A unit of eight years with a quote, needed for so many years."""
    home = {"place": place, "study_period": years, **entries.pop("household", {})}
    there = {"class": kind, "age": 8, **entries.pop("appliance", {})}
    return complete({"appliance": there, "household": home, "repair": {"quote": 265}, **entries}).case


def without_some(case: Case, *names: str) -> Case:
    return replace(case, options=tuple(option for option in case.options if option.name not in names))


def test_what_follows_in_a_column_of_stays_is_what_follows_in_each_of_them() -> None:
    """A used unit may come next only where a year left of a new one is not credited."""
    case = vary_all(case_of(), {"household.study_period": 9.0, "replace.2.price": 30.0, "appliance.age": 14.0})
    shares = [0.0, 0.4, 1.0]
    together = weigh(vary(case, "household.residual_share", np.array(shares)))
    for row, share in enumerate(shares):
        alone = weigh(vary(case, "household.residual_share", share))
        for one, other in zip(together.options, alone.options, strict=True):
            assert np.broadcast_to(one.successor, 3)[row] == other.successor
            assert np.broadcast_to(one.present_cost, 3)[row] == pytest.approx(other.present_cost, rel=1e-9)
    assert together.options[0].successor.tolist() == [2, 1, 1]


@pytest.mark.slow
@pytest.mark.parametrize("at_end", ["leave", "sell"])
@pytest.mark.parametrize("place", ["US", "EU"])
def test_no_total_is_below_nothing_in_any_class_at_any_age_for_any_stay(place: str, at_end: str) -> None:
    for kind in tables().classes(place):
        for years in (1, 2, 3, 4, 5, 6, 7, 8, 9, 10):
            case = staying(years, kind.kind, place, household={"at_end": at_end})
            free = vary_all(case, {"appliance.age": AGES, "repair.quote.amount": np.zeros(len(AGES))})
            for cost in weigh(free).options:
                assert np.all(np.asarray(cost.present_cost) >= -1e-9), (kind.kind, years, cost.name)


def test_a_short_stay_with_a_dear_new_one_has_no_total_below_nothing() -> None:
    # by a share of the new price for every year left, repairing came to -410 over one year and -186 over two
    for years in (1, 2):
        pro_rata = staying(years, replace=[{"price": 1200}], household={"residual_share": 1, "rate": 0.03})
        assert weigh(pro_rata).repair.present_cost < 0
        for at_end in ("leave", "sell"):
            case = staying(years, replace=[{"price": 1200}], household={"at_end": at_end})
            assert weigh(case).repair.present_cost > 265


@pytest.mark.parametrize("at_end", ["leave", "sell"])
def test_the_limit_of_a_stay_is_linear_in_the_quote(at_end: str) -> None:
    case = staying(1.0, replace=[{"price": 3000}], household={"at_end": at_end})
    quotes = np.array([0.0, 1.0, 265.0, 4000.0])
    weighed = weigh(vary(case, "repair.quote.amount", quotes))
    assert np.ptp(weighed.repair_limit) < 1e-9
    assert np.allclose(weighed.advantage, weighed.repair_limit - quotes)


SURE = {
    "appliance.age": 0.0, "appliance.mean_life": 60.0, "appliance.life_shape": 10.0, "appliance.water": 0.0,
    "appliance.efficiency_degradation_rate": 0.0, "appliance.maintenance_and_repair": 0.0,
    "appliance.electricity": 20.0, "replace.appliance.mean_life": 60.0,
    "replace.appliance.life_shape": 10.0, "replace.rebate": 0.0, "replace.delivery": 0.0, "replace.haul_away": 0.0,
    "household.rate": 0.04, "household.residual_share": 0.0, "household.resale_share": 0.25,
    "household.study_period": 6.0, "household.electricity_price": 0.5, "household.day_cost": 0.0,
    "repair.repair_success_probability": 1.0,
}  # fmt: skip


def test_a_bought_unit_is_credited_by_hand_and_the_mended_one_by_what_it_cost_to_run() -> None:
    # of 60 years 54 are left: 0.25 x 620 x 0.9 / 1.04^6 = 110.25; running the mended one takes 20 x 0.5 = 10 a year,
    # 10 (1 - 1.04^-6) / ln 1.04 = 53.46, so it is credited 53.46 and costs its quote alone
    case = vary_all(without_some(case_of(), "used", "leave"), SURE)
    kept = vary(case, "household.resale_share", 0.0)
    sold, left = ({c.name: c.present_cost for c in weigh(each).options} for each in (case, kept))
    assert left["new"] - sold["new"] == pytest.approx(110.25, abs=0.05)
    assert left["repair"] - sold["repair"] == pytest.approx(10 * (1 - 1.04**-6) / math.log(1.04), abs=0.01)
    assert sold["repair"] == pytest.approx(260.0, abs=0.01)


def test_a_used_unit_is_credited_no_more_than_was_paid_for_it() -> None:
    given = vary_all(case_of(), {"household.study_period": 1.0, "household.residual_share": 0.0})
    given = vary_all(given, {"replace.2.price": 5.0, "replace.2.delivery": 0.0, "household.price_escalation": 0.0})
    left, sold = (
        horizon_of(c, money(c.household)).cost(c.options[2])["purchase"]
        for c in (given, vary(given, "household.resale_share", 1.0))
    )
    assert left - sold >= 5.0  # its own five, and what later ones bring
    assert sold >= -1e-9


@pytest.mark.parametrize("which", range(4), ids=["repair", "new", "used", "leave"])
def test_households_that_sell_it_pay_on_average_what_is_expected(which: int) -> None:
    case = vary_all(case_of(), {"household.study_period": 2.0, "household.residual_share": 0.0})
    case = vary_all(case, {"household.resale_share": 0.9, "replace.price": 2500.0})  # some are held to what they cost
    option = case.options[which]
    found = outcome_distribution(case, option, households=20_000)
    expected = sum(horizon_of(case, money(case.household)).cost(option).values())
    assert abs(np.mean(found.costs) - expected) < 4 * standard_error(found) + 1e-3 * expected


def test_what_is_taken_along_is_needed_without_end() -> None:
    along = staying(2.0, household={"at_end": "take along"})
    assert along.household.study_period == math.inf
    endless = complete({"appliance": DISHWASHER, "repair": {"quote": 265}, "household": {"leaving_rate": 0}}).case
    assert weigh(along).repair_limit == weigh(endless).repair_limit
    assert [option.action for option in along.options] == [option.action for option in endless.options]


@pytest.mark.parametrize(
    ("kind", "place", "home", "share"),
    [
        ("dishwasher", "US", {}, 0.0),  # built in: stays behind
        ("clothes_washer", "US", {}, 0.25),
        ("boiler_gas", "EU", {}, 0.0),
        ("water_heater_electric", "US", {}, 0.0),
        ("dishwasher", "US", {"at_end": "sell"}, 0.25),
        ("dishwasher", "US", {"resale_share": 0.1}, 0.1),
        ("clothes_washer", "US", {"landlord": {"tax_rate": 0.2, "pays_energy": 0, "depreciation_years": 5}}, 0.0),
    ],
)
def test_what_is_built_in_or_rented_out_stays_behind_and_the_rest_is_sold(
    kind: str, place: str, home: dict[str, Any], share: float
) -> None:
    household = staying(3.0, kind, place, household=home).household
    assert household.resale_share == share
    assert household.residual_share == 0.0


def test_a_study_that_states_its_own_residual_share_is_weighed_as_it_states_it() -> None:
    case = staying(3.0, household={"residual_share": 0.5})
    assert (case.household.residual_share, case.household.resale_share) == (0.5, 0.0)
    assert [option.action for option in case.options] == ["repair", REPLACE]


def test_what_contradicts_itself_about_the_end_is_refused_by_its_name() -> None:
    home = {"study_period": 3, "at_end": "leave"}
    assert "at_end" in "".join(errors_of({"appliance": DISHWASHER, "household": {**home, "residual_share": 1}}))
    assert "household.at_end" in errors_of({"appliance": DISHWASHER, "household": {**home, "at_end": "burn"}})
    found = errors_of({"appliance": DISHWASHER, "household": {"at_end": "sell"}})
    assert "study_period is not given" in found["household.at_end"]


# a used one


@pytest.mark.slow
@pytest.mark.parametrize("at_end", ["leave", "sell"])
@pytest.mark.parametrize("place", ["US", "EU"])
def test_no_limit_is_above_the_cheapest_used_unit_at_equal_running_cost(place: str, at_end: str) -> None:
    for kind in tables().classes(place):
        for years in (1, 4, 10):
            case = staying(years, kind.kind, place, household={"at_end": at_end})
            used = [option for option in case.options if option.name == "A used one"]
            assert bool(used) == kind.sold_used(place)
            if not used:
                continue
            running = ("electricity", "gas", "water", "maintenance_and_repair")
            alike = {f"{unit}.{name}": 0.0 for name in running for unit in ("replace.2.appliance", "appliance")}
            case = vary_all(case, {**alike, "appliance.age": used[0].appliance.age, "repair.days_without": 0.0})
            case = vary_all(case, {"repair.repair_success_probability": 1.0, "repair.food_loss": 0.0})
            weighed = weigh(case)
            price = next(cost.today for cost in weighed.options if cost.name == "A used one")
            assert weighed.repair_limit <= price + 1e-6, (kind.kind, years)


def test_a_used_one_is_offered_for_a_stay_alone_and_not_beside_one_that_was_entered() -> None:
    names = [str(option.name) for option in staying(3.0).options]
    assert names == ["Repair it", "New dishwasher", "A used one", "Do without it"]
    own = staying(3.0, replace=[{}, {"price": 150, "appliance": {"age": 5}}])
    assert "A used one" not in [option.name for option in own.options]
    assert len(complete({"appliance": DISHWASHER}).case.options) == 2


@pytest.mark.parametrize("place", ["US", "EU"])
def test_for_a_year_at_most_no_limit_is_above_a_used_unit_and_its_repairs(place: str) -> None:
    """Nothing of a used one costs more within the seller's guarantee: then its price alone is the bound."""
    for kind in tables().classes(place):
        if not kind.sold_used(place):
            continue
        for years in (0.5, 1.0):
            case = staying(years, kind.kind, place, appliance={"age": 8})
            weighed = weigh(vary(case, "appliance.age", case.options[2].appliance.age + np.array([0.0, 3.0, 9.0])))
            used = next(cost for cost in weighed.options if cost.name == "A used one")
            bound = used.today + np.asarray(used.by_category["maintenance_and_repair"])
            assert np.all(weighed.repair_limit <= bound), (kind.kind, years)
            if years <= used.option.warranty:
                assert np.all(weighed.repair_limit <= used.today), (kind.kind, years)


@pytest.mark.parametrize(("kind", "place"), [("refrigerator", "US"), ("clothes_washer", "EU"), ("microwave", "EU")])
def test_a_used_one_is_cheaper_the_shorter_the_stay_and_at_the_usual_one_no_more(kind: str, place: str) -> None:
    usual = tables().usual("years_in_home", place).value
    rate, over = tables().usual("household_rate", place).value, []
    for years in (2.0, 6.0, usual, 20.0):
        case = without_some(staying(years, kind, place, household={"rate": rate}), "Do without it")
        costs = []
        for each in case.options[1:3]:  # each followed by its like
            alone = replace(case, options=(case.repair, each))
            costs.append(sum(horizon_of(alone, money(case.household)).cost(each).values()))
        over.append(costs[1] / costs[0])
    assert over[0] < over[1] < over[2]
    assert over[2] == pytest.approx(1, abs=0.002)  # what is left is sold by its own price here
    assert over[3] == pytest.approx(1, abs=0.1)


def test_the_limits_of_a_dishwasher_of_eight_years_for_a_short_stay() -> None:
    """Against an earlier reckoning of our own with other prices and less upkeep: limits 325, 317, 310, 299.

    It knew of no hidden faults of a used one, so here there are none either.
    """

    def limit(years: float) -> float:
        case = staying(years, replace=[{"price": 430}], household={"rate": 0.03})
        new, there = case.options[1].appliance, "replace.2.appliance"
        assert new is not None
        none = {f"{there}.maintenance_and_repair": new.maintenance_and_repair, f"{there}.hazard_ratio": 1.0}
        return float(
            weigh(without_some(vary_all(case, {**none, "replace.2.warranty": 0.0}), "Do without it")).repair_limit
        )

    assert [limit(years) for years in (1, 2, 3, 5)] == pytest.approx([341, 326, 313, 293], abs=3)
    new_alone = weigh(without_some(staying(1, replace=[{"price": 430}]), "Do without it", "A used one")).repair_limit
    assert float(new_alone) == pytest.approx(628, abs=5)


# doing without


@pytest.mark.parametrize("years", [1.0, 3.5, 10.0])
def test_doing_without_costs_its_loss_of_use_for_the_stay_and_nothing_else(years: float) -> None:
    case = staying(years, without={"annual_loss_of_use": 150})
    cost = next(cost for cost in weigh(case).options if cost.action == WITHOUT)
    force = math.log1p(case.household.rate)
    assert cost.present_cost == pytest.approx(150 * (1 - math.exp(-force * years)) / force, rel=1e-4)
    assert cost.today == 0
    endless = complete({"appliance": DISHWASHER, "without": {"annual_loss_of_use": 150}}).case
    cost = next(cost for cost in weigh(endless).options if cost.action == WITHOUT)
    assert cost.present_cost == pytest.approx(150 / (force + endless.household.leaving_rate))
    for either in (case, endless):
        missed = [replace(o, annual_loss_of_use=0.0) if o.action == WITHOUT else o for o in either.options]
        cost = next(c for c in weigh(replace(either, options=tuple(missed))).options if c.action == WITHOUT)
        assert (cost.present_cost, cost.today, cost.expected_remaining_life) == (0, 0, 0)


def test_doing_without_costs_every_household_the_same_and_follows_where_a_unit_fails() -> None:
    case = staying(6.0, without={"annual_loss_of_use": 20}, household={"at_end": "leave"})
    weighed = {option.action: cost for option, cost in zip(case.options, weigh(case).options, strict=False)}
    assert case.options[int(weighed[REPAIR].successor)].action == WITHOUT
    repair, without = (next(o for o in case.options if o.action == action) for action in (REPAIR, WITHOUT))
    sure = outcome_distribution(case, without, households=50)
    assert sure.costs == pytest.approx(np.full(50, weighed[WITHOUT].present_cost), rel=1e-4)
    mended = outcome_distribution(case, repair, households=4_000)
    expected = weighed[REPAIR].present_cost
    assert abs(np.mean(mended.costs) - expected) < 4 * standard_error(mended) + 1e-3 * expected


@pytest.mark.parametrize("place", ["US", "EU"])
def test_doing_without_costs_no_less_a_year_than_owning_one(place: str) -> None:
    """Those who have one would not keep it otherwise: revealed preference. Heat, hot water and cooking have no row."""
    with_a_row = []
    for kind in tables().classes(place):
        figure = tables().figure("doing_without", kind.kind, place)
        if figure is None:
            continue
        with_a_row.append(kind)
        home = {"place": place, "rate": 0.03, "leaving_rate": 0}  # as one pays who keeps one for good
        weighed = weigh(complete({"appliance": {"class": kind.kind, "age": 5}, "household": home}).case)
        new = next(cost for cost in weighed.options if cost.action == REPLACE)
        assert figure.value >= new.equivalent_annual_cost, kind.kind
    assert not any(kind.group in ("heating", "hot_water") or kind.kind == "refrigerator" for kind in with_a_row)
    assert len(with_a_row) >= 10


def test_a_dead_unit_cannot_be_left_as_it_is_and_is_done_without() -> None:
    dead, alive = (
        complete({"appliance": {**DISHWASHER, "fault": fault}, "leave": {"annual_loss_of_use": 90}}).case
        for fault in ("circulation_pump", "detergent_dispenser")
    )
    assert [option.action for option in dead.options][-1] == WITHOUT
    assert dead.options[-1].annual_loss_of_use == 90
    assert [option.action for option in alive.options][-1] == LEAVE
    there = {**DISHWASHER, "fault": "circulation_pump"}
    runs = complete({"appliance": there, "leave": {"annual_loss_of_use": 90, "energy_change": 0.1}}).case
    assert runs.options[-1].action == LEAVE  # whoever says how it runs says that it does
    assert "is needed" in errors_of({"appliance": there, "leave": {}})["leave.annual_loss_of_use"]
    both = {"leave": {"annual_loss_of_use": 90}, "without": {"annual_loss_of_use": 80}}
    assert "[without]" in errors_of({"appliance": there, **both})["leave"]


def test_a_dead_unit_left_there_for_a_year_has_no_credit() -> None:
    """It came to -52 a year as long as it was credited as a sound one."""
    case = staying(
        1.0, appliance={"fault": "power_supply"}, leave={"annual_loss_of_use": 150}, household={"rate": 0.03}
    )
    cost = weigh(case).options[-1 if case.options[-1].action == WITHOUT else -2]
    assert cost.action == WITHOUT
    assert cost.present_cost == pytest.approx(148, abs=1)
    assert [option.action for option in case.options].count(WITHOUT) == 1


@pytest.mark.slow
@pytest.mark.parametrize("share", [0.5, 1.0])
@pytest.mark.parametrize(
    ("place", "kind"), [(place, kind.kind) for place in ("US", "EU") for kind in tables().classes(place)]
)
def test_half_a_year_more_to_stay_moves_the_limit_little_and_a_limit_is_worth_something(
    place: str, kind: str, share: float
) -> None:
    """By a tenth of the price of a new one at most, or by what half a year of doing without costs where that bounds it,
    from half a year to fifteen. A used one was once set beside the others up to five years only: it stepped by half."""
    mean = tables().needed("mean_life", kind, place).value
    case = staying(1.0, kind, place, appliance={"age": round(share * mean)})
    stays = np.arange(1, 31) / 2
    weighed = [weigh(replace(case, household=replace(case.household, study_period=float(each)))) for each in stays]
    limits = np.array([float(each.repair_limit) for each in weighed])
    new = next(float(c.today) for c in weighed[0].options if c.action == REPLACE and c.option.appliance.age == 0)
    missed = max((float(o.annual_loss_of_use) / 2 for o in case.options if o.action == WITHOUT), default=0.0)
    assert np.max(np.abs(np.diff(limits))) <= max(0.1 * new, missed if limits[0] < missed else 0.0)
    assert np.min(limits) >= 0
