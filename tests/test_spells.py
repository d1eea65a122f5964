"""Ages through which units were watched, Kaplan-Meier with truncation, and intervals of a life."""

from dataclasses import dataclass

import numpy as np
import pytest
from scipy.optimize import minimize, minimize_scalar
from scipy.special import gamma
from shop_books import jobs_of_columns
from test_own_records import CAGE, channing_men

from decide.arrays import Floats
from decide.load.jobs.own_records import maximum_likelihood
from decide.shop.jobs import DECISIONS, OUTCOMES, Jobs
from decide.shop.lifetimes import Spells, covariance, enough, log_likelihood, own_life, profile, spells

BANDS = 150


@dataclass(frozen=True)
class SurvivalSteps:
    """Share still in service by age without any law of life; arrays have shape (ages at which units ended)."""

    age: Floats
    at_risk: Floats
    ends: Floats
    survival: Floats
    """Of those that served at the youngest age of entry. [-]"""


def kaplan_meier(watched: Spells, from_age: float = 0.0) -> SurvivalSteps:
    r"""Share of units still in service by age, as counted; ends up to `from_age` [year] are left out.

    .. math:: S(t) = \prod_{t_j \le t} \left(1 - \frac{d_j}{Y_j}\right),
        \qquad Y_j = \#\{i: entry_i < t_j \le exit_i\}

    A few units at risk at the youngest ages can throw the whole curve down; from an age on at which there are enough it
    is that of units which reach this age. Source: Klein & Moeschberger, Survival Analysis, 2nd ed., section 4.6.
    """
    age, ends = np.unique(watched.exit[watched.ended & (watched.exit > from_age)], return_counts=True)
    entered = np.searchsorted(np.sort(watched.entry), age, side="left")
    left = np.searchsorted(np.sort(watched.exit), age, side="left")
    at_risk = (entered - left).astype(float)
    return SurvivalSteps(age, at_risk, ends.astype(float), np.cumprod(1 - ends / at_risk))


def book(*rows: tuple[str, str, float, str, str, str, str]) -> Jobs:
    """Unit, day, age, decision, outcome, its day, and the day since which the unit is known."""
    unit, day, age, decision, outcome, heard, since = zip(*rows, strict=True)
    return jobs_of_columns(
        unit=np.array(unit),
        date=np.array([each or "NaT" for each in day], dtype="datetime64[D]"),
        age=np.array(age),
        decision=np.array([DECISIONS.index(each) for each in decision], np.int16),
        outcome=np.array([OUTCOMES.index(each or "unknown") for each in outcome], np.int16),
        outcome_date=np.array([each or "NaT" for each in heard], dtype="datetime64[D]"),
        known_since=np.array([each or "NaT" for each in since], dtype="datetime64[D]"),
    )


def test_a_unit_is_watched_from_its_first_repair_to_the_job_at_which_it_was_replaced() -> None:
    found = spells(
        book(("A", "2020-01-01", 6, "repaired", "", "", ""), ("A", "2024-01-01", 10, "replaced", "", "", ""))
    )
    assert (found.entry.tolist(), found.ended.tolist(), found.jobs) == ([6.0], [True], 2)
    assert found.exit == pytest.approx([10.0], abs=0.01)


def test_a_unit_replaced_at_its_first_job_tells_nothing_of_life() -> None:
    found = spells(book(("A", "2020-01-01", 6, "replaced", "retired", "2020-01-04", "")))
    assert (len(found), found.without, found.lost_to_follow_up, found.silence) == (0, 1, 0, 0.0)


def test_a_unit_known_since_a_day_is_watched_from_then_and_serves_to_the_last_day_unless_its_end_was_heard_of() -> None:
    found = spells(
        book(
            ("A", "2020-01-01", 6, "replaced", "", "", "2018-01-01"),
            ("B", "2020-01-01", 3, "repaired", "", "", "2018-01-01"),
            ("C", "2022-01-01", 3, "replaced", "", "", ""),
        )
    )
    assert found.entry == pytest.approx([4.0, 1.0], abs=0.01)
    assert found.exit == pytest.approx([6.0, 5.0], abs=0.01)
    assert found.ended.tolist() == [True, False]


def test_a_unit_known_before_it_was_new_is_watched_from_new() -> None:
    found = spells(
        book(("A", "2020-01-01", 2, "repaired", "", "", "2015-01-01"), ("B", "2021-01-01", 1, "open", "", "", ""))
    )
    assert (found.entry.tolist(), found.ended.tolist()) == ([0.0], [False])


