"""The entries of a case: what there can be of each part, what fills the rest, and what one part tells the others."""

import datetime
import math
from collections.abc import Callable, Mapping
from dataclasses import MISSING, dataclass, field, fields
from typing import TYPE_CHECKING, Any, Final

from ....arrays import Number
from ....economics.case import LEAVE, REPAIR, REPLACE, WITHOUT
from ....errors import Message
from ...files.rows import rows
from ...tables.tables import ENERGY, Estimate, data_dir
from ..consumption import UsualUse
from ..reading import CaseReader, declared
from ..scenarios import SCENARIO, SECOND

if TYPE_CHECKING:
    from ..measured import AgainstRated

ENERGY_AND_WATER: Final = (*ENERGY, "water")
ENERGY_WAYS: Final = tuple(f"{fuel}_tariff" for fuel in ENERGY_AND_WATER)
OF_THE_HOUSEHOLD: Final = ("place", "region", "at_end", "today", "gas_kind", "people")
"""Entries of the household that are no numbers, and those that stand for a price or its rise."""


FILLED: Final = tuple(rows(data_dir() / "filled_entries.csv", "part,entry,number,figure"))
FIGURES: Final = {
    part: {row.text("entry"): row.text("figure") for row in FILLED if row.text("part") == part and row.cells["figure"]}
    for part in ("household", REPAIR, REPLACE, LEAVE, WITHOUT)
}
"""By part of a case, the figure of the tables that fills an input; any other has its plain default in `case.py`."""
ENTERED_WITH, ENTERED_BESIDE = (
    {
        part: tuple(row.text("entry") for row in FILLED if (row.text("part"), row.text("number")) == (part, number))
        for part in (REPAIR, REPLACE, LEAVE, WITHOUT)
    }
    for number in ("1", "0")
)
"""Which numbers of an option can be entered with each action, and what else can be."""

TAKE_ALONG: Final = "take along"
LEAVE_BEHIND: Final = "leave"
SELL: Final = "sell"
AT_END: Final = (TAKE_ALONG, LEAVE_BEHIND, SELL)
"""What becomes of the unit when the household moves out at the end of its study period."""

SAVINGS: Final = "savings"
PAYS: Final = {SAVINGS: "discount_rate", "card": "card_rate", "instalments": "loan_rate_usual"}
"""What a repair or a new unit is paid from, the first unless said, each with the figure of its rate."""

CLAIM_ENTRIES: Final = declared("claim")
"""What of a claim can be entered with the appliance there: the maker's warranty, how long a claim takes, and the chance
that it is refused."""

OF_THE_HOME: Final = declared("household")
"""Numbers of the people of a home, which tell how much it uses what is used in runs, or hot water."""

OF_THE_UNIT_THERE: Final = ("fault", "earlier_repairs", "second_fault", "outcome", "outcome_reason", *CLAIM_ENTRIES)
"""What is entered of the unit there alone."""

HEADS: Final = (
    "title",
    "appliance",
    "household",
    REPAIR,
    REPLACE,
    LEAVE,
    WITHOUT,
    "carbon",
    "ranges",
    SCENARIO,
    SECOND,
)
"""What a case file holds at its top."""

SCHEMA: Final = 2
"""Number of the names that case files and JSON use now; 1 is that of the names before, which are still read."""

MOST_REPLACEMENTS: Final = 50
"""More than anyone compares, and few enough to be weighed while one waits."""

USUAL_NAMES: Final = {
    REPAIR: Message("Repair it"),
    LEAVE: Message("Leave it as it is"),
    WITHOUT: Message("Do without it"),
}
"""Names of options that nobody named; a new unit goes by its class, any further one by its number."""


@dataclass
class Draft(CaseReader):
    """A case of which each part is read once, with every error and every default noted on the way."""

    entries: Mapping[str, Any] = field(default_factory=dict)
    findings: "list[AgainstRated]" = field(default_factory=list)
    by_age: dict[str, Callable[[Number], Number]] = field(default_factory=dict)
    today: datetime.date = field(default_factory=datetime.date.today)
    replacements: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)
    """What is entered of each thing to buy, by its path."""
    failures: tuple[float | None, int] = (None, 1)
    """How often the unit there has failed, today included, None where not known; and how many faults it has today."""
    cycles: float | None = None
    """Runs a year, where they were entered for the unit there."""
    runs: float = 1.0
    """The household's use over the usual, where its runs or its people were entered."""
    people: float | None = None
    used_there: dict[str, tuple[float, UsualUse, float]] = field(default_factory=dict)
    """Flows that the unit there was said or measured to have, each with what would be usual, and its age."""
    carried: list[str] = field(default_factory=list)
    """Inputs of units to be bought that follow from these."""
    doubts: dict[str, list[tuple[str, float, float, float, Estimate]]] = field(default_factory=dict)
    """By flow: inputs that hang on what older units used as new, each with low, value, high and the row behind."""
    claim: dict[str, float] = field(default_factory=dict)
    paid_from: dict[str, tuple[str, float]] = field(default_factory=dict)
    """By the path of an option, what it is paid from and the yearly rate of that as lenders state it."""
    food_spoils: bool = True
    """Whether the fault stops the cooling; a fault that is not known counts as one that does not."""


def built(noun: type, given: Mapping[str, float], **words: Any) -> Any:
    """Build a noun from what is given; an input that is missing was reported, and stands as NaN until then."""
    needed = {item.name: math.nan for item in fields(noun) if "bounds" in item.metadata and item.default is MISSING}
    return noun(**{**needed, **given, **words})
