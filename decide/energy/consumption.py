"""What an appliance uses in a year: electricity, gas and water, from what is known of the unit.

Three ways lead to yearly energy:

* the power it draws and the hours it runs; or the energy of a cycle and the number of cycles;
* a rating printed on the unit (an energy factor, a seasonal ratio, a class letter), with the load;
* the legal limit at its year of manufacture, a *ceiling* of its label value and never a measurement.

The first is here; the ratings and limits of the United States are in `us_labels`, the European label in `eu_labels`.
Coefficients that may be uncertain stand in the label tables, with who says so, and come in as arguments.

Every number may be a column with one entry a case on its leading axis. Energy is in kWh/year, of whatever fuel. An
input out of its bounds, NaN among them, raises `OutOfRange`.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np

from ..arrays import Floats, Number
from ..errors import OutOfRange

HOURS_PER_DAY: Final = 24.0
DAYS_PER_YEAR: Final = 365.0
HOURS_PER_YEAR: Final = HOURS_PER_DAY * DAYS_PER_YEAR
WATTS_PER_KILOWATT: Final = 1000.0
LITRES_PER_CUBIC_METRE: Final = 1000.0
ROUGH: Final = HOURS_PER_DAY
"""Hours. A log shorter than a day has not seen the day's rhythm."""

BTU_PER_KWH: Final = 3412.141633
"""International Table Btu in a kilowatt-hour: 3 600 000 J / 1055.05585262 J (ISO 31-4)."""
BTU_PER_THERM: Final = 100_000.0
KWH_PER_THERM: Final = BTU_PER_THERM / BTU_PER_KWH

LEAST: Final = 1e-9
"""What is divided by must be at least this: anything under it is a slip of the unit."""
DUST: Final = 1e-9
"""Added before rounding, so that a half which binary fractions put just below itself is still a half."""


@dataclass(frozen=True, kw_only=True)
class YearlyUse:
    """What a unit takes in a year: electricity and gas [kWh/year], water [m3/year]."""

    electricity: Number = 0.0
    gas: Number = 0.0
    water: Number = 0.0


def require_within(field: str, value: Number, low: float, high: float, unit: str) -> Floats:
    """Hand a number or column on as an array; `OutOfRange` for the first entry outside its bounds, infinite or NaN."""
    given = np.asarray(value, dtype=np.float64)
    offenders = given[~((given >= low) & (given <= high) & np.isfinite(given))]
    if offenders.size:
        raise OutOfRange(field, low, high, unit, float(offenders.flat[0]))
    return given


def require_positive(field: str, value: Number, unit: str) -> Floats:
    """Hand a finite number above zero on as an array: it is about to be divided by."""
    return require_within(field, value, LEAST, np.inf, unit)


def require_amount(field: str, value: Number, unit: str) -> Floats:
    """Hand a finite number of zero or more on as an array."""
    return require_within(field, value, 0.0, np.inf, unit)


def round_half_up(value: Number, decimals: int) -> Floats:
    """Round to some decimals as the regulations do: an exact half goes up, where numpy would go to the even one."""
    scale = 10.0**decimals
    return np.asarray(np.floor(np.asarray(value, dtype=np.float64) * scale + 0.5 + DUST) / scale)


def therms_to_kwh(therms: Number) -> Floats:
    """Energy of gas billed in therms, in kilowatt-hours: 1 therm = 100 000 Btu; shape (...). [kWh]"""
    return require_amount("therms", therms, "therm") * KWH_PER_THERM


def from_power(watts: Number, hours_per_day: Number, standby_watts: Number = 0.0) -> Floats:
    """Yearly energy of a known power, and standby power in the other hours: E = 365 (P h + P_standby (24 - h)) / 1000.

    `watts` and `standby_watts` in W, `hours_per_day` in hour/day, shape (...). [kWh/year]
    """
    running = require_within("hours_per_day", hours_per_day, 0.0, HOURS_PER_DAY, "hour/day")
    on = require_amount("watts", watts, "W") * running
    idle = require_amount("standby_watts", standby_watts, "W") * (HOURS_PER_DAY - running)
    return DAYS_PER_YEAR * (on + idle) / WATTS_PER_KILOWATT


def per_cycle_energy(kwh_per_cycle: Number, cycles: Number) -> Floats:
    """Yearly energy: that of a cycle [kWh/cycle] times the household's cycles [cycle/year], shape (...). [kWh/year]"""
    per_cycle = require_amount("kwh_per_cycle", kwh_per_cycle, "kWh/cycle")
    return per_cycle * require_amount("cycles", cycles, "cycle/year")


def per_cycle_water(litres_per_cycle: Number, cycles: Number) -> Floats:
    """Yearly water: that of a cycle [litre/cycle] times the household's cycles [cycle/year], shape (...). [m3/year]"""
    per_cycle = require_amount("litres_per_cycle", litres_per_cycle, "litre/cycle")
    return per_cycle * require_amount("cycles", cycles, "cycle/year") / LITRES_PER_CUBIC_METRE


def at_own_cycles(label_energy: Number, label_cycles: Number, cycles: Number) -> Floats:
    """Yearly energy of the label, turned from the cycles behind its print to the household's own.

    `label_energy` in kWh/year, `label_cycles` and `cycles` in cycle/year, shape (...). [kWh/year]
    """
    printed = require_amount("label_energy", label_energy, "kWh/year")
    return per_cycle_energy(printed / require_positive("label_cycles", label_cycles, "cycle/year"), cycles)


def linear_standard(size: Number, slope: Number, intercept: Number) -> Floats:
    """A limit or a standard use that grows with the unit's size: slope times size plus intercept, shape (...).

    Serves the federal limits (adjusted or storage volume) and the European standard uses of 2010 (equivalent volume,
    kilograms, place settings). The slope may be negative; the result may not.
    """
    line = np.asarray(slope) * require_amount("size", size, "") + np.asarray(intercept)
    return require_amount("limit", line, "")
