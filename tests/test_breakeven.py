"""Where the verdict flips: by hand where the answer is known, else by what the verdict itself says on either side."""

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from households import case_of, new_appliance, wins_at_high
from hypothesis import given, settings
from hypothesis import strategies as st
from referees_breakeven import (
    age_limit,
    electricity_price_to_replace,
    highest_quote,
    new_price_to_replace,
    years_to_stay,
)

from decide.economics.bounds import Bounds
from decide.economics.breakeven import _grid, around, breakeven_values, interval, two_way
from decide.economics.case import Case, Input, Option, Prohibition, Quote, inputs, vary, vary_all
from decide.economics.household import Household
from decide.economics.weigh import weigh
from decide.errors import CaseError, OutOfRange
from decide.load.cases.case_file import complete, read_case

DEMO = complete(read_case(Path(__file__).resolve().parents[1] / "data" / "demo" / "refrigerator.toml")).case
ENDLESS = case_of(Quote(amount=150.0))
STUDIED = vary(ENDLESS, "household.study_period", 8.0)
NUMBERS = [entry.path for entry in inputs(ENDLESS) if entry.path != "household.study_period"]


def advantage(case: Case, path: str, value: float) -> float:
    return float(weigh(vary(case, path, value)).advantage)


def check(case: Case, path: str, sampled: int) -> None:
    """At each flip the advantage is zero, or jumps past it; on a fine sample the verdict is the one that flips tell."""
    found = breakeven_values(case, path)
    for value in found.values:
        before, at, after = (advantage(case, path, value + step) for step in (-1e-9, 0.0, 1e-9))
        assert abs(at) < 1e-6 or before * after < 0
    assert list(found.values) == sorted(found.values)
    rng = np.random.default_rng(4)
    value = np.concatenate([[found.low, found.high], rng.uniform(found.low, found.high, sampled)])
    if path != "household.study_period":
        weighed = np.broadcast_to(weigh(vary(case, path, value)).advantage, value.shape)
    else:
        weighed = np.array([advantage(case, path, each) for each in value])
    claimed = found.repair_wins_at_low ^ (np.searchsorted(found.values, value) % 2 == 1)
    clear = np.abs(weighed) > 1e-6
    assert np.array_equal(weighed[clear] >= 0, claimed[clear])
    assert wins_at_high(found) == claimed[1]


@pytest.mark.parametrize("path", NUMBERS)
def test_the_verdict_is_on_every_input_what_the_flips_tell(path: str) -> None:
    check(ENDLESS, path, 500)


@pytest.mark.parametrize("path", ["appliance.mean_life", "appliance.electricity", "repair.quote.parts"])
def test_so_it_is_on_the_demo(path: str) -> None:
    check(DEMO, path, 500)


@pytest.mark.parametrize(
    "path", ["appliance.age", "repair.remaining_life_factor", "household.rate", "replace.price", "repair.quote.amount"]
)
def test_so_it_is_over_a_study_period(path: str) -> None:
    check(STUDIED, path, 100)


def test_so_it_is_on_the_study_period_itself() -> None:
    check(ENDLESS, "household.study_period", 30)


def test_all_flips_are_found_and_not_just_one() -> None:
    # at 120 the repair wins only between a low and a high discount rate, as a fine sweep in the other test confirms
    found = breakeven_values(case_of(Quote(amount=120.0)), "household.rate")
    assert len(found.values) == 2
    assert (found.repair_wins_at_low, wins_at_high(found)) == (False, False)


def test_the_quote_breaks_even_at_the_repair_limit_itself() -> None:
    found = breakeven_values(ENDLESS, "repair.quote.amount")
    assert found.values == pytest.approx((highest_quote(ENDLESS),), abs=1e-9)
    assert advantage(ENDLESS, "repair.quote.amount", found.values[0]) == pytest.approx(0.0, abs=1e-9)
    up_to_it = breakeven_values(ENDLESS, "repair.quote.amount", high=float(weigh(ENDLESS).repair_limit))
    assert (up_to_it.values, wins_at_high(up_to_it)) == ((), True)  # at the limit itself repairing still wins


