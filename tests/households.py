"""A household of our own, and the same household lived one life at a time; shares no code with the cost engine."""

import math

import numpy as np
from numpy.typing import NDArray

from decide.economics.breakeven import BreakevenValues
from decide.economics.case import Appliance, Case, Option, Quote
from decide.economics.failures import Quality
from decide.economics.household import Household
from decide.economics.outcomes import OutcomeDistribution
from decide.load.tables.tables import tables


def new_appliance(**changes: float) -> Appliance:
    """A unit just bought; invented."""
    figures = {
        "age": 0.0, "mean_life": 13.0, "life_shape": 2.2, "failure_free_years": 0.0, "electricity": 300.0, "gas": 0.0,
        "water": 9.0, "efficiency_degradation_rate": 0.01, "efficiency_degradation_cap": 0.2,
        "maintenance_and_repair": 30.0,
    }  # fmt: skip
    return Appliance(kind="clothes_washer", **{**figures, **changes})


def case_of(quote: Quote | None = None) -> Case:
    """A washing machine of nine years, a quote, two things to buy, and living with the fault; invented."""
    household = Household(
        region="EU", place="DE", currency="EUR", rate=0.03, electricity_price=0.35, gas_price=0.12, water_price=4.0,
        electricity_escalation=0.0, gas_escalation=0.0, water_escalation=0.0, price_escalation=0.0, inflation=0.02,
        day_cost=5.0, residual_share=1.0,
    )  # fmt: skip
    there = new_appliance(age=9.0, electricity=380.0)
    options = (
        Option(
            name="repair", action="repair", quote=quote or Quote(amount=260.0), repair_success_probability=0.92,
            repair_warranty=20.0, days_without=6.0,
        ),
        Option(
            name="new", action="replace", appliance=new_appliance(), price=620.0, delivery=40.0, haul_away=20.0,
            rebate=30.0,
            days_without=3.0, warranty=2.0,
        ),
        Option(
            name="used", action="replace", appliance=new_appliance(age=6.0, electricity=340.0), price=220.0,
            delivery=40.0,
            days_without=2.0,
        ),
        Option(name="leave", action="leave", annual_loss_of_use=60.0, energy_change=0.1),
    )  # fmt: skip
    return Case(appliance=there, household=household, options=options)


def simulated_costs(
    case: Case, option: Option, households: int, seed: int, successor: Option | None = None
) -> NDArray[np.float64]:
    """Present cost of an option in each of so many households, every life drawn and every bill paid."""
    rng = np.random.default_rng(seed)
    home = case.household
    end = home.study_period if math.isfinite(home.study_period) else 320.0
    cost = np.zeros(households)
    clock = np.zeros(households)
    successor = successor or _successor(case)
    current, first, by_plan = option, True, np.zeros(households, dtype=bool)
    while np.any(clock < end):
        appliance = current.appliance or case.appliance
        left = _lives_left(appliance, current, households, rng)
        if first and option.action == "repair":
            fails = rng.random(households) > option.repair_success_probability
            back = fails & (rng.random(households) < min(1.0, option.repair_warranty / option.callback_window))
            mended = back & (rng.random(households) < option.repair_success_probability)
            left = np.where(fails & ~mended, 0.0, left)
            cost += np.where(back, option.days_without * home.day_cost, 0.0)
        stop = np.minimum(clock + np.minimum(left, current.planned_replacement_years), end)
        active = clock < end
        cost += np.where(active, _paid_at_start(case, current, clock, first, by_plan), 0.0)
        by_plan = left > current.planned_replacement_years
        cost += np.where(active, _running(case, current, clock, stop), 0.0)
        if math.isfinite(home.study_period):
            lives_on = active & (clock + np.minimum(left, current.planned_replacement_years) > end)
            worth = _residual(case, current, _successor(case) if first else successor, end - clock)
            cost -= np.where(lives_on, worth * _worth(home.rate, home.price_escalation, np.full(households, end)), 0.0)
        clock = np.where(active, stop, clock)
        current, first = successor, False
    return cost


def _successor(case: Case) -> Option:
    """The one new unit on offer; a used one cannot be counted on later."""
    (new,) = (
        option
        for option in case.options
        if option.action == "replace" and option.appliance and not option.appliance.age
    )
    return new


def _lives_left(appliance: Appliance, option: Option, households: int, rng: np.random.Generator) -> NDArray[np.float64]:
    scale = _scale(appliance, option)
    gone = max(appliance.age - appliance.failure_free_years, 0.0)
    hazard = (gone / scale) ** appliance.life_shape + rng.exponential(size=households)
    life = appliance.failure_free_years + scale * hazard ** (1 / appliance.life_shape)
    return life - appliance.age


