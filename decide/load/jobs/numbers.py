"""Columns of numbers as shops write them, a column at a time, and never otherwise than `typed` reads each.

The forms that nearly all cells have are read by rules on whole columns. They are those to which `typed_number` gives
one meaning whatever the habit; all others go to `typed_number` itself, each different text once.
"""

import functools
import re
import unicodedata
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from numpy.typing import NDArray

from ...arrays import Floats
from ...economics.bounds import MONEY
from ...errors import CaseError
from ..tables.typed import CENTS, TooFine, TwoReadings, typed_number
from ..tables.vocabulary import plain, vocabulary
from .chunks import trimmed

if TYPE_CHECKING:
    import pandas as pd

    Text = pd.Series[str]

POINT, COMMA = ".", ","
MARKS: Final = (POINT, COMMA)
HABITS: Final = {POINT: "en_US", COMMA: "de_DE"}
"""A locale that writes so, for what would be ambiguous without."""

NO_NUMBER, TWO_READINGS, TOO_FINE = "no_number", "two_readings", "too_fine"

_PLAIN: Final = r"^-?[0-9]{1,12}(?:\.[0-9]{1,2})?$"
_FORMS: Final = (
    (r"^-?[0-9]{1,12},[0-9]{1,2}$", "", ","),
    (r"^-?[1-9][0-9]{0,2}(?:,[0-9]{3})+\.[0-9]{1,2}$", ",", ""),
    (r"^-?[1-9][0-9]{0,2}(?:\.[0-9]{3})+,[0-9]{1,2}$", ".", ","),
)
"""Further forms with one meaning: the form, the mark that groups thousands, and the decimal mark that is no point."""
_SIGNS: Final = "$\u20ac\u00a3 \u00a0\u202f"
"""Signs of money and spaces at either end."""
_BEFORE_TAX: Final = re.compile(r"(.*[0-9]) *([^0-9]*[^\W\d][^0-9]*)")
_OFF: Final = re.compile(r"([^0-9()]{0,3})\(([^()]*[0-9][^()]*)\)")
"""An amount in brackets, as books write what is paid back."""
_CENTS: Final = {
    mark: f"^[^0-9]*[0-9]+(?:[{group} '\u00a0\u202f\u2019][0-9]{{3}})*[{mark}][0-9]{{1,2}}[^0-9.,]*$"
    for mark, group in ((POINT, ","), (COMMA, "."))
}
"""An amount that tells its decimal mark by its cents."""


def numbers_of(
    cells: "Text", numeric: Floats | None, unit: str, mark: str | None, tax: float = 0.0
) -> tuple[Floats, dict[int, str]]:
    """Read a column of numbers: those, NaN where there is none, and by position the reason of those that cannot be
    read.

    `numeric` is what came as numbers already, NaN where a cell came as text; money is rounded to cents. `unit` is as
    `case.py` declares it; a number of years may say so, or be of months: `8 years`. `mark` is the decimal mark of the
    book, where it is told; it decides only what would be ambiguous. `tax` is the rate that is put on an amount which
    says that tax comes on top. [-]
    """
    import pyarrow as pa
    import pyarrow.compute as pc

    text = trimmed(cells)
    if numeric is None:
        values = np.full(len(text), np.nan)
    else:  # a sheet keeps 198.4125 for what it shows as 198.41
        values = np.round(numeric, CENTS) if unit == MONEY else numeric.copy()
    left = np.flatnonzero(np.isnan(values) & ~np.asarray(pc.equal(text, "")))
    left = _read_form(text, left, values, _PLAIN, "", "")
    if len(left):
        bare = pc.utf8_trim(text, characters=_SIGNS) if unit == MONEY else text
        for form, group, decimal in ((_PLAIN, "", ""), *_FORMS):
            left = _read_form(bare, left, values, form, group, decimal)
    refused: dict[int, str] = {}
    for at, word in zip(left.tolist(), text.take(pa.array(left, pa.int64())).to_pylist(), strict=True):
        values[at], reason = _read(word, unit, mark, tax)
        if reason:
            refused[at] = reason
    return values, refused


def _read_form(text: Any, left: NDArray[np.intp], values: Floats, form: str, group: str, decimal: str) -> Any:
    """Read those of the cells left that have a form; gives those that have not."""
    import pyarrow as pa
    import pyarrow.compute as pc

    some = text if len(left) == len(text) else text.take(pa.array(left))
    fits = pc.match_substring_regex(some, form)
    digits = some.filter(fits)
    if group:
        digits = pc.replace_substring(digits, group, "")
    if decimal:
        digits = pc.replace_substring(digits, decimal, ".")
    found = np.asarray(fits)
    values[left[found]] = digits.cast("float64").to_numpy(zero_copy_only=False)
    return left[~found]


@functools.lru_cache(maxsize=100_000)
def _read(word: str, unit: str, mark: str | None, tax: float) -> tuple[float, str]:
    """The number of a cell; NaN without a reason for a word that means nothing, and with one for what is no number."""
    if unit == MONEY:
        if plain(word) in vocabulary()["free"]:
            return 0.0, ""
        if (found := _BEFORE_TAX.fullmatch(word)) and plain(found[2]) in vocabulary()["tax"]:
            value, reason = _read(found[1], unit, mark, 0.0)
            return round(value * (1 + tax), CENTS), reason
        if found := _OFF.fullmatch(word):
            value, reason = _read(found[1] + found[2], unit, mark, 0.0)
            return -value, reason
    if plain(word) in vocabulary()["empty"] or set(word) <= set("-?.\u2013\u2014 /"):
        return np.nan, ""
    if unit and "%" in unicodedata.normalize("NFKC", word):  # a share of something, in a column of amounts
        return np.nan, NO_NUMBER
    try:
        return typed_number(word, "cell", HABITS.get(mark or ""), unit), ""
    except TwoReadings:
        return np.nan, TWO_READINGS
    except TooFine:
        return np.nan, TOO_FINE
    except CaseError:
        return np.nan, NO_NUMBER


def marks_found(cells: "Text") -> tuple[set[str], bool]:
    """Which decimal marks a column of money tells by its cents, and whether any of its cells hangs on it."""
    import pyarrow as pa
    import pyarrow.compute as pc

    text = pa.array(cells.array)
    marks = {mark for mark, form in _CENTS.items() if pc.any(pc.match_substring_regex(text, form)).as_py()}
    asked = pc.any(pc.match_substring_regex(text, r"^[^0-9]*[1-9][0-9]{0,2}[.,][0-9]{3}[^0-9.,]*$")).as_py()
    return marks, bool(asked)