def test_a_later_outcome_tells_that_the_unit_still_served_or_that_it_was_retired() -> None:
    found = spells(
        book(
            ("A", "2020-01-01", 5, "repaired", "held", "2023-01-01", ""),
            ("B", "2020-01-01", 5, "repaired", "retired", "2022-01-01", ""),
            ("C", "2020-01-01", 5, "left", "failed again", "2021-01-01", ""),
        )
    )
    assert found.exit == pytest.approx([8.0, 7.0, 6.0], abs=0.01)
    assert found.ended.tolist() == [False, True, False]


def test_a_unit_of_which_nothing_is_heard_is_silent_and_too_many_of_them_tell_no_life() -> None:
    rows = [(f"S{at}", "2020-01-01", 5.0, "repaired", "", "", "") for at in range(8)]
    rows += [(f"E{at}", "2020-01-01", 5.0, "repaired", "retired", f"20{21 + at % 6}-01-01", "") for at in range(30)]
    found = spells(book(*rows))
    assert (found.lost_to_follow_up, found.ends) == (8, 30)
    assert found.silence == pytest.approx(8 / 38)
    assert not enough(found)
    assert enough(spells(book(*rows[5:])))


def test_twenty_ends_and_three_in_twenty_lost_are_still_enough() -> None:
    def watched(ends: int, lost: int) -> Spells:
        return Spells(
            entry=np.zeros(34), exit=np.full(34, 9.0), ended=np.arange(34) < ends, lost_to_follow_up=lost
        )  # fmt: skip

    assert [enough(watched(*each)) for each in ((20, 6), (19, 6), (20, 7))] == [True, False, False]


def test_jobs_without_the_name_of_a_unit_are_units_of_their_own_and_jobs_without_an_age_are_dated_by_the_others() -> (
    None
):
    found = spells(
        book(
            ("", "2020-01-01", 5, "repaired", "held", "2021-01-01", ""),
            ("", "2020-01-01", 7, "repaired", "held", "2022-01-01", ""),
            ("A", "2020-01-01", np.nan, "repaired", "", "", ""),
            ("A", "2023-01-01", 12, "replaced", "", "", ""),
            ("B", "2023-01-01", np.nan, "repaired", "held", "2025-01-01", ""),
        )
    )
    assert sorted(found.entry.round(1)) == [5.0, 7.0, 9.0]
    assert found.without == 1


def test_an_empty_book_and_one_without_days_tell_no_life() -> None:
    nothing = spells(book(("A", "2020-01-01", 5, "repaired", "", "", "")).take(slice(0)))
    assert (len(nothing), len(nothing.exit), nothing.ends, nothing.jobs) == (0, 0, 0, 0)
    assert len(spells(book(("A", "", 5, "repaired", "", "", ""), ("A", "", 9, "replaced", "", "", "")))) == 0


# Kaplan-Meier with left truncation


@pytest.mark.published("Klein & Moeschberger, Survival Analysis, example 4.3, from memory")
def test_the_count_of_men_of_channing_house_falls_to_nothing_while_two_are_at_risk() -> None:
    """Klein & Moeschberger, Survival Analysis, example 4.3 (from memory): two men were there at the youngest ages, both
    died, and the curve is worthless from then on; by hand from the rows (751, 777, died) and (759, 781, died)."""
    steps = kaplan_meier(channing_men())
    assert steps.age[:2].tolist() == [777.0, 781.0]
    assert steps.at_risk[:2].tolist() == [2.0, 1.0]
    assert steps.survival[:2].tolist() == [0.5, 0.0]


MEN_FROM_816_MONTHS = {
    869: 0.958333, 907: 0.780868, 971: 0.588295, 1012: 0.454373, 1044: 0.318000, 1094: 0.150327, 1139: 0.050109,
}  # fmt: skip
"""lifelines 0.30.3, KaplanMeierFitter with entry, of men who reached 68 years (816 months)."""


@pytest.mark.published("lifelines 0.30.3, KaplanMeierFitter with entry")
def test_the_count_of_men_who_reached_68_years_is_that_of_another_library() -> None:
    steps = kaplan_meier(channing_men(), from_age=816.0)
    there = dict(zip(steps.age.astype(int), steps.survival, strict=True))
    assert {age: there[age] for age in MEN_FROM_816_MONTHS} == pytest.approx(MEN_FROM_816_MONTHS, abs=5e-7)


