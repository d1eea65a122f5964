"""What a plug-in meter says of a unit: two readings of its counter or a log, carried to a year with an interval.

From the `meter` entry of a unit; its format stands in DEVELOPERS.md under 'What a case file can hold'. What cools runs
by itself, and its hours are carried to a year. Anything else is measured by the run, and counts as often as the
household runs it, the unit's `cycles`. What runs with the weather cannot be carried to a year from a few days.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from ...energy import metering
from ...energy.interval import Interval
from ...energy.metering import AS_MEASURED, Annual, AnnualOfRuns, RatedComparison, Season, season_by_temperature
from ...energy.power_log import FROST_FREE, SHORTEST, PowerLog, covered_hours, find_runs
from ...errors import CaseError, OneOf, OutOfRange, ReadError
from ..meters.meter_log import UNITS, LogSettings, Quantity, read_meter_log
from ..tables.tables import ApplianceClass
from .reading import CaseReader, Derived, declared

NUMBERS: Final = declared("meter")
ROOMS: Final = NUMBERS["room"]
QUANTITIES: Final[Mapping[str, Quantity]] = {each.name.lower(): each for each in Quantity}
OF_A_LOG: Final = ("file", "column", "unit", "quantity", "day_first", "longest_step", "frost_free")
OF_READINGS: Final = ("first", "second", "hours", "runs", "last_digit")
OF_EITHER: Final = ("room", "year_rooms", "rated")
WITH_THE_WEATHER: Final = ("air", "heating")
"""Groups of classes that no few days speak for."""


def log_use(log: PowerLog, cycles: float | None, season: Season, frost_free: bool) -> Annual | AnnualOfRuns:
    """Yearly energy from a log: by its runs where the household's runs a year are known, else by its hours.

    `CaseError`: it is too short, and says how much longer to measure; it holds no whole run, or no use at all.
    """
    if cycles is not None:
        runs = find_runs(log)
        if not runs.whole.any():
            raise CaseError("log", "holds no whole run; start the meter before a run, and stop it half an hour after")
        return metering.annualise_runs(log, runs, cycles)
    hours = covered_hours(log)
    if hours < SHORTEST:
        template = (
            "covers {hours:.1f} hours, and in less than {least:g} it says nothing of a year; "
            "measure at least {more:.1f} hours longer, better a whole day"
        )
        raise CaseError("log", template, hours, SHORTEST, SHORTEST - hours)
    return metering.annualise(log, season, FROST_FREE if frost_free else 0.0)


@dataclass(frozen=True)
class AgainstRated:
    """A measured use beside the rated one: a finding in itself where it is far above."""

    field: str
    group: str
    """Group of the class, for the checks to make."""
    rated: float
    finding: RatedComparison


def meter_use(
    reader: CaseReader, path: str, table: Mapping[str, Any], kind: ApplianceClass, cycles: float | None
) -> tuple[Derived, list[AgainstRated]] | None:
    """What a meter says of a unit, and of its rated figure where that was entered; None where it cannot be used.

    Each error is noted. The entry stands at `path.meter`; `cycles` are those entered for the unit.
    """
    where, before = f"{path}.meter", len(reader.errors)
    way = "log" if "file" in table else "readings"
    reader.refuse_unknown(where, table, (*(OF_A_LOG if way == "log" else OF_READINGS), *OF_EITHER))
    numbers = reader.numbers(where, table, NUMBERS)
    rooms = _rooms(reader, where, table)
    cycles = _runs_a_year(reader, path, kind, cycles)
    settings, frost_free = _log_settings(reader, where, table, numbers), reader.flag(where, table, "frost_free")
    file = reader.file(f"{where}.file", table["file"]) if way == "log" else None
    if way == "readings" and not {"first", "second"} & table.keys():
        reader.refuse(where, "needs a log (file), or two readings (first and second)")
    elif way == "readings" and len(reader.errors) == before:
        for name in ("first", "second", "hours" if cycles is None else "runs"):
            if name not in table:
                reader.refuse(f"{where}.{name}", "is needed: two readings and what passed between")
    if len(reader.errors) > before:
        return None
    try:
        corrected = "room" in numbers and rooms  # to a year's room, where that of the log is known too
        season = season_by_temperature(numbers["room"], np.array(rooms)) if corrected else AS_MEASURED
        if file is None:
            energy, facts = _of_readings(numbers, cycles, season)
        else:
            found = log_use(read_meter_log(file, settings=settings).log, cycles, season, frost_free)
            energy, facts = found.energy, {"hours": found.hours, "missing": found.missing}
            if isinstance(found, Annual):
                facts["defrosts"] = found.defrosts.count
            else:
                facts |= {"runs": float(found.runs), "per_run": float(found.per_run.value)}
    except (CaseError, ReadError) as error:
        reader.errors.append(_at(error, where, way))
        return None
    about: dict[str, Any] = {name: float(getattr(energy, name)) for name in ("value", "low", "high")}
    about |= {"source": str(table.get("file", "")), "facts": {**facts, "coverage": energy.coverage}}
    derived = Derived(field=f"{path}.electricity", unit="kWh/year", way=way, **about)
    if "rated" not in numbers:
        return derived, []
    finding = metering.against_rated(energy, numbers["rated"])
    return derived, [AgainstRated(derived.field, kind.group, numbers["rated"], finding)]


def _at(error: CaseError | ReadError, where: str, way: str) -> CaseError:
    """An error of the measurement, at the entry that it is about."""
    if isinstance(error, OneOf):
        return OneOf(f"{where}.{error.field}", error.choices, error.message)
    if isinstance(error, ReadError):
        return CaseError(f"{where}.file", "{where}: {message}", error.where, error.message)
    entry = "file" if way == "log" else "second" if error.field.startswith("second") else "hours"
    return CaseError(f"{where}.{entry}", error.sentence if isinstance(error, OutOfRange) else error.message)


def _runs_a_year(reader: CaseReader, path: str, kind: ApplianceClass, entered: float | None) -> float | None:
    """Runs a year of what is used in runs; None for what cools, and an error for what runs with the weather."""
    if kind.group in WITH_THE_WEATHER:
        message = "cannot tell a year of {kind}: it runs with the weather; give its label, or a year's use"
        reader.refuse(f"{path}.meter", message, kind.kind)
        return None
    if kind.group == "cooling":
        return None
    if entered is not None:
        return entered
    if reader.reference.figure("cycles", kind.kind, reader.region) is None:
        reader.refuse(f"{path}.cycles", "is needed: how often a year it is run")
        return None
    return reader.default(path, "cycles", "cycles", kind.kind)


def _rooms(reader: CaseReader, where: str, table: Mapping[str, Any]) -> tuple[float, ...]:
    """The year's room: one temperature for all of it, or one a month."""
    if "year_rooms" not in table:
        return ()
    entered = table["year_rooms"]
    listed = entered if isinstance(entered, list) and entered else [entered]
    if ("room" in table) and len(listed) in (1, 12):
        return tuple(reader.number(where, "year_rooms", each, ROOMS) for each in listed)
    message = "must be one temperature or twelve, in C, with the room's own while it was measured (room)"
    reader.refuse(f"{where}.year_rooms", message)
    return ()


