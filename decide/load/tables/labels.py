"""Label and limit tables: what the law let a unit use when it was made, and what a class letter stands for.

`data/label_limits_us.csv` and `data/label_limits_eu.csv` hold one coefficient a row, each with its source, the place in
it, its year and how surely it is known. Whatever is computed here carries the rows it used, so a figure known only from
memory cannot pass for one that was read: see `status` of each result. Old and new vintages stand side by side.
"""

import functools
import itertools
import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import Final, Literal, cast

import numpy as np

from ...arrays import Floats, Number
from ...energy import eu_labels
from ...energy.consumption import linear_standard, require_within
from ...energy.us_labels import adjusted_volume, refrigerator_limit
from ...errors import CaseError, DataError
from ..files.rows import CsvRow, keyed, rows
from .sourced import STATUSES, columns_of, data_dir

US: Final = "label_limits_us.csv"
EU: Final = "label_limits_eu.csv"
COLUMNS: Final = columns_of("label_limits_us", "label_limits_eu")
FRIDGE: Final = "refrigerator_freezer"
FIRST_LIMIT_YEAR: Final = 1990
NEW_VOLUMES: Final = date(2014, 9, 15)  # From here on freezer volumes count by the factors of the later test procedure.
FREEZER_CLASSES: Final = frozenset({"8", "9", "10", "16", "17", "18"})
"""Federal product classes, less their suffixes, that are freezers; the others have fresh food."""
FROZEN: Final = ("three_star", "four_star")
ALWAYS_FROZEN: Final = ("zero_star_ice", "one_star", "two_star", *FROZEN)
MOST_DOORS: Final = 5
NO_LIMITS: Final = ("figure", "volume_factor")  # Rows of label_limits_us.csv that are no limits.


@dataclass(frozen=True, slots=True)
class Basis:
    """The row that a number rests on, and who says so."""

    key: str
    source: str
    locator: str
    year: int
    status: str
    note: str


@dataclass(frozen=True, slots=True)
class Limit:
    """A federal limit: a constant, or a line in the unit's size (slope 0 for a constant), for a span of manufacture.

    `metric` names what is limited and which way: max_energy, max_water, min_uef, min_cef, min_seer, ...
    `icemaker` is added for an automatic icemaker where the class does so (None: it does not), `doors` names the
    factor for special doors.
    """

    appliance: str
    made_from: date
    made_to: date | None
    product_class: str
    description: str
    metric: str
    slope: float
    intercept: float
    icemaker: float | None
    doors: str
    unit: str
    basis: Basis


@dataclass(frozen=True, slots=True)
class Rated:
    """A number of the tables (a test convention, a factor), or one computed from them; and the rows it used."""

    value: Number
    unit: str
    bases: tuple[Basis, ...]


@dataclass(frozen=True, slots=True)
class LabelScale:
    """The letters of one label, the units they were put on, and the rows they come from."""

    name: str
    appliance: str
    applies_from: date
    applies_to: date | None
    unit: str
    scale: eu_labels.ClassScale
    bases: tuple[Basis, ...]


def least_sure(bases: Sequence[Basis]) -> str:
    """Weakest status among the rows that a result rests on."""
    return max((basis.status for basis in bases), key=STATUSES.index)


def refrigerator_ceiling(
    product_class: str,
    year: int,
    fresh_volume: Number,
    freezer_volume: Number,
    icemakers: Literal[0, 1] = 0,
    door_factor: Number = 1.0,
) -> Rated:
    """Most that a refrigerator or freezer of this class, size and year can have used by its label [kWh/year].

    A fallback when the label is gone, not a measurement. In a year of change the laxer limit counts, and the bases
    list both. `product_class` is one of `refrigerator_classes`, volumes are of compartments, shape (...) [ft3]; from
    2029 some classes add an allowance for an automatic icemaker, and a factor K for special doors, shape (...).

    Raises `CaseError`: made before 1990, no such class in that year, a volume or an icemaker that it does not cover.
    """
    freezer = re.sub(r"\D.*", "", product_class) in FREEZER_CLASSES
    known = refrigerator_classes(year)
    if product_class not in known:
        template = "must be one of {known} in {year}, got {got}"
        raise CaseError("limit", template, ", ".join(known), year, product_class)
    scope = label_figure("us-scope-freezer" if freezer else "us-scope-refrigerator")
    most = float(scope.value)
    require_within("fresh_volume", fresh_volume, 0.0, 0.0 if freezer else most, scope.unit)
    require_within("volume", np.asarray(fresh_volume) + np.asarray(freezer_volume), 0.0, most, scope.unit)
    found = tuple(limit for limit in limits(FRIDGE, year, "max_energy") if limit.product_class == product_class)
    used: list[Basis] = []
    values: list[Number] = []
    for limit in found:
        if icemakers and limit.icemaker is None:
            template = "class {kind} adds nothing for one; choose the class that has it"
            raise CaseError("icemakers", template, product_class)
        if not limit.doors and np.any(np.asarray(door_factor) != 1):
            raise CaseError("door_factor", "must be 1 for class {kind} in {year}", product_class, year)
        era = 2014 if limit.made_from >= NEW_VOLUMES else 1990
        factor = label_figure(f"av-{'freezer' if freezer else 'refrigerator-freezer'}-{era}")
        volume = adjusted_volume(fresh_volume, freezer_volume, factor.value)
        allowance = icemakers * (limit.icemaker or 0.0)
        values.append(refrigerator_limit(volume, limit.slope, limit.intercept, door_factor, allowance))
        used += [limit.basis, *factor.bases]
    return Rated(functools.reduce(np.maximum, values), "kWh/year", tuple(used))


