"""When a household draws what it draws: billing periods, time bands, and use known hour by hour or by its totals.

Time is local, an hour is named by its beginning, and a year has 365 days: a tariff prices a usual year. Uses of any
kind add up and take away, `home - old_refrigerator + new_refrigerator`, so that a bill can be made with and without.
"""

import math
from abc import ABC, abstractmethod
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Final, TypeAlias

import numpy as np
from numpy.typing import NDArray

from ..arrays import Floats, Number
from ..errors import CaseError, OutOfRange

MONTH_DAYS: Final = (31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)
YEAR_DAYS: Final = 365
M3_PER_CUBIC_FOOT: Final = 0.028316846592  # exact, from the foot of 0.3048 m
MEGAJOULES_PER_KWH: Final = 3.6

Whole: TypeAlias = NDArray[np.int64]
Rows: TypeAlias = tuple[tuple[int, ...], ...]
Per: TypeAlias = Callable[[Floats], Floats]
"""How often an amount counts in a period of so many days."""


PERS: Final[Mapping[str, Per]] = {
    "month": np.ones_like,
    "prorated month": lambda days: days * 12 / YEAR_DAYS,
    "day": lambda days: days,
    "year": lambda days: days / YEAR_DAYS,
}
"""Once a bill; by its days, a month being 365/12 of them; once a day; by its days, a year being 365 of them. [-]"""


@dataclass(frozen=True, kw_only=True)
class Calendar:
    """Which days are billed together, and which of them count as weekend."""

    periods: tuple[int, ...] = MONTH_DAYS
    """Days of each bill, in order."""
    first_day: int = 0
    """Day of the year on which the first bill begins; 0 is 1 January."""
    first_weekday: int = 0
    """Its weekday; 0 is Monday."""
    holidays: tuple[int, ...] = ()
    """Days of the year that are priced as weekend."""

    @property
    def days(self) -> Floats:
        """Days of each period, shape (periods). [day]"""
        return np.array(self.periods, dtype=np.float64)

    @property
    def months(self) -> Whole:
        """Month of each day, 0 to 11."""
        return np.repeat(np.arange(12), MONTH_DAYS)[self._days_of_the_year]

    @property
    def weekend(self) -> NDArray[np.bool_]:
        """Whether each day is priced as weekend."""
        weekday = (self.first_weekday + np.arange(sum(self.periods))) % 7
        return (weekday >= 5) | np.isin(self._days_of_the_year, self.holidays)

    @property
    def period_of_hour(self) -> Whole:
        """Period that each hour is billed in."""
        return np.repeat(np.arange(len(self.periods)), 24 * np.array(self.periods))

    def sums(self, hourly: Floats) -> Floats:
        """Add hours up to periods, shape (..., hours) to (..., periods)."""
        values = of_length(hourly, 24 * sum(self.periods), "hours")
        starts = 24 * np.cumsum((0, *self.periods[:-1]))
        return np.asarray(np.add.reduceat(values, starts, axis=-1))

    @property
    def _days_of_the_year(self) -> Whole:
        return (self.first_day + np.arange(sum(self.periods))) % YEAR_DAYS


CALENDAR_MONTHS: Final = Calendar()  # the twelve months of a year that begins on a Monday


@dataclass(frozen=True)
class Schedule:
    """The time band in force, numbered from 0, by month (12 rows) and hour of the day (24)."""

    weekday: Rows = ((0,) * 24,) * 12
    weekend: Rows = ((0,) * 24,) * 12

    def __post_init__(self) -> None:
        for rows in (self.weekday, self.weekend):
            if [len(row) for row in rows] != [24] * 12 or min(map(min, rows)) < 0:
                raise CaseError("schedule", "must have 12 rows (months) of 24 bands (hours), numbered from 0")

    @property
    def bands(self) -> int:
        """Number of time bands."""
        return 1 + max(max(row) for row in self.weekday + self.weekend)

    def together(self) -> tuple[frozenset[int], ...]:
        """Name the bands in force in each month."""
        return tuple(frozenset(a + b) for a, b in zip(self.weekday, self.weekend, strict=True))

    def band_of_hour(self, calendar: Calendar) -> Whole:
        """Time band of each hour."""
        month, weekend = calendar.months, calendar.weekend[:, None]
        return np.where(weekend, np.array(self.weekend)[month], np.array(self.weekday)[month]).ravel()

    def sums(self, hourly: Floats, calendar: Calendar) -> Floats:
        """Add hours up to periods and bands, shape (..., hours) to (..., periods, bands)."""
        cells = len(calendar.periods) * self.bands
        cell = calendar.period_of_hour * self.bands + self.band_of_hour(calendar)
        sums = hourly @ np.equal.outer(cell, np.arange(cells)).astype(np.float64)
        return sums.reshape(*sums.shape[:-1], len(calendar.periods), self.bands)


