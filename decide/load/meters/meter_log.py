"""A plug-in meter's log, in whatever shape its maker or its owner left it.

A csv file with one time and one figure a row is read: ISO, day-first, month-first or epoch times, in one column or
two; watts, kilowatts, or energy, of each step or of a counter; decimal point or comma; any usual separator and
encoding; oldest or newest first. What the file itself does not settle is refused with the row and the column, and
`LogSettings` settles it: a guess would give a wrong figure in silence.

A figure that is empty, or says that there was none, is missing and stays so.
"""

import re
from dataclasses import dataclass
from enum import Enum
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np

from ...arrays import Floats
from ...energy.power_log import PowerLog, log_of_counter, log_of_energy, log_of_power, mean_power
from ...errors import CaseError, Message, OneOf, ReadError
from .log_table import LogTable, even_clock, refuse_standing, short, table_of, text_of, time_columns, times_of

if TYPE_CHECKING:
    from .log_table import Flags, Text

MOST_WATTS: Final = 30_000.0
"""A mean power above this is no household appliance: the unit or the kind of figure is mistaken."""
LARGEST_FIGURE: Final = 1e12
"""A counter of watt-hours that has run for ever; beyond it no figure of a household is. [that of the column]"""
MISSING: Final = ("", "-", "--", "nan", "na", "n/a", "#n/a", "null", "none", "unavailable", "unknown")
KILO: Final = {"w": 1.0, "kw": 1000.0, "wh": 0.001, "kwh": 1.0}
"""What makes watts of a power, and kilowatt-hours of an energy."""
UNITS: Final = {
    "w": "w", "watt": "w", "watts": "w", "kw": "kw", "kilowatt": "kw", "kilowatts": "kw",
    "wh": "wh", "kwh": "kwh",
}  # fmt: skip
MONEY_WORDS: Final = frozenset({"price", "cost", "rate", "tariff", "per", "preis", "kosten", "prix", "eur", "usd"})
COUNTER_WORDS: Final = frozenset({"counter", "cumulative", "meter", "register", "zählerstand", "stand", "index"})
STEP_WORDS: Final = frozenset({"interval", "step", "delta", "usage", "used", "consumption", "verbrauch"})
LEAST_RISES: Final = 10
LEAST_FALLS: Final = 3
"""So many rises without a fall are no chance: it is a counter. So many falls are no counter's."""

_NUMBER = r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d{1,3})?"


class Quantity(Enum):
    """What a figure of the log is."""

    POWER = "power"
    ENERGY = "energy of each step"
    COUNTER = "counter of energy"


@dataclass(frozen=True, kw_only=True)
class LogSettings:
    """What the owner says of a log where the file does not."""

    column: str | None = None
    unit: str | None = None
    quantity: Quantity | None = None
    day_first: bool | None = None
    longest_step: float = np.nan


@dataclass(frozen=True, kw_only=True)
class MeterLog:
    """A log as read, and how it was understood, so that a person can look whether that is right.

    `day_first` is None where the file leaves no doubt or the answer does not depend on it.
    """

    log: PowerLog
    rows: int
    missing_rows: int
    value_column: str
    unit: str
    quantity: Quantity
    day_first: bool | None
    clock_changes: int


