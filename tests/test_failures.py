"""What a failure tells of an appliance, against households simulated one by one, which know nothing of the formulas."""

import numpy as np
import pytest
from households import another_failure

from decide.economics.failures import Frailty
from decide.errors import OutOfRange
from decide.finance.life import Weibull

WASHERS = Frailty(variance=0.45, defect_share=2 / 3, failure_share=0.22, growth=1.2)
LIFE = Weibull.with_mean(11.5, 2.2)
MANY = 2_000_000


@pytest.fixture(scope="module")
def simulated() -> dict[str, np.ndarray]:
    """Appliances of differing quality: when each ends, and its repairable failures by age 8 and in the years after.

    Quality multiplies the hazard of ending by a defect and the rate of repairable failures; other ends do not know it.
    """
    rng = np.random.default_rng(20261129)
    theta, w = 0.45, 2 / 3
    z = rng.gamma(1 / theta, theta, MANY)
    # H0 solves 1 + theta H0(a) = S(a)^(-theta w); a defect ends it where H0 passes E/z
    # and another reason where (1-w)H passes E
    defect = LIFE.time_to_gain(0.0, np.log1p(theta * rng.exponential(size=MANY) / z) / (theta * w))
    other = LIFE.time_to_gain(0.0, rng.exponential(size=MANY) / (1 - w))
    level = (0.78**-theta - 1) / theta

    def intensity(age: float) -> float:
        return level * (age / 3) ** 1.2

    before = rng.poisson(z * intensity(8.0))
    return {
        "z": z, "end": np.minimum(defect, other), "before": before,
        "in_3": rng.poisson(z * intensity(3.0)), "next_5": rng.poisson(z * (intensity(13.0) - intensity(8.0))),
    }  # fmt: skip


def test_the_mixed_population_lives_as_published(simulated: dict[str, np.ndarray]) -> None:
    for age in (4.0, 8.0, 12.0, 18.0):
        assert np.mean(simulated["end"] > age) == pytest.approx(float(LIFE.survival(age)), abs=0.002)


def test_the_published_share_fails_within_three_years(simulated: dict[str, np.ndarray]) -> None:
    assert np.mean(simulated["in_3"] > 0) == pytest.approx(0.22, abs=0.001)


@pytest.mark.parametrize("failures", [None, 1, 2, 3])
def test_quality_given_the_failures_is_that_of_the_simulated(
    simulated: dict[str, np.ndarray], failures: int | None
) -> None:
    """Who fails at 8 is picked in proportion to z: a failure rate at that age."""
    serving = simulated["end"] > 8.0
    if failures is not None:
        serving &= simulated["before"] == failures - 1
    z = simulated["z"][serving]
    expected = np.average(z, weights=z)
    assert float(WASHERS.failed(LIFE, 8.0, failures).quality) == pytest.approx(expected, rel=0.01)


@pytest.mark.parametrize("failures", [None, 1, 3])
def test_the_next_failure_is_as_likely_as_simulated(simulated: dict[str, np.ndarray], failures: int | None) -> None:
    serving = simulated["end"] > 8.0
    if failures is not None:
        serving &= simulated["before"] == failures - 1
    z, again = simulated["z"][serving], simulated["next_5"][serving] > 0
    assert another_failure(WASHERS.failed(LIFE, 8.0, failures), 5.0) == pytest.approx(
        np.average(again, weights=z), abs=0.006
    )


@pytest.mark.parametrize(("failures", "tolerance"), [(None, 0.006), (1, 0.02), (3, 0.03)])
def test_who_has_just_failed_ends_sooner_as_simulated(
    simulated: dict[str, np.ndarray], failures: int | None, tolerance: float
) -> None:
    """Exact in the model where the history is unknown and ends are defects alone; a power else."""
    serving = simulated["end"] > 8.0
    if failures is not None:
        serving &= simulated["before"] == failures - 1
    z, end = simulated["z"][serving], simulated["end"][serving]
    ratio = WASHERS.failed(LIFE, 8.0, failures).hazard_ratio
    for years in (2.0, 5.0):
        usual = float(LIFE.survival_given(8.0, years)) ** float(ratio)
        assert usual == pytest.approx(np.average(end > 8.0 + years, weights=z), abs=tolerance)


def test_a_second_failure_is_bad_news_and_none_before_is_good() -> None:
    ratios = [float(WASHERS.failed(LIFE, 11.5, n).hazard_ratio) for n in (1, 2, 3)]
    assert ratios[0] < 1.3 < ratios[2]
    assert ratios == sorted(ratios)
    assert float(WASHERS.failed(LIFE, 3.0).hazard_ratio) == pytest.approx(1.3)


def test_what_cannot_be_is_refused() -> None:
    with pytest.raises(OutOfRange, match="failures"):
        WASHERS.failed(LIFE, 8.0, 0)
    with pytest.raises(OutOfRange, match="failure_share"):
        Frailty(variance=0.45, defect_share=0.6, failure_share=1.0, growth=1.2)


@pytest.mark.parametrize("age", [1.0, 8.0, 20.0])
def test_two_faults_at_once_of_unknown_history_are_two_failures_and_no_quiet_years(age: float) -> None:
    """1 + 2 theta w at every age: what came before is not known, so it is no good news either."""
    assert float(WASHERS.failed(LIFE, age, None, 2).hazard_ratio) == pytest.approx(1.6)
    assert float(WASHERS.failed(LIFE, age, 3, 2).hazard_ratio) == float(WASHERS.failed(LIFE, age, 3).hazard_ratio)