ALWAYS: Final = Schedule()  # one band, at all hours


class Use(ABC):
    """What is drawn over a calendar's periods."""

    @abstractmethod
    def in_hours(self, calendar: Calendar) -> Floats:
        """Hour by hour, shape (..., hours)."""

    @abstractmethod
    def in_bands(self, schedule: Schedule, calendar: Calendar) -> Floats:
        """By period and time band, shape (..., periods, bands)."""

    def drawn(self, calendar: Calendar) -> Floats:
        """All of it, shape (...)."""
        return self.in_bands(ALWAYS, calendar).sum(axis=(-2, -1))

    def __add__(self, other: "Use") -> "Use":
        return Together(self, other)

    def __sub__(self, other: "Use") -> "Use":
        return Together(self, other, -1.0)


@dataclass(frozen=True)
class Totals(Use):
    """Use known by billing period, shape (..., periods), each spread as one hourly shape; evenly if none."""

    values: Floats
    shape: Floats | None = None

    def in_hours(self, calendar: Calendar) -> Floats:
        """Hour by hour, shape (..., hours)."""
        return self._totals(calendar)[..., calendar.period_of_hour] * self._weights(calendar)

    def in_bands(self, schedule: Schedule, calendar: Calendar) -> Floats:
        """By period and time band, shape (..., periods, bands)."""
        return self._totals(calendar)[..., None] * schedule.sums(self._weights(calendar), calendar)

    def _totals(self, calendar: Calendar) -> Floats:
        return of_length(self.values, len(calendar.periods), "periods")

    def _weights(self, calendar: Calendar) -> Floats:
        shape = _weight_of_hours(self.shape, calendar)
        sums = calendar.sums(shape)
        astray = (sums == 0) & (self._totals(calendar).reshape(-1, sums.size) != 0).any(axis=0)
        if astray.any():
            raise CaseError("shape", "is zero throughout period {n}, which has use", 1 + int(np.argmax(astray)))
        return shape / np.where(sums == 0, 1.0, sums)[calendar.period_of_hour]


@dataclass(frozen=True)
class Together(Use):
    """One use and so many times another; `times` is one number or a column."""

    first: Use
    second: Use
    times: Number = 1.0

    def in_hours(self, calendar: Calendar) -> Floats:
        """Hour by hour, shape (..., hours)."""
        times = np.asarray(self.times)[..., None]
        return self.first.in_hours(calendar) + times * self.second.in_hours(calendar)

    def in_bands(self, schedule: Schedule, calendar: Calendar) -> Floats:
        """By period and time band, shape (..., periods, bands)."""
        times = np.asarray(self.times)[..., None, None]
        return self.first.in_bands(schedule, calendar) + times * self.second.in_bands(schedule, calendar)


def evenly(yearly: Number, shape: Floats | None = None, calendar: Calendar = CALENDAR_MONTHS) -> Totals:
    """Spread a year's use over the hours of a calendar, in proportion to the weight of each; evenly if none. [unit]

    `CaseError`: a shape that is 0 in every hour.
    """
    sums = calendar.sums(_weight_of_hours(shape, calendar))
    if not sums.sum() > 0:
        raise CaseError("shape", "must be above 0 in some hour")
    return Totals(np.asarray(yearly, dtype=np.float64)[..., None] * (sums / sums.sum()), shape)


def hours_of_profile(profile: Floats) -> Floats:
    """Hourly shape, shape (hours), from a mean day of each month, shape (12, 24). [unit/hour]"""
    return of_length(profile, 24, "hours of a day")[CALENDAR_MONTHS.months].ravel()


def gas_energy(volume: Number, calorific_value: Number, correction: Number = 1.02264) -> Floats:
    """Energy in a volume of gas as a metric bill counts it: volume x correction x calorific value / 3.6. [kWh]

    Volume in m3, calorific value in MJ/m3 as the bill prints it; the correction, to the reference temperature and
    pressure, is the British bill's unless given; shape (...).
    """
    return np.asarray(volume) * correction * np.asarray(calorific_value) / MEGAJOULES_PER_KWH


def of_length(values: Floats, length: int, what: str) -> Floats:
    """Hold the last axis to its length; anything else is use for another calendar or tariff."""
    values = np.asarray(values, dtype=np.float64)
    if values.ndim == 0 or values.shape[-1] != length:
        raise CaseError("use", "must have {length} {what}, got shape {shape}", length, what, values.shape)
    return values


def _weight_of_hours(shape: Floats | None, calendar: Calendar) -> Floats:
    hours = 24 * sum(calendar.periods)
    weights = np.ones(hours) if shape is None else of_length(shape, hours, "hours")
    if not (weights >= 0).all():
        raise OutOfRange("shape", 0, math.inf, "", float(np.min(weights)))
    return weights
