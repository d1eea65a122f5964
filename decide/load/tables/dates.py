"""Days and ages as shops write them.

A day comes year first, day first, month first, or with the month's name in several languages. Of 03/04/2026 nobody can
say by itself which day it is; a whole column can, as soon as one of its days is beyond 12.

An age comes as about 8, 7-9, 3+, a year, the day it was put in, or a code of week and year. A range counts as its
middle, `3+` as 3, a year as its middle, a month as its middle, a week as its first day. A code of four digits that can
be read in two ways is left to the owner.
"""

import datetime
import functools
import re
import unicodedata
from collections.abc import Iterable, Mapping
from typing import Final

from babel import Locale

from .vocabulary import plain, vocabulary

DAY_FIRST: Final = "day first"
MONTH_FIRST: Final = "month first"
ORDERS: Final = (DAY_FIRST, MONTH_FIRST)

FIRST_YEAR, LAST_YEAR = 1950, 2099  # A day outside these is misread.
CENTURY: Final = 2000
LAST_SHORT_YEAR: Final = 49  # A year of two digits beyond this could be of either century, and is refused.
LANGUAGES: Final = ("en", "de", "fr", "es", "it", "nl", "pt")
EPOCH: Final = datetime.date(1970, 1, 1).toordinal()

BEFORE_A_TIME: Final = r"(?:T|,? +)"  # What stands between a day and its time.
TIME_OF_DAY: Final = rf"{BEFORE_A_TIME}\d{{1,2}}:.*$"
"""What may follow a day in its cell, to be cut off before it is read; a pattern, for pandas and Arrow alike."""

_YEAR_FIRST: Final = re.compile(r"(\d{4})([-/. ])(\d{1,2})\2(\d{1,2})", re.ASCII)
_COMPACT: Final = re.compile(r"((?:19|20)\d{2})(\d{2})(\d{2})", re.ASCII)
_YEAR_LAST: Final = re.compile(r"(\d{1,2})([-/. ]) ?(\d{1,2})\2 ?(\d{4}|\d{2})", re.ASCII)
_NAMED: Final = re.compile(r"(?:[^\W\d]+ )?(\d{1,2}) (?:de )?([^\W\d]+) (?:del? )?(\d{4}|\d{2})")
_NAMED_FIRST: Final = re.compile(r"([^\W\d]+) (\d{1,2}) (\d{4}|\d{2})")
_ORDINAL: Final = re.compile(r"(?<=\d)(?:st|nd|rd|th|er|o)\b")

OLDEST: Final = 60.0  # [year]
LONGEST: Final = 40  # [character]
DAYS_A_YEAR: Final = 365.25

_NUMBER: Final = r"(\d{1,2}(?:[.,]\d{1,2})?)"
_BETWEEN: Final = re.compile(rf"{_NUMBER} ?(?:-|to|or|bis|a|à) ?{_NUMBER}")
_AT_LEAST: Final = re.compile(rf"(?:> ?=? ?)?{_NUMBER} ?\+?")
_YEAR: Final = re.compile(r"((?:19|20)\d{2})")
_MONTH: Final = re.compile(r"(\d{1,2})[-/. ]((?:19|20)\d{2})")
_YEAR_MONTH: Final = re.compile(r"((?:19|20)\d{2})[-/. ](\d{1,2})")
_NAMED_MONTH: Final = re.compile(r"([^\W\d]{3,})[-/. ']*((?:19|20)\d{2}|\d{2})")
_WEEK: Final = re.compile(r"(?:w|wk|week|kw) ?(\d{1,2})[-/. ]*(?:of )?((?:19|20)\d{2}|\d{2})")
_YEAR_WEEK: Final = re.compile(r"((?:19|20)\d{2})[-/. ]*(?:w|wk|week|kw) ?(\d{1,2})")
_CODE: Final = re.compile(r"(\d{2})(\d{2})")
_NONE: Final = float("nan")


@functools.cache
def _months() -> Mapping[str, int]:
    """Names of months and their usual short forms; one that means two of them means none."""
    found: dict[str, set[int]] = {}
    for language in LANGUAGES:
        for form in ("wide", "abbreviated"):
            for number, name in Locale.parse(language).months["format"][form].items():
                found.setdefault(plain(name), set()).add(number)
    return {name: numbers.pop() for name, numbers in found.items() if len(numbers) == 1}


def _day(year: int, month: int, day: int) -> int | None:
    try:
        made = datetime.date(year, month, day).toordinal() - EPOCH
    except ValueError:
        return None
    return made if FIRST_YEAR <= year <= LAST_YEAR else None


@functools.lru_cache(maxsize=100_000)
def readings(text: str) -> tuple[int | None, int | None]:
    """Days since 1970 of a trimmed text without a time of day, the day coming first, and the month coming first."""
    if found := _YEAR_FIRST.fullmatch(text) or _COMPACT.fullmatch(text):
        year, *_, month, day = found.groups()
        made = _day(int(year), int(month), int(day))
        return made, made
    if found := _YEAR_LAST.fullmatch(text):
        first, _, second, written = found.groups()
        year = _year(written)
        return _day(year, int(second), int(first)), _day(year, int(first), int(second))
    made = _named(_ORDINAL.sub("", plain(text)))
    return made, made


