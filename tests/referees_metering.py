"""Simple laws that measured energy is held to."""

import numpy as np

from decide.arrays import Floats, Number
from decide.energy.consumption import HOURS_PER_DAY, from_power, require_positive, require_within
from decide.energy.interval import Interval


def nameplate_energy(
    watts: Number, duty: Number, duty_low: Number, duty_high: Number, coverage: float = 0.9
) -> Interval:
    """Yearly energy from nameplate power and the share of the time that it runs; for want of a measurement only.

    Parameters
    ----------
    watts : nameplate power, shape () or (cases,) [W]
    duty, duty_low, duty_high : share of the time, and its bounds at the coverage, shape () or (cases,) [-]
    coverage : chance that the bounds hold the truth [-]

    Returns
    -------
    Energy [kWh/year].

    Examples
    --------
    >>> round(float(nameplate_energy(1200.0, 0.2, 0.1, 0.3).value), 1)
    2102.4
    """
    require_within("duty less duty_low", np.subtract(duty, duty_low), 0, 1, "")
    require_within("duty_high less duty", np.subtract(duty_high, duty), 0, 1, "")
    value, low, high = (from_power(watts, HOURS_PER_DAY * share) for share in (duty, duty_low, duty_high))
    return Interval(value, low, high, coverage)


def duty_cycle(mean_watts: Number, off_watts: Number, on_watts: Number) -> Floats:
    """Share of the time that it runs: (mean - off) / (on - off).

    Parameters
    ----------
    mean_watts, off_watts, on_watts : mean power, power while off and while on, shape () or (cases,) [W]

    Examples
    --------
    >>> float(duty_cycle(10.0, 5.0, 15.0))
    0.5
    """
    swing = require_positive("on_watts less off_watts", np.subtract(on_watts, off_watts), "W")
    return require_within("duty", np.subtract(mean_watts, off_watts) / swing, 0, 1, "")


def exponential_response(temperature: Number, ratio: Number) -> Floats:
    """Energy at a room temperature over that at 16 C, by the same share each degree: R^((T - 16)/16).

    Parameters
    ----------
    temperature : T, shape (...) [C]
    ratio : energy at 32 C over that at 16 C, R, shape (...) [-]

    Examples
    --------
    >>> round(float(exponential_response(17.0, 2.3)), 5)
    1.05344
    """
    return np.power(ratio, np.subtract(temperature, 16) / 16)
