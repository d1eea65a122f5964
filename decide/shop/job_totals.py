"""Weighed jobs added up by class, age and what the customer did; tallies of parts add up to that of the whole.

Everything kept is a count, a sum or a histogram, so a tally has the same size for ten jobs and for a million. Medians
are read off histograms of amounts as shares of the price of a new unit, and are good to half a cell.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from ..arrays import Floats
from .jobs import DECISIONS, DECLINED, LEFT, REPAIRED, REPLACED, Jobs
from .weigh_jobs import VERDICTS, WeighedJobs

AGE_EDGES: Final = (0.0, 3.0, 6.0, 9.0, 12.0, 15.0, 20.0, np.inf)
"""Bands of age, each from one of these up to the next. [year]"""

BANDS: Final = len(AGE_EDGES) - 1

SHARE_EDGES: Final = np.linspace(-2.0, 2.0, 801)
"""Cells of the histograms; what lies beyond counts in the outermost. [share of the price of a new unit]"""

TURNED_DOWN: Final = (REPLACED, LEFT, DECLINED)
"""Decisions by which a quote was not taken."""

MEASURES: Final = (
    "jobs", *VERDICTS, "stopped", "limited", "limits", "prices", "quoted", "quotes", "above", "above_by", "within_by",
    "turned_by_fee",
)  # fmt: skip
"""Counts and sums of a tally. `limited`: jobs with a limit; `limits` and `prices`: sums of their limits and
of the prices of a new unit. `quoted`: those with a quote too; `quotes`: the sum. `above`: quotes above the limit, and
by how much in all; `within_by`: the same for those within it. `turned_by_fee`: those above it that are worth it only by
what comes off of the shop's fee."""


@dataclass(frozen=True, kw_only=True)
class Tally:
    """Counts and sums by class, age and decision, and histograms by class and age; parts of a book have its classes."""

    kinds: tuple[str, ...]
    sums: Mapping[str, Floats]
    """Of each of `MEASURES`; shape (kinds, bands, decisions)."""
    limits: Floats
    """Repair limits over the price of a new unit; shape (kinds, bands, cells). [jobs]"""
    advantages: Floats
    """Advantages over the price of a new unit; shape (kinds, bands, cells). [jobs]"""

    def __add__(self, other: "Tally") -> "Tally":
        if self.kinds != other.kinds:
            raise ValueError("parts of a book have the same list of classes")
        return replace(
            self,
            sums={name: self.sums[name] + other.sums[name] for name in MEASURES},
            limits=self.limits + other.limits,
            advantages=self.advantages + other.advantages,
        )


def tally_of(jobs: Jobs, weighed: WeighedJobs) -> Tally:
    """Add up weighed jobs, shape (jobs,); tallies of further jobs are added to it."""
    band = band_of(jobs.age)
    cell = jobs.kind.astype(np.int64) * BANDS + band
    place, shape = cell * len(DECISIONS) + jobs.decision, (len(jobs.kinds), BANDS, len(DECISIONS))
    counted = {
        name: np.bincount(place, weights=amounts, minlength=math.prod(shape)).reshape(shape).astype(float)
        for name, amounts in _amounts(weighed).items()
    }
    limits, advantages = (
        _histogram(share, cell, len(jobs.kinds))
        for share in (weighed.limit_share, weighed.advantage / weighed.new_price)
    )
    return Tally(kinds=jobs.kinds, sums=counted, limits=limits, advantages=advantages)


def band_of(age: Floats) -> NDArray[np.intp]:
    """Index of the band of an age; an age that is not known, or cannot be, counts in the nearest or the last."""
    return np.clip(np.searchsorted(AGE_EDGES, age, side="right") - 1, 0, BANDS - 1)


def _amounts(weighed: WeighedJobs) -> dict[str, Floats]:
    """What each job adds to each measure."""
    limited = ~np.isnan(weighed.repair_limit)
    quoted = ~np.isnan(weighed.advantage)
    above = weighed.advantage < 0
    flags = {
        "jobs": np.ones(len(weighed), bool),
        **{verdict: weighed.verdict == code for code, verdict in enumerate(VERDICTS)},
        "stopped": weighed.stopped,
        "limited": limited,
        "quoted": quoted,
        "above": above,
        "turned_by_fee": weighed.turned_by_fee,
    }
    sums = {
        "limits": np.where(limited, weighed.repair_limit, 0.0),
        "quotes": np.where(quoted, weighed.quote, 0.0),
        "prices": np.where(limited, weighed.new_price, 0.0),
        "above_by": np.where(above, -weighed.advantage, 0.0),
        "within_by": np.where(quoted & ~above, weighed.advantage, 0.0),
    }
    return {name: flag.astype(float) for name, flag in flags.items()} | sums


