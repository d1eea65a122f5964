"""The answer: repair limit, verdict and measures, by identities, by hand and against numpy-financial."""

import math
from dataclasses import replace

import numpy as np
import numpy_financial as npf
import pytest
from households import case_of, new_appliance
from hypothesis import given, settings
from hypothesis import strategies as st

from decide.economics.case import Case, Option, Prohibition, Quote, vary, vary_all
from decide.economics.flows import money
from decide.economics.weigh import NO_QUOTE, measure, study_of, weigh
from decide.errors import CaseError

ENDLESS = case_of()
STUDIED = vary(ENDLESS, "household.study_period", 8.0)


@pytest.mark.parametrize("case", [ENDLESS, STUDIED], ids=["endless", "studied"])
def test_at_the_repair_limit_repairing_costs_what_the_best_alternative_costs(case: Case) -> None:
    limit = weigh(case).repair_limit
    at_limit = weigh(vary(case, "repair.quote.amount", limit))
    costs = {cost.name: cost.present_cost for cost in at_limit.options}
    repairing = min(costs["repair"], costs["repair, then replace"])
    assert repairing == pytest.approx(min(costs["new"], costs["used"], costs["leave"]), abs=1e-8)
    assert at_limit.advantage == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("case", [ENDLESS, STUDIED], ids=["endless", "studied"])
@given(quote=st.floats(0, 2000))
@settings(max_examples=25)
def test_the_limit_does_not_depend_on_the_quote_and_the_advantage_is_linear_in_it(case: Case, quote: float) -> None:
    at_zero = weigh(vary(case, "repair.quote.amount", 0.0))
    weighed = weigh(vary(case, "repair.quote.amount", quote))
    assert weighed.repair_limit == pytest.approx(at_zero.repair_limit, abs=1e-8)
    assert weighed.advantage == pytest.approx(at_zero.advantage - quote, abs=1e-8)
    assert (weighed.verdict == "repair") == (quote <= weighed.repair_limit + 1e-9)


@given(better=st.floats(0.05, 2.0), worse=st.floats(0.05, 2.0), age=st.floats(0, 30))
@settings(max_examples=40)
def test_a_worse_outlook_never_raises_the_limit(better: float, worse: float, age: float) -> None:
    case = vary(ENDLESS, "appliance.age", age)
    low, high = (
        weigh(vary(case, "repair.remaining_life_factor", share)).repair_limit for share in sorted((better, worse))
    )
    # holds while the unit there runs at less than the level yearly cost of the next one, as here
    assert low <= high + 1e-6


@given(scale=st.floats(0.01, 50))
@settings(max_examples=25)
def test_scaling_all_money_scales_the_answer(scale: float) -> None:
    home = ENDLESS.household
    priced = replace(
        home,
        electricity_price=home.electricity_price * scale / 20, gas_price=home.gas_price * scale / 20,
        water_price=home.water_price * scale / 20, day_cost=home.day_cost * scale / 20,
    )  # fmt: skip

    def scaled(option: Option) -> Option:
        appliance = option.appliance and replace(
            option.appliance, maintenance_and_repair=option.appliance.maintenance_and_repair * scale / 20
        )
        money = ("price", "delivery", "haul_away", "rebate", "annual_loss_of_use")
        changed = {name: getattr(option, name) * scale / 20 for name in money}
        quote = option.quote and Quote(amount=option.quote.amount * scale / 20)
        return replace(option, appliance=appliance, quote=quote, **changed)

    there = replace(ENDLESS.appliance, maintenance_and_repair=ENDLESS.appliance.maintenance_and_repair * scale / 20)
    case = replace(
        ENDLESS, household=priced, appliance=there, options=tuple(scaled(option) for option in ENDLESS.options)
    )
    assert weigh(case).repair_limit == pytest.approx(weigh(ENDLESS).repair_limit * scale / 20, rel=1e-9)