def read_meter_log(source: Path | bytes, settings: LogSettings | None = None) -> MeterLog:
    """Read a plug-in meter's log, a file or what is in it.

    Raises `ReadError`: with the row and the column, for a file that cannot be read or that could be read in two ways;
    `OneOf`: what it leaves open, its column or its unit, with what may be answered.
    """
    settings = settings or LogSettings()
    name = short(source.name if isinstance(source, Path) else "log")
    table = table_of(text_of(source, name), name)
    at, of_day = time_columns(table)
    value = _value_column(table, {at, of_day}, settings)
    seconds, day_first, zoned = times_of(table, at, of_day, settings.day_first)
    if seconds[-1] < seconds[0]:
        table = LogTable(name, table.separator, table.headers, table.cells.iloc[::-1], table.lines[::-1])
        seconds = seconds[::-1]
    seconds, changes = (seconds, 0) if zoned else even_clock(seconds)
    refuse_standing(table, seconds, at)
    figures = _figures(table, value)
    unit = _unit_of(table, value) if settings.unit is None else UNITS.get(settings.unit.casefold())
    if unit is None:
        template = "column {column!r}: W, kW, Wh or kWh? Neither the header nor the figures say"
        raise OneOf("unit", ("W", "kW", "Wh", "kWh"), template, table.headers[value])
    quantity = _quantity(table, figures, value, unit, settings)
    try:
        scaled = figures * KILO[unit]
        if quantity is Quantity.POWER:
            log = log_of_power(seconds, scaled, settings.longest_step)
        else:
            log = (log_of_energy if quantity is Quantity.ENERGY else log_of_counter)(seconds, scaled)
    except CaseError as error:
        where = Message("{where}, column {column!r}", name, table.headers[value])
        raise ReadError(where, "{where}: {message}", error.field, error.message) from error
    if (power := mean_power(log)) > MOST_WATTS:
        template = "a mean power of {power:.3g} kW is no appliance's; is it {unit}, and {quantity}?"
        table.refuse(Message(template, power / 1000, unit, quantity.value), value)
    return MeterLog(
        log=log,
        rows=len(figures),
        missing_rows=int(np.isnan(figures).sum()),
        value_column=table.headers[value],
        unit=unit,
        quantity=quantity,
        day_first=day_first,
        clock_changes=changes,
    )


# Figures


def _value_column(table: LogTable, times: set[int | None], settings: LogSettings) -> int:
    """The column with the figure: the one named, else the only one with a unit of power, else of energy."""
    others = [position for position in range(len(table.headers)) if position not in times]
    listed = ", ".join(repr(table.headers[position]) for position in others)
    if settings.column is not None:
        wanted = settings.column.casefold()
        same = [position for position in others if table.headers[position].casefold() == wanted]
        if len(same) != 1:
            where = Message("{where}, column {column!r}", table.name, settings.column)
            raise ReadError(where, "is not one of {listed}", listed)
        return same[0]
    units = {position: _unit_of(table, position) for position in others}
    for kinds in (("w", "kw"), ("wh", "kwh")):
        found = [position for position, unit in units.items() if unit in kinds]
        if len(found) == 1:
            return found[0]
        if found:
            several = tuple(table.headers[position] for position in found)
            raise OneOf("column", several, "which column is it: {several}?", ", ".join(map(repr, several)))
    if len(others) == 1:
        return others[0]
    several = tuple(table.headers[position] for position in others)
    raise OneOf("column", several, "no column says W, kW, Wh or kWh: {listed}", listed)


def _words(header: str) -> list[str]:
    return re.findall(r"[^\W\d_]+", header.casefold())


def _unit_of(table: LogTable, position: int) -> str | None:
    """Unit that the header names, or that stands behind each figure."""
    words = _words(table.headers[position])
    if MONEY_WORDS.intersection(words):
        return None
    behind = re.search(r"\d\s*([A-Za-z]+)$", table.column(position).iloc[0])
    named = [UNITS[word] for word in [*words, *([behind[1].casefold()] if behind else [])] if word in UNITS]
    return named[-1] if len(set(named)) == 1 else None


def _figures(table: LogTable, value: int) -> Floats:
    """Numbers of the column, NaN where there is none."""
    text = table.column(value)
    behind = re.search(r"\d\s*([A-Za-z]+)$", text.iloc[0])
    if behind and behind[1].casefold() in UNITS:
        text = text.str.replace(rf"(\d)\s*{behind[1]}$", r"\1", regex=True)
    none = text.str.lower().isin(MISSING)
    plain = _with_point(table, text, none, value)
    number = plain.str.fullmatch(_NUMBER) | none
    if not number.all():
        table.refuse("is not a number", value, ~number)
    figures = np.asarray(plain.where(~none, "nan").astype(float), dtype=np.float64)
    if (figures < 0).any():
        table.refuse("is below zero", value, figures < 0)
    if (figures > LARGEST_FIGURE).any():
        table.refuse("is beyond all measure", value, figures > LARGEST_FIGURE)
    return figures


