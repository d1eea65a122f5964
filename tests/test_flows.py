"""The cost engine against households lived one by one, closed forms, and its own two horizons."""

import math
from dataclasses import replace

import numpy as np
import pytest
from households import case_of, new_unit, simulated_costs

from decide.case import Case, Option, Quote, Steps, vary
from decide.cash import cash
from decide.flows import CAUSES, chance_it_runs, course_of, flows_of, forever, money
from decide.weigh import weigh

# Ten varied households of our own: every option is followed through 100,000 simulated lives.
VARIED = {
    "as it comes": {},
    "short study": {"household.study_period": 7.0},
    "long study, nothing left": {"household.study_period": 25.0, "household.residual_share": 0.0},
    "half a residual": {"household.study_period": 12.5, "household.residual_share": 0.5},
    "memoryless unit": {"appliance.life_shape": 1.0, "appliance.life_delay": 0.0},
    "wears out sharply": {"appliance.life_shape": 6.0, "appliance.life_delay": 0.0, "household.study_period": 15.0},
    "poor outlook": {"repair.outlook": 0.3, "repair.fix_holds": 0.7, "repair.repair_warranty": 10.0},
    "dear energy that grows": {
        "household.electricity_price": 0.5,
        "household.electricity_escalation": 0.02,
        "household.rate": 0.06,
    },
    "prices of new ones fall": {"household.price_escalation": -0.02, "household.rate": 0.07},
    "planned replacement": {"repair.hold": 4.0},
    "planned within a study": {"repair.hold": 5.0, "household.study_period": 14.0},
    "old unit, drifting": {"appliance.age": 22.0, "appliance.energy_drift": 0.02, "household.study_period": 10.0},
}


def varied(changes: dict[str, float]) -> Case:
    case = case_of()
    for path, value in changes.items():
        case = vary(case, path, value)
    return case


@pytest.mark.parametrize("changes", VARIED.values(), ids=VARIED)
def test_expected_costs_lie_within_three_standard_errors_of_simulated_households(changes: dict[str, float]) -> None:
    case = varied(changes)
    costs = weigh(case).options[: len(case.options)]
    for option, cost in zip(case.options, costs, strict=True):
        simulated = simulated_costs(case, option, households=100_000, seed=20)
        error = simulated.std() / math.sqrt(simulated.size)
        assert abs(cost.present_cost - simulated.mean()) < 3 * error + 1e-4 * abs(simulated.mean()), option.name


@pytest.mark.parametrize("changes", VARIED.values(), ids=VARIED)
def test_a_hundred_times_finer_grid_changes_a_present_cost_by_less_than_a_thousandth(
    changes: dict[str, float],
) -> None:
    case = varied(changes)
    prices, successor = money(case.household), case.options[1]
    for option in case.options:
        coarse, fine = (
            sum(cash(case, option, successor, prices, 6.0, 1.0, cells).present.values()) for cells in (12, 1200)
        )
        assert coarse == pytest.approx(fine, rel=1e-3)


def test_a_study_period_without_end_is_the_need_without_end() -> None:
    endless = weigh(case_of())
    long = weigh(vary(case_of(), "household.study_period", 400.0))
    for one, other in zip(endless.options, long.options, strict=True):
        assert one.present_cost == pytest.approx(other.present_cost, rel=3e-4)
    assert endless.repair_limit == pytest.approx(long.repair_limit, abs=0.5)


def test_cash_by_year_adds_up_to_the_undiscounted_cost_and_names_every_cause() -> None:
    case = varied({"household.study_period": 8.0, "household.rate": 0.0})
    made = cash(case, case.options[0], case.options[1], money(case.household), 8.0, 1.0)
    assert set(made.by_year) == set(CAUSES)
    for cause in CAUSES:
        assert made.by_year[cause].sum() == pytest.approx(float(made.present[cause]), abs=1e-6)
    assert made.by_year["repair"][1:].sum() == 0


def test_a_memoryless_unit_costs_its_closed_form() -> None:
    # exponential life with failure rate m: V = P + y/(d+m) + m/(d+m) V, hence V = P (d+m)/d + y/d; d = ln(1.05)
    rate, mean, price, yearly = 0.05, 8.0, 700.0, 90.0
    d, m = math.log1p(rate), 1 / mean
    unit = replace(
        new_unit(), mean_life=mean, life_shape=1.0, life_delay=0.0, electricity=0.0, upkeep=yearly, water=0.0
    )
    option = Option(name="new", action="replace", unit=unit, price=price)
    case = vary(case_of(), "household.rate", rate)
    course = course_of(case, option, money(case.household))
    assert sum(forever(course).values()) == pytest.approx(price * (d + m) / d + yearly / d, rel=1e-6)


