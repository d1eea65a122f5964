r"""The other answer to "what happens at the next failure?": it is decided again, each time.

By the plain answer a failure ends a unit, and units end as published. Here it brings a quote, and the household
repairs up to the best limit for the unit's age (`policy`). Failures are calibrated so that a household that does so
retires units of the class as published (`policy_calibration`): one that buys the youngest of the replacements, since
published lives are those of units bought new.

The best policy then says two things of each unit: when it is retired, and what repairs cost at each age. Put in place
of the published life and of level upkeep, they make a case of the same kind, which the same functions weigh. So the two
answers differ in these two things only.

Prices are taken as level: what grows above inflation is left at today's price here.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Final

import numpy as np

from ..arrays import Floats
from ..errors import CaseError
from ..finance.life import FromHazard, Weibull
from .case import REPAIR, REPLACE, Appliance, Case, Household, Option, option_paths
from .flows import COST_CATEGORIES, flows_of, life_of, money, running_share
from .policy import AGES, MaintenanceAndRepair, best_policy, limits_against
from .policy_calibration import Calibration, calibrate
from .repair_costs import LognormalQuotes

YEARS_AHEAD: Final = np.linspace(0.0, 60.0, 481)
"""Grid of a unit's years from today, by the eighth. [year]"""

GONE: Final = 1e-12
"""Chance below which a unit counts as retired."""

LAST_HAZARD: Final = 10.0
"""Hazard beyond the grid, where next to no unit is left. [1/year]"""

REMEMBERED: Final = 64
"""Calibrations that are kept: what was asked of one class, place and price is often asked again."""


@dataclass(frozen=True)
class DecidingAgain:
    """A case in which units are repaired up to the best limit, and how well that explains the published life."""

    case: Case
    calibration: Calibration
    """Of a unit like the youngest replacement, bought as it is bought."""
    youngest: int
    """Index of that replacement among the case's options."""

    @property
    def failures_a_year(self) -> float:
        """Failures of such a unit in an average year of its mean life. [1/year]"""
        start, years = float(self.calibration.policy.ages[0]), float(self.calibration.policy.mean_life)
        return float(self.calibration.failures.hazard_gained(start, years)) / years


def deciding_again(case: Case, successor: Option) -> DecidingAgain:
    """The same question, with every later failure decided again.

    Parameters
    ----------
    case : a single case [-]
    successor : the replacement that is bought when a unit is not repaired [-]

    Returns
    -------
    again : the case to weigh, and the calibration [-]

    Raises
    ------
    CaseError
        The usual quote of a unit is 0, or the discount rate is.
    NoSolution
        No failure law leads to the published life.
    """
    for path, appliance in _appliances(case):
        if not float(appliance.later_repair_median) > 0:
            raise CaseError(f"{path}.later_repair_median", "must be above 0 to decide again at each failure, got 0")
    if not float(case.household.rate) > 0:
        raise CaseError("household.rate", "must be above 0 to decide again at each failure, got 0")
    repair = case.repair
    penalty = penalty_of(case)
    bought = (option for option in case.options if option.action == REPLACE)
    youngest = min(bought, key=lambda option: float(case.appliance_of(option).age))
    calibration = calibrated(case.household, youngest, penalty)
    cost_rate = float(calibration.policy.cost_rate)
    if successor is not youngest:
        failures = _failures(case.appliance_of(successor), case.appliance_of(youngest), calibration)
        ages = float(case.appliance_of(successor).age) + AGES
        cost_rate = _cost_rate(case, successor, failures, penalty, ages)
    law = calibration, case.appliance_of(youngest), cost_rate, penalty
    options = tuple(
        option if option.appliance is None else replace(option, appliance=_retiring(case, option, *law))
        for option in case.options
    )
    there = _retiring(case, repair, *law)
    return DecidingAgain(replace(case, appliance=there, options=options), calibration, case.options.index(youngest))


def calibrated(household: Household, bought: Option, penalty: float) -> Calibration:
    """Failures under which a household that buys this replacement, and decides again each time, keeps it as published.

    Parameters
    ----------
    household : who pays [-]
    bought : a replacement [-]
    penalty : what each failure costs besides the repair [money]

    Returns
    -------
    calibration : its ages are counted from new, and start where the unit is bought [-]

    Raises
    ------
    NoSolution
        No failure law leads to the published life.
    """
    lasting = replace(bought, name="", rebate=0.0, trade_in=0.0, financed=0.0)  # what counts but once stays out
    return _calibrated(household, lasting, penalty)


