"""What things emit, from the tables: the grid of a place and how clean it gets, making and repairing, refrigerants.

A figure that was entered under `[carbon]` takes the place of the one of the tables. All figures carry who says so, as
those in money do; their ranges are told by the paths of the case in carbon, so that they can be drawn there.
"""

import datetime
import functools
import operator
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np

from ...economics.carbon import CarbonFigures, in_carbon, refrigerant_loss, years_compared
from ...economics.case import Case, inputs, option_paths
from ...economics.household import PROPANE
from ...economics.uncertainty import Range
from ...energy.tariff import steady_escalation
from ...errors import DataError
from ..files.rows import ANY, CsvRow, keyed, rows
from ..tables.sourced import columns_of, standing, units_of
from ..tables.tables import CURRENCIES, Estimate, Source, data_dir, tables
from .reading import DefaultUsed

CARBON_UNITS: Final = units_of("carbon_figures")  # quantities of carbon_figures.csv with their unit

COLUMNS: Final = columns_of("carbon_grid", "carbon_paths", "carbon_figures", "carbon_refrigerants")

CARBON: Final = "carbon"
"""Source of the ranges of carbon's figures; the figures themselves say who says so."""

PHYSICAL: Final = frozenset({
    "mean_life", "life_shape", "failure_free_years", "electricity", "gas", "water", "efficiency_degradation_rate",
    "efficiency_degradation_cap", "remaining_life_factor", "energy_change", "repair_success_probability",
})  # fmt: skip
"""Inputs that mean the same in carbon, so that their ranges hold there too; all others are amounts of money."""


@dataclass(frozen=True)
class Refrigerant:
    """What circulates in units of a class made from a year on."""

    name: str
    since: int
    charge: Estimate
    warming: float


@dataclass(frozen=True)
class Path:
    """How clean a region's grid gets: levels of the years after the first, and of a slow and a fast change."""

    levels: np.ndarray[tuple[int, int], np.dtype[np.float64]]
    """Shape (3, years): as it is expected, low, high."""
    source: Estimate


@dataclass(frozen=True)
class CarbonTables:
    """All tables of carbon, read and checked."""

    grid: Mapping[str, tuple[Estimate, float]]
    """What a kilowatt-hour emits where it is made, and the share lost on its way, by place."""
    paths: Mapping[str, Path]
    figures: Mapping[tuple[str, str, str], Estimate]
    refrigerants: Mapping[tuple[str, str], tuple[Refrigerant, ...]]

    def figure(self, quantity: str, kind: str, region: str) -> Estimate:
        """The figure of a class in a region, or the nearest that holds for it."""
        for holder in ((kind, region), (kind, ANY), (ANY, region), (ANY, ANY)):
            if found := self.figures.get((*holder, quantity)):
                return found
        raise DataError("carbon_figures.csv: no {quantity} for {kind} in {region}", quantity, kind, region)

    def refrigerant(self, kind: str, region: str, made_in: float) -> Refrigerant | None:
        """What circulates in a unit made in a year; None where nothing does."""
        known = [each for each in self.refrigerants.get((kind, region), ()) if each.since <= made_in]
        return known[-1] if known else None


@dataclass(frozen=True)
class CarbonFilled:
    """The case in carbon, and what it rests on."""

    case: Case
    figures: CarbonFigures
    defaults: tuple[DefaultUsed, ...]
    """What was taken from the tables, by the names of `carbon.CARBON_ENTRIES`; of new units, one for each."""
    ranges: tuple[Range, ...]
    """What the figures may be instead, by the paths of the case in carbon."""
    years: float
    price: float
    """What a tonne shall cost; 0 where it is not mixed with money. [money/t]"""
    refrigerants: tuple[str, ...]
    """What circulates in the unit there, where its repair fills in a charge, and in each new one; '' for nothing."""


def carbon_of(case: Case, entered: Mapping[str, float], this_year: int | None = None) -> CarbonFilled:
    """Put a case in carbon, with the figures of the tables where none were entered."""
    return _Filling(case, entered, this_year or datetime.date.today().year).filled()


