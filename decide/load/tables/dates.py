"""Days as shops write them: year first, day first, month first, or with the month's name in several languages.

Of 03/04/2026 nobody can say by itself which day it is; a whole column can, as soon as one of its days is beyond 12.
"""

import datetime
import functools
import re
from collections.abc import Iterable, Mapping
from typing import Final

from babel import Locale

from .vocabulary import plain

DAY_FIRST: Final = "day first"
MONTH_FIRST: Final = "month first"
ORDERS: Final = (DAY_FIRST, MONTH_FIRST)

FIRST_YEAR, LAST_YEAR = 1950, 2099
"""A day outside these is misread."""
CENTURY: Final = 2000
LAST_SHORT_YEAR: Final = 49
"""A year of two digits beyond this could be of either century, and is refused."""
LANGUAGES: Final = ("en", "de", "fr", "es", "it", "nl", "pt")
EPOCH: Final = datetime.date(1970, 1, 1).toordinal()

BEFORE_A_TIME: Final = r"(?:T|,? +)"
"""What stands between a day and its time."""
TIME_OF_DAY: Final = rf"{BEFORE_A_TIME}\d{{1,2}}:.*$"
"""What may follow a day in its cell, to be cut off before it is read; a pattern, for pandas and Arrow alike."""

_YEAR_FIRST: Final = re.compile(r"(\d{4})([-/. ])(\d{1,2})\2(\d{1,2})", re.ASCII)
_COMPACT: Final = re.compile(r"((?:19|20)\d{2})(\d{2})(\d{2})", re.ASCII)
_YEAR_LAST: Final = re.compile(r"(\d{1,2})([-/. ]) ?(\d{1,2})\2 ?(\d{4}|\d{2})", re.ASCII)
_NAMED: Final = re.compile(r"(?:[^\W\d]+ )?(\d{1,2}) (?:de )?([^\W\d]+) (?:del? )?(\d{4}|\d{2})")
_NAMED_FIRST: Final = re.compile(r"([^\W\d]+) (\d{1,2}) (\d{4}|\d{2})")
_ORDINAL: Final = re.compile(r"(?<=\d)(?:st|nd|rd|th|er|o)\b")


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
    """Days since 1970 of a trimmed text without a time of day, the day coming first, and the month coming first.

    >>> readings("25.12.2026") == (20812, None), readings("2026-12-25") == (20812, 20812)
    (True, True)
    """
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
