"""For how long: the present cost of any option of a case, over a need without end or over a study period.

**As long as the need lasts.** A unit is followed by its like for ever; the unit that stands there is followed by the
replacement that is cheapest to be about to buy. Closed forms on the unit's tenure (`flows`).

**Study period of N years.** The same flows cut at N, purchases by the renewal equation, what is left credited pro rata
(`cash`). This is the life-cycle cost method of ASTM E917 and NIST Handbook 135: all options over the same period.

Both also find the best year for a planned replacement after a repair. With no end in sight its present cost C(n) has
the slope C'(n) = S(n) sum_c exp(-d_c n) (y_c(n) - d_c V_c): S the chance that the unit still stands, y_c its running
flows, d_c V_c the level yearly cost of the successor. The unit is worth keeping while it runs at less than that.
"""

import math
from collections.abc import Iterator
from dataclasses import replace
from functools import cached_property
from typing import Final, Protocol

import numpy as np

from .arrays import Floats, Number
from .case import REPAIR, REPLACE, Case, Option
from .cash import cash
from .flows import (
    CAUSES,
    Course,
    PriceList,
    column,
    course_of,
    forever,
    life_on_grid,
    present_cost,
    running_share,
    scalar,
)

PLANNED_YEARS: Final = np.arange(1, 16)
"""Years from today for which a planned replacement is tried. [year]"""

STEPS_A_YEAR: Final = 4
"""Grid on which the slope of a planned replacement is summed up."""


class Horizon(Protocol):
    """Present costs of one case on one price list."""

    @property
    def successor(self) -> Number:
        """Index of the option that is bought when the appliance there ends."""

    def course(self, option: Option) -> Course:
        """What an option sets going, over this horizon's own unit of it."""

    def cost(self, option: Option) -> dict[str, Number]:
        """Present cost of an option by cause."""

    def best_plan(self, option: Option) -> Number:
        """Best year for a planned replacement of the option's unit; NaN where the horizon has no room for one."""


def horizon_of(case: Case, prices: PriceList) -> Horizon:
    """The horizon that the household's study period asks for."""
    return StudyPeriod(case, prices) if math.isfinite(case.household.study_period) else EndlessNeed(case, prices)


class _Courses:
    """The courses of one case's options on one price list, each run once."""

    def __init__(self, case: Case, prices: PriceList) -> None:
        self._case, self._prices = case, prices
        self._replacements = {i: o for i, o in enumerate(case.options) if o.action == REPLACE}
        self._run: dict[int, tuple[Option, Course]] = {}

    def course(self, option: Option) -> Course:
        """What an option sets going; run once for each option object."""
        if id(option) not in self._run:
            self._run[id(option)] = option, course_of(self._case, option, self._prices)
        return self._run[id(option)][1]

    def _is_replacement(self, option: Option) -> bool:
        return any(option is candidate for candidate in self._replacements.values())


class EndlessNeed(_Courses):
    """As long as the need lasts."""

    @cached_property
    def _forever(self) -> dict[int, dict[str, Number]]:
        return {index: forever(self.course(option)) for index, option in self._replacements.items()}

    def _cheapest_after(self, course: Course) -> Number:
        """Index of the replacement that costs least to be about to buy when a unit ends, whenever that is."""
        return _cheapest(
            {
                index: {cause: course.end[cause] * costs[cause] for cause in CAUSES}
                for index, costs in self._forever.items()
            }
        )

    @cached_property
    def successor(self) -> Number:
        """Index of the option that is bought when the appliance there ends."""
        repair = next(option for option in self._case.options if option.action == REPAIR)
        return self._cheapest_after(self.course(repair))

    def cost(self, option: Option) -> dict[str, Number]:
        """Present cost of an option by cause: a replacement is followed by its like, the rest by the cheapest."""
        course = self.course(option)
        if self._is_replacement(option):
            return present_cost(course, forever(course))
        return present_cost(course, _picked(self._forever, self._cheapest_after(course)))

    def best_plan(self, option: Option) -> Number:
        """Best year, of those tried, for a planned replacement of the option's unit."""
        unit, yearly = self._case.unit_of(option), self.course(option).yearly
        followed = _picked(self._forever, self._cheapest_after(self.course(option)))
        time = np.arange(PLANNED_YEARS[-1] * STEPS_A_YEAR + 1) / STEPS_A_YEAR
        slope: Floats = np.zeros(time.shape)
        for growth, causes in self._by_growth():
            force = np.log1p(self._case.household.rate) - np.log1p(growth)
            level = -force * sum(followed[cause] for cause in causes)
            flows = [column(yearly[cause]) * running_share(self._case, option, cause, time) for cause in causes]
            slope = slope + np.exp(-column(force) * time) * sum(flows, column(level))
        later = time / column(option.outlook)
        slope = slope * life_on_grid(unit).survival_given(column(unit.age), later)
        steps = (slope[..., 1:] + slope[..., :-1]) / (2 * STEPS_A_YEAR)
        planned = np.cumsum(steps, axis=-1)[..., STEPS_A_YEAR - 1 :: STEPS_A_YEAR]
        return scalar(PLANNED_YEARS[np.argmin(planned, axis=-1)].astype(float))

    def _by_growth(self) -> Iterator[tuple[Number, list[str]]]:
        """Causes whose prices grow alike, so that each growth is discounted once."""
        groups: dict[int | float, tuple[Number, list[str]]] = {}
        for cause in CAUSES:
            growth = self._prices.growth[cause]
            key = id(growth) if isinstance(growth, np.ndarray) else growth
            groups.setdefault(key, (growth, []))[1].append(cause)
        yield from groups.values()


class StudyPeriod(_Courses):
    """A study period of N years with a residual value."""

    @cached_property
    def successor(self) -> Number:
        """Index of the option that is bought when the appliance there ends."""
        return _cheapest({i: self._present(o, o) for i, o in self._replacements.items()})

    def _present(self, option: Option, successor: Option) -> dict[str, Number]:
        household = self._case.household
        return cash(
            self._case, option, successor, self._prices, household.study_period, household.residual_share
        ).present

    def cost(self, option: Option) -> dict[str, Number]:
        """Present cost of an option by cause: a replacement is followed by its like, the rest by the successor."""
        if self._is_replacement(option):
            return self._present(option, option)
        used = {int(i): self._present(option, self._replacements[int(i)]) for i in np.unique(self.successor)}
        return _picked(used, self.successor)

    def best_plan(self, option: Option) -> Number:
        """Best year, of those tried within the study period, for a planned replacement of the option's unit."""
        within = [float(year) for year in PLANNED_YEARS if year < self._case.household.study_period]
        if not within:
            return math.nan
        totals = [sum(self.cost(replace(option, hold=year)).values()) for year in within]
        return scalar(np.asarray(within)[np.argmin(np.stack(np.broadcast_arrays(*totals)), axis=0)])


def _cheapest(costs: dict[int, dict[str, Number]]) -> Number:
    """Index of the least total; one for each row of a column."""
    totals = np.stack(np.broadcast_arrays(*(sum(cost.values()) for cost in costs.values())))
    chosen = np.asarray(list(costs))[np.argmin(totals, axis=0)]
    return int(chosen) if chosen.ndim == 0 else chosen


def _picked(costs: dict[int, dict[str, Number]], index: Number) -> dict[str, Number]:
    """The costs of the option at `index`, row by row where it is a column."""
    if np.ndim(index) == 0:
        return costs[int(index)]
    candidates = list(costs)
    return {
        cause: np.select([index == i for i in candidates], [np.asarray(costs[i][cause]) for i in candidates])
        for cause in CAUSES
    }
