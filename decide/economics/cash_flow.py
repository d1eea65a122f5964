"""Expected cash on the calendar: what an option and everything bought after it cost, when and for what.

Time is cut into equal cells. The option's own unit stands with its conditional survival; each end, by failure or by
plan, is a purchase of the successor, whose ends are purchases again. With D the ends of the first unit and k the ends
of a new one by age, purchases follow the renewal equation B = D + k * B, solved as B = R * D with the renewal series
R = 1 + k + k*k + ... (the number of purchases in a household's lifetime is small). Ends of a cell are shared between
its two edges and flows are taken at its middle, so that everything is second order in the cell.

**Forwards** (`cash`): purchases, then all that they cost, year by year.

**Backwards** (`Study`): with g(t) the worth of one purchase at t and of that unit's own run, one end at t leads to
V(t) = g(t) + k(1) V(t + 1) + k(2) V(t + 2) + ..., and an option costs what is paid today, its own run and the sum of
D V. That is the same sum in another order; V is one for all options and plans, and does not know their prices.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np

from ..arrays import Floats, Number, Truths, sum_over_time, unwrap, with_time_axis
from .case import REPLACE, WITHOUT, Case, Option
from .flows import (
    COST_CATEGORIES,
    Flows,
    PriceList,
    life_of,
    priced,
    resale,
    running_probability,
    running_share,
    worth_a_year,
)

CELLS_A_YEAR: Final = 12
"""Monthly cells keep present costs within 0.01 % of a grid a hundred times finer, for lives of four years or more."""

CHANGES: Final = {"electricity": "drift", "gas": "drift", "maintenance_and_repair": "maintenance_and_repair"}
"""By what a yearly flow changes while a unit lives; all others are level."""

ALL, LAST = slice(None), slice(-1, None)


@dataclass(frozen=True)
class Cash:
    """Expected cash of one option by category: today and in each year, undiscounted and in today's money.

    `by_year[category]` has shape (..., years + 1); entry 0 is today, entry y the year that ends y years from now. The
    last entry has the residual value taken off (as a negative purchase). `present[category]` is the present cost, each
    flow discounted from the moment at which it falls.
    """

    by_year: dict[str, Floats]
    present: dict[str, Number]

    @property
    def total_by_year(self) -> Floats:
        """All categories together; shape (..., years + 1). [money]"""
        return sum(self.by_year.values(), np.zeros(1))


def cash(
    case: Case,
    option: Option,
    successor: Option,
    prices: PriceList,
    years: float,
    with_what_is_left: bool,
    cells_a_year: int = CELLS_A_YEAR,
) -> Cash:
    """Expected cash of an option over so many years, its unit followed by `successor` and then by its like.

    On a planned day nobody waits for the new unit, so what waiting costs is not paid then. What is left at the last
    year is credited, if asked for, as `_worth_left` says.
    """
    grid = _Grid(years, cells_a_year)
    own, new = _ApplianceOnGrid(case, option, grid), _ApplianceOnGrid(case, successor, grid)
    first, later = priced(case, option, prices), priced(case, successor, prices)
    run = own.until(option.planned_replacement_years)
    bought = new.renewed.purchases(run.ends)
    by_year, present, spent = {}, {}, 0.0
    for category in COST_CATEGORIES:
        growth = np.log1p(with_time_axis(prices.growth[category]))
        force = with_time_axis(case.household.discount_force) - growth
        running, followed = (
            with_time_axis(each.yearly[category]) * appliance.at_middle * appliance.changing(category)
            for each, appliance in ((first, own), (later, new))
        )
        cells = (running * run.within + _convolved(bought[..., :-1], followed)) * grid.cell
        outlay = with_time_axis(later.again[category]) * (bought - run.planned if category == "other" else bought)
        by_year[category] = grid.by_year(
            first.once[category], cells * np.exp(growth * grid.middle), outlay * np.exp(growth * grid.edge)
        )
        present[category] = unwrap(
            first.once[category]
            + np.sum(cells * np.exp(-force * grid.middle), axis=-1)
            + np.sum(outlay * np.exp(-force * grid.edge), axis=-1)
        )
        spent = spent + np.sum(running * run.within * np.exp(-force * grid.middle), axis=-1) * grid.cell
    if with_what_is_left:
        growth = np.log1p(prices.growth["purchase"])
        worth = np.exp((growth - case.household.discount_force) * years)
        later_years = np.sum(bought * new.years_left()[..., ::-1], axis=-1)
        most = (first.once["purchase"] if option.action == REPLACE else spent) / worth
        left, _ = _worth_left(own, new, (run.stays * own.years_left(LAST))[..., 0], later_years, most)
        paid = by_year["purchase"]
        last = np.arange(paid.shape[-1]) == paid.shape[-1] - 1
        by_year["purchase"] = paid - with_time_axis(left * np.exp(growth * years)) * last
        present["purchase"] = unwrap(np.asarray(present["purchase"] - left * worth))
    return Cash(by_year, present)


def _worth_left(
    own: "_ApplianceOnGrid", new: "_ApplianceOnGrid", own_years: Number, later_years: Number, most: Number
) -> tuple[Number, Number]:
    """What is left at the last year of the unit itself and of those bought after it, at prices of today. [money]

    Each is expected to leave so many years of service over. Pro rata (`residual_share`) a year left counts as one of a
    unit just bought. What is sold (`resale_share`) brings that share of it, the unit itself no more than `most`: what
    was paid for it or, of the unit there, what running it costs over the years. Neither holds the quote, so the limit
    stays linear in it. The second figure is the share of its own resale that `most` leaves.
    """
    home = own.case.household
    left = home.residual_share * new.worth_a_year * (own_years + later_years)
    if not np.any(home.resale_share):
        return left, 1.0
    sold = home.resale_share * resale(own.case, own.option) * own_years
    sold, most = np.broadcast_arrays(sold, most)
    kept = np.minimum(1.0, np.divide(np.maximum(most, 0.0), sold, out=np.ones(sold.shape), where=sold > 0))
    return left + sold * kept + home.resale_share * new.worth_a_year * later_years, kept


class Study:
    """Present costs over a study period: those of `cash`, from sums that all options and plans of a case share."""

    def __init__(self, case: Case, prices: PriceList, years: float) -> None:
        self._case, self._prices = case, prices
        self._grid = _Grid(years, CELLS_A_YEAR)
        self._discounts: dict[int | float, _Discount] = {}
        self._served: dict[int, tuple[Option, _Served]] = {}

    def cost(self, option: Option, successor: Option, hold: Number) -> dict[str, Number]:
        """Present cost by category of an option whose unit is replaced by `successor` after `hold` years at the
        latest."""
        own, new = self._served_by(option), self._served_by(successor)
        run, first, later = own.appliance.until(hold), own.flows, new.flows
        costs, running = dict(first.once), _running(own, run)
        for category in COST_CATEGORIES:
            if category in running:
                costs[category] = costs[category] + running[category]
            for amounts, from_an_end in ((later.yearly, new.running_from), (later.again, new.bought_from)):
                if np.any(amounts[category]):
                    worth = sum_over_time(run.ends, from_an_end(category))
                    costs[category] = costs[category] + amounts[category] * worth
        if np.any(run.planned):
            spared = sum_over_time(run.planned, self.discount("other").edge)
            costs["other"] = costs["other"] - later.again["other"] * spared
        home = self._case.household
        if np.any(home.residual_share) or np.any(home.resale_share):
            costs["purchase"] = costs["purchase"] - self._left(own, new, run)[0] * self.discount("purchase").end
        return costs

    def resale_kept(self, option: Option, successor: Option) -> Number:
        """Share of what its own unit is worth when it is sold that is no more than what it cost. [-]"""
        own = self._served_by(option)
        return self._left(own, self._served_by(successor), own.appliance.until(option.planned_replacement_years))[1]

    def _left(self, own: "_Served", new: "_Served", run: "_PlannedRun") -> tuple[Number, Number]:
        bought = own.appliance.option.action == REPLACE
        most = own.flows.once["purchase"] if bought else sum(_running(own, run).values(), 0.0)
        own_years, later_years = (run.stays * own.left_at_end)[..., 0], sum_over_time(run.ends, new.left_from)
        return _worth_left(own.appliance, new.appliance, own_years, later_years, most / self.discount("purchase").end)

    def discount(self, category: str) -> "_Discount":
        """Worth today of what grows as the price of a category."""
        growth = self._prices.growth[category]
        key = id(growth) if isinstance(growth, np.ndarray) else growth
        if key not in self._discounts:
            force = with_time_axis(self._case.household.discount_force) - np.log1p(with_time_axis(growth))
            self._discounts[key] = _Discount(force, self._grid)
        return self._discounts[key]

    def _served_by(self, option: Option) -> "_Served":
        if id(option) not in self._served:
            flows = priced(self._case, option, self._prices)
            self._served[id(option)] = option, _Served(self, _ApplianceOnGrid(self._case, option, self._grid), flows)
        return self._served[id(option)][1]


def _running(own: "_Served", run: "_PlannedRun") -> dict[str, Number]:
    """Worth today of what it costs to run a unit, by the categories that it has."""
    yearly = {category: flow for category, flow in own.flows.yearly.items() if np.any(flow)}
    return {category: flow * sum_over_time(run.within, own.running(category)) for category, flow in yearly.items()}


class _Discount:
    """Worth today of 1 at each edge, of a yearly 1 over each cell, and of 1 at the last edge; all (..., times)."""

    def __init__(self, force: Floats, grid: "_Grid") -> None:
        self.edge, self.cell = np.exp(-force * grid.edge), np.exp(-force * grid.middle) * grid.cell
        self.end: Number = self.edge[..., -1]


class _Served:
    """A unit's service over a study, and that of its like bought at each of its ends; each sum is made once."""

    def __init__(self, study: Study, appliance: "_ApplianceOnGrid", flows: Flows) -> None:
        self._study, self.appliance, self.flows = study, appliance, flows
        self._made: dict[tuple[str, int], Floats] = {}

    def _once(self, what: str, category: str, make: "Callable[[_Discount], Floats]") -> Floats:
        """A sum that is made once for all categories whose flows change and whose prices grow alike."""
        discount = self._study.discount(category)
        key = what, id(discount)
        if key not in self._made:
            self._made[key] = make(discount)
        return self._made[key]

    def running(self, category: str) -> Floats:
        """Worth today of 1 a year over each cell, as the category's flow changes while it stands; shape (..., n)."""
        return self._once(
            CHANGES.get(category, "level"),
            category,
            lambda discount: self.appliance.at_middle * self.appliance.changing(category) * discount.cell,
        )

    def running_from(self, category: str) -> Floats:
        """The same of such a unit bought at each edge and of all its like after it, shape (..., n + 1)."""

        def make(discount: _Discount) -> Floats:
            run = np.cumsum(self.running(category), axis=-1)[..., ::-1]  # a unit bought late runs but a few cells
            own = np.concatenate([run, np.zeros((*run.shape[:-1], 1))], axis=-1)
            return self.appliance.renewed.leading_to(discount.edge * own)

        return self._once(f"from an edge, {CHANGES.get(category, 'level')}", category, make)

    def bought_from(self, category: str) -> Floats:
        """Worth today of 1 paid for it at each edge and for all its like after it, shape (..., n + 1)."""
        return self._once("bought", category, lambda discount: self.appliance.renewed.leading_to(discount.edge))

    @cached_property
    def left_from(self) -> Floats:
        """Years of service that a unit bought at each edge, and its like, leave over at the end; shape (..., n + 1)."""
        return self.appliance.renewed.leading_to(self.appliance.years_left()[..., ::-1])

    @cached_property
    def left_at_end(self) -> Floats:
        """Years of service that the unit itself leaves over, shape (..., 1)."""
        return self.appliance.years_left(LAST)


