r"""How a shop builds a quote, what it earns by it, and whether it is one that the customer should accept.

A job costs the shop its parts, its hours and the way there, and a share of that for everything else (overhead):

.. math:: c = (parts + hours \cdot cost\ of\ an\ hour + way)(1 + overhead)

It charges *lines*: parts, labour and trip, before tax. The margin is the share of the lines that is left,
1 - c / lines; so a margin m asks for lines of c / (1 - m). Tax goes on each line at its own rate.

What is left of a diagnostic fee when the customer decides: a fee that is due either way is spent, and moves nothing. A
fee that comes off an accepted quote, or that is due only when the repair is declined, makes accepting that much
cheaper. What counts for the customer is the **incremental price**: what accepting costs more than declining.

Every amount is a number or a column, one entry a job. That overhead goes by cost and a margin by price is common
practice, no source.
"""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Final, Self

import numpy as np

from ..arrays import Floats, Number, unwrap
from ..economics.case import Quote
from ..errors import CaseError, require

LARGEST: float = 1e7
"""No sum of money here is larger. [money]"""

HIGHEST_MARGIN: float = 0.95
"""[-]"""


@dataclass(frozen=True, kw_only=True)
class Work:
    """What a job takes: parts as the shop buys them and the way [money], hours [hour], and an hour's cost."""

    parts: Number = 0.0
    hours: Number = 0.0
    hour_cost: Number = 0.0
    """[money/hour]"""
    way_cost: Number = 0.0
    overhead: Number = 0.0
    """Rent, office, vehicles and the rest, as a share of the other costs. [-]"""

    def __post_init__(self) -> None:
        for name in ("parts", "hour_cost", "way_cost"):
            require(name, getattr(self, name), 0, LARGEST, "money")
        require("hours", self.hours, 0, 1_000, "hour")
        require("overhead", self.overhead, 0, 10, "")

    @property
    def cost(self) -> Number:
        """What the job costs the shop. [money]"""
        return (self.parts + self.hours * self.hour_cost + self.way_cost) * (1 + self.overhead)


@dataclass(frozen=True, kw_only=True)
class Lines:
    """The lines of a quote, before tax. [money]"""

    parts: Number
    labour: Number
    trip: Number

    @property
    def net(self) -> Number:
        """All lines together, before tax. [money]"""
        return self.parts + self.labour + self.trip

    def times(self, factor: Number) -> Self:
        """Every line so many times as large."""
        return type(self)(parts=self.parts * factor, labour=self.labour * factor, trip=self.trip * factor)


@dataclass(frozen=True, kw_only=True)
class Charges:
    """How a shop makes lines of a quote of work: parts marked up, labour by the hour or at one price, the trip."""

    markup: Number
    """Share that is put on the cost of parts. [-]"""
    rate: Number = 0.0
    """[money/hour]"""
    flat: Number | None = None
    """One price for the labour however long it takes, in place of the rate. [money]"""
    trip: Number = 0.0
    """[money]"""

    def __post_init__(self) -> None:
        require("markup", self.markup, 0, 20, "")
        require("rate", self.rate, 0, LARGEST, "money/hour")
        require("labour", 0.0 if self.flat is None else self.flat, 0, LARGEST, "money")
        require("trip", self.trip, 0, LARGEST, "money")

    def lines(self, work: Work) -> Lines:
        """Charge a job."""
        labour = work.hours * self.rate if self.flat is None else self.flat
        return Lines(parts=work.parts * (1 + self.markup), labour=labour, trip=self.trip)


@dataclass(frozen=True, kw_only=True)
class SalesTax:
    """Rate of tax on each line; where the law taxes parts alone, the others are 0. [-]"""

    parts: Number = 0.0
    labour: Number = 0.0
    trip: Number = 0.0

    def __post_init__(self) -> None:
        for name in ("parts", "labour", "trip"):
            require(f"tax on {name}", getattr(self, name), 0, 0.5, "")

    def due(self, lines: Lines) -> Number:
        """Tax on a quote. [money]"""
        return self.parts * lines.parts + self.labour * lines.labour + self.trip * lines.trip


def gross(lines: Lines, tax: SalesTax) -> Number:
    """What the quote asks, tax included. [money]"""
    return lines.net + tax.due(lines)


def margin_of(lines: Lines, work: Work) -> Number:
    """Share of the lines that the shop keeps, 1 - cost / lines; NaN where nothing is charged; shape (...). [-]"""
    net, cost = np.broadcast_arrays(*(np.asarray(each, dtype=float) for each in (lines.net, work.cost)))
    kept = 1 - np.divide(cost, net, out=np.full(net.shape, math.nan), where=net > 0)
    return unwrap(np.asarray(kept))


