"""Lives and the annuities on them: prints, other people's libraries, identities, and the ends of the range."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.stats import kstest, lognorm, weibull_min

from decide.errors import NoSolution, OutOfRange
from decide.finance.life import FromHazard, Life, Weibull, without_delay

REFRIGERATOR = Weibull(shape=1.272, scale=11.75, delay=8.874)  # LBNL-5093E, Table 11

# ---------------------------------------------------------------------------------------------------------------
# Prints

# Lutz, Hopkins, Letschert, Franco & Sturges, Using national survey data to estimate lifetimes of residential
# appliances, LBNL-5093E (2011), Tables 2-8, 11 and 12: shape, scale, delay, median, mean. Second-hand, from a public
# note that transcribes the report. Parameters and answers are printed to 0.01, hence abs=0.01.
LBNL_5093E = [
    ("central air conditioner, Table 2", 2.094, 21.49, 0.0, 18.04, 19.03),
    ("heat pump, Table 3", 1.525, 18.62, 0.0, 14.64, 16.77),
    ("gas furnace, Table 4", 2.218, 26.68, 0.0, 22.61, 23.63),
    ("gas boiler, Table 5", 1.000, 25.31, 0.0, 17.54, 25.31),
    ("gas storage water heater, Table 6", 1.307, 11.64, 3.196, 11.99, 13.93),
    ("electric storage water heater, Table 7", 1.174, 13.19, 0.0, 9.65, 12.48),
    ("room air conditioner, Table 8", 1.442, 14.29, 0.0, 11.08, 12.96),
    ("refrigerator, Table 11", 1.272, 11.75, 8.874, 17.68, 19.77),
    ("freezer, Table 12", 1.885, 17.92, 6.459, 21.21, 22.36),
]


@pytest.mark.parametrize(("shape", "scale", "delay", "median", "mean"), [row[1:] for row in LBNL_5093E])
@pytest.mark.published("Lutz et al., LBNL-5093E (2011), tables 2-8, 11 and 12, second-hand")
def test_mean_and_median_are_those_printed_with_the_survey_fits(
    shape: float, scale: float, delay: float, median: float, mean: float
) -> None:
    life = Weibull(shape, scale, delay)
    assert life.mean() == pytest.approx(mean, abs=0.01)
    assert life.median() == pytest.approx(median, abs=0.01)


# Our own figures for LBNL-5093E, Table 11 (not in the report), got before this code was written.
YEARS_LEFT_TO_A_REFRIGERATOR = [(12.0, 9.65), (20.0, 8.24)]


@pytest.mark.parametrize(("age", "years"), YEARS_LEFT_TO_A_REFRIGERATOR)
def test_years_left_at_an_age_are_more_than_the_mean_less_the_age(age: float, years: float) -> None:
    assert REFRIGERATOR.mean_residual_life(age) == pytest.approx(years, abs=0.005)
    assert REFRIGERATOR.mean_residual_life(age) > REFRIGERATOR.mean() - age


# Mean residual life of a Weibull life in closed form: shape 1: scale; shape 2: scale sqrt(pi)/2 erfcx(age/scale);
# shape 1/2: 2 scale (1 + sqrt(age/scale)); else by Tricomi's function. Analytic, to 1e-9.
MEAN_RESIDUAL_LIFE = [  # age, scale, shape, years
    (0, 10, 2.0, 8.86226925453),
    (10, 10, 2.0, 3.78936078071),
    (20, 10, 2.0, 2.26338524991),
    (300, 10, 2.0, 0.16657422797),
    (5, 10, 1.0, 10.0),
    (5, 10, 0.5, 34.14213562373),
    (7, 12, 3.0, 4.9322917317),
    (8, 12, 2.5, 4.88141904484),
]


@pytest.mark.parametrize(("age", "scale", "shape", "years"), MEAN_RESIDUAL_LIFE)
@pytest.mark.published(
    "Weibull mean residual life, closed forms",
    "MRL-t0-e10-b2.0",
    "MRL-t10-e10-b2.0",
    "MRL-t20-e10-b2.0",
    "MRL-t300-e10-b2.0",
    "MRL-t5-e10-b1.0",
    "MRL-t5-e10-b0.5",
    "MRL-t7-e12-b3.0",
    "MRL-t8-e12-b2.5",
)
def test_mean_residual_life_is_the_closed_form_even_far_in_the_tail(
    age: float, scale: float, shape: float, years: float
) -> None:
    life = Weibull(shape, scale)
    assert life.mean_residual_life(age) == pytest.approx(years, abs=1e-9)
    assert life.exposure(age).years.sum() == pytest.approx(years, rel=1e-6 if shape >= 1 else 1e-4)


# Standard Ultimate Life Table at 5 % (Dickson, Hardy & Waters, Actuarial Mathematics for Life Contingent Risks,
# Appendix D; Society of Actuaries, Excel Workbook for FAM-L Tables): Makeham's law with A = 0.00022, B = 2.7e-6,
# c = 1.124. Second-hand, as the public package actuarialmath 1.1.0 prints it (SULT().frame()).
# Lives to 0.1 of 100,000 aged 20, annuities to four decimals, pure endowments to five.
STANDARD_ULTIMATE_LIFE_TABLE = [
    # age, lives, annuity-due for life, over 10 years, over 20 years, pure endowment of 5, 10 and 20 years
    (20, 100000.0, 19.9664, 8.0991, 13.0559, 0.78252, 0.61224, 0.37440),
    (30, 99727.3, 19.3834, 8.0961, 13.0410, 0.78219, 0.61152, 0.37254),
    (40, 99338.3, 18.4578, 8.0863, 12.9935, 0.78113, 0.60920, 0.36663),
    (50, 98576.4, 17.0245, 8.0550, 12.8428, 0.77772, 0.60182, 0.34824),
    (60, 96634.1, 14.9041, 7.9555, 12.3816, 0.76687, 0.57864, 0.29508),
    (65, 94579.7, 13.5498, 7.8435, 11.8920, 0.75455, 0.55305, 0.24381),
    (70, 91082.4, 12.0083, 7.6491, 11.1109, 0.73295, 0.50994, 0.17313),
    (80, 75657.2, 8.5484, 6.7885, 8.4639, 0.63365, 0.33952, 0.03113),
    (90, 41841.1, 5.1835, 4.9346, 5.1833, 0.39659, 0.09168, 0.00012),
    (100, 6248.2, 2.7156, 2.7137, 2.7156, 0.08777, 0.00136, 0.00000),
]
MAKEHAM = FromHazard(lambda age: 0.00022 * age + 2.7e-6 / np.log(1.124) * (1.124**age - 1))


@pytest.mark.parametrize("row", STANDARD_ULTIMATE_LIFE_TABLE, ids=lambda row: f"age {row[0]}")
@pytest.mark.published("Dickson, Hardy & Waters, Standard Ultimate Life Table, by actuarialmath 1.1.0, second-hand")
def test_life_annuities_are_those_of_the_standard_ultimate_life_table(row: tuple[float, ...]) -> None:
    age, lives, whole, ten, twenty, *endowments = row
    assert 1e5 * MAKEHAM.survival_given(20.0, age - 20.0) == pytest.approx(lives, abs=0.051)
    paid = np.cumsum(MAKEHAM.survival_given(age, np.arange(130.0)) * 1.05 ** -np.arange(130.0))
    assert (paid[-1], paid[9], paid[19]) == pytest.approx((whole, ten, twenty), abs=5.1e-5)
    for years, endowment in zip((5.0, 10.0, 20.0), endowments, strict=True):
        assert MAKEHAM.survival_given(age, years) / 1.05**years == pytest.approx(endowment, abs=5.1e-6)


# Complete expectation of life under the same law, SULT().e_x(age, curtate=False) of actuarialmath 1.1.0.
COMPLETE_EXPECTATION = [(40.0, 46.277664914810714), (60.0, 27.209955064217723), (80.0, 11.105932063811311)]


@pytest.mark.parametrize(("age", "years"), COMPLETE_EXPECTATION)
@pytest.mark.published("actuarialmath 1.1.0, SULT().e_x(age, curtate=False)")
def test_expected_years_left_are_another_librarys(age: float, years: float) -> None:
    # It joins the table's ages by straight lines, which overstates survival by some 0.001 of a year.
    assert MAKEHAM.mean_residual_life(age) == pytest.approx(years, abs=0.01)


def test_the_force_of_mortality_is_makehams() -> None:
    age = np.array([0.0, 20.0, 60.0, 100.0])
    assert MAKEHAM.hazard(age) == pytest.approx(0.00022 + 2.7e-6 * 1.124**age, rel=1e-4)


# ---------------------------------------------------------------------------------------------------------------
# Another library: scipy's Weibull law and its adaptive quadrature

shapes = st.floats(0.5, 10.0)
lives = st.builds(Weibull, shapes, st.floats(1.0, 40.0), st.floats(0.0, 15.0))
ages_in_scales = st.floats(0.0, 3.0)
rates = st.floats(0.0, 0.2)


def by_adaptive_quadrature(life: Weibull, age: float, force: float, start: float, until: float) -> float:
    """Discounted years between two moments, by scipy alone."""
    law = weibull_min(life.shape, loc=life.delay, scale=life.scale)
    today = law.logsf(age)

    def worth(time: float) -> float:
        return float(np.exp(law.logsf(age + time) - today - force * time))

    chances = np.array([0.999, 0.9, 0.5, 0.1, 1e-2, 1e-4, 1e-8, 1e-14])
    breaks = [life.delay - age, *life.remaining(age, chances)]  # only split the range
    end = min(until, float(life.remaining(age, 1e-18)))
    edges = np.unique(np.clip([start, *breaks, end], start, max(start, end)))
    return sum(quad(worth, a, b, epsabs=1e-12, epsrel=1e-8, limit=400)[0] for a, b in pairwise(edges))


@pytest.mark.slow
@given(lives, ages_in_scales, rates, st.floats(0.0, 1.0))
def test_the_service_annuity_is_that_of_an_adaptive_quadrature(
    life: Weibull, scales: float, rate: float, share: float
) -> None:
    age, escalation = scales * float(life.scale), share * rate
    force = float(np.log((1 + rate) / (1 + escalation)))
    expected = by_adaptive_quadrature(life, age, force, 0.0, np.inf)
    assert life.annuity(age, rate, escalation) == pytest.approx(expected, rel=1e-6 if life.shape >= 1 else 1e-4)


@given(lives, ages_in_scales, rates, st.floats(0.0, 20.0), st.floats(1e-6, 20.0))
def test_exposure_between_two_moments_is_that_of_an_adaptive_quadrature(
    life: Weibull, scales: float, rate: float, start: float, term: float
) -> None:
    age, force = scales * float(life.scale), float(np.log1p(rate))
    expected = by_adaptive_quadrature(life, age, force, start, start + term)
    service = life.exposure(age, start=start, until=start + term)
    found = (service.years * np.exp(-force * service.time)).sum()
    assert found == pytest.approx(expected, rel=1e-6 if life.shape >= 1 else 1e-4, abs=1e-12)


@given(st.floats(0.3, 20.0), st.floats(1.0, 40.0), st.floats(0.0, 15.0), st.floats(0.0, 100.0))
def test_survival_hazard_and_mean_are_scipys(shape: float, scale: float, delay: float, age: float) -> None:
    life, law = Weibull(shape, scale, delay), weibull_min(shape, loc=delay, scale=scale)
    assert life.survival(age) == pytest.approx(law.sf(age), rel=1e-9, abs=1e-12)
    assert life.mean() == pytest.approx(law.mean(), rel=1e-8)
    assert life.median() == pytest.approx(law.median(), rel=1e-9)
    if law.sf(age) > 1e-200 and age - delay > 1e-3:
        assert life.hazard(age) == pytest.approx(law.pdf(age) / law.sf(age), rel=1e-9)


def test_any_law_of_life_can_be_passed() -> None:
    law = lognorm(0.6, scale=12.0)
    life = FromHazard(lambda age: -law.logsf(age))
    assert life.mean() == pytest.approx(law.mean(), rel=1e-6)
    assert life.median() == pytest.approx(law.median(), rel=1e-9)
    assert life.hazard(9.0) == pytest.approx(law.pdf(9.0) / law.sf(9.0), rel=1e-6)
    expected = quad(lambda t: law.sf(5.0 + t) / law.sf(5.0) / 1.03**t, 0, 400, epsrel=1e-11, limit=400)[0]
    assert life.annuity(5.0, 0.03) == pytest.approx(expected, rel=1e-6)


@pytest.mark.parametrize("age", [0.0, 5.0, 12.0, 30.0])
def test_drawn_lives_follow_the_conditional_law(age: float) -> None:
    law = weibull_min(REFRIGERATOR.shape, loc=REFRIGERATOR.delay, scale=REFRIGERATOR.scale)
    drawn = REFRIGERATOR.remaining(age, np.random.default_rng(20).random(20_000))
    assert kstest(drawn, lambda time: 1 - law.sf(age + time) / law.sf(age)).pvalue > 0.05
    assert drawn.mean() == pytest.approx(float(REFRIGERATOR.mean_residual_life(age)), rel=0.03)


def test_drawn_lives_are_worth_the_end_factor_and_the_annuity() -> None:
    drawn = REFRIGERATOR.remaining(12.0, np.random.default_rng(4).random(200_000))
    ends = 1.04**-drawn
    error = 4 * ends.std() / np.sqrt(ends.size)
    assert REFRIGERATOR.end_factor(12.0, 0.04) == pytest.approx(ends.mean(), abs=error)
    served = (1 - ends) / np.log(1.04)  # worth of one a year until the unit goes
    assert REFRIGERATOR.annuity(12.0, 0.04) == pytest.approx(served.mean(), abs=error / np.log(1.04))


# ---------------------------------------------------------------------------------------------------------------
# Identities

GENERAL = {
    "wears out": Weibull(2.5, 12.0),
    "delayed": REFRIGERATOR,
    "ageless": Weibull(1.0, 25.31),
    "weak ones first": Weibull(0.7, 9.0, 2.0),
}


@pytest.mark.parametrize("closed", GENERAL.values(), ids=GENERAL.keys())
@pytest.mark.parametrize("age", [0.0, 1.0, 8.874, 14.0, 40.0])
def test_the_closed_forms_are_what_the_hazard_alone_gives(closed: Weibull, age: float) -> None:
    general = FromHazard(closed.cumulative_hazard, delay=closed.delay)
    chances = np.array([1e-9, 0.1, 0.5, 0.99])
    assert general.remaining(age, chances) == pytest.approx(closed.remaining(age, chances), rel=1e-9)
    assert general.mean_residual_life(age) == pytest.approx(closed.mean_residual_life(age), rel=1e-6)
    assert general.annuity(age, 0.03, 0.01, until=11.0) == pytest.approx(
        closed.annuity(age, 0.03, 0.01, until=11.0), rel=1e-6
    )
    assert general.hazard(age + 0.5) == pytest.approx(closed.hazard(age + 0.5), rel=1e-5)


@given(lives, ages_in_scales, st.floats(1e-9, 1.0))
def test_the_chance_of_outliving_the_remaining_life_is_the_chance(life: Weibull, scales: float, chance: float) -> None:
    age = scales * float(life.scale)
    assert life.survival_given(age, life.remaining(age, chance)) == pytest.approx(chance, rel=1e-9)


@given(lives, ages_in_scales, st.floats(0.0, 30.0))
def test_exposure_adds_up_over_periods(life: Weibull, scales: float, moment: float) -> None:
    age = scales * float(life.scale)
    before, after = life.exposure(age, until=moment), life.exposure(age, start=moment)
    whole = life.mean_residual_life(age)
    tolerance = 1e-6 if life.shape >= 1 else 1e-4
    assert before.years.sum() + after.years.sum() == pytest.approx(whole, rel=tolerance)
    assert np.all(before.time <= moment * (1 + 1e-12))
    assert np.all(after.time >= moment)


@given(lives, ages_in_scales, st.floats(0.3, 2.0), rates)
def test_a_shorter_scale_is_so_many_times_the_hazard_at_every_age(
    life: Weibull, scales: float, factor: float, rate: float
) -> None:
    """f on the scale of a Weibull life is f^-k on its hazard, so f^-k as a power of the survival."""
    age, worn = scales * float(life.scale), replace(life, scale=factor * life.scale)
    power = factor**-life.shape
    for later in (each for each in (0.5, 4.0, 20.0) if life.survival_given(age, each) > 0):  # 0 has lost its power
        assert worn.survival_given(age, later) == pytest.approx(
            life.survival_given(age, later) ** power, rel=1e-9, abs=1e-12
        )
    shorter, longer = (each.annuity(age, rate) for each in ((worn, life) if factor <= 1 else (life, worn)))
    assert shorter <= longer * (1 + 1e-9)


@given(st.floats(0.5, 60.0), st.floats(0.0, 60.0), st.floats(0.0, 0.3))
def test_an_ageless_unit_is_worth_the_constant_force_annuity(scale: float, age: float, rate: float) -> None:
    # Dickson, Hardy & Waters: under a constant force mu the continuous whole life annuity is 1/(mu + delta).
    life = Weibull(1.0, scale)
    annuity = 1 / (1 / scale + np.log1p(rate))
    assert life.annuity(age, rate) == pytest.approx(annuity, rel=1e-9)
    assert life.end_factor(age, rate) == pytest.approx(annuity / scale, rel=1e-7)


@given(lives, ages_in_scales, rates)
def test_only_the_net_of_discount_and_escalation_counts(life: Weibull, scales: float, rate: float) -> None:
    age = scales * float(life.scale)
    assert life.annuity(age, rate, rate) == pytest.approx(
        life.mean_residual_life(age), rel=1e-6 if life.shape >= 1 else 1e-4
    )
    net = 1.05 * (1 + rate) - 1
    assert life.annuity(age, net, 0.05) == pytest.approx(life.annuity(age, rate), rel=1e-9)


@pytest.mark.parametrize("years", [0.5, 3.0, 10.0])
def test_a_life_that_ends_on_a_known_day_is_an_annuity_certain(years: float) -> None:
    # Annuity certain, continuous, at 5 % (any table of interest); 0.5 and 3 years left of 10, and a new one.
    life = FromHazard(lambda age: np.where(age < 10.0, 0.0, np.inf))
    age, force = 10.0 - years, np.log(1.05)
    assert life.annuity(age, 0.05) == pytest.approx((1 - 1.05**-years) / force, rel=1e-9)
    assert life.end_factor(age, 0.05) == pytest.approx(1.05**-years)


@given(st.floats(1.0, 60.0), st.floats(0.3, 20.0), st.floats(0.0, 0.9))
def test_a_life_made_from_its_mean_has_that_mean(mean: float, shape: float, share: float) -> None:
    life = Weibull.with_mean(mean, shape, delay=share * mean)
    assert life.mean() == pytest.approx(mean, rel=1e-8)


# ---------------------------------------------------------------------------------------------------------------
# Columns

COLUMN = np.arange(4)
SHAPE, SCALE, DELAY = np.array([0.6, 1.0, 2.5, 9.0]), np.array([8.0, 20.0, 12.0, 15.0]), np.array([0.0, 3, 9, 1])
AGE = np.array([4.0, 0.0, 11.0, 2.0])
START, UNTIL = np.array([0.0, 2.0, 1.0, 40.0]), np.array([5.0, 30.0, 1.5, np.inf])
RATE = np.array([0.0, 0.03, 0.07, 0.1])
FACTOR = np.array([1.0, 0.6, 1.4, 0.2])

ASKED = {
    "annuity": lambda life, i: life.annuity(AGE[i], RATE[i], 0.01, until=UNTIL[i]),
    "end_factor": lambda life, i: life.end_factor(AGE[i], RATE[i] + 0.02, 0.01),
    "mean": lambda life, i: life.mean() + 0 * AGE[i],
    "median": lambda life, i: life.median() + 0 * AGE[i],
    "mean_residual_life": lambda life, i: life.mean_residual_life(AGE[i]),
    "hazard": lambda life, i: life.hazard(AGE[i]),
    "survival": lambda life, i: life.survival(AGE[i]),
    "survival_given": lambda life, i: life.survival_given(AGE[i], UNTIL[i]),
    "remaining": lambda life, i: life.remaining(AGE[i], 0.3),
    "served": lambda life, i: life.exposure(AGE[i], start=START[i], until=UNTIL[i]).years.sum(-1),
    "worn annuity": lambda life, i: life.annuity(AGE[i], RATE[i], remaining_life_factor=FACTOR[i]),
    "worn end_factor": lambda life, i: life.end_factor(AGE[i], 0.02 + RATE[i], remaining_life_factor=FACTOR[i]),
}


@pytest.mark.parametrize("asked", ASKED.values(), ids=ASKED.keys())
def test_a_column_of_cases_is_the_cases_one_at_a_time(asked: object) -> None:
    together = asked(Weibull(SHAPE, SCALE, DELAY), COLUMN)
    assert together.shape == (4,)
    for i in COLUMN:
        assert together[i] == pytest.approx(asked(Weibull(SHAPE[i], SCALE[i], DELAY[i]), i), rel=1e-9)
    one_life = asked(REFRIGERATOR, COLUMN)  # a column of ages, one law
    general = asked(FromHazard(REFRIGERATOR.cumulative_hazard, REFRIGERATOR.delay), COLUMN)
    for i in COLUMN:
        assert one_life[i] == pytest.approx(asked(REFRIGERATOR, i), rel=1e-12)
        assert general[i] == pytest.approx(one_life[i], rel=1e-5)


@pytest.mark.parametrize("name", ["start", "until"])
def test_a_single_column_among_numbers_is_a_column_of_cases(name: str) -> None:
    column = {"start": START, "until": UNTIL}[name]
    together = REFRIGERATOR.exposure(6.0, **{name: column})
    assert together.time.shape == together.years.shape
    assert together.years.shape[0] == 4
    for i in COLUMN:
        alone = REFRIGERATOR.exposure(6.0, **{name: column[i]})
        assert together.years[i].sum() == pytest.approx(alone.years.sum(), rel=1e-12)


def test_a_column_meets_an_array_of_times_on_its_leading_axis() -> None:
    life, times = Weibull(SHAPE, SCALE, DELAY), np.array([[1.0, 5.0, 9.0]])
    table = life.survival_given(AGE, times)
    draws = life.remaining(AGE, np.full((4, 3), 0.25))
    assert table.shape == draws.shape == (4, 3)
    for i in COLUMN:
        alone = Weibull(SHAPE[i], SCALE[i], DELAY[i])
        assert table[i] == pytest.approx(alone.survival_given(AGE[i], times[0]))
        assert draws[i] == pytest.approx(np.full(3, alone.remaining(AGE[i], 0.25)))


# ---------------------------------------------------------------------------------------------------------------
# The ends of the range


@pytest.mark.parametrize("shape", [0.3, 0.5, 1.0, 1.272, 3.0, 10.0, 20.0])
@pytest.mark.parametrize("age", [0.0, 1e-12, 0.999, 1.0, 1.001, 30.0, 300.0, 1e5])
@pytest.mark.parametrize("delay", [0.0, 1.0])
def test_quadrature_and_closed_form_agree_at_every_age(shape: float, age: float, delay: float) -> None:
    life = Weibull(shape, 10.0, delay)
    years = life.mean_residual_life(age)
    assert 0 < years < np.inf
    assert life.exposure(age).years.sum() == pytest.approx(years, rel=1e-6 if 0.5 <= shape <= 10 else 2e-5)
    assert 0 < life.annuity(age, 0.05) <= years * (1 + 1e-5)
    assert 0 < life.remaining(age, 0.5) < np.inf


@pytest.mark.parametrize("age", [0.0, 10.0, 150.0, 990.0, 1010.0, 3000.0])
@pytest.mark.parametrize("rounding", [-1, 0, 1])
def test_a_shape_within_rounding_of_a_simple_one_has_its_mean_residual_life(age: float, rounding: int) -> None:
    # The closed forms of shape 1 and shape 1/2, as above.
    for shape, years in ((1.0, 10.0), (0.5, 2 * 10.0 * (1 + np.sqrt(age / 10.0)))):
        near = shape * (1 + rounding * 4e-16)
        assert Weibull(near, 10.0).mean_residual_life(age) == pytest.approx(years, rel=1e-9)


@pytest.mark.parametrize("life", [REFRIGERATOR, Weibull(0.4, 10.0), Weibull(20.0, 10.0), MAKEHAM])
@pytest.mark.parametrize("age", [0.0, 8.874, 60.0])
def test_a_short_period_is_served_in_proportion(life: Life, age: float) -> None:
    for until in (0.0, 1e-12, 1e-9):
        chance = life.survival_given(age, until)
        served = life.exposure(age, until=until).years.sum()
        assert chance * until <= served * (1 + 1e-12)
        assert served <= until * (1 + 1e-12)


@pytest.mark.parametrize("life", [REFRIGERATOR, Weibull(3.0, 10.0), Weibull(20.0, 10.0), MAKEHAM])
@pytest.mark.parametrize("age", [0.0, 300.0])
def test_nothing_is_served_after_the_end_of_life(life: Life, age: float) -> None:
    for start in (1e5, 1e9):
        late = life.exposure(age, start=start)
        assert np.all(late.years == 0)
        assert np.all(np.isfinite(late.time))
    assert np.all(life.exposure(age, start=5.0, until=2.0).years == 0)


@pytest.mark.parametrize("factor", [0.5, 1.0, 2.0, 3.0])
def test_a_unit_with_so_many_times_the_usual_years_left_gives_each_of_them_so_many_times_later(factor: float) -> None:
    usual = REFRIGERATOR.exposure(12.0)
    found = REFRIGERATOR.exposure(12.0, remaining_life_factor=factor)
    assert found.time == pytest.approx(factor * usual.time)
    assert found.years.sum() == pytest.approx(factor * REFRIGERATOR.mean_residual_life(12.0), rel=1e-6)
    some = REFRIGERATOR.exposure(12.0, remaining_life_factor=factor, start=2.0, until=6.0)
    assert some.years.sum() == pytest.approx(
        factor * REFRIGERATOR.exposure(12.0, start=2.0 / factor, until=6.0 / factor).years.sum()
    )
    assert ((some.time >= 2.0) & (some.time <= 6.0)).all()


def test_a_unit_without_outlook_serves_no_time() -> None:
    gone = REFRIGERATOR.exposure(3.0, remaining_life_factor=0.0)
    assert np.all(np.isfinite(gone.time))
    assert gone.years.sum() == pytest.approx(0, abs=1e-7)
    assert REFRIGERATOR.end_factor(3.0, 0.05, remaining_life_factor=0.0) == pytest.approx(1)
    assert np.all(REFRIGERATOR.exposure(3.0, remaining_life_factor=0.0, start=4.0).years == 0)


def test_no_chance_of_outliving_means_for_ever_and_certainty_means_while_safe() -> None:
    for life in (REFRIGERATOR, FromHazard(REFRIGERATOR.cumulative_hazard)):
        assert life.remaining(2.0, 0.0) == np.inf
        assert life.remaining(2.0, 1.0) <= 6.874 + 1e-9


def test_an_annuity_that_grows_without_bound_is_not_a_number() -> None:
    ageless = Weibull(1.0, 10.0)  # worth 1/(0.1 + force), if that is above 0
    assert ageless.annuity(0.0, 0.0, 0.04) == pytest.approx(1 / (0.1 - np.log(1.04)), rel=1e-6)
    assert np.isnan(ageless.annuity(0.0, 0.0, 0.12))
    assert np.isnan(ageless.end_factor(0.0, 0.0, 0.12))
    assert np.isnan(Weibull(0.5, 10.0).annuity(0.0, 0.03, 0.05))
    mixed = ageless.annuity(0.0, np.array([0.0, 0.0, 0.05]), np.array([0.04, 0.12, 0.0]))
    assert np.isnan(mixed).tolist() == [False, True, False]
    # Over a period it always exists: here the exact integral of exp((g - 0.1) t).
    growth = np.log(1.12) - 0.1
    assert ageless.annuity(0.0, 0.0, 0.12, until=15.0) == pytest.approx(np.expm1(15 * growth) / growth, rel=1e-9)


def test_an_annuity_that_grows_is_right_wherever_it_is_given() -> None:
    # An ageless unit of mean 10 under a flow that grows at g is worth 1/(0.1 - g), and without bound from 0.1 on.
    growth = np.array([0.01, 0.03, 0.049, 0.051, 0.06, 0.075, 0.09, 0.099, 0.1, 0.11, 0.3])
    found = Weibull(1.0, 10.0).annuity(3.0, 0.0, np.expm1(growth))
    given = np.isfinite(found)
    assert given[growth < 0.05].all()
    assert found[given] == pytest.approx(1 / (0.1 - growth[given]), rel=1e-6)


@pytest.mark.parametrize("delay", [0.0, 0.5, 1.0, 8.874])
def test_the_shape_without_a_delay_has_the_spread_of_the_life_with_it(delay: float) -> None:
    delayed, same = weibull_min(1.272, loc=delay, scale=11.75), weibull_min(without_delay(1.272, 11.75, delay))
    assert same.std() / same.mean() == pytest.approx(delayed.std() / delayed.mean(), rel=1e-9)


def test_a_hazard_that_levels_off_is_refused() -> None:
    levels_off = FromHazard(lambda age: 1 - np.exp(-age))
    with pytest.raises(NoSolution, match="levels off"):
        levels_off.mean()
    assert levels_off.remaining(0.0, 0.5) == pytest.approx(-np.log(1 - np.log(2)))  # before it does, there is an answer
    with pytest.raises(NoSolution, match="levels off"):
        levels_off.remaining(0.0, np.array([0.5, 0.01]))


@pytest.mark.parametrize("delay", [0.0, 8.0])
def test_at_the_end_of_the_delay_the_hazard_is_that_of_the_years_after_it(delay: float) -> None:
    assert Weibull(1.0, 10.0, delay).hazard(delay) == pytest.approx(0.1)
    assert Weibull(0.7, 10.0, delay).hazard(delay) == np.inf
    assert Weibull(2.0, 10.0, delay).hazard(delay) == 0


# ---------------------------------------------------------------------------------------------------------------
# Refusals

REFUSED = [
    (lambda: Weibull(0.2, 10.0), "shape", "from 0.3 to 20, got 0.2"),
    (lambda: Weibull(25.0, 10.0), "shape", "from 0.3 to 20, got 25.0"),
    (lambda: Weibull(np.array([2.0, np.nan]), 10.0), "shape", "from 0.3 to 20, got nan"),
    (lambda: Weibull(2.0, 0.0), "scale", "years, got 0.0"),
    (lambda: Weibull(2.0, 10.0, -1.0), "delay", "years, got -1.0"),
    (lambda: Weibull.with_mean(8.0, 2.0, delay=8.0), "mean", "8.001 or more years, got 8.0"),
    (lambda: Weibull.with_mean(np.array([12.0, 5.0]), 2.0, delay=8.0), "mean", "got 5.0"),
    (lambda: Weibull.with_mean(np.array([5.0, 12.0]), 2.0, delay=np.array([8.0, 3.0])), "mean", "8.001 or more years"),
    (lambda: Weibull.with_mean(np.nan, 2.0), "mean", "got nan"),
    (lambda: Weibull.with_mean(8.0, 0.0), "shape", "from 0.3 to 20, got 0.0"),
    (lambda: REFRIGERATOR.exposure(-1.0), "age", "years, got -1.0"),
    (lambda: REFRIGERATOR.exposure(np.array([1.0, np.nan])), "age", "years, got nan"),
    (lambda: REFRIGERATOR.exposure(1.0, remaining_life_factor=-0.5), "remaining_life_factor", "0 or more, got -0.5"),
    (lambda: REFRIGERATOR.exposure(1.0, start=-2.0), "start", "0 or more years, got -2.0"),
    (lambda: REFRIGERATOR.exposure(1.0, until=np.nan), "until", "0 or more years, got nan"),
    (lambda: REFRIGERATOR.annuity(1.0, -1.0), "rate", "-0.99 or more a year, got -1.0"),
    (lambda: REFRIGERATOR.annuity(1.0, 0.03, np.nan), "escalation", "got nan"),
    (lambda: REFRIGERATOR.remaining(1.0, 1.5), "chance", "from 0 to 1, got 1.5"),
]


@pytest.mark.parametrize(("asked", "field", "message"), REFUSED)
def test_a_wrong_input_is_refused_with_its_name_bounds_and_value(asked: object, field: str, message: str) -> None:
    with pytest.raises(OutOfRange) as refused:
        asked()
    assert refused.value.field == field
    assert message in str(refused.value)


def test_what_was_asked_before_is_kept_for_questions_of_the_same_numbers_and_shape_alone() -> None:
    """A what-if asks of most units what its case has asked."""
    column = Weibull(np.array([2.0, 3.0]), 10.0)
    first, again = (column.exposure(np.array([4.0, 5.0])) for _ in range(2))
    assert again.time is first.time
    with pytest.raises(ValueError, match="read-only"):
        first.years[0, 0] = 0.0
    assert column.exposure(np.array([4.0, 5.0]), until=9.0).years.sum() < first.years.sum()
    behind = Weibull(np.array([[2.0], [3.0]]), 10.0).exposure(np.array([[4.0], [5.0]]))
    assert behind.years.ndim == 3
    assert (behind.years[:, 0] == first.years).all()
