"""For how long: the present cost of any option of a case, over a need without end or over a study period.

Whatever is done today, the unit ends one day, and what follows is what is then cheapest.

**As long as the need lasts.** Another is bought: of the new units on offer (of all, if none is new). A used one is an
offer of today; nobody can count on finding its like for ever. What follows is followed by its like for ever: closed
forms on a unit's course (`flows`).

**Study period of N years.** What follows may be a used unit too, or doing without one for the rest. The same flows cut
at N, purchases by the renewal equation. What is left then is left behind or sold, or counts pro rata in a study that
says so (`cash_flow`). This is the life-cycle cost method of ASTM E917 and NIST Handbook 135: all options over the same
period.

Both also find the best year for a planned replacement after a repair. With no end in sight its present cost C(n) has
the slope C'(n) = S(n) sum_c exp(-d_c n) (y_c(n) - d_c V_c): S the chance that the unit still stands, y_c its running
flows, d_c V_c the level yearly cost of what follows. The unit is worth keeping while it runs at less than that.
"""

import math
from functools import cached_property
from typing import Final

import numpy as np

from ..arrays import Floats, Number, unwrap, with_time_axis
from .case import REPAIR, REPLACE, WITHOUT, Case, Option
from .cash_flow import Study
from .flows import (
    COST_CATEGORIES,
    Course,
    Flows,
    PriceList,
    by_growth,
    course_of,
    followed_by,
    forever,
    life_of,
    paid_later,
    running_share,
)

PLANNED_YEARS: Final = np.arange(1, 16)  # Years from today for which a planned replacement is tried. [year]
QUARTERS: Final = 4
"""Cells a year of a study period: costs are within 0.04 % of those of a grid ninety times finer in every class."""
LEAST_CELLS: Final = 12  # However short it is.
STEPS_A_YEAR: Final = 4  # Grid on which the slope of a planned replacement is summed up.


def years_tried(case: Case) -> Floats:
    """Years from today that a planned replacement is tried for over a study period, shape (years); else none. [year]"""
    period = case.household.study_period
    return PLANNED_YEARS[(period > PLANNED_YEARS) & math.isfinite(period)].astype(float)


def horizon_of(case: Case, prices: PriceList) -> "Horizon":
    """The horizon that the household's study period asks for."""
    return _StudyPeriod(case, prices) if math.isfinite(case.household.study_period) else Horizon(case, prices)


class Horizon:
    """Present costs of one case on one price list, as long as the need lasts."""

    def __init__(self, case: Case, prices: PriceList) -> None:
        self._case, self._prices = case, prices
        offered = {i: o for i, o in enumerate(case.options) if o.action == REPLACE}
        self._lasting = {i: o for i, o in offered.items() if np.all(case.appliance_of(o).age == 0)} or offered
        self._run: dict[int, tuple[Option, Course]] = {}
        self._followed: dict[int, tuple[Option, dict[int, dict[str, Number]], Number]] = {}

    def _course(self, option: Option) -> Course:
        """What an option sets going; run once for each option object."""
        if id(option) not in self._run:
            self._run[id(option)] = option, course_of(self._case, option, self._prices)
        return self._run[id(option)][1]

    def _flows(self, option: Option) -> Flows:
        """Flows of an option, priced."""
        return self._course(option)

    def years(self, option: Option) -> Number:
        """Years of service that an option's unit is expected to give. [year]"""
        return self._course(option).years

    def today(self, option: Option) -> Number:
        """What is paid today with an option; a loan's payments are not. [money]"""
        return sum(self._flows(option).once.values()) - paid_later(self._case, option)

    @cached_property
    def _forever(self) -> dict[int, dict[str, Number]]:
        return {index: forever(self._course(option)) for index, option in self._lasting.items()}

    def _by_successor(self, option: Option) -> tuple[dict[int, dict[str, Number]], Number]:
        """Present cost of what tells the units that could come after an option's own apart, by index; and the index of
        the one that does."""
        if id(option) not in self._followed:
            costs = self._costs_by_successor(option)
            self._followed[id(option)] = option, costs, _cheapest(costs)
        return self._followed[id(option)][1:]

    def _costs_by_successor(self, option: Option) -> dict[int, dict[str, Number]]:
        after = ((index, self._course(other), self._forever[index]) for index, other in self._lasting.items())
        return {index: followed_by(self._course(option), other, costs) for index, other, costs in after}

    def successor_of(self, option: Option) -> Number:
        """Index of the option that is bought when this one's unit ends."""
        return self._by_successor(option)[1]

    def cost(self, option: Option) -> dict[str, Number]:
        """Present cost of an option by category, with all that comes after it."""
        course, then = self._course(option), _picked(*self._by_successor(option))
        return {each: course.once[each] + course.running[each] + then[each] for each in COST_CATEGORIES}

    def best_plan(self, option: Option, rows: int = 0) -> Number:
        """Best year, of those tried, for a planned replacement of the option's unit; NaN where there is no room.

        Over a study period, of a column of so many `rows` whose first are one case, a row for each of the years that
        `years_tried` names, the best year of that case.
        """
        appliance, yearly = self._case.appliance_of(option), self._flows(option).yearly
        index = self.successor_of(option)
        followed = _picked(self._forever, index)
        waiting = _picked({i: dict(self._flows(o).again) for i, o in self._lasting.items()}, index)["other"]
        time = np.arange(PLANNED_YEARS[-1] * STEPS_A_YEAR + 1) / STEPS_A_YEAR
        slope: Floats = np.zeros(time.shape)
        for growth, categories in by_growth(self._prices):
            force = self._case.household.discount_force - np.log1p(growth)
            level = -force * sum(followed[category] for category in categories)
            used = [category for category in categories if np.any(yearly[category])]
            flows = (with_time_axis(yearly[each]) * running_share(self._case, option, each, time) for each in used)
            total = sum(flows, with_time_axis(level))
            if np.any(total):
                slope = slope + np.exp(-with_time_axis(force) * time) * total
        life = life_of(appliance, option.remaining_life_factor, axis=True)
        stands = life.survival_given(with_time_axis(appliance.age), time)
        slope = slope * stands
        so_far = np.cumsum(slope, axis=-1)[..., STEPS_A_YEAR::STEPS_A_YEAR]
        at_end = slope[..., STEPS_A_YEAR::STEPS_A_YEAR]
        summed = (so_far - (slope[..., :1] + at_end) / 2) / STEPS_A_YEAR  # trapezoids from today to each year
        discount = np.exp(-with_time_axis(self._case.household.discount_force) * PLANNED_YEARS)
        planned = summed - with_time_axis(waiting) * stands[..., STEPS_A_YEAR::STEPS_A_YEAR] * discount
        return unwrap(PLANNED_YEARS[np.argmin(planned, axis=-1)].astype(float))


