"""The table of limits by age: against the same question asked one by one, and what rules of thumb cost."""

import math

import numpy as np
import pytest

from decide.answers.answer import answer
from decide.answers.limits import Limits, limits_of
from decide.errors import CaseError, EntryErrors
from decide.load.cases.case_file import complete
from decide.load.tables.tables import tables
from decide.show.text.certainty import rule_text
from decide.show.text.words import Words

KINDS = [("clothes_washer", "US"), ("refrigerator", "US"), ("dishwasher", "DE"), ("furnace_gas", "US")]


@pytest.fixture(scope="module", params=KINDS, ids=lambda pair: "-".join(pair))
def found(request: pytest.FixtureRequest) -> Limits:
    return limits_of(*request.param)


@pytest.mark.parametrize("age", [0, 7, 12, 30])
def test_a_row_is_what_weighing_a_unit_of_that_age_says(found: Limits, age: int) -> None:
    entries = {"appliance": {"class": found.kind, "age": age}, "household": {"place": found.place}}
    plain = answer(entries)
    assert float(found.limit[age]) == pytest.approx(float(plain.weighing.repair_limit))
    assert (found.low[age], found.high[age]) == pytest.approx(plain.decision.limit_range)


@pytest.mark.parametrize("age", [3, 7, 12])
def test_a_quote_at_the_edges_of_a_row_is_clear_and_within_them_it_is_not(found: Limits, age: int) -> None:
    entries = {"appliance": {"class": found.kind, "age": age}, "household": {"place": found.place}}
    repair, other, limit = (float(column[age]) for column in (found.clear_repair, found.clear_other, found.limit))
    off = 0.01 * found.price
    for quote, act, state in (
        (repair - off, "repair", "clear"), (other + off, "replace", "clear"), (limit, None, "close"),
        (repair + 2 * off, "repair", "leaning"), (other - 2 * off, "replace", "leaning"),
    ):  # fmt: skip
        if quote >= 0:
            verdict = answer({**entries, "repair": {"quote": quote}}).verdict
            assert (verdict.act if act else None, verdict.state) == (act, state), quote


def test_an_older_unit_is_never_worth_a_dearer_repair(found: Limits) -> None:
    assert np.all(np.diff(found.limit) < 0.002 * found.price)
    assert found.limit[0] > 1.5 * found.limit[20]


def test_a_row_is_in_order(found: Limits) -> None:
    rows = np.stack([found.clear_repair, found.limit, found.clear_other])
    assert np.all(np.diff(rows, axis=0) > 0)
    assert np.all(found.low < found.limit)
    assert np.all(found.limit < found.high)


def test_no_rule_of_thumb_costs_less_than_going_by_the_limit(found: Limits) -> None:
    assert [rule.rule for rule in found.rules] == ["half", "half_until", "age_times_quote"]
    assert all(0 <= rule.costs < found.price for rule in found.rules)


def test_what_a_rule_costs_is_what_failures_drawn_one_by_one_lose(found: Limits) -> None:
    """Failures of a class simulated: their ages from units that still serve, their bills from the law of the class."""
    rng, many = np.random.default_rng(5), 200_000
    new = complete({"appliance": {"class": found.kind, "age": 0}, "household": {"place": found.place}}).case.options[1]
    share, growth = (
        tables().needed(n, found.kind, new_region(found)) for n in ("failure_share_3_years", "failure_growth")
    )
    theta, defects = (tables().usual(n, found.place).value for n in ("frailty_variance", "defect_share"))
    unit = new.appliance
    scale = float(unit.mean_life) / math.gamma(1 + 1 / float(unit.life_shape))
    ages = found.ages
    serving = np.exp(-((ages / scale) ** float(unit.life_shape)))
    level = ((1 - share.value) ** -theta - 1) / theta
    rate = level * growth.value / 3 * (np.maximum(ages, 1e-9) / 3) ** (growth.value - 1) * serving ** (theta * defects)
    at = rng.choice(ages.size, p=rate * serving / np.sum(rate * serving), size=many)
    bill = np.exp(rng.normal(math.log(float(unit.later_repair_median)), float(unit.later_repair_log_sd), many))
    wrong = (bill <= found.price / 2) != (bill <= found.limit[at])
    lost = np.mean(np.where(wrong, np.abs(bill - found.limit[at]), 0.0))
    assert found.rules[0].costs == pytest.approx(lost, rel=0.03, abs=0.02)


def new_region(found: Limits) -> str:
    return tables().region_of(found.place)


@pytest.mark.slow
def test_a_price_of_ones_own_moves_the_limits_with_it() -> None:
    cheap, dear = (limits_of("clothes_washer", "US", price) for price in (500.0, 900.0))
    assert (cheap.price, dear.price) == (500.0, 900.0)
    assert np.all(cheap.limit < dear.limit)


def test_what_cannot_be_asked_is_refused() -> None:
    with pytest.raises(CaseError, match="is not known"):
        limits_of("toaster")
    with pytest.raises(EntryErrors, match=r"household\.place"):
        limits_of("dishwasher", "Atlantis")
    with pytest.raises(EntryErrors, match=r"replace\.price"):
        limits_of("dishwasher", "DE", -4.0)


def test_each_rule_is_said_with_its_figure(found: Limits) -> None:
    words = Words.of()
    half, until, ceiling = (rule_text(words, rule) for rule in found.rules)
    assert half == "Repair below half the price of a new one, at any age"
    assert words.years(found.rules[1].figure) in until
    assert words.money(float(f"{found.rules[2].figure:.2g}")) in ceiling
