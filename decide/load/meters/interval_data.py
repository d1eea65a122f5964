"""A household's metered use: a table of its meter's own, or Atom XML of NAESB's energy usage schema (ESPI, REQ.21).

Entries of the feed are tied by equal `href`s, which mean nothing else: usage point > meter reading > one reading type
and many interval blocks. A quantity is `value` x 10^`powerOfTenMultiplier` in `uom`; times are seconds of UTC, and the
local clock is given by an offset and two rules for daylight saving. Costs are passed over: the tariff gives them.

Files in the wild break their schema (empty elements, prefixes or none, fractional times, readings in any order, types
without content), so what can be understood is read, and what was left out or mended is said in `remarks`. The parser
is the standard library's behind defusedxml: no document type, no entities, nothing fetched. A ready-made package
(greenbutton-objects 2024.7.11) was tried and left: it stops with a TypeError at the empty elements of real gas files.
"""

import calendar
import math
from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Final
from xml.etree.ElementTree import Element, ParseError

import numpy as np
from defusedxml.common import DefusedXmlException
from defusedxml.ElementTree import fromstring

from ...arrays import Floats
from ...energy.consumption import KWH_PER_THERM
from ...energy.load_profile import M3_PER_CUBIC_FOOT, MONTH_DAYS
from ...energy.power_log import JOULES_PER_KWH
from ...errors import CaseError, Message, OneOf, ReadError
from ..files.plain_file import content_of
from .meter_log import LogSettings, read_meter_log
from .tariff_file import M3_PER_GALLON

LARGEST_FILE: Final = 40_000_000  # a year of quarter hours is about 10 MB. [byte]
TOO_LARGE: Final = Message("is larger than {most:,} bytes; ask the supplier for one year", LARGEST_FILE)

MOST_MARKS: Final = 1_000_000
"""Elements of a file, and attributes; a year of quarter hours has 250,000 elements."""

TABLES: Final = (".csv", ".txt", ".tsv")
DAY: Final = 86_400
HOUR: Final = 3_600
LONGEST: Final = 400 * DAY
LARGEST: Final = 1e30
"""Of any number of a file, of either sign, so that sums stay below all that a number can hold. [-]"""
MOST_METERS: Final = 100  # of a household; each block of readings is held against every one
LATEST: Final = 4_102_444_800  # the year 2100

# Codes of the schema (usage.xsd): uom -> unit we keep and its size in that unit.
UNITS: Final[Mapping[int, tuple[str, float]]] = {
    72: ("kWh", 1e-3),  # watt-hour
    169: ("kWh", KWH_PER_THERM),
    132: ("kWh", KWH_PER_THERM / 100_000),  # Btu
    31: ("kWh", 1 / 3.6e6),  # joule
    42: ("m3", 1.0),
    119: ("m3", M3_PER_CUBIC_FOOT),
    134: ("m3", 1e-3),  # litre
    128: ("m3", M3_PER_GALLON),
}
UNIT_NAMES: Final = {"Wh": 72, "therm": 169, "Btu": 132, "J": 31, "m3": 42, "ft3": 119, "litre": 134, "gallon": 128}
COMMODITIES: Final[Mapping[int | None, str]] = {1: "electricity", 2: "electricity", 7: "gas", 9: "water"}
SERVICES: Final[Mapping[int | None, str]] = {0: "electricity", 1: "gas", 2: "water"}
DRAWN: Final = {1: "delivered", 4: "net"}
DELTA: Final = 4
ESTIMATED: Final = (7, 8, 9)
"""Quality codes of readings that no meter took: entered by hand, copied from a like day, interpolated."""


