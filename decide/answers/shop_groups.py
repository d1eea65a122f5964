"""What quotes are and bring by technician, postcode, month and class, and before and after a day, on like jobs."""

import datetime
import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from ..arrays import Floats
from ..load.jobs.book import Progress
from ..load.jobs.own_records import callbacks_of
from ..load.tables.tables import Tables
from ..shop.comparison import Difference, differences
from ..shop.jobs import OPEN, REPAIRED, Jobs
from .shop_policy import Practice, brought, own_costs

MEASURES: Final = ("price", "accepted", "held", "brings")
"""What is compared: the quote, as a share of that of like jobs; quotes that are accepted and repairs that hold, as
shares of all; and what a visit brings the shop. [-, -, -, money]"""

SINCE: Final = "since"
AFTER: Final = "after"


@dataclass(frozen=True, kw_only=True)
class Comparison:
    """Groups of jobs beside all others."""

    jobs: int
    by: Mapping[str, tuple[Difference, ...]]
    """By `technician`, `postcode`, `month`, `class`, and `since` where a day was given; only those the book tells."""
    since: datetime.date | None
    naming_chance: float
    costs_known: float
    """Share of jobs of which the book itself tells parts and work. [-]"""

    def named(self, trait: str) -> list[Difference]:
        """Differences that are hardly chance."""
        return [each for each in self.by[trait] if each.chance <= self.naming_chance]


def compared(
    jobs: Jobs,
    place: str,
    practice: Practice,
    reference: Tables,
    since: datetime.date | None = None,
    ruled: Mapping[str, bool] | None = None,
    progress: Progress | None = None,
) -> Comparison:
    """Compare the groups of a book. Like jobs have one class and fault; and, but for months and days, one year.

    Classes are compared by their answers and callbacks alone, as they are not quoted alike. `ruled`: callbacks that
    somebody ruled on.
    """
    costs = own_costs(jobs, practice, place, reference)
    called, answered = callbacks_of(jobs, reference.region_of(place), reference, ruled), ~jobs.decided(OPEN)
    priced = np.nan_to_num(jobs.quote) > 0
    measures: dict[str, Floats] = {
        "price": np.where(priced, np.log(np.where(priced, jobs.quote, 1.0)), np.nan),
        "accepted": np.where(answered & priced, jobs.decided(REPAIRED), np.nan),
        "held": np.where(called.watched & (not called.reason), ~called.back, np.nan),
        "brings": np.where(answered & priced, brought(jobs, costs, place, reference), np.nan),
    }
    work = jobs.kind.astype(np.int64) * len(jobs.faults) + jobs.fault
    year, month = (jobs.date.astype(f"datetime64[{unit}]") for unit in "YM")
    years = np.where(np.isnat(jobs.date), -1, year.astype(np.int64))
    in_year = work * 10_000 + years
    traits = {
        "technician": (jobs.traits.get("technician"), in_year),
        "postcode": (jobs.traits.get("postcode"), in_year),
        "month": (np.where(np.isnat(jobs.date), "", month.astype(str)), work),
        "class": (np.array(jobs.kinds)[jobs.kind] if len(jobs) else None, years),
    }
    if since is not None:
        day = np.where(jobs.date >= np.datetime64(since), AFTER, "before")
        traits[SINCE] = np.where(np.isnat(jobs.date), "", day), work
    by = {}
    for at, (trait, (group, cell)) in enumerate(traits.items()):
        if progress is not None:
            progress(0, at / len(traits))
        asked = {name: measures[name] for name in MEASURES if trait != "class" or name in ("accepted", "held")}
        found = [] if group is None else differences(asked, group, cell, (AFTER,) if trait == SINCE else ())
        if found:
            by[trait] = tuple(_as_share(each) if each.measure == "price" else each for each in found)
    chance = reference.usual("naming_chance", place).value
    return Comparison(jobs=len(jobs), by=by, since=since, naming_chance=chance, costs_known=costs.known_share)


def _as_share(found: Difference) -> Difference:
    """A difference of logarithms as a share."""
    value, low, high = (math.expm1(each) for each in (found.value, found.low, found.high))
    return replace(found, value=value, low=low, high=high)
