"""Annuities on a life, made of its exposure as the weighing is: what actuarial tables print."""

import numpy as np

from decide.arrays import Floats, Number
from decide.errors import require
from decide.finance.life import AT_ONCE, REACH, Life


def _force(rate: Number, escalation: Number) -> Floats:
    """Net force of discount, ln(1 + rate) - ln(1 + escalation)."""
    for field, value in (("rate", rate), ("escalation", escalation)):
        require(field, value, -0.99, np.inf, "a year")
    return np.log1p(rate) - np.log1p(escalation)


def life_annuity(
    life: Life,
    age: Number,
    rate: Number,
    escalation: Number = 0.0,
    *,
    remaining_life_factor: Number = 1.0,
    until: Number = np.inf,
) -> Floats:
    r"""Discounted years of service that a unit of this age can be expected to give. [year]

    .. math:: A_g(a) = \int_0^{until} e^{-(\rho - g) t}\, \frac{S(a + t / f)}{S(a)}\, dt,
        \qquad \rho = \ln(1 + rate),\ g = \ln(1 + escalation)

    Parameters
    ----------
    age : age today, shape (...) [year]
    rate, escalation : discount rate, and yearly growth of the flow's price, shape (...) [1/year]
    remaining_life_factor : share of the usual remaining years, shape (...) [-]
    until : last moment that counts, shape (...) [year]

    Notes
    -----
    NaN where the price outgrows discount so fast that the last unit in 10^14 still matters: the value is then
    infinite, or beyond what can be computed.

    References
    ----------
    .. [1] Dickson, Hardy & Waters, Actuarial Mathematics for Life Contingent Risks, whole life continuous
       annuity.
    """
    force = _force(rate, escalation)
    service = life.exposure(age, remaining_life_factor=remaining_life_factor, until=until)
    worth = (service.years * np.exp(-force[..., np.newaxis] * service.time)).sum(axis=-1)
    return _where_finite(life, worth, age, force, remaining_life_factor, until)


def life_annuity_due(
    life: Life,
    age: Number,
    rate: Number,
    escalation: Number = 0.0,
    *,
    remaining_life_factor: Number = 1.0,
    until: Number = np.inf,
) -> Floats:
    r"""Expected discounted number of payments made at each start of a year, as for a service plan.

    .. math:: \ddot a = \sum_{k = 0, 1, \ldots < until} \left(\frac{1 + escalation}{1 + rate}\right)^k
        \frac{S(a + k / f)}{S(a)}

    Parameters and NaN are as in `annuity`; `until` is the term of the plan, whose last payment is made a
    year before its end.
    """
    force, pace = _force(rate, escalation), np.maximum(remaining_life_factor, AT_ONCE)
    last = np.minimum(pace * life.time_to_gain(age, REACH), until)
    with np.errstate(divide="ignore", over="ignore"):
        last = np.where(force > 0, np.minimum(last, REACH / force), last)
    year = np.arange(np.maximum(np.ceil(last.max()), 1)) + np.zeros((*last.shape, 1))
    hazard = life.hazard_gained(age, year / np.asarray(pace)[..., np.newaxis])
    paid = (year < np.asarray(until)[..., np.newaxis]) * np.exp(-force[..., np.newaxis] * year - hazard)
    return _where_finite(life, paid.sum(axis=-1), age, force, remaining_life_factor, until)


def _where_finite(
    life: Life, worth: Floats, age: Number, force: Floats, remaining_life_factor: Number, until: Number
) -> Floats:
    if np.all(force >= 0):
        return worth
    end = np.asarray(remaining_life_factor) * life.time_to_gain(age, REACH)
    return np.where((-force * end > REACH / 2) & (until > end), np.nan, worth)


def life_end_factor(
    life: Life, age: Number, rate: Number, escalation: Number = 0.0, *, remaining_life_factor: Number = 1.0
) -> Floats:
    r"""Worth today of one unit of money due when the unit's service ends.

    .. math:: Z_g(a) = E[e^{-(\rho - g) T}] = 1 - (\rho - g) A_g(a)

    Parameters and NaN are as in `annuity`.
    """
    return 1 - _force(rate, escalation) * life_annuity(
        life, age, rate, escalation, remaining_life_factor=remaining_life_factor
    )