@dataclass(frozen=True)
class DaylightRule:
    """When daylight saving begins or ends each year, decoded from the schema's bit map."""

    month: int
    operator: int
    weekday: int
    day: int
    hour: int
    second: int

    @classmethod
    def decoded(cls, code: str) -> "DaylightRule | None":
        """Decode eight hexadecimal digits; none where they switch daylight saving off."""
        bits = int(code, 16)
        if bits == 0xFFFFFFFF or not 1 <= bits >> 28 <= 12:
            return None
        return cls(bits >> 28, bits >> 25 & 7, bits >> 17 & 7, bits >> 20 & 31, bits >> 12 & 31, bits & 0xFFF)

    def moment(self, year: int) -> int:
        """Seconds of the wall clock since 1970 at which the rule strikes in a year.

        The operator: 0 the day of the month; 1 the weekday on or after it; 2 to 6 the first to fifth such weekday;
        7 the last.
        """
        last = calendar.monthrange(year, self.month)[1]
        alike = [
            day
            for day in range(1, last + 1)
            if self.operator == 0 or calendar.weekday(year, self.month, day) == (self.weekday or 7) - 1
        ]
        if self.operator <= 1:
            day = next((day for day in alike if day >= self.day), alike[-1])
        else:
            day = alike[min(self.operator - 2, len(alike) - 1)]  # a fifth may not exist, a sixth never does: the last
        midnight = calendar.timegm((year, self.month, day, 0, 0, 0))
        return midnight + self.hour * HOUR + self.second


@dataclass(frozen=True)
class Clock:
    """The local clock: seconds ahead of UTC, and how daylight saving shifts it."""

    offset: int = 0
    saving: int = 0
    begins: DaylightRule | None = None
    ends: DaylightRule | None = None

    def ahead(self, utc: Floats) -> Floats:
        """Seconds that the local clock is ahead of UTC at each moment. [s]"""
        utc = np.asarray(utc, dtype=np.float64)
        ahead = np.full(utc.shape, float(self.offset))
        if self.begins is None or self.ends is None:
            return ahead
        years = (utc + self.offset).astype("datetime64[s]").astype("datetime64[Y]").astype(int) + 1970
        for year in np.unique(years):
            begins = self.begins.moment(int(year)) - self.offset
            ends = self.ends.moment(int(year)) - self.offset - self.saving
            within = (utc >= begins) & (utc < ends) if begins < ends else (utc >= begins) | (utc < ends)
            ahead[(years == year) & within] += self.saving
        return ahead


@dataclass(frozen=True, kw_only=True)
class Intervals:
    """What one meter drew, interval by interval, in order of time."""

    commodity: str
    unit: str
    """kWh or m3."""
    direction: str
    start: Floats
    """Beginning of each interval, since 1970 in UTC. [s]"""
    duration: Floats
    value: Floats
    clock: Clock


@dataclass(frozen=True)
class IntervalFile:
    """The meters of a file, and what was left out or mended in reading it."""

    meters: tuple[Intervals, ...]
    remarks: tuple[str, ...]


@dataclass(frozen=True)
class MonthlyUse:
    """Use of each month of a usual year, and how many days of it were metered; NaN where none was."""

    use: Floats
    days: Floats


def read_intervals(path: Path, unit: str | None = None, column: str | None = None) -> IntervalFile:
    """Read a Green Button file, or a table of times and energies; `unit` and `column` say what it leaves open.

    A table (csv or text) is electricity, in local time.
    """
    if path.suffix.lower() in TABLES:
        return IntervalFile((_of_table(path, LogSettings(column=column, unit=unit)),), ())
    return parse_intervals(content_of(path, LARGEST_FILE, TOO_LARGE), path.name, unit)


def parse_intervals(content: bytes, name: str = "interval data", unit: str | None = None) -> IntervalFile:
    """Read a Green Button file from its bytes; `ReadError` where no use can be understood."""
    if len(content) > LARGEST_FILE:
        raise ReadError(name, TOO_LARGE)
    if unit is not None and unit not in UNIT_NAMES:
        raise ReadError(name, "unit must be one of {known}, got {got!r}", ", ".join(UNIT_NAMES), unit)
    if max(content.count(b"<") - content.count(b"</"), content.count(b"=")) > MOST_MARKS:
        raise ReadError(name, "has more than {most:,} elements; ask the supplier for one year", MOST_MARKS)
    try:
        root = fromstring(content, forbid_dtd=True)
    except DefusedXmlException as error:
        raise ReadError(name, "declares a document type or entities, which no meter data needs; refused") from error
    except (ParseError, ValueError, LookupError) as error:
        raise ReadError(name, "is no XML file: {error}", error) from error
    return _Feed(name, root, unit).read()