def _histogram(share: Floats, cell: NDArray[np.int64], kinds: int) -> Floats:
    """Counts of shares by class, band and cell; what is not known is not counted."""
    known, cells = ~np.isnan(share), len(SHARE_EDGES) - 1
    step = SHARE_EDGES[1] - SHARE_EDGES[0]
    which = np.clip((share[known] - SHARE_EDGES[0]) // step, 0, cells - 1).astype(np.int64)
    counts = np.bincount(cell[known] * cells + which, minlength=kinds * BANDS * cells)
    return counts.reshape(kinds, BANDS, cells).astype(float)


def quantile_share(counts: Floats, below: float) -> float:
    """The share that so many (0 to 1) of those in a histogram lie below, straight within its cell; NaN for none.
    [share]
    """
    total = float(counts.sum())
    if total == 0:
        return math.nan
    upto = np.concatenate([[0.0], np.cumsum(counts)])
    cell = int(np.searchsorted(upto, below * total, side="left")) - 1
    within = (below * total - upto[cell]) / counts[cell]
    return float(SHARE_EDGES[cell] + within * (SHARE_EDGES[cell + 1] - SHARE_EDGES[cell]))


@dataclass(frozen=True, kw_only=True)
class SummaryLine:
    """One line of a summary: some of the jobs of a tally. What nobody gave is NaN."""

    kind: str | None
    """None for all classes."""
    band: int | None
    """Index of the band of age; None for all."""
    jobs: int
    repair: int
    replace: int
    leave: int
    no_quote: int
    refused: int
    not_weighed: int
    mean_limit: float
    mean_price: float
    """Of a new unit, one for each job with a limit. [money]"""
    median_limit_share: float
    """Median of the limit over the price of a new unit. [share]"""
    quoted: int
    """Jobs with a quote and a limit."""
    mean_quote: float
    above: int
    """Quotes above the limit."""
    paid_above: int
    """Of those, repairs that were done."""
    turned_by_fee: int
    """Of those above, quotes worth it only by what comes off of the shop's fee."""
    paid_above_cost: float
    """What they cost customers beyond the best other way. [money]"""
    passed_up: int
    """Quotes within the limit that were turned down."""
    value_lost_by_declining: float
    """What that cost customers, had the repair been the best way. [money]"""

    @property
    def median_limit(self) -> float:
        """Median of the limit of one class, whose jobs share a price of new; NaN for all classes together. [money]"""
        return self.median_limit_share * self.mean_price if self.kind is not None else math.nan

    @property
    def above_share(self) -> float:
        """Share of quotes above the limit; NaN without quotes."""
        return self.above / self.quoted if self.quoted else math.nan

    @property
    def paid_above_each(self) -> float:
        """What a repair above the limit cost its customer on average; NaN where there was none. [money]"""
        return self.paid_above_cost / self.paid_above if self.paid_above else math.nan


def part(tally: Tally, kind: str | None = None, band: int | None = None, *decisions: str) -> SummaryLine:
    """One line of a summary: a class or all, a band of age (by its index) or all, and some decisions or all."""
    kinds = [tally.kinds.index(kind)] if kind is not None else list(range(len(tally.kinds)))
    bands = [band] if band is not None else list(range(BANDS))
    chosen = [DECISIONS.index(decision) for decision in decisions or DECISIONS]

    def total(measure: str, among: list[int] = chosen) -> float:
        return float(tally.sums[measure][np.ix_(kinds, bands, among)].sum())

    paid = [index for index in chosen if DECISIONS[index] == REPAIRED]
    turned_down = [index for index in chosen if DECISIONS[index] in TURNED_DOWN]
    return SummaryLine(
        kind=kind,
        band=band,
        **{verdict.replace(" ", "_"): int(total(verdict)) for verdict in VERDICTS},
        jobs=int(total("jobs")),
        mean_limit=_mean(total("limits"), total("limited")),
        mean_price=_mean(total("prices"), total("limited")),
        median_limit_share=math.nan
        if decisions
        else quantile_share(tally.limits[np.ix_(kinds, bands)].sum((0, 1)), 0.5),
        quoted=int(total("quoted")),
        mean_quote=_mean(total("quotes"), total("quoted")),
        above=int(total("above")),
        paid_above=int(total("above", paid)),
        turned_by_fee=int(total("turned_by_fee")),
        paid_above_cost=total("above_by", paid),
        passed_up=int(total("quoted", turned_down) - total("above", turned_down)),
        value_lost_by_declining=total("within_by", turned_down),
    )


def _mean(total: float, count: float) -> float:
    return total / count if count else math.nan


def summary(tally: Tally) -> list[SummaryLine]:
    """A line for each class and band of age that has jobs, each class followed by its total, and the total of all."""
    lines = []
    for kind in sorted(tally.kinds):
        bands = [line for line in (part(tally, kind, band) for band in range(BANDS)) if line.jobs]
        lines += [*bands, part(tally, kind)] if bands else []
    return [*lines, part(tally)]
