"""A shop's quote for a case: its lines, what the shop keeps, the warranty in it, and the honest cap."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np

from ..economics.case import REPAIR, REPLACE, Case, Option
from ..economics.weigh import weigh
from ..errors import DataError
from ..load.tables.rows import ANY
from ..load.tables.tables import Estimate, tables
from ..shop.acceptance import JUDGED
from ..shop.quoting import (
    AgainstLimit,
    Charges,
    FeeTerms,
    Lines,
    SalesTax,
    Work,
    against_limit,
    at_gross,
    at_margin,
    charged,
    credited,
    due_if_declined,
    gross,
    margin_of,
    quote_of,
    waived,
)
from ..shop.warranty import EarlyFailure, WarrantyWorth, callbacks, worth_of
from ..show.terminal.layout import Page
from ..show.text.words import Words

TERMS: Final[Mapping[str, Callable[[float], FeeTerms]]] = {
    "charged": charged,
    "waived": waived,
    "credited": credited,
    "if-declined": due_if_declined,
}
"""What can become of a diagnostic fee, by the word that the command takes."""


@dataclass(frozen=True, kw_only=True)
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
    listed: Lines
    """By the price list."""
    given: Lines
    """As quoted: by the list, or what the target margin asks for."""
    tax: float
    """[money]"""
    cost: float
    margin: float
    """Share that the shop keeps of the quote before tax; NaN where it is not known. [-]"""
    terms: FeeTerms
    price: float
    """Incremental price to the customer. [money]"""
    held: AgainstLimit
    margin_at_limit: float
    """Margin of the quote that would be at the limit; NaN where there is none."""
    days: float
    """Length of the warranty."""
    warranty: WarrantyWorth
    fees: tuple[FeeEffect, ...]
    """Each way with the fee; empty where there is none, or no limit."""


def usual_rate(region: str) -> Estimate:
    """What an hour of labour is usually charged at in a region. [money/hour]"""
    found = tables().figure("labour_rate", ANY, region)
    if found is None:
        raise DataError(f"the tables hold no labour_rate for {region}")
    return found


def quote_for(
    case: Case,
    work: Work,
    charges: Charges,
    tax: SalesTax,
    fee: float,
    way: str,
    margin: float | None,
    days: float | None,
) -> ShopQuote:
    """Build a quote and hold it to the repair limit of a case.

    Parameters
    ----------
    case : the customer's; its own quote is set aside [-]
    fee : diagnostic fee [money]
    way : what becomes of it, a key of `TERMS` [-]
    margin : target to reach, if any [-]
    days : length of the warranty on the repair; that of the case if none is given [day]

    Raises
    ------
    CaseError
        A figure out of bounds, or nothing is charged that could reach a margin.
    """
    listed, terms = charges.lines(work), TERMS[way](fee)
    given = listed if margin is None else at_margin(listed, work, margin)
    quote, repair = quote_of(given, tax, terms), next(o for o in case.options if o.action == REPAIR)
    length = float(repair.repair_warranty if days is None else days)
    mended = replace(repair, quote=quote, repair_warranty=length)
    limit = float(weigh(replace(case, options=tuple(mended if o is repair else o for o in case.options))).repair_limit)
    asked = float(gross(given, tax))
    held = against_limit(asked, limit)
    at_limit = float(held.at_limit)
    scaled = at_gross(given, tax, at_limit) if at_limit > 0 and asked > 0 else None
    return ShopQuote(
        currency=case.household.currency,
        listed=listed,
        given=given,
        tax=float(tax.due(given)),
        cost=float(work.cost),
        margin=float(margin_of(given, work)),
        terms=terms,
        price=float(terms.price(asked)),
        held=held,
        margin_at_limit=np.nan if scaled is None else float(margin_of(scaled, work)),
        days=length,
        warranty=_warranty(mended, float(work.cost), asked, limit, float(tax.labour)),
        fees=_fees(case, fee, asked, float(given.net) - float(work.cost), limit - float(terms.steers)),
    )


def without_margins(found: ShopQuote) -> ShopQuote:
    """The same where the shop has not told what its work costs: what it keeps is then not known, and not said."""
    return replace(found, margin=np.nan, margin_at_limit=np.nan)


def _fees(case: Case, fee: float, quote: float, kept: float, limit: float) -> tuple[FeeEffect, ...]:
    """What each way with the fee does, customers answering as judged; the limit is that without any terms."""
    if not (fee > 0 and np.isfinite(limit)):
        return ()
    price_of_new = min(float(option.asked_price) for option in case.options if option.action == REPLACE)
    found = []
    for name, way in TERMS.items():
        price = float(way(fee).price(quote))
        excess = (price - limit) / max(price_of_new, 1.0)
        chances = [float(np.asarray(curve.chance(excess, case.appliance.age))) for curve in JUDGED]
        incomes = [float(np.asarray(way(fee).income(kept, chance))) for chance in chances]
        found.append(
            FeeEffect(
                name=name,
                price=price,
                chance=(min(chances), max(chances)),
                income=(min(incomes), max(incomes)),
            )
        )
    return tuple(found)


def _warranty(repair: Option, cost: float, quote: float, limit: float, tax_rate: float) -> WarrantyWorth:
    law = EarlyFailure(repair.repair_success_probability, repair.callback_window)
    back = callbacks(law, float(repair.repair_warranty))
    return worth_of(back, cost, quote, 0.0 if np.isnan(limit) else limit, tax_rate)


def show_quote(words: Words, found: ShopQuote) -> None:
    """Show a quote: whether it may be given, its lines, the margin, the fee and the warranty."""

    def money(amount: float) -> str:
        return words.money(amount, found.currency, cents=True)

    page = Page()
    page.line(verdict_text(words, found), "bold")
    page.heading(words.say("quoting.lines"))
    amounts = {"parts": found.given.parts, "labour": found.given.labour, "trip": found.given.trip}
    rows = [(words.say(f"quoting.{name}"), money(float(amount))) for name, amount in amounts.items()]
    rows += [(words.say("quoting.tax"), money(found.tax)), (words.say("quoting.quote"), money(float(found.held.quote)))]
    page.table(("", ""), rows, (1,))
    for sentence in shop_text(words, found):
        page.line(sentence)
    if found.fees:
        page.heading(words.say("quoting.fees"))
        heads = [words.say(f"quoting.{head}") for head in ("fee", "price", "chance", "income")]
        page.table(heads, fee_rows(words, found), (1, 2, 3))
        page.line(words.say("quoting.fees_note"), "dim")


def fee_rows(words: Words, found: ShopQuote) -> list[tuple[str, ...]]:
    """Each way with the fee: the customer's price, the chance that it is accepted, and what the shop can expect."""
    rows = []
    for each in found.fees:
        chance = [words.percent(end, 0) for end in each.chance]
        income = [words.money(end, found.currency) for end in each.income]
        rows.append(
            (
                words.say(f"quoting.way.{each.name.replace('-', '_')}"),
                words.money(each.price, found.currency, cents=True),
                *(words.say("bands.between", low=low, high=high) for low, high in (chance, income)),
            )
        )
    return rows


