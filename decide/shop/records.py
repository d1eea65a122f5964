r"""What a shop's own jobs tell besides lives and callbacks: what breaks, and what a repair costs.

Shares of faults are drawn towards what is known from elsewhere as if that were so many more jobs,
so that a handful of jobs moves them little (Dirichlet and Beta priors). Quotes count whether taken or not: those that
were refused are the dear ones, and the next customer meets them too.

Intervals hold the truth in nine of ten books. A figure for which there are too few jobs is NaN. How long units serve is
described in `lifetimes`.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import betaincinv, chdtri, stdtrit

from ..arrays import Floats
from ..errors import require
from .jobs import Jobs

LEVEL: Final = 0.9
"""Chance that an interval holds the truth. [-]"""

LEAST_QUOTES: Final = 8
"""Quotes below which no cost is told: at the usual spread of 0.6, eight tell the median to 1.5 times either way."""


FLAT_JOBS: Final = 0.5
"""Jobs that each fault counts for where nothing is known beforehand: the prior of Jeffreys. [job]"""


@dataclass(frozen=True)
class RecordFigure:
    """A figure from so many jobs, with its interval; all three are NaN where there are too few."""

    n: int
    value: float = math.nan
    low: float = math.nan
    high: float = math.nan

    @property
    def too_few(self) -> bool:
        """Whether the jobs are too few to tell."""
        return math.isnan(self.value)

    def times(self, factor: float) -> "RecordFigure":
        """The same in another unit, such as a share of a price."""
        return RecordFigure(self.n, self.value * factor, self.low * factor, self.high * factor)


def days_since(dates: NDArray[np.datetime64]) -> Floats:
    """Days since 1970; NaN where a job gives none. [day]"""
    days = dates.astype("datetime64[D]").astype(np.int64).astype(float)
    return np.where(np.isnat(dates), np.nan, days)


def fault_shares(
    jobs: Jobs, faults: tuple[str, ...], prior: Mapping[str, float] | None = None, strength: float = math.nan
) -> dict[str, RecordFigure]:
    r"""How often each of the faults that a class can have is what one of its jobs is about; no other job is counted.

    .. math:: share_f = \frac{n_f + s\, p_f}{n + s}, \qquad share_f \sim Beta(n_f + s p_f,\; n - n_f + s (1 - p_f))

    The prior is each share as known from elsewhere [-], and its strength the jobs that it counts for; without one none
    is favoured (Jeffreys). Source: Gelman et al., Bayesian Data Analysis, 3rd ed., section 3.4 (Dirichlet and
    multinomial).
    """
    codes = [jobs.faults.index(fault) if fault in jobs.faults else -1 for fault in faults]
    counts = np.array([np.sum(jobs.fault == code) for code in codes], dtype=float)
    if prior is None:
        before = np.full(len(faults), FLAT_JOBS)
    else:
        known = np.array([prior.get(fault, 0.0) for fault in faults])
        require("prior", known, 0.0, 1.0, "")
        require("strength", strength, 0.0, np.inf, "job")
        require("prior", known.sum(), 1e-9, np.inf, "in all")
        before = strength * known / known.sum()
    tallied, all_tallied = counts + before, counts.sum() + before.sum()
    return {
        fault: share_of(int(count), float(mine), float(all_tallied - mine))
        for fault, count, mine in zip(faults, counts, tallied, strict=True)
    }


def share_of(n: int, yes: float, no: float) -> RecordFigure:
    """A share by its Beta distribution; exactly none or all where one side counts nothing."""
    if yes <= 0 or no <= 0:
        return RecordFigure(n, *(3 * (float(yes > 0),)))
    tail = (1 - LEVEL) / 2
    return RecordFigure(n, yes / (yes + no), float(betaincinv(yes, no, tail)), float(betaincinv(yes, no, 1 - tail)))


@dataclass(frozen=True)
class RepairCosts:
    """What repairs of a class are quoted at: a lognormal distribution."""

    median: RecordFigure
    """[money]"""
    spread: RecordFigure
    """Standard deviation of the logarithm. [-]"""


def repair_costs(jobs: Jobs) -> RepairCosts:
    r"""Median and spread of the quotes of a class, taken or not, with exact intervals of the lognormal.

    .. math:: \ln median \pm t_{n-1} \frac{s}{\sqrt n}, \qquad
        \frac{(n-1) s^2}{\chi^2_{n-1, hi}} \le \sigma^2 \le \frac{(n-1) s^2}{\chi^2_{n-1, lo}}

    Quotes of nothing are left out: they price no repair.
    """
    logs = np.log(jobs.quote[np.nan_to_num(jobs.quote) > 0])
    n = len(logs)
    if n < LEAST_QUOTES:
        return RepairCosts(RecordFigure(n), RecordFigure(n))
    tail, middle, spread = (1 - LEVEL) / 2, float(logs.mean()), float(logs.std(ddof=1))
    half = float(stdtrit(n - 1, 1 - tail)) * spread / math.sqrt(n)
    low, high = (spread * math.sqrt((n - 1) / float(chdtri(n - 1, side))) for side in (tail, 1 - tail))
    return RepairCosts(
        RecordFigure(n, math.exp(middle), math.exp(middle - half), math.exp(middle + half)),
        RecordFigure(n, spread, low, high),
    )
