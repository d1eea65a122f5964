"""A shop's quote for a case: its lines, what the shop keeps, the warranty in it, and the honest cap."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from ..economics.case import REPLACE, Case
from ..economics.decision import decide
from ..load.cases.filled import Filled
from ..load.cases.ranges import ranges_of
from ..load.tables.draws import points, sureness
from ..load.tables.tables import Tables, tables
from ..shop import quoting
from ..shop.acceptance import Curve
from ..shop.warranty import EarlyFailure, WarrantyWorth, callbacks, worth_of


@dataclass(frozen=True)
class FeeEffect:
    """What one way with the diagnostic fee does. Pairs are the ends over the judged curves of acceptance."""

    name: str
    """A key of `TERMS`."""
    price: float
    """Incremental price to the customer. [money]"""
    chance: tuple[float, float]
    """That the quote is accepted. [-]"""
    income: tuple[float, float]
    """What the shop can expect of the visit. [money]"""


@dataclass(frozen=True, kw_only=True)
class ShopQuote:
    """A quote as it would be given, and what both sides have of it."""

    currency: str
    listed: quoting.Lines
    """By the price list."""
    given: quoting.Lines
    """As quoted: by the list, or what the target margin asks for."""
    tax: float
    """[money]"""
    cost: float
    margin: float
    """Share that the shop keeps of the quote before tax; NaN where it is not known. [-]"""
    terms: quoting.FeeTerms
    price: float
    """Incremental price to the customer. [money]"""
    held: quoting.AgainstLimit
    """Beside what the repair is worth to the customer, without any terms of the fee."""
    fee_turns: bool
    """Whether the fee alone makes accepting such a quote the cheaper way, or no longer so."""
    margin_at_limit: float
    """Margin of the quote that would be at the limit; NaN where there is none."""
    days: float
    """Length of the warranty."""
    warranty: WarrantyWorth
    fees: tuple[FeeEffect, ...]
    """Each way with the fee; empty where there is none, or no limit."""


def judged_curves(reference: Tables) -> tuple[Curve, ...]:
    """Curves of acceptance that span what is not known: wary customers, informed ones and careless ones."""
    ends = ((f"acceptance_level_{who}", f"acceptance_slope_{who}") for who in ("wary", "informed", "careless"))
    return tuple(Curve(*(reference.usual(quantity, "US").value for quantity in pair)) for pair in ends)


def quote_for(
    filled: Filled,
    work: quoting.Work,
    charges: quoting.Charges,
    tax: quoting.SalesTax,
    fee: float,
    way: str,
    margin: float | None,
    days: float | None,
) -> ShopQuote:
    """Build a quote and hold it to the repair limit of a complete case, whose own quote is set aside.

    `fee` is the diagnostic fee [money], `way` a key of `TERMS`, `margin` what is to be reached [-], `days` the length
    of the warranty on the repair; without one that of the case. Raises `CaseError`: a figure out of bounds, or nothing
    is charged that could reach a margin.
    """
    case, listed, terms = filled.case, charges.lines(work), quoting.TERMS[way](fee)
    given = listed if margin is None else quoting.at_margin(listed, work, margin)
    quote, repair = quoting.quote_of(given, tax, terms), case.repair
    length = float(repair.repair_warranty if days is None else days)
    mended = replace(repair, quote=quote, repair_warranty=length)
    asked_case = replace(case, options=tuple(mended if o is repair else o for o in case.options))
    stated = ("repair.quote.", *(() if days is None else ("repair.repair_warranty",)))
    known = [each for each in ranges_of(filled) if not any(path.startswith(stated) for path in each.paths)]
    sure = sureness(tables(), case.household.region)
    limit = decide(asked_case, known, points(len(known)), sure).repair_limit
    asked = float(quoting.gross(given, tax))
    worth = limit - float(terms.steers)  # what the repair is worth, without the shop's own terms of its fee
    held = quoting.against_limit(asked, worth)
    at_limit = float(held.at_limit)
    back = callbacks(EarlyFailure(mended.repair_success_probability, mended.callback_window), length)
    scaled = quoting.at_gross(given, tax, at_limit) if at_limit > 0 and asked > 0 else None
    return ShopQuote(
        currency=case.household.currency,
        listed=listed,
        given=given,
        tax=float(tax.due(given)),
        cost=float(work.cost),
        margin=float(quoting.margin_of(given, work)),
        terms=terms,
        price=float(terms.price(asked)),
        held=held,
        margin_at_limit=np.nan if scaled is None else float(quoting.margin_of(scaled, work)),
        days=length,
        fee_turns=bool(asked > worth) != bool(asked > limit),
        warranty=worth_of(back, float(work.cost), asked, 0.0 if np.isnan(worth) else worth, float(tax.labour)),
        fees=_fees(case, fee, asked, float(given.net) - float(work.cost), worth),
    )


def quote_of_shop(filled: Filled, typed: Mapping[str, float], way: str) -> ShopQuote:
    """The quote for a case from what a shop enters, by name; what it does not is nothing, or the usual.

    `parts`, `hours`, `rate`, `markup`, `trip`, and `flat` in place of hours times rate; `hour_cost`, `way_cost` and
    `overhead`: what they cost the shop; rates of `tax` and `tax_labour`; `fee`, `margin` to reach, `days` of warranty.
    Where neither the margin nor the cost of an hour is told, what the shop keeps is not known, and not said.
    """
    none = {name: typed.get(name, 0.0) for name in ("parts", "hours", "markup", "trip", "overhead", "tax", "fee")}
    rate = typed.get("rate", tables().usual("labour_rate", filled.case.household.region).value)
    work = quoting.Work(
        parts=none["parts"],
        hours=none["hours"],
        hour_cost=typed.get("hour_cost", rate),
        way_cost=typed.get("way_cost", none["trip"]),
        overhead=none["overhead"],
    )
    charges = quoting.Charges(markup=none["markup"], rate=rate, flat=typed.get("flat"), trip=none["trip"])
    on_labour = typed.get("tax_labour", none["tax"])
    tax = quoting.SalesTax(parts=none["tax"], labour=on_labour, trip=on_labour)
    found = quote_for(filled, work, charges, tax, none["fee"], way, typed.get("margin"), typed.get("days"))
    knows_cost = typed.keys() & {"hour_cost", "margin"}
    return found if knows_cost else replace(found, margin=np.nan, margin_at_limit=np.nan)


def _fees(case: Case, fee: float, quote: float, kept: float, limit: float) -> tuple[FeeEffect, ...]:
    """What each way with the fee does, customers answering as judged; the limit is that without any terms."""
    if not (fee > 0 and np.isfinite(limit)):
        return ()
    price_of_new = min(float(option.asked_price) for option in case.options if option.action == REPLACE)
    curves, found = judged_curves(tables()), []
    for name, way in quoting.TERMS.items():
        price = float(way(fee).price(quote))
        excess = (price - limit) / max(price_of_new, 1.0)
        chances = [float(curve.chance(excess, case.appliance.age)) for curve in curves]
        incomes = [float(way(fee).income(kept, chance)) for chance in chances]
        ends = (min(chances), max(chances)), (min(incomes), max(incomes))
        found.append(FeeEffect(name, price, *ends))
    return tuple(found)
