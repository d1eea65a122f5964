"""The policy card: up to what price a repair is worth recommending, by class and age.

Limits and states are those that a job book gets for the usual case of a class; each class is one case whose age is a
column.
"""

import datetime
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from ..arrays import Floats
from ..economics.case import REPLACE
from ..errors import CaseError
from ..load.cases.case_file import complete
from ..load.jobs.cases import JobCases
from ..load.jobs.own_figures import OWN_RECORDS
from ..load.jobs.words import OTHER
from ..load.tables.tables import STATUSES, Tables, tables
from ..shop.weigh_jobs import by_age

AGES: Final = (1.0, 2.0, 4.0, 6.0, 8.0, 10.0, 12.0, 15.0, 20.0)  # Ages of the card. [year]
MOST_CLASSES: Final = 28  # What one page holds.


@dataclass(frozen=True)
class CardRow:
    """One class of the card."""

    kind: str
    price: float
    """Of a new unit as people are asked it: before tax and delivery, or installed where it is sold so. [money]"""
    limits: Floats
    """Highest quote worth paying at each age, to the cent, shape (ages); NaN beyond the ages in the data. [money]"""
    ruler: Floats
    """Quotes up to which repair is clear, leaning, close and leaning to another, as one job has it; shape (ages, 4).
    [money]"""
    owed_until: float
    """Age below which the maker or the seller is to be asked first. [year]"""


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
    terms: Mapping[str, float]
    """What the shop asks besides: `fee` and `rate` [money], `markup` [-], `days` of warranty; what it has said."""


def card_of(
    place: str,
    day: datetime.date,
    kinds: Sequence[str] = (),
    shop: str = "",
    reference: Tables | None = None,
    terms: Mapping[str, float] | None = None,
) -> Card:
    """Work out the card of a place.

    Raises `CaseError`: an unknown place or class, or more classes than a page holds.

    `place` is a code or a name; `kinds` are ids of classes, all that are sold there if none is given.
    """
    reference = reference or tables()
    known = reference.place(place)
    wanted = list(kinds) or [each.kind for each in reference.classes(known.region)]
    if len(wanted) > MOST_CLASSES:
        message = "must be at most {most_classes} to fit on one page, got {got}"
        raise CaseError("classes", message, MOST_CLASSES, len(wanted))
    column, cases, rows, figures, currency = np.array(AGES), JobCases(known.place, reference), [], {}, ""
    for kind in wanted:
        filled = complete({"appliance": {"class": kind, "age": 0}, "household": {"place": known.place}}, reference)
        template = cases.template(kind, OTHER)
        drawn, reach = cases.edges(template, column), reference.needed("life_beyond_data", kind, known.region).value
        limits = by_age(template, column).limit + drawn[:, 0]  # those of the job book
        limits[column > reach * float(template.appliance.mean_life)] = np.nan
        ruler = limits[:, np.newaxis] + drawn[:, 1:]
        bought = next(option for option in filled.case.options if option.action == REPLACE)
        price, owed = float(bought.asked_price), cases.owed_until(kind)
        rows.append(CardRow(filled.case.appliance.kind, price, np.round(limits, 2), np.round(ruler, 2), owed))
        # a figure that several classes share counts once
        figures.update({id(default.estimate): default.estimate.status for default in filled.defaults})
        currency = filled.case.household.currency
    counts = Counter(figures.values())
    standing = {status: counts[status] for status in (OWN_RECORDS, *STATUSES) if counts[status]}
    return Card(shop, known.place, currency, day, AGES, tuple(rows), standing, terms or {})
