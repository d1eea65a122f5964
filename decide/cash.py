"""Expected cash on the calendar: what an option and everything bought after it cost, when and for what.

Time is cut into equal cells. The option's own unit stands with its conditional survival; each end, by failure or by
plan, is a purchase of the successor, whose ends are purchases again. With D the ends of the first unit and k the ends
of a new one by age, purchases follow the renewal equation B = D + k * B, solved as B = D + k*D + k*k*D + ... (the
number of purchases in a household's lifetime is small). Ends of a cell are shared between its two edges and flows are
taken at its middle, so that everything is second order in the cell.
"""

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from .arrays import Floats, Number
from .case import Case, Option
from .flows import (
    CAUSES,
    PriceList,
    chance_it_runs,
    column,
    flows_of,
    life_of,
    life_on_grid,
    running_share,
    scalar,
    worth_new,
)

CELLS_A_YEAR: Final = 12
"""Monthly cells keep present costs within 0.01 % of a grid a hundred times finer, for lives of four years or more."""


@dataclass(frozen=True)
class Cash:
    """Expected cash of one option by cause: today and in each year, undiscounted and in today's money.

    `by_year[cause]` has shape (..., years + 1); entry 0 is today, entry y the year that ends y years from now. The
    last entry has the residual value taken off (as a negative purchase). `present[cause]` is the present cost, each
    flow discounted from the moment at which it falls.
    """

    by_year: dict[str, Floats]
    present: dict[str, Number]

    @property
    def total_by_year(self) -> Floats:
        """All causes together; shape (..., years + 1). [money]"""
        return sum(self.by_year.values(), np.zeros(1))


def cash(
    case: Case,
    option: Option,
    successor: Option,
    prices: PriceList,
    years: float,
    residual_share: Number,
    cells_a_year: int = CELLS_A_YEAR,
) -> Cash:
    """Expected cash of an option over so many years, its unit followed by `successor` and then by its like.

    On a planned day nobody waits for the new unit, so what waiting costs is not paid then.

    What is left at the last year is credited: `residual_share` x the successor's price x the remaining expected years
    of service over those of a unit just bought.
    """
    grid = _Grid.of(years, cells_a_year)
    own, new = _Standing.of(case, option, grid), _Standing.of(case, successor, grid)
    bought = _purchases(own.ends, new.deaths)
    first, later = flows_of(case, option), flows_of(case, successor)
    by_year, present = {}, {}
    for cause in CAUSES:
        growth = np.log1p(column(prices.growth[cause]))
        force = np.log1p(column(case.household.rate)) - growth
        today, again = prices.cost(cause, first.once.get(cause, 0.0)), prices.cost(cause, later.again.get(cause, 0.0))
        running, followed = (
            column(prices.cost(cause, flows.yearly.get(cause, 0.0)))
            * unit.alive
            * running_share(case, each, cause, grid.middle)
            for flows, unit, each in ((first, own, option), (later, new, successor))
        )
        cells = (running + _follow(bought, followed)) * grid.cell
        outlay = column(again) * (bought - own.planned if cause == "other" else bought)
        worth = residual_share * worth_new(case, successor)
        left = _left(own, new, bought, worth) if cause == "purchase" else np.zeros(1)
        paid = grid.by_year(today, cells * np.exp(growth * grid.middle), outlay * np.exp(growth * grid.edge))
        by_year[cause] = paid - left * np.exp(growth * years) * (np.arange(paid.shape[-1]) == paid.shape[-1] - 1)
        present[cause] = scalar(
            today
            + np.sum(cells * np.exp(-force * grid.middle), axis=-1)
            + np.sum(outlay * np.exp(-force * grid.edge), axis=-1)
            - (left * np.exp(-force * years))[..., 0]
        )
    return Cash(by_year, present)


@dataclass(frozen=True)
class _Grid:
    """Equal cells of time from today: `edge` (n + 1), `middle` (n), each in years."""

    edge: Floats
    middle: Floats
    cell: float

    @staticmethod
    def of(years: float, cells_a_year: int) -> "_Grid":
        count = max(1, round(years * cells_a_year))
        edge = np.linspace(0.0, years, count + 1)
        return _Grid(edge, (edge[1:] + edge[:-1]) / 2, years / count)

    def by_year(self, today: Number, cells: Floats, edges: Floats) -> Floats:
        """Gather cells and edges into years; what falls on today's edge for sure is `today`, the rest of it year 1."""
        last = math.ceil(self.edge[-1] - 1e-9)
        shape = np.broadcast_shapes(np.shape(today), cells.shape[:-1], edges.shape[:-1])
        gathered = np.zeros((*shape, last + 1))
        gathered[..., 0] = today
        for flows, time in ((cells, self.middle), (edges, self.edge)):
            year = np.clip(np.ceil(time - 1e-9).astype(int), 1, last)
            for y in range(1, last + 1):
                gathered[..., y] += np.sum(flows[..., year == y], axis=-1)
        return gathered


