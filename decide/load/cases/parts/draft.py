"""A case that is being completed: its entries, and what one part of it tells the others."""

import datetime
import math
from collections.abc import Callable, Mapping
from dataclasses import MISSING, dataclass, field, fields
from typing import TYPE_CHECKING, Any

from ....arrays import Number
from ...tables.tables import Estimate
from ..consumption import UsualUse
from ..reading import CaseReader

if TYPE_CHECKING:
    from ..measured import AgainstRated


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