def _named(bare: str) -> int | None:
    if found := _NAMED.fullmatch(bare):
        day, name, year = found.groups()
    elif found := _NAMED_FIRST.fullmatch(bare):
        name, day, year = found.groups()
    else:
        return None
    return _day(_year(year), month_of(name), int(day)) if month_of(name) else None


def _year(written: str) -> int:
    """A year of four digits, or of two in this century; 0 for one that could be of either."""
    short = len(written) == 2
    return (CENTURY + int(written) if int(written) <= LAST_SHORT_YEAR else 0) if short else int(written)


def month_of(name: str) -> int:
    """The month of a name or a usual short form; 0 for any other word."""
    return _months().get(plain(name), 0)


def order_of(texts: Iterable[str]) -> tuple[str | None, bool]:
    """Which order the days of a book tell, None where they tell none or both; and whether any day hangs on it."""
    orders: set[str] = set()
    asked = False
    for text in texts:
        day_first, month_first = readings(text)
        if day_first is not None and month_first is not None:
            asked |= day_first != month_first
        elif day_first is not None:
            orders.add(DAY_FIRST)
        elif month_first is not None:
            orders.add(MONTH_FIRST)
    return (orders.pop() if len(orders) == 1 else None), asked


@functools.cache
def _beside() -> "re.Pattern[str]":
    """Words that people put beside an age, and that do not change it; and those for years."""
    years = (word for word, means in vocabulary()["time"].items() if means == {"year"})
    words = sorted((*vocabulary()["beside"], *years), key=len, reverse=True)
    return re.compile(rf"y/o|(?<![^\W_])(?:{'|'.join(map(re.escape, words))})(?![^\W_])\.?|[~?≈():]")


@functools.lru_cache(maxsize=100_000)
def written_age(text: str, order: str | None, by: int) -> tuple[float, float]:
    """What a cell of ages says: age, and the moment it was made as a year of the calendar; NaN is what it does not say.

    `order` is `day first` or `month first`, where the book tells it; `by` the last year in which it can have been made.
    """
    typed = unicodedata.normalize("NFKC", text[:LONGEST]).casefold().translate({0x2013: "-", 0x2212: "-", 0x2014: "-"})
    bare = " ".join(_beside().sub(" ", re.sub(r"(?<=\d)(?=[^\W\d_])", " ", typed)).split())
    if plain(typed) in vocabulary()["new"]:
        return 0.0, _NONE
    if found := _BETWEEN.fullmatch(bare):
        low, high = (float(each.replace(",", ".")) for each in found.groups())
        return ((low + high) / 2 if low < high <= OLDEST else _NONE), _NONE
    if found := _AT_LEAST.fullmatch(bare):
        return float(found[1].replace(",", ".")), _NONE
    if found := _YEAR.fullmatch(bare):
        return _NONE, _within(int(found[1]) + 0.5, by)
    for written in (typed.strip(), bare):  # a month has a name that a word beside an age may be
        first, second = readings(written)
        days = second if order == "month first" or first is None else first
        if days is not None and (order or first == second or None in (first, second)):
            return _NONE, _within(1970 + days / DAYS_A_YEAR, by)
    return _NONE, _by_part(bare, by)


def _by_part(bare: str, by: int) -> float:
    """When a unit was made by a month or a week of a year; NaN where that is not certain."""
    if found := _MONTH.fullmatch(bare):
        month, year = int(found[1]), int(found[2])
    elif found := _YEAR_MONTH.fullmatch(bare):
        year, month = int(found[1]), int(found[2])
    elif (found := _NAMED_MONTH.fullmatch(bare)) and month_of(found[1]):
        month, year = month_of(found[1]), _full(found[2])
    else:
        found = _WEEK.fullmatch(bare)
        weeks = [(int(found[1]), _full(found[2]))] if found else []
        if found := _YEAR_WEEK.fullmatch(bare):
            weeks = [(int(found[2]), int(found[1]))]
        if found := _CODE.fullmatch(bare):  # week and year, or year and week
            weeks = [(int(found[1]), _full(found[2])), (int(found[2]), _full(found[1]))]
        sure = {year + (7 * week - 6.5) / DAYS_A_YEAR for week, year in weeks if 1 <= week <= 53 and year <= by}
        return _within(sure.pop(), by) if len(sure) == 1 else _NONE
    return _within(year + (month - 0.5) / 12, by) if 1 <= month <= 12 else _NONE


def _full(year: str) -> int:
    """A year of two digits is one of this century, or of the nineties."""
    return int(year) + (0 if len(year) == 4 else 2000 if int(year) <= LAST_SHORT_YEAR else 1900)


def _within(made: float, by: int) -> float:
    return made if FIRST_YEAR <= made < by + 1 else _NONE
