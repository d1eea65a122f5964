"""Carbon: a second price list over the same flows, so one engine gives two answers.

A case **in carbon** is the same case with kilograms of CO2 equivalent where money stood: a kilowatt-hour has the
kilograms of the grid for its price, falling as the grid gets cleaner; a new unit those of its making and of the
refrigerant that it loses in the end; a repair those of its parts, its visit and a charge that it refills. Taxes,
rebates, loans, fees and waiting emit nothing and are left out. Lives, consumption, drift, remaining life and cautions
stay as they are. Whatever works on a case works on it: the repair limit is then the most a repair may emit and still
keep the unit greener than a new one, the simple payback the years until a new unit has saved what its making emitted.

**No discounting, and a horizon with an end.** A kilogram warms alike whenever it is emitted, so the rate is 0; sums
without end would then be infinite. So the options are compared over the household's study period, or without one over
the mean life of a new unit, and what is left of a unit at the end is credited pro rata of its expected years.

What is due whatever is done today is left out: the making of the unit there, and the charge that it loses in the end.
A used unit counts the part of its making that its remaining years are of a new one's, for whoever else would have
bought it has to buy another.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np

from ..arrays import Number, unwrap
from ..energy.tariff import steady_escalation, steady_levels
from ..errors import CaseError
from .bounds import Bounds
from .case import REPAIR, WITHOUT, Appliance, Case, Option, Quote, vary_all
from .flows import life_of, money
from .horizon import horizon_of
from .household import FLAT, Household, PriceSteps
from .uncertainty import SEED, Range, sobol_points

KILOGRAMS: Final = "kg CO2e"  # What a case in carbon is reckoned in.

CARBON_DRAWS: Final = 256
"""A power of two, as Sobol points want; fewer than in money, since the ranges of carbon are wide beside the step."""

NINE_OF_TEN: Final = (0.05, 0.95)

KILOGRAMS_A_TONNE: Final = 1_000.0

CARBON_ENTRIES: Final[Mapping[str, Bounds]] = {
    "electricity": Bounds("kg/kWh", 0, 2),
    "electricity_growth": Bounds("1/year", -0.1, 0.1),
    "gas": Bounds("kg/kWh", 0, 1),
    "water": Bounds("kg/m3", 0, 20),
    "made": Bounds("kg", 0, 10_000),
    "refrigerant": Bounds("kg", 0, 50_000),
    "repair": Bounds("kg", 0, 10_000),
    "repair_refrigerant": Bounds("kg", 0, 50_000),
    "price": Bounds("money/t", 0, 10_000),
}
"""What can be entered about carbon; `price` alone mixes it with money."""


FUELS: Final = ("electricity", "gas", "water")
OF_MONEY: Final = (
    "rate", "leaving_rate", "resale_share", "gas_escalation", "water_escalation", "price_escalation", "inflation",
    "day_cost",
)  # fmt: skip
"""Inputs of a household that are none in carbon."""

THE_SAME: Final = (
    "name", "action", "remaining_life_factor", "energy_change", "planned_replacement_years",
    "repair_success_probability", "repair_warranty", "callback_window",
)  # fmt: skip
"""What of an option means the same in carbon."""


@dataclass(frozen=True, kw_only=True)
class CarbonFigures:
    """What things emit. Numbers are plain ones, or columns with one entry a case."""

    electricity: Number  # At the plug, today. [kg/kWh]
    electricity_growth: Number  # Yearly growth of it; below 0 where the grid gets cleaner. [1/year]
    gas: Number  # [kg/kWh]
    water: Number  # [kg/m3]
    repair: Number  # Parts and visit of a repair, today's or a later one. [kg]
    repair_refrigerant: Number  # Loss of the charge that today's repair refills. [kg]
    made: tuple[Number, ...]  # Making a new unit, for each replacement in the case's order. [kg]
    refrigerant: tuple[Number, ...]  # Loss in the end from each such unit. [kg]


def refrigerant_loss(charge: Number, warming: Number, lost: Number = 1.0) -> Number:
    """What a refrigerant that escapes warms: charge [kg] x warming potential over 100 years x share lost. [kg CO2]

    >>> round(refrigerant_loss(0.15, 1430))  # a household refrigerator with R-134a, all of it vented
    214
    """
    return charge * warming * lost


def years_compared(case: Case) -> float:
    """Years over which carbon is compared: the study period, or the mean life of the first new unit. [year]"""
    period = case.household.study_period
    if math.isfinite(period):
        return period
    bought = next(option.appliance for option in case.options if option.appliance is not None)
    return float(bought.mean_life)


def in_carbon(case: Case, figures: CarbonFigures) -> Case:
    """The same case with kilograms of CO2 equivalent where money stood; weigh it like any other.

    Raises `CaseError`: not as many made as there are units to buy, or a figure out of its bounds.

    Without discounting, over `years_compared`; every repair has a quote, in kilograms. Of `made` and `refrigerant` the
    figures have one for each option that buys a unit. Doing without is left out: what is done instead emits too, and
    nobody has said what that is.
    """
    bought = [option for option in case.options if option.appliance is not None]
    if not len(bought) == len(figures.made) == len(figures.refrigerant):
        raise CaseError("carbon.made", "is needed once for each of {n} replacements", len(bought))
    lost = (made + refrigerant for made, refrigerant in zip(figures.made, figures.refrigerant, strict=True))
    made = {option.name: each for option, each in zip(bought, lost, strict=True)}
    kept = (option for option in case.options if option.action != WITHOUT)
    prices: dict[str, Any] = {f"{fuel}_price": getattr(figures, fuel) for fuel in FUELS} | dict.fromkeys(OF_MONEY, 0.0)
    household = replace(
        case.household,
        currency=KILOGRAMS,
        study_period=years_compared(case),
        residual_share=1.0,
        electricity_escalation=figures.electricity_growth,
        landlord=None,
        **prices | {f"{fuel}_steps": FLAT for fuel in FUELS},
    )
    return replace(
        case,
        appliance=_emitting(case.appliance, figures),
        household=household,
        by_age={path: rule for path, rule in case.by_age.items() if path.startswith("appliance.")},
        options=tuple(_option_in_carbon(option, figures, made.get(option.name, 0.0)) for option in kept),
    )


def _emitting(appliance: Appliance, figures: CarbonFigures) -> Appliance:
    return replace(
        appliance, maintenance_and_repair=later_repairs(appliance) * figures.repair, later_repair_median=figures.repair
    )


def later_repairs(appliance: Appliance) -> Number:
    """How many repairs a year its upkeep pays for: upkeep over the usual quote; none where that is nothing. [1/year]"""
    usual = np.asarray(appliance.later_repair_median, dtype=float)
    return unwrap(np.where(usual > 0, appliance.maintenance_and_repair / np.where(usual > 0, usual, 1.0), 0.0))


def _option_in_carbon(option: Option, figures: CarbonFigures, made: Number) -> Option:
    """The option with kilograms for money; a repair under warranty emits like any other."""
    appliance = None if option.appliance is None else _emitting(option.appliance, figures)
    repair = Quote(amount=figures.repair + figures.repair_refrigerant) if option.action == REPAIR else None
    price: Number = 0.0
    if appliance is not None:  # by the expected years that it has left over those of a new one
        life = life_of(appliance)
        price = made * np.minimum(1.0, life.mean_residual_life(appliance.age) / life.mean_residual_life(0.0))
    return Option(appliance=appliance, quote=repair, price=price, **{name: getattr(option, name) for name in THE_SAME})


def with_price_of_carbon(case: Case, figures: CarbonFigures, price: float) -> Case:
    """The case in money with a price on what it emits: p x kilograms on energy, on new units, on repairs.

    Energy then has two prices that grow apart, money and carbon; one steady growth is taken that is worth the same over
    `years_compared`, as for a published path of prices.

    `price` is that of a tonne, p, constant above inflation [money/t]; at 0 the case costs what it does.
    Raises `CaseError` where the outcome is no case, `NoSolution` where no steady growth is worth the same.
    """
    each, emitted = price / KILOGRAMS_A_TONNE, in_carbon(case, figures)
    also = {option.name: option for option in emitted.options}
    options = (_with_carbon(o, also[o.name], each) if o.name in also else o for o in case.options)
    priced: dict[str, Any] = {}
    for fuel in FUELS:
        ways = _blended(case, emitted.household, fuel, each)
        priced |= zip((f"{fuel}_price", f"{fuel}_escalation", f"{fuel}_steps"), ways, strict=True)
    household = replace(case.household, **priced)
    maintained = _maintained_with_carbon(case.appliance, emitted.appliance, each)
    return replace(case, appliance=maintained, household=household, options=tuple(options))


def _blended(case: Case, emitted: Household, fuel: str, each: float) -> tuple[float, float, PriceSteps]:
    """Price of a fuel with its carbon, the growth of both together, and the steps of the tariff on the sum."""
    home = case.household
    paid, carbon = float(getattr(home, f"{fuel}_price")), each * float(getattr(emitted, f"{fuel}_price"))
    rise, cleaner = (float(getattr(each_home, f"{fuel}_escalation")) for each_home in (home, emitted))
    steps = getattr(home, f"{fuel}_steps")
    if carbon == 0:
        return paid, rise, steps
    share, years = carbon / (paid + carbon), max(1, round(years_compared(case)))
    levels = (1 - share) * steady_levels(rise, years) + share * steady_levels(cleaner, years)
    growth = rise if rise == cleaner else steady_escalation(levels, float(home.rate))
    level = tuple((1 - share) * each_level + share for each_level in steps.level)
    return paid + carbon, growth, PriceSteps(upto=steps.upto, level=level)


def _with_carbon(option: Option, emitted: Option, each: float) -> Option:
    """The option with the carbon of its start and of its later repairs in its price."""
    quote, appliance = option.quote, option.appliance
    if quote is not None and emitted.quote is not None:
        quote = replace(quote, amount=quote.amount + each * emitted.quote.amount)
    if appliance is not None and emitted.appliance is not None:
        appliance = _maintained_with_carbon(appliance, emitted.appliance, each)
    return replace(
        option, quote=quote, appliance=appliance, price=option.price + each * emitted.price / (1 + option.tax_rate)
    )


def _maintained_with_carbon(appliance: Appliance, emitted: Appliance, each: float) -> Appliance:
    upkeep = appliance.maintenance_and_repair + each * emitted.maintenance_and_repair
    return replace(appliance, maintenance_and_repair=upkeep)


@dataclass(frozen=True, kw_only=True)
class CarbonConfidence:
    """How sure it is what emits least."""

    draws: int
    names: tuple[str, ...]  # What can be chosen today; what a caution refuses is not.
    share_least: tuple[float, ...]  # Share of draws in which each of them emits least.
    low: float  # What repairing emits less than the best other way in 1 of 20 draws, or less than that. [kg]
    high: float  # In 19 of 20. [kg]


def carbon_confidence(case: Case, ranges: Sequence[Range]) -> CarbonConfidence:
    """Draw all figures of a case in carbon together, as is done with money, and say what emits least how often.

    Planned replacements are left out: they are the same repair, and would make every draw fifteen.

    Raises `CaseError`: a caution refuses the repair, or a draw makes no case.
    """
    refused = {stop.action for stop in case.prohibitions}
    if REPAIR in refused:
        raise CaseError(REPAIR, "is ruled out by a caution, so there is nothing to be sure of")
    changes: dict[str, Number] = {}
    if ranges:
        shares = sobol_points(CARBON_DRAWS, len(ranges), SEED)
        for index, each in enumerate(ranges):
            changes |= each.at(shares[:, index])
    drawn = vary_all(case, changes)
    horizon = horizon_of(drawn, money(drawn.household))
    chosen = [option for option in drawn.options if option.action not in refused]
    costs = np.stack([np.broadcast_to(sum(horizon.cost(option).values()), (CARBON_DRAWS,)) for option in chosen])
    mended = np.array([option.action == REPAIR for option in chosen])
    advantage = np.min(costs[~mended], axis=0) - np.min(costs[mended], axis=0)
    least = np.bincount(np.argmin(costs, axis=0), minlength=len(chosen)) / CARBON_DRAWS
    low, high = np.quantile(advantage, NINE_OF_TEN)
    return CarbonConfidence(
        draws=CARBON_DRAWS,
        names=tuple(option.name for option in chosen),
        share_least=tuple(float(share) for share in least),
        low=float(low),
        high=float(high),
    )
