"""The cost engine against households lived one by one, closed forms, and its own two horizons."""

import math
from dataclasses import replace

import numpy as np
import numpy_financial as npf
import pytest
from households import case_of, new_appliance, simulated_costs
from yearly_cash import cash

from decide.economics.case import Case, Option, Quote, vary, vary_all
from decide.economics.flows import (
    COST_CATEGORIES,
    Course,
    as_paid,
    cash_today,
    course_of,
    flows_of,
    forever,
    life_of,
    money,
    running_probability,
    running_share,
)
from decide.economics.household import Landlord, PriceSteps
from decide.economics.landlord import straight_line
from decide.economics.weigh import weigh
from decide.finance.life import Weibull

# Varied households of our own: every option is followed through 100,000 simulated lives.
VARIED = {
    "as it comes": {},
    "short study": {"household.study_period": 7.0},
    "long study, nothing left": {"household.study_period": 25.0, "household.residual_share": 0.0},
    "sold at the end": {
        "household.study_period": 7.0,
        "household.residual_share": 0.0,
        "household.resale_share": 0.25,
    },
    "half a residual": {"household.study_period": 12.5, "household.residual_share": 0.5},
    "memoryless unit": {"appliance.life_shape": 1.0, "appliance.failure_free_years": 0.0},
    "wears out sharply": {
        "appliance.life_shape": 6.0,
        "appliance.failure_free_years": 0.0,
        "household.study_period": 15.0,
    },
    "poor outlook": {
        "repair.remaining_life_factor": 0.3,
        "repair.repair_success_probability": 0.7,
        "repair.repair_warranty": 10.0,
    },
    "dear energy that grows": {
        "household.electricity_price": 0.5,
        "household.electricity_escalation": 0.02,
        "household.rate": 0.06,
    },
    "prices of new ones fall": {"household.price_escalation": -0.02, "household.rate": 0.07},
    "planned replacement": {"repair.planned_replacement_years": 4.0},
    "planned within a study": {"repair.planned_replacement_years": 5.0, "household.study_period": 14.0},
    "old unit, drifting": {
        "appliance.age": 22.0,
        "appliance.efficiency_degradation_rate": 0.02,
        "household.study_period": 10.0,
    },
    "none fails when new": {
        "appliance.failure_free_years": 5.0,
        "replace.appliance.failure_free_years": 6.0,
        "household.study_period": 11.0,
        "replace.tax_rate": 0.2,
    },
}


def varied(changes: dict[str, float]) -> Case:
    case = case_of()
    for path, value in changes.items():
        case = vary(case, path, value)
    return case


@pytest.mark.slow
@pytest.mark.parametrize("changes", VARIED.values(), ids=VARIED)
def test_expected_costs_lie_within_three_standard_errors_of_simulated_households(changes: dict[str, float]) -> None:
    case = varied(changes)
    costs = weigh(case).options[: len(case.options)]
    for option, cost in zip(case.options, costs, strict=True):
        simulated = simulated_costs(case, option, 100_000, 20, case.options[int(cost.successor)])
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
            sum(cash(case, option, successor, prices, 6.0, True, cells).present.values()) for cells in (12, 1200)
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
    made = cash(case, case.options[0], case.options[1], money(case.household), 8.0, True)
    assert set(made.by_year) == set(COST_CATEGORIES)
    for category in COST_CATEGORIES:
        assert made.by_year[category].sum() == pytest.approx(float(made.present[category]), abs=1e-6)
    assert made.by_year["repair"][1:].sum() == 0


def test_a_memoryless_unit_costs_its_closed_form() -> None:
    # exponential life with failure rate m: V = P + y/(d+m) + m/(d+m) V, hence V = P (d+m)/d + y/d; d = ln(1.05)
    rate, mean, price, yearly = 0.05, 8.0, 700.0, 90.0
    d, m = math.log1p(rate), 1 / mean
    appliance = replace(
        new_appliance(),
        mean_life=mean,
        life_shape=1.0,
        failure_free_years=0.0,
        electricity=0.0,
        maintenance_and_repair=yearly,
        water=0.0,
    )
    option = Option(name="new", action="replace", appliance=appliance, price=price)
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
    repair = replace(case_of().options[0], repair_success_probability=holds, repair_warranty=warranty)
    assert running_probability(repair) == pytest.approx(runs)


