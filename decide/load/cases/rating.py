"""What a rating label or the law says that a unit uses in a year, from the `label` entry of a unit.

One rating, and what it needs beside it; the format stands in DEVELOPERS.md under 'What a case file can hold'. Each
number is declared once, in `entries.csv`, with its unit and bounds. A limit gives a *ceiling* of the label's figure; a
class letter gives a range, of which the middle is taken. What a test assumes stands in the label tables, with who says
so.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Final

from ...energy import us_labels as us
from ...energy.consumption import at_own_cycles, per_cycle_water, therms_to_kwh
from ...energy.eu_labels import per_hundred_cycles_energy
from ...energy.us_labels import LITRES_PER_GALLON
from ...errors import CaseError
from ..files.rows import ANY, rows
from ..tables.labels import Basis, label_figure
from ..tables.tables import ApplianceClass, data_dir
from .reading import CaseReader, declared

NUMBERS: Final = declared("label")

WATER: Final = ("gallons_per_cycle", "litres_per_cycle")
"""Water of a cycle, which may stand beside any rating of a washer or dishwasher."""

LABEL_NAMES: Final = {
    row.text("class"): row.cells
    for row in rows(data_dir() / "label_names.csv", "class,limits,label,cycles_US,cycles_EU")
}
"""What limits and labels call a class, and the figure of the cycles behind a printed year, by region."""

Flows = dict[str, float]


@dataclass
class Given:
    """Numbers that stand with a rating; what a test assumes where one does not, and the rows that say so."""

    reader: CaseReader
    path: str
    """Path of the unit, without the label."""
    kind: ApplianceClass
    numbers: Mapping[str, float]
    own_cycles: float | None = None
    """The household's cycles a year, where they were entered."""
    bases: list[Basis] = field(default_factory=list)

    def __getitem__(self, name: str) -> float:
        return self.numbers[name]

    def __contains__(self, name: str) -> bool:
        return name in self.numbers

    def figure(self, key: str) -> float:
        """Take a number of the label tables, and note the row."""
        found = label_figure(key)
        self.bases += found.bases
        return float(found.value)

    def or_figure(self, name: str, key: str) -> float:
        """The number that was entered, or else that of the label tables."""
        return self.numbers[name] if name in self.numbers else self.figure(key)

    def cycles(self) -> float:
        """The household's cycles a year, or else the usual ones, noted as a default."""
        if self.own_cycles is not None:
            return self.own_cycles
        return self.reader.default(self.path, "cycles", "cycles", self.kind.kind)

    def yearly(self, printed: float) -> float:
        """A yearly print turned to the household's own cycles, where these were entered."""
        if self.own_cycles is None:
            return printed
        known = LABEL_NAMES.get(self.kind.kind, {}).get(f"cycles_{self.reader.region}", "")
        if not known and "label_cycles" not in self.numbers:
            raise CaseError("label_cycles", "is needed with cycles: how many the print assumes, as the label says")
        return float(at_own_cycles(printed, self.or_figure("label_cycles", known), self.own_cycles))


@dataclass(frozen=True)
class Rating:
    """A rating: the classes that bear it, what it needs beside it, what may stand beside it, and what follows."""

    classes: tuple[str, ...]
    use: Callable[[Given, float], Flows]
    needs: tuple[str, ...]
    may: tuple[str, ...]

    def borne_by(self, kind: ApplianceClass) -> bool:
        """Whether units of a class bear this rating."""
        return self.classes == (ANY,) or kind.kind in self.classes


def _printed(given: Given, kwh: float) -> Flows:
    if "electricity" not in given.kind.fuels:
        raise CaseError("kwh_per_year", "is electricity, and it runs on gas: give therms_per_year")
    return {"electricity": given.yearly(kwh)}


def _energy_factor(given: Given, factor: float) -> Flows:
    """The older test: cycles a kWh of a dishwasher, pounds a kWh of a dryer, heat over fuel of a water heater."""
    if given.kind.kind == "dishwasher":
        return {"electricity": float(us.dishwasher_from_energy_factor(factor, given.cycles()))}
    if RATINGS["cef"].borne_by(given.kind):
        return _dried(given, factor / given.figure("dryer-ef-to-cef"))
    if "hot_water" in given:
        return _heated(given, factor)
    return _of_its_fuel(given, float(us.water_heater(given.figure("water-heater-ef-heat"), factor)))


def _dried(given: Given, factor: float) -> Flows:
    pounds = given.or_figure("test_load", "dryer-load")
    energy = float(us.dryer_from_combined_energy_factor(factor, given.cycles(), pounds))
    if given.kind.kind != "clothes_dryer_gas":
        return {"electricity": energy}
    parts = us.split_gas_dryer(energy, given.figure("dryer-gas-electric-share"))
    return {"electricity": float(parts.electricity), "gas": float(parts.gas)}


