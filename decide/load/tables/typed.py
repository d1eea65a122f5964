"""Numbers as people type them: `7,5` and `7.5`, `1.234,50` and `1,234.50`, `€ 185`, `3 %`, `18 months`.

A comma read as a separator of thousands turns 7.50 into 750 without a word. So what can be read in two ways is refused,
unless a locale says which way is meant; nothing is ever guessed. Money has two decimals, so that three of them after a
lone mark are refused whatever the locale says.
"""

import re
import unicodedata
from decimal import ROUND_HALF_UP, Decimal
from typing import Final

from babel.numbers import get_decimal_symbol

from ...economics.bounds import MONEY
from ...errors import CaseError, Message
from .vocabulary import plain, vocabulary

LONGEST: Final = 40  # No number that a person means is longer than this. [character]
CENTS: Final = 2  # Decimals of an amount of money.

YEAR: Final = "year"
SIGNS: Final = {"$": "USD", "\u20ac": "EUR"}
"""Signs of the moneys of the tables. Any other sign of money is of none of them."""

_IN_A_YEAR: Final = {"year": 1, "month": 12}  # How many of a span of time make a year.
_WORDS: Final = re.compile(r"[^\W\d_]+\.?(?: [^\W\d_]+\.?)*")
_SPLIT: Final = re.compile(r"[0-9] *[^0-9.,' ]+[^0-9]*[0-9]")  # A number with something else inside.
_KEYS: Final = str.maketrans({"\u2019": "'", "\u2212": "-", "\u2013": "-", "\u2014": "-"})
"""An apostrophe, a minus and dashes that keyboards of phones put in by themselves."""
_DASH_FOR_CENTS: Final = re.compile(r"[.,]-*$")
_SHAPE: Final = re.compile(r"(?P<sign>[-+]?)(?P<body>[0-9.,]+)")
_GROUPED: Final = re.compile(r"[1-9][0-9]{0,2}(?:(?P<mark>[.,' ])[0-9]{3})(?:(?P=mark)[0-9]{3})*")
_PLAIN: Final = re.compile(r"[0-9]*")


SUCH_AS: Final = Message("such as 185 or 185.50")


class NoNumber(CaseError):
    """What was given is no number."""

    def __init__(self, field: str, got: object, allowed: str = SUCH_AS) -> None:
        super().__init__(field, "must be a number, {allowed}, got {got!r}", allowed, got)
        self.got = got


class TwoReadings(CaseError):
    """What was typed can be read as two numbers: a large one, and a small one with decimals."""

    def __init__(self, field: str, got: str, large: str, small: str, decimals: int | None) -> None:
        self.got, self.large, self.small = got, Decimal(large), Decimal(small)
        rounded = self.small.quantize(Decimal(1).scaleb(-(decimals or 0)), ROUND_HALF_UP)
        self.typed_small = f"{small}0" if decimals is None else f"{rounded}"
        """The small one as it can be typed; a fourth decimal leaves it no second reading."""
        two = "can be read as {large} or as {small}; write {large} or {typed_small}, got {got!r}"
        super().__init__(field, two, large, small, self.typed_small, got)


class TooFine(CaseError):
    """An amount of money with more decimals than money has."""

    def __init__(self, field: str, got: str) -> None:
        template = "must be an amount of money, which has {most} decimals at most, got {got!r}"
        super().__init__(field, template, CENTS, got)
        self.got = got


class ForeignMoney(CaseError):
    """An amount in another money than that of the place."""

    def __init__(self, field: str, got: str, currency: str) -> None:
        super().__init__(field, "must be in {currency}, the money of the place, got {got!r}", currency, got)
        self.got, self.currency = got, currency


