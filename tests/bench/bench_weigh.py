"""How fast a verdict is, always beside a named alternative in the same run: `pytest tests/bench/*.py -s`."""

import math
import os
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import numpy_financial as npf
from yearly_cash import cash

from decide.answers.answer import answer
from decide.answers.scenarios import shipped_for, what_ifs
from decide.economics.case import Appliance, Case, vary
from decide.economics.flows import flows_of, money, running_probability
from decide.economics.weigh import weigh
from decide.finance import life
from decide.load.cases import upkeep
from decide.load.cases.case_file import complete, read_case

DEMO = Path(__file__).resolve().parents[2] / "data" / "demo" / "refrigerator.toml"


def best_of(times: int, work: Callable[[], object]) -> float:
    """Shortest of several runs. [s]"""
    spent = []
    for _ in range(times):
        begun = time.perf_counter()
        work()
        spent.append(time.perf_counter() - begun)
    return min(spent)


def one_by_one(case: Case) -> float:
    """The limit as one would write it by hand for one case: monthly flows over a century, npv of numpy-financial."""
    months = 1200
    monthly = (1 + case.household.rate) ** (1 / 12) - 1
    costs = []
    new = case.options[1]
    for option in case.options:
        expected = np.zeros(months + 1)
        standing = survival(case.appliance_of(option), months) * running_probability(option)
        like = new if option.action == "repair" else option
        fresh = survival(case.appliance_of(like), months)
        ends, deaths = -np.diff(standing, prepend=1.0), -np.diff(fresh)
        bought = np.zeros(months + 1)
        for month in range(months + 1):
            bought[month] = ends[month] + bought[:month] @ deaths[:month][::-1]
        flows, again = flows_of(case, option), flows_of(case, like)
        running = sum(flows.yearly[c] * money(case.household).price[c] for c in flows.yearly) / 12
        followed = sum(again.yearly[c] * money(case.household).price[c] for c in again.yearly) / 12
        expected += standing * running + (1 - standing) * followed + bought * sum(again.again.values())
        costs.append(npf.npv(monthly, expected) + sum(flows.once.values()))
    return min(costs[1:]) - costs[0] + case.options[0].quote.total


def survival(appliance: Appliance, months: int) -> np.ndarray:
    """Survival by the month from the unit's age."""
    time = appliance.age + np.arange(months + 1) / 12
    scale = (appliance.mean_life - appliance.failure_free_years) / math.gamma(1 + 1 / appliance.life_shape)
    hazard = (np.maximum(time - appliance.failure_free_years, 0) / scale) ** appliance.life_shape
    return np.exp(hazard[0] - hazard)


def test_ten_thousand_cases_against_a_loop_with_numpy_financial() -> None:
    case = complete(read_case(DEMO)).case
    case = replace(case, options=case.options[:2])
    for path in (
        "appliance.efficiency_degradation_rate",
        "replace.appliance.efficiency_degradation_rate",
        "replace.warranty",
    ):
        case = vary(case, path, 0.0)
    case = vary(case, "repair.remaining_life_factor", 1.0)
    rows, sampled = 10_000, 40
    ages = np.linspace(0, 30, rows)
    columns = vary(case, "appliance.age", ages)
    ours = best_of(3, lambda: weigh(columns)) / rows
    alone = best_of(20, lambda: weigh(case))
    some = [vary(case, "appliance.age", float(age)) for age in ages[:: rows // sampled]]
    loop = best_of(1, lambda: [one_by_one(one) for one in some]) / sampled
    limits = np.asarray(weigh(columns).repair_limit)[:: rows // sampled]
    apart = np.max(np.abs(limits - [one_by_one(one) for one in some]))
    print(f"\none verdict {alone * 1e3:.2f} ms; in columns of 10,000 {ours * 1e6:.1f} us a row")
    print(f"numpy-financial case by case {loop * 1e6:.0f} us a row: {loop / ours:.0f} times as long (asked: 50)")
    print(f"limits at most {apart:.2f} apart, of which the monthly year-end steps of the loop are the cause")


def test_the_grid_against_one_a_hundred_times_finer() -> None:
    case = vary(complete(read_case(DEMO)).case, "household.study_period", 10.0)
    prices, option, successor = money(case.household), case.options[0], case.options[1]
    worst = 0.0
    for candidate in case.options:
        coarse = sum(cash(case, candidate, successor, prices, 10.0, True).present.values())
        fine = sum(cash(case, candidate, successor, prices, 10.0, True, 1200).present.values())
        worst = max(worst, abs(coarse / fine - 1))
    quick = best_of(5, lambda: cash(case, option, successor, prices, 10.0, True))
    slow = best_of(3, lambda: cash(case, option, successor, prices, 10.0, True, 1200))
    print(f"\nmonthly cells {quick * 1e3:.2f} ms, at most {worst:.1e} off a 100 times finer grid ({slow * 1e3:.0f} ms)")


def test_a_cold_command_against_a_bare_import_of_pandas() -> None:
    command = [sys.executable, "-m", "decide", "weigh", str(DEMO)]
    bare = [sys.executable, "-c", "import pandas"]
    run = lambda words: subprocess.run(words, check=True, capture_output=True)  # noqa: E731
    ours, other = best_of(5, lambda: run(command)), best_of(5, lambda: run(bare))
    print(f"\ncold `mendpoint weigh` {ours:.2f} s; `import pandas` alone {other:.2f} s; ratio {ours / other:.2f}")


def test_a_verdict_and_each_what_if_beyond_it_by_processor_time() -> None:
    entries = read_case(DEMO)
    base = answer(entries)

    def spent(work: Callable[[], object], before: Callable[[], object] = lambda: None) -> float:
        """Least of several runs; what earlier runs left is forgotten, and only then comes what was done before. [ms]"""
        found = []
        for _ in range(25):
            life._kept.cache_clear()
            upkeep._solved.cache_clear()
            before()
            begun = time.process_time()
            work()
            found.append(time.process_time() - begun)
        return 1000 * min(found)

    print(f"\none verdict {spent(lambda: answer(entries)):.1f} ms (asked: 15), of which")
    print(f"completing the case {spent(lambda: complete(entries)):.1f} ms; load {os.getloadavg()[0]:.1f}")
    for each in shipped_for(entries, base):
        took = spent(lambda one=each: what_ifs(entries, base, (one,)), lambda: answer(entries))
        print(f"{each.name}: {took:.1f} ms (asked: 10)")
