"""What a household pays for what it draws, and what one flow more or less changes in it.

**A tariff is a list of lines in the order in which the bill prints them.** A line sees the use of the billing period
and the lines before it, so the order says what a minimum and a tax apply to:

* `Usage` prices each unit, by time band and by block; sewage on the same volume or a levy a unit is a further one;
* `Fixed` is due whatever is drawn;
* `Minimum` is what the lines before it fall short of the least bill;
* `FractionLine` is a tax or rider: a fraction of lines before it.

**Blocks together with time bands** need a rule, and suppliers differ: `in_proportion` counts the blocks on the period's
total and splits every band alike; `in_order_of_time` fills them hour by hour. The line names its rule. Where a period
holds days of two seasons, each season's blocks count for its share of the days.

**A saving is bill minus bill, period by period**, never an average price times a quantity: fixed charges do not move,
blocks and bands do (Chaitkin, McMahon et al., ACEEE 2000). `marginal_price` is that difference over the flow.
"""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import TypeAlias

import numpy as np

from ..arrays import Floats, Number
from ..errors import CaseError, NoSolution, OutOfRange
from ..finance.discount import escalated_uniform_present_value, indexed_uniform_present_value
from .load_profile import ALWAYS, CALENDAR_MONTHS, PERS, Calendar, Per, Schedule, Together, Use

Allocation: TypeAlias = "Callable[[Usage, Use, Calendar], Floats]"  # units by period, band and block


def half_up(amounts: Floats, step: float) -> Floats:
    """Round to a step, halves away from zero, as a printed bill does: 26.125 is 26.13; 0 for no rounding."""
    if step == 0:
        return amounts
    steps = np.round(np.abs(amounts) / step, 6)  # 550 * 0.0475 may fall a hair short of 26.125
    return np.sign(amounts) * np.floor(steps + 0.5) * step


@dataclass(frozen=True)
class Block:
    """One step of a price by quantity: what a unit costs, up to a running total."""

    price: float
    upto: float = math.inf


@dataclass(frozen=True, kw_only=True)
class Usage:
    """Line that prices each unit drawn, by time band and block.

    `per` is what the blocks' bounds count for; `units` are billed for one unit of use (therms a kWh, a billing factor).
    """

    name: str
    bands: tuple[tuple[Block, ...], ...]
    schedule: Schedule = ALWAYS
    per: Per = PERS["month"]
    allocation: Allocation = field(default_factory=lambda: in_proportion)
    units: float = 1.0

    def __post_init__(self) -> None:
        if len(self.bands) != self.schedule.bands:
            raise CaseError(
                self.name, "{n} bands are scheduled, and {priced} have a price", self.schedule.bands, len(self.bands)
            )
        for blocks in self.bands:
            bounds = [0.0, *(block.upto for block in blocks)]
            if bounds[-1] != math.inf or not all(a < b for a, b in pairwise(bounds)):
                raise CaseError(self.name, "bounds of blocks must rise, the last without one, got {got}", bounds[1:])
        for month, bands in enumerate(self.schedule.together(), start=1):
            if len({self.seasons[band] for band in bands}) > 1:
                raise CaseError(self.name, "time bands of month {month} must share their block bounds", month)

    @property
    def seasons(self) -> list[int]:
        """Season of each band: bands with the same block bounds fill their blocks together."""
        bounds = [tuple(block.upto for block in blocks) for blocks in self.bands]
        return [sorted(set(bounds)).index(own) for own in bounds]

    @property
    def alike(self) -> Floats:
        """1 where two bands are of one season, shape (bands, bands)."""
        return np.equal.outer(self.seasons, self.seasons).astype(np.float64)

    def bounds(self, calendar: Calendar) -> Floats:
        """Upper bound of each block in each period, shape (periods, bands, blocks). [unit]"""
        own = self.schedule.sums(np.ones(24 * sum(calendar.periods)), calendar) @ self.alike
        counted = self.per(calendar.days)[:, None] * own / (24 * calendar.days[:, None])
        upto = self._table(lambda block: block.upto)
        return np.where(np.isinf(upto), np.inf, counted[..., None] * np.where(np.isinf(upto), 0.0, upto))

    def amounts(self, use: Use, calendar: Calendar, before: Mapping[str, Floats]) -> Floats:
        """Cost of each band and block, shape (..., periods, bands * blocks). [money]"""
        costs = self.allocation(self, use, calendar) * self._table(lambda block: block.price)
        return costs.reshape(*costs.shape[:-2], -1)

    def _table(self, figure: Callable[[Block], float]) -> Floats:
        """One figure of each block, shape (bands, blocks); a band with fewer repeats its last."""
        most = range(max(map(len, self.bands)))
        return np.array([[figure(blocks[min(k, len(blocks) - 1)]) for k in most] for blocks in self.bands])


