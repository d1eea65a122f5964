"""A complete case, and what is to be said of how it was completed."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from ...economics.case import Case
from ...economics.later_repairs import AnotherBill
from ...economics.uncertainty import Range
from ..tables.tables import Caution
from ..tables.usual_bills import UsualQuote
from .reading import DefaultUsed, Derived

if TYPE_CHECKING:
    from .measured import AgainstRated


@dataclass(frozen=True)
class Remarks:
    """What is to be said of the entries themselves."""

    beyond_data: bool
    """Whether the unit is so old that few of its age are in the data."""
    guarantee: float
    """Legal guarantee on a new unit where the household lives. [year]"""
    usual: UsualQuote | None
    """What a repair of the fault usually comes to; None where it cannot be repaired."""
    far: float
    """How many times outside that a quote is asked about. [-]"""


@dataclass(frozen=True)
class Filled:
    """A complete case, what was taken for what was not entered, and the cautions that go with it."""

    case: Case
    defaults: tuple[DefaultUsed, ...]
    cautions: tuple[Caution, ...]
    entered_ranges: tuple[Range, ...]
    """What the visitor, or the meter or label entered, says a value may be instead; `ranges.ranges_of` adds those of
    the defaults."""
    derived: tuple[Derived, ...] = ()
    """Inputs that were worked out from a label, a meter or a tariff."""
    findings: "tuple[AgainstRated, ...]" = ()
    """Measured uses beside rated ones."""
    carbon: Mapping[str, float] = field(default_factory=dict)
    """What was entered about carbon, by the names of `carbon.CARBON_ENTRIES`."""
    remarks: Remarks | None = None
    """What is to be said of the entries themselves."""
    another_bill: tuple[AnotherBill, ...] = ()
    """How likely another bill is, by each option of the case in its order."""
