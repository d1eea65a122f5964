"""Which failures explain a published life, when households repair up to the best limit.

Published lives tell when units left the household. That is not when they failed: most failures are repaired. Here the
failure law is found under which the best policy retires units as published: the mean agrees, and the curve as nearly as
it can. The implied curve is shown beside the published one, so that nobody need take the fit on trust.
"""

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Final

import numpy as np
from policy import AGES, MaintenanceAndRepair, Policy, best_policy
from policy_quotes import LognormalQuotes
from scipy.optimize import elementwise

from decide.arrays import Floats, Number
from decide.economics.case import REPAIR, Case, Option
from decide.economics.flows import COST_CATEGORIES, flows_of, life_of, money, running_share
from decide.economics.household import Household
from decide.errors import NoSolution
from decide.finance.life import Life, Weibull

REMEMBERED: Final = 64
"""Calibrations that are kept: what was asked of one class, place and price is often asked again."""

SHAPES = np.geomspace(0.7, 10.0, 12)  # of the failure laws that are tried first
SHORTEST, LONGEST = -6.0, 4.0  # logarithm of the scale of the failure law in mean lives, between which it is sought
NONE_AT_ALL = 1.0  # misfit of a shape that cannot give the mean: the greatest that two curves can have


@dataclass(frozen=True)
class Calibration:
    """The failures that explain a published life, and the policy that goes with them."""

    failures: Weibull
    """Law of the first failure."""
    policy: Policy
    """Its `kept` is the survival implied, its `mean_life` the mean; both from the age at which units are bought."""
    published: Floats
    """Survival as published at the policy's ages, of a unit bought at the first of them, shape (..., K). [-]"""
    misfit: Floats
    """Greatest difference between the two, shape (...). [-]"""


@dataclass(frozen=True)
class _Search:
    published: Life
    repairs: MaintenanceAndRepair
    price: Number
    rate: Number
    ages: Floats

    @property
    def mean(self) -> Floats:
        """Published years in the household of a unit bought at the first age."""
        return self.published.mean_residual_life(float(self.ages[0]))

    def implied(self, shape: Number, scale: Number) -> Calibration:
        failures = Weibull(shape=shape, scale=scale)
        policy = best_policy(failures, self.repairs, self.price, self.rate, self.ages)
        ages = self.ages if policy.kept.ndim == 1 else self.ages[np.newaxis]
        survival = self.published.survival(ages) / self.published.survival(ages[..., :1])
        survival = np.broadcast_to(survival, policy.kept.shape)
        return Calibration(failures, policy, survival, np.abs(policy.kept - survival).max(axis=-1))

    def cases(self, shape: Number) -> tuple[int, ...]:
        return self.implied(shape, self.mean).misfit.shape

    def scale(self, shape: Number) -> Floats:
        """Scale of the failures that gives the published mean; NaN where none does."""
        cases = self.cases(shape)
        start = np.log(np.broadcast_to(self.mean, cases)).ravel()
        trial = start.copy()

        def excess(log_scale: Floats, case: Floats) -> Floats:
            at = case.astype(int)
            trial[at] = log_scale
            life = self.implied(shape, np.exp(trial).reshape(cases)).policy.mean_life
            return np.log(life).ravel()[at] - start[at]

        bracket = start + SHORTEST, start + LONGEST
        root = elementwise.find_root(excess, bracket, args=(np.arange(start.size),))
        return np.where(root.success, np.exp(root.x), np.nan).reshape(cases)

    def misfit(self, shape: Floats) -> Floats:
        scale = self.scale(shape)
        found = np.isfinite(scale)
        return np.where(found, self.implied(shape, np.where(found, scale, 1.0)).misfit, NONE_AT_ALL)


def calibrate_scale(
    published: Life, shape: Number, repairs: MaintenanceAndRepair, price: Number, rate: Number, ages: Floats = AGES
) -> Calibration:
    """Failures of a given shape under which households that decide for the best keep units for the published mean life.

    Parameters
    ----------
    published : life in the household, shape (...) [-]
    shape : shape of the failure law: 1: age does not matter, above: units wear out, shape (...) [-]
    repairs, price, rate, ages : as in `best_policy`

    Returns
    -------
    calibration : failures, policy and misfit, shape (...) [-]

    Raises
    ------
    NoSolution
        No scale gives the published mean: running costs alone end the unit earlier, or repairs are so cheap beside the
        price that units which fail no more often with age are kept longer than published.

    Examples
    --------
    >>> from policy_quotes import LognormalQuotes
    >>> fit = calibrate_scale(Weibull.with_mean(14.0, 2.0), 2.0, MaintenanceAndRepair(LognormalQuotes(250.0, 0.6)),
    ...     900.0, 0.03)
    >>> round(float(fit.failures.scale), 2), round(float(fit.policy.mean_life), 6), round(float(fit.misfit), 3)
    (8.5, 14.0, 0.144)
    """
    search = _Search(published, repairs, price, rate, ages)
    scale = search.scale(shape)
    if np.isnan(scale).any():
        mean = np.broadcast_to(search.mean, scale.shape)[np.isnan(scale)][0]
        raise NoSolution("failures: none lead to the published mean life of {mean:.4g} years", mean)
    return search.implied(shape, scale)


def calibrate(
    published: Life, repairs: MaintenanceAndRepair, price: Number, rate: Number, ages: Floats = AGES
) -> Calibration:
    """Failures under which households that decide for the best keep units as published, as nearly as can be.

    The mean life agrees; the shape of the failure law is the one of least misfit. Else as `calibrate_scale`.

    Raises
    ------
    NoSolution
        No failures lead to the published mean life.

    Examples
    --------
    >>> from policy_quotes import LognormalQuotes
    >>> fit = calibrate(Weibull.with_mean(14.0, 2.0), MaintenanceAndRepair(LognormalQuotes(250.0, 0.6)), 900.0, 0.03)
    >>> round(float(fit.failures.shape), 1), round(float(fit.misfit), 3)
    (1.2, 0.007)
    """
    search = _Search(published, repairs, price, rate, ages)
    cases = search.cases(2.0)
    tried = np.stack([np.ravel(search.misfit(np.full(cases, shape))) for shape in SHAPES])
    nearest = np.argmin(tried, axis=0)
    trial = SHAPES[nearest]

    def misfit(log_shape: Floats, case: Floats) -> Floats:
        at = case.astype(int)
        trial[at] = np.exp(log_shape)
        return np.ravel(search.misfit(trial.reshape(cases)))[at]

    middle = np.clip(nearest, 1, SHAPES.size - 2)
    around = tuple(np.log(SHAPES[middle + side]) for side in (-1, 0, 1))
    least = elementwise.find_minimum(misfit, around, args=(np.arange(nearest.size),), tolerances={"xatol": 1e-4})
    better = least.success & (least.f_x < tried.min(axis=0))
    shape = np.where(better, np.exp(least.x), SHAPES[nearest])
    return calibrate_scale(published, shape.reshape(cases), repairs, price, rate, ages)


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
