"""What cannot be used, said: one sentence an error, with its plain name, what is allowed with unit, and what came."""

import math
from typing import Final

from ...economics.bounds import MONEY
from ...errors import CaseError, DataError, EntryErrors, MendpointError, OutOfRange, ReadError, StoreError
from ...load.cases.reading import Needed
from ...load.store.records import Damaged, EditConflict, NotAllowed, NotFound
from ...load.tables.typed import CENTS, ForeignMoney, NoNumber, TooFine, TwoReadings
from .phrases import Phrases, unit_of

EXAMPLES: Final = {
    "year": 12, "day": 5, "hour": 1.5, "share": 0.8, "1/year": 0.03, "kWh/year": 350, "m3/year": 8, "money/kWh": 0.25,
    "money/m3": 4, "money/hour": 90, "money/day": 10, "money/year": 60,
}  # fmt: skip
"""A number that an input could be, by its unit."""

LIKE_A_YEAR: Final = (1900, 2100)
"""An age between these is a year of the calendar."""


class ErrorTexts(Phrases):
    """Everything that is said of what cannot be used."""

    def explain(self, error: MendpointError) -> list[str]:
        """Say what cannot be used, one sentence an error: which input, what is allowed, and what came."""
        if isinstance(error, EntryErrors):
            return [line for one in error.errors for line in self.explain(one)]
        if isinstance(error, CaseError):
            return [self._of_a_case(error)]
        if isinstance(error, ReadError):
            where, message = self.translated(error.where), _ended(self.translated(error.message))
            return [self.say("error.read", where=where, message=message)]
        if isinstance(error, Damaged):
            return [
                self.say("store.damaged", what=self.say(f"store.noun.{thing.noun}"), name=thing.label)
                for thing in error.things
            ]
        if isinstance(error, StoreError):
            return [self.say(f"store.trouble.{error.trouble}", where=error.where, detail=error.detail.rstrip("."))]
        if isinstance(error, NotAllowed):
            return [self.translated(error.message)]
        key = "error.data" if isinstance(error, DataError) else "error.none"
        return [self.say(key, message=_ended(self.translated(error.message)))]

    def _of_a_case(self, error: CaseError) -> str:
        label = self.full_label(error.field)
        match error:
            case OutOfRange():
                return self._out_of_range(error, label)
            case NoNumber():
                example = self.example(error.field)
                key = "error.no_number" if example else "error.no_number_at_all"
                return self.say(key, label=label, example=example, got=str(error.got))
            case TwoReadings():
                return self._two_readings(error, label)
            case TooFine():
                return self.say("error.too_fine", label=label, got=error.got)
            case ForeignMoney():
                return self.say("error.foreign_money", label=label, got=error.got, currency=error.currency)
            case Needed():
                facts = {"bounds": self._bounds(error.bounds.low, error.bounds.high, error.bounds.unit)}
                return self.say("error.needed", label=label, example=self.example(error.field), **facts)
            case EditConflict():
                return self.say("store.stale", id=error.kept.id)
            case NotFound():
                return self.say("store.gone", name=error.name)
        return self.say("error.one", label=label, message=_ended(self.translated(error.message)))

    def example(self, path: str) -> str:
        """Write a number that an input could be, as it can be typed; nothing where `case.py` declares no such input."""
        unit = unit_of(path)
        if unit == MONEY:
            return self.say("error.example_money", whole=self.number(185), cents=self.cents(185.5))
        if unit not in EXAMPLES:
            return ""
        return self.figure(EXAMPLES[unit], unit if unit in ("share", "1/year") else "")

    def _two_readings(self, error: TwoReadings, label: str) -> str:
        large, small = (float(each) for each in (error.large, error.small))
        fine = self.number(small, 3) if len(error.typed_small.partition(".")[2]) > CENTS else self.cents(small)
        typed = {"typed_large": str(error.large), "typed_small": error.typed_small.replace(".", self.separators[0])}
        facts = {"large": self.number(large), "small": fine, "got": error.got}
        return self.say("error.two_readings", label=label, **facts, **typed)

    def _out_of_range(self, error: OutOfRange, label: str) -> str:
        got = str(error.got)
        if isinstance(error.got, int | float) and math.isfinite(error.got):
            first, last = LIKE_A_YEAR
            if error.field.endswith(".age") and first <= error.got <= last:
                return self.say("error.a_year", label=label, got=f"{error.got:g}", example=self.example(error.field))
            got = self.number(error.got, 6)
            if error.unit in ("share", "1/year"):
                got = self.say("error.got_share", got=got, percent=self.percent(error.got))
        bounds = self._bounds(error.low, error.high, error.unit)
        return self.say("error.range", label=label, bounds=bounds, got=got)

    def _bounds(self, low: float, high: float, unit: str) -> str:
        if math.isinf(high):
            return self.say("error.from", low=self.quantity(low, unit))
        ends = {"low": self.figure(low, unit), "high": self.quantity(high, unit)}
        return self.say("error.from_to", **ends)


def _ended(message: str) -> str:
    return message if message.endswith((".", "?", "!")) else f"{message}."