def test_one_more_option_never_raises_the_least_cost() -> None:
    def least(case: Case) -> float:
        return min(cost.present_cost for cost in weigh(case).options)

    fewer = replace(ENDLESS, options=ENDLESS.options[:2])
    assert least(ENDLESS) <= least(fewer) + 1e-9


def test_without_a_quote_the_limit_stands_and_nothing_is_advised() -> None:
    unquoted = replace(ENDLESS, options=(replace(ENDLESS.options[0], quote=None), *ENDLESS.options[1:]))
    weighed = weigh(unquoted)
    assert weighed.repair_limit == pytest.approx(weigh(ENDLESS).repair_limit)
    assert weighed.verdict == NO_QUOTE
    assert math.isnan(weighed.advantage)
    assert math.isnan(measure(unquoted, weighed).net_saving)


@pytest.mark.parametrize(
    ("stop", "verdicts"), [("repair", {"replace", "leave"}), ("leave", {"repair", "replace"})], ids=["repair", "leave"]
)
def test_a_hard_stop_overrides_the_verdict(stop: str, verdicts: set[str]) -> None:
    case = vary(ENDLESS, "repair.quote.amount", 0.0 if stop == "repair" else 900.0)
    case = vary(case, "leave.annual_loss_of_use", 0.0)
    assert weigh(case).verdict == stop
    stopped = weigh(replace(case, prohibitions=(Prohibition(action=stop, caution="some-caution"),)))
    assert stopped.verdict in verdicts
    refused = [cost for cost in stopped.options if cost.blocked_by]
    assert {cost.action for cost in refused} == {stop}
    assert math.isnan(stopped.repair_limit) == (stop == "repair")


def test_a_repair_that_is_refused_needs_no_quote() -> None:
    unquoted = replace(ENDLESS, options=(replace(ENDLESS.options[0], quote=None), *ENDLESS.options[1:]))
    refused = weigh(replace(unquoted, prohibitions=(Prohibition(action="repair", caution="some-caution"),)))
    assert refused.verdict in {"replace", "leave"}
    other = weigh(replace(unquoted, prohibitions=(Prohibition(action="leave", caution="some-caution"),)))
    assert other.verdict == NO_QUOTE


def test_a_stop_on_using_it_is_told_apart_from_the_options() -> None:
    stopped = weigh(replace(ENDLESS, prohibitions=(Prohibition(action="use", caution="gas-leak"),)))
    assert stopped.stopped_by == ("gas-leak",)
    assert not any(cost.blocked_by for cost in stopped.options)


@pytest.mark.parametrize("case", [ENDLESS, STUDIED], ids=["endless", "studied"])
def test_a_single_case_is_answered_in_plain_numbers(case: Case) -> None:
    weighed = weigh(case)
    assert {type(each) for each in (weighed.repair_limit, weighed.advantage, weighed.planned_years)} == {float}


def test_a_verdict_is_asked_of_one_case_only() -> None:
    with pytest.raises(CaseError, match="verdict"):
        _ = weigh(vary(ENDLESS, "appliance.age", np.array([1.0, 2.0]))).verdict


def test_the_best_planned_year_is_the_best_of_all_that_are_tried() -> None:
    for case in (
        vary(vary(ENDLESS, "appliance.efficiency_degradation_rate", 0.08), "appliance.efficiency_degradation_cap", 2.0),
        vary(
            vary(vary(ENDLESS, "appliance.electricity", 800.0), "appliance.efficiency_degradation_rate", 0.05),
            "appliance.age",
            2.0,
        ),
        vary(STUDIED, "appliance.electricity", 900.0),
    ):
        found = weigh(case)
        tried = {
            years: weigh(vary(case, "repair.planned_replacement_years", float(years))).options[0].present_cost
            for years in range(1, 16)
            if years < case.household.study_period
        }
        assert found.planned_years == min(tried, key=tried.__getitem__)
        assert found.options[-1].present_cost == pytest.approx(min(tried.values()), rel=1e-9)


