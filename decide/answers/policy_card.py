"""The policy card: up to what price a repair is worth recommending, by class and age.

Limits and states are those that a job book gets for the usual case of a class; each class is one case whose age is a
column. None of them is above what a used one costs in all, with the faults that nobody sees, by more than 3 % of the
price of a new one; what one costs to buy stands beside them, since for a short stay the limit is lower.
"""

import datetime
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from ..arrays import Floats
from ..economics.case import Case
from ..economics.flows import paid_today
from ..errors import CaseError
from ..load.cases.case_file import complete
from ..load.jobs.cases import JobCases
from ..load.jobs.own_figures import OWN_RECORDS
from ..load.jobs.words import OTHER
from ..load.tables.tables import STATUSES, Tables, tables
from ..shop.bands import Bands
from ..shop.weigh_jobs import by_age

AGES: Final = (1.0, 2.0, 4.0, 6.0, 8.0, 10.0, 12.0, 15.0, 20.0)  # Ages of the card. [year]
MOST_CLASSES: Final = 28  # What one page holds.


@dataclass(frozen=True)
class CardRow:
    """One class of the card."""

    kind: str
    price: float
    """Of a new unit as people are asked it: before tax and delivery, or installed where it is sold so. [money]"""
    new: float
    """What a new one costs in its place, all that is due with it included. [money]"""
    used: float
    """The same of a used one a third of its life old; NaN where none is bought. [money]"""
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
    bands: Bands | None = None
    """Bands of least regret of the shop's own book, on quote over limit, where it has told them."""


def card_of(
    place: str,
    day: datetime.date,
    kinds: Sequence[str] = (),
    shop: str = "",
    reference: Tables | None = None,
    terms: Mapping[str, float] | None = None,
    bands: Bands | None = None,
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
    stay = reference.usual("years_in_home", known.place).value  # a used one is set beside the others for a stay
    for kind in wanted:
        home: dict[str, object] = {"place": known.place}
        filled = complete({"appliance": {"class": kind, "age": 0}, "household": home}, reference)
        staying = {"appliance": {"class": kind, "age": 0}, "household": {**home, "study_period": stay}}
        (price, new), *used = _bought(complete(staying, reference).case)
        template = cases.template(kind, OTHER)
        drawn, reach = cases.edges(template, column), reference.needed("life_beyond_data", kind, known.region).value
        limits = by_age(template, column).limit + drawn[:, 0]  # those of the job book
        limits[column > reach * float(template.appliance.mean_life)] = np.nan
        ruler = limits[:, np.newaxis] + drawn[:, 1:]
        amounts = (
            price,
            new,
            used[0][1] if used else np.nan,
            np.round(limits, 2),
            np.round(ruler, 2),
            cases.owed_until(kind),
        )
        rows.append(CardRow(filled.case.appliance.kind, *amounts))
        # a figure that several classes share counts once
        figures.update({id(default.estimate): default.estimate.status for default in filled.defaults})
        currency = filled.case.household.currency
    counts = Counter(figures.values())
    standing = {status: counts[status] for status in (OWN_RECORDS, *STATUSES) if counts[status]}
    return Card(shop, known.place, currency, day, AGES, tuple(rows), standing, terms or {}, bands)


def _bought(case: Case) -> list[tuple[float, float]]:
    """Of what can be bought, a new one first: its price as people are asked it, and what is due with it. [money]"""
    due = ("price", "tax", "delivery", "installation", "haul_away")
    paid = ((float(each.asked_price), paid_today(case, each)) for each in case.options if each.appliance is not None)
    return [(price, sum(float(parts[name]) for name in due)) for price, parts in paid]