def refrigerator_classes(year: int) -> dict[str, str]:
    """Federal product classes of refrigerators and freezers made in a year, with what each is."""
    return {limit.product_class: limit.description for limit in limits(FRIDGE, year, "max_energy")}


def limits(appliance: str, year: int, metric: str | None = None) -> tuple[Limit, ...]:
    """Federal limits in force at any time in a year of manufacture; none where there was none yet.

    `metric` asks for that one only, as max_energy or min_uef. `CaseError`: made before the first limits of 1990.
    """
    require_within("year", year, FIRST_LIMIT_YEAR, math.inf, "")
    wanted = (limit for limit in _limits() if limit.appliance == appliance and metric in (None, limit.metric))
    return tuple(limit for limit in wanted if _in_force(limit.made_from, limit.made_to, year))


def _in_force(begin: date, end: date | None, year: int) -> bool:
    return begin.year <= year and (end is None or year <= end.year)


def limit_at(limit: Limit, size: Number) -> Rated:
    """Value of a federal limit for a unit's size (storage volume of a water heater; any size where it is constant)."""
    return Rated(linear_standard(size, limit.slope, limit.intercept), limit.unit, (limit.basis,))


def label_figure(key: str) -> Rated:
    """Look up one number of the tables by its key."""
    figures = _figures()
    if key not in figures:
        raise DataError("the label tables hold no figure {key!r}", key)
    return figures[key]


def label_scale(name: str) -> LabelScale:
    """Look up a label's scale by name, as fridge-2021 or washer-1996; CaseError names the known ones."""
    known = _scales()
    if name not in known:
        raise CaseError("label", "must be one of {known}, got {got}", ", ".join(known), name)
    return known[name]


def scales_for(appliance: str, year: int) -> tuple[LabelScale, ...]:
    """Scales that a unit put on the market in a year can bear; two in a year of change, or by kind."""
    known = (scale for scale in _scales().values() if scale.appliance == appliance)
    borne = (scale for scale in known if _in_force(scale.applies_from, scale.applies_to, year))
    return tuple(sorted(borne, key=lambda scale: scale.applies_from))


def class_consumption(name: str, letter: str, standard: Rated) -> tuple[Floats, Floats, tuple[Basis, ...]]:
    """Least and most that a unit with this letter uses, given the standard use of its size, and the rows used.

    `name` is a scale as `label_scale` has it; `standard` for one in kWh/kg the rated load. [kWh/year, kWh/cycle or kg]
    """
    found = label_scale(name)
    low, high = eu_labels.consumption_range(letter, found.scale, standard.value)
    own = tuple(basis for basis in found.bases if basis.key == f"{name}-{letter}")
    return low, high, own + standard.bases


def standard_use(table: str, size: Number) -> Rated:
    """Standard yearly use on the labels of 2011 to 2025, from the coefficients of a table, as standard-washer-2011.

    `size` is rated capacity, place settings or equivalent volume, shape (...). [kg, setting or litre]
    """
    parts = {key.removeprefix(f"{table}-"): item for key, item in _figures().items() if key.startswith(f"{table}-")}
    if parts.keys() == {"slope", "intercept"}:
        value = linear_standard(size, parts["slope"].value, parts["intercept"].value)
    elif parts.keys() == {"slope", "exponent"}:
        value = eu_labels.power_law_standard(size, parts["slope"].value, parts["exponent"].value)
    else:
        raise DataError("the label tables hold no standard use {table!r}", table)
    return Rated(value, "kWh/year", tuple(basis for item in parts.values() for basis in item.bases))


def fridge_standard(
    litres: Mapping[str, Number], doors: int, defrost: str = "auto", placing: str = "freestanding"
) -> Rated:
    """Standard yearly use on the label of 2021 of a refrigerating appliance, from the litres of its compartments.

    The kinds of these are those of (EU) 2019/2016 Annex IV Table 3; `defrost` is auto or manual, `placing` freestanding
    or built_in. `doors` counts the external doors or the compartments, whichever are fewer: Annex IV point 4.
    """
    require_within("doors", doors, 1.0, math.inf, "door")
    door, combi = label_figure(f"doors-{min(max(doors, 2), MOST_DOORS)}"), _combi_factor(litres)
    compartments, bases = [], []
    for kind, volume in litres.items():
        names = ("rc", "Nc", "Mc", f"Ac_{defrost}_defrost", f"Bc_{placing}")
        keys = [f"compartment-{kind}-{name}".replace("_", "-") for name in names]
        if any(key not in _figures() for key in keys):
            template = "{kind}, {defrost}, {placing} is not in (EU) 2019/2016 Annex IV"
            raise CaseError("compartment", template, kind, defrost, placing)
        figures = [label_figure(key) for key in keys]
        compartments.append(eu_labels.Compartment(volume, *(float(figure.value) for figure in figures)))
        bases += [basis for figure in figures for basis in figure.bases]
    value = eu_labels.fridge_standard_energy(compartments, combi.value, door.value)
    return Rated(value, "kWh/year", (*bases, *door.bases, *combi.bases))


