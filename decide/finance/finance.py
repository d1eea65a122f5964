"""Equivalent annual cost, loans, and the measures of an investment.

The conventions are those of `discount`. An input out of bounds raises, NaN among them; a *measure* that does not exist
is NaN.
"""

from dataclasses import dataclass

import numpy as np
import numpy_financial as npf

from ..arrays import Floats, Number, Truths
from ..errors import CaseError
from .discount import ROUNDING, checked, nominal_rate, single_present_value, uniform_present_value

LEAST_RATE = -0.99  # an internal rate at or below it loses all but a hundredth each year: no investment is meant
FOR_GOOD = 1_000  # years in which a level saving either repays a first cost or never will [year]
LEAST_LOAN_RATE = 1e-9  # below it a period's interest drowns in rounding: taken as no interest, right to 1 in 10^6


def equivalent_annual_cost(present_value: Number, rate: Number, years: Number) -> Floats:
    """Level yearly cost, at year ends, that has the given present value: PV/UPV(r, N).

    Parameters
    ----------
    present_value : worth today of the whole stream, PV, shape (...) [money]
    rate : discount rate, r, shape (...) [1/year]
    years : years over which it is spread, N, shape (...) [year]

    Returns
    -------
    cost : shape (...), NaN where there is no year to spread it over [money/year]

    Notes
    -----
    Options of unequal life may be compared by it only if each would be repeated like for like.

    Examples
    --------
    >>> round(float(equivalent_annual_cost(1000.0, 0.0, 10)), 2)
    100.0
    """
    worth, rate, years = checked(present_value=present_value, rate=rate, years=years)
    return _quotient(worth, uniform_present_value(rate, years), years > 0, np.nan)


def loan_payment(principal: Number, nominal_rate: Number, years: Number, payments_per_year: float = 12) -> Floats:
    """Level payment at the end of each period that pays a loan off, in money of the day. [money]

    Parameters
    ----------
    principal : amount lent today, shape (...) [money]
    nominal_rate : yearly rate as contracts print it, a period's times periods a year, shape (...) [1/year]
    years : term, one payment at least, shape (...) [year]
    payments_per_year : 12 if monthly [1/year]

    References
    ----------
    12 CFR 1026 (Regulation Z), Appendix J, for the yearly rate as printed.

    Examples
    --------
    >>> round(float(loan_payment(200_000, 0.075, 15)), 2), round(float(loan_payment(1200.0, 0.0, 1)), 2)
    (1854.02, 100.0)
    """
    principal, nominal_rate, years = checked(principal=principal, nominal_rate=nominal_rate, years=years)
    period_rate = nominal_rate / payments_per_year
    period_rate = np.where(np.abs(period_rate) < LEAST_LOAN_RATE, 0.0, period_rate)
    return npf.pmt(period_rate, _payments(years, payments_per_year), -principal)


def loan_present_value(
    payment: Number, rate: Number, inflation: Number, years: Number, payments_per_year: float = 12
) -> Floats:
    """Worth today, in constant prices, of a loan's payments, which inflation makes lighter year by year. [money]

    Parameters
    ----------
    payment : each period's, fixed in money of the day, at the period's end, shape (...) [money]
    rate : real discount rate, shape (...) [1/year]
    inflation : general rise of prices, shape (...) [1/year]
    years : term, one payment at least, shape (...) [year]
    payments_per_year : 12 if monthly [1/year]

    Examples
    --------
    >>> round(float(loan_present_value(100.0, 0.03, 0.02, 1)), 2)
    1168.46
    """
    payment, rate, inflation, years = checked(payment=payment, rate=rate, inflation=inflation, years=years)
    period_rate = np.expm1(np.log1p(nominal_rate(rate, inflation)) / payments_per_year)
    return payment * uniform_present_value(period_rate, _payments(years, payments_per_year))


def net_saving(base_cost: Number, alternative_cost: Number) -> Floats:
    """What the alternative saves over the whole period: LCC(base) - LCC(alternative), negative for a loss. [money]

    Parameters
    ----------
    base_cost : present value of all costs of the base case, shape (...) [money]
    alternative_cost : the same of the alternative, over the same period, shape (...) [money]

    References
    ----------
    10 CFR 436.20.

    Examples
    --------
    >>> round(float(net_saving(27_944, 26_344)))
    1600
    """
    base_cost, alternative_cost = checked(base_cost=base_cost, alternative_cost=alternative_cost)
    return base_cost - alternative_cost


