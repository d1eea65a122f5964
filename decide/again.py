r"""The other answer to "what happens at the next failure?": it is decided again, each time.

By the plain answer a failure ends a unit, and units end as published. Here it brings a quote, and the household
repairs up to the best limit for the unit's age (`policy`). Failures are calibrated so that a household that does so
retires units of the class as published (`policy_fit`).

The best policy then says two things of each unit: when it is retired, and what repairs cost at each age. Put in place of
the published life and of level upkeep, they make a case of the same kind, which the same functions weigh. So the two
answers differ in these two things only.

Prices are taken as level: what grows above inflation is left at today's price here.
"""

from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from .arrays import Floats
from .case import REPAIR, Appliance, Case, Option
from .errors import CaseError
from .flows import CAUSES, flows_of, life_of, money, running_share
from .life import FromHazard
from .policy import LognormalQuotes, Upkeep, limits_against
from .policy_fit import Calibration, calibrate

YEARS_AHEAD: Final = np.linspace(0.0, 60.0, 481)
"""Grid of a unit's years from today, by the eighth. [year]"""

GONE: Final = 1e-12
"""Chance below which a unit counts as retired."""

LAST_HAZARD: Final = 10.0
"""Hazard beyond the grid, where next to no unit is left. [1/year]"""


@dataclass(frozen=True)
class DecidingAgain:
    """A case in which units are repaired up to the best limit, and how well that explains the published life."""

    case: Case
    calibration: Calibration
    """Of a unit like the successor, bought as it is bought."""


def deciding_again(case: Case, successor: Option) -> DecidingAgain:
    """The same question, with every later failure decided again.

    Parameters
    ----------
    case : a single case [-]
    successor : what is bought when a unit is not repaired [-]

    Returns
    -------
    again : the case to weigh, and the calibration [-]

    Raises
    ------
    CaseError
        The expected repair quote is 0, or the discount rate is.
    NoSolution
        No failure law leads to the published life.
    """
    bought = case.unit_of(successor)
    if not float(bought.quote_median) > 0:
        raise CaseError("replace.unit.quote_median", "must be above 0 to decide again at each failure, got 0")
    if not float(case.household.rate) > 0:
        raise CaseError("household.rate", "must be above 0 to decide again at each failure, got 0")
    prices = money(case.household)
    price = float(sum(prices.cost(cause, paid) for cause, paid in flows_of(case, successor).again.items()))
    repair = next(option for option in case.options if option.action == REPAIR)
    penalty = float(repair.days_without * case.household.day_cost)
    calibration = calibrate(life_of(bought), _upkeep(case, successor, penalty), price, float(case.household.rate))
    options = tuple(
        option if option.unit is None else replace(option, unit=_retiring(case, option, calibration, penalty))
        for option in case.options
    )
    there = _retiring(case, repair, calibration, penalty)
    return DecidingAgain(replace(case, appliance=there, options=options), calibration)


def _retiring(case: Case, option: Option, calibration: Calibration, penalty: float) -> Appliance:
    """The option's unit, retired and repaired as the best policy for it says."""
    unit = case.unit_of(option)
    pace = float(unit.mean_life) / float(calibration.policy.mean_life)
    failures = replace(calibration.failures, scale=calibration.failures.scale * pace)
    upkeep = _upkeep(case, option, penalty)
    ages = float(unit.age) + YEARS_AHEAD
    policy = limits_against(failures, upkeep, calibration.policy.cost_rate, case.household.rate, ages)
    gone = -np.log(np.maximum(policy.kept, GONE))

    def hazard(age: Floats) -> Floats:
        return np.interp(age, ages, gone) + LAST_HAZARD * np.maximum(age - ages[-1], 0.0)

    def spending(age: Floats) -> Floats:
        limit = np.interp(age, ages, policy.limits)
        return failures.hazard(age) * (upkeep.quotes.partial_mean(limit) + penalty)

    return replace(unit, retirement=FromHazard(hazard), upkeep_by_age=spending)


def _upkeep(case: Case, option: Option, penalty: float) -> Upkeep:
    """Quotes, waits and running cost of an option's unit; repairs are no part of the running cost here."""
    unit, prices, yearly = case.unit_of(option), money(case.household), flows_of(case, option).yearly

    def running(age: Floats) -> Floats:
        time = age - float(unit.age)
        costs = (
            prices.cost(cause, yearly.get(cause, 0.0)) * running_share(case, option, cause, time)
            for cause in CAUSES
            if cause != "upkeep"
        )
        return sum(costs, np.zeros(age.shape))

    return Upkeep(LognormalQuotes(float(unit.quote_median), float(unit.quote_spread)), penalty, running)