def test_a_warranty_on_a_new_unit_spares_its_upkeep_while_it_lasts() -> None:
    case = case_of()
    bare, covered = (replace(case.options[1], warranty=years) for years in (0.0, 2.0))
    prices = money(case.household)
    spared = (
        course_of(case, bare, prices).running["maintenance_and_repair"]
        - course_of(case, covered, prices).running["maintenance_and_repair"]
    )
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
    spoiling = replace(case_of().options[1], food_loss=300.0, food_loss_at_later_failures=300.0)
    case = replace(case_of(), options=(case_of().options[0], spoiling))
    for period in (math.inf, 9.0):
        studied = replace(case, household=replace(case.household, study_period=period))
        today = vary(studied, "repair.planned_replacement_years", 1e-6)
        repair, new = (weigh(today).options[i].present_cost for i in (0, 1))
        once = flows_of(today, today.options[0]).once
        bought = flows_of(today, today.options[1]).once
        waited = float(running_probability(today.options[0])) * float(bought["other"])
        # bought by plan at once: the price of a new one without its rebate, and no wait where the repair holds
        assert repair == pytest.approx(sum(once.values()) + new + 30.0 - waited, abs=0.2)


def test_a_price_in_steps_costs_what_the_bills_say() -> None:
    # by hand: the first 200 kWh at half the price, the rest at one and a half times: 380 counts as 100 + 270 = 370
    steps = PriceSteps(upto=(200.0, 1000.0), level=(0.5, 1.5))
    case = replace(case_of(), household=replace(case_of().household, electricity_steps=steps))
    prices = money(case.household)
    assert prices.cost("electricity", 380.0) == pytest.approx(370.0 * 0.35)
    assert prices.cost("electricity", np.array([100.0, 380.0])) == pytest.approx([50 * 0.35, 370 * 0.35])
    assert prices.cost("water", 9.0) == pytest.approx(36.0)
    with pytest.raises(ValueError, match="longer"):  # or use beyond the last level would cost nothing
        PriceSteps(upto=(200.0, 1000.0), level=(0.5,)).priced(380.0)
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
        "repair.planned_replacement_years": [0.3, 0.4, 5.0],
        "replace.appliance.age": [0.0, 3.0, 9.0],
        "household.price_escalation": [-0.02, 0.0, 0.02],
    }.items():
        together = weigh(vary(case, path, np.array(values)))
        for row, value in enumerate(values):
            alone = weigh(vary(case, path, value))
            assert together.repair_limit[row] == pytest.approx(alone.repair_limit, rel=1e-9), path


@pytest.mark.parametrize("flow", ["electricity", "gas", "water"])
def test_any_bill_may_come_in_steps(flow: str) -> None:
    # by hand, as above: 380 counts as 370, and 200 as 100
    steps = PriceSteps(upto=(200.0, 1000.0), level=(0.5, 1.5))
    plain = money(case_of().household)
    stepped = money(replace(case_of().household, **{f"{flow}_steps": steps}))
    assert stepped.cost(flow, 380.0) == pytest.approx(plain.cost(flow, 370.0))
    assert stepped.cost(flow, 200.0) == pytest.approx(plain.cost(flow, 100.0))


# A price list and flows, told by hand or in another way that must come to the same.
LANDLORD = Landlord(tax_rate=0.3, pays_energy=0.5, depreciation=straight_line(5))
PERIODS = pytest.mark.parametrize("period", [math.inf, 9.0], ids=["endless", "studied"])


@pytest.mark.parametrize(
    ("landlord", "lent"), [(None, 200.0), (None, 0.0), (LANDLORD, 0.0)], ids=["with a loan", "paid", "by a landlord"]
)
@PERIODS
def test_what_is_paid_today_is_the_bill_less_what_comes_back_and_what_is_lent(
    landlord: Landlord | None, lent: float, period: float
) -> None:
    # by hand: 500 x 1.2 + 30 + 45 + 20 - 50 - 25 = 620, and 3 days at 5 and 12 of food spoiled make 647
    bought = replace(
        case_of().options[1], price=500.0, tax_rate=0.2, delivery=30.0, installation=45.0, haul_away=20.0, rebate=50.0,
        trade_in=25.0, financed=lent, loan_rate=0.08, loan_years=2.0, days_without=3.0, food_loss=12.0,
    )  # fmt: skip
    household = replace(case_of().household, landlord=landlord, study_period=period)
    case = replace(case_of(), household=household, options=(case_of().options[0], bought))
    assert weigh(case).options[1].today == pytest.approx(647.0 - lent)


