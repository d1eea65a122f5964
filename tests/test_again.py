"""Deciding again at each failure: the same question, answered by the best policy, and how it meets the plain answer."""

from dataclasses import replace

import numpy as np
import pytest
from decide.economics.repeat_decisions import DecidingAgain, deciding_again
from households import case_of

from decide.economics.case import Case, Option, vary
from decide.economics.flows import course_of, flows_of, forever, life_of, money
from decide.economics.weigh import weigh
from decide.errors import CaseError, NoSolution


def quoted(share: float = 0.5) -> Case:
    """The invented household, its later quotes about so much of a new unit's price, nothing else to buy."""
    case = replace(case_of(), options=case_of().options[:2])
    for unit in ("appliance", "replace.appliance"):
        case = vary(case, f"{unit}.later_repair_median", share * 620.0)
        case = vary(case, f"{unit}.efficiency_degradation_rate", 0.0)
    case = vary(vary(case, "replace.rebate", 0.0), "replace.warranty", 0.0)
    return vary(case, "repair.repair_success_probability", 1.0)


@pytest.fixture(scope="module")
def again() -> DecidingAgain:
    return deciding_again(quoted(), quoted().options[1])


def test_the_case_costs_what_the_policy_says_it_costs(again: DecidingAgain) -> None:
    bought = again.case.options[1]
    course = course_of(again.case, bought, money(again.case.household))
    assert sum(forever(course).values()) == pytest.approx(float(again.calibration.policy.present_cost), rel=2e-3)


def test_the_limit_is_the_policy_s_own_limit_at_the_age() -> None:
    # a unit like the successor, so that the policy of the class is its own; the wait for the repair comes off
    for age in (2.0, 5.0, 9.0, 14.0):
        case = vary(vary(quoted(), "appliance.age", age), "appliance.electricity", 300.0)
        found = deciding_again(case, case.options[1])
        policy = found.calibration.policy
        waits = float(flows_of(case, case.options[0]).once["other"])
        expected = float(np.interp(age, policy.ages, policy.limits)) - waits
        assert weigh(found.case).repair_limit == pytest.approx(expected, abs=0.01 * 620)


def test_units_are_retired_with_the_published_mean_and_the_curve_is_near(again: DecidingAgain) -> None:
    bought = again.case.appliance_of(again.case.options[1])
    assert float(bought.retirement.mean()) == pytest.approx(13.0, rel=2e-3)
    assert float(again.calibration.misfit) < 0.02
    assert float(again.calibration.policy.mean_life) == pytest.approx(13.0, rel=1e-6)


@pytest.mark.published("US reader survey of 2006, washing machines, second-hand")
def test_the_implied_failures_are_of_the_size_that_owners_report(again: DecidingAgain) -> None:
    # 2006 US reader survey, second-hand: 22 % of washing machines need a repair in the first three years
    in_three_years = float(again.calibration.failures.cumulative_hazard(3.0))
    assert 0.1 < in_three_years < 0.5


def test_failures_are_those_of_the_youngest_replacement_whatever_is_bought_next() -> None:
    # published lives are those of units bought new: a used one on offer changes nothing in how often units fail
    case = replace(quoted(), options=(*quoted().options, _used(quoted())))
    new, used = (deciding_again(case, case.options[index]) for index in (1, 2))
    assert used.youngest == new.youngest == 1
    assert used.calibration.failures == new.calibration.failures
    assert used.calibration is new.calibration  # remembered


def _used(case: Case) -> Option:
    bought = case.options[1]
    return replace(bought, name="used", price=200.0, appliance=replace(case.appliance_of(bought), age=6.0))


def test_where_only_used_units_are_on_offer_the_life_is_that_of_units_of_their_age() -> None:
    case = replace(quoted(), options=(quoted().options[0], _used(quoted())))
    found = deciding_again(case, case.options[1])
    published = life_of(quoted().appliance_of(quoted().options[1]))
    assert float(found.calibration.policy.ages[0]) == 6.0
    assert float(found.calibration.policy.mean_life) == pytest.approx(
        float(published.mean_residual_life(6.0)), rel=1e-6
    )
    assert found.calibration.published[0] == 1.0
    bought = found.case.appliance_of(found.case.options[1])
    left = float(bought.retirement.mean_residual_life(6.0))
    assert left == pytest.approx(float(published.mean_residual_life(6.0)), rel=5e-3)


def test_what_repairs_cost_a_year_is_the_mean_over_the_years_that_the_unit_is_kept(again: DecidingAgain) -> None:
    bought = again.case.appliance_of(again.case.options[1])
    lived = bought.retirement.exposure(0.0)
    spent = np.sum(lived.years * bought.maintenance_and_repair_by_age(lived.time)) / np.sum(lived.years)
    assert float(spent) == pytest.approx(1.0, rel=5e-3)


def test_failures_that_come_most_often_when_new_cost_a_finite_sum_a_year() -> None:
    # LBNL-5093E (2011), Table 5, gas boilers, second-hand: shape 1.000, so that the failures behind it start steeply
    case = quoted()
    for unit in ("appliance", "replace.appliance"):
        case = vary(vary(case, f"{unit}.life_shape", 0.9), f"{unit}.mean_life", 25.31)
    found = deciding_again(case, case.options[1])
    assert float(found.calibration.failures.shape) < 1
    assert 0 < float(found.case.appliance_of(found.case.options[1]).maintenance_and_repair) < 620
    assert np.isfinite(float(weigh(found.case).repair_limit))


def test_upkeep_of_nothing_is_no_division_by_nothing() -> None:
    case = vary(
        vary(quoted(), "appliance.maintenance_and_repair", 0.0), "replace.appliance.maintenance_and_repair", 0.0
    )
    usual, none = (weigh(deciding_again(each, each.options[1]).case).repair_limit for each in (quoted(), case))
    assert none == pytest.approx(float(usual))


def test_a_worse_outlook_lowers_the_limit_here_too() -> None:
    case = vary(quoted(), "repair.remaining_life_factor", 0.5)
    lower, usual = (weigh(deciding_again(each, each.options[1]).case).repair_limit for each in (case, quoted()))
    assert lower < usual


def test_a_unit_that_outlives_its_class_is_worth_more() -> None:
    case = vary(quoted(), "appliance.mean_life", 20.0)
    longer, usual = (weigh(deciding_again(each, each.options[1]).case).repair_limit for each in (case, quoted()))
    assert longer > usual


def test_without_a_quote_to_come_or_a_rate_it_cannot_be_asked() -> None:
    with pytest.raises(CaseError, match=r"replace.appliance.later_repair_median: must be above 0"):
        deciding_again(case_of(), case_of().options[1])
    studied = vary(vary(quoted(), "household.study_period", 10.0), "household.rate", 0.0)
    with pytest.raises(CaseError, match=r"household.rate: must be above 0"):
        deciding_again(studied, studied.options[1])


def test_a_life_that_no_failures_explain_says_so() -> None:
    # power so dear that an ageing unit is replaced for its running cost alone, long before the published mean
    worn = vary(
        vary(quoted(), "replace.appliance.efficiency_degradation_rate", 0.1),
        "replace.appliance.efficiency_degradation_cap",
        2.0,
    )
    worn = vary(vary(worn, "replace.appliance.electricity", 9000.0), "household.electricity_price", 2.0)
    with pytest.raises(NoSolution, match="none lead to the published mean life"):
        deciding_again(worn, worn.options[1])
