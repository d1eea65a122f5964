"""Spending on later repairs and the repair limit by age, against a household that decides failure by failure."""

import numpy as np
import pytest
from scipy.stats import lognorm

from decide.economics.failures import Frailty
from decide.economics.later_repairs import LognormalQuotes, later_repairs
from decide.finance.life import Weibull

FORCE = np.log(1.04)
CASES = {
    # price, mean life, shape, share failing in 3 years, median bill, its log spread, running, unmendable, warranty
    "washer": (985.0, 11.5, 2.2, 0.22, 306.0, 0.35, 40.0, 0.0, 1.0),
    "tank": (1_400.0, 13.0, 1.86, 0.08, 255.0, 0.20, 180.0, 0.11, 6.0),
    "microwave": (150.0, 9.0, 2.2, 0.12, 120.0, 0.40, 12.0, 0.0, 2.0),
    "boiler": (8_000.0, 25.0, 1.41, 0.15, 280.0, 0.43, 900.0, 0.02, 0.0),
}
WAITING = 7.0


def solved(name: str):
    price, mean, shape, share, median, spread, running, unmendable, warranty = CASES[name]
    life = Weibull.with_mean(mean, shape)
    frailty = Frailty(variance=0.45, defect_share=2 / 3, failure_share=share, growth=1.2)

    def rate(age: np.ndarray) -> np.ndarray:
        return frailty.usual_failure_rate(life, age)

    found = later_repairs(
        life, LognormalQuotes(median, spread), rate, discount_force=FORCE, price=price, running=running,
        unmendable=unmendable, waiting=WAITING, warranty=warranty,
    )  # fmt: skip
    return life, rate, found


@pytest.mark.parametrize("name", CASES)
def test_a_household_that_decides_each_failure_by_itself_has_the_same_limits(name: str) -> None:
    """Backward induction over short steps of age (Hastings 1969), with the bill drawn and the cheaper way taken.

    It leaves for other reasons at the rate that the published ends have beyond those failures that nobody repairs.
    """
    price, _, _, _, median, spread, running, unmendable, warranty = CASES[name]
    life, rate, found = solved(name)
    last, step = float(life.time_to_gain(0.0, 12.0)), 0.02
    edge = np.arange(0.0, last, step)
    middle = edge + step / 2
    failing = rate(middle) * step
    hazard = life.hazard_gained(edge, np.full(edge.shape, step))
    left = np.where(middle < warranty, hazard, hazard - failing * (1 - np.interp(middle, found.age, found.accepted)))
    assert np.all(left > -0.02 * hazard.max())  # no more failures are left unrepaired than ends are published
    bills = lognorm(spread, scale=median).ppf((np.arange(400) + 0.5) / 400)
    new = found.cost_of_new
    for _ in range(200):
        keeping = np.empty(edge.size + 1)
        keeping[-1] = new
        for i in range(edge.size - 1, -1, -1):
            then = keeping[i + 1]
            if middle[i] < warranty:
                failed = then + WAITING
            else:
                mended = np.mean(np.minimum(bills + WAITING + then, new))
                failed = unmendable * new + (1 - unmendable) * mended
            keeping[i] = running * step + np.exp(-FORCE * step) * (
                then + failing[i] * (failed - then) + left[i] * (new - then)
            )
        if abs(price + keeping[0] - new) < 1e-4 * price:
            break
        new = price + keeping[0]
    limit = new - keeping[:-1]
    for age in (0.0, 2.0, 5.0, 10.0, 15.0):
        assert np.interp(age, found.age, found.limit) == pytest.approx(
            np.interp(age, middle, limit), abs=0.012 * price
        ), age


@pytest.mark.parametrize("name", CASES)
def test_a_new_one_is_worth_its_price_and_the_limit_falls_with_age(name: str) -> None:
    price = CASES[name][0]
    *_, found = solved(name)
    edge = found.limit[0] + (found.limit[0] - found.limit[1]) * found.age[0] / (found.age[1] - found.age[0])
    assert edge == pytest.approx(price, rel=2e-3)
    assert np.all(np.diff(found.limit) < 1e-9 * price)


def test_in_warranty_only_waiting_is_spent() -> None:
    _, rate, found = solved("tank")
    early = found.age < 6.0
    np.testing.assert_allclose(found.spending[early], rate(found.age[early]) * WAITING)


def test_dear_bills_of_old_appliances_are_declined() -> None:
    *_, found = solved("washer")
    assert (
        found.accepted[np.searchsorted(found.age, 3.0)] > 0.9 > 0.5 > found.accepted[np.searchsorted(found.age, 25.0)]
    )
