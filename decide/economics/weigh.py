"""Options side by side: the repair limit, what each option costs, and the measures of replacing as an investment.

The present cost of repairing is the quote plus a rest that does not depend on it. So the highest quote worth paying is

    R = (least present cost of the options that are no repair) - (least rest of the repairs),

repairing is worth it when the quote is at most R, and the advantage of repairing is R - quote, exactly. What a quote is
worth therefore needs no search.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Final, Generic, TypeVar, cast

import numpy as np

from ..arrays import Number, unwrap
from ..errors import CaseError, Message
from ..finance import finance
from ..finance.special import exprel
from .case import CENT, REPAIR, REPLACE, Case, Option
from .cash_flow import Study
from .flows import PriceList, as_paid, cash_today, money
from .horizon import Horizon, horizon_of

MEASURED_YEARS: Final = 60  # Years of cash behind paybacks and internal rate of return when the need has no end. [year]

RUNNING: Final = ("electricity", "gas", "water", "maintenance_and_repair", "other")
"""Categories in which replacing saves or costs more year by year; purchases and the repair are the investment."""

NUMBERS: Final = (
    "net_saving", "simple_payback", "discounted_payback", "running_payback", "discounted_running_payback",
    "savings_to_investment_ratio", "internal_rate_of_return", "adjusted_internal_rate_of_return",
)  # fmt: skip
"""The measures of an investment, by their names in `Measures`."""

NO_QUOTE: Final = "no quote"

Amount = TypeVar("Amount", bound=Number)  # A number for a single case, a column where the case has columns.


@dataclass(frozen=True, kw_only=True)
class OptionCost(Generic[Amount]):
    """What one option costs. Amounts are numbers, or columns where the case has columns."""

    name: str
    action: str
    option: Option
    by_category: dict[str, Amount]  # Present cost by category. [money]
    present_cost: Amount
    equivalent_annual_cost: Amount  # Level cost at year ends with that present cost. [money/year]
    today: Amount  # What is paid today; a loan's payments are not. [money]
    successor: Amount  # Index of the option that is bought when its unit ends.
    expected_remaining_life: Amount  # Years of service its unit is expected to give. [year]
    blocked_by: tuple[str, ...]  # Cautions that refuse it, whatever it costs.
    left_out: Amount  # 1 where it takes more today than the household can pay, else 0.


@dataclass(frozen=True, kw_only=True)
class Weighing(Generic[Amount]):
    """The answer. `repair_limit` is the highest quote worth paying; NaN where a caution refuses the repair."""

    unit: str
    options: tuple[OptionCost[Amount], ...]
    """The case's options in its order, then the repair with its best planned replacement."""
    repair_limit: Amount
    quoted: Amount
    advantage: Amount  # Repair limit less quote; NaN without a quote. [money]
    best: Amount
    """Index of the cheapest option that no caution refuses and that can be paid today; of all, where none can."""
    cost_of_cash: Amount
    """What it costs in the long run that no more can be paid today; NaN where none of the options can. [money]"""
    successor: Amount  # Index of the option that is bought when the appliance there ends.
    planned_years: Amount  # Best year for a planned replacement after the repair. [year]
    stopped_by: tuple[str, ...]  # Cautions that say: do not use it until it is made safe.

    @property
    def repair(self) -> OptionCost[Amount]:
        """The repair, its unit running until it fails."""
        return next(cost for cost in self.options if cost.action == REPAIR)

    @property
    def verdict(self) -> str:
        """What to do, for a single case: one of `case.ACTIONS`, or `no quote` when the repair has none."""
        if np.ndim(self.best):
            raise CaseError("verdict", "is asked of a single case; a column has one `best` a row")
        chosen = self.options[int(self.best)]
        waits = math.isnan(float(self.quoted)) and not self.repair.blocked_by
        return NO_QUOTE if waits else chosen.action