@pytest.mark.parametrize("part", ["parts", "labour_hours", "labour_rate", "trip", "tax_rate"])
def test_with_a_part_of_the_quote_at_its_flip_the_quote_is_the_repair_limit(part: str) -> None:
    quote = Quote(parts=20.0, labour_hours=0.6, labour_rate=70.0, trip=20.0, tax_rate=0.1)
    case = case_of(quote)
    (value,) = breakeven_values(case, f"repair.quote.{part}").values
    assert replace(quote, **{part: value}).total == pytest.approx(highest_quote(case), abs=1e-9)


# Two units that all but never fail, flows that are certain, nothing left at the end: the algebra fits on one line.
HOME = Household(
    region="EU", place="DE", currency="EUR", rate=0.04, study_period=6.0, residual_share=0.0, electricity_price=0.5,
    gas_price=0.1, water_price=3.0, electricity_escalation=0.0, gas_escalation=0.0, water_escalation=0.0,
    price_escalation=0.0, inflation=0.02,
)  # fmt: skip
STURDY = {
    "mean_life": 60.0,
    "life_shape": 10.0,
    "water": 0.0,
    "maintenance_and_repair": 0.0,
    "efficiency_degradation_rate": 0.0,
}
SURE = Case(
    appliance=new_appliance(**STURDY, electricity=600.0),
    household=HOME,
    options=(
        Option(name="repair", action="repair", quote=Quote(amount=150.0)),
        Option(name="new", action="replace", appliance=new_appliance(**STURDY, electricity=200.0), price=900.0),
    ),
)


def test_by_hand_the_electricity_price_pays_for_the_new_unit() -> None:
    # own row: 750 more today against 400 kWh a year, discounted continuously over six years at 4 %
    annuity = (1 - 1.04**-6) / math.log(1.04)
    assert electricity_price_to_replace(SURE).values == pytest.approx((750 / (400 * annuity),), rel=1e-6)
    assert new_price_to_replace(SURE).values == pytest.approx((150 + 400 * 0.5 * annuity,), rel=1e-6)


def test_by_hand_one_must_stay_for_the_discounted_payback() -> None:
    # own row: 200 a year saved pays 750 back in N years, (1 - 1.04^-N) / ln 1.04 = 750 / 200
    payback = -math.log(1 - 750 / 200 * math.log(1.04)) / math.log(1.04)
    found = years_to_stay(SURE)
    assert found.values == pytest.approx((payback,), rel=1e-4)
    assert (found.repair_wins_at_low, wins_at_high(found)) == (True, False)


def test_no_flip_is_told_as_such_and_which_side_wins() -> None:
    for amount, wins in ((0.0, True), (90_000.0, False)):
        case = case_of(Quote(amount=amount))
        case = vary(case, "appliance.electricity", 300.0)  # as thrifty as a new one, so worth a free repair at any age
        found = age_limit(replace(case, options=case.options[:2]))
        assert found.none
        assert (found.repair_wins_at_low, wins_at_high(found)) == (wins, wins)


def halved(case: Case, path: str, left: float, right: float) -> float:
    """The flip between two values, by halving alone."""
    wins = advantage(case, path, left) >= 0
    while (middle := (left + right) / 2) not in (left, right):
        left, right = (middle, right) if (advantage(case, path, middle) >= 0) == wins else (left, middle)
    return left


# Inputs on which the advantage is a straight line, one of several pieces, smooth, and smooth in pieces.
@pytest.mark.slow
@pytest.mark.parametrize(
    "path",
    [
        "household.electricity_price", "replace.price", "appliance.age", "appliance.mean_life",
        "repair.remaining_life_factor", "household.rate", "repair.repair_success_probability",
        "replace.appliance.life_shape",
    ],
)  # fmt: skip
@given(quote=st.floats(20, 300), age=st.floats(0, 25), dearer=st.floats(0.3, 3.0), years=st.sampled_from([None, 7.6]))
@settings(max_examples=6)
def test_each_flip_is_where_halving_the_way_between_its_neighbours_ends(
    path: str, quote: float, age: float, dearer: float, years: float | None
) -> None:
    changes = {"repair.quote.amount": quote, "appliance.age": age, "household.electricity_price": 0.35 * dearer}
    case = vary_all(ENDLESS, changes if years is None else {**changes, "household.study_period": years})
    found = breakeven_values(case, path)
    for value in found.values:
        near = 1e-6 * (1 + value)
        low, high = max(value - near, found.low), min(value + near, found.high)
        assert (advantage(case, path, low) >= 0) != (advantage(case, path, high) >= 0)
        slope = abs(advantage(case, path, high) - advantage(case, path, low)) / (high - low)
        assert abs(value - halved(case, path, low, high)) <= 1e-9 * (1 + value) + 1e-8 / slope


