"""The ratings and limits of the United States, as yearly electricity, gas and water.

What the yellow label or the rating plate prints, turned into a year's use. Each function takes the rating by the name
that the federal test procedure (10 CFR 430 Subpart B) gives it, and what the household asks of the unit. The limits
(10 CFR 430.32) come as coefficients out of the label tables, which say how surely each is known.

Every number may be a column with one entry a case on its leading axis. An input out of its bounds, NaN among them,
raises `OutOfRange`.
"""

from typing import Final

import numpy as np

from ..arrays import Floats, Number
from . import consumption
from .consumption import DAYS_PER_YEAR, HOURS_PER_YEAR, YearlyUse, require_amount, require_positive, require_within

RATING_BTU_PER_KWH: Final = 3412.0
"""Btu in a kilowatt-hour as the federal test procedures round it; ratings are to be read with it."""
POUNDS_OF_WATER_PER_GALLON: Final = 8.24
"""Water at 125 F, as 10 CFR 430 Subpart B Appendix E has it; a pound takes 1 Btu a degree."""
LITRES_PER_GALLON: Final = 3.785411784  # US liquid gallon, exact (NIST Handbook 44, Appendix C)


def adjusted_volume(fresh_volume: Number, freezer_volume: Number, freezer_factor: Number) -> Floats:
    """Volume that counts the colder freezer for more: AV = fresh + k freezer, k of kind and date; shape (...). [ft3]"""
    freezer = require_amount("freezer_volume", freezer_volume, "ft3")
    factor = require_amount("freezer_factor", freezer_factor, "")
    return require_amount("fresh_volume", fresh_volume, "ft3") + factor * freezer


def refrigerator_limit(
    volume: Number, slope: Number, intercept: Number, door_factor: Number = 1.0, allowance: Number = 0.0
) -> Floats:
    """Most that the law let a refrigerator or freezer use on its label: K (a AV + b) + I, an exact half up. [kWh/year]

    `volume` is AV [ft3]; slope a [kWh/year per ft3] and intercept b [kWh/year] are of the product class and date; K is
    of special doors from 2029, plain ones have 1; `allowance` I of an icemaker [kWh/year]. Source: 10 CFR 430.32(a).
    """
    factor = require_within("door_factor", door_factor, 1.0, 2.0, "")
    line = consumption.linear_standard(volume, slope, intercept)
    return consumption.round_half_up(factor * line + require_amount("allowance", allowance, "kWh/year"), 0)


def dishwasher_from_energy_factor(energy_factor: Number, cycles: Number) -> Floats:
    """Yearly energy of a dishwasher, hot water included: cycles [cycle/year] / EF [cycle/kWh], shape (...). [kWh]"""
    factor = require_positive("energy_factor", energy_factor, "cycle/kWh")
    return require_amount("cycles", cycles, "cycle/year") / factor


def integrated_modified_energy_factor(modified: Number, offset: Number, slope: Number) -> Floats:
    """Rating of a washer tested before 2015, put on the later scale: IMEF = (MEF - offset)/slope. [ft3/kWh/cycle]

    MEF must be above the offset; both coefficients are of the line through washers tested both ways; shape (...).
    """
    above = require_amount("modified", modified, "ft3/kWh/cycle") - np.asarray(offset)
    return require_positive("modified less offset", above, "ft3/kWh/cycle") / require_positive("slope", slope, "")


def washer_from_modified_energy_factor(capacity: Number, modified_energy_factor: Number, cycles: Number) -> Floats:
    """Yearly energy of washing *and of drying the load after it*: E = cycles C / MEF. [kWh/year]

    The rating charges the washer with its motor, its hot water and the drying of what it leaves wet: this is not what
    the washer's own socket gives, and a dryer's energy must not be added to it. MEF or IMEF alike [ft3/kWh/cycle]; C is
    the drum volume [ft3], cycles are those of a year; shape (...).
    """
    factor = require_positive("modified_energy_factor", modified_energy_factor, "ft3/kWh/cycle")
    return consumption.per_cycle_energy(require_amount("capacity", capacity, "ft3") / factor, cycles)


