"""What can be entered of each part of a case, and which figure of the tables fills what is left out."""

from typing import Final

from ....economics.case import LEAVE, REPAIR, REPLACE, WITHOUT
from ....errors import Message
from ...files.rows import rows
from ...tables.tables import ENERGY, data_dir
from ..reading import declared
from ..scenarios import SCENARIO, SECOND

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
