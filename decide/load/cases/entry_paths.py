"""Names of all that can be entered in a case, by dotted path, and which of them was meant by one that is not known."""

import difflib
from collections.abc import Iterator
from typing import Final

from ...economics.carbon import CARBON_ENTRIES
from ...economics.case import LEAVE, REPAIR, REPLACE, WITHOUT, Appliance, Quote
from ...economics.household import Household, Landlord
from ...errors import CaseError, Message, either
from .consumption import OTHER_ENERGY
from .landlord_entry import WAYS
from .parts.entries import ENERGY_WAYS, ENTERED_WITH, HEADS, OF_THE_HOUSEHOLD, OF_THE_UNIT_THERE
from .reading import numbers_of

NOUNS: Final = ("appliance", "household", REPAIR, REPLACE, LEAVE, WITHOUT)
OFFERED: Final = 3
"""How many are offered for one that is not known."""


def entry_paths() -> Iterator[str]:
    """List every entry of a case by its path; of replacements, those of the first."""
    yield "title"
    unit = (*numbers_of(Appliance), *OTHER_ENERGY)
    yield from (f"appliance.{name}" for name in ("class", *OF_THE_UNIT_THERE, *unit))
    yield from (f"household.{name}" for name in (*OF_THE_HOUSEHOLD, *numbers_of(Household), *ENERGY_WAYS))
    yield from (f"{REPAIR}.under_warranty", f"{REPAIR}.pays", f"{REPLACE}.pays", f"{REPAIR}.quote")
    yield from (f"{REPAIR}.quote.{name}" for name in numbers_of(Quote))
    yield from (f"{action}.{name}" for action, names in ENTERED_WITH.items() for name in ("name", *names))
    yield from (f"{REPLACE}.appliance.{name}" for name in unit)
    yield from (f"carbon.{name}" for name in CARBON_ENTRIES)
    yield from (f"household.landlord.{name}" for name in (*numbers_of(Landlord), *WAYS))


def refuse_a_stray_path(path: str) -> None:
    """Raise `CaseError` where a path begins with nothing that a case holds; it offers the paths that were meant."""
    head, _, rest = path.partition(".")
    if head in HEADS and (rest or head in ("title", *NOUNS)):
        return
    known = list(entry_paths())
    names = {each: each.rpartition(".")[2] for each in known}
    like = difflib.get_close_matches(path, names.values(), n=1, cutoff=0.7)
    close = [each for each in known if names[each] in like] or difflib.get_close_matches(path, known, cutoff=0.7)
    hint = Message("an entry begins with one of {heads}", ", ".join(HEADS))
    if close:
        hint = Message("did you mean {meant}?", either(close[:OFFERED]))
    raise CaseError(path, "is not known; {hint}", hint)
