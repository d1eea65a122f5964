"""From a plug-in meter to a year: a log or readings in, yearly energy with an interval out.

The mean power of an appliance that runs by itself misses the year's mean for six causes, each a relative standard
deviation, all joined in quadrature:

* scatter: doors, meals and chance, sigma / sqrt(days); sigma from the log itself, pooled with a prior; and where a log
  is in pieces, what its gaps leave open: short pieces each catch the compressor on or off;
* daily: what a log leaves of the day's rhythm, D |mean over the log of exp(2 pi i t / day)|;
* season: what it leaves of the year's rhythm, S |mean over the log of exp(2 pi i t / year)|;
* defrost: one caught or missed by chance;
* ambient: a correction to another room temperature is itself uncertain;
* meter: the instrument.

A rhythm of unknown phase with the root mean square D leaves just that error in the mean of a log, whatever its gaps:
whole days cancel the first, a whole year the second. Errors multiply, so intervals are even in the logarithm.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.special import ndtr, ndtri

from ..arrays import Floats, Number
from ..errors import CaseError
from . import power_log as logs
from .consumption import HOURS_PER_DAY, HOURS_PER_YEAR, from_power, require_amount, require_positive, require_within
from .interval import METER, ErrorSources, Interval, interval_around, pooled
from .power_log import Defrosts, PowerLog, Runs

COVERAGE: Final = 0.9  # chance that an interval holds the truth [-]
SCATTER_OF_A_DAY: Final = 0.06
DAILY_RHYTHM: Final = 0.08
"""With defrosts split off. Fitted to all windows of 6 to 36 h in a week of one kitchen refrigerator (AMPds2, Makonin
et al. 2016, doi 10.1038/sdata.2016.37), whose errors are up to 0.011 smaller; a judgement for other homes."""
SCATTER_UNSPLIT: Final = 0.08
DAILY_RHYTHM_UNSPLIT: Final = 0.10
"""The same with defrosts left in, as between two readings of a counter."""
PRIOR_FREEDOM: Final = 6.0
"""A judgement: the prior counts for as much as a week of one's own."""
SCATTER_OF_A_RUN: Final = 0.23
"""The greater spread of the energy of a run, of a dishwasher and a washing machine of REFIT, see `power_log` [-]."""
SEASON: Final = 0.10
"""A judgement: August over November was 1.29 in AMPds2, August over December 1.34 in UK-DALE (Kelly & Knottenbelt
2015, doi 10.1038/sdata.2015.7): rhythms of 0.09 and 0.10 root mean square."""
SEASON_AT_KNOWN_TEMPERATURE: Final = 0.05  # a judgement
WARM_OVER_COOL: Final = (2.1, 1.8, 2.6)
"""Energy at 32 C over that at 16 C, with its range: from memory, a judgement [-]."""


@dataclass(frozen=True)
class Season:
    """What is done about the season: a factor on the energy, and the relative errors left after it [-]."""

    factor: Number = 1.0
    rhythm: Number = SEASON
    ambient: Number = 0.0


AS_MEASURED: Final = Season()
"""Nothing is known of the room: the season is left in, and in the interval."""


@dataclass(frozen=True)
class Annual:
    """Yearly energy of an appliance that runs by itself [kWh/year], and what it rests on."""

    energy: Interval
    spread: ErrorSources
    hours: float
    missing: float
    defrosts: Defrosts


@dataclass(frozen=True)
class AnnualOfRuns:
    """Yearly energy of an appliance used in runs [kWh/year], the energy of one run [kWh], and what it rests on.

    `run_spread` is the relative standard deviation between runs, NaN from one run; `standby_watts` is NaN where the
    meter cannot tell.
    """

    energy: Interval
    per_run: Interval
    runs: int
    run_spread: float
    standby_watts: float
    hours: float
    missing: float


@dataclass(frozen=True)
class RatedComparison:
    """Measured against rated: what is used above it [kWh/year], the ratio [-], the chance that it is above [-]."""

    excess: Interval
    ratio: Interval
    chance_above: Number


# Yearly energy


