"""What an option makes happen, and what that costs on a price list.

An option has flows: some once, today; some again at each later purchase of its like; some every year while the unit
lives. A **price list** turns flows into a cost and says how each price grows. Money is one list; another list over the
same flows (carbon, say) gets another answer from the same formulas.

Costs are positive. Flows run continuously, so a present cost is an integral over the unit's expected years of service
(`life.Life.exposure`), not a sum of year-end amounts.

**A unit's course.** For a category with force d = ln(1 + rate) - ln(1 + growth), a unit that lives T more years costs
E[int_0^T y exp(-d t) dt] to run; 1 paid at its end is worth Z = E[exp(-d T)] = 1 - d A today, A its service annuity.

**As long as the need lasts.** Being about to buy a unit and its like for ever costs V = (again + running) / (1 - Z),
category by category. Any option costs once + running + Z V of what follows it.

A study period cuts the same flows at its last year: `cash_flow.py`.
"""

import functools
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import Final

import numpy as np

from ..arrays import Floats, Number, some, sum_over_time, unwrap, with_time_axis
from ..finance.finance import loan_payment, loan_present_value
from ..finance.life import Life, Weibull
from .case import REPAIR, REPLACE, WITHOUT, Appliance, Case, Option
from .household import FLAT, Household, PriceSteps
from .landlord import purchase_weight

COST_CATEGORIES: Final = ("purchase", "repair", "electricity", "gas", "water", "maintenance_and_repair", "other")
"""What a cost is for, in the order in which it is shown."""

LARGEST_HAZARD_RATIO: Final = 8.0  # More than this no evidence is taken to multiply the hazard of ending by. [-]
Amounts = Mapping[str, Number]  # One number or column for each category that has any.

GROWING: Final = {
    "purchase": "price_escalation", "electricity": "electricity_escalation", "gas": "gas_escalation",
    "water": "water_escalation",
}  # fmt: skip
"""Categories whose price moves, each with the household's figure for it."""


@dataclass(frozen=True, kw_only=True)
class PriceList:
    """Price of one unit of each flow today, and its yearly growth above inflation."""

    unit: str
    price: Amounts
    growth: Amounts
    steps: Mapping[str, PriceSteps] = field(default_factory=dict)  # Flows whose price moves with their size.

    def cost(self, category: str, amount: Number) -> Number:
        """What an amount of one flow costs today; a year's amount for a yearly flow."""
        return self.price[category] * (self.steps[category].priced(amount) if category in self.steps else amount)


def money(household: Household) -> PriceList:
    """The household's own prices; purchases, repairs, upkeep and the rest are in money already.

    A landlord bears a share of the bills for energy and water.
    """
    borne: Number = 1.0 if household.landlord is None else household.landlord.pays_energy
    billed = ("electricity", "gas", "water")
    steps = {category: getattr(household, f"{category}_steps") for category in billed}
    price: dict[str, Number] = {category: getattr(household, f"{category}_price") * borne for category in billed}
    growth: dict[str, Number] = {category: getattr(household, name) for category, name in GROWING.items()}
    return PriceList(
        unit=household.currency,
        price={category: price.get(category, 1.0) for category in COST_CATEGORIES},
        growth={category: growth.get(category, 0.0) for category in COST_CATEGORIES},
        steps={category: each for category, each in steps.items() if each != FLAT},
    )


@dataclass(frozen=True, kw_only=True)
class Flows:
    """What an option makes happen: today, at each later purchase of its like, and in each year of service.

    Priced, a loan and a landlord's tax on a purchase count at their worth today, later purchases at today's price.
    """

    once: Amounts
    again: Amounts
    yearly: Amounts


def flows_of(case: Case, option: Option) -> Flows:
    """Flows of an option. A rebate, a trade-in and a loan count once, today; price and installation at every purchase.

    A warranty on a new unit covers its repairs while it lasts (no upkeep). It is not taken to replace a unit that
    leaves the household early: published lives count moves and choices too, which no warranty covers.

    For a landlord every amount is one that is deducted as it is paid, so a repair counts as the paper says; what has to
    be written off over years weighs more by `landlord.purchase_weight`.
    """
    appliance, today, weight = case.appliance_of(option), paid_today(case, option), purchase_weight(case.household)
    buying = weight * (today["price"] + today["tax"] + today["delivery"] + today["installation"]) + today["haul_away"]
    less = buying + weight * today["rebate"] + today["trade_in"]
    of_a_loan = loan_worth(case, option) - lent(option)
    once: dict[str, Number] = {
        "purchase": less if option.action == REPAIR else less + of_a_loan,
        "other": today["waiting"] + today["food_loss"] + today["again"] + today["fee"],
    }
    if option.quote is not None:
        once["repair"] = today["quote"] + today["fee_credit"] + of_a_loan
    if option.action == WITHOUT:
        return Flows(once=once, again={}, yearly={"other": option.annual_loss_of_use})
    return Flows(
        once=once,
        again={"purchase": buying, "other": today["waiting"] + option.food_loss_at_later_failures},
        yearly={
            "electricity": appliance.electricity * (1 + option.energy_change),
            "gas": appliance.gas * (1 + option.energy_change),
            "water": appliance.water,
            "maintenance_and_repair": appliance.maintenance_and_repair,
            "other": option.annual_loss_of_use,
        },
    )