def _washed_before_2015(given: Given, factor: float) -> Flows:
    line = given.figure("washer-mef-offset"), given.figure("washer-mef-slope")
    return _washed(given, float(us.integrated_modified_energy_factor(factor, *line)))


def _washed(given: Given, factor: float) -> Flows:
    energy = us.washer_from_modified_energy_factor(given["drum_volume"], factor, given.cycles())
    return {"electricity": float(energy)}


def _heated(given: Given, factor: float) -> Flows:
    rise = given.or_figure("temperature_rise", "water-heater-rise")
    return _of_its_fuel(given, float(us.water_heater(us.hot_water_heat(given["hot_water"], rise), factor)))


def _of_its_fuel(given: Given, energy: float) -> Flows:
    return {"gas" if "gas" in given.kind.fuels else "electricity": energy}


def _cooled(given: Given, ratio: float) -> Flows:
    room = given.kind.kind == "room_ac"
    hours = given.or_figure("full_load_hours", "room-air-conditioner-hours") if room else given["full_load_hours"]
    return {"electricity": float(us.from_energy_efficiency_ratio(given["capacity"], hours, ratio))}


def _heat_pump(given: Given, ratio: float, cooling: str) -> Flows:
    """Heating by one ratio, and cooling by the other where it is given with its capacity and hours."""
    heat = float(us.from_energy_efficiency_ratio(given["heating_capacity"], given["heating_hours"], ratio))
    if cooling not in given:
        return {"electricity": heat}
    missing = [name for name in RATINGS[cooling].needs if name not in given]
    if missing:
        raise CaseError(missing[0], "is needed with {other}", cooling)
    return {"electricity": heat + _cooled(given, given[cooling])["electricity"]}


def _fired(given: Given, gross_efficiency: float) -> Flows:
    """Gas; and electricity where the power and hours of its fan or pump are given."""
    if ("fan_watts" in given) != ("fan_hours" in given):
        raise CaseError("fan_hours" if "fan_watts" in given else "fan_watts", "is needed: its power and its hours")
    fan = (given["fan_watts"], given["fan_hours"]) if "fan_watts" in given else (0.0, 0.0)
    use = us.furnace(given["heat_load"], gross_efficiency, *fan)
    flows = {"gas": float(use.gas)}
    return {**flows, "electricity": float(use.electricity)} if "fan_watts" in given else flows


USES: Final[Mapping[str, Callable[[Given, float], Flows]]] = {
    "kwh_per_year": _printed,
    "therms_per_year": lambda given, therms: {"gas": float(therms_to_kwh(therms))},
    "kwh_per_100_cycles": lambda given, kwh: {"electricity": float(per_hundred_cycles_energy(kwh, given.cycles()))},
    "energy_factor": _energy_factor,
    "cef": _dried,
    "mef": _washed_before_2015,
    "imef": _washed,
    "uef": _heated,
    **dict.fromkeys(("eer", "ceer", "seer", "seer2"), _cooled),
    "hspf": lambda given, ratio: _heat_pump(given, ratio, "seer"),
    "hspf2": lambda given, ratio: _heat_pump(given, ratio, "seer2"),
    "afue": _fired,
    # by net calorific value, turned to gross, by which gas is billed; AFUE is gross already
    "net_efficiency": lambda given, net: _fired(given, net / given.figure("gas-gross-over-net")),
}
RATINGS: Final = {
    row.text("rating"): Rating(
        use=USES[row.text("rating")],
        **{part: tuple(row.cells[part].split(";") if row.cells[part] else ()) for part in ("classes", "needs", "may")},
    )
    for row in rows(data_dir() / "ratings.csv", "rating,classes,needs,may")
}
IN_CYCLES: Final = RATINGS["kwh_per_100_cycles"].classes


def rated_use(rating: str, given: Given) -> Flows:
    """Yearly flows that a rating says; an error names what it lacks.

    Raises `CaseError`: a number that the rating needs is missing or cannot be.
    """
    for name in RATINGS[rating].needs:
        if name not in given:
            raise CaseError(name, "is needed with {other}, in {unit}", rating, NUMBERS[name].unit)
    return RATINGS[rating].use(given, given[rating])


def water_use(given: Given) -> Flows:
    """Yearly water from the water of a cycle, where it is given."""
    litres = [given[name] * times for name, times in zip(WATER, (LITRES_PER_GALLON, 1.0), strict=True) if name in given]
    if len(litres) > 1:
        raise CaseError(WATER[1], "gives the water twice, with {other}", WATER[0])
    return {"water": float(per_cycle_water(litres[0], given.cycles()))} if litres else {}
