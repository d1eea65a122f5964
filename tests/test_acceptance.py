"""The fit of acceptances: against printed logistic regressions, an independent maximiser, and simulated shops."""

import numpy as np
import pytest
from scipy.optimize import minimize
from scipy.special import expit

from decide.answers.shop_quote import judged_curves
from decide.errors import CaseError, NoSolution, OutOfRange
from decide.load.tables.tables import tables
from decide.shop.acceptance import NEEDED, Answers, Curve, answers_of, fitted, logistic
from decide.shop.jobs import DECISIONS, Jobs

# Dalal, Fowlkes & Hoadley, JASA 84 (1989): 23 flights, temperature [F], whether any O-ring was damaged. Data and fit as
# printed by R in a course page of Brigham Young University-Idaho (Math 325, Challenger example), read there.
FLIGHTS_23 = (
    [66, 69, 68, 67, 72, 73, 70, 78, 67, 67, 75, 70, 81, 76, 79, 76, 53, 57, 58, 63, 70, 70, 75],
    [0] * 16 + [1] * 7,
    (15.0429, -0.2322),
    (7.3786, 0.1082),
)
# Montgomery & Runger, Applied Statistics and Probability for Engineers, supplement 11-9: 24 flights, printed by Minitab
# (signs of the slope restored), read there; log-likelihood -11.515.
FLIGHTS_24 = (
    [53, 56, 57, 63, 66, 67, 67, 67, 68, 69, 70, 70, 70, 70, 72, 73, 75, 75, 76, 76, 78, 79, 80, 81],
    [1, 1, 1, 0, 0, 0, 0, 0, 0, 0, 0, 1, 1, 1, 0, 0, 0, 1, 0, 0, 0, 0, 0, 0],
    (10.875, -0.17132),
    (5.703, 0.08344),
)
# Bliss (1935), beetles and carbon disulphide: log10 dose, insects, killed. Fit in Dobson, An Introduction to
# Generalized Linear Models, table 7.4 (from memory): -60.72 (5.18), 34.27 (2.91).
BEETLES = [
    (1.6907, 59, 6), (1.7242, 60, 13), (1.7552, 62, 18), (1.7842, 56, 28), (1.8113, 63, 52), (1.8369, 59, 53),
    (1.8610, 62, 61), (1.8839, 60, 60),
]  # fmt: skip

JUDGED = judged_curves(tables())


@pytest.mark.parametrize(("flights", "digits"), [(FLIGHTS_23, (4, 4)), (FLIGHTS_24, (3, 5))])
@pytest.mark.published("Dalal, Fowlkes & Hoadley (1989), fit of Math 325; Montgomery & Runger, supplement 11-9")
def test_the_flights_are_fitted_as_printed(flights: tuple[list, list, tuple, tuple], digits: tuple[int, int]) -> None:
    temperature, damaged, printed, errors = flights
    fit = logistic(np.array(temperature, float)[:, np.newaxis], np.array(damaged) == 1)
    for found, error, value, printed_error, places in zip(
        fit.coefficients, fit.standard_errors, printed, errors, digits, strict=True
    ):
        assert float(found) == pytest.approx(value, abs=0.5 * 10**-places)
        assert float(error) == pytest.approx(printed_error, abs=0.6 * 10 ** -min(places, 4 if places == 4 else places))


@pytest.mark.published("Montgomery & Runger, Applied Statistics, supplement 11-9")
def test_the_likelihood_of_the_24_flights_is_as_printed() -> None:
    temperature, damaged, *_ = FLIGHTS_24
    fit = logistic(np.array(temperature, float)[:, np.newaxis], np.array(damaged) == 1)
    assert fit.log_likelihood == pytest.approx(-11.515, abs=5e-4)


@pytest.mark.published("Bliss (1935), fit of Dobson, table 7.4, from memory")
def test_the_beetles_are_fitted_as_printed() -> None:
    dose = np.concatenate([np.full(n, d) for d, n, _ in BEETLES])
    killed = np.concatenate([np.arange(n) < k for _, n, k in BEETLES])
    fit = logistic(dose[:, np.newaxis], killed)
    assert fit.coefficients == pytest.approx([-60.72, 34.27], abs=5e-3)
    assert fit.standard_errors == pytest.approx([5.18, 2.91], abs=5e-3)


