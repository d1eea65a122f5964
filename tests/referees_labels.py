"""Further formulas of the European label, which published checks go by."""

import numpy as np
from numpy.typing import NDArray

from decide.arrays import Floats, Number
from decide.energy.consumption import (
    DAYS_PER_YEAR,
    HOURS_PER_DAY,
    HOURS_PER_YEAR,
    WATTS_PER_KILOWATT,
    from_power,
    per_cycle_water,
    require_amount,
    require_positive,
    require_within,
    round_half_up,
)
from decide.energy.eu_labels import INDEX_DECIMALS, PERCENT, ClassScale
from decide.energy.us_labels import LITRES_PER_GALLON

SHARE_DECIMALS = 12
"""A share of a label is kept to this many, so that floating-point dust beyond 0 or 1 is not refused."""


def energy_efficiency_index(use: Number, standard: Number) -> Floats:
    """Use of the unit as a share of the standard use of its size: EEI = 100 use/standard, to one decimal.

    Parameters
    ----------
    use : energy of a year or of a cycle, shape (...) [kWh/year, or kWh/cycle]
    standard : standard use for the same time, shape (...) [as use]

    Returns
    -------
    Index, an exact half rounded up, shape (...) [%]

    Examples
    --------
    >>> float(energy_efficiency_index(54.0, 73.4))
    73.6
    """
    index = PERCENT * require_amount("use", use, "kWh") / require_positive("standard", standard, "kWh")
    return round_half_up(index, INDEX_DECIMALS)


def class_positions(index: Number, scale: ClassScale) -> NDArray[np.intp]:
    """Place on the scale of each index, 0 for the best class.

    Parameters
    ----------
    index : energy efficiency index, shape (...) [unit of the scale]
    scale : the label's scale

    Examples
    --------
    >>> dishwasher = ClassScale(letters=("A", "B", "C"), bounds=(32, 38), bound_in="worse")
    >>> class_positions(np.array([31.9, 32.0, 60.0]), dishwasher).tolist()
    [0, 1, 2]
    """
    given = require_amount("index", index, "")
    rounded = given if scale.decimals is None else round_half_up(given, scale.decimals)
    return np.searchsorted(scale.bounds, rounded, side="left" if scale.bound_in == "better" else "right")


def class_letter(index: float, scale: ClassScale) -> str:
    """Letter that a unit with this index bears; for a column of indices, `class_positions`.

    Parameters
    ----------
    index : energy efficiency index, rounded here as the scale says [-]
    scale : letters and their bounds

    Examples
    --------
    >>> class_letter(100.0, ClassScale(letters=("E", "F", "G"), bounds=(100, 125), bound_in="better"))
    'E'
    """
    return scale.letters[int(class_positions(index, scale))]


def daily_energy(steady_watts: Number, defrost_wh: Number, defrost_hours: Number) -> Floats:
    """Energy a day of a refrigerating appliance at one room temperature: 24 h of steady power, and its defrosts.

    E = 0.024 (P + dE/t), to three decimals. A unit that never defrosts by itself has dE = 0.

    Parameters
    ----------
    steady_watts : mean power between defrosts P, shape (...) [W]
    defrost_wh : what one defrost and recovery takes above it, dE, shape (...) [Wh]
    defrost_hours : time from one defrost to the next, t, shape (...) [hour]

    References
    ----------
    (EU) 2019/2016 Annex IV point 3(b); the same in UK SI 2021/745 Schedule 14 paragraph 3(4).

    Examples
    --------
    >>> float(daily_energy(18.0, 75.0, 40.0))
    0.477
    """
    interval = require_positive("defrost_hours", defrost_hours, "hour")
    defrost = require_amount("defrost_wh", defrost_wh, "Wh") / interval
    power = require_amount("steady_watts", steady_watts, "W") + defrost
    return round_half_up(HOURS_PER_DAY * power / WATTS_PER_KILOWATT, 3)


def two_ambient_energy(cool: Number, warm: Number, days_cool: float, days_warm: float) -> Floats:
    """Yearly energy from daily energy at two room temperatures, each for so many days.

    Europe weighs 16 and 32 degC alike (182.5 days each); Japan (JIS C 9801:2006) 185 days at 15 and 180 at 30 degC.

    Parameters
    ----------
    cool : energy a day in the cooler room, shape (...) [kWh/day]
    warm : energy a day in the warmer room, shape (...) [kWh/day]
    days_cool : days a year [day/year]
    days_warm : days a year [day/year]

    Examples
    --------
    >>> float(two_ambient_energy(0.7, 1.5, 185, 180))
    399.5
    """
    cooler = require_amount("cool", cool, "kWh/day") * require_amount("days_cool", days_cool, "day/year")
    return cooler + require_amount("warm", warm, "kWh/day") * require_amount("days_warm", days_warm, "day/year")


