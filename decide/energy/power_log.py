r"""From readings to a log of power, and what a log shows by itself: gaps, runs, defrosts, rhythms.

A log is a set of stretches of time with the mean power in each; what no stretch covers is *missing*, never zero.
Time is in seconds from anywhere: shifting a log changes nothing.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from ..arrays import Floats, Number
from ..errors import CaseError, OutOfRange
from ..finance.special import ndtri
from .consumption import HOURS_PER_DAY, HOURS_PER_YEAR, ROUGH, require_amount, require_positive, require_within

HOUR: Final = 3600.0
DAY: Final = HOURS_PER_DAY * HOUR
YEAR: Final = HOURS_PER_YEAR * HOUR
JOULES_PER_KWH: Final = 1000 * HOUR
INSTANT: Final = 1e-3
"""Times closer than this touch [s]."""
SHORTEST: Final = 3.0
"""Hours. In less, fewer than two windows in five come within 10 % of the long-run mean, even in a chamber at a held
temperature (Kinney, Refrigerator Monitoring, A Sequel, Home Energy Sept/Oct 2000, Table 1)."""

DEFROST_OVER_PLATEAU: Final = 2.5
DEFROST_LEAST: Final = 300.0
BEFORE_DEFROST: Final = 600.0
AFTER_DEFROST: Final = 4 * HOUR
RECOVERY: Final = 3 * HOUR
"""A heater well above the compressor for minutes [s]; a compressor's start is a spike of seconds. Tried on AMPds2."""
DEFROST_INTERVAL: Final = (24.0, 96.0)
FROST_FREE: Final = 0.04
FROST_FREE_RANGE: Final = (0.02, 0.08)
"""Judgements: hours between defrosts where the log cannot tell; what defrosting adds where none was seen."""

RUN_ABOVE: Final = 5.0
RUN_JOIN: Final = 1800.0
RUN_LEAST: Final = 0.05
"""Tried on a dishwasher and a washing machine of REFIT (Murray et al. 2017, doi 10.1038/sdata.2016.122): power that
tells a run [W], pauses within one [s], least energy [kWh]."""
LEAST_STANDBY: Final = 2.0
"""Watts. Common practice, no source: under it a plug-in meter shows nothing to trust."""


@dataclass(frozen=True)
class PowerLog:
    """Stretches of time, in order and apart, each with its mean power, shape (n,) [s], [s], [W]."""

    begin: Floats
    seconds: Floats
    watts: Floats


@dataclass(frozen=True)
class Runs:
    """Times of running, shape (n,) [s], [s], [kWh], and whether the log holds the whole of each."""

    begin: Floats
    seconds: Floats
    kwh: Floats
    whole: NDArray[np.bool_]


@dataclass(frozen=True)
class Defrosts:
    """Automatic defrosts: how many, the power between [W], what each adds [Wh], and how far apart [hour].

    `share` is what they add to the steady power, `doubt` its standard deviation [-]. The count is NaN where steps
    are too long to see any, the rest where there is none to measure.
    """

    count: float
    steady_watts: float
    extra_wh: float = np.nan
    hours_between: float = np.nan
    share: float = 0.0
    doubt: float = 0.0


# From readings to a log


def log_of_power(time: Floats, watts: Floats, longest_step: float = np.nan) -> PowerLog:
    """Let each power reading hold until the next; of a step longer than the usual, the rest is missing.

    `time` in order [s], `watts` NaN where a reading failed, both shape (n,); `longest_step` is for how long one reading
    may hold, for a meter that writes only what changes [s]. `OutOfRange`: time that stands still or runs backwards,
    power below zero, fewer than two readings. `CaseError`: steps so uneven that for how long a reading holds has to be
    said.
    """
    time, watts = _readings(time, watts)
    steps = np.diff(time)
    usual = float(np.median(steps))
    declared = not np.isnan(longest_step)
    holds = np.where(steps <= (longest_step if declared else 1.5 * usual), steps, usual)
    read = np.isfinite(watts)
    log = PowerLog(time[read], np.append(holds, usual)[read], watts[read])
    if not declared and (_uneven(steps / usual) or _written_on_change(log)):
        raise CaseError("longest_step", "the steps are uneven; say for how many seconds a reading may hold")
    return log