def paid_today(case: Case, option: Option) -> dict[str, Number]:
    """What an option takes today by what it is for, as paid: before a landlord's tax and a loan's payments. [money]"""
    waiting, taxed = option.days_without * case.household.day_cost, option.price * (1 + option.tax_rate)
    parts: dict[str, Number] = {
        "price": option.price,
        "tax": taxed - option.price,
        "delivery": option.delivery,
        "installation": option.installation,
        "haul_away": option.haul_away,
        "rebate": -option.rebate,
        "trade_in": -option.trade_in,
        "financed": -lent(option) - lent_on_the_quote(option),
        "waiting": waiting,
        "food_loss": option.food_loss,
        "quote": 0.0 if option.quote is None else option.quote.total,
        "fee_credit": 0.0 if option.quote is None else -option.quote.fee_credit,
        "again": 0.0,
        "fee": 0.0,
    }
    if option.action == REPAIR:
        once = waiting + option.food_loss
        parts["again"] = once * (1 + callback_probability(option)) - once
    else:
        parts["fee"] = sum(o.quote.fee_if_declined for o in case.options if o.quote is not None)
    return parts


def priced(case: Case, option: Option, prices: PriceList) -> Flows:
    """Price an option's flows; a category without any costs nothing. [money, money, money/year]"""
    flows = vars(flows_of(case, option)).items()
    return Flows(**{when: {c: prices.cost(c, amounts.get(c, 0.0)) for c in COST_CATEGORIES} for when, amounts in flows})


def lent(option: Option) -> Number:
    """What is lent at the loan's own rate: what is financed and, of a purchase, the share of the rest. [money]"""
    rest = option.due - option.rebate - option.trade_in - option.financed
    return option.financed + (0.0 if option.action == REPAIR else option.financed_share * rest)


def lent_on_the_quote(option: Option) -> Number:
    """What of a repair is paid by card or in instalments, whatever the quote. [money]

    The discount rate is then that of the card or the instalments, so it costs what it comes to, and the limit stays
    linear in the quote: only nothing is paid today.
    """
    if option.quote is None:
        return 0.0
    return option.financed_share * (option.quote.total - option.quote.fee_credit - option.financed)


def cash_today(case: Case, option: Option) -> Number:
    """What has to be in hand today; a rebate comes later, and waiting and lost food are no bill. [money]"""
    parts = paid_today(case, option)
    return sum(amount for name, amount in parts.items() if name not in ("waiting", "food_loss", "again", "rebate"))


def loan_worth(case: Case, option: Option) -> Number:
    """Worth today of a loan's payments: nominal, deflated and discounted. [money]"""
    if not some(lent(option)):
        return 0.0
    payment = loan_payment(lent(option), option.loan_rate, option.loan_years)
    return loan_present_value(payment, case.household.rate, case.household.inflation, option.loan_years)


def paid_later(case: Case, option: Option) -> Number:
    """What an option costs at its start but is not paid then: a loan's payments, and tax saved late. [money]"""
    lent_today = loan_worth(case, option) + lent_on_the_quote(option)
    if case.household.landlord is None:
        return lent_today
    written_off = option.price * (1 + option.tax_rate) + option.delivery + option.installation - option.rebate
    return lent_today + (purchase_weight(case.household) - 1) * written_off


def as_paid(case: Case, option: Option, by_year: Floats) -> Floats:
    """What is paid by year with an option of a single case, shape (years + 1): year 0 is what is paid of today's bill.

    `by_year` is its cash without what is left. Spoilt food and waiting are no bill and count in year 1. What is lent
    counts as it is paid back, in today's money; what is still owed at the last year is paid in it.
    """
    parts, owed, paid = paid_today(case, option), lent(option) + lent_on_the_quote(option), by_year.copy()
    no_bill = parts["waiting"] + parts["food_loss"] + parts["again"]
    paid[0] -= no_bill + loan_worth(case, option) + lent_on_the_quote(option)
    paid[1] += no_bill
    if owed > 0:
        due = np.arange(1, max(1, round(12 * float(option.loan_years))) + 1) / 12
        real = loan_payment(owed, option.loan_rate, option.loan_years) * (1 + case.household.inflation) ** -due
        np.add.at(paid, np.minimum(np.ceil(due - 1e-9).astype(int), len(paid) - 1), real)
    return paid


