"""A rented-out home: repairs are deducted as they are paid, a purchase is written off over years, tenants pay bills.

With tax rate t, a cost x that is deducted takes x (1 - t v), v the worth of a tax saving that comes at the end of the
year; a purchase of P takes P (1 - t D), where D is the worth of its schedule of deductions,

    D = sum_j share_j (1 + i)^-j,      v = (1 + i)^-1,      i = (1 + r) (1 + inflation) - 1,

for deductions are amounts of the day of the purchase and do not rise with prices. All amounts of a case are kept
**before tax**: everything is divided by (1 - t v), so that a repair weighs what its quote says and the highest quote
worth paying is one that can be compared with the paper. Only a purchase changes, by the weight

    w = (1 - t D) / (1 - t v).

A purchase that is deducted whole in its first year has w = 1: then it is treated like a repair. The discount rate is
the one that the landlord's money earns after tax. What is left of a unit at the end of a study counts with w as well:
it is service still to be had, not a taxed sale. What has not been written off of the unit that is there is left out; of
one older than its schedule nothing is.
"""

import numpy as np

from ..arrays import Number
from ..errors import OutOfRange
from ..finance.discount import nominal_rate
from .household import Household

LONGEST_SCHEDULE = 50  # No schedule for an appliance is longer. [year]


def straight_line(years: int) -> tuple[float, ...]:
    """The same share of a purchase in each of so many years, 1/n; n is from 1 to 50. [-]"""
    if not (1 <= years <= LONGEST_SCHEDULE and int(years) == years):
        raise OutOfRange("household.landlord.depreciation_years", 1, LONGEST_SCHEDULE, "year", years)
    return (1 / years,) * int(years)


def worth_of_deductions(shares: tuple[float, ...], rate: Number) -> Number:
    """What 1 deducted by a schedule is worth on the day of the purchase, D = sum_j share_j (1 + i)^-j. [-]

    `shares` are deducted in each tax year, and save at its end; `rate` is nominal, after tax, i, shape (...). [1/year]
    """
    discount = 1 / (1 + np.asarray(rate, dtype=float))
    worth: Number = sum((share * discount**year for year, share in enumerate(shares, 1)), np.zeros(discount.shape))
    return worth


def after_tax_share(tax_rate: Number, shares: tuple[float, ...], rate: Number) -> Number:
    """What is left to bear of 1 paid, once all its deductions have saved their tax: 1 - t D (capital tax factor). [-]

    The tax shield of depreciation in any engineering economy text; with the declining balance of the Canadian capital
    cost allowance it is that country's capital tax factor. Arguments as of `worth_of_deductions`; t has shape (...).
    """
    return 1 - tax_rate * worth_of_deductions(shares, rate)


def purchase_weight(household: Household) -> Number:
    """How much more a purchase weighs than an equal repair: w = (1 - t D) / (1 - t v); 1 without a landlord. [-]"""
    landlord = household.landlord
    if landlord is None:
        return 1.0
    rate = nominal_rate(household.rate, household.inflation)
    deducted_at_once = after_tax_share(landlord.tax_rate, (1.0,), rate)
    return after_tax_share(landlord.tax_rate, landlord.depreciation, rate) / deducted_at_once
