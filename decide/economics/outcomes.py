"""Distribution of outcomes: the chance that better figures cannot remove.

Even with every input known, one unit lasts three years and its twin fifteen.

Lives are drawn from the survival functions at the values as they stand; they give the spread of what an option really
costs. It is never mixed with how sure the figures are (`uncertainty`).
"""

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from ..arrays import Floats, Number, Truths
from ..errors import CaseError
from .breakeven import STUDY_PERIOD, require_single
from .case import REPAIR, WITHOUT, Case, Option, vary_all
from .cash_flow import Study
from .flows import (
    callback_probability,
    flows_of,
    life_of,
    money,
    resale,
    running_probability,
    running_share,
    worth_a_year,
)
from .horizon import horizon_of
from .uncertainty import SEED, Distribution

CELLS_A_YEAR: Final = 120  # Grid on which the running costs of one unit are summed up in the draws of luck.


@dataclass(frozen=True, kw_only=True)
class OutcomeDistribution:
    """What an option really costs in many households that all know everything but how long their units last."""

    name: str
    years: float  # Over how many years. [year]
    costs: Floats  # Present cost in each household, shape (households). [money]
    spread: Distribution


def outcome_distribution(
    case: Case, option: Option, years: float | None = None, households: int = 20_000, seed: int = SEED
) -> OutcomeDistribution:
    """Draw lives, and add up what an option and all that is bought after it cost each household.

    Flows, prices and successor are those of a study period of so many years. What is left at its end is credited as in
    the case; of a need without end, pro rata. The mean over households is the present cost that `cash` expects.

    Raises `CaseError`: the need has no end and no years are given; or the case has columns.

    `option` is one of the case's, or the repair with planned years; `years` the household's study period, unless given.
    """
    require_single(case)
    span = case.household.study_period if years is None else years
    if not math.isfinite(span):
        raise CaseError("years", "must be a number of years when the need has no end, got {got}", span)
    pro_rata = {"household.residual_share": 1.0, "household.resale_share": 0.0}
    ends = math.isfinite(case.household.study_period)
    studied = vary_all(case, {STUDY_PERIOD: float(span), **({} if ends else pro_rata)})
    successor = case.options[int(horizon_of(studied, money(studied.household)).successor_of(option))]
    unit = Study(studied, money(studied.household), float(span)).unit(option)
    run = unit.until(option.planned_replacement_years)
    kept = run.sold / run.sells_for if run.sells_for else 1.0
    own = _ApplianceRun(studied, option, successor, resale(studied, option))
    new = _ApplianceRun(studied, successor, successor, worth_a_year(studied, successor))
    rng = np.random.default_rng(seed)
    fate = rng.random(households)
    left = np.where(fate < running_probability(option), own.lives(rng.random(households)), 0.0)
    stop = np.minimum(left, span)
    by_plan = left >= option.planned_replacement_years
    cost = own.today(fate) + own.running(np.zeros(households), stop)
    cost -= np.where(stop >= span, own.worth_left(np.zeros(1), float(kept)), 0.0)
    while (going := np.flatnonzero(stop < span)).size:
        bought = stop[going]
        stop[going] = np.minimum(bought + new.lives(rng.random(going.size)), span)
        cost[going] += new.purchase(bought, by_plan[going]) + new.running(bought, stop[going] - bought)
        by_plan[going] = False
        still = stop[going] >= span
        cost[going[still]] -= new.worth_left(bought[still])
    return OutcomeDistribution(name=option.name, years=float(span), costs=cost, spread=Distribution.of(cost))


class _ApplianceRun:
    """One unit of an option from the moment it starts: how long it runs, and what that costs in each household."""

    def __init__(self, case: Case, option: Option, successor: Option, resale_a_year: Number) -> None:
        self._case, self._option, self._successor, self._resale_a_year = case, option, successor, resale_a_year
        self._prices, self._flows = money(case.household), flows_of(case, option)
        self._appliance = case.appliance_of(option)
        self._life, self._years = life_of(self._appliance, option.remaining_life_factor), case.household.study_period
        self._edge = np.linspace(0.0, self._years, math.ceil(self._years * CELLS_A_YEAR) + 1)
        self._sums = {}  # worth at its start of a unit's running cost up to each edge
        middle = (self._edge[1:] + self._edge[:-1]) / 2
        for category in (category for category, flow in self._flows.yearly.items() if flow):
            share = running_share(case, option, category, middle)
            yearly = self._prices.cost(category, self._flows.yearly[category]) * share
            worth = np.cumsum(yearly * self._worth(category, middle) * np.diff(self._edge))
            self._sums[category] = np.append(0.0, worth)

    def _worth(self, category: str, time: Floats) -> Floats:
        """Worth today of 1 that grows as the category does, paid at a time."""
        force = self._case.household.discount_force - np.log1p(self._prices.growth[category])
        return np.exp(-force * time)

    def lives(self, chance: Floats) -> Floats:
        """Years that each unit runs until it fails, or its planned years are over; without one, nothing fails."""
        if self._option.action == WITHOUT:
            return np.full(chance.shape, np.inf)
        left = self._life.remaining(self._appliance.age, chance)
        return np.minimum(left, self._option.planned_replacement_years)

    def today(self, fate: Floats) -> Floats:
        """What each household pays today; those whose repair has to be done again wait once more."""
        once = np.full(fate.shape, sum(self._prices.cost(c, amount) for c, amount in self._flows.once.items()))
        if self._option.action == REPAIR:
            again = (fate >= self._option.repair_success_probability) & (
                fate < self._option.repair_success_probability + callback_probability(self._option)
            )
            once += self._flows.again["other"] * (again - callback_probability(self._option))
        return once

    def purchase(self, start: Floats, by_plan: Truths) -> Floats:
        """Worth today of buying it at each start; on a planned day nobody waits for it."""
        again, waiting = self._flows.again, self._prices.cost("other", self._flows.again.get("other", 0.0))
        bought = self._prices.cost("purchase", again.get("purchase", 0.0)) * self._worth("purchase", start)
        return bought + np.where(by_plan, 0.0, waiting) * self._worth("other", start)

    def running(self, start: Floats, length: Floats) -> Floats:
        """Worth today of its running cost from each start over each length."""
        paid = (self._worth(c, start) * np.interp(length, self._edge, sums) for c, sums in self._sums.items())
        return sum(paid, np.zeros(start.shape))

    def worth_left(self, start: Floats, kept: float = 1.0) -> Floats:
        """Worth today of what is left at the end of a unit that still runs, by its remaining years."""
        if self._option.action == WITHOUT:
            return np.zeros(start.shape)
        home = self._case.household
        years_left = self._life.mean_residual_life(self._appliance.age + self._years - start)
        a_year = home.residual_share * float(worth_a_year(self._case, self._successor))
        a_year += home.resale_share * float(self._resale_a_year) * kept
        return a_year * years_left * self._worth("purchase", np.asarray(self._years))