def simple_payback(first_cost: Number, savings: Floats) -> Floats:
    """Years until the yearly savings have repaid the first cost, without interest. [year]

    `discounted_payback` at rate 0, whose notes hold here too.

    Parameters
    ----------
    first_cost : extra outlay today, shape (...) [money]
    savings : costs avoided in years 1 to n, shape (..., n); one number is saved every year [money]

    References
    ----------
    10 CFR 436.23; the fraction of a year is the textbooks'.

    Examples
    --------
    >>> round(float(simple_payback(225_000, np.full(15, 40_700.0))), 3)
    5.528
    """
    return discounted_payback(first_cost, savings, 0.0)


def discounted_payback(first_cost: Number, savings: Floats, rate: Number) -> Floats:
    """Years until the yearly savings, discounted, have repaid the first cost; NaN where they never have. [year]

    In the year that repays it, the year's discounted saving is taken to come evenly (linear interpolation).

    Parameters
    ----------
    first_cost : extra outlay today, shape (...) [money]
    savings : costs avoided in years 1 to n, not yet discounted, shape (..., n); one number is saved every year [money]
    rate : discount rate, shape (...) [1/year]

    Notes
    -----
    Savings of a later year may be negative (a part to renew), and the sum may dip below the first cost again.
    It is the *first* crossing that is told, and only if the sum over all the years still covers the first
    cost: what is repaid and lost again by the end was never paid back. A first cost of nothing or less is
    repaid at once, whatever follows; then only the net saving tells whether the bargain is a good one.

    References
    ----------
    10 CFR 436.23 without discounting; ASTM E1121 names both.

    Examples
    --------
    >>> round(float(discounted_payback(5100, np.array([1280, 2480, 1680, 1680, 1480, 1280]), 0.09)), 2)
    3.45
    """
    if np.ndim(savings) == 0:
        savings = np.full(FOR_GOOD, savings, dtype=float)
    first_cost, savings, rate = checked(first_cost=first_cost, savings=savings, rate=rate)
    worth = savings * single_present_value(rate[..., None], np.arange(1.0, savings.shape[-1] + 1))
    owed = first_cost[..., None]
    worth = np.broadcast_to(worth, np.broadcast_shapes(worth.shape, owed.shape))
    repaid = np.cumsum(worth, axis=-1)
    reached = repaid >= owed * (1 - ROUNDING)
    crossing = np.argmax(reached, axis=-1)[..., None]
    in_the_year = np.take_along_axis(worth, crossing, axis=-1)
    before = np.take_along_axis(repaid, crossing, axis=-1) - in_the_year
    kept = reached[..., -1:] & (owed > 0)
    part = np.minimum(_quotient(owed - before, in_the_year, kept, np.nan), 1)
    return np.where(owed > 0, crossing + part, 0.0)[..., 0]


def lasting_payback(extra: Floats, rate: Number = 0.0) -> Floats:
    """Years until one course of payments has cost less in all than another, for good; NaN if not in n years. [year]

    Parameters
    ----------
    extra : what the one costs beyond the other today and in years 1 to n, shape (..., n + 1) [money]
    rate : discount rate, shape (...); 0 for the simple payback [1/year]

    Notes
    -----
    Payments of a year are taken to come evenly (linear interpolation). Unlike `discounted_payback` all payments count,
    and of several crossings it is the last one that is told.

    Examples
    --------
    >>> float(lasting_payback(np.array([300.0, -100.0, -100.0, -200.0])))
    2.5
    """
    extra = np.asarray(extra, dtype=float)
    years = np.arange(extra.shape[-1])
    total = np.cumsum(extra * (1 + np.asarray(rate, dtype=float)[..., None]) ** -years, axis=-1)
    above = total > ROUNDING * np.max(np.abs(total), axis=-1, keepdims=True)
    last = extra.shape[-1] - 1 - np.argmax(above[..., ::-1], axis=-1)[..., None]
    after = np.minimum(last + 1, extra.shape[-1] - 1)
    high, low = (np.take_along_axis(total, at, axis=-1) for at in (last, after))
    part = _quotient(high, high - low, after > last, np.nan)
    return np.where(np.any(above, axis=-1), (last + part)[..., 0], 0.0)