def weigh(
    case: Case, prices: PriceList | None = None, planned_years: Number | None = None, rows: int = 0
) -> Weighing[Number]:
    r"""Weigh the options of a case: what each costs in today's money, and the highest quote worth paying.

    .. math:: R = \min_{i \notin repairs} C_i - \min_{i \in repairs} (C_i - q), \qquad advantage = R - q

    with C_i the present cost of option i, which is what it costs today, what its unit costs to run while it lives, and
    what follows it (`flows`, and `cash_flow` over a study period), and q the quote. Options that a caution refuses, or
    that take more today than can be paid, count as infinitely dear; no limit is above what can be paid. Besides the
    case's own options, the repair is weighed with the replacement planned at its best year, where that gains anything.

    Parameters
    ----------
    case : Case
        A single case, or one whose inputs are columns of one shape (...): each row is then weighed as a case.
    prices : PriceList, optional
        What the flows are counted in; the household's own money unless given, carbon for instance. [unit a flow]
    planned_years : float or ndarray, optional
        The year of the planned replacement, where it is settled already; its best one unless given. [year]
    rows : int, optional
        As of `Horizon.best_plan`: how many rows there are, if the first ones are to settle that year for all.

    Returns
    -------
    Weighing
        `repair_limit`, `quoted`, `advantage` [money, or the list's unit]; `best`, `successor` [index of an option];
        `planned_years` [year], each of shape (...) or a float for a single case; NaN is what does not exist: the limit
        where a caution refuses the repair, quote and advantage where there is no quote. `options` holds an
        `OptionCost` each; `verdict` names what to do.

    Raises
    ------
    NoSolution
        A life of the case's own levels off, so that some units would never fail.

    References
    ----------
    Present costs as in ASTM E917 and NIST Handbook 135 (life-cycle cost); with replacements for ever, the chain of
    replacements of replacement theory. The limit solves C_repair = C_other, which is linear in the quote.

    Examples
    --------
    >>> from decide.economics.case import vary
    >>> from decide.load.cases.case_file import complete
    >>> case = complete({"appliance": {"class": "clothes_washer", "age": 8}, "repair": {"quote": 250}}).case
    >>> weighed = weigh(case)
    >>> weighed.verdict, round(weighed.repair_limit - 250 - weighed.advantage, 9)
    ('repair', 0.0)
    >>> limits = weigh(vary(case, "appliance.age", np.array([4.0, 8.0, 16.0]))).repair_limit
    >>> bool(np.isclose(limits[1], weighed.repair_limit)), bool(np.all(np.diff(limits) < 0))
    (True, True)
    """
    prices = money(case.household) if prices is None else prices
    horizon = horizon_of(case, prices)
    repair = case.repair
    planned_years = horizon.best_plan(repair, rows) if planned_years is None else planned_years
    level = _level_share(case)
    costs = tuple(_costed(case, horizon, option, level) for option in weighed_options(case, planned_years))
    present = (math.inf if cost.blocked_by else cost.present_cost for cost in costs)
    columns = np.broadcast_arrays(*present, *(cost.left_out for cost in costs))
    total, left_out = np.stack(columns[: len(costs)]), np.stack(columns[len(costs) :])
    is_repair = np.array([cost.action == REPAIR for cost in costs])
    quoted = math.nan if repair.quote is None else repair.quote.total
    rest = np.min(total[is_repair], axis=0) - np.nan_to_num(quoted)
    payable = np.where(left_out > 0, math.inf, total)
    least, of_payable = np.min(total, axis=0), np.min(payable, axis=0)
    others = np.minimum(np.min(payable[~is_repair], axis=0) - rest, most_for_the_quote(case))
    others = np.where(np.isfinite(others), others, np.min(total[~is_repair], axis=0) - rest)
    limit = np.where(np.isfinite(rest), others, math.nan)
    return Weighing(
        unit=prices.unit,
        options=costs,
        repair_limit=unwrap(limit),
        quoted=quoted,
        advantage=unwrap(limit - quoted),
        best=unwrap(np.argmin(np.where(np.isfinite(of_payable), payable, total), axis=0)),
        cost_of_cash=unwrap(np.where(np.isfinite(of_payable), of_payable - least, math.nan)),
        successor=costs[next(i for i, cost in enumerate(costs) if cost.option is repair)].successor,
        planned_years=planned_years,
        stopped_by=tuple(stop.caution for stop in case.prohibitions if stop.action == "use"),
    )


