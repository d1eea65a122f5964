"""Expected cash on the calendar: what an option and everything bought after it cost, when and for what.

Time is cut into equal cells. The option's own unit stands with its conditional survival; each end, by failure or by
plan, is a purchase of the successor, whose ends are purchases again. With D the ends of the first unit and k the ends
of a new one by age, purchases follow the renewal equation B = D + k * B, solved as B = R * D with the renewal series
R = 1 + k + k*k + ... (the number of purchases in a household's lifetime is small). Ends of a cell are shared between
its two edges by their mean time in it, and what runs counts by the mean chance that the unit stands, both by Simpson's
rule, so that cells of a quarter are fine enough.

**Forwards** (`Study.cash`): purchases, then all that they cost, year by year.

**Backwards** (`Study.cost`): with g(t) the worth of one purchase at t and of that unit's own run, one end at t leads to
V(t) = g(t) + k(1) V(t + 1) + k(2) V(t + 2) + ..., and an option costs what is paid today, its own run and the sum of
D V. That is the same sum in another order; V is one for all options and plans, and does not know their prices.
"""

import math
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np

from ..arrays import Floats, Number, some, sum_over_time, unwrap, with_time_axis
from ..finance.special import exprel
from .case import REPLACE, WITHOUT, Case, Option
from .flows import (
    COST_CATEGORIES,
    PriceList,
    life_of,
    priced,
    resale,
    running_probability,
    running_share,
    worth_a_year,
)

MONTHS: Final = 12
"""Cells a year where cash is told by year: what falls on an edge counts in the year before it, half of it too early."""

CHANGES: Final = {"electricity": "drift", "gas": "drift", "maintenance_and_repair": "maintenance_and_repair"}
"""By what a yearly flow changes while a unit lives; all others are level."""

TERM_BY_TERM: Final = 48  # Terms of a renewal series up to which a sum a term is quicker than products of spectra.
BY_PRODUCTS: Final = 144  # Cells up to which products of matrices are.


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


