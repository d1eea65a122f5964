"""Options side by side: the repair limit, what each option costs, and the measures of replacing as an investment.

The present cost of repairing is the quote plus a rest that does not depend on it. So the highest quote worth paying is

    R = (least present cost of the options that are no repair) - (least rest of the repairs),

repairing is worth it when the quote is at most R, and the advantage of repairing is R - quote, exactly. What a quote is
worth therefore needs no search.
"""

import math
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from .arrays import Number
from .case import REPAIR, REPLACE, Case, Option
from .cash import cash
from .errors import CaseError
from .finance import (
    adjusted_internal_rate_of_return,
    discounted_payback,
    equivalent_annual_cost,
    internal_rate_of_return,
    savings_to_investment_ratio,
    simple_payback,
)
from .flows import PriceList, money, scalar
from .horizon import Horizon, horizon_of

MEASURED_YEARS: Final = 40
"""Years of cash behind the yearly measures when the need has no end; what lies beyond weighs next to nothing."""

NO_QUOTE: Final = "no quote"


@dataclass(frozen=True, kw_only=True)
class OptionCost:
    """What one option costs. Amounts are numbers, or columns where the case has columns."""

    name: str
    action: str
    option: Option
    by_cause: dict[str, Number]
    """Present cost by cause. [money]"""
    present_cost: Number
    yearly_cost: Number
    """Level cost at year ends with that present cost. [money/year]"""
    today: Number
    """What is paid today. [money]"""
    expected_years: Number
    """Years of service its unit is expected to give. [year]"""
    refused_by: tuple[str, ...]
    """Cautions that refuse it, whatever it costs."""


@dataclass(frozen=True, kw_only=True)
class Weighing:
    """The answer. `repair_limit` is the highest quote worth paying; NaN where a caution refuses the repair."""

    unit: str
    options: tuple[OptionCost, ...]
    """The case's options in its order, then the repair with its best planned replacement."""
    repair_limit: Number
    quoted: Number
    advantage: Number
    """Repair limit less quote; NaN without a quote. [money]"""
    best: Number
    """Index of the cheapest option that no caution refuses."""
    successor: Number
    """Index of the option that is bought when the appliance there ends."""
    planned_years: Number
    """Best year for a planned replacement after the repair. [year]"""
    stopped_by: tuple[str, ...]
    """Cautions that say: do not use it until it is made safe."""

    @property
    def verdict(self) -> str:
        """What to do, for a single case: repair, replace, leave, or `no quote` when the repair has none."""
        if np.ndim(self.best):
            raise CaseError("verdict", "is asked of a single case; a column has one `best` a row")
        chosen = self.options[int(self.best)]
        waits = math.isnan(float(self.quoted)) and not any(o.refused_by for o in self.options if o.action == REPAIR)
        return NO_QUOTE if waits else chosen.action


def weigh(case: Case, prices: PriceList | None = None) -> Weighing:
    """Weigh the options of a case on a price list (money, unless another is given)."""
    prices = money(case.household) if prices is None else prices
    horizon = horizon_of(case, prices)
    repair = next(option for option in case.options if option.action == REPAIR)
    planned_years = horizon.best_plan(repair)
    options = [*case.options]
    if not np.any(np.isnan(planned_years)):
        options.append(replace(repair, name=f"{repair.name}, then replace", hold=planned_years))
    costs = tuple(_costed(case, horizon, option) for option in options)
    total = np.stack(
        np.broadcast_arrays(*(math.inf if cost.refused_by else np.asarray(cost.present_cost) for cost in costs))
    )
    is_repair = np.array([cost.action == REPAIR for cost in costs])
    quoted = math.nan if repair.quote is None else repair.quote.total
    rest = np.min(total[is_repair], axis=0) - np.nan_to_num(quoted)
    limit = np.where(np.isfinite(rest), np.min(total[~is_repair], axis=0) - rest, math.nan)
    return Weighing(
        unit=prices.unit,
        options=costs,
        repair_limit=scalar(limit),
        quoted=quoted,
        advantage=scalar(limit - quoted),
        best=scalar(np.argmin(total, axis=0)),
        successor=horizon.successor,
        planned_years=planned_years,
        stopped_by=tuple(stop.caution for stop in case.stops if stop.action == "use"),
    )