def limit_under_claim(limit: Number, waiting: Number, refused: Number) -> Number:
    r"""Highest quote worth paying where somebody else may owe the repair: R = min(R_normal, D / (1 - pi)). [money]

    Claiming first costs D in waiting, longer than for a repair that is paid, and leaves every choice open if it is
    refused, with chance pi below 1. Paying x at once is cheaper only while x <= D + pi x. A limit of NaN stays NaN.

    >>> limit_under_claim(300.0, 0.0, 0.2), limit_under_claim(300.0, 60.0, 0.25), limit_under_claim(50.0, 60.0, 0.25)
    (0.0, 80.0, 50.0)
    """
    return unwrap(np.minimum(limit, np.divide(waiting, 1 - np.asarray(refused))))


def single(weighing: Weighing[Any], options: Sequence[Option] | None = None) -> Weighing[float]:
    """The same in plain numbers: of a single case, or of the first row of a column, whose options then stand there."""

    def in_numbers(found: Any, **others: Any) -> Any:
        numbers = {
            name: each for name, each in vars(found).items() if not isinstance(each, str | tuple | dict | Option)
        }
        return replace(found, **{name: first(each) for name, each in numbers.items()} | others)

    def first(each: Number) -> float:
        return float(each[0] if isinstance(each, np.ndarray) and each.ndim else each)

    each_option = [cost.option for cost in weighing.options] if options is None else options
    costs = (
        in_numbers(cost, option=option, by_category={part: first(paid) for part, paid in cost.by_category.items()})
        for cost, option in zip(weighing.options, each_option, strict=True)
    )
    return cast("Weighing[float]", in_numbers(weighing, options=tuple(costs)))


def weighed_options(case: Case, planned_years: Number) -> tuple[Option, ...]:
    """A case's options, then its repair with a planned replacement, where none was entered and there is room for it."""
    repair = case.repair
    given = not np.all(np.isinf(np.asarray(repair.planned_replacement_years)))  # a plan that was entered is the plan
    if given or np.any(np.isnan(planned_years)):
        return case.options
    name = Message("{name}, then replace", repair.name)
    return (*case.options, replace(repair, name=name, planned_replacement_years=planned_years))


def most_for_the_quote(case: Case) -> Number:
    """Highest quote that can be paid today. [money]"""
    repair, most = case.repair, case.household.most_today
    if np.all(np.isinf(most)):
        return math.inf
    paid = 1.0 - np.asarray(repair.financed_share)
    quoted = 0.0 if repair.quote is None else repair.quote.total
    rest = cash_today(case, repair) - paid * quoted
    return np.divide(most - rest, paid, out=np.full(np.broadcast(most - rest, paid).shape, math.inf), where=paid > 0)


def _costed(case: Case, horizon: Horizon, option: Option, level: Number) -> OptionCost[Number]:
    by_category, most = horizon.cost(option), case.household.most_today
    present, limited = sum(by_category.values()), not np.all(np.isinf(most))
    return OptionCost(
        name=option.name,
        action=option.action,
        option=option,
        by_category=by_category,
        present_cost=present,
        equivalent_annual_cost=level * present,
        today=horizon.today(option),
        successor=horizon.successor_of(option),
        expected_remaining_life=horizon.years(option),
        blocked_by=tuple(stop.caution for stop in case.prohibitions if stop.action == option.action),
        left_out=unwrap(np.asarray(cash_today(case, option) > most + CENT, dtype=float)) if limited else 0.0,
    )


def _level_share(case: Case) -> Number:
    """Level cost at year ends that is worth 1 today: for ever, or over the study period. [1/year]"""
    force, period = case.household.discount_force, case.household.study_period
    if math.isinf(period):
        return np.expm1(force)
    return unwrap(exprel(force) / (period * exprel(-force * period)))