class _Grid:
    """Equal cells of time from today: `edge` (n + 1), `middle` (n), each in years."""

    def __init__(self, years: float, cells_a_year: int) -> None:
        count = max(1, round(years * cells_a_year))
        self.edge = np.linspace(0.0, years, count + 1)
        self.middle, self.cell = (self.edge[1:] + self.edge[:-1]) / 2, years / count

    def by_year(self, today: Number, cells: Floats, edges: Floats) -> Floats:
        """Gather cells and edges into years; what falls on today's edge for sure is `today`, the rest of it year 1."""
        last = math.ceil(self.edge[-1] - 1e-9)
        shape = np.broadcast_shapes(np.shape(today), cells.shape[:-1], edges.shape[:-1])
        gathered = np.zeros((*shape, last + 1))
        gathered[..., 0] = today
        for flows, time in ((cells, self.middle), (edges, self.edge)):
            year = np.clip(np.ceil(time - 1e-9).astype(int), 1, last)
            gathered += flows @ (year[:, np.newaxis] == np.arange(last + 1)).astype(float)
        return gathered


class _ApplianceOnGrid:
    """One unit on the grid: how sure it stands, and what is left of it."""

    def __init__(self, case: Case, option: Option, grid: _Grid) -> None:
        appliance = case.appliance_of(option)
        self.case, self.option, self._grid = case, option, grid
        self._runs, self._age = with_time_axis(running_probability(option)), with_time_axis(appliance.age)
        self._life = life_of(appliance, option.remaining_life_factor, axis=True)
        self.at_edge = self._stands(grid.edge)
        """Chance that it stands at each edge, shape (..., n + 1)."""
        self.at_middle = self._stands(grid.middle)
        """Chance that it stands at the middle of each cell, shape (..., n)."""
        self.deaths = self.at_edge[..., :-1] - self.at_edge[..., 1:]
        """Chance that it fails in each cell, shape (..., n)."""

    def _stands(self, time: Floats) -> Floats:
        if self.option.action == WITHOUT:
            return np.ones(np.shape(time))  # nothing that could fail
        return self._runs * self._life.survival_given(self._age, time)

    @cached_property
    def worth_a_year(self) -> Number:
        return worth_a_year(self.case, self.option)

    @cached_property
    def renewed(self) -> "_Renewal":
        return _Renewal(self.deaths)

    def changing(self, category: str) -> Floats:
        """A yearly flow in the middle of each cell over what it is today, shape (..., n or 1)."""
        return running_share(self.case, self.option, category, self._grid.middle, self._grid.cell)

    def years_left(self, edges: slice = ALL) -> Floats:
        """Years of service expected from it beyond some edges, shape (..., edges). [year]"""
        if self.option.action == WITHOUT:
            return np.zeros(self._grid.edge[edges].shape)
        last = self.at_edge[..., -1:] * self._life.mean_residual_life(self._age + self._grid.edge[-1:])
        within = (self.at_edge[..., :-1] + 4 * self.at_middle + self.at_edge[..., 1:]) * self._grid.cell / 6
        later = np.cumsum(within[..., ::-1], axis=-1)[..., ::-1] + last
        return np.concatenate([later, last], axis=-1)[..., edges]

    def until(self, hold: Number) -> "_PlannedRun":
        """Its run if it is replaced so many years from today at the latest."""
        grid, day = self._grid, with_time_axis(hold)
        within = np.clip((day - grid.edge[:-1]) / grid.cell, 0.0, 1.0)
        planned = day < grid.edge[-1]
        deaths, by_plan = self.deaths, np.zeros(1)
        if np.any(planned):
            # np.where keeps 0 x inf out: a unit without a plan never meets its planned end
            last = np.where(planned, day, 0.0)
            standing = self._stands(last)
            held = np.where(grid.edge <= day, self.at_edge, standing)
            deaths = held[..., :-1] - held[..., 1:]
            by_plan = planned * standing * np.maximum(0.0, 1 - np.abs(grid.edge - last) / grid.cell)
        ends = np.zeros((*deaths.shape[:-1], deaths.shape[-1] + 1))
        ends[..., :-1] += deaths / 2
        ends[..., 1:] += deaths / 2
        ends[..., :1] += 1 - self._runs
        return _PlannedRun(within=within, ends=ends + by_plan, planned=by_plan, stays=~planned)


