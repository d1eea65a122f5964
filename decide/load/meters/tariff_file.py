"""Tariffs from files: a page of TOML that says what a bill says, line by line and in the bill's order.

Its format stands in DEVELOPERS.md under 'What a case file can hold'.
"""

import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from ...energy import load_profile as profile
from ...energy import tariff as bills
from ...energy.consumption import KWH_PER_THERM, LITRES_PER_CUBIC_METRE
from ...energy.tariff import Line, Tariff
from ...energy.us_labels import LITRES_PER_GALLON
from ...errors import CaseError, Message, ReadError, bounds_in_words
from ..files.plain_file import content_of
from ..files.toml_text import toml_of

LARGEST_FILE: Final = 2_000_000  # [byte]

LARGEST: Final = 1e9
"""Of a price or an amount, of either sign, in any currency. [money]"""
LARGEST_BOUND: Final = 1e40  # of a block; some suppliers write 1e38 for none. [unit]
MOST: Final = 100  # lines of a bill, bands of a line, blocks of a band

M3_PER_GALLON: Final = LITRES_PER_GALLON / LITRES_PER_CUBIC_METRE
FILLINGS: Final = {"in proportion": bills.in_proportion, "in order of time": bills.in_order_of_time}
COUNTED_IN: Final = {"electricity": "kWh", "gas": "kWh", "water": "m3"}
UNITS: Final = {
    "electricity": {"kWh": 1.0},
    "gas": {"kWh": 1.0, "therm": KWH_PER_THERM, "ccf": KWH_PER_THERM, "Mcf": 10 * KWH_PER_THERM, "m3": 1.0},
    "water": {
        "m3": 1.0,
        "litre": 0.001,
        "gallon": M3_PER_GALLON,
        "1000 gallons": 1000 * M3_PER_GALLON,
        "100 cubic feet": 100 * profile.M3_PER_CUBIC_FOOT,
    },
}
"""Use, in kWh or m3, in one unit of a price; of gas by volume, for each therm, or by its calorific value."""
FILE_KEYS: Final = frozenset(
    {"commodity", "source", "currency", "rounding", "unit", "price", "line"}
    | {"therms_per_ccf", "calorific_value", "correction"}
)
LINE_KEYS: Final[Mapping[str, frozenset[str]]] = {
    "price": frozenset({"price", "unit"}),
    "blocks": frozenset({"blocks", "per", "unit"}),
    "band": frozenset({"band", "per", "unit", "filling"}),
    "amount": frozenset({"amount", "per"}),
    "minimum": frozenset({"minimum", "per"}),
    "share": frozenset({"share", "of"}),
}
BAND_KEYS: Final = frozenset({"name", "price", "blocks", "months", "days", "hours"})


@dataclass(frozen=True)
class _Table:
    """A table of a file, and how to complain about it."""

    where: str
    cells: Mapping[str, Any]

    def broken(self, key: str, message: str, *facts: object) -> ReadError:
        return ReadError(self.where, "{key} {message}", key, Message(message, *facts))

    def known(self, keys: frozenset[str]) -> None:
        for key in self.cells:
            if key not in keys:
                raise self.broken(key, "is not known here; known are {known}", ", ".join(sorted(keys)))

    def number(self, key: str, default: float | None = None, least: float = -LARGEST, most: float = LARGEST) -> float:
        value = self.cells.get(key, default)
        if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
            raise self.broken(key, "must be a number, got {got!r}", value)
        if not least <= value <= most:
            bounds = bounds_in_words(least, math.inf) if value < least else bounds_in_words(-math.inf, most)
            raise self.broken(key, "must be {bounds}, got {got:g}", bounds, value)
        return float(value)

    def text(self, key: str, default: str | None = None) -> str:
        value = self.cells.get(key, default)
        if not isinstance(value, str) or (default is None and not value.strip()):
            raise self.broken(key, "must be given as text, got {got!r}", value)
        return value

    def choice(self, key: str, allowed: Mapping[str, Any], default: str) -> Any:
        value = self.cells.get(key, default)
        if not isinstance(value, str) or value not in allowed:
            raise self.broken(key, "must be one of {known}, got {got!r}", ", ".join(allowed), value)
        return allowed[value]

    def tables(self, key: str, name: str) -> list["_Table"]:
        value = self.cells.get(key, [])
        if not isinstance(value, list) or not all(isinstance(cells, dict) for cells in value):
            raise self.broken(key, "must be a list of tables")
        if len(value) > MOST:
            raise self.broken(key, "must be {most} tables at most, got {got:,}", MOST, len(value))
        places = (Message(f"{{where}}, {name} {{n}}", self.where, n) for n in range(1, len(value) + 1))
        return [_Table(where, cells) for where, cells in zip(places, value, strict=True)]


def read_tariff(path: Path) -> Tariff:
    """Read a tariff file."""
    too_large = Message("is larger than {most:,} bytes; a tariff is a page of text", LARGEST_FILE)
    return parse_tariff(content_of(path, LARGEST_FILE, too_large), path.name)


def parse_tariff(content: bytes, name: str = "tariff") -> Tariff:
    """Read a tariff from the bytes of a file."""
    return tariff_of(toml_of(content, name), name)