def fridge_annual_energy(at_16: Number, at_32: Number, load_factor: Number, auxiliary: Number = 0.0) -> Floats:
    """Yearly energy of a refrigerating appliance as its label counts it: AE = 365 E/L + E_aux, two decimals.

    The label itself prints the nearest integer.

    Parameters
    ----------
    at_16 : energy a day at 16 degC, shape (...) [kWh/day]
    at_32 : energy a day at 32 degC, shape (...) [kWh/day]
    load_factor : L, 0.9 with frozen compartments only, else 1.0, shape (...) [-]
    auxiliary : anti-condensation heaters and the like, shape (...) [kWh/year]

    References
    ----------
    (EU) 2019/2016 Annex IV point 3(a).

    Examples
    --------
    >>> round(float(fridge_annual_energy(0.477, 1.110, 1.0)))
    290
    """
    year = two_ambient_energy(at_16, at_32, DAYS_PER_YEAR / 2, DAYS_PER_YEAR / 2)
    load = require_within("load_factor", load_factor, 0.9, 1.0, "")
    return round_half_up(year / load + require_amount("auxiliary", auxiliary, "kWh/year"), 2)


def gallons_to_water(gallons_per_cycle: Number, cycles: Number) -> Floats:
    """Yearly water from gallons a cycle (a washer: water factor times drum volume in ft3) [m3/year].

    Parameters
    ----------
    gallons_per_cycle : US liquid gallons, shape (...) [gal/cycle]
    cycles : cycles in a year, shape (...) [cycle/year]

    Examples
    --------
    >>> round(float(gallons_to_water(9.5 * 3.5, 295.0)), 1)
    37.1
    """
    gallons = require_amount("gallons_per_cycle", gallons_per_cycle, "gal/cycle")
    return per_cycle_water(gallons * LITRES_PER_GALLON, cycles)


def split_label(
    label_energy: Number,
    label_gas_cost: Number,
    electricity_price: Number,
    gas_price: Number,
    per_kwh: Number,
    per_therm: Number,
) -> tuple[Floats, Floats]:
    """Part of a washer's or dishwasher's label that its own plug takes, and the part that is hot water.

    The label prints the yearly energy with electric water heating, L, and the yearly cost with gas, G. With hot
    water W, and w_e and w_g the water that a kWh and a therm heat,
    L = M + W/w_e and G = M p_e + (W/w_g) p_g, solved for the machine's M.

    Parameters
    ----------
    label_energy : L, shape (...) [kWh/year]
    label_gas_cost : G, shape (...) [money/year]
    electricity_price : price printed on the label, shape (...) [money/kWh]
    gas_price : price printed on the label, shape (...) [money/therm]
    per_kwh : hot water a kWh stands for, shape (...) [gal/cycle per kWh/year]
    per_therm : hot water a therm stands for, shape (...) [gal/cycle per therm/year]

    Returns
    -------
    Energy of the machine, and of its hot water if heated by electricity, each shape (...) [kWh/year]

    Raises
    ------
    OutOfRange
        A negative input, or a cost that no split of the label can give.

    References
    ----------
    ANSI/RESNET/ICC 301-2019A, dishwasher and clothes washer energy.

    Examples
    --------
    >>> machine, water = split_label(467.0, 33.12, 0.12, 1.09, 0.02504, 0.5497)
    >>> round(float(machine), 1), round(float(water), 1)
    (141.2, 325.8)
    """
    label = require_positive("label_energy", label_energy, "kWh/year")
    price = require_positive("electricity_price", electricity_price, "money/kWh")
    kwh = require_positive("per_kwh", per_kwh, "gal/cycle per kWh/year")
    by_gas = require_positive("per_therm", per_therm, "gal/cycle per therm/year") / require_positive(
        "gas_price", gas_price, "money/therm"
    )
    cost = require_amount("label_gas_cost", label_gas_cost, "money/year")
    advantage = require_positive(
        "water heated for the same money by gas, less by electricity", price * by_gas - kwh, ""
    )
    share = np.round((cost * by_gas - label * kwh) / advantage / label, SHARE_DECIMALS)
    machine = label * require_within("machine's share that label_gas_cost gives", share, 0.0, 1.0, "")
    return machine, label - machine


def from_runs(runs: Number, minutes: Number, watts: Number, standby_watts: Number = 0.0) -> Floats:
    """Yearly energy of something that runs so many times a year, for so many minutes, at a known power.

    E = (n m/60 P + P_standby (8760 - n m/60)) / 1000

    Parameters
    ----------
    runs : runs in a year, n, shape (...) [1/year]
    minutes : length of one, m, shape (...) [min]
    watts : power while it runs, shape (...) [W]
    standby_watts : power in the other hours, shape (...) [W]

    Returns
    -------
    Energy, shape (...) [kWh/year]

    Raises
    ------
    OutOfRange
        A negative number, or more running hours than the year has.

    Examples
    --------
    >>> round(float(from_runs(122.0, 60.0, 2500.0)), 1)
    305.0
    """
    hours = require_amount("runs", runs, "1/year") * require_amount("minutes", minutes, "min") / 60
    return from_power(
        watts, require_within("hours", hours, 0, HOURS_PER_YEAR, "hour/year") / DAYS_PER_YEAR, standby_watts
    )
