"""Use by the hour and by band, prices without inflation, and records of rates, which checks of bills go by."""

from dataclasses import dataclass
from typing import Any

import numpy as np

from decide.arrays import Floats, Number
from decide.energy.load_profile import (
    CALENDAR_MONTHS,
    PERS,
    Calendar,
    Schedule,
    Use,
    of_length,
)
from decide.energy.tariff import Block, Fixed, Minimum, Tariff, Usage, steady_levels, total
from decide.errors import CaseError, OutOfRange

a_month, a_prorated_month, a_day, a_year = (PERS[each] for each in ("month", "prorated month", "day", "year"))


def deflated(levels: Floats, inflation: Number) -> Floats:
    """Real price levels from nominal ones: each over (1 + f)^t.

    Parameters
    ----------
    levels : nominal levels of years 1 to N, shape (..., N) [-]
    inflation : general rise of prices, f, shape (...) [1/year]

    Returns
    -------
    levels : real, shape (..., N) [-]
    """
    return np.asarray(levels) / steady_levels(inflation, np.shape(levels)[-1])


@dataclass(frozen=True)
class Hourly(Use):
    """Use measured or assumed hour by hour, shape (..., hours)."""

    values: Floats

    def in_hours(self, calendar: Calendar) -> Floats:
        """Hour by hour, shape (..., hours)."""
        return of_length(self.values, 24 * sum(calendar.periods), "hours")

    def in_bands(self, schedule: Schedule, calendar: Calendar) -> Floats:
        """By period and time band, shape (..., periods, bands)."""
        return schedule.sums(self.in_hours(calendar), calendar)


@dataclass(frozen=True)
class ByBand(Use):
    """Use as a bill prints it: by period and time band, shape (..., periods, bands)."""

    values: Floats

    def in_hours(self, calendar: Calendar) -> Floats:
        """Hour by hour, which these totals cannot tell."""
        raise CaseError("use", "totals by time band do not say when in the period; give use by the hour")

    def in_bands(self, schedule: Schedule, calendar: Calendar) -> Floats:
        """By period and time band, shape (..., periods, bands); a line without bands takes their sum."""
        of_length(self.values[..., 0], len(calendar.periods), "periods")
        if schedule.bands == 1:
            return self.values.sum(axis=-1, keepdims=True)
        return of_length(self.values, schedule.bands, "time bands")


def flat(price: float, unit: str) -> Tariff:
    """Tariff of one price whatever the hour and the quantity.

    Parameters
    ----------
    price : price of a unit [money/unit]
    unit : what use is counted in [-]

    Returns
    -------
    tariff : one line, `use`
    """
    return Tariff(unit=unit, lines=(Usage(name="use", bands=((Block(price),),)),))


def saving(tariff: Tariff, base: Use, before: Use, after: Use, calendar: Calendar = CALENDAR_MONTHS) -> Floats:
    """What is no longer paid when one appliance takes another's place: bill minus bill, period by period.

    Parameters
    ----------
    tariff : what the supplier charges [-]
    base : the household's use without the appliance; if the meter read both, `metered - before` [unit]
    before : use of the appliance that stands there [unit]
    after : use of what takes its place [unit]
    calendar : the billing periods [-]

    Returns
    -------
    saving : shape (..., periods) [money]
    """
    return total(tariff, base + before, calendar) - total(tariff, base + after, calendar)


def tariff_of_record(record: dict[str, Any]) -> Tariff:
    """Tariff of a record of the open utility rate database, whose bills other programs print.

    A tier costs its rate and its adjustment; the last has no bound, whatever the record says.
    """
    structure = record["energyratestructure"]
    bands = tuple(
        tuple(
            Block(tier.get("rate", 0.0) + tier.get("adj", 0.0), tier["max"] if at < len(tiers) - 1 else np.inf)
            for at, tier in enumerate(tiers)
        )
        for tiers in structure
    )
    units = {tier.get("unit", "kWh") for tiers in structure for tier in tiers}
    pers = {"$/month": a_month, "$/day": a_day, "$/year": a_year}
    weekday, weekend = (tuple(map(tuple, record[f"energy{days}schedule"])) for days in ("weekday", "weekend"))
    return Tariff(
        unit="kWh",
        lines=(
            Usage(
                name="energy",
                bands=bands,
                schedule=Schedule(weekday, weekend),
                per=a_day if units == {"kWh daily"} else a_month,
            ),
            Fixed(
                name="fixed charge",
                amount=record.get("fixedchargefirstmeter", 0.0),
                per=pers[record.get("fixedchargeunits", "$/month")],
            ),
            Minimum(name="minimum bill", amount=record.get("mincharge", 0.0)),
        ),
        source=record.get("uri", ""),
    )


@dataclass(frozen=True, kw_only=True)
class PriceIndex:
    """A published path of a price: its level in consecutive years, on any base."""

    first_year: int
    levels: tuple[float, ...]


def index_levels(index: PriceIndex, base_year: int, years: int) -> Floats:
    """Price of years 1 to N over the base year's, by a published index; real if it is, nominal if it is. [-]

    `OutOfRange`: a year that the index does not reach. NIST IR 85-3273, energy price indices: index of a year = price
    of that year / price of the base year.
    """
    last = index.first_year + len(index.levels) - 1
    for name, year in (("base_year", base_year), ("base_year + years", base_year + years)):
        if not index.first_year <= year <= last:
            raise OutOfRange(name, index.first_year, last, "year", year)
    start = base_year - index.first_year
    return np.array(index.levels[start + 1 : start + years + 1]) / index.levels[start]
