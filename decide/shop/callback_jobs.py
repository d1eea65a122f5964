r"""Which repairs of a book came back: by what was noted of them, or by a later job on the same appliance.

A **candidate** is a later job on an appliance within the window after a repair. It counts by the rule unless it is
priced and of another fault; whoever knows better can strike one out or let one count. A job that is a callback itself
is no repair whose holding is counted.

Some later jobs of the same fault come by chance. How often, the same jobs tell beyond the window, over three more of
its length; what is to be expected of them within it, on repairs that held, is taken off, and widens the interval:

.. math:: back = \max\left(N - \frac{M}{k} \Bigl(1 - \frac{N}{n}\Bigr), 0\right), \qquad
    n_{eff} = n\, \frac{\max(back, 1)}{\max(N, 1) + M / k^2}, \qquad k = windows\ followed / n
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from ..arrays import Floats
from ..errors import require
from .jobs import CALLED_BACK, FAILED_AGAIN, OUTCOMES, REPAIRED, REPLACED, RETIRED, UNKNOWN, Jobs
from .records import FLAT_JOBS, RecordFigure, days_since, share_of

BEYOND: Final = 3
"""Windows after the first over which chance is counted."""

LOOKED_AT: Final = 3
"""Later jobs on an appliance that are looked at: another fault may come between a repair and its callback."""

UNREPEATED: Final = 300
"""Repairs with a key beyond which it is no appliance's if it never comes twice: at one callback in a hundred, three
were to be expected."""

NO_DATES, NO_WAY, NEVER_TWICE, NO_REPAIRS = (
    "no_dates", "no_outcome_and_no_repeat_key", "repeat_key_never_comes_twice", "no_repairs_watched",
)  # fmt: skip
"""Why there is no figure."""

Mask = NDArray[np.bool_]


@dataclass(frozen=True, kw_only=True)
class CallbackJobs:
    """The callbacks of a book; arrays have shape (jobs,)."""

    watched: Mask
    """Repairs of which a callback would have been heard, and the window has passed."""
    back: Mask
    """Those that came back, by what was noted or by a later job that counts."""
    later: NDArray[np.intp]
    """Index of the candidate of each repair, a job on its appliance within the window; -1 where there is none."""
    counts: Mask
    """Whether the candidate counts, by the rule or by what was said."""
    beyond: Floats
    """How long a watched repair was followed beyond the window without a further job, at most `BEYOND`; 0 for one that
    was not followed for all of it. [window]"""
    chance: Mask
    """Whether a job that would have counted came then."""
    window: float
    """[day]"""
    reason: str
    """Why no figure can be told; '' where one can."""

    @property
    def whole(self) -> RecordFigure:
        """Share of repairs that held, of the whole book, drawn to nothing."""
        return self.holds(np.ones(len(self.back), bool))

    def holds(self, which: Mask, prior: float | None = None, strength: float = np.nan) -> RecordFigure:
        """Share of repairs that held, for some of the jobs, drawn to a share known from elsewhere (`prior`) [-].

        The prior counts for `strength` jobs; without it none is favoured (Jeffreys).
        """
        if prior is None:
            before = FLAT_JOBS, FLAT_JOBS
        else:
            require("prior", prior, 0.0, 1.0, "")
            require("strength", strength, 0.0, np.inf, "job")
            before = strength * prior, strength * (1 - prior)
        n, came = int(np.sum(self.watched & which)), float(np.sum(self.watched & self.back & which))
        if self.reason or not n:
            return RecordFigure(0)
        others, k = float(np.sum(self.chance & which)), float(np.sum(self.beyond[which])) / n
        back, counted = came, float(n)
        if others:
            back = max(came - others / k * (1 - came / n), 0.0)
            counted = n * max(back, 1.0) / (max(came, 1.0) + others / k**2)
        yes = min(counted, float(n)) * (1 - back / n)
        return share_of(n, yes + before[0], min(counted, float(n)) * back / n + before[1])


def callback_jobs(jobs: Jobs, window: float, ruled: Mapping[str, bool] | None = None) -> CallbackJobs:
    """Find the callbacks of a whole book; a failed repair shows within the window [day].

    `said`: by `name_of` of a later job, whether it is a callback, over the rule.
    """
    size, day, heard = len(jobs), days_since(jobs.date), days_since(jobs.outcome_date)
    repaired, after = jobs.decided(REPAIRED), heard - day
    closing = float(np.max(np.fmax(day, heard), initial=-np.inf))
    noted = repaired & (jobs.outcome == OUTCOMES.index(CALLED_BACK)) & ~(after > window)
    keyed = (jobs.unit != "") & np.isfinite(day)
    follows, gap, same = _next_jobs(jobs, day, keyed)
    unrepeated = not np.any(follows >= 0) and np.sum(keyed & repaired) > UNREPEATED
    keyed &= not unrepeated
    same &= jobs.outcome != OUTCOMES.index(FAILED_AGAIN)
    later = np.where(repaired & (gap <= window), follows, -1)
    by_rule = (later >= 0) & same
    counts = by_rule.copy()
    for at in np.flatnonzero(later >= 0) if ruled else ():
        counts[at] = (ruled or {}).get(name_of(jobs, int(later[at])), bool(by_rule[at]))
    is_callback = np.zeros(size, bool)
    is_callback[later[counts]] = True
    gone = (jobs.outcome == OUTCOMES.index(RETIRED)) & ~(after > window)
    gone |= (later >= 0) & ~counts & jobs.decided(REPLACED)[later]
    tracked = bool(np.any(jobs.outcome == OUTCOMES.index(CALLED_BACK)))
    informative = keyed | tracked | (jobs.outcome != OUTCOMES.index(UNKNOWN))
    back = noted | counts
    watched = repaired & informative & ~is_callback & (back | (~gone & (closing - day > window)))
    watched &= closing - day > window
    long = watched & keyed & (closing - day > (1 + BEYOND) * window) & (gap > window)
    beyond = np.where(long, np.minimum(gap / window, 1.0 + BEYOND) - 1, 0.0)
    chance = long & same & (gap <= (1 + BEYOND) * window)
    reasons = {
        NO_DATES: not np.any(np.isfinite(day)),
        NEVER_TWICE: unrepeated and not np.any(informative),
        NO_WAY: not np.any(informative),
        NO_REPAIRS: not np.any(watched),
    }
    reason = next((name for name, holds in reasons.items() if holds), "")
    return CallbackJobs(
        watched=watched,
        back=back,
        later=later,
        counts=counts,
        beyond=beyond,
        chance=chance,
        window=window,
        reason=reason,
    )


def _next_jobs(jobs: Jobs, day: Floats, keyed: Mask) -> tuple[NDArray[np.intp], Floats, Mask]:
    """The first later job on the same appliance that may be a callback, else the next one, and -1 where there is none.

    With it how many days later it came, and whether it may be one: free, or of the same fault as far as is known.
    """
    follows, gap, same = np.full(len(jobs), -1), np.full(len(jobs), np.inf), np.zeros(len(jobs), bool)
    at = np.flatnonzero(keyed)
    _, unit = np.unique(jobs.unit[at], return_inverse=True)
    at = at[np.lexsort((jobs.row[at], day[at], jobs.kind[at], unit))]
    for step in range(LOOKED_AT, 0, -1):
        one, two = at[:-step], at[step:]
        apart = day[two] - day[one]
        free, faults = np.nan_to_num(jobs.quote[two]) <= 0, (jobs.fault[one], jobs.fault[two])
        alike = free | (faults[0] == faults[1]) | (faults[0] == 0) | (faults[1] == 0)  # the first fault is `other`
        joined = (jobs.unit[one] == jobs.unit[two]) & (jobs.kind[one] == jobs.kind[two]) & (apart >= 1)
        joined &= alike | ~same[one]
        follows[one[joined]], gap[one[joined]], same[one[joined]] = two[joined], apart[joined], alike[joined]
    return follows, gap, same


def name_of(jobs: Jobs, at: int) -> str:
    """What names a later job in a mapping: its line and its day, so that a later book does not take it for its own."""
    return f"{jobs.row[at]} {jobs.date[at]}"