def typed_number(text: str, field: str, locale: str | None = None, unit: str = "", currency: str = "") -> float:
    """Read a number as a person typed it, or refuse it; a percent sign makes it a share: 3 % is 0.03.

    Signs and names of money and spaces around it are passed over; years may be said, or months. `field` is the dotted
    path of the input, for the error. `locale` is where people write as the typist does, such as 'en_US': it decides
    only what else would be ambiguous, a lone mark before three digits. `unit` is that of the input as `case.py`
    declares it; an amount of `money` has two decimals at most. `currency` is the money of the place; a sign or a name
    of another is refused, and without one any is passed over.

    Raises `NoNumber`, `TwoReadings`, `TooFine` or `ForeignMoney`.
    """
    bare, per_unit = _unnamed(unicodedata.normalize("NFKC", text).translate(_KEYS), text, field, unit, currency)
    percent = bare.count("%")
    bare = bare.strip("% ")
    shape = _SHAPE.fullmatch(_ungrouped(_DASH_FOR_CENTS.sub("", bare)))
    if len(text) > LONGEST or percent > 1 or shape is None:
        raise NoNumber(field, text)
    decimals = CENTS if unit == MONEY and not percent else None
    value = Decimal(_with_point(shape["body"], text, field, locale, decimals))
    if decimals is not None and value != round(value, decimals):
        raise TooFine(field, text)
    signed = (-value if shape["sign"] == "-" else value) / per_unit
    return float(signed / 100 if percent else signed)


def _unnamed(typed: str, text: str, field: str, unit: str, currency: str) -> tuple[str, int]:
    """Take off what names money or a span of time; how many of these make one of the unit. Anything else stays."""
    if _SPLIT.search(typed):
        return typed.strip(), 1
    signs = {letter for letter in typed if unicodedata.category(letter) == "Sc"}
    word = _WORDS.search(typed)
    named = plain(word[0]) if word else ""
    money = vocabulary()["money"].get(named, frozenset()) if word else frozenset()
    spans = vocabulary()["time"].get(named, frozenset()) if word and unit == YEAR else frozenset()
    if currency and not {currency}.issuperset(money | {SIGNS.get(sign, sign) for sign in signs}):
        raise ForeignMoney(field, text, currency)
    bare = "".join(letter for letter in typed if letter not in signs)
    if word and (money or spans):
        bare = bare.replace(word[0], "", 1)
    return bare.strip(), max((_IN_A_YEAR[span] for span in spans), default=1)


def _ungrouped(text: str) -> str:
    """Take spaces and apostrophes out of a well-formed group of thousands; anywhere else they stay, and are refused."""
    sign, digits = (text[0], text[1:].strip()) if text[:1] in ("-", "+") else ("", text)
    whole = re.match(r"[0-9' ]*", digits)
    front = whole[0] if whole else ""
    if _GROUPED.fullmatch(front):
        return sign + re.sub("[' ]", "", front) + digits[len(front) :]
    return sign + digits


def _with_point(body: str, text: str, field: str, locale: str | None, decimals: int | None) -> str:
    """The digits with a decimal point and no marks for thousands."""
    marks = [letter for letter in body if letter in ".,"]
    if not marks:
        return body
    whole, mark, end = body.rpartition(marks[-1])
    if marks.count(mark) > 1:
        if not _GROUPED.fullmatch(body):
            raise NoNumber(field, text)
        return re.sub("[.,]", "", body)
    if not (_PLAIN.fullmatch(whole) or _GROUPED.fullmatch(whole)) or not end:
        raise NoNumber(field, text)
    if len(marks) > 1 or not _GROUPED.fullmatch(body):
        return f"{re.sub('[.,]', '', whole) or '0'}.{end}"
    # a lone mark before three digits: the locale says what it is, but money never has three decimals
    points = locale is not None and mark == get_decimal_symbol(locale)
    if locale is None or (points and decimals is not None):
        raise TwoReadings(field, text, whole + end, f"{whole}.{end}", decimals)
    return f"{whole}.{end}" if points else whole + end


def as_typed(value: float) -> str:
    """Write a finite number so that `typed_number` reads the same one back, in any locale."""
    digits = format(Decimal(repr(float(value))), "f")
    whole, point, decimals = digits.partition(".")
    decimals = decimals.rstrip("0")
    if len(decimals) == 3:  # a lone mark before three digits has two readings
        decimals += "0"
    return f"{whole}{point}{decimals}" if decimals else whole