def penalty_of(case: Case) -> float:
    """What each failure costs besides its repair: the days without. [money]"""
    repair = case.repair
    return float(repair.days_without * case.household.day_cost)


def maintenance_and_repair_of(household: Household, bought: Option, penalty: float) -> MaintenanceAndRepair:
    """Quotes, waits and running cost of a replacement, as the calibration has them."""
    return _maintenance_and_repair(_buying(household, bought), bought, penalty)


def price_of(case: Case, bought: Option) -> float:
    """What a replacement costs each time it is bought: price, delivery and the rest, and the wait. [money]"""
    prices = money(case.household)
    return float(sum(prices.cost(category, paid) for category, paid in flows_of(case, bought).again.items()))


@lru_cache(maxsize=REMEMBERED)
def _calibrated(household: Household, bought: Option, penalty: float) -> Calibration:
    case = _buying(household, bought)
    appliance = case.appliance_of(bought)
    repairs, price = _maintenance_and_repair(case, bought, penalty), price_of(case, bought)
    return calibrate(life_of(appliance), repairs, price, float(household.rate), float(appliance.age) + AGES)


def _buying(household: Household, bought: Option) -> Case:
    """The least case around a replacement: what is calibrated depends on nothing else."""
    appliance = bought.appliance
    assert appliance is not None  # a replacement has one
    return Case(appliance=appliance, household=household, options=(Option(name=REPAIR, action=REPAIR), bought))


def _appliances(case: Case) -> Iterator[tuple[str, Appliance]]:
    """The units of a case with the place of each, those that can be bought first."""
    for path, option in zip(option_paths(case), case.options, strict=True):
        if option.appliance is not None:
            yield f"{path}.appliance", option.appliance
    yield "appliance", case.appliance


def _failures(appliance: Appliance, like: Appliance, calibration: Calibration) -> Weibull:
    """Failures of a unit: those of the calibration, as much slower as such units live longer."""
    pace = float(appliance.mean_life) / float(like.mean_life)
    return replace(calibration.failures, scale=calibration.failures.scale * pace)


def _cost_rate(case: Case, bought: Option, failures: Weibull, penalty: float, ages: Floats) -> float:
    """What it costs a year to be served by such units for good. [money/year]"""
    repairs, price = _maintenance_and_repair(case, bought, penalty), price_of(case, bought)
    return float(best_policy(failures, repairs, price, case.household.rate, ages).cost_rate)


def _retiring(
    case: Case, option: Option, calibration: Calibration, like: Appliance, cost_rate: float, penalty: float
) -> Appliance:
    """The option's unit, retired and repaired as the best policy for it says."""
    appliance = case.appliance_of(option)
    failures, repairs = _failures(appliance, like, calibration), _maintenance_and_repair(case, option, penalty)
    ages = float(appliance.age) + YEARS_AHEAD
    policy = limits_against(failures, repairs, cost_rate, case.household.rate, ages)
    gone = -np.log(np.maximum(policy.kept, GONE))

    def hazard(age: Floats) -> Floats:
        return np.interp(age, ages, gone) + LAST_HAZARD * np.maximum(age - ages[-1], 0.0)

    def spending(age: Floats) -> Floats:
        limit = np.interp(age, ages, policy.limits)
        return failures.hazard(age) * (repairs.quotes.partial_mean(limit) + penalty)

    middle, kept = ((each[1:] + each[:-1]) / 2 for each in (ages, policy.kept))
    a_year = float(np.average(spending(middle), weights=kept))  # between the ages: a hazard may start from infinity
    rising = (lambda age: spending(age) / a_year) if a_year > 0 else None
    return replace(
        appliance, retirement=FromHazard(hazard), maintenance_and_repair=a_year, maintenance_and_repair_by_age=rising
    )


def _maintenance_and_repair(case: Case, option: Option, penalty: float) -> MaintenanceAndRepair:
    """Quotes, waits and running cost of an option's unit; repairs are no part of the running cost here."""
    appliance, prices, yearly = case.appliance_of(option), money(case.household), flows_of(case, option).yearly

    def running(age: Floats) -> Floats:
        time = age - float(appliance.age)
        costs = (
            prices.cost(category, yearly.get(category, 0.0)) * running_share(case, option, category, time)
            for category in COST_CATEGORIES
            if category != "maintenance_and_repair"
        )
        return sum(costs, np.zeros(age.shape))

    return MaintenanceAndRepair(
        LognormalQuotes(float(appliance.later_repair_median), float(appliance.later_repair_log_sd)), penalty, running
    )
