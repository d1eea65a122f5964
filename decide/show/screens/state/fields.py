"""The fields of a page: which entry each fills, in which unit and bounds, and where an error is shown."""

import datetime
import tomllib
from pathlib import Path
from typing import Final

from ....economics.bounds import Bounds
from ....economics.case import Appliance, Option, Quote
from ....economics.household import Household
from ....errors import CaseError, OutOfRange
from ....load.cases import household_tariff, label_entry, measured, rating
from ....load.cases.consumption import OTHER_ENERGY
from ....load.cases.filled import OUTCOMES
from ....load.cases.parts.entries import CLAIM_ENTRIES, OF_THE_HOME
from ....load.cases.reading import numbers_of
from ....load.cases.upkeep import EARLIER_REPAIRS
from ....load.store.visit_book import DECIDED
from ....load.tables.tables import ENERGY
from ....load.tables.typed import as_typed, typed_number
from ...text.phrases import noun_of
from ...text.words import Words
from . import input_methods as by

OF_A_LIMIT: Final = ("fresh_volume", "freezer_volume", "icemakers", "door_factor", "storage_volume", "label_cycles")
"""Numbers of a label that only an opened case has."""

OFFERS: Final = ("better", "best")
"""New units that may be offered beside the first."""
OFFERED: Final = {"price": "price", "electricity": "appliance.electricity", "warranty": "warranty"}
"""What is typed of each."""
ENDS: Final = (*DECIDED, *OUTCOMES, "made_safe")
"""How a visit can end: what the customer said, or what was found."""
BUILT: Final = ("parts", "labour_hours", "labour_rate")
"""What a quote is built of, in place of its amount."""
OF_A_PART: Final = ("label_", "litres_", "meter_", "used_", "other_", "interval_", "step", "day_", "night_")
"""How fields begin that count only with others."""
OF_A_BILL: Final = OF_A_PART[-3:]
FEES: Final = (*BUILT, "fee_credit", "fee_if_declined")
"""Parts of a quote: what it is built of, and those of a diagnostic fee, which stand beside its amount."""

_FIELDS: Final = tomllib.loads(Path(__file__).with_name("fields.toml").read_text("utf-8"))

TYPED: Final[dict[str, str]] = {
    **_FIELDS["typed"],
    **{
        f"{offer}_{name}": f"replace.{3 + at}.{path}"
        for at, offer in enumerate(OFFERS)
        for name, path in OFFERED.items()
    },
    **{f"label_{name}": f"appliance.label.{name}" for name in rating.NUMBERS if name not in OF_A_LIMIT},
    **{f"litres_{name}": f"appliance.label.litres.{name}" for kind in by.LITRES.values() for name in kind},
    **{
        f"meter_{name}": f"appliance.meter.{name}"
        for name in ("first", "second", "hours", "runs", "room", "year_rooms", "rated")
    },
    **{f"{fuel}_base_use": f"household.{fuel}_tariff.base_use" for fuel in ENERGY},
}
"""Fields in which a number is typed, each with the entry that it fills."""

CHOSEN: Final[dict[str, str]] = _FIELDS["chosen"]
"""Fields whose value is the entry."""

ABOUT: Final[dict[str, list[float]]] = _FIELDS["about"]
"""Ages that are known only about, or not at all: the least, what is taken, and the most. [year]"""

AT_STEP: Final[dict[str, int]] = _FIELDS["step"]
"""By how fields are called, or begin: the step of the page at home at which they stand."""

FINE: Final = 6
"""Decimals of what stands in a field for a number that files keep in another unit."""

WAYS: Final = {
    "use_way": by.USUAL,
    "age_about": None,
    "label_says": None,
    "meter_way": by.READINGS,
    "who_mends": "shop",
    **{f"{fuel}_priced": by.PLACE for fuel in ENERGY},
}
"""Fields that choose among ways to enter something, each with the way that nothing chosen means."""


def read_typed(key: str, text: str, words: Words) -> tuple[CaseError | None, float | None]:
    """The number that was typed into a field, or what is wrong with it; a year in place of an age counts as one."""
    path = TYPED[key]
    bounds, here = bounds_of(path), local_bounds(words, path)
    made = age_since(text, datetime.date.today().year) if key in ("age", "used_age") else None
    if made is not None:
        return None, float(made)
    try:
        value = typed_number(text, path, words.number_locale(here.unit), here.unit, words.currency)
    except CaseError as error:
        return error, None
    if here.unit == "share" and here.high <= 1 < value:
        value /= 100  # its label says percent
    if not here.admits(value):
        return OutOfRange(path, here.low, here.high, here.unit, value), None
    return None, words.local(bounds.unit, path).filed(value)


def local_bounds(words: Words, path: str) -> Bounds:
    """Unit and bounds of a number that is typed, as people of the place count it."""
    bounds = bounds_of(path)
    local = words.local(bounds.unit, path)
    return Bounds(local.name, local.shown(bounds.low), local.shown(bounds.high))


def typed_as(words: Words, path: str, value: float) -> str:
    """What stands in its field for a value of an opened case."""
    local = words.local(unit_of(path), path)
    return as_typed(value if local.name == unit_of(path) else round(local.shown(value), FINE))


def field_at(error: CaseError) -> str:
    """The field at which an error is told; '' where the page has none for it."""
    if error.field in FIELD_OF:
        return FIELD_OF[error.field]
    return next((key for table, key in SHOWN_AT.items() if error.field.startswith(table)), "")


FIELD_OF: Final = {path: key for key, path in {**CHOSEN, **by.FILED, **TYPED}.items()}
SHOWN_AT: Final = {
    "repair.quote.amount": "quote",
    "appliance.label": "label_says",
    "appliance.meter": "meter_way",
    **{f"household.{fuel}_tariff": f"{fuel}_priced" for fuel in ENERGY},
}
"""Fields at which errors of a whole table are told."""


def bounds_of(path: str) -> Bounds:
    """Unit and bounds of a number that is typed, as its input declares them; a quote is an amount."""
    noun, name = noun_of(path)
    if noun == "label":
        return rating.NUMBERS.get(name, label_entry.LITRES)
    if noun == "meter":
        return measured.NUMBERS.get(name, measured.ROOMS)
    if noun == "tariff":
        own = {**household_tariff.BILL, "price": numbers_of(Household)["electricity_price"]}
        return own.get(name) or household_tariff.BASE_USE[path.split(".")[1].removesuffix("_tariff")]
    if path == TYPED["earlier_repairs"]:
        return EARLIER_REPAIRS
    if name in CLAIM_ENTRIES:
        return CLAIM_ENTRIES[name]
    if name in FEES:
        return numbers_of(Quote)[name]
    if noun not in _NOUNS:
        return numbers_of(Quote)["amount"]
    return {**numbers_of(_NOUNS[noun]), **OTHER_ENERGY, **OF_THE_HOME}[name]


def age_since(made: str, this_year: int) -> int | None:
    """Age in whole years of what was made in a year; nothing where that is no year that a unit can be of."""
    if not (made.isascii() and made.isdigit() and len(made) == len(str(this_year))):
        return None
    age = this_year - int(made)
    return age if bounds_of(TYPED["age"]).admits(float(age)) else None


def as_share(text: str) -> float | None:
    """The outlook that an address has; None where it is none."""
    path = CHOSEN["remaining_life_factor"]
    try:
        share = typed_number(text, path)
    except CaseError:
        return None
    return share if bounds_of(path).admits(share) else None


def unit_of(path: str) -> str:
    """Unit of a number that is typed."""
    return bounds_of(path).unit


_NOUNS: Final = {"appliance": Appliance, "household": Household, "option": Option}