class _Filling:
    """Fills the figures of one case, noting each default and its range on the way."""

    def __init__(self, case: Case, entered: Mapping[str, float], year: int) -> None:
        self._case, self._entered, self._year = case, entered, year
        self._region, self._years = case.household.region, years_compared(case)
        self._defaults: list[DefaultUsed] = []
        self._ranges: dict[str, tuple[float, float]] = {}
        self._makings: dict[str, tuple[float, float]] = {}
        self._names: list[str] = []

    def filled(self) -> CarbonFilled:
        kind = self._case.appliance.kind
        figures = CarbonFigures(
            electricity=self._grid(),
            electricity_growth=self._growth(),
            gas=self._plain("gas", kind),
            water=self._plain("water", kind),
            **self._repair(kind),
            **self._made(),
        )
        case = in_carbon(self._case, figures)
        # makings move together, for who errs about one errs about all; a used unit counts a part of its making
        values = {entry.path: float(entry.value) for entry in inputs(case)}
        found = [
            Range(paths=(path,), lows=(low,), values=(values[path],), highs=(high,), source=CARBON)
            for path, (low, high) in self._ranges.items()
        ]
        if self._makings:
            middle = tuple(values[path] for path in self._makings)
            shares = zip(*self._makings.values(), strict=True)
            lows, highs = (tuple(map(operator.mul, each, middle)) for each in shares)
            found.append(Range(paths=tuple(self._makings), lows=lows, values=middle, highs=highs, source=CARBON))
        defaults, price = tuple(self._defaults), self._entered.get("price", 0.0)
        return CarbonFilled(case, figures, defaults, tuple(found), self._years, price, tuple(self._names))

    def _take(
        self, name: str, figure: Estimate, unit: str, rule: str = "", path: str = ""
    ) -> tuple[float, float, float]:
        """What was entered, or else the figure, noted; with what it may be instead, kept for a path of the case."""
        if name in self._entered:
            return (self._entered[name],) * 3
        self._defaults.append(DefaultUsed(f"carbon.{name}", figure.value, unit, figure, rule))
        ends = float(figure.low or 0.0), float(figure.high or 0.0)
        if path:
            self._ranges[path] = ends
        return figure.value, *ends

    def _grid(self) -> float:
        known = carbon_tables().grid
        made, loss = known.get(self._case.household.place, known[self._region])
        at_plug = 1 / (1 - loss)
        value, low, high = (float(each or 0.0) * at_plug for each in (made.value, made.low, made.high))
        figure, rule = replace(made, value=value, low=low, high=high), f"{made.value:g} / (1 - {loss:g})"
        return self._take("electricity", figure, "kg/kWh", rule, "household.electricity_price")[0]

    def _growth(self) -> float:
        path = carbon_tables().paths[self._region]
        years = min(path.levels.shape[-1], max(1, round(self._years)))
        steady, fast, slow = (steady_escalation(levels[:years], 0.0) for levels in path.levels)
        figure = replace(path.source, value=steady, low=min(fast, steady), high=max(slow, steady))
        rule = f"{float(path.levels[0, years - 1]):.2f} x in {years} years"
        return self._take("electricity_growth", figure, "1/year", rule, "household.electricity_escalation")[0]

    def _plain(self, name: str, kind: str) -> float:
        burnt = PROPANE if name == "gas" and self._case.household.gas_kind == PROPANE else name
        figure = carbon_tables().figure(burnt, kind, self._region)
        used = any(float(getattr(self._case.appliance_of(o), name)) for o in self._case.options)
        if used or name in self._entered:
            return self._take(name, figure, figure.unit, path=f"household.{name}_price")[0]
        return figure.value

    def _repair(self, kind: str) -> dict[str, Any]:
        """What today's repair emits by itself, and by the charge that it fills in."""
        value, *of_work = self._take("repair", carbon_tables().figure("repair", kind, self._region), "kg")
        opened = any(map(tables().opens_the_circuit, self._case.faults))
        refilled, low, high = self._loss("repair_refrigerant", kind, float(self._case.appliance.age), opened)
        self._ranges["repair.quote.amount"] = low + of_work[0], high + of_work[1]
        return {"repair": value, "repair_refrigerant": refilled}

    def _made(self) -> dict[str, Any]:
        """What making each new unit emits, and what it loses in the end; one figure of a class moves all its units."""
        made, lost = [], []
        for path, option in zip(option_paths(self._case), self._case.options, strict=True):
            if option.appliance is None:
                continue
            kind = option.appliance.kind
            built, low, high = self._take("made", carbon_tables().figure("made", kind, self._region), "kg")
            leaks, lost_low, lost_high = self._loss("refrigerant", kind, float(option.appliance.age))
            made.append(built)
            lost.append(leaks)
            if low + lost_low < high + lost_high:
                whole = built + leaks
                self._makings[f"{path}.price"] = (low + lost_low) / whole, (high + lost_high) / whole
        return {"made": tuple(made), "refrigerant": tuple(lost)}

    def _loss(self, name: str, kind: str, age: float, opened: bool = True) -> tuple[float, float, float]:
        """What is lost of a charge in the end, with the least and the most that it may be; nothing if unopened."""
        inside = carbon_tables().refrigerant(kind, self._region, self._year - age) if opened else None
        self._names.append("" if inside is None else inside.name)
        if inside is None:
            return (self._entered.get(name, 0.0),) * 3
        lost, charge = carbon_tables().figure("refrigerant_lost", kind, self._region), inside.charge
        value, low, high = (
            float(refrigerant_loss(float(of_charge or 0.0), inside.warming, float(of_lost or 0.0)))
            for of_charge, of_lost in zip(*((each.value, each.low, each.high) for each in (charge, lost)), strict=True)
        )
        rule = f"{inside.name}: {charge.value:g} kg x {inside.warming:g} x {lost.value:g}"
        return self._take(name, replace(charge, value=value, low=low, high=high), "kg", rule)