def _costed(case: Case, horizon: Horizon, option: Option) -> OptionCost:
    by_cause, course = horizon.cost(option), horizon.course(option)
    present = sum(by_cause.values())
    return OptionCost(
        name=option.name,
        action=option.action,
        option=option,
        by_cause=by_cause,
        present_cost=present,
        yearly_cost=_yearly(case, present),
        today=sum(course.once.values()),
        expected_years=course.years,
        refused_by=tuple(stop.caution for stop in case.stops if stop.action == option.action),
    )


def _yearly(case: Case, present: Number) -> Number:
    """Level cost at year ends: for ever, or over the study period."""
    if math.isinf(case.household.study_period):
        return case.household.rate * present
    return scalar(equivalent_annual_cost(present, case.household.rate, case.household.study_period))


@dataclass(frozen=True, kw_only=True)
class Measures:
    """Replacing, as an investment compared with repairing. A measure that does not exist is NaN.

    Yearly cash is counted at year ends. Later purchases avoided or brought forward belong to the investment, as in
    10 CFR 436.21 and NIST Handbook 135; energy, water, upkeep and the rest to the savings.
    """

    replacement: int
    """Index of the replacement that is measured: the cheapest that no caution refuses."""
    years: float
    """Years of cash behind paybacks and internal rate of return. [year]"""
    net_saving: Number
    """Present cost of repairing less that of replacing; positive favours replacing. [money]"""
    simple_payback: Number
    discounted_payback: Number
    savings_to_investment_ratio: Number
    internal_rate_of_return: Number
    adjusted_internal_rate_of_return: Number


def measure(case: Case, weighing: Weighing, prices: PriceList | None = None) -> Measures:
    """Measure the cheapest replacement of a single case as an investment compared with the repair."""
    prices = money(case.household) if prices is None else prices
    costs = weighing.options
    offered = [i for i, cost in enumerate(costs) if cost.action == REPLACE and not cost.refused_by]
    index = min(offered, key=lambda i: float(np.asarray(costs[i].present_cost)))
    repairing = next(cost for cost in costs if cost.action == REPAIR)
    replacing, successor = costs[index], costs[int(weighing.successor)].option
    period = case.household.study_period
    years = period if math.isfinite(period) else float(MEASURED_YEARS)
    residual = case.household.residual_share if math.isfinite(period) else 0.0
    kept = cash(case, repairing.option, successor, prices, years, residual).total_by_year
    bought = cash(case, replacing.option, replacing.option, prices, years, residual).total_by_year
    more_today, saved = bought[0] - kept[0], kept[1:] - bought[1:]
    saving = {cause: repairing.by_cause[cause] - replacing.by_cause[cause] for cause in replacing.by_cause}
    invested = -(saving["purchase"] + saving["repair"])
    ratio = savings_to_investment_ratio(sum(saving.values()) + invested, invested)
    term = period if math.isfinite(period) else replacing.expected_years
    nothing = math.nan if repairing.option.quote is None else 0.0
    return Measures(
        replacement=index,
        years=years,
        net_saving=sum(saving.values()) + nothing,
        simple_payback=scalar(simple_payback(more_today, saved) + nothing),
        discounted_payback=scalar(discounted_payback(more_today, saved, case.household.rate) + nothing),
        savings_to_investment_ratio=scalar(np.where(np.isfinite(ratio), ratio, math.nan) + nothing),
        internal_rate_of_return=scalar(internal_rate_of_return(np.append(-more_today, saved)) + nothing),
        adjusted_internal_rate_of_return=scalar(
            adjusted_internal_rate_of_return(ratio, case.household.rate, term) + nothing
        ),
    )