def test_a_quote_is_built_of_its_parts_with_tax_and_less_the_fee_that_comes_off() -> None:
    # by hand: (100 + 1.5 x 80 + 30) x 1.10 = 275; 40 of the fee comes off; 25 is due only if declined
    quote = Quote(parts=100, labour_hours=1.5, labour_rate=80, trip=30, tax_rate=0.1, fee_credit=40, fee_if_declined=25)
    case = case_of(quote=quote)
    repair, new = flows_of(case, case.options[0]).once, flows_of(case, case.options[1]).once
    without = flows_of(case_of(), case_of().options[1]).once
    assert repair["repair"] == pytest.approx(235.0)
    assert new["other"] - without["other"] == pytest.approx(25.0)


def test_a_fee_that_comes_off_raises_the_limit_by_itself_and_a_fee_if_declined_too() -> None:
    limit = weigh(case_of(quote=Quote(amount=300))).repair_limit
    assert weigh(case_of(quote=Quote(amount=300, fee_credit=60))).repair_limit == pytest.approx(limit + 60)
    assert weigh(case_of(quote=Quote(amount=300, fee_if_declined=60))).repair_limit == pytest.approx(limit + 60)


def test_a_loan_at_the_household_s_own_nominal_rate_costs_nothing_extra() -> None:
    case = case_of()
    nominal = 12 * (((1 + case.household.rate) * (1 + case.household.inflation)) ** (1 / 12) - 1)
    bought = replace(case.options[1], financed=500.0, loan_rate=nominal, loan_years=3.0)
    plain = flows_of(case, case.options[1]).once["purchase"]
    assert flows_of(case, bought).once["purchase"] == pytest.approx(plain, abs=1e-6)
    dear = replace(bought, loan_rate=0.25)
    assert flows_of(case, dear).once["purchase"] > plain


@pytest.mark.parametrize(
    ("holds", "warranty", "runs"),
    [(1.0, 0, 1.0), (0.9, 0, 0.9), (0.9, 15, 0.945), (0.9, 30, 0.99), (0.9, 365, 0.99)],
    ids=["always", "no warranty", "half the window", "the window", "a year"],
)
def test_a_warranty_gives_the_repair_a_second_chance_in_the_part_of_the_window_that_it_covers(
    holds: float, warranty: float, runs: float
) -> None:
    repair = replace(case_of().options[0], fix_holds=holds, repair_warranty=warranty)
    assert chance_it_runs(repair) == pytest.approx(runs)


def test_a_warranty_on_a_new_unit_spares_its_upkeep_while_it_lasts() -> None:
    case = case_of()
    bare, covered = (replace(case.options[1], warranty=years) for years in (0.0, 2.0))
    prices = money(case.household)
    spared = course_of(case, bare, prices).running["upkeep"] - course_of(case, covered, prices).running["upkeep"]
    force = math.log1p(case.household.rate)
    # nearly all new units live two years: 30 a year for two years, discounted continuously, times survival
    assert spared == pytest.approx(30 * (1 - math.exp(-2 * force)) / force, rel=0.02)


def test_columns_give_what_one_case_at_a_time_gives() -> None:
    ages = np.array([0.0, 4.0, 9.5, 15.0, 30.0])
    together = weigh(vary(case_of(), "appliance.age", ages))
    for row, age in enumerate(ages):
        alone = weigh(vary(case_of(), "appliance.age", float(age)))
        assert together.repair_limit[row] == pytest.approx(alone.repair_limit, rel=1e-12)
        assert together.best[row] == alone.best
        assert together.planned_years[row] == alone.planned_years


def test_columns_meet_a_study_period_too() -> None:
    case = vary(case_of(), "household.study_period", 9.0)
    ages = np.array([1.0, 8.0, 20.0])
    together = weigh(vary(case, "appliance.age", ages))
    for row, age in enumerate(ages):
        alone = weigh(vary(case, "appliance.age", float(age)))
        assert together.repair_limit[row] == pytest.approx(alone.repair_limit, rel=1e-12)