def test_a_bill_in_instalments_is_paid_as_they_fall_due_and_the_rest_in_the_last_year() -> None:
    case = vary(case_of(quote=Quote(amount=240.0)), "household.inflation", 0.0)
    mended = replace(
        case.options[0], financed_share=1.0, loan_rate=0.12, loan_years=3.0, days_without=0.0, food_loss=0.0
    )
    assert cash_today(case, mended) == pytest.approx(0.0)
    monthly = -npf.pmt(0.01, 36, 240.0)
    for years in (3, 2, 5):
        later = np.arange(10.0, 10.0 + years)  # what it costs to run
        due = 12 * monthly * np.array([1.0, 1, 1, 0, 0])
        due[years - 1] += due[years:].sum()
        found = as_paid(case, mended, np.array([240.0, *later]))
        assert found == pytest.approx([0.0, *(later + due[:years])])


@pytest.mark.parametrize("landlord", [None, LANDLORD], ids=["who lives there", "landlord"])
@PERIODS
def test_tax_on_top_is_a_price_with_the_tax_in_it(landlord: Landlord | None, period: float) -> None:
    case = replace(case_of(), household=replace(case_of().household, landlord=landlord, study_period=period))
    taxed = weigh(vary_all(case, {"replace.price": 500.0, "replace.tax_rate": 0.2}))
    plain = weigh(vary_all(case, {"replace.price": 600.0, "replace.tax_rate": 0.0}))
    for one, other in zip(taxed.options, plain.options, strict=True):
        assert one.present_cost == pytest.approx(other.present_cost)
        assert one.today == pytest.approx(other.today)


@PERIODS
def test_gas_is_burned_as_power_is_drawn(period: float) -> None:
    # the same units on the other fuel, which costs the same and grows alike
    electric = vary_all(
        case_of(),
        {"household.study_period": period, "household.electricity_escalation": 0.02, "leave.energy_change": 0.3},
    )
    home = replace(electric.household, gas_price=electric.household.electricity_price, gas_escalation=0.02)
    there = replace(electric.appliance, electricity=0.0, gas=electric.appliance.electricity)
    options = tuple(
        replace(
            each, appliance=each.appliance and replace(each.appliance, electricity=0.0, gas=each.appliance.electricity)
        )
        for each in electric.options
    )
    burning = weigh(replace(electric, household=home, appliance=there, options=options))
    for one, other in zip(weigh(electric).options, burning.options, strict=True):
        assert one.by_category["gas"] == other.by_category["electricity"] == 0
        assert one.by_category["electricity"] == pytest.approx(other.by_category["gas"])
        assert one.present_cost == pytest.approx(other.present_cost)


# A unit's course.


def course(option: Option, **changes: float) -> Course:
    """Of an option of the invented household, some of whose figures are changed."""
    case = case_of()
    for path, value in changes.items():
        case = vary(case, path.replace("__", "."), value)
    return course_of(case, option, money(case.household))


def assert_same(one: Course, other: Course) -> None:
    for category in COST_CATEGORIES:
        assert one.running[category] == pytest.approx(other.running[category], rel=1e-6), category
        assert one.end[category] == pytest.approx(other.end[category], rel=1e-6), category
    assert one.planned == pytest.approx(other.planned, rel=1e-6)
    assert one.years == pytest.approx(other.years, rel=1e-6)