def log_of_energy(time: Floats, kwh: Floats) -> PowerLog:
    """Take each energy to have been used in the usual step from its time on; what no step covers is missing.

    `time` is when each step began, in order [s], `kwh` NaN where a reading failed, both shape (n,). `OutOfRange` as in
    `log_of_power`; `CaseError`: steps so uneven that how long each energy took cannot be told.
    """
    time, kwh = _readings(time, kwh)
    steps = np.diff(time)
    usual = float(np.median(steps))
    if _uneven(steps / usual):
        raise CaseError("time", "the steps are uneven, so how long each energy took cannot be told")
    seconds = np.append(np.minimum(steps, usual), usual)
    read = np.isfinite(kwh)
    return PowerLog(time[read], seconds[read], kwh[read] * JOULES_PER_KWH / seconds[read])


def log_of_counter(time: Floats, kwh: Floats) -> PowerLog:
    """Take differences of a counter that only rises: what passed between two readings is known, however long.

    `time` and `kwh` as of `log_of_energy`, the latter what the counter showed; `OutOfRange` also for one that falls.
    """
    time, kwh = _readings(time, kwh)
    time, kwh = time[np.isfinite(kwh)], kwh[np.isfinite(kwh)]
    seconds = np.diff(time)
    return PowerLog(time[:-1], seconds, require_amount("rise", np.diff(kwh), "kWh") * JOULES_PER_KWH / seconds)


def covered_hours(log: PowerLog) -> float:
    """Hours that the log really covers [hour]."""
    return float(log.seconds.sum()) / HOUR


def missing_share(log: PowerLog) -> float:
    """Share of the time from first to last reading that no reading covers [-]."""
    return max(0.0, 1 - float(log.seconds.sum() / (log.begin[-1] + log.seconds[-1] - log.begin[0])))


def piece_scatter(log: PowerLog) -> tuple[float, float]:
    """What gaps leave in doubt in the mean: relative standard deviation and degrees of freedom; 0 in one piece. [-]

    Pieces between gaps count as drawn by chance from the time between first and last: the ratio of totals of clusters,
    corrected for the share that was seen.
    """
    begins = np.flatnonzero(np.append(True, np.diff(log.begin) - log.seconds[:-1] > INSTANT))
    if begins.size == 1:
        return 0.0, 1.0
    apart = np.add.reduceat(log.seconds * (log.watts - mean_power(log)), begins) / np.sum(log.seconds * log.watts)
    return float(np.sqrt(missing_share(log) * np.var(apart, ddof=1) * apart.size)), apart.size - 1.0


def mean_power(log: PowerLog) -> float:
    """Mean power over the time covered, and over no other [W]."""
    return float(np.average(log.watts, weights=log.seconds))


def resample(log: PowerLog, step: float) -> tuple[Floats, Floats]:
    """Put a log on even steps [s] from its beginning: mean power, NaN where none is covered, and the share covered."""
    require_positive("step", step, "s")
    count = int(np.ceil((log.begin[-1] + log.seconds[-1] - log.begin[0] - INSTANT) / step))
    edges = log.begin[0] + step * np.arange(count + 1)
    seconds, joules = _within(log, edges[:-1], edges[1:])
    power = np.divide(joules, seconds, out=np.full(count, np.nan), where=seconds > INSTANT)
    return power, np.minimum(seconds / step, 1.0)


# Runs and defrosts


