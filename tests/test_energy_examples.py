"""Worked examples of formulas of energy that no other test would miss."""

import re

import numpy as np
import pytest

from decide.energy.consumption import (
    per_cycle_water,
    require_within,
)
from decide.energy.eu_labels import (
    ClassScale,
    class_range,
    power_law_standard,
)
from decide.energy.interval import ErrorSources, half_width
from decide.energy.metering import (
    day_scatter,
    season_by_temperature,
)
from decide.energy.power_log import (
    deviation,
    log_of_power,
)
from decide.errors import OutOfRange


def test_require_within() -> None:
    with pytest.raises(OutOfRange, match=re.escape("hours: must be from 0 to 24 hour, got 30.0")):
        require_within("hours", 30.0, 0, 24, "hour")


def test_per_cycle_water() -> None:
    assert float(per_cycle_water(50.0, 220.0)) == 11.0


def test_class_range() -> None:
    assert class_range("F", ClassScale(letters=("E", "F", "G"), bounds=(100, 125), bound_in="better")) == (
        100.05,
        125.05,
    )


def test_power_law_standard() -> None:
    assert round(float(power_law_standard(8.0, 140.0, 0.8)), 1) == 738.9


def test_half_width() -> None:
    assert round(float(half_width(ErrorSources(scatter=0.03, freedom=1000000000.0, meter=0.04), 0.9)), 4) == 0.0822


def test_season_by_temperature() -> None:
    season = season_by_temperature(20.0, np.array([18.0, 19, 22, 26, 24, 20]))
    assert (round(float(season.factor), 3), round(float(season.ambient), 3)) == (1.081, 0.013)


def test_deviation() -> None:
    assert round(float(deviation(-1.645, 1.645)), 3) == 1.0


def test_day_scatter() -> None:
    assert [
        round(figure, 3) for figure in day_scatter(log_of_power(60.0 * np.arange(14400), np.full(14400, 50.0)))
    ] == [0.038, 15.0]
