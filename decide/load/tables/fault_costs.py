"""What mending a fault asks for in a class where no symptom leads to a paid cause of it: fault_costs.csv."""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from typing import Final

from ...errors import DataError
from ..files.rows import ANY, CsvRow
from .price_level import period_of
from .sourced import Citation, Register

KINDS: Final = ("consumable", "ordinary", "core", "unmendable")
"""Kinds of fault, by what a failure of that kind says of the unit."""


@dataclass(frozen=True, slots=True)
class FaultCost(Citation):
    """Parts and paid hours of which eight in ten repairs lie within."""

    parts: tuple[float, float]  # [money]
    hours: tuple[float, float]  # [hour]
    price_year: str  # Year whose money the parts are in.


def read_fault_costs(
    listed: Iterable[CsvRow], classes: Collection[str], faults: Mapping[str, Collection[str]], register: Register
) -> dict[tuple[str, str], FaultCost]:
    """Read every row to its fault and each of its classes; `faults` names the classes that can have each.

    Raises `DataError`: an unknown fault or class, one that cannot have it, ends that cross, or a pair given twice.
    """
    costs: dict[tuple[str, str], FaultCost] = {}
    for row in listed:
        fault, kinds = row.choice("fault", faults), row.choices("classes", (*classes, ANY))
        ends = [row.number(f"{what}_{end}") for what in ("parts", "hours") for end in ("low", "high")]
        if not (0 <= ends[0] <= ends[1] and 0 < ends[2] <= ends[3]):
            raise row.broken("needs 0 <= parts_low <= parts_high and 0 < hours_low <= hours_high")
        row.text("note")
        cost = FaultCost((ends[0], ends[1]), (ends[2], ends[3]), period_of(row, "price_year"), **register.cited(row))
        for kind in kinds:
            if kind != ANY and ANY not in faults[fault] and kind not in faults[fault]:
                raise row.broken("{kind} cannot have {fault}", kind, fault)
            if (fault, kind) in costs:
                raise row.broken("{fault} of {kind} is listed twice", fault, kind)
            costs[fault, kind] = cost
    if not costs:
        raise DataError("fault_costs.csv: holds no row")
    return costs