def find_runs(
    log: PowerLog,
    above: float = RUN_ABOVE,
    join: float = RUN_JOIN,
    least_kwh: float = RUN_LEAST,
    least_seconds: float = 0.0,
) -> Runs:
    """Find when it ran: power above a threshold [W], with short pauses [s] joined, less small runs [kWh] and short [s].

    A run that comes near an end of the log, or near time that is missing, is not whole.
    """
    on = np.flatnonzero(log.watts > above)
    if not on.size:
        return Runs(np.empty(0), np.empty(0), np.empty(0), np.empty(0, dtype=np.bool_))
    ends = log.begin + log.seconds
    apart = log.begin[on[1:]] - ends[on[:-1]] > join + INSTANT
    begin, end = log.begin[on[np.append(True, apart)]], ends[on[np.append(apart, True)]]
    kwh = _within(log, begin, end)[1] / JOULES_PER_KWH
    margin = max(join, float(np.median(log.seconds)))
    whole = _within(log, begin - margin, end + margin)[0] >= end - begin + 2 * margin - INSTANT
    kept = (kwh >= least_kwh) & (end - begin >= least_seconds - INSTANT)
    return Runs(begin[kept], (end - begin)[kept], kwh[kept], whole[kept])


def plateau_power(log: PowerLog) -> float:
    """Typical power while on: that at or below which half of the energy is used [W]."""
    order = np.argsort(log.watts)
    used = np.cumsum((log.seconds * log.watts)[order])
    return float(log.watts[order][np.searchsorted(used, used[-1] / 2)])


def find_defrosts(log: PowerLog, unseen: float = 0.0) -> Defrosts:
    """Split a refrigerator's defrosts from its steady power, and spread them over the time between two.

    mean power = steady + extra / hours between = steady (1 + share): (EU) 2019/2019 and UK SI 2021/745, Schedule 14
    para 3(4)(d). From two on, the log tells the hours between. From one, they lie from 24 to 96 and are no fewer than
    the longest time seen without another. Where none is seen in less than 96 hours, the share is `unseen`: 0 for manual
    defrost, `FROST_FREE` for a frost-free unit. `OutOfRange`: a defrost fills most of a log shorter than a day.
    """
    require_within("unseen_defrost", unseen, 0, 1, "")
    mean, hours = mean_power(log), covered_hours(log)
    if float(np.median(log.seconds)) > DEFROST_LEAST:
        return Defrosts(np.nan, mean)
    starts = find_runs(log, DEFROST_OVER_PLATEAU * plateau_power(log), 0.0, 0.0, DEFROST_LEAST).begin
    if not starts.size and (unseen == 0 or hours >= DEFROST_INTERVAL[1]):
        return Defrosts(0.0, mean)
    if not starts.size:
        return Defrosts(0.0, mean, share=unseen, doubt=float(deviation(*FROST_FREE_RANGE)))
    latest = np.searchsorted(starts, log.begin + BEFORE_DEFROST, "right") - 1
    calm = (latest < 0) | (log.begin >= starts[latest] + AFTER_DEFROST)
    left, needed = float(log.seconds[calm].sum()) / HOUR, max(SHORTEST, hours / 2)
    if left < needed and hours < ROUGH:
        raise OutOfRange("hours outside a defrost", needed, np.inf, "hour", f"{left:.3g}")
    if left < needed:
        # Bursts as frequent as that are no defrosts but how it runs, and average out over a day.
        return Defrosts(0.0, mean)
    steady = float(np.average(log.watts[calm], weights=log.seconds[calm]))
    return _spread_out(log, starts, steady)


def _spread_out(log: PowerLog, starts: Floats, steady: float) -> Defrosts:
    """Spread the extra energy of the defrosts seen over the hours between two."""
    count = float(starts.size)
    covered, joules = _within(log, starts, starts + RECOVERY)
    whole = covered >= RECOVERY - INSTANT
    if not whole.any():
        return Defrosts(count, steady, share=FROST_FREE, doubt=float(deviation(*FROST_FREE_RANGE)))
    extra = float(np.mean(joules[whole] - steady * RECOVERY)) / HOUR
    between, low, high = _hours_between(log, starts)
    doubt = float(deviation(extra / high, extra / low)) / steady
    return Defrosts(count, steady, extra, between, extra / between / steady, doubt)


