"""The highest quote worth paying at every age of a kind of appliance, and what rules of thumb cost.

Each age is a case of its own, filled from the tables as `mendpoint weigh` fills it, so the two never disagree.
"""

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.special import ndtri

from ..arrays import Floats
from ..economics.flows import life_of
from ..load.cases.case_file import complete
from ..load.cases.filled import Filled
from ..load.cases.upkeep import frailty_of
from ..load.tables.tables import Tables, tables
from .answer import decided

AGES: Final = tuple(float(age) for age in range(31))  # Ages of the table. [year]
HALF_THE_PRICE: Final = 0.5  # The share of the two rules that go by it. Common practice, no source.
SHARES: Final = (np.arange(200) + 0.5) / 200  # Shares of bills below each that is looked at. [-]

CEILINGS: Final = np.geomspace(0.02, 5.0, 120)
"""Ceilings of age times quote that are tried, as shares of price times mean life."""


@dataclass(frozen=True)
class RuleCost:
    """A rule of thumb, and what it costs a household on average at a failure."""

    rule: str  # `half`, `half_until` or `age_times_quote`.
    figure: float  # The age at which it ends [year], or its ceiling [money year]; NaN: it has none.
    costs: float  # At a failure, beyond going by the limit. [money]


@dataclass(frozen=True)
class Limits:
    """Repair limits of a kind of appliance by age. Arrays have shape (ages)."""

    kind: str
    place: str
    currency: str
    price: float  # Of a new unit, before tax and delivery, unless they are in it. [money]
    cost_of_new: float  # What it costs with tax, delivery and the rest. [money]
    installed: bool  # Whether it was given with tax, delivery and installation in it.
    ages: Floats
    limit: Floats  # Highest quote worth paying. [money]
    low: Floats  # In one of twenty draws the limit is below. [money]
    high: Floats  # In one of twenty it is above. [money]
    clear_repair: Floats  # Quotes up to it are clearly worth paying. [money]
    clear_other: Floats  # Quotes from it on are clearly not. [money]
    published: Floats  # Share of units still in the household as published. [-]
    rules: tuple[RuleCost, ...]


def limits_of(kind: str, place: str = "US", price: float | None = None, reference: Tables | None = None) -> Limits:
    """Work out the table of one kind of appliance; it takes about a second.

    Raises `CaseError`: an unknown class or place, or a price out of bounds.

    `kind` is the id of a class, `place` the code of a region, state or country; `price` that of a new unit [money].
    """
    known = {"household": {"place": place}, "replace": [{} if price is None else {"price": price}]}
    filled = [complete({"appliance": {"class": kind, "age": age}, **known}, reference) for age in AGES]
    found = [decided(each, reference) for each in filled]
    ends, zones, case = [each.limit_range for each in found], [each.zones for each in found], filled[0].case
    bought = next(option for option in case.options if option.appliance is not None)
    return Limits(
        kind=kind,
        place=place,
        currency=case.household.currency,
        price=float(bought.asked_price),
        cost_of_new=found[0].cost_of_new,
        installed=bought.sold_installed or bought.price_includes_installation,
        ages=np.array(AGES),
        limit=np.array([each.repair_limit for each in found]),
        low=np.array([low for low, _ in ends]),
        high=np.array([high for _, high in ends]),
        clear_repair=np.array([each.clear_repair for each in zones]),
        clear_other=np.array([each.clear_other for each in zones]),
        published=life_of(case.appliance_of(bought)).survival(np.array(AGES)),
        rules=_rules(filled[0], np.array([each.repair_limit for each in found]), reference or tables()),
    )


def _rules(filled: Filled, limit: Floats, reference: Tables) -> tuple[RuleCost, ...]:
    """What each rule costs beside the limits: the difference of quote and limit wherever the two disagree.

    Over the failures of a class by age, among units still in the household, and the law of its bills.
    """
    case, ages = filled.case, np.array(AGES)
    bought = next(option for option in case.options if option.appliance is not None)
    new = case.appliance_of(bought)
    life, price = life_of(new), float(bought.asked_price)
    failing = frailty_of(reference, reference.kind(new.kind), case.household.region).usual_failure_rate(life, ages)
    often = (failing * life.survival(ages))[:, np.newaxis]
    quotes = float(new.later_repair_median) * np.exp(float(new.later_repair_log_sd) * ndtri(SHARES))
    wrong = np.abs(quotes - limit[:, np.newaxis])

    def costs(rule: Floats) -> float:
        disagree = (quotes <= rule) != (quotes <= limit[:, np.newaxis])
        return float(np.sum(often * wrong * disagree) / np.sum(often)) / SHARES.size

    half, until = np.full((ages.size, 1), HALF_THE_PRICE * price), round(float(new.mean_life)) / 2
    ceilings = CEILINGS * price * float(new.mean_life)
    with np.errstate(divide="ignore"):
        by_product = [ceiling / ages[:, np.newaxis] for ceiling in ceilings]
    best = min(range(len(ceilings)), key=lambda at: costs(by_product[at]))
    return (
        RuleCost("half", math.nan, costs(half)),
        RuleCost("half_until", until, costs(np.where(ages[:, np.newaxis] < until, half, 0.0))),
        RuleCost("age_times_quote", float(ceilings[best]), costs(by_product[best])),
    )