def annualise(log: PowerLog, season: Season = AS_MEASURED, unseen_defrost: float = 0.0) -> Annual:
    """Yearly energy of an appliance that runs by itself, such as a refrigerator, with its interval.

    energy = steady power (1 + share of defrosting) x factor of the season x 8760 hours. `unseen_defrost` is as in
    `find_defrosts`. `OutOfRange`: less than three hours.
    `CaseError`: a log that shows no use at all. The scatter is by overlapping blocks, here of a day: Kuensch, The
    jackknife and the bootstrap for general stationary observations, Annals of Statistics 17 (1989).
    """
    hours = float(require_within("hours measured", logs.covered_hours(log), logs.SHORTEST, np.inf, "hour"))
    if not logs.mean_power(log) > 0:
        raise CaseError("log", "shows no use at all; was the appliance plugged into the meter and switched on?")
    defrosts = logs.find_defrosts(log, unseen_defrost)
    mean = defrosts.steady_watts * (1 + defrosts.share)
    split = not np.isnan(defrosts.count)
    day, freedom = day_scatter(log, SCATTER_OF_A_DAY if split else SCATTER_UNSPLIT)
    chance, (gaps, pieces) = day / np.sqrt(hours / HOURS_PER_DAY), logs.piece_scatter(log)
    spread = ErrorSources(
        scatter=np.hypot(chance, gaps),
        freedom=(chance**2 + gaps**2) ** 2 / (chance**4 / freedom + gaps**4 / pieces),
        daily=(DAILY_RHYTHM if split else DAILY_RHYTHM_UNSPLIT) * logs.left_of_rhythm(log, logs.DAY),
        season=season.rhythm * logs.left_of_rhythm(log, logs.YEAR),
        defrost=defrosts.doubt / (1 + defrosts.share),
        ambient=season.ambient,
    )
    energy = interval_around(from_power(mean, HOURS_PER_DAY) * season.factor, spread, COVERAGE)
    return Annual(energy, spread, hours, logs.missing_share(log), defrosts)


def day_scatter(log: PowerLog, prior: float = SCATTER_OF_A_DAY) -> tuple[float, float]:
    """How much one day's energy differs from another's: relative standard deviation and degrees of freedom [-].

    The log's own scatter, over all its stretches of 24 hours, pooled with a prior. A log of less than two days, or with
    steps over an hour, says nothing of its own.
    """
    days = logs.covered_hours(log) / HOURS_PER_DAY
    if days < 2 or float(np.median(log.seconds)) > logs.HOUR + logs.INSTANT:
        return prior, PRIOR_FREEDOM
    power, covered = logs.resample(log, logs.HOUR)
    day = np.ones(int(HOURS_PER_DAY))
    hours = np.convolve(covered, day, "valid")
    # A day with more than a quarter missing is no day, and a few that overlap are hardly two.
    full = hours >= 0.75 * day.size
    if full.sum() <= day.size:
        return prior, PRIOR_FREEDOM
    means = np.convolve(np.nan_to_num(power) * covered, day, "valid")[full] / hours[full]
    # Each day is part of the mean that it is compared with.
    own = float(np.var(means) / np.mean(means) ** 2 / (1 - 1 / days)) if means.any() else 0.0
    return pooled(own, days - 1, prior, PRIOR_FREEDOM)


def annualise_readings(
    first: Number, second: Number, hours: Number, last_digit: float = 0.01, season: Season = AS_MEASURED
) -> Interval:
    """Yearly energy of an appliance that runs by itself, from two readings of a counter [kWh]. [kWh/year]

    (second - first) / hours x 8760 hours, with a wide interval: nothing was seen between the readings. `last_digit` is
    the step of the counter's last digit [kWh]; numbers or columns. `OutOfRange`: less than three hours, or a use of
    less than ten last digits.
    """
    hours = require_within("hours between the readings", hours, logs.SHORTEST, np.inf, "hour")
    used, doubt = _counted(first, second, last_digit)
    days = hours / HOURS_PER_DAY
    spread = ErrorSources(
        scatter=SCATTER_UNSPLIT / np.sqrt(days),
        freedom=PRIOR_FREEDOM,
        daily=DAILY_RHYTHM_UNSPLIT * np.abs(np.sinc(days)),
        season=season.rhythm * np.abs(np.sinc(hours / HOURS_PER_YEAR)),
        ambient=season.ambient,
        meter=doubt,
    )
    return interval_around(used / hours * HOURS_PER_YEAR * season.factor, spread, COVERAGE)


def annualise_counted_runs(
    first: Number, second: Number, runs: Number, runs_per_year: Number, last_digit: float = 0.01
) -> Interval:
    """Yearly energy of an appliance used in runs, from two readings of a counter and the runs between them. [kWh/year]

    (second - first) / runs x runs per year [1/year]; what it draws between runs is counted with them. Readings as in
    `annualise_readings`.
    """
    runs = require_within("runs between the readings", runs, 1, np.inf, "")
    used, doubt = _counted(first, second, last_digit)
    spread = ErrorSources(scatter=SCATTER_OF_A_RUN / np.sqrt(runs), freedom=1.0, meter=doubt)
    return interval_around(used / runs * require_amount("runs_per_year", runs_per_year, "1/year"), spread, COVERAGE)


