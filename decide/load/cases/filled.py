"""A complete case, and what is to be said of how it was completed."""

import datetime
import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Final

from ...economics.case import Case
from ...economics.later_repairs import AnotherBill
from ...economics.uncertainty import Range
from ..tables.sourced import Source
from ..tables.tables import DANGERS, DOING, Caution
from ..tables.usual_bills import UsualQuote
from .reading import CaseReader, DefaultUsed, Derived

if TYPE_CHECKING:
    from .measured import AgainstRated


GUARANTEE: Final = "guarantee"
WARRANTY: Final = "warranty"
USUAL_WARRANTY: Final = "usual_warranty"
REPAIR_WARRANTY: Final = "repair_warranty"
"""Under what somebody else owes the repair: the law, the maker's warranty as entered or, where nothing was, as usual,
that of the shop on its last repair."""


OUTCOMES: Final[Mapping[str, tuple[str, tuple[str, ...], str]]] = {
    "several_faults": ("first", (), "anyone"),
    "no_fault_found": ("first", (), "anyone"),
    "could_not_test": ("first", (), "owner or technician"),
    "referred": ("first", (), "licensed person"),
    "part_no_longer_made": ("stop", ("repair",), "anyone"),
    "stopped": ("stop", ("use",), "anyone"),
    "recalled": ("stop", ("use",), "anyone"),
}
"""What whoever looked at it says, beside the fault: how much it weighs, what it rules out, and who may go on."""

NOTHING_FOUND: Final = "no_fault_found"
NO_FAULT: Final = f"outcome_{NOTHING_FOUND}"  # its caution
WITH_REASON: Final = ("could_not_test", "referred", "stopped")  # outcomes that need their reason

LONGEST_REASON: Final = 300  # [character]


def outcome_of(reader: CaseReader, there: Mapping[str, Any], repair: Mapping[str, Any]) -> tuple[Caution, ...]:
    """What whoever looked at it says beside the fault, as an order that goes first; its locator is the reason."""
    outcome, reason = there.get("outcome"), there.get("outcome_reason", "")
    if not isinstance(reason, str) or len(reason) > LONGEST_REASON:
        reader.refuse("appliance.outcome_reason", "must be a text of {most} characters at most", LONGEST_REASON)
        return ()
    if outcome is None:
        if reason:
            reader.refuse("appliance.outcome_reason", "goes with appliance.outcome")
        return ()
    weight, prohibits, who = OUTCOMES[reader.choice("appliance.outcome", outcome, OUTCOMES)]
    if outcome in WITH_REASON and not reason.strip():
        reader.refuse("appliance.outcome_reason", "is needed with {outcome}: say why", outcome)
    if outcome == NOTHING_FOUND and "quote" in repair:
        reader.refuse("repair.quote", "cannot be: no fault was found, so there is nothing to repair yet")
    caution = Caution(
        id=f"outcome_{outcome}", words=f"outcome.{outcome}", classes=("*",), faults=("*",), not_faults=(),
        places=("*",), made=(-math.inf, math.inf), reader="", when="now", doing=DOING, who=who,
        prohibits=prohibits, weight=weight, danger=DANGERS[0] if "use" in prohibits else DANGERS[-1],
        source=Source("own", "who looked at it", "", ""), locator=reason.strip(), year=datetime.date.today().year,
        status="judgement",
    )  # fmt: skip
    return (caution,)


@dataclass(frozen=True)
class ClaimTerms:
    """Who may owe the repair, and what claiming takes."""

    by: str
    """One of GUARANTEE, WARRANTY, USUAL_WARRANTY, REPAIR_WARRANTY."""
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
    look_from: float
    """Bill over that of a new one from which it is looked at first; inf where young or looked at. [share]"""
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