@pytest.mark.parametrize("hold", [math.inf, 4.0], ids=["until it fails", "planned"])
@pytest.mark.parametrize("warranty", [0.0, 2.0])
def test_a_remaining_life_factor_is_a_unit_made_to_last_so_much_less(hold: float, warranty: float) -> None:
    # a Weibull scale so many times as long, at the same age; the delay stays
    steady = new_appliance(age=6.0, failure_free_years=1.0)
    halved = replace(steady, mean_life=1.0 + (steady.mean_life - 1.0) / 2)
    new = replace(case_of().options[1], planned_replacement_years=hold, warranty=warranty)
    assert_same(
        course(replace(new, appliance=steady, remaining_life_factor=0.5)), course(replace(new, appliance=halved))
    )


@pytest.mark.parametrize(
    ("ratio", "factor", "times"), [(1.3, 1.0, 1.3), (1.0, 0.5, 2.0**2.2), (1.8, 0.7, 1.8 * 0.7**-2.2), (4.0, 0.2, 8.0)]
)
def test_a_hazard_ratio_and_a_factor_multiply_the_hazard_at_every_age_and_are_capped(
    ratio: float, factor: float, times: float
) -> None:
    appliance = new_appliance(mean_life=13.0, life_shape=2.2, failure_free_years=0.0, hazard_ratio=ratio)
    usual, own = Weibull.with_mean(13.0, 2.2), life_of(appliance, factor)
    for age, later in ((0.0, 5.0), (4.0, 3.0), (12.0, 10.0)):
        assert own.survival_given(age, later) == pytest.approx(usual.survival_given(age, later) ** times)


@pytest.mark.parametrize("hold", [math.inf, 4.0], ids=["until it fails", "planned"])
def test_a_repair_that_may_not_hold_serves_in_the_share_of_cases_in_which_it_does(hold: float) -> None:
    sure = replace(
        case_of().options[0],
        repair_success_probability=1.0,
        repair_warranty=0.0,
        planned_replacement_years=hold,
        warranty=1.0,
    )
    held, unsure = course(sure), course(replace(sure, repair_success_probability=0.8))
    assert unsure.years == pytest.approx(0.8 * held.years)
    assert unsure.planned == pytest.approx(0.8 * held.planned)
    for category in COST_CATEGORIES:
        assert unsure.running[category] == pytest.approx(0.8 * held.running[category]), category
        assert unsure.end[category] == pytest.approx(0.2 + 0.8 * held.end[category]), category


def test_a_unit_that_all_but_never_fails_reaches_its_planned_day_at_what_numpy_financial_says_it_is_worth() -> None:
    lasting = replace(case_of().options[1], appliance=new_appliance(mean_life=80.0, life_shape=10.0), warranty=0.0)
    planned = course(replace(lasting, planned_replacement_years=7.0))
    assert planned.planned == pytest.approx(-npf.pv(0.03, 7, 0, 1), rel=1e-6)
    assert planned.years == pytest.approx(7.0, rel=1e-6)
    assert planned.end["other"] == pytest.approx(planned.planned, rel=1e-6)
    assert course(lasting).planned == 0
    column = course(replace(lasting, planned_replacement_years=np.array([7.0, math.inf]))).planned
    assert column == pytest.approx([planned.planned, 0.0])


def test_the_years_of_service_are_the_mean_life_of_a_new_unit_and_those_of_each_row() -> None:
    case = case_of()
    assert weigh(case).options[1].expected_remaining_life == pytest.approx(13.0, rel=1e-4)
    ages = np.array([0.0, 5.0, 14.0])
    together = weigh(vary(case, "appliance.age", ages)).options[0].expected_remaining_life
    alone = [weigh(vary(case, "appliance.age", float(age))).options[0].expected_remaining_life for age in ages]
    assert together == pytest.approx(alone, rel=1e-12)
    assert np.all(np.diff(together) < 0)


@pytest.mark.parametrize(("age", "left"), [(0.0, 10.0), (2.0, 8.0), (4.0, 6.0), (9.0, 6.0)])
def test_a_unit_that_cannot_fail_at_first_has_those_years_for_sure(age: float, left: float) -> None:
    # by hand: four years for sure, and then six on average at any age
    appliance = new_appliance(age=age, mean_life=10.0, failure_free_years=4.0, life_shape=1.0)
    assert course(replace(case_of().options[1], appliance=appliance)).years == pytest.approx(left, rel=1e-4)