def worth_a_year(case: Case, option: Option) -> Number:
    """What a unit is worth just bought, for each year that it is then expected to serve. [money/year]"""
    appliance = case.appliance_of(option)
    years = life_of(appliance, option.remaining_life_factor).mean_residual_life(appliance.age)
    return purchase_weight(case.household) * option.price * (1 + option.tax_rate) / years


def resale(case: Case, option: Option, worth: Callable[[Case, Option], Number] = worth_a_year) -> Number:
    """What a year left of an option's own unit sells by: its own worth if it is new, else that of the cheapest new."""
    offers = [each for each in case.options if each.action == REPLACE]
    new = [each for each in offers if np.all(np.asarray(case.appliance_of(each).age) == 0)]
    if option.action == REPLACE and np.all(np.asarray(case.appliance_of(option).age) == 0):
        new = [option]
    return functools.reduce(np.minimum, (worth(case, each) for each in new or offers))


def callback_probability(option: Option) -> Number:
    """Chance that the repair does not hold and is done once more under its warranty, at no second bill.

    A fix that does not hold shows within the callback window; the warranty covers the part of the window that it lasts.
    """
    covered = np.minimum(1.0, np.asarray(option.repair_warranty) / option.callback_window)
    return (1 - np.asarray(option.repair_success_probability)) * covered


def running_probability(option: Option) -> Number:
    """Chance that the unit is running once the repair is done, and if need be done once more under its warranty.

    The second attempt holds as often as the first; after that the household has had enough and replaces the unit.
    """
    return option.repair_success_probability * (1 + callback_probability(option))


def life_of(appliance: Appliance, remaining_life_factor: Number = 1.0, axis: bool = False) -> Life:
    r"""Life that a unit may expect: that of its class, with its own hazard.

    The class's is a Weibull life from its mean, shape k and delay. The hazard of this unit is at every age

    .. math:: \kappa f^{-k} \le 8

    times that, kappa its `hazard_ratio` and f its remaining-life factor, which leaves it a Weibull life. A unit with a
    law of its own has that one, and wears as it says. With `axis` it meets a grid of times behind the cases.
    """
    if appliance.retirement is not None:
        return appliance.retirement
    law, ratio = appliance.life_of_its_class, appliance.hazard_ratio
    scale = law.scale
    if some(ratio - 1.0) or some(remaining_life_factor - 1.0):
        shape = np.asarray(law.shape, dtype=float)
        times = np.minimum(ratio * np.asarray(remaining_life_factor) ** -shape, LARGEST_HAZARD_RATIO)
        scale = law.scale * times ** (-1 / shape)
    if axis:
        return Weibull(with_time_axis(law.shape), with_time_axis(scale), with_time_axis(law.delay))
    return law if scale is law.scale else replace(law, scale=scale)


def running_share(case: Case, option: Option, category: str, time: Floats, cell: float = 0.0) -> Floats:
    """A yearly flow `time` years from today over what it is today, while the unit lives; shape (..., time or 1).

    Of a cell of time in which the warranty ends, the part behind it counts.
    """
    appliance = case.appliance_of(option)
    if category in ("electricity", "gas"):
        return drift(appliance, time)
    if category != "maintenance_and_repair":
        return np.ones(1)
    past = time - with_time_axis(option.warranty)
    due = np.clip(past / cell + 0.5, 0.0, 1.0) if cell else (past >= 0).astype(float)
    if appliance.maintenance_and_repair_by_age is None:
        return due
    return due * appliance.maintenance_and_repair_by_age(with_time_axis(appliance.age) + time)


@dataclass(frozen=True, kw_only=True)
class Course(Flows):
    """What an option sets going: its flows, priced, and its unit's run from today until it ends."""

    running: dict[str, Number]  # Present cost of the running flows of one unit. [money]
    end: dict[str, Number]  # Worth today of 1, growing as the category does, paid when the unit ends.
    planned: Number  # Worth today of 1 paid if the unit reaches its planned end.
    years: Number  # Years of service that the unit is expected to give. [year]