def _scale(appliance: Appliance, option: Option) -> float:
    """Weibull scale of a unit: that of its class, so many times as long that its hazard is as its condition says."""
    scale = (appliance.mean_life - appliance.failure_free_years) / math.gamma(1 + 1 / appliance.life_shape)
    shape = float(appliance.life_shape)
    times = min(float(appliance.hazard_ratio) * float(option.remaining_life_factor) ** -shape, 8.0)
    return float(scale) * times ** (-1 / shape)


def _worth(rate: float, growth: float, time: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.exp((math.log1p(growth) - math.log1p(rate)) * time)


def _paid_at_start(
    case: Case, option: Option, clock: NDArray[np.float64], first: bool, by_plan: NDArray[np.bool_]
) -> NDArray[np.float64]:
    home = case.household
    food = option.food_loss if first else option.food_loss_at_later_failures
    waiting = np.where(by_plan, 0.0, option.days_without * home.day_cost + food)
    if option.action != "replace":
        quote = option.quote.total - option.quote.fee_credit if option.quote else 0.0
        return waiting + quote
    price = option.price * (1 + option.tax_rate) + option.delivery + option.installation + option.haul_away
    off = option.rebate + option.trade_in if first else 0.0
    return (price - off) * _worth(home.rate, home.price_escalation, clock) + waiting * _worth(home.rate, 0.0, clock)


def _running(case: Case, option: Option, clock: NDArray[np.float64], stop: NDArray[np.float64]) -> NDArray[np.float64]:
    """Bills of one unit over its time at work, by a ten-point rule that is exact to far below a cent."""
    home, appliance = case.household, option.appliance or case.appliance
    total = np.zeros(clock.shape)
    begin = np.minimum(clock + option.warranty, stop)  # upkeep starts when the warranty is over
    for node, weight in zip(*np.polynomial.legendre.leggauss(10), strict=True):
        since = (node + 1) / 2 * (stop - clock)
        reach, pace = (
            appliance.efficiency_degradation_cap,
            appliance.efficiency_degradation_rate / max(appliance.efficiency_degradation_cap, 1e-12),
        )
        aged = (
            1 + reach - reach * np.exp(-pace * (appliance.age + since))
        )  # what is still to come of the rise halves away
        aged = aged / (1 + reach - reach * math.exp(-pace * appliance.age))
        power = appliance.electricity * (1 + option.energy_change) * home.electricity_price * aged
        when = clock + since
        total += (
            (stop - clock)
            * (weight / 2)
            * (
                power * _worth(home.rate, home.electricity_escalation, when)
                + appliance.water * home.water_price * _worth(home.rate, home.water_escalation, when)
                + option.annual_loss_of_use * _worth(home.rate, 0.0, when)
            )
        )
        later = begin + (node + 1) / 2 * (stop - begin)
        total += (stop - begin) * (weight / 2) * appliance.maintenance_and_repair * _worth(home.rate, 0.0, later)
    return total


def _residual(case: Case, option: Option, successor: Option, since: NDArray[np.float64]) -> NDArray[np.float64]:
    """Pro rata of the years that a unit of this age can still expect, on a table of them."""
    appliance, bought = option.appliance or case.appliance, successor.appliance or case.appliance
    ages = np.linspace(0.0, 120.0, 4001)
    left = np.interp(appliance.age + np.maximum(since, 0.0), ages, _years_left(appliance, option, ages))
    of_new = np.interp(bought.age, ages, _years_left(bought, successor, ages))
    price = successor.price * (1 + successor.tax_rate)
    share = case.household.residual_share + case.household.resale_share  # the one new unit is the like of every other
    return share * price * left / of_new


def _years_left(appliance: Appliance, option: Option, ages: NDArray[np.float64]) -> NDArray[np.float64]:
    scale = _scale(appliance, option)
    survival = np.exp(-((np.maximum(ages - appliance.failure_free_years, 0.0) / scale) ** appliance.life_shape))
    area = np.concatenate([np.cumsum(((survival[1:] + survival[:-1]) / 2 * np.diff(ages))[::-1])[::-1], [0.0]])
    return area / np.maximum(survival, 1e-300)


def places_of(region: str) -> list[str]:
    """Codes of a region and of all places in it."""
    return [place.place for place in tables().known_places.values() if place.region == region]


def standard_error(found: OutcomeDistribution) -> float:
    """Of the mean of what an option cost. [money]"""
    return float(np.std(found.costs, ddof=1) / math.sqrt(found.costs.size))


def wins_at_high(found: BreakevenValues) -> bool:
    """Whether repairing wins at the upper end."""
    return found.repair_wins_at_low == (len(found.values) % 2 == 0)


def another_failure(quality: Quality, time: float) -> float:
    """Chance of at least one more repairable failure: 1 - (1 + (L(a + t) - L(a)) / rate)^-shape."""
    failures = quality.frailty.failures
    more = failures(float(quality.age) + time) - failures(float(quality.age))
    return float(-np.expm1(-quality.shape * np.log1p(more / quality.rate)))
