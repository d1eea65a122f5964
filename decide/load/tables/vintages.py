"""What units of a class used as new by the year they were made in, over what those made now use as new."""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass

import numpy as np

from ...arrays import Number
from ..files.rows import CsvRow
from .sourced import Estimate, Register

Key = tuple[str, str, str]  # Class, region and fuel.


@dataclass(frozen=True, slots=True)
class Vintage:
    """Ratios at years of manufacture, the last of them 1; level before the first year and after the last."""

    years: tuple[float, ...]
    points: tuple[Estimate, ...]

    def ratio(self, made: Number, now: float) -> Number:
        """Use as new of a unit made in a year over that of one made now; straight between years, and 1 for now. [-]"""
        values = [point.value for point in self.points]
        return np.interp(made, self.years, values) / np.interp(now, self.years, values)

    def doubt(self, made: float) -> float:
        """How far a ratio may be off, as a share of it: where the range of its years ends. [-]"""
        values = [point.value for point in self.points]
        highs = [point.value if point.high is None else point.high for point in self.points]
        return float(np.interp(made, self.years, highs) / np.interp(made, self.years, values)) - 1

    def basis(self, made: float) -> Estimate:
        """The row that a unit of a year goes by: the last of years up to its own, or the first."""
        return self.points[max(0, int(np.searchsorted(self.years, made, side="right")) - 1)]


def read_vintages(
    listed: Iterable[CsvRow], fuels: Mapping[str, Collection[str]], regions: Collection[str], register: Register
) -> dict[Key, Vintage]:
    """Read the ratios of each class, region and fuel; `fuels` are those of each class.

    Raises `DataError`: an unknown class, region or fuel, years out of order, a ratio below 1 or that rises, or a last
    one above 1.
    """
    found: dict[Key, list[tuple[float, Estimate]]] = {}
    last: dict[Key, CsvRow] = {}
    for row in listed:
        kind, region = row.choice("class", fuels), row.choice("region", regions)
        key = kind, region, row.choice("fuel", fuels[kind])
        made, point = row.number("made"), register.estimate(row, "-", *row.bounds(row.number("value")))
        before = found.setdefault(key, [])
        if before and made == before[-1][0]:
            raise row.broken("{key} is listed twice", f"{' '.join(key)} {made:g}")
        if before and made < before[-1][0]:
            raise row.broken("years of manufacture must rise, got {made:g} after {before:g}", made, before[-1][0])
        if not 1 <= point.value <= (before[-1][1].value if before else point.value):
            raise row.broken("a ratio must be 1 or more and may not rise with the year, got {value:g}", point.value)
        before.append((made, point))
        last[key] = row
    for key, row in last.items():
        if found[key][-1][1].value != 1:
            raise row.broken("the last ratio must be 1, got {value:g}", found[key][-1][1].value)
    return {key: Vintage(*zip(*points, strict=True)) for key, points in found.items()}
