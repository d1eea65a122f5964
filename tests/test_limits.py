"""The table of limits by age: against the same question asked one by one, the policy itself, and the rules of thumb."""

import numpy as np
import pytest
from decide.economics.repeat_decisions import calibrated, maintenance_and_repair_of, penalty_of, price_of
from decide.show.text.next_failure import rule_text

from decide.answers.answer import answer
from decide.answers.limits import Limits, limits_of
from decide.economics.policy import age_times_quote, best_policy, constant_limit, fixed_policy
from decide.errors import CaseError, EntryErrors
from decide.load.cases.case_file import complete
from decide.load.cases.filled import DECIDED_AGAIN
from decide.show.text.words import Words

KINDS = [("clothes_washer", "US"), ("refrigerator", "US"), ("dishwasher", "DE"), ("furnace_gas", "US")]


@pytest.fixture(scope="module", params=KINDS, ids=lambda pair: "-".join(pair))
def found(request: pytest.FixtureRequest) -> Limits:
    return limits_of(*request.param)


@pytest.mark.parametrize("age", [0, 7, 12, 30])
def test_a_row_is_what_weighing_a_unit_of_that_age_says(found: Limits, age: int) -> None:
    entries = {"appliance": {"class": found.kind, "age": age}, "household": {"place": found.place}}
    plain = answer(entries)
    assert float(found.ends_it[age]) == pytest.approx(float(plain.weighing.repair_limit))
    entries["household"] = {"place": found.place, "next_failure": DECIDED_AGAIN}
    assert float(found.decided_again[age]) == pytest.approx(float(answer(entries).weighing.repair_limit))


def test_an_older_unit_is_never_worth_a_dearer_repair(found: Limits) -> None:
    # decided again it may be: where bills are small beside a new unit, failures alone cannot explain how units end
    assert np.all(np.diff(found.ends_it) < 1)
    assert found.ends_it[0] > 2 * found.ends_it[20]


def test_no_rule_of_thumb_costs_less_than_the_best_policy(found: Limits) -> None:
    assert [rule.rule for rule in found.rules] == ["half", "half_until", "age_times_quote"]
    assert all(rule.costs >= 0 for rule in found.rules)
    assert all(np.isfinite(rule.mean_life) for rule in found.rules)
    assert found.rules[1].mean_life < found.rules[0].mean_life


def test_what_a_rule_costs_is_the_policy_that_it_fixes(found: Limits) -> None:
    case = complete({"appliance": {"class": found.kind, "age": 0}, "household": {"place": found.place}}).case
    bought = case.options[1]
    calibration = calibrated(case.household, bought, penalty_of(case))
    repairs, price = maintenance_and_repair_of(case.household, bought, penalty_of(case)), price_of(case, bought)
    best = best_policy(calibration.failures, repairs, price, case.household.rate)
    half = fixed_policy(calibration.failures, repairs, price, case.household.rate, constant_limit(found.price / 2))
    assert found.best_cost == pytest.approx(float(best.cost_rate))
    assert found.rules[0].costs == pytest.approx(float(half.cost_rate - best.cost_rate), abs=1e-6)
    assert found.price == pytest.approx(float(bought.asked_price))


def test_no_ceiling_nearby_serves_better_than_the_one_chosen(found: Limits) -> None:
    case = complete({"appliance": {"class": found.kind, "age": 0}, "household": {"place": found.place}}).case
    bought = case.options[1]
    failures = calibrated(case.household, bought, penalty_of(case)).failures
    repairs, price = maintenance_and_repair_of(case.household, bought, penalty_of(case)), price_of(case, bought)
    for off in (0.7, 0.9, 1.1, 1.4):
        rule = age_times_quote(off * found.rules[2].figure)
        other = fixed_policy(failures, repairs, price, case.household.rate, rule)
        assert float(other.cost_rate) - found.best_cost > found.rules[2].costs - 1e-6


def test_implied_and_published_shares_differ_by_the_misfit_at_most(found: Limits) -> None:
    apart = np.max(np.abs(found.implied - found.published))
    assert apart <= found.misfit + 1e-3  # between the ages of the policy's grid
    assert found.published[0] == found.implied[0] == 1.0


def test_a_price_of_ones_own_moves_the_limits_with_it() -> None:
    cheap, dear = (limits_of("clothes_washer", "US", price) for price in (500.0, 900.0))
    assert (cheap.price, dear.price) == (500.0, 900.0)
    assert np.all(cheap.ends_it < dear.ends_it)


def test_what_cannot_be_asked_is_refused() -> None:
    with pytest.raises(CaseError, match="is not known"):
        limits_of("toaster")
    with pytest.raises(EntryErrors, match=r"household\.place"):
        limits_of("dishwasher", "Atlantis")
    with pytest.raises(EntryErrors, match=r"replace\.price"):
        limits_of("dishwasher", "DE", -4.0)


def test_each_rule_is_said_with_its_figure(found: Limits) -> None:
    words = Words.of()
    half, until, ceiling = (rule_text(words, found, rule) for rule in found.rules)
    assert half == "Repair below half the price of a new one, at any age"
    assert words.years(found.rules[1].figure) in until
    assert words.money(float(f"{found.rules[2].figure:.2g}"), found.currency) in ceiling
