"""What the air of a room does to a refrigerator: from the room of a log to the room of a whole year."""

from dataclasses import dataclass
from typing import Final

import numpy as np

from ..arrays import Floats, Number
from .consumption import require_within
from .power_log import deviation

SEASON: Final = 0.10
"""A judgement: August over November was 1.29 in AMPds2, August over December 1.34 in UK-DALE (Kelly & Knottenbelt
2015, doi 10.1038/sdata.2015.7): rhythms of 0.09 and 0.10 root mean square."""
SEASON_AT_KNOWN_TEMPERATURE: Final = 0.05
"""A judgement."""


@dataclass(frozen=True)
class Season:
    """What is done about the season: a factor on the energy, and the relative errors left after it [-]."""

    factor: Number = 1.0
    rhythm: Number = SEASON
    ambient: Number = 0.0


AS_MEASURED: Final = Season()
"""Nothing is known of the room: the season is left in, and in the interval."""


def linear_response(temperature: Number, ratio: Number) -> Floats:
    """Energy at a room temperature over that at 16 C, on a straight line: 1 + (R - 1)(T - 16)/16.

    T is in C, R the energy at 32 C over that at 16 C; shape (...).
    """
    return np.asarray(1 + np.subtract(ratio, 1) * np.subtract(temperature, 16) / 16)


def season_by_temperature(
    log_temperature: Number,
    year_temperatures: Floats,
    ratio: float = 2.1,
    ratio_range: tuple[float, float] = (1.8, 2.6),
) -> Season:
    """Carry a refrigerator's log from its room to that of a year, by month or finer, shape (..., periods). [C]

    factor = mean over the year of response(T) / response(T of the log), on a line where R is the energy at 32 C over
    that at 16 C; default and range from memory, a judgement. One common shape from 10 to 40 C: Harrington, Aye &
    Fuller, Applied Energy 211 (2018) 346-357. `OutOfRange`: outside 12 to 40 C: in the cold it flattens, or a heater
    comes on.
    """
    year_temperatures = require_within("year_temperatures", year_temperatures, 12, 40, "C")
    log_temperature = require_within("log_temperature", log_temperature, 12, 40, "C")
    factor, least, most = (
        np.mean(linear_response(year_temperatures, each), axis=-1) / linear_response(log_temperature, each)
        for each in require_within("ratio", np.array([ratio, *ratio_range]), 1, 4, "")
    )
    return Season(factor, SEASON_AT_KNOWN_TEMPERATURE, deviation(np.log(least), np.log(most)))