@pytest.mark.published("Cox & Oakes, Analysis of Survival Data, 6-MP arm of Freireich et al. 1963, from memory")
def test_the_count_without_truncation_is_the_published_one_of_leukemia_patients() -> None:
    """6-MP arm of Freireich et al. 1963; Cox & Oakes, Analysis of Survival Data, table 1.1 and the estimates printed
    after it in many textbooks: .857 .807 .753 .690 .627 .538 .448 (from memory)."""
    weeks = np.array([6, 6, 6, 6, 7, 9, 10, 10, 11, 13, 16, 17, 19, 20, 22, 23, 25, 32, 32, 34, 35], dtype=float)
    relapsed = np.array([1, 1, 1, 0, 1, 0, 1, 0, 0, 1, 1, 0, 0, 0, 1, 1, 0, 0, 0, 0, 0], dtype=bool)
    steps = kaplan_meier(Spells(entry=np.zeros(21), exit=weeks, ended=relapsed))
    assert steps.age.tolist() == [6, 7, 10, 13, 16, 22, 23]
    assert steps.survival == pytest.approx([0.857, 0.807, 0.753, 0.690, 0.627, 0.538, 0.448], abs=5e-4)


# intervals


@pytest.mark.published("Meeker & Escobar (1998), example 8.16, second-hand")
def test_the_interval_of_a_quantile_is_the_published_one_of_the_bearing_cages(monkeypatch: pytest.MonkeyPatch) -> None:
    """Meeker & Escobar, Statistical Methods for Reliability Data (1998), example 8.16, p. 193, read second-hand in the
    tests of a public package: B10 3903 hours, 95 % likelihood interval [2093, 22144]. The figure is scale times
    (-ln 0.9)^(1/shape)."""
    monkeypatch.setattr("decide.shop.lifetimes.LIKELIHOOD_DROP", 3.841459 / 2)
    cage = maximum_likelihood(CAGE)
    factor = lambda shape: (-np.log(0.9)) ** (1 / shape)  # noqa: E731
    low, high = profile(CAGE, cage.shape.value, cage.scale, factor)
    assert round(cage.scale * factor(cage.shape.value)) == 3903
    assert low == pytest.approx(2093, abs=2)  # by plain maximisation to the last digit: 2094.281
    assert high == pytest.approx(22144, rel=2e-4)


@pytest.mark.published("lifelines 0.30.3, WeibullFitter with entry")
def test_the_covariance_is_that_of_another_library_for_the_men_of_channing_house() -> None:
    """lifelines 0.30.3, WeibullFitter with entry: shape 6.280105, scale 968.8397, variances 3527.09, 4.28919,
    covariance 113.619, brought to logarithms by the delta rule."""
    shape, scale = 6.280104875, 968.8396999
    found = covariance(channing_men(), shape, scale)
    expected = [
        [3527.09014 / scale**2, 113.618671 / scale / shape],
        [113.618671 / scale / shape, 4.28918892 / shape**2],
    ]
    assert found == pytest.approx(np.array(expected), rel=2e-3)


@pytest.mark.published("tables of chi-squared, 1 degree of freedom")
def test_the_interval_of_the_shape_is_where_the_plain_likelihood_has_fallen_by_half_a_quantile() -> None:
    men = channing_men()
    life = maximum_likelihood(men)
    for end in (life.shape.low, life.shape.high):
        best = minimize_scalar(
            lambda log_scale, at=end: -log_likelihood(men, at, float(np.exp(log_scale))),
            bracket=(np.log(700), np.log(1000)),
            options={"xtol": 1e-10},
        )
        fallen = log_likelihood(men, life.shape.value, life.scale) + best.fun
        assert 2 * fallen == pytest.approx(2.705543, abs=1e-4)  # chi-squared, 1 degree of freedom, 0.90: any table


@pytest.mark.published("lifelines 0.30.3, WeibullFitter with entry")
def test_the_band_is_that_of_the_published_covariance_by_the_delta_rule() -> None:
    """Variances of scale and shape as in the test above; slopes of ln H taken numerically, ends at 1.644854 of them."""
    shape, scale = 6.280104875, 968.8396999
    published = np.array([[3527.09014, 113.618671], [113.618671, 4.28918892]])
    men, ages = channing_men(), np.array([850.0, 968.0, 1050.0])
    life = own_life(men, shape, scale)
    low, high = life.band(ages)
    for age, *ends in zip(ages, low, high, strict=True):
        log_hazard = lambda d_scale, d_shape, age=age: (shape + d_shape) * np.log(age / (scale + d_scale))  # noqa: E731
        slopes = np.array([
            (log_hazard(1e-3, 0) - log_hazard(-1e-3, 0)) / 2e-3, (log_hazard(0, 1e-3) - log_hazard(0, -1e-3)) / 2e-3,
        ])  # fmt: skip
        half = 1.6448536 * np.sqrt(slopes @ published @ slopes)
        expected = [np.exp(-np.exp(log_hazard(0, 0) + side)) for side in (half, -half)]
        assert ends == pytest.approx(expected, rel=2e-3)


