"""Other ways to weigh a case that its file holds: what-ifs, and a second repair in place of the first."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from ...economics.case import REPAIR
from ...errors import CaseError, Message
from .reading import is_number

SCENARIO: Final = "scenario"
SECOND: Final = "second_repair"
"""Another repair of the same fault, as with a new part in place of a rebuilt one; it holds what a repair does."""
OF_THE_VISIT: Final = ("fee_credit", "fee_if_declined")  # of a quote, the same whichever repair is made
MOST_SCENARIOS: Final = 20
"""More than anyone compares side by side."""


@dataclass(frozen=True)
class Scenario:
    """A what-if: a name, and what is entered instead of what the case has."""

    name: str
    values: Mapping[str, Any]
    """Entries by their paths."""
    times: Mapping[str, float]
    """Inputs by their paths, each so many times what it is in the case."""


def scenarios_of(entries: Mapping[str, Any], errors: list[CaseError] | None = None) -> tuple[Scenario, ...]:
    """The scenarios that a case file holds; what is none is noted as an error."""
    noted, listed = [] if errors is None else errors, entries.get(SCENARIO, [])
    tables = isinstance(listed, list) and all(isinstance(each, dict) for each in listed)
    if not tables or len(listed) > MOST_SCENARIOS:
        noted.append(CaseError(SCENARIO, "must be {most} tables at most, written [[scenario]]", MOST_SCENARIOS))
        return ()
    found = []
    for index, each in enumerate(listed, start=1):
        where, name, parts = f"{SCENARIO}.{index}", each.get("name"), (each.get("set", {}), each.get("times", {}))
        unknown = [key for key in each if key not in ("name", "set", "times")]
        named = isinstance(name, str) and name.strip()
        if not named or unknown or not all(isinstance(part, dict) for part in parts):
            noted.append(CaseError(where, "must have a name, and `set` or `times`: entries by their paths"))
        elif not all(is_number(times) for times in parts[1].values()):
            noted.append(CaseError(f"{where}.times", "must be numbers: how many times the value of the case"))
        else:
            found.append(Scenario(str(name), *parts))
    return tuple(found)


def with_second_repair(entries: Mapping[str, Any]) -> dict[str, Any] | None:
    """The same case with the second repair in place of the first; what it leaves out is as with the first.

    None where there is no second one. Raises `CaseError`: it is no table, or has no quote.
    """
    second, first = entries.get(SECOND), entries.get(REPAIR, {})
    if second is None:
        return None
    if not isinstance(second, dict):
        raise CaseError(SECOND, "must be a table, got {got!r}", second)
    if "quote" not in second:
        raise CaseError(f"{SECOND}.quote", "is needed: a second repair is weighed at its own quote")
    first = first if isinstance(first, dict) else {}
    asked, quoted = second["quote"], first.get("quote")
    if isinstance(quoted, dict) and (fees := {name: quoted[name] for name in OF_THE_VISIT if name in quoted}):
        asked = {**fees, **(asked if isinstance(asked, dict) else {"amount": asked})}
    left = {name: value for name, value in first.items() if name != "name"}
    plain = {name: value for name, value in entries.items() if name not in (SECOND, SCENARIO)}
    return {**plain, REPAIR: {"name": Message("The second repair"), **left, **second, "quote": asked}}