def test_of_two_kinds_of_quote_the_fit_is_the_logarithm_of_their_odds() -> None:
    # 7 of 10 accepted and 3 of 10: the level stays at nothing from the first step on, and the slope has yet to settle
    side = np.repeat([-1.0, 1.0], 10)
    fit = logistic(side[:, np.newaxis], np.tile(np.arange(10), 2) < np.where(side < 0, 7, 3))
    assert fit.coefficients == pytest.approx([0.0, np.log(3 / 7)], abs=1e-9)
    assert fit.standard_errors == pytest.approx(np.full(2, 1 / np.sqrt(20 * 0.7 * 0.3)))


def test_far_apart_records_are_fitted_though_a_whole_step_goes_too_far() -> None:
    # Invented, over five powers of ten, so that steps are cut. Where the likelihood is greatest what is expected of
    # each column is what was seen of it.
    first = [26.0, 0.3, 0.82, 7.5, 0.29, 0.78, 0.028, 15.0, 0.058]
    x = np.column_stack([first, [13.0, 15.0, 6.9, 0.74, 400.0, 0.069, 0.011, 0.11, 0.018]])
    taken = np.array([1, 0, 0, 1, 0, 1, 1, 1, 0]) == 1
    fit = logistic(x, taken)
    design = np.column_stack([np.ones(9), x])
    assert design.T @ expit(design @ fit.coefficients) == pytest.approx(design.T @ taken, abs=1e-6)
    assert fit.log_likelihood > 9 * np.log(0.5)


def test_another_maximiser_finds_the_same_coefficients_and_errors() -> None:
    rng = np.random.default_rng(11)
    x = rng.normal(size=(300, 2)) * [0.3, 4.0] + [0.0, 9.0]
    taken = rng.random(300) < 1 / (1 + np.exp(-(0.8 - 6 * x[:, 0] - 0.05 * x[:, 1])))

    def lost(b: np.ndarray) -> float:
        odds = b[0] + x @ b[1:]
        return float(np.sum(np.log1p(np.exp(np.where(taken, -odds, odds)))))

    found = minimize(lost, np.zeros(3), method="Nelder-Mead", options={"xatol": 1e-9, "fatol": 1e-12, "maxiter": 9000})
    fit = logistic(x, taken)
    assert fit.coefficients == pytest.approx(found.x, abs=1e-5)
    assert fit.log_likelihood == pytest.approx(-found.fun)
    step = 1e-4
    steps = [step * np.eye(3)[i] for i in range(3)]
    curvature = np.array(
        [
            [
                (
                    lost(found.x + a + b) - lost(found.x + a - b) - lost(found.x - a + b) + lost(found.x - a - b)
                )
                / (4 * step**2)
                for b in steps
            ]
            for a in steps
        ]
    )  # fmt: skip
    assert fit.covariance == pytest.approx(np.linalg.inv(curvature), rel=2e-3)


def test_the_truth_lies_in_the_interval_nine_times_in_ten() -> None:
    rng, truth, inside, shops = np.random.default_rng(2), Curve(0.4, -7.0, -0.04), 0, 400
    asked = np.array([[0.05, 8.0]])
    for _ in range(shops):
        excess, age = rng.normal(0, 0.2, 200), rng.uniform(0, 20, 200)
        accepted = rng.random(200) < truth.chance(excess, age)
        _, fit = fitted(Answers(excess, age, accepted))
        low, high = fit.interval(asked)
        inside += bool(low[0] <= truth.chance(0.05, 8.0) <= high[0])
    assert inside / shops == pytest.approx(0.9, abs=4 * np.sqrt(0.09 / shops))