def course_of(case: Case, option: Option, prices: PriceList) -> Course:
    """Run an option's unit until it fails or its planned years are over, whichever comes first."""
    if option.action == WITHOUT:
        return _course_without(case, option, prices)
    appliance, flows = case.appliance_of(option), priced(case, option, prices)
    life, runs = life_of(appliance, option.remaining_life_factor), with_time_axis(running_probability(option))
    lived = life.exposure(appliance.age, until=option.planned_replacement_years)
    paid, by_age = lived, appliance.maintenance_and_repair_by_age
    if np.any(option.warranty):
        paid = life.exposure(appliance.age, start=option.warranty, until=option.planned_replacement_years)
    years = lived.years * runs
    changing = dict.fromkeys(("electricity", "gas"), (lived.time, years))
    if np.any(appliance.efficiency_degradation_rate):
        changing = dict.fromkeys(changing, (lived.time, years * drift(appliance, lived.time)))
    changing["maintenance_and_repair"] = paid.time, paid.years * runs
    if by_age is not None:
        at_age = by_age(with_time_axis(appliance.age) + paid.time)
        changing["maintenance_and_repair"] = paid.time, changing["maintenance_and_repair"][1] * at_age
    running: dict[str, Number] = {}
    end: dict[str, Number] = {}
    for growth, categories in by_growth(prices):
        force = case.household.discount_force - np.log1p(growth)
        worth = np.exp(-with_time_axis(force) * lived.time)
        level = sum_over_time(worth, years)
        for category in categories:
            running[category], end[category] = flows.yearly[category] * level, 1 - force * level
            if category in changing and np.any(flows.yearly[category]):
                time, weight = changing[category]
                then = worth if time is lived.time else np.exp(-with_time_axis(force) * time)
                running[category] = flows.yearly[category] * sum_over_time(then, weight)
    return Course(
        **vars(flows),
        running=running,
        end=end,
        planned=_planned_end(case, option, life),
        years=unwrap(np.sum(years, axis=-1)),
    )


def _course_without(case: Case, option: Option, prices: PriceList) -> Course:
    """Do without for as long as the need lasts: no unit, so none ends."""
    flows = priced(case, option, prices)
    none: dict[str, Number] = dict.fromkeys(COST_CATEGORIES, 0.0)
    force = np.asarray(case.household.discount_force - np.log1p(prices.growth["other"]))
    level = np.divide(1.0, force, out=np.full(force.shape, np.inf), where=force > 0)
    lost = unwrap(np.multiply(flows.yearly["other"], level)) if np.any(flows.yearly["other"]) else 0.0
    return Course(**vars(flows), running={**none, "other": lost}, end=none, planned=0.0, years=0.0)


def _planned_end(case: Case, option: Option, life: Life) -> Number:
    """Worth today of 1 paid on the planned day, if the unit still runs then."""
    if np.all(np.isinf(option.planned_replacement_years)):
        return 0.0
    day = np.where(np.isinf(option.planned_replacement_years), 0.0, option.planned_replacement_years)
    stands = life.survival_given(case.appliance_of(option).age, day) * running_probability(option)
    worth = stands * np.exp(-case.household.discount_force * day)
    return unwrap(np.where(np.isinf(option.planned_replacement_years), 0.0, worth))


def drift(appliance: Appliance, time: Floats) -> Floats:
    """Consumption `time` years from now over consumption now, where it rises with age."""
    known = appliance.efficiency_degradation_rate, appliance.efficiency_degradation_cap, appliance.age
    rise, cap, age = map(with_time_axis, known)
    return drifted(rise, cap, age + time) / drifted(rise, cap, age)


def drifted(rise: Number, cap: Number, age: Number) -> Floats:
    """Consumption at an age over that when new: above it by cap (1 - exp(-rise age / cap)). [-]"""
    rise, cap = np.asarray(rise, dtype=float), np.asarray(cap, dtype=float)
    pace = np.divide(rise, cap, out=np.zeros(np.broadcast_shapes(rise.shape, cap.shape)), where=cap > 0)
    return np.asarray(1 - cap * np.expm1(-pace * np.asarray(age)))


def forever(course: Course) -> dict[str, Number]:
    """Present cost, by category, of being about to buy this unit and its like for as long as the need lasts."""
    return {
        category: (course.again[category] + course.running[category]) / (1 - course.end[category])
        for category in COST_CATEGORIES
    }


def followed_by(course: Course, next_one: Course, next_forever: Amounts) -> dict[str, Number]:
    """Present cost, by category, of what comes when the unit ends and another is bought for good.

    On a planned day nobody waits: the old unit runs until the new one stands there.
    """
    spared = course.planned * next_one.again["other"]
    return {
        category: course.end[category] * next_forever[category] - (spared if category == "other" else 0.0)
        for category in COST_CATEGORIES
    }


def by_growth(prices: PriceList) -> tuple[tuple[Number, list[str]], ...]:
    """Categories whose prices grow alike, so that each growth is discounted once."""
    groups: dict[int | float, tuple[Number, list[str]]] = {}
    for category in COST_CATEGORIES:
        growth = prices.growth[category]
        key = id(growth) if isinstance(growth, np.ndarray) else growth
        groups.setdefault(key, (growth, []))[1].append(category)
    return tuple(groups.values())
