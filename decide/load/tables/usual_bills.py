"""What a repair usually comes to: of a fault, and of whatever fails next in a class. From causes, never from the price.

A quote is the parts of a cause with their tax and its hours: the visit is paid by then. A later bill is the visit, the
parts and the hours. Causes that an owner mends ask for none and are left out.
"""

import functools
import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from ...diagnosis.expected_bill import Bill, bill_of_causes, law_of_bills
from ...errors import DataError
from ..files.rows import ANY
from .sourced import Estimate
from .symptoms import OWNER, Cause, symptoms
from .tables import CURRENCIES, OWN, Tables, tables

UNMENDABLE = "unmendable"
OTHER = "other"  # The fault that is none of the others: any of them may be behind it.


@dataclass(frozen=True, slots=True)
class UsualQuote:
    """What a repair of a fault usually comes to. [money]"""

    median: float
    low: float  # One in ten is below.
    high: float  # One in ten is above.

    def far(self, quote: float, times: float) -> bool:
        """Whether a quote lies so far outside that it is asked about: below low / times or above high x times."""
        return not self.low / times <= quote <= self.high * times


@dataclass(frozen=True, slots=True)
class LaterBills:
    """The law of a class's later bills, a lognormal."""

    median: Estimate
    spread: Estimate  # Standard deviation of the logarithm. [-]
    unmendable: float  # Share of failures that no repair ends. [-]
    spoiling: float  # Share of failures that spoil food, where there is any. [-]


Paid = tuple[float, str, tuple[float, float], tuple[float, float]]
"""Weight, fault, parts [money] and hours of one cause that somebody is paid for."""


def usual_quote(kind: str, fault: str, region: str, reference: Tables) -> UsualQuote | None:
    """What a repair of a fault in a class usually comes to; None where it cannot be repaired.

    From the paid causes of the class's own symptoms that amount to it; without any, from fault_costs.csv; of 'something
    else', from all that fails in the class.

    Raises `DataError`: the tables know no cost of the fault in this class.
    """
    rate, tax = (reference.needed(name, kind, region).value for name in ("labour_rate", "sales_tax"))
    return _usual_quote(kind, fault, region, rate, tax) if _mended(fault) else None


def sum_of(quotes: Iterable[UsualQuote]) -> UsualQuote:
    """What several repairs in one visit come to, each end that of all."""
    ends = zip(*((each.median, each.low, each.high) for each in quotes), strict=True)
    return UsualQuote(*map(sum, ends))


def later_bills(kind: str, region: str, reference: Tables) -> LaterBills:
    """The law of later bills of a class in a region.

    The range of its median is what it comes to at the low and at the high ends of the fee and the hourly rate together.
    Where the mean of bills is published, the law is brought to it, unless a shop works at a fee or rate of its own.
    """
    fee, rate = (reference.needed(name, kind, region) for name in ("service_fee", "labour_rate"))
    law, published = _later_bills(kind, region, fee, rate), reference.figure("repair_bill", kind, region)
    if published is None or "own records" in (fee.status, rate.status):
        return law
    below = math.exp(-(law.spread.value**2) / 2)  # median over mean
    low, high = (None if end is None else end * below for end in (published.low, published.high))
    return replace(law, median=replace(published, value=published.value * below, low=low, high=high))


@functools.cache
def _paid(kind: str, region: str) -> tuple[Paid, ...]:
    """All that somebody is paid to mend in a class, each with how often it comes."""
    found: dict[str, tuple[float, Cause]] = {}
    for symptom in symptoms(region).of_class(kind):
        for link in symptom.links:
            if link.cause.mend != OWNER:
                before = found.get(link.cause.cause, (0.0, link.cause))[0]
                found[link.cause.cause] = (before + symptom.often * link.share, link.cause)
    return tuple((weight, cause.fault, cause.parts, cause.hours) for weight, cause in found.values())


def _bill(paid: list[Paid], **prices: float) -> Bill:
    weight, parts, hours = (np.array([each[at] for each in paid]) for at in (0, 2, 3))
    return bill_of_causes(weight / np.sum(weight), parts, hours, **prices)


@functools.cache
def _usual_quote(kind: str, fault: str, region: str, rate: float, tax: float) -> UsualQuote:
    paid = [each for each in _paid(kind, region) if each[1] == fault]
    if fault == OTHER:
        paid = [each for each in _paid(kind, region) if _mended(each[1])]
    if not paid:  # what stands for any class gives way
        costs = tables().fault_costs
        cost = costs.get((fault, kind)) or costs.get((fault, ANY))
        paid = [] if cost is None else [(1.0, fault, cost.parts, cost.hours)]
    if not paid:
        raise DataError("fault_costs.csv: no cost of {fault} in {kind}", fault, kind)
    median, low, high = (float(_bill(paid, rate=rate, tax=tax).quantile(share)) for share in (0.5, 0.1, 0.9))
    return UsualQuote(median, low, high)


def _mended(fault: str) -> bool:
    return tables().known_faults[fault].kind != UNMENDABLE


@functools.cache
def _later_bills(kind: str, region: str, fee: Estimate, rate: Estimate) -> LaterBills:
    paid = list(_paid(kind, region))
    weights, mended = [each[0] for each in paid], [_mended(each[1]) for each in paid]
    spoiling = sum(each[0] for each in paid if tables().known_faults[each[1]].spoils_food) / sum(weights)
    bills = [
        _bill(paid, **{name: getattr(each, end) or each.value for name, each in (("fee", fee), ("rate", rate))})
        for end in ("value", "low", "high")
    ]
    (median, spread, unmendable), low, high = (law_of_bills(weights, each.low, each.high, mended) for each in bills)
    where = "symptoms.csv and causes.csv"
    asked = f"visit {fee.value:g}, {rate.value:g} an hour, parts"
    note = f"from the causes behind the failures of the class ({asked}): {where}"
    cited: dict[str, Any] = {"source": tables().sources[OWN], "locator": where, "status": "judgement", "note": note}
    money = Estimate(median, low[0], high[0], CURRENCIES[region], year=fee.year, **cited)
    return LaterBills(money, Estimate(spread, None, None, "-", year=fee.year, **cited), unmendable, spoiling)