def at_margin(lines: Lines, work: Work, margin: Number) -> Lines:
    """The quote that reaches a margin: all lines rise or fall alike, to c / (1 - m) together; shape (...). [money]

    A margin below 0 or above 0.95 raises `OutOfRange`; `CaseError`: nothing is charged that could rise.
    """
    require("margin", margin, 0, HIGHEST_MARGIN, "")
    if not np.all(np.asarray(lines.net) > 0):
        raise CaseError("quote", "must charge something before it can reach a margin")
    return lines.times(work.cost / (1 - np.asarray(margin)) / lines.net)


def at_gross(lines: Lines, tax: SalesTax, amount: Number) -> Lines:
    """The same quote scaled to ask a given amount, tax included; all lines alike. [money]

    Raises `CaseError`: nothing is charged now, so that there is no line to scale.
    """
    if not np.all(np.asarray(gross(lines, tax)) > 0):
        raise CaseError("quote", "must charge something before it can be scaled")
    return lines.times(np.asarray(amount) / gross(lines, tax))


# the diagnostic fee


@dataclass(frozen=True, kw_only=True)
class FeeTerms:
    """What becomes of a diagnostic fee, in money: paid at the visit, credited on a repair, due on a refusal."""

    at_visit: Number = 0.0
    """Paid whatever the customer decides: spent. [money]"""
    credit: Number = 0.0
    """Comes off the quote when it is accepted. [money]"""
    if_declined: Number = 0.0
    """Due only when it is not. [money]"""

    def __post_init__(self) -> None:
        for name in ("at_visit", "credit", "if_declined"):
            require(f"fee {name}", getattr(self, name), 0, LARGEST, "money")

    @property
    def steers(self) -> Number:
        """By how much the terms make accepting cheaper than declining. [money]"""
        return self.credit + self.if_declined

    def price(self, quote: Number) -> Number:
        """Incremental price: what accepting costs the customer more than declining. [money]"""
        return quote - self.steers

    def income(self, kept: Number, chance: Number) -> Number:
        r"""What the shop can expect of a visit: fees, and what it keeps of the quote if that is accepted.

        .. math:: visit + p (kept - credit) + (1 - p)\, if\ declined

        `kept` is the lines of the quote less what the job costs, and `chance` that of acceptance, which the terms
        themselves move through the incremental price.
        """
        require("chance", chance, 0, 1, "")
        return self.at_visit + chance * (kept - self.credit) + (1 - chance) * self.if_declined


TERMS: Final[Mapping[str, Callable[[Number], FeeTerms]]] = {
    "charged": lambda fee: FeeTerms(at_visit=fee),
    "waived": lambda fee: FeeTerms(at_visit=0.0 * fee),
    "credited": lambda fee: FeeTerms(at_visit=fee, credit=fee),
    "if-declined": lambda fee: FeeTerms(if_declined=fee),
}
"""What can become of a diagnostic fee, by the word that the command takes; a credited one is paid at the visit."""


def quote_of(lines: Lines, tax: SalesTax, terms: FeeTerms) -> Quote:
    """The quote as a case has it: one amount with tax, and the terms of the fee that still move the decision."""
    return Quote(amount=gross(lines, tax), fee_credit=terms.credit, fee_if_declined=terms.if_declined)


# the honest cap


@dataclass(frozen=True, kw_only=True)
class AgainstLimit:
    """A quote beside the highest one that is worth paying, before it is given. Shape (...). [money]"""

    quote: Number
    limit: Number
    """Highest quote worth paying, without any terms of a fee; NaN where a caution refuses the repair."""
    above: Number
    """How far the quote lies above it; 0 where it does not, NaN where there is no limit."""
    at_limit: Number
    """The quote that would be at the limit; NaN where not even a free repair is worth it."""

    @property
    def flagged(self) -> Floats:
        """Where the quote should not be recommended: above the limit, or with no limit at all. [-]"""
        return np.asarray(~(np.asarray(self.above) <= 0), dtype=float)


def against_limit(quote: Number, limit: Number) -> AgainstLimit:
    """Hold a quote, tax included, to the customer's repair limit without the terms of a fee. Shape (...). [money]

    A quote below 0, or NaN, raises `OutOfRange`.
    """
    require("quote", quote, 0, LARGEST, "money")
    quote, limit = (np.asarray(each, dtype=float) for each in (quote, limit))
    return AgainstLimit(
        quote=unwrap(quote),
        limit=unwrap(limit),
        above=unwrap(np.maximum(quote - limit, 0.0)),
        at_limit=unwrap(np.where(limit >= 0, limit, math.nan)),
    )
