"""What a warm or cool room does to a refrigerator: the label's rooms, and figures worked by hand."""

import math

import numpy as np
import pytest
from referees_metering import exponential_response

from decide.energy.metering import linear_response, season_by_temperature
from decide.errors import OutOfRange

# Energy at 16 C 1.0 and at 32 C 2.3: the straight line and the fixed share a degree, worked by hand.
LINEAR_AT_RATIO_2_3 = [(18, 1.1625), (20, 1.325), (22, 1.4875), (24, 1.65), (26, 1.8125), (28, 1.975)]


@pytest.mark.parametrize(("temperature", "energy"), LINEAR_AT_RATIO_2_3)
@pytest.mark.published("derived from the two rooms of the label, by hand", "meas-ambient-linear")
def test_the_straight_line_between_two_rooms(temperature: float, energy: float) -> None:
    assert float(linear_response(temperature, 2.3)) == pytest.approx(energy, abs=1e-6)


@pytest.mark.published("derived from the two rooms of the label, by hand", "meas-ambient-linear", "meas-ambient-exp")
def test_the_slopes_a_degree() -> None:
    a_degree = (linear_response(24.5, 2.3) - linear_response(23.5, 2.3)) / linear_response(24.0, 2.3)
    assert 100 * float(a_degree) == pytest.approx(4.9242, abs=0.0001)
    ratio = exponential_response(17.0, 2.3) / exponential_response(16.0, 2.3)
    assert 100 * (float(ratio) - 1) == pytest.approx(5.343, abs=0.001)
    at_22 = exponential_response(22.0, 2.3) / exponential_response(24.0, 2.3)
    assert float(at_22) == pytest.approx(0.901123, abs=1e-5)


@pytest.mark.published("(EU) 2019/2016 Annex IV point 3(a)", "meas-eu-annual")
def test_a_constant_24_degrees_uses_the_european_label_s_figure() -> None:
    # Delegated Regulation (EU) 2019/2016 Annex IV point 3: 365 (E16 + E32)/2, here 0.477 and 1.110 kWh a day.
    at_16, at_32 = 0.477, 1.110
    year = 365 * at_16 * linear_response(24.0, at_32 / at_16)
    assert float(year) == pytest.approx(289.6275, abs=0.001)


@pytest.mark.published("JIS C 9801:2006, second-hand", "meas-jis2006-annual")
def test_a_constant_22_4_degrees_uses_the_japanese_standard_s_figure() -> None:
    # JIS C 9801:2006 as a manufacturer and an explanatory page repeat it: 180 days at 30 C and 185 at 15 C;
    # second-hand. Here 1.5 and 0.7 kWh a day: 399.5 kWh, as at 22.397 C on the straight line through both.
    slope = (1.5 - 0.7) / 15
    ratio = (0.7 + 17 * slope) / (0.7 + slope)
    year = 365 * (0.7 + slope) * linear_response(22.397, ratio)
    assert float(year) == pytest.approx(399.5, abs=0.02)


@pytest.mark.parametrize("temperature", [5.0, 45.0, math.nan])
def test_a_garage_in_winter_is_not_extrapolated_to(temperature: float) -> None:
    with pytest.raises(OutOfRange, match="from 12 to 40 C"):
        season_by_temperature(temperature, np.full(12, 20.0))