@pytest.mark.parametrize("age", [0.0, 3.0, 6.0, 9.0, 12.0])
def test_a_planned_year_between_the_first_and_the_last_costs_least_to_a_hundred_thousandth(age: float) -> None:
    """Its slope is summed up by trapezoids, so that a tie may go either way, and nothing else."""
    ageing = {"appliance.efficiency_degradation_rate": 0.1, "appliance.efficiency_degradation_cap": 2.0}
    case = vary_all(ENDLESS, {"appliance.age": age, **ageing})
    costs = [
        weigh(vary(case, "repair.planned_replacement_years", float(years))).options[0].present_cost
        for years in range(1, 16)
    ]
    found = weigh(case).planned_years
    assert 1 < found < 15
    assert costs[int(found) - 1] - min(costs) < 1e-5 * min(costs)


def test_a_plan_for_the_last_day_of_a_study_buys_nothing() -> None:
    plans = (vary(STUDIED, "repair.planned_replacement_years", years) for years in (8.0, 9.0, math.inf))
    last, later, never = (weigh(case).options[0].present_cost for case in plans)
    assert last == later == pytest.approx(never, rel=1e-12)


def test_a_study_too_short_for_a_plan_has_none() -> None:
    short = weigh(vary(ENDLESS, "household.study_period", 0.5))
    assert math.isnan(short.planned_years)
    assert len(short.options) == len(ENDLESS.options)


# Two units that all but never fail within the study, nothing left at its end, no wait: only certain flows remain.
SURE = {
    "household.study_period": 6.0, "household.residual_share": 0.0, "household.rate": 0.04, "household.day_cost": 0.0,
    "appliance.age": 0.0, "appliance.mean_life": 60.0, "appliance.life_shape": 10.0, "appliance.water": 0.0,
    "appliance.maintenance_and_repair": 0.0, "appliance.efficiency_degradation_rate": 0.0,
    "repair.repair_success_probability": 1.0, "replace.rebate": 0.0, "replace.appliance.mean_life": 60.0,
    "replace.appliance.life_shape": 10.0, "replace.appliance.water": 0.0,
    "replace.appliance.maintenance_and_repair": 0.0, "replace.appliance.efficiency_degradation_rate": 0.0,
    "replace.haul_away": 0.0, "replace.delivery": 0.0, "household.electricity_price": 0.5,
    "appliance.electricity": 600.0, "replace.appliance.electricity": 200.0,
}  # fmt: skip


def sure() -> Case:
    case = replace(ENDLESS, options=ENDLESS.options[:2])
    for path, value in SURE.items():
        case = vary(case, path, value)
    return case


def test_measures_of_certain_flows_are_those_of_numpy_financial() -> None:
    # 260 to repair against 620 to replace: 360 more today, 400 kWh x 0.50 = 200 saved in each of six years
    case = sure()
    found = measure(case, weigh(case))
    flows = [-360.0, *[200.0] * 6]
    assert found.internal_rate_of_return == pytest.approx(npf.irr(flows), rel=1e-6)
    assert found.simple_payback == pytest.approx(360 / 200)
    assert found.discounted_payback == pytest.approx(npf.nper(0.04, -200, 360), abs=0.02)  # linear within a year
    # present costs are continuous: 200 a year for six years at a force of ln 1.04
    worth = 200 * (1 - 1.04**-6) / math.log(1.04)
    # the cheapest way to go on with the old unit is a year: 260 + 300 A(1) + 620 / 1.04 + 100 (A(6) - A(1)) = 1586.91
    assert found.net_saving == pytest.approx(1586.91 - 1154.63, abs=0.01)
    assert (found.running_payback, found.discounted_running_payback) == pytest.approx((1.8, found.discounted_payback))
    assert found.savings_to_investment_ratio == pytest.approx(worth / 360, rel=1e-6)
    assert found.adjusted_internal_rate_of_return == pytest.approx(1.04 * (worth / 360) ** (1 / 6) - 1, rel=1e-6)