def savings_to_investment_ratio(operating_savings_pv: Number, extra_investment_pv: Number) -> Floats:
    """How many times over the savings repay the extra investment (SIR), both as worth today. [-]

    Infinite where savings need no extra investment, NaN where there are neither.

    Parameters
    ----------
    operating_savings_pv : what is saved on running, upkeep and repair, shape (...) [money]
    extra_investment_pv : what more is invested, with later renewals and residual value, shape (...) [money]

    References
    ----------
    10 CFR 436 Subpart A; the cases without extra investment as NIST's E3 publishes them in its unit tests.

    Examples
    --------
    >>> round(float(savings_to_investment_ratio(3443, 861)), 2), float(savings_to_investment_ratio(10.0, 0.0))
    (4.0, inf)
    """
    savings, investment = checked(operating_savings_pv=operating_savings_pv, extra_investment_pv=extra_investment_pv)
    return _quotient(savings, investment, investment > 0, np.where(savings > 0, np.inf, np.nan))


def adjusted_internal_rate_of_return(sir: Number, rate: Number, years: Number) -> Floats:
    """Yearly yield of the extra investment if savings are reinvested at the discount rate (AIRR). [1/year]

    (1 + r) SIR^(1/N) - 1; NaN where the ratio is not a positive number or there is no period.

    Parameters
    ----------
    sir : savings-to-investment ratio, shape (...) [-]
    rate : discount rate, r, at which savings are reinvested, shape (...) [1/year]
    years : study period, N, shape (...) [year]

    References
    ----------
    10 CFR 436.22.

    Examples
    --------
    >>> round(float(adjusted_internal_rate_of_return(3443 / 861, 0.03, 15)), 4)
    0.1297
    """
    sir, rate, years = checked(sir=sir, rate=rate, years=years)
    exists = (sir > 0) & np.isfinite(sir) & (years > 0)
    growth = np.where(exists, sir, 1.0) ** _quotient(np.ones(()), years, exists, 0.0)
    return np.where(exists, (1 + rate) * growth - 1, np.nan)


def internal_rate_of_return(flows: Floats) -> Floats:
    """Rate at which a series of flows is worth nothing today, if there is exactly one, else NaN (IRR). [1/year]

    Parameters
    ----------
    flows : flow of today, then of the end of each year, shape (..., n + 1) [money]

    Notes
    -----
    Counted are the rates at which the present value *changes sign*; one that it only touches parts no good
    from bad. Rates at or below -0.99, which lose all but a hundredth each year, are disregarded. Series that
    change sign more than once may have several rates, of which none may be called the yield.

    Examples
    --------
    >>> round(float(internal_rate_of_return(np.array([-1000.0, 0.0, 1240.0]))), 4)
    0.1136
    >>> float(internal_rate_of_return(np.array([-50.0, -100.0, 600.0, 300.0, -100.0])))
    nan
    """
    (flows,) = checked(flows=flows)
    return np.apply_along_axis(_only_crossing, -1, flows)


def _only_crossing(flows: Floats) -> float:
    """The one rate above LEAST_RATE where the present value of one series changes sign, or NaN."""
    flows = np.trim_zeros(np.where(np.abs(flows) > ROUNDING * np.abs(flows).max(), flows, 0.0))
    if flows.size < 2:
        return np.nan
    points = _points_between_roots(flows)
    signs = np.sign([_balance(point, flows) for point in points])
    points, signs = points[signs != 0], signs[signs != 0]
    changes = np.flatnonzero(np.diff(signs))
    if changes.size != 1:
        return np.nan
    low, high = (float(point) for point in points[changes[0] : changes[0] + 2])
    while low < (middle := (low + high) / 2) < high:  # halved to the last bit; SciPy's search is slow to load
        low, high = (middle, high) if np.sign(_balance(middle, flows)) == signs[changes[0]] else (low, middle)
    return middle - 1


def _points_between_roots(flows: Floats) -> Floats:
    """Growths, from the least one on, such that no two rates of the series lie between neighbours.

    In the growth q = 1 + r the worth at the end, f_0 q^n + ... + f_n, is a polynomial. Its companion matrix tells
    about where its roots lie, and the points stand halfway between them; whether a root is there is for the balance
    at the points to say, so the error of an eigenvalue makes none. Flows that change sign once have one root
    (Descartes), and need no parting.
    """
    least, most = 1 + LEAST_RATE, 1 + np.abs(flows / flows[0]).max()  # Cauchy: no root lies beyond
    if np.count_nonzero(np.diff(np.sign(flows[flows != 0]))) <= 1:
        return np.array([least, most])
    near = np.sort(np.roots(flows).real)
    halfway = (near[1:] + near[:-1]) / 2
    return np.array([least, *halfway[(halfway > least) & (halfway < most)], most])


