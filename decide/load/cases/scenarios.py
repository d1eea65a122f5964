"""The what-ifs that a case file holds: a name, and what is entered instead of what the case has."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from ...errors import CaseError
from .reading import is_number

SCENARIO: Final = "scenario"
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