def dryer_from_combined_energy_factor(combined_energy_factor: Number, loads: Number, pounds: Number) -> Floats:
    """Yearly energy of a dryer: loads [load/year] x pounds [lb/load] / CEF [lb/kWh], shape (...). [kWh/year]

    A gas dryer's rating counts its gas too: split the result with `split_gas_dryer`. A rating of before 2015 (EF) comes
    from an easier test; divide it by the figure in the label tables first.
    """
    factor = require_positive("combined_energy_factor", combined_energy_factor, "lb/kWh")
    return consumption.per_cycle_energy(require_amount("pounds", pounds, "lb/load") / factor, loads)


def split_gas_dryer(energy: Number, electric_share: Number) -> YearlyUse:
    """Electricity (drum, fan, controls) and gas of a gas dryer, from both [kWh/year] and the plug's share [-]."""
    total = require_amount("energy", energy, "kWh/year")
    share = require_within("electric_share", electric_share, 0.0, 1.0, "")
    return YearlyUse(electricity=total * share, gas=total * (1 - share))


def from_energy_efficiency_ratio(capacity: Number, full_load_hours: Number, ratio: Number) -> Floats:
    """Yearly electricity of an air conditioner or heat pump: E = Q h / ratio / 1000. [kWh/year]

    The ratio [Btu/Wh] is the one its label prints for that service: EER or CEER (room unit), SEER or SEER2 (central
    cooling), HSPF or HSPF2 (heating). A '2' rating was tested against more duct resistance and reads lower for the same
    unit: do not set one beside the other. Q is the heat moved at full load [Btu/hour], h the yearly load over capacity
    [hour/year]; shape (...).
    """
    hours = require_within("full_load_hours", full_load_hours, 0.0, HOURS_PER_YEAR, "hour/year")
    heat = require_amount("capacity", capacity, "Btu/hour") * hours
    return heat / require_positive("ratio", ratio, "Btu/Wh") / consumption.WATTS_PER_KILOWATT


def furnace(heat_load: Number, utilization: Number, fan_watts: Number, fan_hours: Number) -> YearlyUse:
    """Yearly fuel and electricity of a furnace or boiler: fuel = load / AFUE; its fan or pump is apart.

    AFUE counts fuel only, so a better furnace can still use more electricity. `heat_load` is the heat that the house
    takes [kWh/year], `utilization` AFUE as a fraction; the fan in W and hour/year; shape (...).
    """
    hours = require_within("fan_hours", fan_hours, 0.0, HOURS_PER_YEAR, "hour/year")
    load = require_amount("heat_load", heat_load, "kWh/year")
    return YearlyUse(
        gas=load / require_within("utilization", utilization, 0.1, 1.0, ""),
        electricity=consumption.from_power(fan_watts, hours / DAYS_PER_YEAR),
    )


def hot_water_heat(gallons_per_day: Number, temperature_rise: Number) -> Floats:
    """Heat that the hot water drawn [gal/day] holds, from mains to tap [degF]: V 8.24 dT, shape (...). [Btu/day]"""
    gallons = require_amount("gallons_per_day", gallons_per_day, "gal/day")
    return gallons * POUNDS_OF_WATER_PER_GALLON * require_within("temperature_rise", temperature_rise, 0, 180, "degF")


def water_heater(heat_per_day: Number, energy_factor: Number) -> Floats:
    """Yearly electricity or gas of a water heater: E = 365 heat / (UEF 3412), the print of its rating label. [kWh/year]

    `heat_per_day` in Btu/day; UEF, or EF with the heat of its own test: that of a heat pump exceeds 1; shape (...). 10
    CFR 430 Subpart B, Appendix E.
    """
    heat = require_amount("heat_per_day", heat_per_day, "Btu/day")
    factor = require_within("energy_factor", energy_factor, 0.1, 10.0, "")
    return DAYS_PER_YEAR * heat / (factor * RATING_BTU_PER_KWH)