def test_a_column_may_change_which_unit_comes_next() -> None:
    dearer = replace(case_of().options[1], name="other new", price=700.0, rebate=0.0)
    case = replace(case_of(), options=(*case_of().options, dearer))
    prices = np.array([100.0, 5000.0])
    together = weigh(vary(case, "replace.3.price", prices))
    assert list(together.successor) == [4, 1]
    for row, price in enumerate(prices):
        alone = weigh(vary(case, "replace.3.price", float(price)))
        assert together.repair_limit[row] == pytest.approx(alone.repair_limit, rel=1e-12)


def test_a_rebate_of_today_does_not_follow_for_ever() -> None:
    # two offers of the same unit: 800 less 1000 rebate on 1600, that is 600 today; later the cheaper list price counts
    plain = replace(case_of().options[1], name="plain", price=800.0, rebate=0.0)
    better = replace(plain, name="rebated", price=1600.0, rebate=1000.0)
    for period in (math.inf, 8.0):
        case = replace(case_of(), options=(case_of().options[0], plain, better))
        case = replace(case, household=replace(case.household, study_period=period))
        weighed = weigh(case)
        costs = {cost.name: cost.present_cost for cost in weighed.options}
        assert costs["rebated"] == pytest.approx(costs["plain"] - 200.0, abs=1e-6)
        assert weighed.successor == 1


def test_a_used_unit_is_an_offer_of_today_and_no_successor() -> None:
    bargain = replace(case_of().options[2], price=1.0, delivery=0.0)
    case = replace(case_of(), options=(*case_of().options[:2], bargain))
    weighed = weigh(case)
    assert weighed.successor == 1
    assert weighed.options[0].present_cost == pytest.approx(weigh(case_of()).options[0].present_cost)


def test_on_a_planned_day_nobody_waits_and_nothing_spoils() -> None:
    spoiling = replace(case_of().options[1], spoiled_food=300.0)
    case = replace(case_of(), options=(case_of().options[0], spoiling))
    for period in (math.inf, 9.0):
        studied = replace(case, household=replace(case.household, study_period=period))
        today = vary(studied, "repair.hold", 1e-6)
        repair, new = (weigh(today).options[i].present_cost for i in (0, 1))
        once = flows_of(today, today.options[0]).once
        bought = flows_of(today, today.options[1]).once
        waited = float(chance_it_runs(today.options[0])) * float(bought["other"])
        # bought by plan at once: the price of a new one without its rebate, and no wait where the repair holds
        assert repair == pytest.approx(sum(once.values()) + new + 30.0 - waited, abs=0.2)


def test_a_price_in_steps_costs_what_the_bills_say() -> None:
    # by hand: the first 200 kWh at half the price, the rest at one and a half times: 380 counts as 100 + 270 = 370
    steps = Steps(upto=(200.0, 1000.0), level=(0.5, 1.5))
    case = replace(case_of(), household=replace(case_of().household, electricity_steps=steps))
    prices = money(case.household)
    assert prices.cost("electricity", 380.0) == pytest.approx(370.0 * 0.35)
    assert prices.cost("electricity", np.array([100.0, 380.0])) == pytest.approx([50 * 0.35, 370 * 0.35])
    assert prices.cost("water", 9.0) == pytest.approx(36.0)
    plain = vary(case_of(), "household.electricity_price", 0.35 * 370 / 380)
    repairing, same = (course_of(each, each.options[0], money(each.household)) for each in (case, plain))
    assert repairing.running["electricity"] == pytest.approx(same.running["electricity"])


def test_what_comes_next_is_chosen_by_its_worth_when_the_unit_ends() -> None:
    # prices that fall and energy that does not: the order of two successors at today's prices is not theirs later on
    case = vary(case_of(), "household.price_escalation", -0.03035)
    limits = [
        weigh(vary(case, "household.price_escalation", growth)).repair_limit for growth in (-0.0304, -0.03035, -0.0303)
    ]
    assert np.ptp(limits) < 0.5  # a jump of 81 before


def test_any_one_input_of_a_study_may_be_a_column() -> None:
    case = vary(case_of(), "household.study_period", 6.0)
    for path, values in {
        "household.residual_share": [0.0, 0.5, 1.0],
        "household.rate": [0.01, 0.05, 0.1],
        "repair.hold": [0.3, 0.4, 5.0],
        "replace.unit.age": [0.0, 3.0, 9.0],
        "household.price_escalation": [-0.02, 0.0, 0.02],
    }.items():
        together = weigh(vary(case, path, np.array(values)))
        for row, value in enumerate(values):
            alone = weigh(vary(case, path, value))
            assert together.repair_limit[row] == pytest.approx(alone.repair_limit, rel=1e-9), path