class Study:
    """The options of a case over the same years: their cash, and their present costs; each unit's sums are made once.

    `cost` is what `cash` has as present costs, from sums that all options and plans share.
    """

    def __init__(self, case: Case, prices: PriceList, years: float, cells_a_year: float = MONTHS) -> None:
        self.case, self.prices, self.years, self.grid = case, prices, years, _Grid(years, cells_a_year)
        home = case.household
        self.is_left = bool(some(home.residual_share) or some(home.resale_share))
        """Whether what is left at the end is worth anything."""
        self._discounts: dict[int | float, _Discount] = {}
        self._units: dict[int, _Unit] = {}
        self._cash: dict[tuple[int, int, bool], Cash] = {}

    def cash(self, option: Option, successor: Option, with_what_is_left: bool) -> Cash:
        """Cash of an option, its unit followed by `successor` and then by its like.

        On a planned day nobody waits for the new unit, so what waiting costs is not paid then. What is left at the last
        year is credited, if asked for, as `left` says.
        """
        key = id(option), id(successor), with_what_is_left  # both options are kept by their units
        if key not in self._cash:
            own, new = self.unit(option), self.unit(successor)
            run = own.until(option.planned_replacement_years)
            self._cash[key] = self._cash_of(own, new, run, with_what_is_left and self.is_left)
        return self._cash[key]

    def _cash_of(self, own: "_Unit", new: "_Unit", run: "_Run", with_what_is_left: bool) -> Cash:
        bought, once = new.renewed.purchases(run.ends), own.flows.once
        by_year, present = {}, {}
        for category in COST_CATEGORIES:
            growth, discount = np.log1p(with_time_axis(self.prices.growth[category])), self.discount(category)
            running, outlay = np.zeros(self.grid.middle.shape), np.zeros(self.grid.edge.shape)
            if category in own.yearly:
                running = with_time_axis(own.yearly[category]) * own.running(category) * run.within
            if category in new.yearly:
                followed = _convolved(bought[..., :-1], new.running(category))
                running = running + with_time_axis(new.yearly[category]) * followed
            if category in new.again:
                times = bought - run.planned if category == "other" else bought
                outlay = with_time_axis(new.again[category]) * times
            by_year[category] = self.grid.by_year(once[category], running, outlay, growth)
            spent = sum_over_time(running, discount.cell) + sum_over_time(outlay, discount.edge)
            present[category] = once[category] + spent
        if with_what_is_left:
            left = self.left(new, run, sum_over_time(bought, new.years_left[..., ::-1]))
            growth, last = np.log1p(self.prices.growth["purchase"]), np.arange(by_year["purchase"].shape[-1])
            worth = with_time_axis(left * np.exp(growth * self.years))
            by_year["purchase"] = by_year["purchase"] - worth * (last == last[-1])
            present["purchase"] = present["purchase"] - left * self.discount("purchase").end
        return Cash(by_year, present)

    def cost(self, option: Option, successor: Option, hold: Number) -> dict[str, Number]:
        """Present cost by category of an option whose unit is replaced by `successor` after `hold` years at the
        latest."""
        own, new = self.unit(option), self.unit(successor)
        run = own.until(hold)
        costs, later = dict(run.costs), self._later(new, run)
        for (category, amount), worth in zip(new.amounts, later, strict=False):
            costs[category] = costs[category] + amount * worth
        if some(run.spared):
            costs["other"] = costs["other"] - new.flows.again["other"] * run.spared
        if self.is_left:
            costs["purchase"] = costs["purchase"] - self.left(new, run, later[-1]) * self.discount("purchase").end
        return costs

    def _later(self, new: "_Unit", run: "_Run") -> list[Number]:
        """Worth today of 1 of each of the amounts of what is bought when a run ends; last, years of service left."""
        if not np.any(run.ends):
            return [0.0] * (len(new.amounts) + 1)
        return [unwrap(worth) for worth in np.einsum("...t,m...t->m...", run.ends, new.from_an_end)]

    def left(self, new: "_Unit", run: "_Run", later_years: Number) -> Number:
        """What is left at the last year of a run's unit and of those bought after it, at prices of today. [money]

        Each is expected to leave so many years of service over. Pro rata (`residual_share`) a year left counts as one
        of a unit just bought; what is sold (`resale_share`) brings that share of it, the run's own as `_Run.sold` says.
        """
        home = self.case.household
        years = home.residual_share * (run.years_over + later_years) + home.resale_share * later_years
        return run.sold + new.worth_a_year * years

    def discount(self, category: str) -> "_Discount":
        """Worth today of what grows as the price of a category."""
        growth = self.prices.growth[category]
        key = id(growth) if isinstance(growth, np.ndarray) else growth
        if key not in self._discounts:
            force = with_time_axis(self.case.household.discount_force) - np.log1p(with_time_axis(growth))
            self._discounts[key] = _Discount(force, self.grid)
        return self._discounts[key]

    def unit(self, option: Option) -> "_Unit":
        """The unit of an option, whatever its plan."""
        if id(option) not in self._units:
            self._units[id(option)] = _Unit(self, option)
        return self._units[id(option)]


class _Discount:
    """Worth today of 1 at each edge, of a yearly 1 over each cell, and of 1 at the last edge; all (..., times)."""

    def __init__(self, force: Floats, grid: "_Grid") -> None:
        self.edge = np.exp(-force * grid.edge)
        self.cell = self.edge[..., :-1] * exprel(-force * grid.cell) * grid.cell
        self.end: Number = self.edge[..., -1]