def test_records_that_a_line_parts_are_refused_and_so_is_a_predictor_that_never_varies() -> None:
    x = np.linspace(-1, 1, 60)
    with pytest.raises(NoSolution, match="line tells"):
        logistic(x[:, np.newaxis], x < 0.1)
    on_the_line = np.array([[0.0], [1.0], [1.0], [2.0]])  # parted but for two on the line itself: no maximum either
    with pytest.raises(NoSolution, match="line tells"):
        logistic(on_the_line, np.array([False, False, True, True]))
    with pytest.raises(NoSolution, match="same in all"):
        logistic(np.ones((10, 1)), np.arange(10) < 5)
    with pytest.raises(OutOfRange):
        logistic(np.array([[np.nan], [1.0]]), np.array([True, False]))


def test_too_few_of_the_rarer_answer_are_refused_with_the_number_needed() -> None:
    assert NEEDED == 2 * 10  # ten for each slope, as published
    rng = np.random.default_rng(1)
    excess, age = rng.normal(0, 0.2, 500), rng.uniform(0, 20, 500)
    few = np.arange(500) < NEEDED - 1
    with pytest.raises(NoSolution, match=f"needs {NEEDED} accepted"):
        fitted(Answers(excess, age, few))
    assert fitted(Answers(excess, age, np.arange(500) < NEEDED))[1].records == 500


def test_the_fit_does_not_hang_on_units() -> None:
    rng = np.random.default_rng(6)
    x = rng.normal(size=200)
    taken = rng.random(200) < 1 / (1 + np.exp(x))
    plain, scaled = logistic(x[:, np.newaxis], taken), logistic(1e6 * x[:, np.newaxis] + 5e6, taken)
    assert scaled.coefficients[1] * 1e6 == pytest.approx(plain.coefficients[1])
    assert scaled.standard_errors[1] * 1e6 == pytest.approx(plain.standard_errors[1])


def test_judged_curves_fall_with_the_price_and_span_what_is_not_known() -> None:
    excess = np.linspace(-0.5, 0.5, 11)
    chances = np.array([curve.chance(excess) for curve in JUDGED])
    assert np.all(np.diff(chances, axis=1) < 0)
    assert [round(float(curve.chance(0.0)), 1) for curve in JUDGED] == [0.3, 0.5, 0.7]
    assert float(JUDGED[1].chance(0.1)) == pytest.approx(1 / 6, abs=0.01)
    assert float(JUDGED[2].chance(0.1)) > 0.5


def jobs(decisions: list[str], age: list[float]) -> Jobs:
    n, nothing = len(age), np.full(len(age), np.nan)
    days = np.full(n, np.datetime64("NaT", "D"))
    money = {name: nothing for name in ("parts", "labour", "labour_hours", "trip", "fee", "fee_credited")}
    return Jobs(
        row=np.arange(n), date=days, kinds=("dishwasher",), kind=np.zeros(n, np.int16), age=np.array(age),
        faults=("other",), fault=np.zeros(n, np.int16), quote=np.full(n, 200.0),
        decision=np.array([DECISIONS.index(d) for d in decisions], np.int16), outcome=np.zeros(n, np.int16),
        outcome_date=days, known_since=days, unit=np.full(n, ""), **money,
    )  # fmt: skip


def test_open_quotes_and_jobs_without_age_or_excess_tell_nothing() -> None:
    book = jobs(["open", "repaired", "replaced", "left", "declined", "repaired"], [5, 5, 6, 7, 8, np.nan])
    found = answers_of(book, np.array([0.0, 0.1, 0.2, np.nan, 0.4, 0.5]))
    assert found.excess.tolist() == [0.1, 0.2, 0.4]
    assert found.accepted.tolist() == [True, False, False]
    assert found.rarer == 1
    with pytest.raises(CaseError, match="one entry a job"):
        answers_of(book, np.zeros(3))


def test_a_fit_that_finds_no_rest_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    temperature, damaged, *_ = FLIGHTS_24
    monkeypatch.setattr("decide.shop.acceptance.SWEEPS", 1)
    with pytest.raises(NoSolution, match="found no rest"):
        logistic(np.array(temperature, float)[:, np.newaxis], np.array(damaged) == 1)