def test_a_warranty_until_the_planned_day_leaves_no_upkeep() -> None:
    new = replace(case_of().options[1], planned_replacement_years=3.0)
    assert course(replace(new, warranty=3.0)).running["maintenance_and_repair"] == pytest.approx(0.0, abs=1e-9)
    assert course(replace(new, warranty=5.0)).running["maintenance_and_repair"] == pytest.approx(0.0, abs=1e-9)
    # two years of service of which the warranty covers the first: less than half of the discounted sum is left
    bare, covered = (
        course(replace(new, planned_replacement_years=2.0, warranty=years)).running["maintenance_and_repair"]
        for years in (0.0, 1.0)
    )
    assert 0.47 < covered / bare < 0.5


def test_a_warranty_is_over_on_its_last_day() -> None:
    new = replace(case_of().options[1], warranty=2.0)
    time = np.array([0.0, 1.0, 1.999, 2.0, 7.0])
    assert list(running_share(case_of(), new, "maintenance_and_repair", time)) == [0, 0, 0, 1, 1]
    assert list(running_share(case_of(), replace(new, warranty=0.0), "maintenance_and_repair", time)) == [1, 1, 1, 1, 1]


def test_upkeep_that_grows_with_age_is_summed_over_the_ages_of_the_years_of_service() -> None:
    # by hand: 10 + 4 a year of age, from 3 years on, a factor or not; the warranty spares the first two of seven
    # years, whose rest comes to 5 x 10 + 4 x (100 - 25) / 2 = 200, without interest
    appliance = new_appliance(age=3.0, mean_life=80.0, life_shape=10.0, maintenance_and_repair=30.0)
    appliance = replace(appliance, maintenance_and_repair_by_age=lambda age: (10.0 + 4.0 * age) / 30.0)
    bought = replace(
        case_of().options[1],
        appliance=appliance,
        remaining_life_factor=0.5,
        warranty=2.0,
        planned_replacement_years=7.0,
    )
    assert course(bought, household__rate=1e-9).running["maintenance_and_repair"] == pytest.approx(200.0, rel=1e-3)
    case = vary(case_of(), "household.rate", 1e-9)
    spent = cash(case, bought, case.options[1], money(case.household), 7.0, False)
    assert spent.present["maintenance_and_repair"] == pytest.approx(200.0, rel=1e-6)


@PERIODS
def test_upkeep_that_is_the_same_at_any_age_is_level_upkeep(period: float) -> None:
    case = vary(case_of(), "household.study_period", period)
    steady = replace(case.appliance, maintenance_and_repair_by_age=lambda age: np.ones(age.shape))
    for one, other in zip(weigh(case).options, weigh(replace(case, appliance=steady)).options, strict=True):
        assert one.present_cost == pytest.approx(other.present_cost)


def test_a_price_that_grows_is_a_lower_rate_of_discount() -> None:
    # 1.08 a year of discount against 1.05 a year of growth is 1.08 / 1.05 of discount alone
    new = case_of().options[1]
    growing = course(
        new, household__rate=0.08, household__electricity_escalation=0.05, household__water_escalation=0.05
    )
    level = course(new, household__rate=1.08 / 1.05 - 1)
    for category in ("electricity", "water"):
        assert growing.running[category] == pytest.approx(level.running[category]), category
        assert growing.end[category] == pytest.approx(level.end[category]), category
    assert growing.running["maintenance_and_repair"] < level.running["maintenance_and_repair"]


@PERIODS
def test_several_inputs_at_once_may_be_columns(period: float) -> None:
    case = vary(case_of(), "household.study_period", period)
    columns = {
        "household.electricity_escalation": np.array([-0.02, 0.0, 0.04]),
        "household.water_escalation": np.array([0.03, 0.01, 0.0]),
        "household.price_escalation": np.array([0.0, 0.02, -0.02]),
        "household.rate": np.array([0.05, 0.06, 0.08]),
    }
    together = weigh(vary_all(case, columns))
    for row in range(3):
        alone = weigh(vary_all(case, {path: float(values[row]) for path, values in columns.items()}))
        for one, other in zip(together.options, alone.options, strict=True):
            for category in COST_CATEGORIES:
                found = np.broadcast_to(one.by_category[category], (3,))[row]
                assert found == pytest.approx(other.by_category[category], rel=1e-9), (one.name, category)