class _Unit:
    """A unit on the grid: how sure it stands, what is left of it, and its like bought at each edge."""

    def __init__(self, study: Study, option: Option) -> None:
        case, grid, appliance = study.case, study.grid, study.case.appliance_of(option)
        self.study, self.option, self.flows = study, option, priced(case, option, study.prices)
        self.yearly, self.again = (
            {category: amount for category, amount in flows.items() if some(amount)}
            for flows in (self.flows.yearly, self.flows.again)
        )
        """Of its flows, those that it has. [money/year, money]"""
        self.serves, self._age = with_time_axis(running_probability(option)), with_time_axis(appliance.age)
        self._life = life_of(appliance, option.remaining_life_factor, axis=True)
        stands = self.stands(np.linspace(0.0, study.years, 2 * grid.middle.size + 1))
        self.at_edge = stands[..., ::2]
        """Chance that it stands at each edge, shape (..., n + 1)."""
        self.mean = (self.at_edge[..., :-1] + 4 * stands[..., 1::2] + self.at_edge[..., 1:]) / 6
        """The same over each cell, by Simpson's rule, shape (..., n)."""
        self._runs: dict[int, _Run] = {}
        self._made: dict[tuple[str, int], Floats] = {}

    def stands(self, time: Floats) -> Floats:
        """Chance that it stands."""
        if self.option.action == WITHOUT:
            return np.ones(np.shape(time))  # nothing that could fail
        return self.serves * self._life.survival_given(self._age, time)

    @cached_property
    def worth_a_year(self) -> Number:
        return worth_a_year(self.study.case, self.option)

    @cached_property
    def sells_by(self) -> Number:
        """What a year left of it sells by. [money/year]"""
        return resale(self.study.case, self.option, lambda _, each: self.study.unit(each).worth_a_year)

    @cached_property
    def renewed(self) -> "_Renewal":
        ends = -np.diff(self.mean, prepend=self.at_edge[..., :1])
        return _Renewal(ends, self.mean - self.at_edge[..., 1:])

    def running(self, category: str) -> Floats:
        """A yearly flow in each cell over what it is today, times the mean chance that it stands; shape (..., n)."""
        grid = self.study.grid
        return self.mean * running_share(self.study.case, self.option, category, grid.middle, grid.cell)

    def worth_running(self, category: str) -> Floats:
        """The same as worth today of 1 a year over each cell, shape (..., n)."""
        discount = self.study.discount(category)
        key = CHANGES.get(category, "level"), id(discount)
        if key not in self._made:
            self._made[key] = self.running(category) * discount.cell
        return self._made[key]

    @cached_property
    def left_at_end(self) -> Floats:
        """Years of service expected from it beyond the last edge, shape (..., 1). [year]"""
        if self.option.action == WITHOUT:
            return np.zeros(1)
        return self.at_edge[..., -1:] * self._life.mean_residual_life(self._age + self.study.years)

    @cached_property
    def years_left(self) -> Floats:
        """Years of service expected from it beyond each edge, shape (..., n + 1). [year]"""
        if self.option.action == WITHOUT:
            return np.zeros(self.at_edge.shape)
        within = self.mean * self.study.grid.cell
        later = np.cumsum(within[..., ::-1], axis=-1)[..., ::-1] + self.left_at_end
        return np.concatenate([later, self.left_at_end], axis=-1)

    @cached_property
    def amounts(self) -> list[tuple[str, Number]]:
        """What it takes when it is bought later: to run it, then to buy it; by the categories that it has. [money]"""
        return [*self.yearly.items(), *self.again.items()]

    @cached_property
    def from_an_end(self) -> Floats:
        """Worth today of 1 of each of the amounts, of one bought at each edge and of its like after it; last, years of
        service that they leave over at the end; shape (amounts + 1, ..., n + 1)."""
        discounts = [self.study.discount(category).edge for category, _ in self.amounts]
        left = self.years_left[..., ::-1] if self.study.is_left else np.zeros(1)
        running = [np.cumsum(self.worth_running(category), axis=-1) for category in self.yearly]
        worth = np.zeros((len(discounts) + 1, *np.broadcast_shapes(self.at_edge.shape, *(d.shape for d in discounts))))
        for each, run in zip(worth, running, strict=False):
            each[..., :-1] = run[..., ::-1]  # one bought late runs but a few cells
        worth[len(running) : -1] = 1.0
        for each, discount in zip(worth, discounts, strict=False):
            each *= discount
        worth[-1] = left
        return self.renewed.leading_to(worth)

    def until(self, hold: Number) -> "_Run":
        """Its run if it is replaced so many years from today at the latest."""
        if id(hold) not in self._runs:
            self._runs[id(hold)] = _Run(self, hold)
        return self._runs[id(hold)]