@pytest.mark.slow
def test_the_band_is_the_delta_interval_of_simulated_fits() -> None:
    """Nine fits in ten of fresh draws lie within the band about the truth; within 3 s.e. of a share of 0.9."""
    rng, inside = np.random.default_rng(20), 0
    for _ in range(BANDS):
        entry = rng.uniform(0, 10, 400)
        life = 16.5 * rng.weibull(2.2, 400)
        there = life > entry
        leave = entry + rng.uniform(2, 8, 400)
        watched = Spells(entry=entry[there], exit=np.minimum(life, leave)[there], ended=(life <= leave)[there])
        low, high = maximum_likelihood(watched).band(np.array([12.0]))
        inside += bool(low[0] <= np.exp(-((12 / 16.5) ** 2.2)) <= high[0])
    assert inside / BANDS == pytest.approx(0.9, abs=3 * (0.9 * 0.1 / BANDS) ** 0.5)


def test_a_life_whose_shape_no_law_of_ours_has_is_not_told() -> None:
    assert not own_life(channing_men(), 25.0, 968.0).identified
    assert not own_life(channing_men(), 0.2, 968.0).identified


# virtual age: a repaired unit goes on as a younger one would, so that its next time to failure is left-truncated


AIR_CONDITIONING = [
    50.0, 94.0, 196.0, 268.0, 290.0, 329.0, 332.0, 347.0, 544.0, 732.0, 811.0, 899.0, 945.0, 950.0, 955.0, 991.0,
    1013.0, 1152.0, 1362.0, 1459.0, 1489.0, 1512.0, 1525.0, 1539.0,
]  # fmt: skip
"""Hours at failure, plane 7914: Proschan (1963), Technometrics 5:375-383."""


@pytest.mark.published("ReliaWiki, recurrent events, data of Proschan (1963), from memory", "GRP-MLE")
def test_the_likelihood_gives_the_published_fit_of_imperfect_repair() -> None:
    """Kijima I by maximum likelihood, ReliaWiki, recurrent events (printed estimates from memory): shape 1.1976, lambda
    0.00494, q 0.1344; log likelihood -123.634664 by a generalised renewal fit of another library. A gap x after a
    repair at age t is watched from the virtual age q t to q t + x."""
    times = np.array(AIR_CONDITIONING)
    before = np.concatenate([[0.0], times[:-1]])

    def gaps(q: float) -> Spells:
        return Spells(entry=q * before, exit=q * before + times - before, ended=np.ones(24, dtype=bool))

    def against(at: np.ndarray) -> float:
        q, shape, scale = np.exp(at)
        return -log_likelihood(gaps(float(q)), float(shape), float(scale))

    best = minimize(against, np.log([0.2, 1.1, 80.0]), method="Nelder-Mead", options={"xatol": 1e-9, "fatol": 1e-11})
    q, shape, scale = np.exp(best.x)
    assert -best.fun == pytest.approx(-123.634664, abs=1e-6)
    assert (q, shape) == (pytest.approx(0.1344, abs=5e-5), pytest.approx(1.1976, abs=5e-5))
    assert scale**-shape == pytest.approx(0.00494, abs=5e-6)


def test_a_life_of_which_an_interval_has_no_end_is_not_told() -> None:
    # all but alike ends: the likelihood never falls as the shape grows
    alike = Spells(entry=np.zeros(6), exit=np.full(6, 10.0) + 1e-9 * np.arange(6), ended=np.ones(6, dtype=bool))
    assert not own_life(alike, 9.9, 10.0).identified


def test_a_life_whose_shape_may_be_next_to_nothing_is_not_told() -> None:
    # Units that came in at 4 to 9 years and whose hazard falls as their age grows: with none watched from new, a law
    # of hardly any shape, and of no mean, explains them all but as well.
    lived = -np.log(1 - (np.random.default_rng(0).permutation(25) + 0.5) / 25) / 3
    entry = np.linspace(4, 9, 25)
    watched = Spells(entry=entry, exit=entry * np.exp(lived), ended=np.ones(25, dtype=bool))
    shape, scale = 0.8047, 1.6249  # of greatest likelihood
    assert profile(watched, shape, scale, lambda shape: float(gamma(1 + 1 / shape)))[0] == 0
    assert not own_life(watched, shape, scale).identified


def test_the_law_of_an_own_life_is_the_one_that_was_fitted() -> None:
    life = maximum_likelihood(channing_men())
    assert float(life.law.mean()) == pytest.approx(life.mean.value)
