"""The household of a case: where it lives, how long it stays, and what it pays for energy and for money."""

import math
from collections.abc import Mapping, Sequence
from typing import Any

from ....economics.case import REPAIR, Appliance, Option
from ....economics.household import GASES, NATURAL_GAS, PROPANE, Household
from ....errors import CaseError, Message
from ...files.rows import ANY
from ...tables.tables import CURRENCIES, ENERGY, ApplianceClass
from ..landlord_entry import landlord_of
from ..reading import Needed, numbers_of
from . import entries
from .entries import ENERGY_AND_WATER, ENERGY_WAYS, LEAVE_BEHIND, PAYS, SAVINGS, SELL, TAKE_ALONG, Draft, built


def place_of(draft: Draft, home: Mapping[str, Any]) -> tuple[str, str]:
    """The place and its region; those of the US, and an error noted, where there is no such place."""
    place = home.get("place", home.get("region", "US"))
    try:
        known = draft.reference.place(str(place))
        if home.get("region", known.region) != known.region:
            template = "{place} lies in {region}, got {got}"
            draft.refuse("household.region", template, place, known.region, home["region"])
        return known.place, known.region
    except CaseError as error:
        draft.errors.append(error)
        return "US", "US"


def at_end_of(draft: Draft, home: Mapping[str, Any], kind: ApplianceClass) -> str:
    """What becomes of the unit at the end of a study period, one of `AT_END`; '' where none of them is asked.

    Unsaid, what is built in stays behind, and so does whatever stands in a home that is rented out; the rest is
    sold. A study that states its own `residual_share` counts what is left pro rata.
    """
    path, own = "household.at_end", [name for name in ("residual_share", "resale_share") if name in home]
    if "at_end" in home:
        entered = draft.choice(path, home["at_end"], entries.AT_END)
        if entered != TAKE_ALONG and "study_period" not in home:
            draft.refuse(path, "is said of a stay, and household.study_period is not given")
        if own and (entered, own) != (SELL, ["resale_share"]):
            draft.refuse(path, "gives the same twice, with {other}", own[0])
        return entered
    if "study_period" not in home or "residual_share" in own:
        return ""
    behind = kind.stays_behind(draft.region) or "landlord" in home
    return LEAVE_BEHIND if behind and not own else SELL


def household_of(
    draft: Draft, home: Mapping[str, Any], place: str, there: Appliance, options: Sequence[Option], at_end: str
) -> Household:
    """The household, with the rate and the prices that hold for it."""
    numbers = numbers_of(Household)
    draft.refuse_unknown("household", home, (*numbers, *entries.OF_THE_HOUSEHOLD, "landlord", *ENERGY_WAYS))
    given: dict[str, Any] = draft.numbers("household", home, numbers)
    if at_end == TAKE_ALONG:
        given.pop("study_period", None)  # it goes on serving elsewhere: a need without end
    if at_end == SELL and "resale_share" not in given:
        given["resale_share"] = draft.default("household", "resale_share", "resale_share")
    for fuel in ENERGY_AND_WATER:
        name, price = f"{fuel}_tariff", f"{fuel}_price"
        if name in home and price in home:
            draft.refuse(f"household.{name}", "gives the same twice, with {other}", price)
        if name in home:
            given |= _tariff(draft, home, fuel, CURRENCIES[draft.region], there, options)
    _fill_figures(draft, home, at_end, given)
    burnt = draft.choice("household.gas_kind", home.get("gas_kind", NATURAL_GAS), GASES)
    burn_gas = any(float(unit.gas) for unit in (there, *(option.appliance or there for option in options)))
    gas = PROPANE if burnt == PROPANE and burn_gas else "gas"
    for fuel in ENERGY:
        if f"{fuel}_price" not in given:
            given[f"{fuel}_price"] = _usual_price(draft, fuel, gas if fuel == "gas" else fuel, place)
    given["landlord"] = landlord_of(draft, home)
    return built(Household, given, region=draft.region, place=place, currency=CURRENCIES[draft.region], gas_kind=burnt)


def _fill_figures(draft: Draft, home: Mapping[str, Any], at_end: str, given: dict[str, Any]) -> None:
    """What the tables have for a household, where nobody entered it, and its rate."""
    figures = dict(entries.FIGURES["household"])
    if "landlord" in home:
        figures["rate"] = "discount_rate"  # rented out, it is an investment
    if at_end == TAKE_ALONG or "study_period" in home or "landlord" in home:
        del figures["leaving_rate"]  # when it ends is known, or it goes along
    for name, quantity in figures.items():
        if name not in given and name != "rate":
            given[name] = draft.default("household", name, quantity)
    if "rate" not in given:
        given["rate"] = _rate(draft, figures["rate"], given["inflation"])
    elif REPAIR in draft.paid_from:
        draft.refuse("household.rate", "gives the same twice, with {other}", f"{REPAIR}.pays")


def _rate(draft: Draft, unsaid: str, inflation: float) -> float:
    """Real discount rate: that of what the repair is paid from; unsaid, of what the new one is."""
    if not draft.paid_from:
        return draft.default("household", "rate", unsaid)
    pays, nominal = draft.paid_from[REPAIR if REPAIR in draft.paid_from else next(iter(draft.paid_from))]
    if pays == SAVINGS:
        return draft.default("household", "rate", "discount_rate")
    real = (1 + nominal / 12) ** 12 / (1 + inflation) - 1
    figure = draft.reference.usual(PAYS[pays], draft.region)
    if figure.value != nominal:  # entered with it
        return real
    rule = Message("{rate:.4g} a year, month by month, less inflation", nominal)
    return draft.note("household", "rate", real, figure, rule)


def _usual_price(draft: Draft, fuel: str, sold: str, place: str) -> float:
    """The average price less the part of it that does not move with use, such as standing charges."""
    if (draft.region, sold) not in draft.reference.energy_prices:
        draft.errors.append(Needed(f"household.{fuel}_price", numbers_of(Household)[f"{fuel}_price"]))
        return math.nan
    average = draft.reference.energy_price(place, sold)
    moving = draft.reference.figure(f"{sold}_marginal", ANY, draft.region) if sold == fuel else None
    own = (place, sold) in draft.reference.energy_prices
    values = {"stands_for": "" if own else place, "period": average.price_year}
    if moving is None:
        return draft.note("household", f"{fuel}_price", average.value, average, **values)
    source, value = f"{average.source.citation}, {average.price_year}", moving.value * average.value
    rule = Message("{share:g} x the average price ({source})", moving.value, source)
    return draft.note("household", f"{fuel}_price", value, moving, rule, average.unit, **values)


def _tariff(
    draft: Draft, home: Mapping[str, Any], fuel: str, currency: str, there: Appliance, options: Sequence[Option]
) -> dict[str, Any]:
    """Price of a fuel and its steps from a tariff, for the unit there and for what each option draws."""
    from ..household_tariff import tariff_price  # here: slow to load, and seldom given

    appliances = [there, *(option.appliance or there for option in options)]
    changes = [0.0, *(option.energy_change if fuel in ENERGY else 0.0 for option in options)]
    flows = [
        float(getattr(appliance, fuel)) * (1 + float(by)) for appliance, by in zip(appliances, changes, strict=True)
    ]
    before, table = len(draft.errors), draft.table(home, "household", f"{fuel}_tariff")
    found = tariff_price(draft, fuel, table, flows, currency) if len(draft.errors) == before else None
    return {} if found is None else dict(zip((f"{fuel}_price", f"{fuel}_steps"), found, strict=True))