def test_where_what_follows_the_age_jumps_the_flip_is_the_place_of_the_jump() -> None:
    # own row: from 12.3 years on the unit draws ten times as much, which no line through either side tells
    jumping = replace(
        ENDLESS, by_age={"appliance.electricity": lambda age: np.where(np.less(age, 12.3), 100.0, 1000.0)}
    )
    found = age_limit(vary(jumping, "repair.quote.amount", 60.0))
    assert found.values == pytest.approx((12.3,), abs=1e-9)


def test_ends_that_were_asked_for_are_kept_and_the_rest_go_as_far_as_the_case_allows() -> None:
    grown = vary(ENDLESS, "household.electricity_escalation", 0.01)
    whole = breakeven_values(grown, "household.rate")
    assert (whole.low, whole.high) == interval(grown, "household.rate")
    part = breakeven_values(grown, "household.rate", low=0.02)
    assert (part.low, part.high) == (0.02, 0.5)
    assert part.values == pytest.approx([value for value in whole.values if value >= 0.02], abs=1e-9)
    allowed = breakeven_values(ENDLESS, "replace.financed", high=300.0)
    assert (allowed.low, allowed.high) == (0.0, 300.0)
    with pytest.raises(CaseError, match="must not end below its start"):
        breakeven_values(grown, "household.rate", high=0.005)


@given(quote=st.floats(20, 160), more=st.floats(1, 40))
@settings(max_examples=10)
def test_a_dearer_quote_is_worth_it_up_to_a_lower_age_and_against_a_dearer_new_unit_only(
    quote: float, more: float
) -> None:
    cheap, dear = (
        replace(case, options=case.options[:2])
        for case in map(case_of, (Quote(amount=quote), Quote(amount=quote + more)))
    )
    for ask, rises in ((age_limit, False), (new_price_to_replace, True), (electricity_price_to_replace, False)):
        below, above = ask(cheap), ask(dear)
        assert len(below.values) <= 1
        if below.values and above.values:
            assert (below.values < above.values) == rises


def test_bad_questions_name_what_is_wrong() -> None:
    with pytest.raises(CaseError, match=r"^replace\.colour: is no input"):
        breakeven_values(ENDLESS, "replace.colour")
    with pytest.raises(CaseError, match=r"^replace\.9\.price: is no input"):
        new_price_to_replace(ENDLESS, "replace.9")
    with pytest.raises(OutOfRange, match=r"^appliance\.age: must be from 0 to 60 year, got 70"):
        breakeven_values(ENDLESS, "appliance.age", high=70.0)
    with pytest.raises(OutOfRange, match=r"^appliance\.age: .* got nan"):
        breakeven_values(ENDLESS, "appliance.age", low=math.nan)
    with pytest.raises(CaseError, match="must not end below its start"):
        breakeven_values(ENDLESS, "appliance.age", 20.0, 10.0)
    with pytest.raises(CaseError, match=r"household\.rate: must be above 0"):
        breakeven_values(ENDLESS, "household.rate", 0.0, 0.1)
    with pytest.raises(CaseError, match=r"^appliance\.age: must be one number"):
        breakeven_values(vary(ENDLESS, "appliance.age", np.array([1.0, 2.0])), "replace.price")
    unquoted = replace(ENDLESS, options=(replace(ENDLESS.options[0], quote=None), *ENDLESS.options[1:]))
    with pytest.raises(CaseError, match=r"^repair\.quote: is needed"):
        age_limit(unquoted)
    with pytest.raises(CaseError, match=r"^repair: is refused by a caution.*some-caution"):
        age_limit(replace(ENDLESS, prohibitions=(Prohibition(action="repair", caution="some-caution"),)))


