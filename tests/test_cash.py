"""A study period reckoned backwards against the same one reckoned forwards, and renewals against their definition."""

import math
from dataclasses import replace

import numpy as np
import pytest
from households import case_of
from hypothesis import given, settings
from hypothesis import strategies as st
from yearly_cash import cash

from decide.arrays import Floats, Number
from decide.economics.case import REPLACE, Case, Option, vary_all
from decide.economics.cash_flow import Study, _Renewal
from decide.economics.flows import COST_CATEGORIES, money
from decide.economics.horizon import LEAST_CELLS, QUARTERS, horizon_of
from decide.economics.weigh import weigh
from decide.finance.life import FromHazard
from decide.load.cases.case_file import complete
from decide.load.tables.tables import tables

# Own rows: what may be asked of a study, and no two alike.
ASKED: dict[str, dict[str, Number]] = {
    "as it comes": {},
    "nothing left": {"household.residual_share": 0.0},
    "sold at the end": {"household.residual_share": 0.0, "household.resale_share": 0.25},
    "sold for more than it cost": {"household.residual_share": 0.0, "household.resale_share": 1.0,
        "replace.2.price": 20.0, "replace.2.delivery": 0.0, "household.price_escalation": 0.01},
    "sold, in columns": {"household.residual_share": 0.0, "household.resale_share": np.array([0.0, 0.3, 1.0]),
        "appliance.age": np.array([2.0, 9.0, 20.0])},
    "prices that move apart": {
        "household.electricity_escalation": 0.02, "household.water_escalation": -0.01,
        "household.price_escalation": -0.03, "household.rate": 0.05,
    },
    "a repair that may not hold": {"repair.repair_success_probability": 0.7, "repair.repair_warranty": 10.0,
        "repair.remaining_life_factor": 0.4},
    "units of a few years": {"appliance.mean_life": 2.0, "replace.appliance.mean_life": 1.5,
    "replace.appliance.life_shape": 5.0},
    "columns": {
        "household.rate": np.array([0.01, 0.04, 0.07]), "appliance.mean_life": np.array([8.0, 13.0, 20.0]),
        "replace.appliance.electricity": np.array([0.0, 200.0, 600.0]),
        "repair.repair_success_probability": np.array([0.6, 0.9, 1.0]),
    },
    "columns of money": {"replace.price": np.array([300.0, 600.0]), "household.water_price": np.array([0.0, 9.0])},
}  # fmt: skip
YEARS = [0.6, 3.0, 8.25, 14.0]
HOLDS: list[Number] = [math.inf, 0.0, 2.0, 2.6, 40.0]


def check(case: Case, years: float, holds: list[Number]) -> None:
    """Each cause of each option, for each successor and planned year, to a billionth of what it all costs."""
    prices = money(case.household)
    study = Study(case, prices, years)
    for option in case.options:
        for successor in (o for o in case.options if o.appliance is not None):
            for hold in holds if option.appliance is None else [math.inf]:
                forwards = cash(
                    case, replace(option, planned_replacement_years=hold), successor, prices, years, True
                ).present
                backwards = study.cost(option, successor, hold)
                close = 1e-12 * np.max(np.abs(sum(forwards.values())))
                for category in COST_CATEGORIES:
                    assert np.all(np.abs(np.subtract(backwards[category], forwards[category])) <= close), (
                        option.name,
                        category,
                    )


@pytest.mark.parametrize("years", YEARS)
@pytest.mark.parametrize("changes", ASKED.values(), ids=ASKED)
def test_backwards_and_forwards_a_study_costs_the_same(changes: dict[str, Number], years: float) -> None:
    check(vary_all(case_of(), changes), years, HOLDS)


def test_so_it_does_where_each_row_has_a_plan_of_its_own_and_some_have_none() -> None:
    case = vary_all(case_of(), ASKED["columns"])
    check(case, 9.0, [np.array([1.0, 3.7, math.inf]), np.array([9.0, 8.99, 20.0])])