def _balance(growth: float, flows: Floats) -> float:
    """Worth of a series today, or at its end where growth is below 1, so that no power of it exceeds 1."""
    order = np.arange(flows.size)
    return float(flows @ growth ** (-order if growth >= 1 else order[::-1]))


@dataclass(frozen=True, kw_only=True)
class EconomicLife:
    """How long to hold a unit that is followed by its like, and what each holding period would cost."""

    years: Floats  # holding period of least yearly cost, the earliest on ties, shape (...) [year]
    yearly_costs: Floats  # equivalent annual cost of holding it 1, 2, ... n years, shape (..., n) [money/year]
    marginal_costs: Floats  # cost of the 1st, 2nd, ... nth year by itself, at its end, shape (..., n) [money]


def economic_life(first_cost: Number, operating_costs: Floats, salvage_values: Floats, rate: Number) -> EconomicLife:
    """Holding period of least equivalent annual cost, with the cost of every other one.

    Held n years: [P + sum to n of C_k (1 + r)^-k - S_n (1 + r)^-n]/UPV(r, n). The k-th year by itself:
    S_(k-1) (1 + r) - S_k + C_k, which is loss of value, interest on it, and running; S_0 is the first cost.

    Parameters
    ----------
    first_cost : price, or for a defender its market value and the repair due now, P, shape (...) [money]
    operating_costs : running, upkeep and repair of years 1 to n, C, shape (..., n) [money]
    salvage_values : what it fetches at the end of years 1 to n, less disposal, S, shape (..., n) [money]
    rate : discount rate, r, shape (...) [1/year]

    Raises
    ------
    CaseError
        Not as many salvage values as operating costs.

    Notes
    -----
    Whether to keep a defender one year more is told by its marginal cost against the challenger's least
    yearly cost, not by the defender's own economic life.

    References
    ----------
    Sullivan, Wicks & Koelling, Engineering Economy, example 9-4 (second-hand).

    Examples
    --------
    >>> life = economic_life(20_000, np.array([5000.0, 5500.0]), np.array([16_000.0, 13_000.0]), 0.10)
    >>> float(life.years), life.yearly_costs.round(2).tolist()
    (2.0, [11000.0, 10571.43])
    """
    first_cost, operating_costs, salvage_values, rate = checked(
        first_cost=first_cost, operating_costs=operating_costs, salvage_values=salvage_values, rate=rate
    )
    if operating_costs.shape[-1] != salvage_values.shape[-1]:
        came = f"{salvage_values.shape[-1]} beside {operating_costs.shape[-1]} operating costs"
        raise CaseError("salvage_values", "must have one value a year as the operating costs have, got {got}", came)
    held = np.arange(1.0, operating_costs.shape[-1] + 1)
    price, rate = first_cost[..., None], rate[..., None]
    factors = single_present_value(rate, held)
    worth = price + np.cumsum(operating_costs * factors, axis=-1) - salvage_values * factors
    yearly = equivalent_annual_cost(worth, rate, held)
    least = yearly.min(axis=-1, keepdims=True)
    years = 1.0 + np.argmax(yearly <= least + ROUNDING * np.abs(least), axis=-1)
    values = np.broadcast_to(salvage_values, yearly.shape)
    before = np.concatenate([np.broadcast_to(price, (*yearly.shape[:-1], 1)), values[..., :-1]], axis=-1)
    marginal = before * (1 + rate) - values + operating_costs
    return EconomicLife(years=years, yearly_costs=yearly, marginal_costs=marginal)


def _quotient(numerator: Floats, denominator: Floats, exists: Truths, otherwise: Number) -> Floats:
    """numerator/denominator where it exists, without dividing elsewhere."""
    return np.where(exists, numerator / np.where(exists, denominator, 1.0), otherwise)


def _payments(years: Floats, payments_per_year: float) -> Floats:
    """Number of payments in a loan's term: one at least, and between whole numbers what the formula gives there."""
    (per_year,) = checked(payments_per_year=payments_per_year)
    payments = years * per_year
    if np.any(few := payments < 1 - ROUNDING):
        raise CaseError("years", "must come to one payment or more, got {got:g}", payments[few][0])
    return payments
