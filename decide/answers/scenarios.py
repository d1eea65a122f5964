"""What if: the same case with other entries, each weighed like any case."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from ..economics.case import inputs
from ..errors import CaseError, MendpointError, Message
from ..load.cases.case_file import set_entry
from ..load.cases.renamed import name_of_today
from ..load.cases.scenarios import SCENARIO, SECOND, Scenario, scenarios_of
from ..load.tables.tables import Tables
from .answer import Answer, answer

SHIPPED: Final = (
    Scenario(Message("Electricity costs 30% more"), {}, {"household.electricity_price": 1.3}),
    Scenario(Message("You move out in 3 years"), {"household.study_period": 3.0}, {}),
    Scenario(Message("A basic new one"), {"replace.grade": "basic"}, {}),
    Scenario(Message("It breaks for good next year"), {"repair.planned_replacement_years": 1.0}, {}),
    Scenario(Message("Parts only, you do the work"), {"repair.quote.labour_hours": 0.0, "repair.quote.trip": 0.0}, {}),
)
"""Questions that people ask; the numbers in their names are examples."""


@dataclass(frozen=True)
class ScenarioAnswer:
    """A scenario and its answer, or why it has none."""

    name: str
    found: Answer | None
    error: MendpointError | None = None


def shipped_for(entries: Mapping[str, Any], base: Answer) -> tuple[Scenario, ...]:
    """The shipped scenarios that say something else than the case: of what it uses, and does not say already."""
    repair, home = entries.get("repair", {}), entries.get("household", {})
    parted = isinstance(repair, Mapping) and isinstance(repair.get("quote"), Mapping)
    hours = parted and repair["quote"].get("labour_hours")
    bought = entries.get("replace", [{}])
    priced = isinstance(bought, list) and bought and isinstance(bought[0], Mapping) and "price" in bought[0]
    electric = any(float(base.case.appliance_of(option).electricity) > 0 for option in base.case.options)
    stays = math.isinf(base.case.household.study_period)
    fits = (electric and "electricity_tariff" not in home, stays, not priced, True, bool(hours))
    return tuple(each for each, fit in zip(SHIPPED, fits, strict=True) if fit)


def what_ifs(
    entries: Mapping[str, Any],
    base: Answer,
    scenarios: tuple[Scenario, ...] | None = None,
    reference: Tables | None = None,
    folder: Path | None = None,
) -> tuple[ScenarioAnswer, ...]:
    """Answer each scenario of a case; its own unless others are given.

    `entries` are the case as it was entered, `base` its answer: what `times` multiplies.

    >>> entries = {"appliance": {"class": "clothes_washer", "age": 8}, "repair": {"quote": 250},
    ...     "scenario": [{"name": "dear", "times": {"replace.price": 1.2}}]}
    >>> base = answer(entries)
    >>> (dear,) = what_ifs(entries, base)
    >>> dear.name, dear.found.weighing.repair_limit > base.weighing.repair_limit
    ('dear', True)
    """
    plain = {name: value for name, value in entries.items() if name not in (SCENARIO, SECOND)}
    asked = scenarios_of(entries) if scenarios is None else scenarios
    return tuple(_what_if(plain, base, each, reference, folder) for each in asked)


def _what_if(
    entries: dict[str, Any], base: Answer, scenario: Scenario, reference: Tables | None, folder: Path | None
) -> ScenarioAnswer:
    known = {entry.path: float(entry.value) for entry in inputs(base.case)} if scenario.times else {}
    try:
        for path, value in scenario.values.items():
            entries = set_entry(entries, name_of_today(path), value)
        for path, times in scenario.times.items():
            now = name_of_today(path)
            at = now if now in known else f"{now}.amount"
            if at not in known:
                raise CaseError(path, "is no input of this case")
            entries = set_entry(entries, now, known[at] * times)
        return ScenarioAnswer(scenario.name, answer(entries, reference, folder))
    except MendpointError as error:
        return ScenarioAnswer(scenario.name, None, error)
