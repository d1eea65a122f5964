"""The policy card: up to what price a repair is worth recommending, by class and age, on one page and as a table.

Limits are those of `weigh` when the next failure ends a unit, with every figure taken from the tables; each class is
one case whose age is a column. The other answer, that each later failure is decided again, takes seconds a class and
stands in `mendpoint limits`.
"""

import datetime
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from ...arrays import Floats
from ...economics.case import AGE, REPLACE, vary
from ...economics.weigh import weigh
from ...errors import CaseError
from ...load.cases.case_file import complete
from ...load.jobs.export import write_table
from ...load.jobs.own_figures import OWN_RECORDS
from ...load.tables.plain_file import write_file
from ...load.tables.tables import STATUSES, Tables, tables
from ..text.words import Words

if TYPE_CHECKING:
    from .paper import Size

AGES: Final = (1.0, 2.0, 4.0, 6.0, 8.0, 10.0, 12.0, 15.0, 20.0)
"""Ages of the card. [year]"""

MOST_CLASSES: Final = 28
"""What one page holds."""


@dataclass(frozen=True)
class CardRow:
    """One class of the card."""

    kind: str
    price: float
    """Of a new unit, before tax, delivery and the rest. [money]"""
    limits: Floats
    """Highest quote worth paying at each age, to the cent, shape (ages). [money]"""


@dataclass(frozen=True)
class Card:
    """A shop's policy, worked out on a day for a place."""

    shop: str
    place: str
    currency: str
    day: datetime.date
    ages: tuple[float, ...]
    rows: tuple[CardRow, ...]
    standing: Mapping[str, int]
    """How many of the figures behind it are of each status, best first."""


def card_of(
    place: str,
    day: datetime.date,
    kinds: Sequence[str] = (),
    shop: str = "",
    ages: Sequence[float] = AGES,
    reference: Tables | None = None,
) -> Card:
    """Work out the card of a place.

    Parameters
    ----------
    place : code or name of a region, state or country [-]
    kinds : ids of classes; all that are sold there if none is given [-]
    reference : tables with a shop's own figures; the shipped ones if none are given [-]

    Raises
    ------
    CaseError
        An unknown place or class, or more classes than a page holds.
    """
    known = (reference or tables()).place(place)
    wanted = list(kinds) or [each.kind for each in tables().classes(known.region)]
    if len(wanted) > MOST_CLASSES:
        raise CaseError("classes", f"must be at most {MOST_CLASSES} to fit on one page, got {len(wanted)}")
    column, rows, figures, currency = np.array(ages, dtype=float), [], {}, ""
    for kind in wanted:
        filled = complete({"appliance": {"class": kind, "age": 0}, "household": {"place": known.place}}, reference)
        limits = np.round(np.asarray(weigh(vary(filled.case, AGE, column)).repair_limit), 2)  # page and table agree
        bought = next(option for option in filled.case.options if option.action == REPLACE)
        rows.append(CardRow(filled.case.appliance.kind, float(bought.asked_price), limits))
        # a figure that several classes share counts once
        figures.update({id(default.estimate): default.estimate.status for default in filled.defaults})
        currency = filled.case.household.currency
    counts = Counter(figures.values())
    standing = {status: counts[status] for status in (OWN_RECORDS, *STATUSES) if counts[status]}
    return Card(shop, known.place, currency, day, tuple(float(age) for age in ages), tuple(rows), standing)


# in words


def title(words: Words) -> str:
    """Head of the card."""
    return words.say("card.title")


def heading(words: Words, card: Card) -> str:
    """Whose card it is, where and when."""
    facts = {"place": words.place(card.place), "day": card.day.isoformat()}
    return words.say("card.heading_of", shop=card.shop, **facts) if card.shop else words.say("card.heading", **facts)


def notes(words: Words, card: Card) -> list[str]:
    """How to read the card, what its figures rest on, and what goes before it."""
    counted = ", ".join(
        words.say("card.standing_part", n=words.number(n, 0), status=words.say(f"assumption.{_key(status)}"))
        for status, n in card.standing.items()
    )
    return [
        words.say("card.how"),
        words.say("card.answer"),
        words.say("card.standing", counted=counted),
        words.say("caution.last"),
    ]


def _key(status: str) -> str:
    return status.replace(" ", "_")


def cells(words: Words, card: Card, row: CardRow) -> list[tuple[str, str]]:
    """Amount and share of the price of new at each age; a dash where even a free repair is not worth it."""
    none = (words.say("card.none"), "")
    return [
        (words.money(limit, card.currency), words.percent(limit / row.price, 0)) if limit > 0 else none
        for limit in (float(each) for each in row.limits)
    ]


# as a table


def table_rows(words: Words, card: Card) -> list[dict[str, Any]]:
    """One row a class and age, in plain numbers; shares are fractions."""
    return [
        {
            "class": row.kind,
            "label": words.kind(row.kind),
            "place": card.place,
            "currency": card.currency,
            "age": age,
            "price_of_new": row.price,
            "limit": float(limit),
            "share_of_price": round(float(limit) / row.price, 4),
            "worked_out": card.day.isoformat(),
            "shop": card.shop,
        }
        for row in card.rows
        for age, limit in zip(card.ages, row.limits, strict=True)
    ]


def write_csv(path: Path, words: Words, card: Card, over: bool = True) -> None:
    """Write the card as a table."""
    write_table(path, table_rows(words, card), over)


# as a page


def write_pdf(path: Path, words: Words, card: Card, size: "Size" = "A4", over: bool = True) -> None:
    """Write the card as one page, A4 or Letter."""
    from .policy_sheet import sheet_of

    write_file(path, sheet_of(words, card, size), over)