class _Run:
    """A unit's run up to its planned end, if it has one."""

    def __init__(self, unit: _Unit, hold: Number) -> None:
        grid, day = unit.study.grid, with_time_axis(hold)
        self._unit, self._hold = unit, hold
        self.within = np.clip((day - grid.edge[:-1]) / grid.cell, 0.0, 1.0)
        """Share of each cell before the planned end, shape (..., n)."""
        planned, mean, standing = day < grid.edge[-1], unit.mean, unit.at_edge[..., -1:]
        self.stays = ~planned
        """Whether no planned end comes before the last edge, shape (..., 1)."""
        self.planned = np.zeros(1)
        """Chance that it ends there by plan, shape (..., n + 1 or 1)."""
        if np.any(planned):
            # np.where keeps 0 x inf out: a unit without a plan never meets its planned end
            last = np.where(planned, day, 0.0)
            standing = np.where(planned, unit.stands(last), standing)
            before = np.where(self.within < 1, (unit.at_edge[..., :-1] + standing) / 2, mean)
            mean = before * self.within + standing * (1 - self.within)
            self.planned = planned * standing * np.maximum(0.0, 1 - np.abs(grid.edge - last) / grid.cell)
        self.ends = self.planned - np.diff(mean, prepend=1.0, append=standing)
        """Chance that it ends at each edge, shape (..., n + 1)."""

    @property
    def years(self) -> Number:
        """Years of service that it is expected to give. [year]"""
        return sum_over_time(self.within, self._unit.mean) * self._unit.study.grid.cell + self.years_over

    @cached_property
    def years_over(self) -> Number:
        """Years of service expected from it beyond the last edge. [year]"""
        return unwrap((self.stays * self._unit.left_at_end)[..., 0])

    @cached_property
    def sells_for(self) -> Number:
        """What its unit would be sold for at the last year by its years of service left, at prices of today. [money]"""
        share = self._unit.study.case.household.resale_share
        return share * self._unit.sells_by * self.years_over if some(share) else 0.0

    @cached_property
    def sold(self) -> Number:
        """What it is sold for: no more than was paid for it or, of the unit there, than running it costs. [money]

        Neither holds the quote, so the limit stays linear in it.
        """
        unit, bought = self._unit, self._unit.option.action == REPLACE
        most = unit.flows.once["purchase"] if bought else sum(self.running.values(), 0.0)
        return np.minimum(self.sells_for, np.maximum(most / unit.study.discount("purchase").end, 0.0))

    @cached_property
    def running(self) -> dict[str, Number]:
        """What running it costs, by the categories that it has. [money]"""
        unit = self._unit
        return {each: flow * sum_over_time(self.within, unit.worth_running(each)) for each, flow in unit.yearly.items()}

    @cached_property
    def costs(self) -> dict[str, Number]:
        """What it costs today and to run. [money]"""
        return {each: paid + self.running.get(each, 0.0) for each, paid in self._unit.flows.once.items()}

    @cached_property
    def spared(self) -> Number:
        """Worth today of 1 at its planned end."""
        return sum_over_time(self.planned, self._unit.study.discount("other").edge) if np.any(self.planned) else 0.0