def _combi_factor(litres: Mapping[str, Number]) -> Rated:
    types = label_figure("combi-types")
    if len(litres) < types.value or set(litres) <= set(ALWAYS_FROZEN):
        return label_figure("combi-factor-single")
    if not set(litres) & set(FROZEN):
        # Who counts as a combi here hangs on the definition itself.
        combi = label_figure("combi-factor-combi")
        return replace(combi, bases=combi.bases + types.bases)
    frozen = sum((np.asarray(litres[kind]) for kind in litres if kind in FROZEN), np.zeros(()))
    whole = sum((np.asarray(volume) for volume in litres.values()), np.zeros(()))
    return replace(label_figure("combi-factor-frozen"), value=eu_labels.fridge_combi_factor(frozen / whole))


@functools.cache
def _limits() -> tuple[Limit, ...]:
    return tuple(_limit(row) for row in rows_of(US) if row.cells["metric"] not in NO_LIMITS)


def _limit(row: CsvRow) -> Limit:
    cells, sloped = row.cells, row.cells["slope"] != ""
    return Limit(
        made_from=_first_day(row, "made_from"),
        made_to=row.day("made_to"),
        slope=row.number("slope") if sloped else 0.0,
        intercept=row.number("intercept" if sloped else "value"),
        icemaker=row.number("icemaker") if cells["icemaker"] else None,
        basis=_basis(row),
        **{name: cells[name] for name in ("appliance", "product_class", "description", "metric", "doors", "unit")},
    )


@functools.cache
def _figures() -> dict[str, Rated]:
    american = [row for row in rows_of(US) if row.cells["metric"] in NO_LIMITS]
    found = [*american, *(row for row in rows_of(EU) if not row.cells["bound_in"])]
    return {row.text("key"): Rated(row.number("value"), row.text("unit"), (_basis(row),)) for row in found}


@functools.cache
def _scales() -> dict[str, LabelScale]:
    bounded = [row for row in rows_of(EU) if row.cells["bound_in"]]
    names = dict.fromkeys(row.cells["table"] for row in bounded)
    return {name: _scale(name, [row for row in bounded if row.cells["table"] == name]) for name in names}


def _scale(name: str, rows: Sequence[CsvRow]) -> LabelScale:
    """One label from its rows, best letter first; a gap between two letters is an error of the table."""
    for better, worse in itertools.pairwise(row.cells for row in rows):
        if better["high"] != worse["low"] or better["bound_in"] != worse["bound_in"]:
            raise DataError("label_limits_eu.csv: {better} and {worse} do not meet", better["key"], worse["key"])
    first = rows[0]
    bound_in, percent = first.choice("bound_in", ("better", "worse")), first.choice("unit", ("%", "kWh/kg")) == "%"
    scale = eu_labels.ClassScale(
        letters=tuple(row.cells["item"] for row in rows),
        bounds=tuple(row.number("high") for row in rows[:-1]),
        bound_in=cast(Literal["better", "worse"], bound_in),
        full=eu_labels.PERCENT if percent else 1.0,
        decimals=1 if percent else None,
    )
    span = _first_day(first, "applies_from"), first.day("applies_to")
    return LabelScale(name, first.text("appliance"), *span, first.text("unit"), scale, tuple(map(_basis, rows)))


@functools.cache
def rows_of(name: str) -> tuple[CsvRow, ...]:
    """Rows of label_limits_us.csv or label_limits_eu.csv, in the order of the file."""
    return read_rows(data_dir() / name, COLUMNS[name])


def read_rows(path: Path, columns: str) -> tuple[CsvRow, ...]:
    """Read one of the two files, refusing a row without source, place in it, year or status, or with a used key.

    Raises `DataError`: with the file and the line.
    """

    def checked(row: CsvRow) -> tuple[str, CsvRow]:
        row.year(), row.choice("status", STATUSES)
        for name in ("appliance", "unit", "source", "locator"):
            row.text(name)
        return row.text("key"), row

    return tuple(keyed(rows(path, columns), checked).values())


def _basis(row: CsvRow) -> Basis:
    key, source, locator, status = (row.text(name) for name in ("key", "source", "locator", "status"))
    return Basis(key, source, locator, row.year(), status, row.cells["note"])


def _first_day(row: CsvRow, column: str) -> date:
    row.text(column)  # no span begins without a day
    return cast(date, row.day(column))
