"""How a numeric field of a case is declared: its unit, its bounds and what it means, once."""

from dataclasses import dataclass, field
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
        return bool(np.all((np.asarray(value) >= self.low) & (np.asarray(value) <= self.high)))


def number(unit: str, low: float, high: float, default: float | None = None, *, doc: str) -> Any:
    """Declare a numeric field: unit, bounds, meaning and, where nothing entered means a plain number, that number."""
    declared = {"bounds": Bounds(unit, low, high), "doc": doc}
    return field(metadata=declared) if default is None else field(default=default, metadata=declared)
