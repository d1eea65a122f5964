"""A complete case, and what is to be said of how it was completed."""

import datetime
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

from ...economics.case import Case
from ...economics.later_repairs import AnotherBill
from ...economics.uncertainty import Range
from ..tables.tables import Caution
from ..tables.usual_bills import UsualQuote
from .reading import DefaultUsed, Derived

if TYPE_CHECKING:
    from .measured import AgainstRated


GUARANTEE: Final = "guarantee"
WARRANTY: Final = "warranty"
REPAIR_WARRANTY: Final = "repair_warranty"
"""Under what somebody else owes the repair: the law, the maker's warranty, that of the shop on its last repair."""


@dataclass(frozen=True)
class ClaimTerms:
    """Who may owe the repair, and what claiming takes."""

    by: str
    """One of GUARANTEE, WARRANTY, REPAIR_WARRANTY."""
    years_left: float
    """NaN where only that it still holds was said. [year]"""
    waiting: float
    """What waiting for it costs beyond waiting for a repair that is paid. [money]"""
    refused: float
    """Chance that it is refused. [-]"""


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
    claim: ClaimTerms | None = None
    """None where nobody else owes the repair."""


@dataclass(frozen=True)
class Filled:
    """A complete case, what was taken for what was not entered, and the cautions that go with it."""

    case: Case
    defaults: tuple[DefaultUsed, ...]
    cautions: tuple[Caution, ...]
    entered_ranges: tuple[Range, ...]
    """What the visitor, or the meter or label entered, says a value may be instead; `ranges.ranges_of` adds those of
    the defaults."""
    of_the_year: tuple[Range, ...] = ()
    """Doubt of what older units used as new, which moves an input besides the range of its figure."""
    carried: tuple[str, ...] = ()
    """Inputs of units to be bought that follow from what the one there was said or measured to use."""
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
    today: datetime.date | None = None
    """The day on which it was asked, from which years of manufacture follow."""
