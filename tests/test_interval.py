"""Intervals: they hold the truth as often as they say, however few degrees of freedom are behind the scatter."""

import numpy as np
import pytest

from decide.energy.interval import ErrorSources, Interval, half_width, interval_around, pooled
from decide.errors import OutOfRange


@pytest.mark.parametrize("coverage", [0.5, 0.9, 0.99])
@pytest.mark.parametrize("freedom", [3, 6, 30])
def test_an_interval_holds_the_truth_as_often_as_it_says(coverage: float, freedom: int) -> None:
    # a simulation that shares nothing: the scatter is estimated from so few draws, the truth is 1
    draw = np.random.default_rng(freedom)
    sigma, cases = 0.08, 40_000
    seen = np.exp(draw.normal(0, sigma, cases))
    estimated = sigma * np.sqrt(draw.chisquare(freedom, cases) / freedom)
    found = interval_around(seen, ErrorSources(scatter=estimated, freedom=freedom, meter=0.0), coverage)
    held = np.mean((found.low <= 1) & (found.high >= 1))
    assert held == pytest.approx(coverage, abs=4 * np.sqrt(coverage * (1 - coverage) / cases))


@pytest.mark.published("JCGM 100:2008, 5.1")
def test_causes_of_error_join_as_the_sides_of_a_right_angle() -> None:
    # Definition (JCGM 100:2008, 5.1): independent causes add in quadrature; 3, 4 and 12 make 13.
    three = half_width(ErrorSources(scatter=0.03, freedom=1e9, daily=0.04, season=0.12, meter=0.0), 0.9)
    one = half_width(ErrorSources(scatter=0.13, freedom=1e9, meter=0.0), 0.9)
    assert float(three) == pytest.approx(float(one), rel=1e-6)


# JCGM 100:2008, Table G.2: Student's t for 90 % at 8, 12 and 20 degrees of freedom, printed to 0.01.
STUDENT_90 = [(2.0, 1.86), (3.0, 1.78), (5.0, 1.72)]


@pytest.mark.parametrize(("freedom", "t"), STUDENT_90)
@pytest.mark.published("JCGM 100:2008, G.4.1 and table G.2")
def test_a_cause_known_for_sure_beside_the_scatter_lends_it_freedom(freedom: float, t: float) -> None:
    # G.4.1: with as much again from a cause that is known for sure, (sqrt 2)^4 = 4 times the degrees of freedom.
    found = half_width(ErrorSources(scatter=0.1, freedom=freedom, season=0.1, meter=0.0), 0.9)
    assert found == pytest.approx(np.sqrt(2) * 0.1 * t, abs=0.0071 * 0.1)


def test_an_interval_is_even_in_the_logarithm() -> None:
    found = interval_around(np.array([100.0, 400.0]), ErrorSources(scatter=0.2, freedom=5.0), 0.9)
    assert isinstance(found, Interval)
    assert np.sqrt(np.multiply(found.low, found.high)) == pytest.approx([100.0, 400.0])


def test_a_prior_is_outweighed_by_what_is_seen() -> None:
    few, many = pooled(0.04, 1.0, 0.05, 6.0)[0], pooled(0.04, 600.0, 0.05, 6.0)[0]
    assert 0.05 < few < many < 0.2
    assert many == pytest.approx(0.2, rel=0.01)


@pytest.mark.parametrize("coverage", [0.0, 1.0, float("nan")])
def test_a_coverage_that_cannot_be_is_refused(coverage: float) -> None:
    with pytest.raises(OutOfRange, match="coverage"):
        interval_around(1.0, ErrorSources(scatter=0.1, freedom=1.0), coverage)


def test_a_meter_with_an_error_below_nothing_is_refused() -> None:
    with pytest.raises(OutOfRange, match="meter"):
        interval_around(1.0, ErrorSources(scatter=0.1, freedom=1.0, meter=-0.01), 0.9)