def tariff_of(cells: Mapping[str, Any], name: str) -> Tariff:
    """Make a tariff of the tables of a page; `ReadError` names the place in it that cannot be."""
    file = _Table(name, cells)
    file.known(FILE_KEYS)
    if ("price" in cells) == ("line" in cells):
        raise ReadError(name, "must have a price, or lines, and not both")
    lines = file.tables("line", "line") or [_Table(name, {"name": "energy", "price": cells.get("price")})]
    return _built(
        name,
        lambda: Tariff(
            unit=file.choice("commodity", COUNTED_IN, "electricity"),
            lines=tuple(_line(line, file) for line in lines),
            rounding=file.number("rounding", least=1e-6) if "rounding" in cells else 0.0,
            currency=file.text("currency", ""),
            source=file.text("source", name),
        ),
    )


def _line(line: _Table, file: _Table) -> Line:
    kinds = [kind for kind in LINE_KEYS if kind in line.cells]
    if len(kinds) != 1:
        got = ", ".join(kinds) or Message("none")
        raise ReadError(line.where, "must have one of {known}, got {got}", ", ".join(LINE_KEYS), got)
    kind = kinds[0]
    line.known(LINE_KEYS[kind] | {"name"})
    name = line.text("name")
    line = _Table(f"{line.where} ({name})", line.cells)
    if kind == "share":
        of = line.cells.get("of", [])
        if not isinstance(of, list) or not all(isinstance(other, str) for other in of):
            raise line.broken("of", "must be a list of names of lines, got {got!r}", of)
        return _built(line.where, lambda: bills.FractionLine(name=name, share=line.number("share"), of=tuple(of)))
    per = line.choice("per", profile.PERS, "month")
    if kind == "amount":
        return bills.Fixed(name=name, amount=line.number("amount"), per=per)
    if kind == "minimum":
        return bills.Minimum(name=name, amount=line.number("minimum", least=0), per=per)
    bands = line.tables("band", "band") if kind == "band" else [line]
    return _built(
        line.where,
        lambda: bills.Usage(
            name=name,
            bands=tuple(_blocks(band) for band in bands),
            schedule=_schedule(bands, line.where) if kind == "band" else profile.ALWAYS,
            per=per,
            allocation=line.choice("filling", FILLINGS, "in proportion"),
            units=1 / _use_per_unit(line, file),
        ),
    )


def _blocks(table: _Table) -> tuple[bills.Block, ...]:
    if ("price" in table.cells) == ("blocks" in table.cells):
        raise ReadError(table.where, "must have a price or blocks, and not both")
    if "price" in table.cells:
        return (bills.Block(table.number("price")),)
    blocks = table.tables("blocks", "block")
    for block in blocks:
        block.known(frozenset({"price", "upto"}))
    bounds = [block.number("upto", 0.0, 0.0, LARGEST_BOUND) if "upto" in block.cells else math.inf for block in blocks]
    return tuple(bills.Block(block.number("price"), upto) for block, upto in zip(blocks, bounds, strict=True))


def _schedule(bands: list[_Table], where: str) -> profile.Schedule:
    """Give each hour of each month to the first band that claims it."""
    for band in bands:
        band.known(BAND_KEYS)
    days_of = {day: day for day in ("all", "weekday", "weekend")}
    claims = [
        (_span(band, "months", 1, 12, 1), band.choice("days", days_of, "all"), _span(band, "hours", 0, 24, 0))
        for band in bands
    ]

    def band_of(month: int, day: str, hour: int) -> int:
        for number, (months, days, hours) in enumerate(claims):
            if month in months and hour in hours and days in ("all", day):
                return number
        unclaimed = "no band claims {hour}:00 of a {day} in month {month}; let the last claim the rest"
        raise ReadError(where, unclaimed, hour, day, month)

    weekday, weekend = (
        tuple(tuple(band_of(month, day, hour) for hour in range(24)) for month in range(1, 13))
        for day in ("weekday", "weekend")
    )
    return profile.Schedule(weekday, weekend)


def _span(band: _Table, key: str, first: int, last: int, beyond: int) -> set[int]:
    """Numbers that a claim names. `beyond` 1 includes the end of a span, as of months; 0 does not, as of hours."""
    text = band.text(key, f"{first}-{last}")
    found: set[int] = set()
    for part in text.split(","):
        ends = [end.strip() for end in part.split("-")]
        start, end = (int(end) if re.fullmatch(r"\d{1,2}", end, re.ASCII) else -1 for end in (ends[0], ends[-1]))
        end += (beyond or len(ends) == 1) if end >= 0 else 0
        top = last + beyond
        if len(ends) > 2 or not (first <= start < top and first < end <= top and start != end):
            wanted = 'must be spans such as "{first}-{last}" within {first} to {last}, got {got!r}'
            raise band.broken(key, wanted, first, last, text)
        found |= set(range(start, end)) if start < end else {*range(start, top), *range(first, end)}
    return found


def _use_per_unit(line: _Table, file: _Table) -> float:
    """How much use, in kWh or m3, one unit of a price is for."""
    commodity = file.text("commodity", "electricity")
    units = UNITS[commodity]
    unit = line.choice("unit", {name: name for name in units}, file.text("unit", COUNTED_IN[commodity]))
    if unit in ("ccf", "Mcf"):
        return units[unit] * file.number("therms_per_ccf", least=0.1)
    if (commodity, unit) == ("gas", "m3"):
        heat = file.number("calorific_value", least=1)
        return float(profile.gas_energy(1.0, heat, file.number("correction", 1.0, 0.1)))
    return units[unit]


def _built(where: str, build: Callable[[], Any]) -> Any:
    """Build a dataclass of the core; an error from it is raised with the place in the file."""
    try:
        return build()
    except CaseError as error:
        raise ReadError(where, error.sentence) from error