def in_proportion(usage: Usage, use: Use, calendar: Calendar) -> Floats:
    """Units in each band and block where the period's total fills the blocks and every band is split alike.

    With T the period's total and f_k(T) what of it lies in block k, band b has u_b f_k(T)/T there; shape
    (..., periods, bands, blocks) [unit]. The rule of NREL's PySAM 7.1.1, module Utilityrate5, found by running it.
    """
    drawn = _not_negative(use.in_bands(usage.schedule, calendar)) * usage.units
    total = (drawn @ usage.alike)[..., None]
    return drawn[..., None] * _in_blocks(total, usage.bounds(calendar)) / np.where(total > 0, total, 1.0)


def in_order_of_time(usage: Usage, use: Use, calendar: Calendar) -> Floats:
    """Units where the blocks fill hour by hour, whatever band an hour is in; as `in_proportion`, its hours known."""
    drawn = _not_negative(use.in_hours(calendar)) * usage.units
    period, band = calendar.period_of_hour, usage.schedule.band_of_hour(calendar)
    reached = np.zeros_like(drawn)
    for season in set(usage.seasons):
        here = np.array(usage.seasons)[band] == season
        own = np.where(here, drawn, 0.0)
        earlier = np.cumsum(calendar.sums(own), axis=-1) - calendar.sums(own)
        reached = np.where(here, np.cumsum(own, axis=-1) - earlier[..., period], reached)
    bounds = usage.bounds(calendar)[period, band]
    filled = _in_blocks(reached[..., None], bounds) - _in_blocks((reached - drawn)[..., None], bounds)
    return np.moveaxis(usage.schedule.sums(np.moveaxis(filled, -1, -2), calendar), -3, -1)


@dataclass(frozen=True, kw_only=True)
class Fixed:
    """Line that is due whatever is drawn."""

    name: str
    amount: float
    per: Per = PERS["month"]

    def amounts(self, use: Use, calendar: Calendar, before: Mapping[str, Floats]) -> Floats:
        """Charge of each period, shape (periods, 1). [money]"""
        return self.amount * self.per(calendar.days)[:, None]


@dataclass(frozen=True, kw_only=True)
class Minimum:
    """Line for what the lines before it fall short of the least bill."""

    name: str
    amount: float
    per: Per = PERS["month"]

    def amounts(self, use: Use, calendar: Calendar, before: Mapping[str, Floats]) -> Floats:
        """Shortfall of each period, shape (..., periods, 1). [money]"""
        return np.maximum(0.0, self.amount * self.per(calendar.days) - sum(before.values()))[..., None]


@dataclass(frozen=True, kw_only=True)
class FractionLine:
    """Line for a tax or rider: a fraction of lines before it, of all of them unless it names some."""

    name: str
    share: float
    of: tuple[str, ...] = ()

    def amounts(self, use: Use, calendar: Calendar, before: Mapping[str, Floats]) -> Floats:
        """Tax of each period, shape (..., periods, 1). [money]"""
        return self.share * np.asarray(sum(before[name] for name in self.of or before))[..., None]


Line: TypeAlias = Usage | Fixed | Minimum | FractionLine


@dataclass(frozen=True, kw_only=True)
class Tariff:
    """What a supplier charges: the lines of a bill in order, and how each printed amount is rounded."""

    unit: str
    """What the household's use is counted in: kWh for electricity and gas, m3 for water."""
    lines: tuple[Line, ...]
    rounding: float = 0.0
    """Step of a printed amount; 0 where none is rounded. [money]"""
    currency: str = ""
    source: str = ""

    def __post_init__(self) -> None:
        names: list[str] = []
        for line in self.lines:
            if line.name in names:
                raise CaseError("tariff", "two lines are named {name}", line.name)
            if isinstance(line, FractionLine) and not set(line.of) <= set(names):
                raise CaseError(line.name, "may be a share of lines before it only, got {got}", ", ".join(line.of))
            names.append(line.name)

    @property
    def has_one_price(self) -> bool:
        """Whether one unit more costs the same whenever it is drawn and whatever else is."""
        drawn = [line.bands for line in self.lines if isinstance(line, Usage)]
        return not any(isinstance(line, Minimum) for line in self.lines) and all(
            len(bands) == len(bands[0]) == 1 for bands in drawn
        )