class _Grid:
    """Equal cells of time from today: `edge` (n + 1), `middle` (n), each in years."""

    def __init__(self, years: float, cells_a_year: float) -> None:
        count = max(1, round(years * cells_a_year))
        self.edge = np.linspace(0.0, years, count + 1)
        self.middle, self.cell = (self.edge[1:] + self.edge[:-1]) / 2, years / count

    def by_year(self, today: Number, running: Floats, outlay: Floats, growth: Floats) -> Floats:
        """Gather cells and edges into years, at their prices; of today's edge what is not `today` falls in year 1."""
        of_cells, of_edges = self._years
        first = np.arange(of_edges.shape[-1]) == 0
        cells, edges = running * np.exp(growth * self.middle) * self.cell, outlay * np.exp(growth * self.edge)
        return with_time_axis(today) * first + cells @ of_cells + edges @ of_edges

    @cached_property
    def _years(self) -> tuple[Floats, Floats]:
        """1 in the year of each cell, and of each edge; shapes (n, years + 1) and (n + 1, years + 1)."""
        last = math.ceil(self.edge[-1] - 1e-9)
        years = (np.clip(np.ceil(time - 1e-9), 1, last) for time in (self.middle, self.edge))
        of_cells, of_edges = ((each[:, np.newaxis] == np.arange(last + 1)).astype(float) for each in years)
        return of_cells, of_edges


class _Renewal:
    """A unit that is followed by its like at each failure, over the grid."""

    def __init__(self, ends: Floats, behind: Floats) -> None:
        """Chance that it ends at each edge but the last; and in each cell, as far as that counts at the edge behind."""
        self._ends, self._behind = ends, behind

    @cached_property
    def _series(self) -> Floats:
        """Expected units that start at each edge if one does at the first, shape (..., n)."""
        return _renewed(self._ends)

    def purchases(self, ends: Floats) -> Floats:
        """Expected purchases at each edge, from the ends of the unit there; shape (..., n + 1)."""
        bought = _convolved(self._series, ends[..., :-1])
        # half of the ends of the cell behind the last edge would be counted at that edge; they lie outside
        last = ends[..., -1] + np.sum(bought * self._behind[..., ::-1], axis=-1)
        return np.concatenate([bought, last[..., np.newaxis]], axis=-1)

    def leading_to(self, worth: Floats) -> Floats:
        """Worth of one end at each edge and of all that follow it, where each purchase is worth so much; both of shape
        (m, ..., n + 1)."""
        if not np.any(self._behind):
            return worth
        found, count = worth.copy(), self._behind.shape[-1]
        within = found[..., :-1]
        within += worth[..., -1:] * self._behind[..., ::-1]
        if count > BY_PRODUCTS:
            within[...] = _convolved(self._series, within[..., ::-1])[..., ::-1]
        else:  # a matrix of the series, each row of it one cell later
            padded = np.concatenate([np.zeros((*self._series.shape[:-1], count - 1)), self._series], axis=-1)
            later = np.lib.stride_tricks.sliding_window_view(padded, count, axis=-1)[..., ::-1, :]
            within[...] = np.moveaxis(later @ np.moveaxis(within, 0, -1), -1, 0)
        return found


def _renewed(ends: Floats) -> Floats:
    """Renewal series 1 / (1 - ends): the first terms one by one, then twice as many at a time by Newton's method."""
    known = min(ends.shape[-1], TERM_BY_TERM)
    series = np.zeros((*ends.shape[:-1], known))
    series[..., 0] = 1 / (1 - ends[..., 0])
    for n in range(1, known):
        before = np.einsum("...t,...t->...", ends[..., n:0:-1], series[..., :n])
        series[..., n] = series[..., 0] * before
    while known < ends.shape[-1]:
        known = min(2 * known, ends.shape[-1])
        series = np.concatenate([series, np.zeros((*series.shape[:-1], known - series.shape[-1]))], axis=-1)
        error = series - _convolved(series, ends[..., :known])
        error[..., 0] -= 1
        series = series - _convolved(series, error)
    return series


def _convolved(left: Floats, right: Floats) -> Floats:
    """First n terms of the convolution along the last axis."""
    count = right.shape[-1]
    size = -(-(2 * count - 1) // 32) * 32  # room for the tail, and no large prime factor
    product: Floats = np.fft.irfft(np.fft.rfft(left, size) * np.fft.rfft(right, size), size)
    return product[..., :count]