def _counted(first: Number, second: Number, last_digit: float) -> tuple[Floats, Floats]:
    """Energy between two readings [kWh], and what the instrument leaves in doubt with its last digit [-]."""
    used = require_within("second reading less the first", np.subtract(second, first), 10 * last_digit, np.inf, "kWh")
    # Each reading lies anywhere within its last digit: the difference of two uniform laws.
    return used, np.hypot(METER, last_digit / np.sqrt(6) / used)


def annualise_runs(log: PowerLog, runs: Runs, runs_per_year: float) -> AnnualOfRuns:
    """Yearly energy of an appliance used in runs, such as a dishwasher, with its interval.

    energy = runs per year x energy of a run + standby power x hours not running. Standby that the meter cannot tell
    counts as nothing in the value and as 2 W in the upper bound. `OutOfRange`: no whole run in the log, or more runs
    than the year has hours for.
    """
    require_amount("runs_per_year", runs_per_year, "1/year")
    kwh = runs.kwh[runs.whole]
    count, freedom = kwh.size, kwh.size - 1
    require_within("whole runs in the log", count, 1, np.inf, "")
    each = float(kwh.mean())
    own = float(np.sum((kwh / each - 1) ** 2)) / freedom if freedom else np.nan
    scatter, freedom_pooled = pooled(own if freedom else 0.0, freedom, SCATTER_OF_A_RUN, 1.0)
    of_mean = scatter / np.sqrt(count)
    idle = HOURS_PER_YEAR - runs_per_year * float(runs.seconds[runs.whole].mean()) / logs.HOUR
    require_amount("hours of the year outside runs", idle, "hour")
    standby = logs.standby_power(log, runs)
    resting = 0.0 if np.isnan(standby) else standby * idle / 1000
    energy = runs_per_year * each + resting
    weight = runs_per_year * each / energy if energy > 0 else 0.0
    yearly = interval_around(energy, ErrorSources(weight * of_mean, freedom_pooled), COVERAGE)
    unseen = logs.LEAST_STANDBY * idle / 1000 if np.isnan(standby) else 0.0
    return AnnualOfRuns(
        Interval(yearly.value, yearly.low, yearly.high + unseen, COVERAGE),
        interval_around(each, ErrorSources(of_mean, freedom_pooled), COVERAGE),
        count,
        float(np.sqrt(own)),
        standby,
        logs.covered_hours(log),
        logs.missing_share(log),
    )


# Against what is rated


def against_rated(measured: Interval, rated: Number) -> RatedComparison:
    """Set measured use against the rated one, both in kWh/year; use far above it is itself a finding."""
    normal = ndtri((1 + measured.coverage) / 2)
    ratio = np.divide(measured.value, require_positive("rated", rated, "kWh/year"))
    low, high = (np.divide(bound, rated) for bound in (measured.low, measured.high))
    chance = ndtr(normal * np.log(ratio) / np.log(np.where(ratio > 1, ratio / low, high / ratio)))
    excess, least, most = (np.multiply(rated, bound - 1) for bound in (ratio, low, high))
    return RatedComparison(
        Interval(excess, least, most, measured.coverage), Interval(ratio, low, high, measured.coverage), chance
    )


# From the room of a log to that of a whole year


def linear_response(temperature: Number, ratio: Number) -> Floats:
    """Energy at a room temperature over that at 16 C, on a straight line: 1 + (R - 1)(T - 16)/16.

    T is in C, R the energy at 32 C over that at 16 C; shape (...).
    """
    return np.asarray(1 + np.subtract(ratio, 1) * np.subtract(temperature, 16) / 16)


def season_by_temperature(log_temperature: Number, year_temperatures: Floats) -> Season:
    """Carry a refrigerator's log from its room to that of a year, by month or finer, shape (..., periods). [C]

    factor = mean over the year of response(T) / response(T of the log), on a line by `WARM_OVER_COOL`. One common shape
    from 10 to 40 C: Harrington, Aye & Fuller, Applied Energy 211 (2018) 346-357. `OutOfRange`: outside 12 to 40 C: in
    the cold it flattens, or a heater comes on.
    """
    year_temperatures = require_within("year_temperatures", year_temperatures, 12, 40, "C")
    log_temperature = require_within("log_temperature", log_temperature, 12, 40, "C")
    factor, least, most = (
        np.mean(linear_response(year_temperatures, each), axis=-1) / linear_response(log_temperature, each)
        for each in WARM_OVER_COOL
    )
    return Season(factor, SEASON_AT_KNOWN_TEMPERATURE, logs.deviation(np.log(least), np.log(most)))