@dataclass(frozen=True, kw_only=True)
class Measures:
    """Replacing, as an investment compared with repairing and running on. A measure that does not exist is NaN.

    The simple payback is the year in which the lines of what will have been paid cross for good: all payments count.
    In the others energy, water, upkeep and the rest are savings; purchases and the repair are investment, later ones
    too, as in 10 CFR 436.21 to 436.23 and NIST Handbook 135. So the running payback asks how soon the running saving
    alone has repaid what is paid more today. Yearly cash is counted at year ends; measures made of it need a study of a
    year or more.
    """

    replacement: int  # Index of the replacement that is measured: the cheapest that can be paid today; of all, if none.
    repair: int
    """Index of the repair that it is compared with: the unit runs until it fails, whatever plan may be cheaper."""
    years: float  # Years of cash behind paybacks and internal rate of return. [year]
    net_saving: float
    """Present cost of repairing, by its better plan, less that of replacing; positive favours replacing. [money]"""
    simple_payback: float
    discounted_payback: float
    running_payback: float
    discounted_running_payback: float
    savings_to_investment_ratio: float
    internal_rate_of_return: float  # NaN where replacing costs no more today: then it is no investment.
    adjusted_internal_rate_of_return: float  # NaN when the need has no end: it is a yield over a study period.


def study_of(case: Case, prices: PriceList | None = None) -> Study:
    """The years of cash behind the measures: of the study period, or `MEASURED_YEARS`."""
    period = case.household.study_period
    years = period if math.isfinite(period) else float(MEASURED_YEARS)
    return Study(case, money(case.household) if prices is None else prices, years)


def measure(case: Case, weighing: Weighing[Any], study: Study | None = None) -> Measures:
    """Measure the cheapest replacement that can be paid today as an investment compared with the repair, for one case.

    All measures are NaN where the repair has no quote, or a caution refuses it: there is nothing to compare with.
    """
    study = study_of(case) if study is None else study
    offers = [i for i, cost in enumerate(weighing.options) if cost.action == REPLACE]
    bought = min(offers, key=lambda i: (weighing.options[i].left_out, float(weighing.options[i].present_cost)))
    mended, period = [cost.action for cost in weighing.options].index(REPAIR), case.household.study_period
    ends, years = math.isfinite(period), study.years
    found = dict.fromkeys(NUMBERS, math.nan)
    replacing, repairing = weighing.options[bought], weighing.options[mended]
    if not repairing.blocked_by and not math.isnan(float(weighing.quoted)):
        saving = {category: cost - replacing.by_category[category] for category, cost in repairing.by_category.items()}
        invested = -(saving["purchase"] + saving["repair"])
        ratio = finance.savings_to_investment_ratio(sum(saving[category] for category in RUNNING), invested)
        of_repairing = min(cost.present_cost for cost in weighing.options if cost.action == REPAIR)
        found["net_saving"] = of_repairing - replacing.present_cost
        found["savings_to_investment_ratio"] = float(np.where(np.isfinite(ratio), ratio, math.nan))
        if ends:
            adjusted = finance.adjusted_internal_rate_of_return(ratio, case.household.rate, period)
            found["adjusted_internal_rate_of_return"] = float(adjusted)
        if years >= 1:
            found |= _by_year(case, weighing, study, bought, mended)
    return Measures(replacement=bought, repair=mended, years=years, **found)


def _by_year(case: Case, weighing: Weighing[Any], study: Study, bought: int, mended: int) -> dict[str, float]:
    """Measures made of yearly cash: how soon the running saving repays what is paid more today, and the rate of all."""
    ends, rate = math.isfinite(case.household.study_period), case.household.rate
    new, mend = weighing.options[bought].option, weighing.options[mended].option

    ways = [
        (cost.option, weighing.options[int(cost.successor)].option)
        for cost in (weighing.options[bought], weighing.options[mended])
    ]
    replacing, repairing = (study.cash(*way, with_what_is_left=False) for way in ways)
    paid = as_paid(case, new, replacing.total_by_year) - as_paid(case, mend, repairing.total_by_year)
    replacing, repairing = (study.cash(*way, with_what_is_left=ends) for way in ways)
    more = replacing.total_by_year - repairing.total_by_year
    saved = np.sum([repairing.by_year[category] - replacing.by_year[category] for category in RUNNING], axis=0)[1:]
    return {
        "simple_payback": float(finance.lasting_payback(paid)),
        "discounted_payback": float(finance.lasting_payback(paid, rate)),
        "running_payback": float(finance.simple_payback(more[0], saved)),
        "discounted_running_payback": float(finance.discounted_payback(more[0], saved, rate)),
        "internal_rate_of_return": float(finance.internal_rate_of_return(-more)) if more[0] > 0 else math.nan,
    }
