"""Logs of a refrigerator that knows neither day nor season, for the tests of meters."""

import numpy as np
from numpy.typing import NDArray

from decide.energy.power_log import PowerLog, log_of_power

MINUTE = 60.0


def by_minute(watts: NDArray[np.float64]) -> PowerLog:
    """A log of one reading a minute."""
    return log_of_power(MINUTE * np.arange(len(watts)), watts)


def cycling(days: float, on: float = 120.0, off: float = 0.0) -> NDArray[np.float64]:
    """16 minutes on of 40 [W]."""
    return np.where(np.arange(int(days * 1440)) % 40 < 16, on, off)