def _hours_between(log: PowerLog, starts: Floats) -> tuple[float, float, float]:
    """Hours between two defrosts, and the range that is read as nine tenths of a normal law."""
    ends = starts[[0, -1]]
    before, within, after = _within(log, np.r_[-np.inf, ends], np.r_[ends, np.inf])[0] / HOUR
    if starts.size == 1:
        low, high = (max(bound, float(before), float(after)) for bound in DEFROST_INTERVAL)
        return float(np.sqrt(low * high)), low, high
    if within * HOUR >= 0.9 * (ends[1] - ends[0]):
        per_gap = float(within) / (starts.size - 1)
        return per_gap, per_gap, per_gap
    # Some may have passed unseen, but their share of the time that was seen is right.
    hours = covered_hours(log)
    return hours / starts.size, hours / (starts.size + 1), hours / (starts.size - 1)


def left_of_rhythm(log: PowerLog, period: float) -> float:
    """What a log leaves in its mean of a rhythm with a period [s]: 1 in an instant, 0 over whole periods. [-]"""
    turn = 2j * np.pi / period
    begin = log.begin - log.begin[0]
    whole = np.exp(turn * (begin + log.seconds)) - np.exp(turn * begin)
    return float(np.abs(np.sum(whole) / turn) / np.sum(log.seconds))


def standby_power(log: PowerLog, runs: Runs) -> float:
    """Mean power outside the runs, NaN where none was seen or it is too low for a plug-in meter to tell [W]."""
    within = _within(log, runs.begin, runs.begin + runs.seconds)
    seconds = float(log.seconds.sum() - within[0].sum())
    joules = float(np.sum(log.seconds * log.watts) - within[1].sum())
    return joules / seconds if seconds > INSTANT and joules >= LEAST_STANDBY * seconds else np.nan


# The arithmetic beneath


def _readings(time: Floats, values: Floats) -> tuple[Floats, Floats]:
    time, values = np.asarray(time, dtype=np.float64), np.asarray(values, dtype=np.float64)
    if time.ndim != 1 or time.shape != values.shape:
        raise CaseError("time", "one for each reading is needed, got {got} for {values}", time.shape, values.shape)
    require_within("readings", int(np.isfinite(values).sum()), 2, np.inf, "")
    require_positive("step between readings", np.diff(time), "s")
    require_amount("reading", values[~np.isnan(values)], "")
    return time, values


def _uneven(steps: Floats) -> bool:
    """Whether steps, in usual ones, are neither about one nor several whole ones, as a clock's would be."""
    clock = (np.abs(steps - 1) <= 0.5) | (np.abs(steps - np.rint(steps)) <= 0.1)
    return bool(np.mean(clock) < 0.8)


def _written_on_change(log: PowerLog) -> bool:
    """Whether silence follows hardly any but low readings: then it is the appliance that rests, not the meter."""
    silence = np.diff(log.begin) - log.seconds[:-1]
    low = log.watts[:-1] < mean_power(log)
    often = (silence > INSTANT).sum() >= 10 and missing_share(log) > 0.1
    return bool(often and silence[low].sum() > 0.95 * silence.sum())


def _within(log: PowerLog, begin: Floats, end: Floats) -> tuple[Floats, Floats]:
    """Seconds covered and joules used between two times each."""
    edges = np.column_stack([log.begin, log.begin + log.seconds]).ravel()
    sums = (np.cumsum(part) for part in (log.seconds, log.seconds * log.watts))
    until = [np.column_stack([np.append(0.0, total[:-1]), total]).ravel() for total in sums]
    seconds, joules = (np.interp(end, edges, total) - np.interp(begin, edges, total) for total in until)
    return seconds, joules


def deviation(low: Number, high: Number) -> Floats:
    """Standard deviation of a normal law that has nine tenths between two bounds, in their unit."""
    return np.abs(np.subtract(high, low)) / (2 * ndtri(0.95))
