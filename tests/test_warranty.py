"""Callbacks under a free-repair warranty: against closed forms of renewal theory and against simulated customers."""

import math

import numpy as np
import pytest
from referees_warranty import callbacks_renewing, never
from scipy.special import gammainc

from decide.economics.case import Option
from decide.economics.flows import callback_probability
from decide.errors import OutOfRange
from decide.shop.warranty import EarlyFailure, callbacks, callbacks_by, worth_of

# Blischke & Murthy, Warranty Cost Analysis (1994): free replacement of items with an exponential life of mean m over a
# warranty w costs w/m replacements if the warranty is not renewed, exp(w/m) - 1 if it is (from memory).
EXPONENTIAL = [(100.0, 30.0), (100.0, 90.0), (400.0, 365.0), (50.0, 365.0)]


@pytest.mark.parametrize(("mean", "length"), EXPONENTIAL)
@pytest.mark.published("Blischke & Murthy, Warranty Cost Analysis (1994), from memory")
def test_items_without_memory_follow_the_published_formulas(mean: float, length: float) -> None:
    def law(days: np.ndarray) -> np.ndarray:
        return -np.expm1(-days / mean)

    assert callbacks(law, length) == pytest.approx(length / mean, rel=1e-4)
    assert callbacks_renewing(law, length) == pytest.approx(math.expm1(length / mean))


@pytest.mark.published("Barlow & Proschan (1965), Cox (1962), renewal function, from memory", "GRP-G2")
def test_two_stage_lives_follow_the_closed_form_of_their_renewal_function() -> None:
    # Gamma of shape 2 and rate 1: M(t) = t/2 - (1 - exp(-2t))/4 (Barlow & Proschan 1965; from memory)
    for length in (0.5, 2.0, 10.0):
        found = callbacks(lambda days: gammainc(2.0, days), length)
        assert found == pytest.approx(length / 2 - (1 - math.exp(-2 * length)) / 4, abs=2e-5)


@pytest.mark.published("Feller, vol. II, sums of uniform draws, from memory")
def test_uniform_lives_need_e_draws_to_pass_one() -> None:
    # The classic: the number of uniform draws whose sum first exceeds 1 is e on average, so M(1) = e - 1
    assert callbacks(EarlyFailureOfAll(30.0), 30.0) == pytest.approx(math.e - 1, abs=1e-5)
    # and to pass 2: e^2 - e (Feller, vol. II; from memory)
    assert callbacks(EarlyFailureOfAll(30.0), 60.0) == pytest.approx(math.e**2 - math.e - 1, abs=2e-5)


class EarlyFailureOfAll:
    """Every fix comes back within the window."""

    def __init__(self, window: float) -> None:
        self.window = window

    def __call__(self, days: np.ndarray) -> np.ndarray:
        return np.clip(days / self.window, 0.0, 1.0)


def test_within_the_window_callbacks_grow_like_the_solved_renewal_equation() -> None:
    # M' = q/W (1 + M), so M = exp(q w / W) - 1 up to the window; long after it M tends to q / (1 - q)
    holds = np.array([0.6, 0.9, 0.975, 1.0])
    law = EarlyFailure(holds, 30.0)
    assert callbacks(law, 20.0) == pytest.approx(np.expm1((1 - holds) * 20 / 30), abs=1e-6)
    assert callbacks(law, 3_000.0) == pytest.approx((1 - holds) / holds, rel=2e-3)


def test_redoing_once_at_most_is_what_a_case_takes() -> None:
    # flows counts one redoing under the warranty and no second; renewal adds terms of second order only
    for holds, covered in ((0.95, 15.0), (0.925, 90.0), (0.8, 30.0)):
        repair = Option(
            name="r", action="repair", repair_success_probability=holds, repair_warranty=covered, callback_window=30
        )
        law, once = EarlyFailure(holds, 30.0), float(callback_probability(repair))
        assert float(law(np.array([covered]))[0]) == pytest.approx(once)
        assert once <= float(callbacks(law, covered)) <= once / (1 - once) + 1e-6


def test_simulated_customers_come_back_as_often() -> None:
    rng, q, window, length, customers = np.random.default_rng(3), 0.3, 30.0, 75.0, 200_000
    clock, count, alive = np.zeros(customers), np.zeros(customers), np.ones(customers, bool)
    while alive.any():
        back = alive & (rng.random(customers) < q)
        clock = np.where(back, clock + window * rng.random(customers), clock)
        alive = back & (clock <= length)
        count += alive
    error = count.std() / math.sqrt(customers)
    assert float(callbacks(EarlyFailure(1 - q, window), length)) == pytest.approx(count.mean(), abs=4 * error)


def test_twice_the_steps_leave_the_answer_where_it_is() -> None:
    law = EarlyFailure(0.85, 30.0)
    coarse, fine = (callbacks_by(law, 365.0, steps)[..., -1] for steps in (400, 1600))
    assert coarse == pytest.approx(fine, rel=1e-3)


def test_a_warranty_is_priced_by_what_it_costs_and_worth_what_it_spares() -> None:
    # own row: 0.1 callbacks, 150 each to the shop, quote 320 with 7 % tax on the addition
    worth = worth_of(0.1, 150.0, 320.0, np.array([500.0, 200.0, -10.0]), 0.07)
    assert worth.cost == pytest.approx(15.0)
    assert worth.addition == pytest.approx(16.05)
    assert np.asarray(worth.gain).tolist() == pytest.approx([32.0, 20.0, 0.0])
    assert np.asarray(worth.gain - worth.addition).tolist() == pytest.approx([15.95, 3.95, -16.05])


@pytest.mark.parametrize(
    ("field", "amounts"),
    [
        ("repairs", (-0.1, 150.0, 320.0)),
        ("redo_cost", (0.1, -1.0, 320.0)),
        ("redo_cost", (0.1, math.nan, 320.0)),
        ("quote", (0.1, 150.0, -1.0)),
        ("tax_rate", (0.1, 150.0, 320.0, 500.0, 0.6)),
    ],
)
def test_a_warranty_of_amounts_that_are_none_is_refused_by_name(field: str, amounts: tuple[float, ...]) -> None:
    with pytest.raises(OutOfRange) as refused:
        worth_of(*amounts)
    assert refused.value.field == field


def test_a_window_of_a_day_and_of_a_year_and_a_repair_that_hardly_holds_are_the_last_that_may_be() -> None:
    for holds, window in ((0.05, 1.0), (1.0, 365.0)):
        assert float(EarlyFailure(holds, window)(np.array([window]))[0]) == pytest.approx(1 - holds)
    for holds, window in ((0.04, 30.0), (1.01, 30.0), (0.9, 0.99), (0.9, 365.01)):
        with pytest.raises(OutOfRange):
            EarlyFailure(holds, window)


def test_what_cannot_be_is_refused() -> None:
    with pytest.raises(OutOfRange, match="repair_success_probability"):
        EarlyFailure(0.0, 30.0)
    with pytest.raises(OutOfRange, match="warranty"):
        callbacks(never, float("nan"))
    with pytest.raises(OutOfRange, match="callback law"):
        callbacks(lambda days: 2.0 * np.ones_like(days), 30.0)
    with pytest.raises(OutOfRange, match="renewing"):
        callbacks_renewing(EarlyFailureOfAll(30.0), 30.0)