def test_an_interval_stops_short_of_where_the_case_would_be_refused() -> None:
    grown = vary(ENDLESS, "household.electricity_escalation", 0.01)
    low, high = interval(grown, "household.rate")
    assert 0.01 < low < 0.0103
    assert high == 0.5
    assert 0.029 < interval(ENDLESS, "household.gas_escalation")[1] < 0.03
    assert 7.9 < interval(vary(ENDLESS, "appliance.mean_life", 8.0), "appliance.failure_free_years")[1] < 8.0
    assert 640.0 < interval(ENDLESS, "replace.financed")[1] <= 650.01
    assert interval(STUDIED, "household.rate") == (0.0, 0.5)
    assert interval(ENDLESS, "household.study_period") == (0.5, 30.0)


def test_the_search_looks_ever_finer_towards_its_start() -> None:
    found = _grid(Input("replace.tax_rate", Bounds("share", 0.0, 100.0), 0.0), 0.0, 100.0)
    assert (found[0], found[-1]) == (0.0, 100.0)
    assert np.diff(found).max() <= 100 / 64 * (1 + 1e-9)
    for from_start in (0.1, 1.0, 10.0):
        near = found[found <= from_start]
        assert np.diff(near).max() < from_start / 5


def test_varying_all_at_once_is_varying_one_by_one() -> None:
    changes = {
        "appliance.age": 4.0,
        "household.rate": 0.05,
        "replace.2.appliance.water": 3.0,
        "repair.quote.amount": 99.0,
    }
    one_by_one = ENDLESS
    for path, value in changes.items():
        one_by_one = vary(one_by_one, path, value)
    assert vary_all(ENDLESS, changes) == one_by_one
    with pytest.raises(CaseError, match="is no input"):
        vary_all(ENDLESS, {"appliance.kind": 1.0})


def test_varying_all_at_once_holds_only_the_outcome_to_the_rules() -> None:
    late = vary_all(ENDLESS, {"appliance.failure_free_years": 20.0, "appliance.mean_life": 25.0})
    assert (late.appliance.failure_free_years, late.appliance.mean_life) == (20.0, 25.0)
    with pytest.raises(CaseError, match=r"appliance\.mean_life: must be above"):
        vary_all(ENDLESS, {"appliance.failure_free_years": 20.0})


def test_each_point_of_a_map_is_the_answer_to_that_case() -> None:
    x, y = around(ENDLESS, "household.electricity_price", 7), around(ENDLESS, "appliance.age", 5)
    found = two_way(ENDLESS, "household.electricity_price", "appliance.age", x, y)
    assert found.advantage.shape == (5, 7)
    for row, column in ((0, 0), (2, 3), (4, 6)):
        one = vary(vary(ENDLESS, "household.electricity_price", float(x[column])), "appliance.age", float(y[row]))
        assert found.advantage[row, column] == pytest.approx(weigh(one).advantage, abs=1e-8)


@pytest.mark.parametrize(
    ("case", "across", "down"),
    [
        (ENDLESS, "household.electricity_price", "appliance.age"),
        (ENDLESS, "repair.quote.amount", "appliance.electricity"),
        (SURE, "household.study_period", "household.electricity_price"),
    ],
)
def test_the_flip_line_lies_where_the_advantage_is_zero_and_crosses_every_change_of_the_verdict(
    case: Case, across: str, down: str
) -> None:
    found = two_way(case, across, down, around(case, across, 9), around(case, down, 8))
    wins = found.advantage >= 0
    changes = np.sum(wins[:, 1:] != wins[:, :-1]) + np.sum(wins[1:] != wins[:-1])
    assert found.line.shape == (changes, 2)
    assert changes > 0
    for x, y in found.line:
        assert abs(weigh(vary(vary(case, across, float(x)), down, float(y))).advantage) < 1e-6


def test_a_map_is_of_two_inputs() -> None:
    with pytest.raises(CaseError, match="another input"):
        two_way(ENDLESS, "appliance.age", "appliance.age", np.arange(3.0), np.arange(3.0))


def test_a_map_of_a_study_period_without_end_spans_all_that_it_can_be() -> None:
    found = around(ENDLESS, "household.study_period", 5)
    assert (found[0], found[-1]) == interval(ENDLESS, "household.study_period")
