"""Rates and the worth today of money that falls later.

Conventions, which hold for every function here:

* costs are positive, and savings are costs avoided;
* a series has the year on its last axis; flow 0 is today and is not discounted, flow t falls at the end of
  year t, unless the function's name says otherwise (due, mid-year, continuous);
* rates are fractions a year, real with constant-price money and nominal with money of the day, and exceed -1;
* every number may be a column with one entry a case, and so may the leading axis of a series;
* an input out of bounds raises, NaN among them; a *measure* that does not exist is NaN.

A price that escalates at e under the rate d is worth the same as a level price under (1 + d)/(1 + e) - 1, or
`real_rate(d, e)`; so every uniform factor serves escalating prices too, and d = e needs no care.
"""

import numpy as np

from ..arrays import Floats, Number
from ..errors import CaseError, NotAbove, OutOfRange
from .special import exprel

RATES = frozenset({"rate", "escalation", "nominal", "real", "inflation", "nominal_rate"})
COUNTS = {"years": "year", "payments_per_year": "1/year"}
SERIES = frozenset({"flows", "savings", "price_index", "operating_costs", "salvage_values"})
MEASURES = frozenset({"sir"})  # results handed on, which may be NaN or infinite
ROUNDING = 1e-12  # sums of money that agree to this share are equal: their difference is floating-point dust


def real_rate(nominal: Number, inflation: Number) -> Floats:
    """Rate above inflation that a rate in money of the day stands for: d = (1 + i)/(1 + f) - 1. [1/year]

    Parameters
    ----------
    nominal : rate in money of the day, i, shape (...) [1/year]
    inflation : general rise of prices, f, shape (...) [1/year]

    References
    ----------
    FEMP 2024 discount rate memo, which links its real and nominal rates so; the formula is Fisher's.

    Examples
    --------
    >>> round(float(real_rate(0.05, 0.025)), 4)
    0.0244
    """
    nominal, inflation = checked(nominal=nominal, inflation=inflation)
    return (nominal - inflation) / (1 + inflation)


def nominal_rate(real: Number, inflation: Number) -> Floats:
    """Rate in money of the day that a rate above inflation stands for: i = (1 + d)(1 + f) - 1. [1/year]

    Parameters
    ----------
    real : rate in constant prices, d, shape (...) [1/year]
    inflation : general rise of prices, f, shape (...) [1/year]

    Examples
    --------
    >>> round(float(nominal_rate(0.03, 0.001)), 5)
    0.03103
    """
    real, inflation = checked(real=real, inflation=inflation)
    return real + inflation + real * inflation


def single_present_value(rate: Number, years: Number) -> Floats:
    """Worth today of 1 paid some years from now (SPV): (1 + r)^-N. [-]

    Parameters
    ----------
    rate : discount rate, r, shape (...) [1/year]
    years : time until it is paid, N, whole or not, shape (...) [year]

    References
    ----------
    NIST Handbook 135, single present value.

    Examples
    --------
    >>> round(float(single_present_value(0.03, 15)), 3)
    0.642
    """
    rate, years = checked(rate=rate, years=years)
    return (1 + rate) ** -years


def uniform_present_value(rate: Number, years: Number) -> Floats:
    """Worth today of 1 paid at the end of each of N years (UPV): (1 - (1 + r)^-N)/r, and N where r = 0. [year]

    Parameters
    ----------
    rate : discount rate, r, shape (...) [1/year]
    years : number of payments, N, shape (...) [year]

    References
    ----------
    NIST Handbook 135, uniform present value.

    Examples
    --------
    >>> round(float(uniform_present_value(0.03, 15)), 2)
    11.94
    """
    rate, years = checked(rate=rate, years=years)
    return uniform_present_value_continuous(rate, years) / exprel(np.log1p(rate))


def uniform_present_value_continuous(rate: Number, years: Number) -> Floats:
    """Worth today of 1 a year that flows evenly for N years: (1 - (1 + r)^-N)/ln(1 + r), and N where r = 0. [year]

    Parameters
    ----------
    rate : yearly discount rate, r, shape (...) [1/year]
    years : how long it flows, N, whole or not, shape (...) [year]

    Examples
    --------
    >>> round(float(uniform_present_value_continuous(0.03, 15)), 3)
    12.116
    """
    rate, years = checked(rate=rate, years=years)
    return years * exprel(-years * np.log1p(rate))  # exprel(x) is (e^x - 1)/x, and 1 at 0


