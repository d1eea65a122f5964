"""The policy card: up to what price a repair is worth recommending, by class and age.

Limits are those of `weigh` with every figure taken from the tables; each class is one case whose age is a column.
"""

import datetime
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from ..arrays import Floats
from ..economics.case import AGE, REPLACE, vary
from ..economics.weigh import weigh
from ..errors import CaseError
from ..load.cases.case_file import complete
from ..load.jobs.own_figures import OWN_RECORDS
from ..load.tables.tables import STATUSES, Tables, tables

AGES: Final = (1.0, 2.0, 4.0, 6.0, 8.0, 10.0, 12.0, 15.0, 20.0)  # Ages of the card. [year]
MOST_CLASSES: Final = 28  # What one page holds.


@dataclass(frozen=True)
class CardRow:
    """One class of the card."""

    kind: str
    price: float
    """Of a new unit as people are asked it: before tax and delivery, or installed where it is sold so. [money]"""
    limits: Floats  # Highest quote worth paying at each age, to the cent, shape (ages). [money]


@dataclass(frozen=True)
class Card:
    """A shop's policy, worked out on a day for a place."""

    shop: str
    place: str
    currency: str
    day: datetime.date
    ages: tuple[float, ...]
    rows: tuple[CardRow, ...]
    standing: Mapping[str, int]  # How many of the figures behind it are of each status, best first.


def card_of(
    place: str, day: datetime.date, kinds: Sequence[str] = (), shop: str = "", reference: Tables | None = None
) -> Card:
    """Work out the card of a place.

    Raises `CaseError`: an unknown place or class, or more classes than a page holds.

    `place` is a code or a name; `kinds` are ids of classes, all that are sold there if none is given.
    """
    known = (reference or tables()).place(place)
    wanted = list(kinds) or [each.kind for each in tables().classes(known.region)]
    if len(wanted) > MOST_CLASSES:
        told = "must be at most {most_classes} to fit on one page, got {got}"
        raise CaseError("classes", told, MOST_CLASSES, len(wanted))
    column, rows, figures, currency = np.array(AGES), [], {}, ""
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
    return Card(shop, known.place, currency, day, AGES, tuple(rows), standing)