def _with_point(table: LogTable, text: "Text", none: "Flags", value: int) -> "Text":
    """Write numbers with a decimal point and no thousands, as the whole column shows which mark is which."""
    marked = {mark: text.str.contains(mark, regex=False) & ~none for mark in (".", ",")}
    both = marked["."] & marked[","]
    if both.any():
        example = text[both].iloc[0]
        decimal = max(".", ",", key=example.rfind)
    elif marked["."].any() and marked[","].any():
        few = min(marked.values(), key=lambda each: int(each.sum()))
        table.refuse("point and comma both stand for the decimal", value, few)
    else:
        decimal = _only_mark(table, text, none, value, "," if marked[","].any() else ".")
    thousands = "," if decimal == "." else "."
    grouped = text.str.contains(thousands, regex=False)
    if grouped.any():
        form = rf"\d{{1,3}}(?:\{thousands}\d{{3}})+(?:\{decimal}\d*)?"
        wrong = grouped & ~text.str.fullmatch(form) & ~none
        if wrong.any():
            table.refuse("is not a number as the others are written", value, wrong)
        text = text.str.replace(thousands, "", regex=False)
    return text.str.replace(decimal, ".", regex=False) if decimal == "," else text


def _only_mark(table: LogTable, text: "Text", none: "Flags", value: int, mark: str) -> str:
    """Decimal mark of a column in which no more than one mark occurs."""
    marked = text.str.contains(mark, regex=False) & ~none
    groups = text.str.fullmatch(rf"[1-9]\d{{0,2}}(?:\{mark}\d{{3}})+")
    if not marked.any() or not groups[marked].all():
        return mark
    other = "," if mark == "." else "."
    if (text[marked].str.count(re.escape(mark)) > 1).any():
        return other
    small = text[~marked & ~none].str.fullmatch(r"\d{1,3}")
    quoted = mark == "," and table.separator == ","
    if quoted or (len(small) and small.all()):
        table.refuse(Message("{mark!r} may part thousands or decimals", mark), value, marked)
    return mark


def _quantity(table: LogTable, figures: Floats, value: int, unit: str, settings: LogSettings) -> Quantity:
    """Power, energy of each step, or a counter: as the unit says, as told, and as the figures rise and fall."""
    if unit in ("w", "kw"):
        return Quantity.POWER
    steps = np.diff(figures[~np.isnan(figures)])
    rises, falls = int((steps > 0).sum()), int((steps < 0).sum())
    words = _words(table.headers[value])
    counts, steps_named = bool(COUNTER_WORDS.intersection(words)), bool(STEP_WORDS.intersection(words))
    # Energies of a step fall about as often as they rise; a counter that someone sets back rises more often.
    set_back = falls > 0 and rises > (3 if steps_named else 1.5) * falls + 2
    if settings.quantity is Quantity.COUNTER or (settings.quantity is None and ((counts and falls) or set_back)):
        known = np.flatnonzero(~np.isnan(figures))
        fallen = np.isin(np.arange(figures.size), known[1:][np.diff(figures[known]) < 0])
        if fallen.any():
            table.refuse("the counter falls here", value, fallen)
    if settings.quantity is not None:
        return settings.quantity
    if falls >= LEAST_FALLS or (falls and steps_named):
        return Quantity.ENERGY
    if not falls and (rises >= LEAST_RISES or counts):
        return Quantity.COUNTER
    if steps_named:
        return Quantity.ENERGY
    table.refuse("a counter's readings, or the energy of each step? The figures do not tell", value)
