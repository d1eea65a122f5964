"""How fast one learns how sure a verdict is, beside a loop over the draws; run with `pytest -s`."""

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
from bench_weigh import best_of
from variance_shares import variance_shares
from yearly_cash import cash

from decide.answers.confidence import decision_confidence
from decide.economics.breakeven import around, breakeven_values, two_way, vary_all
from decide.economics.case import REPAIR, vary
from decide.economics.cash_flow import Study
from decide.economics.decision import confidence, decide
from decide.economics.flows import money
from decide.economics.outcomes import outcome_distribution
from decide.economics.uncertainty import DRAWS
from decide.economics.weigh import weigh
from decide.load.cases.case_file import complete, read_case
from decide.load.cases.ranges import ranges_of
from decide.load.tables.draws import points, sureness
from decide.load.tables.tables import tables

FILLED = complete(read_case(Path(__file__).resolve().parents[2] / "data" / "demo" / "refrigerator.toml"))
CASE, RANGES = FILLED.case, ranges_of(FILLED)


def test_all_draws_at_once_against_a_loop_over_them() -> None:
    ours = best_of(10, lambda: decision_confidence(CASE, RANGES))
    drawn, sure = decide(CASE, RANGES, points(len(RANGES)), sureness(tables(), "US")), sureness(tables(), "US")
    planned, plan = weigh(CASE).planned_years, drawn.rest + drawn.quote
    rows = range(0, DRAWS, 8)

    def one(row: int) -> float:
        values = {path: float(v) for r, u in zip(RANGES, drawn.shares[row], strict=True) for path, v in r.at(u).items()}
        weighed = weigh(vary_all(CASE, values), None, planned)
        repairs = [float(cost.present_cost) for cost in weighed.options if cost.action == REPAIR]
        return min(repairs, key=lambda cost: abs(cost - plan[row]))

    found: list[float] = []
    loop = best_of(1, lambda: found.extend(map(one, rows))) / len(rows) * DRAWS
    apart = np.max(np.abs(np.array(found) - plan[:: DRAWS // len(rows)]))
    print(f"\n{DRAWS} draws of {len(RANGES)} ranges, all shares, values and bars: {ours * 1e3:.0f} ms (asked: 100)")
    print(
        f"the draws alone one by one: {loop * 1e3:.0f} ms, {loop / ours:.0f} times as long; at most {apart:.1e} apart"
    )
    plain = best_of(5, lambda: decide(CASE, RANGES, points(len(RANGES)), sure))
    print(f"of which the column call of `weigh` and the draws take {plain * 1e3:.0f} ms")


def test_another_quote_from_a_decision_that_was_made_against_anew() -> None:
    made = decide(CASE, RANGES, points(len(RANGES)), sureness(tables(), "US"))
    case = vary(CASE, "repair.quote.amount", 333.0)
    dearer = float(case.repair.quote.total)
    anew = best_of(5, lambda: decide(case, RANGES, points(len(RANGES)), sureness(tables(), "US")).at(dearer))
    again = best_of(5, lambda: made.at(dearer))
    print(f"\nanother quote {again * 1e3:.1f} ms, anew {anew * 1e3:.0f} ms: {anew / again:.1f} times")
    told = confidence(case, decide(case, RANGES, points(len(RANGES)), sureness(tables(), "US")))
    assert tuple(made.at(dearer).cheapest_share.values()) == told.share_cheapest
    assert again < anew


def test_over_a_study_period_the_shared_sums_against_each_option_forwards() -> None:
    # forwards, as the calendar of one case is printed: every option and every planned year has its own purchases
    case = vary(CASE, "household.study_period", 8.0)
    prices, new = money(case.household), case.options[1]
    holds = [math.inf, *(float(year) for year in range(1, 8))]

    def forwards() -> None:
        for hold in holds:
            cash(
                case,
                replace(case.options[0], planned_replacement_years=hold),
                new,
                prices,
                8.0,
                True,
            )

    def backwards() -> None:
        study = Study(case, prices, 8.0)
        for hold in holds:
            study.cost(case.options[0], new, hold)

    ours, theirs = best_of(20, backwards), best_of(20, forwards)
    print(f"\n{len(holds)} plans {ours * 1e3:.1f} ms, each forwards {theirs * 1e3:.1f} ms: {theirs / ours:.1f} times")
    assert ours < theirs


def test_break_even_against_a_sweep_as_fine() -> None:
    path = "appliance.mean_life"
    ours = best_of(5, lambda: breakeven_values(CASE, path))
    found = breakeven_values(CASE, path)
    step = 0.001
    sweep = best_of(1, lambda: weigh(vary(CASE, path, np.arange(found.low, found.high, step))))
    print(
        f"\nexact flip of {path} {ours * 1e3:.0f} ms; a sweep by {step} {sweep * 1e3:.0f} ms: {sweep / ours:.1f} times"
    )
    x, y = around(CASE, "household.electricity_price"), around(CASE, "appliance.age")
    grid = best_of(5, lambda: two_way(CASE, "household.electricity_price", "appliance.age", x, y))
    print(f"a map of 31 x 31 with its line {grid * 1e3:.0f} ms")


def test_luck_and_variance_shares() -> None:
    lived = best_of(3, lambda: outcome_distribution(CASE, CASE.options[0], 10.0))
    few = best_of(3, lambda: outcome_distribution(CASE, CASE.options[0], 10.0, households=200))
    print(f"\nluck of 20,000 households {lived * 1e3:.0f} ms, {lived / few:.1f} times as long as of 200")
    shared = best_of(1, lambda: variance_shares(CASE, RANGES, 256))
    print(f"variance shares of {len(RANGES)} ranges {shared * 1e3:.0f} ms")