def bill(tariff: Tariff, use: Use, calendar: Calendar = CALENDAR_MONTHS) -> dict[str, Floats]:
    """Bill line by line, for each period; blocks and lines are rounded as the tariff says before they add up.

    `use` is what is drawn, in the tariff's unit; the periods are the months of a year that begins on a Monday unless
    a calendar is given. The amount of each line by its name, in order, each of shape (..., periods). [money]
    """
    lines: dict[str, Floats] = {}
    for line in tariff.lines:
        lines[line.name] = np.sum(half_up(line.amounts(use, calendar, lines), tariff.rounding), axis=-1)
    return lines


def total(tariff: Tariff, use: Use, calendar: Calendar = CALENDAR_MONTHS) -> Floats:
    """What each bill comes to, shape (..., periods); arguments as of `bill`. [money]"""
    return np.asarray(sum(bill(tariff, use, calendar).values()))


def marginal_price(tariff: Tariff, base: Use, flow: Use, calendar: Calendar = CALENDAR_MONTHS) -> Floats:
    """Price that a flow really pays on top of the rest: the difference to the bills, over its units. [money/unit]

    Rounding to the cent is left out: in the difference of two bills it is noise. NaN where the flow is none.
    """
    plain = replace(tariff, rounding=0.0)
    cost = np.sum(total(plain, base + flow, calendar) - total(plain, base, calendar), axis=-1)
    cost, drawn = np.broadcast_arrays(cost, flow.drawn(calendar))
    return np.divide(cost, drawn, out=np.full(cost.shape, np.nan), where=drawn != 0)


def price_pieces(tariff: Tariff, base: Use, flow: Use, calendar: Calendar = CALENDAR_MONTHS) -> tuple[Floats, Floats]:
    """Cut a flow where it takes some period into another block, and price each piece by bill minus bill.

    The end of each piece, as the flow grows from nothing [unit], and its price [money/unit]. Within a piece the bill is
    straight in the flow, unless time bands share the blocks or a minimum bill ends there: then the price is the piece's
    mean. Pieces times prices add up to the whole difference. `base` is the use of one household without the flow,
    `flow` the appliance's at its largest. [unit]
    """
    cuts = [np.array([0.0, 1.0])]
    for line in tariff.lines:
        if isinstance(line, Usage):
            there, more = (use.in_bands(line.schedule, calendar) @ line.alike for use in (base, flow))
            room = line.bounds(calendar) - there[..., None] * line.units
            share = np.divide(room, more[..., None] * line.units, out=np.zeros_like(room), where=more[..., None] > 0)
            cuts.append(share[(share > 0) & (share < 1)])
    at = np.unique(np.round(np.concatenate(cuts), 12))
    cost = total(replace(tariff, rounding=0.0), Together(base, flow, at), calendar).sum(axis=-1)
    drawn = at * float(flow.drawn(calendar))
    return drawn[1:], np.diff(cost) / np.diff(drawn)


def steady_levels(escalation: Number, years: int) -> Floats:
    """Price of years 1 to N over today's where it rises by e [1/year] every year, real or nominal: (1 + e)^t. [-]"""
    return (1 + np.asarray(escalation, dtype=np.float64)[..., None]) ** np.arange(1, years + 1)


def steady_escalation(levels: Floats, rate: float) -> float:
    """One yearly rise that is worth the same as a path of price levels over its years. [1/year]

    It solves sum (1 + e)^t (1 + d)^-t = sum I_t (1 + d)^-t for the levels I of years 1 to N over today's and a discount
    rate d, real if they are, and holds for that number of years only. `NoSolution`: no rise of -50 to +50 % does it.
    """
    worth, years = float(indexed_uniform_present_value(levels, rate)), len(levels)

    def excess(escalation: float) -> float:
        return float(escalated_uniform_present_value(rate, escalation, years)) - worth

    if not excess(-0.5) <= 0 <= excess(0.5):
        raise NoSolution("no escalation from -0.5 to 0.5 1/year is worth the same as the price levels")
    from scipy.optimize import brentq  # here, since it is slow to load

    return float(brentq(excess, -0.5, 0.5, xtol=1e-12))


def _in_blocks(total: Floats, bounds: Floats) -> Floats:
    """How much of a total, filled from the bottom, lies in each block."""
    return np.diff(np.minimum(total, bounds), axis=-1, prepend=0.0)


def _not_negative(use: Floats) -> Floats:
    if not (use >= -1e-6).all():  # use without an appliance may miss zero by dust, and by no more
        raise OutOfRange("use", 0, math.inf, "", float(np.min(use)))
    return np.maximum(use, 0.0)