def _of_table(path: Path, settings: LogSettings) -> Intervals:
    """A meter's own table; `OneOf` names the entry that settles what it leaves open."""
    try:
        log = read_meter_log(path, settings=settings).log
    except OneOf as error:
        raise error.at(f"interval_{error.field}") from error
    return Intervals(
        commodity="electricity",
        unit="kWh",
        direction="delivered",
        start=log.begin,
        duration=log.seconds,
        value=log.watts * log.seconds / JOULES_PER_KWH,
        clock=Clock(),  # that of the place
    )


def monthly_use(intervals: Intervals) -> MonthlyUse:
    """Base use of a household by month, for its bills.

    An interval over a month's end is split by time. A month metered in part, or in several years, counts at its mean
    rate: use / metered time x days of the month.

    Raises `CaseError`: intervals overlap, so that their months are not known. Shapes (12). [kWh or m3, day]
    """
    _in_order(intervals)
    ends = intervals.start + intervals.duration
    local = np.array([intervals.start[0], ends[-1]]) + intervals.clock.ahead(np.array([intervals.start[0], ends[-1]]))
    first, last = local.astype("datetime64[s]").astype("datetime64[M]").astype(int)
    months = np.arange(first, last + 2)
    edges = months.astype("datetime64[M]").astype("datetime64[s]").astype(np.float64)
    edges -= intervals.clock.ahead(edges - intervals.clock.offset)
    moments = np.stack([intervals.start, ends], axis=-1).ravel()

    def between_edges(amounts: Floats) -> Floats:
        so_far = np.cumsum(amounts)
        running = np.stack([so_far - amounts, so_far], axis=-1).ravel()
        sums = np.bincount(months[:-1] % 12, np.diff(np.interp(edges, moments, running)), minlength=12)
        return sums.astype(np.float64)

    seconds = between_edges(intervals.duration)
    rate = np.divide(between_edges(intervals.value), seconds, out=np.full(12, np.nan), where=seconds > 0)
    return MonthlyUse(rate * DAY * np.array(MONTH_DAYS), seconds / DAY)


def daily_profile(intervals: Intervals) -> Floats:
    """Mean use by month and hour of the local day, which tells time bands apart.

    Raises `CaseError`: intervals longer than an hour, or overlapping.

    Shape (12, 24), NaN where nothing was metered; of intervals of an hour or finer. [kWh/hour or m3/hour]
    """
    _in_order(intervals)
    if (intervals.duration > HOUR).any():
        longest = float(intervals.duration.max()) / HOUR
        raise CaseError("intervals", "must last an hour at most to tell hours apart, got {longest:g} hour", longest)
    local = (intervals.start + intervals.clock.ahead(intervals.start)).astype("datetime64[s]")
    month = local.astype("datetime64[M]").astype(int) % 12
    cell = month * 24 + local.astype("datetime64[h]").astype(int) % 24
    hours = np.bincount(cell, intervals.duration / HOUR, minlength=288)
    sums = np.bincount(cell, intervals.value, minlength=288)
    return np.divide(sums, hours, out=np.full(288, np.nan), where=hours > 0).reshape(12, 24)


def as_energy(intervals: Intervals, kwh_per_m3: float) -> Intervals:
    """Gas by volume as energy, by the heat of a cubic metre, `gas_energy(1, calorific_value)`. [kWh]"""
    if intervals.unit != "m3":
        raise CaseError("intervals", "must be in m3, got {got}", intervals.unit)
    return replace(intervals, unit="kWh", value=intervals.value * kwh_per_m3)


def _in_order(intervals: Intervals) -> None:
    if (intervals.start[1:] < (intervals.start + intervals.duration)[:-1] - 1).any():
        raise CaseError("intervals", "lie over one another, so that only their sum is known, not their months or hours")


@dataclass(frozen=True)
class _Entry:
    """One thing of a feed: its element and the links that it is tied by."""

    element: Element
    own: frozenset[str]
    up: frozenset[str]
    related: frozenset[str]


