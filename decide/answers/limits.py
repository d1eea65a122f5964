"""The highest quote worth paying at every age of a kind of appliance, and what rules of thumb cost.

Each age is a case of its own, filled from the tables as `mendpoint weigh` fills it, so the two never disagree.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from ..arrays import Floats, Number
from ..economics.case import Case, Option
from ..economics.flows import life_of
from ..economics.policy import MaintenanceAndRepair, OfAge, Policy, age_times_quote, constant_limit, fixed_policy
from ..economics.policy_calibration import Calibration, calibrated, maintenance_and_repair_of, penalty_of, price_of
from ..errors import NoSolution
from ..load.cases.case_file import complete
from ..load.tables.tables import Tables
from .answer import decided

AGES: Final = tuple(float(age) for age in range(31))
"""Ages of the table. [year]"""

HALF_THE_PRICE: Final = 0.5
"""The share of the two rules that go by it. Common practice, no source."""

CEILINGS: Final = np.geomspace(0.02, 5.0, 120)
"""Ceilings of age times quote that are tried, as shares of price times mean life."""


@dataclass(frozen=True)
class RuleCost:
    """A rule of thumb, and what it costs a household a year beyond the best policy."""

    rule: str
    """`half`, `half_until` or `age_times_quote`."""
    figure: float
    """The age at which it ends [year], or its ceiling [money year]; NaN: it has none."""
    costs: float
    """[money/year]"""
    mean_life: float
    """How long a household that follows it keeps a unit. [year]"""


@dataclass(frozen=True)
class Limits:
    """Repair limits of a kind of appliance by age. Arrays have shape (ages)."""

    kind: str
    place: str
    currency: str
    price: float
    """Of a new unit, before tax and delivery, unless they are in it. [money]"""
    installed: bool
    """Whether it was given with tax, delivery and installation in it."""
    ages: Floats
    limit: Floats
    """Highest quote worth paying. [money]"""
    low: Floats
    """In one of twenty draws the limit is below. [money]"""
    high: Floats
    """In one of twenty it is above. [money]"""
    clear_repair: Floats
    """Quotes up to it are clearly worth paying. [money]"""
    clear_other: Floats
    """Quotes from it on are clearly not. [money]"""
    published: Floats
    """Share of units still in the household as published. [-]"""
    rules: tuple[RuleCost, ...]
    """Empty where failures alone do not explain published lives, so that rules cannot be compared."""


def limits_of(kind: str, place: str = "US", price: float | None = None, reference: Tables | None = None) -> Limits:
    """Work out the table of one kind of appliance; it takes about a second.

    Parameters
    ----------
    kind : id of a class [-]
    place : code of a region, state or country [-]
    price : price of a new unit; the tables' unless given [money]
    reference : tables with a shop's own figures; the shipped ones if none are given [-]

    Raises
    ------
    CaseError
        An unknown class or place, or a price out of bounds.
    """
    filled = [complete(_entries(kind, place, price, age), reference) for age in AGES]
    found = [decided(each, reference) for each in filled]
    ends, zones, case = [each.limit_range for each in found], [each.zones for each in found], filled[0].case
    bought = next(option for option in case.options if option.appliance is not None)
    return Limits(
        kind=kind,
        place=place,
        currency=case.household.currency,
        price=float(bought.asked_price),
        installed=bought.sold_installed or bought.price_includes_installation,
        ages=np.array(AGES),
        limit=np.array([each.repair_limit for each in found]),
        low=np.array([low for low, _ in ends]),
        high=np.array([high for _, high in ends]),
        clear_repair=np.array([each.clear_repair for each in zones]),
        clear_other=np.array([each.clear_other for each in zones]),
        published=life_of(case.appliance_of(bought)).survival(np.array(AGES)),
        rules=_rules(case, bought),
    )


def _entries(kind: str, place: str, price: float | None, age: float) -> Mapping[str, Any]:
    new: dict[str, Any] = {} if price is None else {"price": price}
    return {"appliance": {"class": kind, "age": age}, "household": {"place": place}, "replace": [new]}


def _rules(case: Case, bought: Option) -> tuple[RuleCost, ...]:
    """What each rule costs beside the best policy, all under the same failures, quotes and prices."""
    try:
        calibration = calibrated(case.household, bought, penalty_of(case))
    except NoSolution:
        return ()
    price, mean = float(bought.asked_price), float(calibration.policy.mean_life)
    until = round(2 * mean) / 4  # half the mean life, on an age of the policy's grid
    ruled = _Ruled(
        calibration, maintenance_and_repair_of(case.household, bought, penalty_of(case)), price_of(case, bought), case
    )
    ceilings = CEILINGS * price * mean
    tried = ruled.policy(age_times_quote(ceilings), np.full(ceilings.shape, ruled.price))
    best = int(np.argmin(tried.cost_rate))
    return (
        ruled.cost("half", math.nan, constant_limit(HALF_THE_PRICE * price)),
        ruled.cost("half_until", until, constant_limit(HALF_THE_PRICE * price, until)),
        ruled.cost("age_times_quote", float(ceilings[best]), age_times_quote(float(ceilings[best]))),
    )


@dataclass(frozen=True)
class _Ruled:
    """Failures, quotes and prices under which rules are compared."""

    calibration: Calibration
    repairs: MaintenanceAndRepair
    price: float
    case: Case

    def policy(self, rule: OfAge, price: Number) -> Policy:
        failures, ages = self.calibration.failures, self.calibration.policy.ages
        return fixed_policy(failures, self.repairs, price, self.case.household.rate, rule, ages=ages)

    def cost(self, name: str, figure: float, rule: OfAge) -> RuleCost:
        followed, best = self.policy(rule, self.price), self.calibration.policy
        return RuleCost(name, figure, float(followed.cost_rate - best.cost_rate), float(followed.mean_life))