def _of_readings(
    numbers: Mapping[str, float], cycles: float | None, season: Season
) -> tuple[Interval, dict[str, float]]:
    digit = {"last_digit": numbers["last_digit"]} if "last_digit" in numbers else {}
    first, second, over = (numbers[name] for name in ("first", "second", "hours" if cycles is None else "runs"))
    if cycles is None:
        return metering.annualise_readings(first, second, over, season=season, **digit), {"hours": over}
    return metering.annualise_counted_runs(first, second, over, cycles, **digit), {"runs": over}


def _log_settings(
    reader: CaseReader, where: str, table: Mapping[str, Any], numbers: Mapping[str, float]
) -> LogSettings:
    """What the owner says of a log where the file does not."""
    unit, quantity = table.get("unit"), table.get("quantity")
    units = ("W", "kW", "Wh", "kWh", *UNITS)
    return LogSettings(
        column=str(table["column"]) if "column" in table else None,
        unit=None if unit is None else reader.choice(f"{where}.unit", unit, units),
        quantity=None if quantity is None else QUANTITIES[reader.choice(f"{where}.quantity", quantity, QUANTITIES)],
        day_first=reader.flag(where, table, "day_first") if "day_first" in table else None,
        longest_step=numbers.get("longest_step", np.nan),
    )