@functools.cache
def carbon_tables() -> CarbonTables:
    """Read the shipped tables of carbon, once a run."""
    read = {name: list(rows(data_dir() / name, columns)) for name, columns in COLUMNS.items()}
    found: dict[tuple[str, str], tuple[Refrigerant, ...]] = {}
    for row in read["carbon_refrigerants.csv"]:
        key, each = _refrigerant(row)
        known = found.get(key, ())
        if known and known[-1].since >= each.since:
            raise row.broken("the years of a class in a region must follow each other")
        found[key] = (*known, each)
    paths = {region: _path(region, read["carbon_paths.csv"]) for region in CURRENCIES}
    grid, figures = keyed(read["carbon_grid.csv"], _grid_row), keyed(read["carbon_figures.csv"], _figure_row)
    return CarbonTables(grid, paths, figures, found)


def _estimate(row: CsvRow, value: float, ends: tuple[float | None, float | None], unit: str) -> Estimate:
    source = Source(row.text("source"), row.text("source"), "", "")
    return Estimate(value, *ends, unit, source=source, **standing(row))


def _grid_row(row: CsvRow) -> tuple[str, tuple[Estimate, float]]:
    value, loss = row.number("value"), row.number("loss")
    if not 0 <= loss < 0.5:
        raise row.broken("loss must be a share from 0 to 0.5, got {got:g}", loss)
    made = _estimate(row, value, row.bounds(value), row.choice("unit", ("kg CO2e/kWh",)))
    return row.choice("place", tables().known_places), (made, loss)


def _figure_row(row: CsvRow) -> tuple[tuple[str, str, str], Estimate]:
    quantity, value = row.choice("quantity", CARBON_UNITS), row.number("value")
    unit = row.choice("unit", (CARBON_UNITS[quantity],))
    kind, region = row.choice("class", (*tables().known_classes, ANY)), row.choice("region", (*CURRENCIES, ANY))
    return (kind, region, quantity), _estimate(row, value, row.bounds(value), unit)


def _refrigerant(row: CsvRow) -> tuple[tuple[str, str], Refrigerant]:
    charge = row.number("charge")
    key = row.choice("class", tables().known_classes), row.choice("region", CURRENCIES)
    estimate = _estimate(row, charge, row.bounds(charge), "kg")
    return key, Refrigerant(row.text("refrigerant"), int(row.number("since")), estimate, row.number("warming"))


def _path(region: str, read: list[CsvRow]) -> Path:
    mine = [row for row in read if row.choice("region", CURRENCIES) == region]
    years = np.array([row.number("path_year") for row in mine])
    levels = np.array([[row.number(name) for row in mine] for name in ("level", "low", "high")])
    if not (len(mine) > 1 and np.all(np.diff(years) > 0) and np.all(levels[:, 0] == 1) and np.all(levels > 0)):
        raise DataError("carbon_paths.csv, {region}: levels must be above 0, begin at 1 and follow the years", region)
    every = np.arange(years[0] + 1, years[-1] + 1)
    by_year = np.array([np.interp(every, years, each) for each in levels])
    return Path(by_year, _estimate(mine[0], 1.0, (None, None), "-"))


def all_ranges(filled: CarbonFilled, of_the_case: tuple[Range, ...]) -> tuple[Range, ...]:
    """Ranges of the case in carbon: its own, and those of the lives and the consumption that it shares with money."""
    shared = (each for each in of_the_case if all(path.rpartition(".")[2] in PHYSICAL for path in each.paths))
    return (*filled.ranges, *shared)