@dataclass(frozen=True)
class _Standing:
    """One unit on the grid: how sure it stands in each cell, and when it ends."""

    alive: Floats
    """Chance that it stands at the middle of each cell, shape (..., n)."""
    ends: Floats
    """Chance that it ends at each edge, shape (..., n + 1)."""
    planned: Floats
    """Chance that it ends there by plan, shape (..., n + 1)."""
    deaths: Floats
    """Chance that it ends in each cell, shape (..., n)."""
    years_new: Number
    """Expected years of service at the start. [year]"""
    standing_at_edge: Floats
    """Chance that it stands at each edge, shape (..., n + 1)."""
    years_left: Floats
    """Expected years of service that it then still has, shape (..., n + 1). [year]"""

    @staticmethod
    def of(case: Case, option: Option, grid: _Grid) -> "_Standing":
        unit = case.unit_of(option)
        runs = column(chance_it_runs(option))
        life = life_on_grid(unit)
        age, outlook, hold = column(unit.age), column(option.outlook), column(option.hold)

        def stands(time: Floats) -> Floats:
            return runs * life.survival_given(age, time / outlook)

        within = np.clip((hold - grid.edge[:-1]) / grid.cell, 0.0, 1.0)
        at_edge = stands(np.minimum(grid.edge, hold))
        deaths = at_edge[..., :-1] - at_edge[..., 1:]
        ends = np.zeros(np.broadcast_shapes(at_edge.shape, hold.shape))
        ends[..., :-1] += deaths / 2
        ends[..., 1:] += deaths / 2
        ends[..., :1] += 1 - runs
        # np.where keeps 0 x inf out: a unit without a plan never meets its planned end
        planned = np.where(hold < grid.edge[-1], hold, -2 * grid.cell)
        by_plan = stands(np.maximum(planned, 0.0)) * np.maximum(0.0, 1 - np.abs(grid.edge - planned) / grid.cell)
        return _Standing(
            alive=stands(grid.middle) * within,
            ends=ends + by_plan,
            planned=by_plan,
            deaths=deaths,
            years_new=option.outlook * life_of(unit).mean_residual_life(unit.age),
            standing_at_edge=stands(grid.edge) * (grid.edge <= hold),
            years_left=outlook * life.mean_residual_life(age + grid.edge / outlook),
        )


def _purchases(ends: Floats, deaths: Floats) -> Floats:
    """Expected purchases at each edge: the first unit's ends, and the ends of all that were bought before."""
    early = np.zeros((*deaths.shape[:-1], deaths.shape[-1] + 1))
    late = early.copy()
    early[..., :-1], late[..., 1:] = deaths / 2, deaths / 2
    kernel = early + late
    bought = ends + 0 * kernel[..., :1]
    while np.max(kernel) > 1e-14:
        bought = bought + _convolved(bought, kernel)
        kernel = _convolved(kernel, kernel)
    # half of the ends of the cell behind the last edge were counted at that edge; they lie outside
    last = ends[..., -1] + np.sum(bought[..., :-1] * late[..., :0:-1], axis=-1)
    return np.concatenate([bought[..., :-1], last[..., np.newaxis]], axis=-1)


def _follow(bought: Floats, share: Floats) -> Floats:
    """Expected units in each cell, bought at any edge before it."""
    return _convolved(bought[..., :-1], share)


def _convolved(left: Floats, right: Floats) -> Floats:
    """First n terms of the convolution along the last axis."""
    count = right.shape[-1]
    size = 1 << (2 * count - 1).bit_length()
    product = np.fft.rfft(left, size) * np.fft.rfft(right, size)
    return np.fft.irfft(product, size)[..., :count]


def _left(own: _Standing, new: _Standing, bought: Floats, worth: Number) -> Floats:
    """Residual value at the last edge, at today's price; shape (..., 1). [money]"""
    still = own.standing_at_edge[..., -1] * own.years_left[..., -1]
    still = still + np.sum(bought * (new.standing_at_edge * new.years_left)[..., ::-1], axis=-1)
    return column(worth * still / new.years_new)
