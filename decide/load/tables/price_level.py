"""One price level: an amount in the money of an earlier year, brought to one month by the published index of its kind.

Appliances, work and all other goods have not risen alike, so each has its own index. Where a region has none of a kind,
all items stand in for it, but never for appliances. Tariffs and prices of energy are never brought anywhere.
"""

import itertools
import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

import numpy as np

from ...errors import DataError, Message
from ..files.rows import CsvRow, keyed, rows
from .sourced import Estimate, Register

INDEX_COLUMNS: Final = "region,kind,period,value,unit,source,locator,year,status,note"
APPLIANCES: Final = "appliances"
EQUIPMENT: Final = "equipment"
WORK: Final = "work"
ALL_ITEMS: Final = "all items"
KINDS: Final = (APPLIANCES, WORK, ALL_ITEMS)
"""Kinds that can have an index of their own. Equipment sold with its work has none: no index of appliances holds it."""

UNKNOWN: Final = "unknown"  # Price year of an amount whose money nobody told.

_MOVED_BY: Final = {
    APPLIANCES: ("price", "price_basic", "price_premium"),
    WORK: (
        "delivery", "installation", "haul_away", "service_fee", "labour_rate", "repair_bill", "hour_cost", "visit_cost",
    ),
    ALL_ITEMS: ("food_loss", "attention_cost", "doing_without", "least_worth"),
    "": ("water_price",),
}  # fmt: skip
_MONEY: Final[Mapping[str, str]] = {name: kind for kind, names in _MOVED_BY.items() for name in names}
"""Amounts of figures.csv, each with the index that it moves with; a tariff moves with none."""

_PERIOD: Final = re.compile(r"(?:19|20)\d\d(?:-(?:0[1-9]|1[0-2]))?")


def index_of(quantity: str, sold_installed: bool) -> str:
    """Kind of index by which an amount moves; '' for a tariff."""
    kind = _MONEY[quantity]
    return EQUIPMENT if kind == APPLIANCES and sold_installed else kind


@dataclass(frozen=True)
class PriceLevel:
    """Indices by region and kind, each as (time [year], level), and the month to which amounts are brought."""

    month: str
    series: Mapping[tuple[str, str], tuple[tuple[float, ...], tuple[float, ...]]]

    def factor(self, region: str, kind: str, period: str) -> float:
        """What an amount of a period is times in money of the month. [-]

        A period that begins no earlier than the month's own year stands as it is; beyond the last level of an index
        the last is taken.

        Raises `DataError`: no index of the kind reaches back so far.
        """
        if not kind or period == UNKNOWN or period >= self.month[:4]:
            return 1.0
        found = self.series.get((region, kind))
        if found is None and kind != APPLIANCES:
            found = self.series.get((region, ALL_ITEMS))
        if found is None or _time(period) < found[0][0]:
            missing = "price_index.csv: no index of {kind} in {region} reaches back to {period}"
            raise DataError(missing, kind, region, period)
        now, then = np.interp([_time(self.month), _time(period)], *found)
        return float(now / then)

    def brought(self, figure: Estimate, region: str, kind: str, period: str) -> Estimate:
        """A figure in money of the month, with what it was as published and by which index it came."""
        times, dated = self.factor(region, kind, period), replace(figure, price_year=period)
        if times == 1.0:
            return dated
        low, high = (None if end is None else round(end * times, 2) for end in (figure.low, figure.high))
        index, value = kind if (region, kind) in self.series else ALL_ITEMS, round(figure.value * times, 2)
        return replace(dated, value=value, low=low, high=high, published=figure.value, index=index)


def period_of(row: CsvRow, column: str) -> str:
    """The year or month of a cell, or that it is not known."""
    period = row.text(column)
    if period != UNKNOWN and not _PERIOD.fullmatch(period):
        wanted = "{column} must be a year, a month such as 2026-05, or unknown, got {period!r}"
        raise row.broken(Message(wanted, column, period))
    return period


def read_price_level(folder: Path, regions: tuple[str, ...], register: Register) -> PriceLevel:
    """Read the indices; the newest month of all items is the month that all amounts are brought to.

    Raises `DataError`: a row breaks the rules, or a region lacks appliances or all items.
    """
    units: dict[tuple[str, str], str] = {}

    def level(row: CsvRow) -> tuple[tuple[str, str, str], float]:
        region, kind, period = row.choice("region", regions), row.choice("kind", KINDS), period_of(row, "period")
        figure = register.estimate(row, units.setdefault((region, kind), row.text("unit")))
        if period == UNKNOWN or figure.value <= 0:
            raise row.broken("needs a period, and a level above 0")
        return (region, kind, period), figure.value

    levels = keyed(rows(folder / "price_index.csv", INDEX_COLUMNS), level)
    for region, kind in itertools.product(regions, (APPLIANCES, ALL_ITEMS)):
        if (region, kind) not in units:
            raise DataError("price_index.csv: no index of {kind} in {region}", kind, region)
    months = [period for _, kind, period in levels if kind == ALL_ITEMS and "-" in period]
    if not months:
        raise DataError("price_index.csv: no month of {all_items}", ALL_ITEMS)
    series = {}
    for key in units:
        known = sorted((_time(period), value) for (*of, period), value in levels.items() if tuple(of) == key)
        series[key] = tuple(time for time, _ in known), tuple(value for _, value in known)
    return PriceLevel(max(months), series)


def _time(period: str) -> float:
    """The middle of a year or month. [year]"""
    year, _, month = period.partition("-")
    return int(year) + ((int(month) - 0.5) / 12 if month else 0.5)
