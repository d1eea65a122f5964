"""The highest quote worth paying at every age of a kind of appliance, by both answers to the next failure, and what
rules of thumb cost beside the better of the two.

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
from ..economics.policy_calibration import Calibration
from ..economics.repeat_decisions import maintenance_and_repair_of, penalty_of, price_of
from ..economics.weigh import weigh
from ..load.cases.case_file import complete
from ..load.tables.tables import Tables
from .answer import decided_again

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
    ends_it: Floats
    """Limit when the next failure ends the unit. [money]"""
    decided_again: Floats
    """Limit when each later failure is decided again. [money]"""
    published: Floats
    """Share of units still in the household as published. [-]"""
    implied: Floats
    """The same as the second answer has it. [-]"""
    misfit: float
    """Greatest difference between the two at any age. [-]"""
    failures_a_year: float
    rules: tuple[RuleCost, ...]
    best_cost: float
    """What the best policy costs a year, buying included. [money/year]"""


def limits_of(kind: str, place: str = "US", price: float | None = None, reference: Tables | None = None) -> Limits:
    """Work out the table of one kind of appliance; it takes a few seconds.

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
    NoSolution
        No failures explain the published life.
    """
    cases = [complete(_entries(kind, place, price, age), reference).case for age in AGES]
    weighed = [weigh(case) for case in cases]
    again = [decided_again(case, plain) for case, plain in zip(cases, weighed, strict=True)]
    case, calibration = cases[0], again[0].calibration
    bought = case.options[again[0].youngest]
    return Limits(
        kind=kind,
        place=place,
        currency=case.household.currency,
        price=float(bought.asked_price),
        installed=bought.sold_installed or bought.price_includes_installation,
        ages=np.array(AGES),
        ends_it=np.array([float(plain.repair_limit) for plain in weighed]),
        decided_again=np.array([float(weigh(each.case).repair_limit) for each in again]),
        published=life_of(case.appliance_of(bought)).survival(np.array(AGES)),
        implied=np.interp(AGES, calibration.policy.ages, calibration.policy.kept),
        misfit=float(calibration.misfit),
        failures_a_year=again[0].failures_a_year,
        rules=_rules(case, bought, calibration),
        best_cost=float(calibration.policy.cost_rate),
    )


def _entries(kind: str, place: str, price: float | None, age: float) -> Mapping[str, Any]:
    new: dict[str, Any] = {} if price is None else {"price": price}
    return {"appliance": {"class": kind, "age": age}, "household": {"place": place}, "replace": [new]}


def _rules(case: Case, bought: Option, calibration: Calibration) -> tuple[RuleCost, ...]:
    """What each rule costs beside the best policy, all under the same failures, quotes and prices."""
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