def escalated_uniform_present_value(rate: Number, escalation: Number, years: Number) -> Floats:
    """Worth today of N yearly payments of 1 at today's price, which rises by e a year (UPV*). [year]

    (1 + e)/(d - e) (1 - ((1 + e)/(1 + d))^N), and N where d = e. The first payment is at a price once risen.

    Parameters
    ----------
    rate : discount rate, d, shape (...) [1/year]
    escalation : rise of the price, e, real if the rate is, shape (...) [1/year]
    years : number of payments, N, shape (...) [year]

    References
    ----------
    NIST Handbook 135, modified uniform present value.

    Examples
    --------
    >>> round(float(escalated_uniform_present_value(0.03, 0.02, 15)), 2)
    13.89
    """
    rate, escalation, years = checked(rate=rate, escalation=escalation, years=years)
    return uniform_present_value(real_rate(rate, escalation), years)


def indexed_uniform_present_value(price_index: Floats, rate: Number) -> Floats:
    """Worth today of yearly payments of 1 at today's price, under a price index: sum I_t (1 + r)^-t. [year]

    Parameters
    ----------
    price_index : price of years 1 to N over today's (cumulative, not year on year), shape (..., N) [-]
    rate : discount rate, r, shape (...) [1/year]

    References
    ----------
    NIST life-cycle cost sample project FederalFinanced, whose energy flows are of this kind.

    Examples
    --------
    >>> round(float(indexed_uniform_present_value(np.array([1.03, 1.05, 1.07]), 0.03)), 4)
    2.9689
    """
    price_index, rate = checked(price_index=price_index, rate=rate)
    years = np.arange(1.0, price_index.shape[-1] + 1)
    return np.vecdot(price_index, single_present_value(rate[..., None], years))


def present_value(flows: Floats, rate: Number) -> Floats:
    """Worth today of a series of yearly flows: sum over t of f_t (1 + r)^-t.

    Parameters
    ----------
    flows : flow of today, then of the end of each year, f, shape (..., n + 1) [money]
    rate : discount rate, r, shape (...) [1/year]

    Returns
    -------
    worth : shape (...) [money]

    Notes
    -----
    Flow 0 is not discounted. A spreadsheet's NPV function discounts it a year: this value over 1 + r.

    References
    ----------
    10 CFR 436.19.

    Examples
    --------
    >>> round(float(present_value(np.array([-40000, 5000, 8000, 12000, 30000]), 0.08)), 2)
    3065.22
    """
    flows, rate = checked(flows=flows, rate=rate)
    return np.vecdot(flows, single_present_value(rate[..., None], np.arange(float(flows.shape[-1]))))


def checked(**given: Number) -> list[Floats]:
    """Each input, by its field's name, as an array that keeps its bounds and fits the others case by case.

    The name decides what is asked of it: `RATES` lie above -1, `COUNTS` are not negative, `SERIES` have one number a
    year on the last axis, `MEASURES` may be NaN or infinite.

    Raises
    ------
    OutOfRange
        A number that its field may not hold, the first of them.
    CaseError
        A series without numbers, or columns of which one has another number of cases.
    """
    inputs = {field: np.asarray(value, dtype=np.float64) for field, value in given.items()}
    for field, numbers in inputs.items():
        _hold_to_bounds(field, numbers)
    cases = {field: numbers.shape[:-1] if field in SERIES else numbers.shape for field, numbers in inputs.items()}
    try:
        np.broadcast_shapes(*cases.values())
    except ValueError:
        counts = ", ".join(f"{field} {shape}" for field, shape in cases.items())
        raise CaseError(next(iter(cases)), "must have as many cases as the rest, got {got}", counts) from None
    return list(inputs.values())


def _hold_to_bounds(field: str, numbers: Floats) -> None:
    """Raise unless every number is one that its field may hold; NaN never is, except in a measure."""
    finite = np.isfinite(numbers)
    if field in RATES and not np.all(fit := finite & (numbers > -1)):
        raise NotAbove(field, -1, "1/year", float(numbers[~fit][0]))
    if field in COUNTS and not np.all(fit := finite & (numbers >= 0)):
        raise OutOfRange(field, 0, np.inf, COUNTS[field], float(numbers[~fit][0]))
    if field in SERIES and (numbers.ndim == 0 or numbers.shape[-1] == 0):
        raise CaseError(field, "must be a series with one number a year, got shape {shape}", numbers.shape)
    if field not in MEASURES and not np.all(finite):
        raise CaseError(field, "must be finite, got {got}", float(numbers[~finite][0]))