def test_so_it_does_for_a_unit_with_a_law_and_an_upkeep_of_its_own() -> None:
    case = case_of()
    bent = {
        "retirement": FromHazard(lambda age: (age / 9) ** 1.5),
        "maintenance_and_repair_by_age": lambda age: 0.7 + 0.1 * age,
    }
    there, new = replace(case.appliance, **bent), case.options[1]
    options = (case.options[0], replace(new, appliance=replace(new.appliance, **bent)), *case.options[2:])
    check(replace(case, appliance=there, options=options), 7.5, [math.inf, 3.2])


@given(
    age=st.floats(0, 30), life=st.floats(4, 30), shape=st.floats(0.6, 8), years=st.floats(0.5, 25),
    rate=st.floats(0, 0.15), growth=st.floats(-0.05, 0.1), remaining_life_factor=st.floats(0.05, 2), hold=st.floats(0,
        20),
)  # fmt: skip
@settings(max_examples=40)
def test_so_it_does_on_cases_drawn_at_random(
    age: float,
    life: float,
    shape: float,
    years: float,
    rate: float,
    growth: float,
    remaining_life_factor: float,
    hold: float,
) -> None:
    changes: dict[str, Number] = {
        "appliance.age": age, "appliance.mean_life": life, "replace.appliance.mean_life": life,
        "appliance.life_shape": shape, "replace.appliance.life_shape": shape, "household.rate": rate,
        "household.electricity_escalation": growth, "repair.remaining_life_factor": remaining_life_factor,
        "household.study_period": years,
    }  # fmt: skip
    check(vary_all(case_of(), changes), years, [math.inf, hold])


@pytest.mark.parametrize("years", YEARS)
def test_the_best_plan_of_a_study_is_the_cheapest_of_those_reckoned_forwards(years: float) -> None:
    case = vary_all(case_of(), {"household.study_period": years, "appliance.maintenance_and_repair": 60.0})
    prices = money(case.household)
    tried = [float(year) for year in range(1, 16) if year < years]

    def cost(hold: float) -> float:
        mended = replace(case.options[0], planned_replacement_years=hold)
        return float(sum(cash(case, mended, case.options[1], prices, years, True).present.values()))

    best = weigh(case).planned_years
    assert math.isnan(float(best)) if not tried else cost(float(best)) == min(map(cost, tried))


def test_a_column_of_prices_gets_in_each_row_what_that_price_gets_alone() -> None:
    case = vary_all(case_of(), {"household.study_period": 8.0, "replace.price": np.array([300.0, 500.0, 900.0])})
    horizon = horizon_of(case, money(case.household))
    for option in case.options:
        for row, price in enumerate((300.0, 500.0, 900.0)):
            alone = vary_all(case, {"replace.price": price})
            expected = horizon_of(alone, money(alone.household)).cost(_same(alone, option))
            for category, cost in horizon.cost(option).items():
                assert np.broadcast_to(cost, 3)[row] == pytest.approx(expected[category], rel=1e-12, abs=1e-9)


def _same(case: Case, option: Option) -> Option:
    return next(each for each in case.options if each.name == option.name)


def renewals() -> tuple[Floats, Floats, _Renewal]:
    """Chances to fail in each cell of three units, those that count at the edge before it, and what follows."""
    rng = np.random.default_rng(8)
    deaths = rng.random((3, 40))
    deaths *= np.array([[0.1], [0.6], [0.999]]) / deaths.sum(axis=-1, keepdims=True)
    before = deaths * rng.random((3, 40))
    ends = before + np.pad((deaths - before)[:, :-1], ((0, 0), (1, 0)))
    return before, deaths - before, _Renewal(ends, deaths - before)