class _StudyPeriod(Horizon):
    """The same over a study period of N years."""

    def __init__(self, case: Case, prices: PriceList) -> None:
        super().__init__(case, prices)
        self._new = self._lasting
        self._lasting = {i: o for i, o in enumerate(case.options) if o.action in (REPLACE, WITHOUT)}
        period = case.household.study_period
        self._study = Study(case, prices, period, max(QUARTERS, LEAST_CELLS / period))

    def _unit_of(self, option: Option) -> Option:
        return self._case.repair if option.action == REPAIR else option  # whatever is planned after it

    def _flows(self, option: Option) -> Flows:
        return self._study.unit(self._unit_of(option)).flows

    def years(self, option: Option) -> Number:
        if option.action == WITHOUT:
            return 0.0
        return self._study.unit(self._unit_of(option)).until(option.planned_replacement_years).years

    def _costs(self, option: Option, hold: Number) -> dict[int, dict[str, Number]]:
        """Present cost of an option with what comes after it, for each that could; infinite for one that may not."""
        # a plan is to buy another, and a study that counts what is left pro rata counts years of new units
        costs, pro_rata = {}, np.asarray(self._case.household.residual_share) > 0
        for index, each in self._lasting.items():
            if each.action == WITHOUT and np.all(np.isfinite(hold)):
                continue
            costs[index] = self._study.cost(option, each, hold)
            barred = pro_rata | np.isfinite(hold) if each.action == WITHOUT else pro_rata
            if index not in self._new and np.any(barred):
                costs[index]["other"] = costs[index]["other"] + np.where(barred, math.inf, 0.0)
        return costs

    def _costs_by_successor(self, option: Option) -> dict[int, dict[str, Number]]:
        return self._costs(self._unit_of(option), option.planned_replacement_years)

    def cost(self, option: Option) -> dict[str, Number]:
        return _picked(*self._by_successor(option))

    def best_plan(self, option: Option, rows: int = 0) -> Number:
        tried = years_tried(self._case)
        if not tried.size:
            return math.nan
        at_once = rows or np.ndim(sum(self.cost(option).values())) == 0  # all years are tried at once, as a column
        column = np.r_[tried, np.full(max(0, rows - tried.size), tried[-1])]
        plans = (self._costs(option, years) for years in ([column] if at_once else tried))
        totals = [np.asarray(sum(_picked(costs, _cheapest(costs)).values())) for costs in plans]
        found = totals[0][: tried.size] if at_once else np.stack(np.broadcast_arrays(*totals))
        return unwrap(tried[np.argmin(found, axis=0)])


def _cheapest(costs: dict[int, dict[str, Number]]) -> Number:
    """Index of the least total; one for each row of a column, unless only one could be."""
    if len(costs) == 1:
        return next(iter(costs))
    totals = np.stack(np.broadcast_arrays(*(sum(cost.values()) for cost in costs.values())))
    chosen = np.asarray(list(costs))[np.argmin(totals, axis=0)]
    return int(chosen) if chosen.ndim == 0 else chosen


def _picked(costs: dict[int, dict[str, Number]], index: Number) -> dict[str, Number]:
    """The costs of the option at `index`, row by row where it is a column."""
    if np.ndim(index) == 0:
        return costs[int(index)]
    candidates = list(costs)
    found = costs[candidates[0]]
    for i in candidates[1:]:
        chosen = index == i
        found = {category: np.where(chosen, costs[i][category], cost) for category, cost in found.items()}
    return found
