"""Numbers as people type them: `7,5` and `7.5`, `1.234,50` and `1,234.50`, `€ 185`, `3 %`.

A comma read as a separator of thousands turns 7.50 into 750 without a word. So what can be read in two ways is refused,
unless a locale says which way is meant; nothing is ever guessed.
"""

import re
import unicodedata
from decimal import Decimal
from typing import Final

from babel.numbers import get_decimal_symbol

from ..errors import CaseError
from .tables import CURRENCIES

LONGEST: Final = 40
"""No number that a person means is longer than this. [character]"""

_CODES: Final = re.compile("|".join(CURRENCIES.values()), re.IGNORECASE)
_KEYS: Final = str.maketrans({"\u2019": "'", "\u2212": "-", "\u2013": "-", "\u2014": "-"})
"""An apostrophe, a minus and dashes that keyboards of phones put in by themselves."""
_DASH_FOR_CENTS: Final = re.compile(r"[.,]-*$")
_SHAPE: Final = re.compile(r"(?P<sign>[-+]?)(?P<body>[0-9.,]+)")
_GROUPED: Final = re.compile(r"[1-9][0-9]{0,2}(?:(?P<mark>[.,' ])[0-9]{3})(?:(?P=mark)[0-9]{3})*")
_PLAIN: Final = re.compile(r"[0-9]*")


def typed_number(text: str, field: str, locale: str | None = None) -> float:
    """Read a number as a person typed it, or refuse it; a percent sign makes it a share.

    Parameters
    ----------
    text
        What was typed. Signs of money and spaces around it are passed over.
    field
        Dotted path of the input, for the fault.
    locale
        Where people write as the typist does, such as 'en_US'. It decides only what else would be ambiguous: a lone
        mark before three digits.

    Returns
    -------
    float
        The number; 3 % is 0.03.

    Raises
    ------
    CaseError
        What was typed is no number, or is two.

    Examples
    --------
    >>> typed_number("7,5", "repair.quote"), typed_number("€ 1.234,50", "repair.quote")
    (7.5, 1234.5)
    >>> typed_number("1,234", "repair.quote", "en_US"), typed_number("3 %", "household.rate")
    (1234.0, 0.03)
    >>> typed_number("1,234", "repair.quote")
    Traceback (most recent call last):
    decide.errors.CaseError: repair.quote: can be read as 1234 or as 1.234; write 1234 or 1.2340, got '1,234'
    """
    bare = _without_money(unicodedata.normalize("NFKC", text).translate(_KEYS))
    percent = bare.count("%")
    bare = bare.strip("% ")
    shape = _SHAPE.fullmatch(_ungrouped(_DASH_FOR_CENTS.sub("", bare)))
    if len(text) > LONGEST or percent > 1 or shape is None:
        raise _no_number(text, field)
    value = Decimal(_with_point(shape["body"], text, field, locale))
    signed = -value if shape["sign"] == "-" else value
    return float(signed / 100 if percent else signed)


def _without_money(text: str) -> str:
    signless = "".join(letter for letter in text if unicodedata.category(letter) != "Sc")
    return _CODES.sub("", signless).strip()


def _ungrouped(text: str) -> str:
    """Take spaces and apostrophes out of a well-formed group of thousands; anywhere else they stay, and are refused."""
    sign, digits = (text[0], text[1:].strip()) if text[:1] in ("-", "+") else ("", text)
    whole = re.match(r"[0-9' ]*", digits)
    front = whole[0] if whole else ""
    if _GROUPED.fullmatch(front):
        return sign + re.sub("[' ]", "", front) + digits[len(front) :]
    return sign + digits


def _with_point(body: str, text: str, field: str, locale: str | None) -> str:
    """The digits with a decimal point and no marks for thousands."""
    marks = [letter for letter in body if letter in ".,"]
    if not marks:
        return body
    whole, mark, end = body.rpartition(marks[-1])
    if marks.count(mark) > 1:
        return _whole(body, text, field)
    if not (_PLAIN.fullmatch(whole) or _GROUPED.fullmatch(whole)) or not end:
        raise _no_number(text, field)
    if len(marks) == 1 and _GROUPED.fullmatch(body):
        return _decided(whole, mark, end, text, field, locale)
    return f"{re.sub('[.,]', '', whole) or '0'}.{end}"


def _whole(body: str, text: str, field: str) -> str:
    if not _GROUPED.fullmatch(body):
        raise _no_number(text, field)
    return re.sub("[.,]", "", body)


def _decided(whole: str, mark: str, end: str, text: str, field: str, locale: str | None) -> str:
    """A lone mark before three digits: the locale says what it is."""
    if locale is None:
        large, small = whole + end, f"{whole}.{end}"
        raise CaseError(field, f"can be read as {large} or as {small}; write {large} or {small}0, got {text!r}")
    return f"{whole}.{end}" if mark == get_decimal_symbol(locale) else whole + end


def _no_number(text: str, field: str) -> CaseError:
    return CaseError(field, f"must be a number, such as 185 or 185.50, got {text!r}")


def as_typed(value: float) -> str:
    """Write a finite number so that `typed_number` reads the same one back, in any locale.

    >>> as_typed(401.0), as_typed(0.5), as_typed(12.345)
    ('401', '0.5', '12.3450')
    """
    digits = format(Decimal(repr(float(value))), "f")
    whole, point, decimals = digits.partition(".")
    decimals = decimals.rstrip("0")
    if len(decimals) == 3:  # a lone mark before three digits has two readings
        decimals += "0"
    return f"{whole}{point}{decimals}" if decimals else whole