@pytest.mark.parametrize(
    "saved",
    [
        {"appliance.gas": 400.0, "household.gas_price": 0.5},
        {"appliance.water": 50.0, "household.water_price": 4.0},
        {"appliance.maintenance_and_repair": 200.0},
        {"repair.annual_loss_of_use": 200.0},
    ],
    ids=["gas", "water", "maintenance_and_repair", "lost worth"],
)
def test_a_saving_is_one_whatever_bill_it_is_on(saved: dict[str, float]) -> None:
    # 200 saved in each of six years for 360 more today, as above
    case = vary_all(sure(), {"replace.appliance.electricity": 600.0, **saved})
    found = measure(case, weigh(case))
    assert found.internal_rate_of_return == pytest.approx(npf.irr([-360.0, *[200.0] * 6]), rel=1e-6)
    assert found.simple_payback == pytest.approx(360 / 200)
    worth = 200 * (1 - 1.04**-6) / math.log(1.04)
    assert found.savings_to_investment_ratio == pytest.approx(worth / 360, rel=1e-6)


def test_a_payback_that_is_never_reached_is_no_number() -> None:
    case = vary(sure(), "replace.appliance.electricity", 700.0)
    found = measure(case, weigh(case))
    assert math.isnan(found.simple_payback)
    assert math.isnan(found.discounted_payback)
    assert found.net_saving < 0


def test_replacing_for_less_than_the_repair_pays_at_once_and_has_no_ratio() -> None:
    case = vary(sure(), "repair.quote.amount", 900.0)
    found = measure(case, weigh(case))
    assert found.simple_payback == 0
    assert math.isnan(found.savings_to_investment_ratio)


def test_the_yearly_cost_of_certain_flows_is_the_level_payment_of_numpy_financial() -> None:
    case = sure()
    repairing = weigh(case).options[0]
    assert repairing.equivalent_annual_cost == pytest.approx(-npf.pmt(0.04, 6, repairing.present_cost))


def test_costs_by_cause_add_up() -> None:
    for cost in weigh(ENDLESS).options:
        assert sum(cost.by_category.values()) == pytest.approx(cost.present_cost)


def test_a_unit_like_the_one_there_at_its_age_is_worth_what_a_repair_may_cost() -> None:
    # the repaired unit and a used one of the same age and consumption are the same thing: limit = its price
    there = replace(ENDLESS.appliance, age=0.0)
    used = Option(
        name="same", action="replace", appliance=new_appliance(age=9.0, electricity=380.0), price=150.0, days_without=6
    )
    new = replace(ENDLESS.options[1], rebate=0.0, appliance=there, price=5000.0)
    case = replace(ENDLESS, options=(replace(ENDLESS.options[0], repair_success_probability=1.0), used, new))
    assert weigh(case).repair_limit == pytest.approx(150.0, abs=1e-6)


def test_a_study_of_less_than_a_year_has_no_measure_of_yearly_cash() -> None:
    short = vary(ENDLESS, "household.study_period", 0.5)
    found = measure(short, weigh(short))
    for name in ("simple_payback", "discounted_payback", "internal_rate_of_return"):
        assert math.isnan(getattr(found, name)), name
    assert math.isfinite(found.net_saving)


@pytest.mark.parametrize("case", [ENDLESS, STUDIED], ids=["endless", "studied"])
def test_another_list_of_prices_weighs_as_the_household_that_pays_them(case: Case) -> None:
    dearer = vary(vary(case, "household.electricity_price", 0.9), "household.water_price", 11.0)
    prices = replace(money(dearer.household), unit="shells")
    listed, paying = weigh(case, prices), weigh(dearer)
    assert listed.unit == "shells"
    assert paying.unit == "EUR"
    assert [cost.present_cost for cost in listed.options] == [cost.present_cost for cost in paying.options]
    assert listed.repair_limit == paying.repair_limit != weigh(case).repair_limit
    assert vars(measure(case, listed, study_of(case, prices))) == pytest.approx(
        vars(measure(dearer, paying)), nan_ok=True
    )


def test_the_yearly_cost_of_a_need_without_end_is_a_level_payment_of_numpy_financial_for_ever() -> None:
    for cost in weigh(ENDLESS).options:
        assert cost.equivalent_annual_cost == pytest.approx(-npf.pmt(0.03, 2000, cost.present_cost))


