"""The file of a meter's log as a table of text, and the time of each of its rows.

Any usual separator and encoding; ISO, day-first, month-first or epoch times, in one column or two. An error names
the row and the column.
"""

import csv
import io
import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, NoReturn, TypeAlias

import numpy as np
from numpy.typing import NDArray

from ...arrays import Floats
from ...energy.power_log import DAY, HOUR
from ...errors import Message, ReadError
from ..files.plain_file import content_of
from ..tables.dates import BEFORE_A_TIME, TIME_OF_DAY, readings

if TYPE_CHECKING:
    import pandas as pd

    Text: TypeAlias = pd.Series[str]
    Flags: TypeAlias = pd.Series[bool]

LARGEST: Final = 300_000_000  # bytes; ten years of readings every five seconds come to less
MOST_FIELDS: Final = 400  # of a row
FEW_CELLS: Final = 1_000_000
"""A table of so many does no harm, even if most of them are blank."""
SEPARATORS: Final = (";", "\t", "|", ",")
"""In the order of trust: a comma may be a decimal mark, and the others hardly are."""
CLOCK_CHANGE_MONTHS: Final = (3, 4, 9, 10, 11)
"""Common practice: clocks change in a Sunday's first hours, in these months, in both hemispheres."""
EPOCHS: Final = (1.0, 1e-3, 1e-6, 1e-9)  # seconds, or thousandths of them, and so on, since the epoch
EARLIEST, LATEST = 631_152_000.0, 4_102_444_800.0
"""The years 1990 to 2099, in seconds of the epoch; a log from elsewhere is a time misread."""


_CLOCK = r"(\d{1,2}):(\d{2})(?::(\d{2}(?:[.,]\d{1,9})?))?(?: ?([AaPp])[Mm])?(?: ?(Z|[+-]\d{2}:?\d{2}))?"
_DAY = r"\d{4}[-/.]\d{1,2}[-/.]\d{1,2}|\d{1,2}[-/. ](?:\d{1,2}|[A-Za-z]{3,9})[-/. ,]{1,2}(?:\d{4}|\d{2})"
_EPOCH = r"\d{9,10}(?:\.\d+)?|\d{13}|\d{16}|\d{19}"
_STAMP = re.compile(rf"(?:{_DAY})(?:{BEFORE_A_TIME}{_CLOCK})?|{_EPOCH}", re.ASCII)


@dataclass(frozen=True)
class LogTable:
    """The cells of a file as text; knows where each one stands."""

    name: str
    separator: str
    headers: tuple[str, ...]
    cells: "pd.DataFrame"
    lines: NDArray[np.int64]

    def column(self, position: int) -> "Text":
        """Cells of a column, trimmed."""
        return self.cells.iloc[:, position].str.strip()

    def refuse(
        self, message: str | Message, position: int | None = None, wrong: "Flags | NDArray[Any] | None" = None
    ) -> NoReturn:
        """Refuse the file, at the first row that is wrong."""
        where = self.name
        if wrong is not None:
            row = int(np.flatnonzero(np.asarray(wrong, dtype=np.bool_))[0])
            where = Message("{where}, row {row}", where, self.lines[row])
            if position is not None:
                message = message if isinstance(message, Message) else Message(message)
                message = Message("{message}, got {got!r}", message, short(str(self.cells.iloc[row, position])))
        if position is not None:
            where = Message("{where}, column {column!r}", where, self.headers[position])
        raise ReadError(where, message)


# The file and its cells


def short(text: str) -> str:
    """Cut a text from outside to what a message has room for."""
    return text if len(text) <= 60 else f"{text[:57]}..."