class _Feed:
    """A feed being read: its entries by kind, and the remarks so far."""

    def __init__(self, name: str, root: Element, unit: str | None) -> None:
        self.name, self.unit = name, unit
        self.remarks: list[Message] = []
        self.entries: defaultdict[str, list[_Entry]] = defaultdict(list)
        feeds = [root, *root.iterfind(".//{*}feed")]
        for entry in (root, *(entry for feed in feeds if _local(feed) == "feed" for entry in _own(feed, "entry"))):
            links = {
                rel: frozenset(link.get("href", "") for link in _own(entry, "link") if link.get("rel") == rel)
                for rel in ("self", "up", "related")
            }
            for element in (element for content in _own(entry, "content") for element in content):
                self.entries[_local(element)].append(_Entry(element, *links.values()))

    def read(self) -> IntervalFile:
        for kind in ("MeterReading", "UsagePoint", "ReadingType", "LocalTimeParameters"):
            if len(self.entries[kind]) > MOST_METERS:
                raise ReadError(self.name, "has more than {most} entries of {kind}", MOST_METERS, kind)
        blocks: defaultdict[int, list[Element]] = defaultdict(list)
        meters = self.entries["MeterReading"] or [_Entry(Element("none"), *[frozenset[str]()] * 3)]
        for block in self.entries["IntervalBlock"]:
            if owner := self._owner(block, meters):
                blocks[meters.index(owner)].append(block.element)
            else:
                self._note("An interval block that belongs to no meter was left out.")
        read = [self._meter(meters[index], elements) for index, elements in blocks.items()]
        found = tuple(meter for meter in read if meter is not None)
        if not found:
            none = Message("holds no use that can be read.")
            for remark in dict.fromkeys(self.remarks):
                none = Message("{message} {remark}", none, remark)
            raise ReadError(self.name, none)
        return IntervalFile(found, tuple(dict.fromkeys(self.remarks)))

    def _note(self, remark: str, *facts: object) -> None:
        self.remarks.append(Message(remark, *facts))

    def _owner(self, entry: _Entry, owners: list[_Entry]) -> _Entry | None:
        """The entry that this one hangs on; where there is but one, links that do not match are borne."""
        tied = [owner for owner in owners if owner.related & (entry.up | entry.own) or owner.own & entry.up]
        return tied[0] if tied else owners[0] if len(owners) == 1 else None

    def _related(self, entry: _Entry | None, kind: str) -> Element | None:
        candidates = self.entries[kind]
        tied = [other for other in candidates if entry is not None and entry.related & other.own]
        chosen = tied or (candidates if len(candidates) == 1 else [])
        return chosen[0].element if chosen else None

    def _meter(self, meter: _Entry, blocks: list[Element]) -> Intervals | None:
        """One meter's readings, or none where they are no use that was drawn."""
        form = self._related(meter, "ReadingType")
        uom = self._code(form, "uom") or (UNIT_NAMES[self.unit] if self.unit else None)
        if uom is None:
            template = "is needed, one of {names}: {name} does not say what its readings are in"
            raise OneOf("interval_unit", tuple(UNIT_NAMES), template, ", ".join(UNIT_NAMES), self.name)
        direction, behaviour = self._code(form, "flowDirection") or 1, self._code(form, "accumulationBehaviour")
        for refused, why, code in (
            (uom not in UNITS, "their unit (code {code}) is no energy or volume", uom),
            (direction not in DRAWN, "they were not drawn from the grid (flow direction {code})", direction),
            (behaviour not in (None, 0, DELTA), "they are a register, no intervals (behaviour {code})", behaviour),
        ):
            if refused:
                self._note("Readings were left out: {why}.", Message(why, code))
                return None
        unit, size = UNITS[uom]
        rows = self._rows(form, blocks)
        if not rows:
            self._note("A meter without readings was left out.")
            return None
        start, duration, value, zone = map(np.array, zip(*rows, strict=True))
        power = self._code(form, "powerOfTenMultiplier") or 0
        if not -12 <= power <= 12:
            raise ReadError(self.name, "powerOfTenMultiplier must be from -12 to 12, got {got}", power)
        point = self._owner(meter, self.entries["UsagePoint"])
        return Intervals(
            commodity=self._commodity(form, point, uom),
            unit=unit,
            direction=DRAWN[direction],
            start=start,
            duration=duration,
            value=value * 10.0**power * size,
            clock=self._clock(point, zone),
        )

    def _commodity(self, form: Element | None, point: _Entry | None, uom: int) -> str:
        service = self._code(_first(point.element if point else None, "ServiceCategory"), "kind")
        metered = COMMODITIES.get(self._code(form, "commodity")) or SERVICES.get(service)
        if metered is None:
            metered = {72: "electricity", 169: "gas", 132: "gas"}.get(uom, "")
            self._note("The file does not say what was metered; by its unit, {fuel}.", Message(metered or "unknown"))
        return metered

    def _rows(self, form: Element | None, blocks: list[Element]) -> list[tuple[float, ...]]:
        """Readings in order of time, each once: start, duration, value, offset of its own clock."""
        usual = self._number(form, "intervalLength")
        readings = [reading for block in blocks for reading in _own(block, "IntervalReading")]
        rows: dict[tuple[float, ...], bool] = {}
        counted = 0
        for number, reading in enumerate(readings, start=1):
            period, value = _first(reading, "timePeriod"), self._number(reading, "value", number)
            start = self._number(period, "start", number)
            duration = self._number(period, "duration", number) or usual
            if value is None:
                self._note("Readings without a value were left out.")
                continue
            if start is None or not 0 <= start <= LATEST or not duration or not 1 <= duration <= LONGEST:
                template = "reading {n} must begin after 1970 and last up to 400 days, got {start} and {duration}"
                raise ReadError(self.name, template, number, start, duration)
            counted += 1
            read = self._number(reading, "quality", number) not in ESTIMATED
            row = (start, duration, value, _zone(period))
            rows[row] = rows.get(row, False) or read
        if len(rows) < counted:
            self._note("Readings that are in the file twice were counted once.")
        if unread := len(rows) - sum(rows.values()):
            self._note("Readings that were estimated or entered by hand: {n} of {all}.", unread, len(rows))
        return sorted(rows)

    def _clock(self, point: _Entry | None, zones: Floats) -> Clock:
        local = self._related(point, "LocalTimeParameters")
        if local is None:
            known = np.unique(zones[np.isfinite(zones)])
            if known.size == 1:
                return Clock(int(known[0]))
            self._note("The file does not say what the local time is; hours and months are those of UTC.")
            return Clock()
        shifts = {key: self._number(local, key) or 0.0 for key in ("tzOffset", "dstOffset")}
        for key, seconds in shifts.items():
            if abs(seconds) > DAY:
                raise ReadError(self.name, "{key} must be a day at most, in seconds, got {got:g}", key, seconds)
        offset, saving = map(int, shifts.values())
        begins, ends = (self._rule(local, key) for key in ("dstStartRule", "dstEndRule"))
        american = begins is not None and (begins.month, begins.operator) == (3, 3)
        if american and offset > 0:
            self._note("The clock was said to be ahead of UTC under American daylight saving; read as behind.")
            offset = -offset
        return Clock(offset, saving, begins, ends)

    def _rule(self, local: Element, key: str) -> DaylightRule | None:
        code = (_text(local, key) or "FFFFFFFF").strip()
        try:
            return DaylightRule.decoded(code)
        except ValueError:
            raise ReadError(self.name, "{key} must be hexadecimal digits, got {got!r}", key, code) from None

    def _code(self, element: Element | None, key: str) -> int | None:
        number = self._number(element, key)
        return None if number is None else int(number)

    def _number(self, element: Element | None, key: str, reading: int = 0) -> float | None:
        text = None if element is None else _text(element, key)
        if text is None or not text.strip():
            return None
        try:
            number = float(text)
        except ValueError:
            number = math.nan
        if not abs(number) <= LARGEST:
            where = Message("reading {n}, {key}", reading, key) if reading else key
            raise ReadError(self.name, "{where} must be a number, got {got!r}", where, text.strip()[:60])
        return number


def _local(element: Element) -> str:
    return element.tag.rpartition("}")[2] if isinstance(element.tag, str) else ""


def _own(element: Element, name: str) -> Iterator[Element]:
    """Children of a name, in any namespace; what is put in itself ten thousand deep would be gone through again."""
    return (found for found in element if _local(found) == name)


def _first(element: Element | None, name: str) -> Element | None:
    return None if element is None else element.find(f".//{{*}}{name}")


def _text(element: Element, name: str) -> str | None:
    return element.findtext(f".//{{*}}{name}")


def _zone(period: Element | None) -> float:
    """Offset that some suppliers add to each reading, as -0500. [s]"""
    text = (None if period is None else _text(period, "timezone")) or ""
    try:
        shift = datetime.strptime(text.strip(), "%z").utcoffset()
    except ValueError:
        return math.nan
    return math.nan if shift is None else shift.total_seconds()