def verdict_text(words: Words, found: ShopQuote) -> str:
    """Say whether the quote may be recommended, how far above the limit it is, and what would be at the limit."""
    limit, facts = float(found.held.limit), {"quote": words.money(float(found.held.quote), found.currency, True)}
    if np.isnan(limit):
        return words.say("quoting.refused", **facts)
    if limit < 0:
        return words.say("quoting.never", **facts)
    facts["limit"] = words.money(limit, found.currency, True)
    if not found.held.flagged:
        return words.say("quoting.within", **facts)
    return words.say("quoting.above", above=words.money(float(found.held.above), found.currency, True), **facts)


def shop_text(words: Words, found: ShopQuote) -> list[str]:
    """Say what the shop keeps, what the fee does to the customer's price, and what the warranty costs and is worth."""

    def money(amount: object) -> str:
        return words.money(float(np.asarray(amount)), found.currency, cents=True)

    sentences = []
    if not np.isnan(found.margin):
        sentences.append(words.say("quoting.margin", cost=money(found.cost), margin=words.percent(found.margin, 1)))
    if found.held.flagged and not np.isnan(found.margin_at_limit):
        kept = words.percent(found.margin_at_limit, 1)
        sentences.append(words.say("quoting.margin_at_limit", limit=money(found.held.at_limit), margin=kept))
    if float(found.terms.steers) > 0:
        sentences.append(words.say("quoting.steers", price=money(found.price), fee=money(found.terms.steers)))
    elif float(found.terms.at_visit) > 0:
        sentences.append(words.say("quoting.sunk", fee=money(found.terms.at_visit)))
    worth = found.warranty
    sentences.append(
        words.say(
            "quoting.warranty",
            days=words.quantity(found.days, "day", found.currency),
            callbacks=words.number(float(np.asarray(worth.repairs)), 3),
            cost=money(worth.cost),
            addition=money(worth.addition),
            gain=money(worth.gain),
        )
    )
    return sentences


def quote_data(found: ShopQuote) -> dict[str, Any]:
    """The same as plain data."""
    return {
        "currency": found.currency,
        "parts": found.given.parts,
        "labour": found.given.labour,
        "trip": found.given.trip,
        "tax": found.tax,
        "quote": found.held.quote,
        "listed_before_tax": found.listed.net,
        "cost": found.cost,
        "margin": found.margin,
        "incremental_price": found.price,
        "repair_limit": found.held.limit,
        "above_limit": found.held.above,
        "flagged": bool(found.held.flagged),
        "quote_at_limit": found.held.at_limit,
        "margin_at_limit": found.margin_at_limit,
        "warranty": {
            "days": found.days,
            "callbacks": found.warranty.repairs,
            "cost": found.warranty.cost,
            "addition": found.warranty.addition,
            "gain": found.warranty.gain,
        },
        "fees": {
            each.name: {"incremental_price": each.price, "chance": each.chance, "income": each.income}
            for each in found.fees
        },
    }