@dataclass(frozen=True, kw_only=True)
class _PlannedRun:
    """A unit's run up to its planned end, if it has one."""

    within: Floats  # Share of each cell before the planned end, shape (..., n).
    ends: Floats  # Chance that it ends at each edge, shape (..., n + 1).
    planned: Floats  # Chance that it ends there by plan, shape (..., n + 1 or 1).
    stays: Truths
    """Whether no planned end comes before the last edge, shape (..., 1)."""


class _Renewal:
    """A unit that is followed by its like at each failure, over the grid."""

    def __init__(self, deaths: Floats) -> None:
        self._half = deaths / 2  # of each cell's ends, for the edge before it and for the edge behind it
        power = self._half.copy()
        power[..., 1:] += self._half[..., :-1]
        series = power.copy()
        series[..., 0] += 1
        while np.max(power := _convolved(power, power)) > 1e-14:
            series = series + _convolved(series, power)
        self._series = series
        """Expected units that start at each edge if one does at the first, shape (..., n)."""

    def purchases(self, ends: Floats) -> Floats:
        """Expected purchases at each edge, from the ends of the unit there; shape (..., n + 1)."""
        bought = _convolved(self._series, ends[..., :-1])
        # half of the ends of the cell behind the last edge would be counted at that edge; they lie outside
        last = ends[..., -1] + np.sum(bought * self._half[..., ::-1], axis=-1)
        return np.concatenate([bought, last[..., np.newaxis]], axis=-1)

    def leading_to(self, worth: Floats) -> Floats:
        """Worth of one end at each edge and of all that follow it, where each purchase is worth so much; as `worth`."""
        last = worth[..., -1:]
        follow = _convolved(self._series, (worth[..., :-1] + last * self._half[..., ::-1])[..., ::-1])[..., ::-1]
        return np.concatenate([follow, np.broadcast_to(last, (*follow.shape[:-1], 1))], axis=-1)


def _convolved(left: Floats, right: Floats) -> Floats:
    """First n terms of the convolution along the last axis."""
    count = right.shape[-1]
    size = -(-(2 * count - 1) // 32) * 32  # room for the tail, and no large prime factor
    product: Floats = np.fft.irfft(np.fft.rfft(left, size) * np.fft.rfft(right, size), size)
    return product[..., :count]