def test_purchases_are_the_first_ends_and_the_ends_of_all_that_were_bought_before() -> None:
    # the renewal equation B(t) = D(t) + sum_s k(s) B(t - s), cell by cell: each cell's ends at either edge
    before, behind, renewal = renewals()
    ends = np.random.default_rng(9).random((3, 41)) / 41
    bought = renewal.purchases(ends)
    for unit in range(3):
        for edge in range(41):
            later = sum(bought[unit, edge - age - 1] * behind[unit, age] for age in range(edge))
            if edge < 40:
                later += sum(bought[unit, edge - age] * before[unit, age] for age in range(edge + 1))
            assert bought[unit, edge] == pytest.approx(ends[unit, edge] + later, rel=1e-9)


def test_what_ends_lead_to_is_what_their_purchases_are_worth() -> None:
    *_, renewal = renewals()
    rng = np.random.default_rng(10)
    ends, worth = rng.random((3, 41)), rng.random((3, 41))
    forwards = np.sum(renewal.purchases(ends) * worth, axis=-1)
    assert np.sum(ends * renewal.leading_to(worth[np.newaxis])[0], axis=-1) == pytest.approx(forwards, rel=1e-12)


@pytest.mark.parametrize("region", ["US", "EU"])
def test_cells_of_a_quarter_are_as_good_as_thirty_times_finer_ones(
    region: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Every class, young, old and very old, short and long stays: a tenth of what a present cost may be off by."""
    for kind in tables().classes(region):
        for age, years in ((0.5, 1.7), (0.5, 8.0), (14.0, 3.0), (22.0, 1.7), (22.0, 20.0)):
            home = {"region": region, "study_period": years}
            case = complete({"appliance": {"class": kind.kind, "age": age}, "household": home}).case
            coarse = weigh(case)
            with monkeypatch.context() as finer:
                finer.setattr("decide.economics.horizon.QUARTERS", 30 * QUARTERS)
                finer.setattr("decide.economics.horizon.LEAST_CELLS", 30 * LEAST_CELLS)
                fine = weigh(case)
            new = min(float(cost.today) for cost in fine.options if cost.action == REPLACE)
            assert coarse.repair_limit == pytest.approx(fine.repair_limit, abs=0.001 * new), (kind.kind, age, years)
            for one, other in zip(coarse.options, fine.options, strict=True):
                assert one.present_cost == pytest.approx(other.present_cost, rel=0.001), (kind.kind, age, years)


def test_each_year_gathers_what_falls_in_it() -> None:
    # a level flow on a unit that all but never fails, and a last year that is cut short
    case = vary_all(
        case_of(),
        {
            "appliance.mean_life": 80.0, "appliance.age": 0.0, "appliance.life_shape": 10.0, "appliance.water": 10.0,
            "repair.repair_success_probability": 1.0,
        },
    )  # fmt: skip
    for cells in (1, 4, 12):
        made = cash(case, case.options[0], case.options[1], money(case.household), 3.0, 0.0, cells)
        assert made.by_year["water"] == pytest.approx([0.0, 40.0, 40.0, 40.0], rel=1e-6)
    short = cash(case, case.options[0], case.options[1], money(case.household), 2.25, 0.0, 4).by_year["water"]
    assert short == pytest.approx([0.0, 40.0, 40.0, 10.0], rel=1e-6)


@pytest.mark.parametrize("growth", [-0.03, 0.02])
def test_what_is_left_in_the_last_year_is_at_the_prices_of_then_and_today_worth_what_it_discounts_to(
    growth: float,
) -> None:
    years, case = 8.0, vary_all(case_of(), {"household.price_escalation": growth, "household.residual_share": 0.5})
    spent, kept = (
        cash(case, case.options[0], case.options[1], money(case.household), years, with_left)
        for with_left in (False, True)
    )
    left = spent.by_year["purchase"] - kept.by_year["purchase"]
    assert left[:-1] == pytest.approx(np.zeros(len(left) - 1))
    assert left[-1] > 10
    today = spent.present["purchase"] - kept.present["purchase"]
    assert today == pytest.approx(left[-1] * (1 + case.household.rate) ** -years)