def text_of(source: Path | bytes, name: str) -> str:
    """Read the text of a file, or of what is in it, with one kind of line end."""
    too_large = Message("is larger than {most} MB", LARGEST // 1_000_000)
    raw = content_of(source, LARGEST, too_large) if isinstance(source, Path) else source
    if raw[:2] in (b"\xff\xfe", b"\xfe\xff"):
        encodings: tuple[str, ...] = ("utf-16",)
    elif b"\0" in raw:
        raise ReadError(name, "is not a text file")
    else:
        encodings = ("utf-8-sig", "cp1252")
    for encoding in encodings:
        try:
            return raw.decode(encoding).replace("\r\n", "\n").replace("\r", "\n")
        except UnicodeDecodeError:
            continue
    raise ReadError(name, "is neither UTF-8 nor Windows-1252 text")


def table_of(text: str, name: str) -> LogTable:
    """Find separator, header and first row of data, and cut the rest into cells."""
    import pandas as pd

    head = text[:100_000].split("\n")[:200]
    separator, first, fields = _first_row(head, name)
    place = Message("{where}, row {row}", name, first + 1)
    if fields > MOST_FIELDS:
        raise ReadError(place, "has {n:,} fields; the most is {most}", fields, MOST_FIELDS)
    if (text.count("\n") + 1) * fields > max(len(text), FEW_CELLS):
        raise ReadError(place, "has {n} fields, and most other rows have fewer", fields)
    above = [line for line in head[:first] if line.strip()]
    headers = next(csv.reader([above[-1]], delimiter=separator)) if above else []
    named = len(headers)
    headers = [" ".join(header.split()) for header in headers]
    headers += [f"column {count + 1}" for count in range(len(headers), fields)]
    try:
        cells = pd.read_csv(
            io.StringIO(text), sep=separator, header=None, skiprows=first, dtype=str, na_filter=False,
            skip_blank_lines=False,
        )  # fmt: skip
    except pd.errors.ParserError as error:
        found = re.search(r"Expected (\d+) fields in line (\d+), saw (\d+)", str(error))
        where = Message("{where}, row {row}", name, found[2]) if found else name
        more = "has {fields} fields, and the rows above {above}"
        what = Message(more, found[3], found[1]) if found else "a quoted text has no end"
        raise ReadError(where, what) from error
    # One field more than headers is no harm if it is the empty end of every row.
    spare = cells.iloc[:, -1].str.strip().eq("").all()
    if named and named != fields and not (named == fields - 1 and spare):
        message = "has {fields} fields, and the header above it {named}; is the separator a decimal comma too?"
        raise ReadError(place, message, fields, named)
    lines = np.arange(first + 1, first + 1 + len(cells))
    filled = (cells != "").any(axis=1).to_numpy()
    return LogTable(name, separator, tuple(headers), cells[filled], lines[filled])


def _first_row(head: list[str], name: str) -> tuple[str, int, int]:
    """Separator, position and number of fields of the first row that has a time in it."""
    if not any(line.strip() for line in head):
        raise ReadError(name, "is empty")
    for separator in SEPARATORS:
        for position, fields in enumerate(csv.reader(head, delimiter=separator)):
            if len(fields) > 1 and any(_STAMP.fullmatch(field.strip()) for field in fields):
                return separator, position, len(fields)
    none = "no row has a time and a figure, set apart by a comma, semicolon or tab"
    raise ReadError(Message("{where}, row 1", name), none)


# Times


def time_columns(table: LogTable) -> tuple[int, int | None]:
    """Where the date or the whole time stands, and where the time of day does if apart."""
    row = [str(cell).strip() for cell in table.cells.iloc[0]]
    at = next(position for position, cell in enumerate(row) if _STAMP.fullmatch(cell))
    of_day = [position for position, cell in enumerate(row) if re.fullmatch(_CLOCK, cell)]
    return at, (of_day[0] if of_day and ":" not in row[at] and not re.fullmatch(_EPOCH, row[at]) else None)


def times_of(
    table: LogTable, at: int, of_day: int | None, day_comes_first: bool | None
) -> tuple[Floats, bool | None, bool]:
    """Seconds of each row, whether the day came first if that was the question, and whether in a known zone."""
    stamps = table.column(at)
    if re.fullmatch(_EPOCH, stamps.iloc[0]):
        return _epochs(table, stamps, at), None, True
    if of_day is None:
        dates = stamps.str.replace(TIME_OF_DAY, "", regex=True)
        # What has no date before its clock keeps it, and is refused as a date.
        clocks = stamps.str.replace(r"^[^:]*?(\d{1,2}:)", r"\1", regex=True).where(dates != stamps, "")
    else:
        dates, clocks = stamps, table.column(of_day)
    of_day_seconds, zone = _each(clocks, _clock).T
    zoned = ~np.isnan(zone)
    if zoned.any() and not zoned.all():
        table.refuse("some times have a zone and some have none", at, zoned != zoned[0])
    clock = of_day_seconds - np.where(zoned, zone, 0.0)
    seconds, day_first = _dated(table, dates, clock, at, day_comes_first)
    if np.isnan(seconds).any():
        wrong_clock = of_day if of_day is not None and np.isnan(clock).any() else at
        table.refuse("is not a time in the form of the others", wrong_clock, np.isnan(seconds))
    if bool((dates == stamps).any()) and not bool((dates == stamps).all()) and of_day is None:
        table.refuse("has no time of day, and the others have", at, dates == stamps)
    return _near(table, seconds, at), day_first, bool(zoned.all())


def _epochs(table: LogTable, stamps: "Text", at: int) -> Floats:
    number = stamps.str.fullmatch(_EPOCH)
    if not number.all():
        table.refuse("is not a time in seconds of the epoch, as the first", at, ~number)
    seconds = np.asarray(stamps.astype(float), dtype=np.float64)
    scale = next((each for each in EPOCHS if EARLIEST <= seconds[0] * each <= LATEST), 1.0)
    return _near(table, seconds * scale, at)


def _near(table: LogTable, seconds: Floats, at: int) -> Floats:
    far = ~((seconds >= EARLIEST) & (seconds <= LATEST))
    if far.any():
        table.refuse("is not a time between the years 1990 and 2099", at, far)
    return seconds


def _each(text: "Text", parse: Callable[[str], object]) -> Floats:
    """Parse each different text once: a year has few dates, and a day few minutes."""
    import pandas as pd

    codes, different = pd.factorize(text)
    return np.array([parse(str(one)) for one in different], dtype=np.float64)[codes]


def _clock(text: str) -> tuple[float, float]:
    """Seconds since midnight and the zone's seconds before Greenwich, NaN for no time and for no zone."""
    found = re.fullmatch(_CLOCK, text, re.ASCII)
    if not found:
        return (np.nan, np.nan) if text else (0.0, np.nan)
    hour, minute, second = int(found[1]), int(found[2]), float((found[3] or "0").replace(",", "."))
    if hour > (12 if found[4] else 23) or (found[4] and hour == 0) or minute > 59 or second >= 60:
        return np.nan, np.nan
    if found[4]:
        hour = hour % 12 + (12 if found[4] in "Pp" else 0)
    zone = np.nan
    if found[5]:
        digits = found[5].replace(":", "")
        zone = 0.0 if digits == "Z" else float(f"{digits[0]}1") * (int(digits[1:3]) * HOUR + int(digits[3:]) * 60)
    return hour * HOUR + minute * 60 + second, zone


def _dated(table: LogTable, dates: "Text", clock: Floats, at: int, given: bool | None) -> tuple[Floats, bool | None]:
    """Seconds of each row, and whether the day comes first where the dates leave that open and it matters."""
    year_first = dates.str.match(r"\d{4}")
    days = _each(dates, lambda text: [np.nan if day is None else day for day in readings(text)])
    days[(year_first != year_first.iloc[0]).to_numpy()] = np.nan
    day_first, month_first = (days * DAY + clock[:, None]).T
    if given is not None:
        return (day_first if given else month_first), given
    wrong_day, wrong_month = int(np.isnan(day_first).sum()), int(np.isnan(month_first).sum())
    if wrong_day or wrong_month:
        order = wrong_day <= wrong_month
        return (day_first if order else month_first), (order if wrong_day != wrong_month else None)
    if np.array_equal(np.diff(day_first), np.diff(month_first)):
        return day_first, None
    if _runs_on(day_first, month_first):
        return day_first, True
    if _runs_on(month_first, day_first):
        return month_first, False
    table.refuse("day or month may come first, and the rows do not tell which", at)


def _runs_on(this: Floats, other: Floats) -> bool:
    """Whether many rows a day run on in this reading, and jump by a month at each midnight in the other."""
    steps, jumps = np.abs(np.diff(this)), np.abs(np.diff(other))
    return bool(np.median(steps) <= DAY / 2 and steps.max() <= 2 * DAY and jumps.max() >= 27 * DAY)


def even_clock(seconds: Floats) -> tuple[Floats, int]:
    """Undo changes to and from summer time: an hour that comes twice, and one that never comes."""
    steps = np.diff(seconds)
    usual = float(np.median(np.abs(steps))) if steps.size else 0.0
    before = seconds[:-1].astype("datetime64[s]")
    days = before.astype("datetime64[D]")
    # The epoch began on a Thursday.
    sunday = (days.astype(np.int64) + 4) % 7 == 0
    month = days.astype("datetime64[M]").astype(np.int64) % 12 + 1
    night = sunday & np.isin(month, CLOCK_CHANGE_MONTHS) & ((before - days).astype(np.int64) < 4 * HOUR)
    night &= usual < 4 * HOUR  # of longer steps nothing tells an hour
    twice = night & (np.abs(steps - (usual - HOUR)) <= usual / 4)
    never = night & (np.abs(steps - (usual + HOUR)) <= usual / 4)
    return seconds + HOUR * np.append(0.0, np.cumsum(twice) - np.cumsum(never)), int((twice | never).sum())


def refuse_standing(table: LogTable, seconds: Floats, at: int) -> None:
    """Refuse a time that comes twice or runs backwards."""
    steps = np.append(1.0, np.diff(seconds))
    if (steps == 0).any():
        table.refuse("the same time comes twice", at, steps == 0)
    if (steps < 0).any():
        table.refuse("time runs backwards here", at, steps < 0)
