"""What cannot be used, said: one sentence a fault, with its plain name, what is allowed with unit, and what came."""

import math
from typing import Final

from ...economics.case import MONEY
from ...errors import CaseError, DataError, Faults, MendpointError, OutOfRange, ReadError, StoreError
from ...load.cases.reading import Needed
from ...load.store.records import Damaged, NotKept, StaleVisit
from ...load.tables.typed import CENTS, ForeignMoney, NoNumber, TooFine, TwoReadings
from .phrases import Phrases, unit_of

EXAMPLES: Final = {
    "year": 12, "day": 5, "hour": 1.5, "share": 0.8, "1/year": 0.03, "kWh/year": 350, "m3/year": 8, "money/kWh": 0.25,
    "money/m3": 4, "money/hour": 90, "money/day": 10, "money/year": 60,
}  # fmt: skip
"""A number that an input could be, by its unit."""

LIKE_A_YEAR: Final = (1900, 2100)
"""An age between these is a year of the calendar."""


class Complaints(Phrases):
    """Everything that is said of what cannot be used."""

    def explain(self, fault: MendpointError, currency: str) -> list[str]:
        """Say what cannot be used, one sentence a fault: which input, what is allowed, and what came."""
        if isinstance(fault, Faults):
            return [line for one in fault.faults for line in self.explain(one, currency)]
        if isinstance(fault, CaseError):
            return [self._of_a_case(fault, currency)]
        if isinstance(fault, ReadError):
            return [self.say("fault.read", where=self.told(fault.where), message=_ended(self.told(fault.message)))]
        if isinstance(fault, Damaged):
            return [
                self.say("store.damaged", what=self.say(f"store.noun.{thing.noun}"), name=thing.said)
                for thing in fault.things
            ]
        if isinstance(fault, StoreError):
            return [self.say(f"store.trouble.{fault.trouble}", where=fault.where, detail=fault.detail.rstrip("."))]
        key = "fault.data" if isinstance(fault, DataError) else "fault.none"
        return [self.say(key, message=_ended(self.told(str(fault))))]

    def _of_a_case(self, fault: CaseError, currency: str) -> str:
        label = self.full_label(fault.field)
        match fault:
            case OutOfRange():
                return self._out_of_range(fault, label, currency)
            case NoNumber():
                example = self.example(fault.field)
                key = "fault.no_number" if example else "fault.no_number_at_all"
                return self.say(key, label=label, example=example, got=str(fault.got))
            case TwoReadings():
                return self._two_readings(fault, label)
            case TooFine():
                return self.say("fault.too_fine", label=label, got=fault.got)
            case ForeignMoney():
                return self.say("fault.foreign_money", label=label, got=fault.got, currency=fault.currency)
            case Needed():
                facts = {"bounds": self._bounds(fault.bounds.low, fault.bounds.high, fault.bounds.unit, currency)}
                return self.say("fault.needed", label=label, example=self.example(fault.field), **facts)
            case StaleVisit():
                return self.say("store.stale", id=fault.kept.id)
            case NotKept():
                return self.say("store.gone", name=fault.name)
        return self.say("fault.one", label=label, message=_ended(self.told(fault.message)))

    def example(self, path: str) -> str:
        """Write a number that an input could be, as it can be typed; nothing where `case.py` declares no such input.

        >>> Complaints.of().example("appliance.age"), Complaints.of().example("repair.quote")
        ('12', '185 or 185.50')
        """
        unit = unit_of(path)
        if unit == MONEY:
            return self.say("fault.example_money", whole=self.number(185), cents=self.cents(185.5))
        if unit not in EXAMPLES:
            return ""
        return self.figure(EXAMPLES[unit], unit if unit in ("share", "1/year") else "", "")

    def _two_readings(self, fault: TwoReadings, label: str) -> str:
        large, small = (float(each) for each in (fault.large, fault.small))
        fine = self.number(small, 3) if len(fault.typed_small.partition(".")[2]) > CENTS else self.cents(small)
        typed = {"typed_large": str(fault.large), "typed_small": fault.typed_small.replace(".", self.decimal_mark)}
        facts = {"large": self.number(large), "small": fine, "got": fault.got}
        return self.say("fault.two_readings", label=label, **facts, **typed)

    def _out_of_range(self, fault: OutOfRange, label: str, currency: str) -> str:
        got = str(fault.got)
        if isinstance(fault.got, int | float) and math.isfinite(fault.got):
            first, last = LIKE_A_YEAR
            if fault.field.endswith(".age") and first <= fault.got <= last:
                return self.say("fault.a_year", label=label, got=f"{fault.got:g}", example=self.example(fault.field))
            got = self.number(fault.got, 6)
            if fault.unit in ("share", "1/year"):
                got = self.say("fault.got_share", got=got, percent=self.percent(fault.got))
        bounds = self._bounds(fault.low, fault.high, fault.unit, currency)
        return self.say("fault.range", label=label, bounds=bounds, got=got)

    def _bounds(self, low: float, high: float, unit: str, currency: str) -> str:
        if math.isinf(high):
            return self.say("fault.from", low=self.quantity(low, unit, currency))
        ends = {"low": self.figure(low, unit, currency), "high": self.quantity(high, unit, currency)}
        return self.say("fault.from_to", **ends)


def _ended(message: str) -> str:
    return message if message.endswith((".", "?", "!")) else f"{message}."
