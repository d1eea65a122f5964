"""Published paths of energy prices, as one steady rise above inflation over the years that a household looks at.

`data/price_paths.csv` holds a level a row with its source. Levels of years between two rows lie on the line.
"""

import functools
import math
from dataclasses import dataclass

import numpy as np

from ...energy.tariff import steady_escalation
from ...errors import CaseError, DataError, Message
from ..files.rows import CsvRow, rows
from .labels import Basis
from .tables import CURRENCIES, ENERGY, STATUSES, data_dir

FILE = "price_paths.csv"
COLUMNS = "path,region,fuel,price_year,level,source,locator,year,status,note"


@dataclass(frozen=True)
class PricePath:
    """One published path: where and for what fuel it holds, its levels by year, and who says so."""

    name: str
    region: str
    fuel: str
    levels: tuple[float, ...]
    """Of its first year and those that follow; 1 in the first. [-]"""
    basis: Basis

    @property
    def years(self) -> int:
        """Years that it reaches beyond its first."""
        return len(self.levels) - 1

    def escalation(self, rate: float, years: float) -> tuple[float, int]:
        """One yearly rise worth the same as the path, and the years that it is worth so.

        `rate` is real [1/year]; `years` is how long the household looks ahead, without end as far as the path reaches.

        Examples
        --------
        >>> found, years = price_path("us-residential-2025", "electricity", "US").escalation(0.03, 10.0)
        >>> round(found, 3), years
        (-0.016, 10)
        """
        counted = self.years if math.isinf(years) else min(self.years, max(1, round(years)))
        return steady_escalation(np.array(self.levels[1 : counted + 1]), rate), counted


def price_path(name: str, fuel: str, region: str) -> PricePath:
    """Look up a path by its name, for a fuel and a region; CaseError names those that there are."""
    fitting = {path.name: path for path in price_paths() if (path.fuel, path.region) == (fuel, region)}
    if name not in fitting:
        none = Message("there is none for {fuel} in {region}", fuel, region)
        known = Message("must be one of {known}", ", ".join(fitting)) if fitting else none
        raise CaseError(f"household.{fuel}_index", "{message}, got {got!r}", known, name)
    return fitting[name]


@functools.cache
def price_paths() -> tuple[PricePath, ...]:
    """Read every path of the tables, once a run."""
    found: dict[tuple[str, str, str], list[CsvRow]] = {}
    for row in rows(data_dir() / FILE, COLUMNS):
        key = (row.text("path"), row.choice("region", CURRENCIES), row.choice("fuel", ENERGY))
        found.setdefault(key, []).append(row)
    return tuple(_path(*key, listed) for key, listed in found.items())


def _path(name: str, region: str, fuel: str, listed: list[CsvRow]) -> PricePath:
    years, levels = (np.array([row.number(column) for row in listed]) for column in ("price_year", "level"))
    if not (np.diff(years) > 0).all() or not (levels > 0).all() or levels[0] != 1:
        wanted = "{file}, {name} {fuel}: levels must be above 0, begin at 1 and follow the years"
        raise DataError(wanted, FILE, name, fuel)
    first = listed[0]
    every = np.interp(np.arange(years[0], years[-1] + 1), years, levels)
    status = max((row.choice("status", STATUSES) for row in listed), key=STATUSES.index)
    notes = "; ".join(row.cells["note"] for row in listed if row.cells["note"])
    basis = Basis(name, first.text("source"), first.text("locator"), first.year(), status, notes)
    return PricePath(name, region, fuel, tuple(every), basis)