@pytest.mark.parametrize("quote", [Quote(amount=260.0), None], ids=["quoted", "without a quote"])
def test_the_measures_name_what_they_compare(quote: Quote | None) -> None:
    repair, new = sure().options
    cheap = replace(new, name="cheap", price=400.0)
    between = replace(new, name="between", price=500.0)
    case = replace(sure(), options=(new, replace(repair, quote=quote), cheap, between))
    found = measure(case, weigh(case))
    assert case.options[found.replacement].name == "cheap"
    assert case.options[found.repair].name == "repair"
    assert found.years == 6.0
    endless = vary(case, "household.study_period", math.inf)
    assert measure(endless, weigh(endless)).years == 60.0


def test_a_study_of_one_year_measures_that_year() -> None:
    # 120 more today, 200 saved within the year
    case = vary(vary(sure(), "household.study_period", 1.0), "repair.quote.amount", 500.0)
    found = measure(case, weigh(case))
    assert found.simple_payback == pytest.approx(120 / 200)
    assert found.internal_rate_of_return == pytest.approx(npf.irr([-120.0, 200.0]), rel=1e-6)


def test_what_is_left_at_the_end_of_a_study_is_in_the_rate_of_return_and_not_in_the_payback() -> None:
    # by hand: of 60 years the new unit has 54 left and the repaired one, of 30 years, 24: half a price of 620 more;
    # 360 more today, 144 kWh x 0.50 = 72 saved a year
    case = vary(vary(sure(), "household.residual_share", 1.0), "replace.appliance.electricity", 456.0)
    case = vary(case, "appliance.age", 30.0)
    found = measure(case, weigh(case))
    assert found.internal_rate_of_return == pytest.approx(npf.irr([-360, 72, 72, 72, 72, 72, 72 + 310]), rel=0.02)
    assert found.simple_payback == pytest.approx(360 / 72, rel=0.01)


def test_a_need_without_end_is_measured_on_sixty_years_with_nothing_left() -> None:
    # the share that is credited is that of a study; the new unit lives longer, so what would be left is not the same
    studied = vary(vary(sure(), "replace.appliance.mean_life", 80.0), "replace.appliance.electricity", 520.0)
    studied = vary(studied, "household.study_period", 60.0)
    endless = vary(vary(studied, "household.study_period", math.inf), "household.residual_share", 1.0)
    found = measure(endless, weigh(endless))
    same = measure(studied, weigh(studied))
    assert math.isfinite(found.internal_rate_of_return)
    for name in ("simple_payback", "discounted_payback", "internal_rate_of_return"):
        assert getattr(found, name) == pytest.approx(getattr(same, name), rel=1e-9), name


def test_a_saving_that_grows_repays_sooner() -> None:
    # by hand: 10 % a year dearer; savings of 209.84, 230.82 and so on, since a year's bills are spread over it
    case = vary(sure(), "household.electricity_escalation", 0.1)
    found = measure(case, weigh(case))
    assert found.simple_payback == pytest.approx(1 + (360 - 209.84) / 230.82, abs=1e-3)


@pytest.mark.parametrize("quote", [900.0, 620.0], ids=["less today", "the same today"])
def test_replacing_for_no_more_than_the_repair_is_no_investment_even_if_it_costs_more_later(quote: float) -> None:
    case = vary(vary(sure(), "repair.quote.amount", quote), "replace.appliance.electricity", 700.0)
    assert math.isnan(measure(case, weigh(case)).internal_rate_of_return)


def test_a_trifle_more_today_is_an_investment() -> None:
    # by hand: half a coin more today, one saved a year
    case = vary(vary(sure(), "repair.quote.amount", 619.5), "replace.appliance.electricity", 598.0)
    found = measure(case, weigh(case))
    assert found.internal_rate_of_return == pytest.approx(npf.irr([-0.5, *[1.0] * 6]), rel=1e-6)
