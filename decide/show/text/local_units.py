"""Units that people of a place read and type, in place of those that files keep. Nothing else converts for them."""

from dataclasses import dataclass
from typing import Final

from ...economics.household import PROPANE
from ...energy.consumption import KWH_PER_THERM, LITRES_PER_CUBIC_METRE
from ...energy.us_labels import LITRES_PER_GALLON
from ...load.tables.tables import tables


@dataclass(frozen=True)
class LocalUnit:
    """A unit as it is said in a place: its name, and how a value of the file's unit becomes one of it."""

    name: str
    factor: float = 1.0
    offset: float = 0.0

    def shown(self, value: float) -> float:
        """The value as people of the place read it."""
        return value * self.factor + self.offset

    def filed(self, value: float) -> float:
        """What they typed, in the unit of files."""
        return (value - self.offset) / self.factor


READINGS: Final = {
    "C": LocalUnit("F", 9 / 5, 32.0),
    "K": LocalUnit("R", 9 / 5),
    "bar": LocalUnit("psi", 14.5038),
    "cm": LocalUnit("in", 1 / 2.54),
}
"""What instruments in the US show in place of the units of `check_facts.csv`."""

_GALLONS: Final = LITRES_PER_CUBIC_METRE / LITRES_PER_GALLON
_OF_THE_US: Final = {
    "C": LocalUnit("degF", 9 / 5, 32.0),
    "m3/year": LocalUnit("gal/year", _GALLONS),
    "m3": LocalUnit("gal", _GALLONS),
    "money/m3": LocalUnit("money/kgal", 1000 / _GALLONS),
    "kg/m3": LocalUnit("kg/kgal", 1000 / _GALLONS),
}


_OF_FILES: Final = ("kWh", "kWh/year", "money/kWh", "kg/kWh")
"""Units of an amount of gas, of its flow, of its price, and of what burning it emits."""


def local_unit(region: str, unit: str, path: str = "", gas: str = "") -> LocalUnit:
    """How a value with that unit is said in a region; gas is known by its path, `gas` says which gas it is."""
    american = region == "US"
    *heads, name = path.split(".")
    if name == "cycles" and unit == "cycle/year":
        return LocalUnit("cycle/week", 7 / 365)
    of_gas = name in ("gas", "gas_price") or "gas_tariff" in heads
    if of_gas and unit in _OF_FILES and (american or gas == PROPANE):
        counted, heat = "therm", KWH_PER_THERM
        if gas == PROPANE:
            counted, gallons = ("gal", 1.0) if american else ("litre", 1 / LITRES_PER_GALLON)
            heat = gallons * tables().usual("propane_heat", region).value
        return LocalUnit(unit.replace("kWh", counted), heat if "/kWh" in unit else 1 / heat)
    return _OF_THE_US.get(unit, LocalUnit(unit)) if american else LocalUnit(unit)
