"""How a numeric field of a case is declared: its unit, its bounds and what it means, once."""

from dataclasses import dataclass, field, fields
from typing import Any, Final

import numpy as np

from ..arrays import Number

MONEY: Final = "money"


@dataclass(frozen=True)
class Bounds:
    """Unit of a numeric field and the interval that its values must keep to."""

    unit: str
    low: float
    high: float

    def admits(self, value: Number) -> bool:
        """Whether every value lies within the bounds; what is not a number never does."""
        if isinstance(value, float):
            return self.low <= value <= self.high
        known = np.asarray(value)
        return not known.size or bool(self.low <= known.min() and known.max() <= self.high)


def number(unit: str, low: float, high: float, default: float | None = None, *, doc: str) -> Any:
    """Declare a numeric field: unit, bounds, meaning and, where nothing entered means a plain number, that number."""
    declared = {"bounds": Bounds(unit, low, high), "doc": doc}
    return field(metadata=declared) if default is None else field(default=default, metadata=declared)


def numbers_of(noun: type) -> dict[str, Bounds]:
    """Every numeric field that a noun of a case declares."""
    return {item.name: item.metadata["bounds"] for item in fields(noun) if "bounds" in item.metadata}
