"""The whole answer as plain data, for other programs. Names are kept stable; what does not exist is null, never NaN."""

import dataclasses
import json
import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from ...answers.answer import Answer
from ...answers.safety import safety
from ...answers.scenarios import ScenarioAnswer
from ...economics.weigh import NUMBERS, OptionCost
from ...load.cases.completing import SCHEMA
from ...load.cases.reading import DefaultUsed, Derived
from ...load.tables.tables import Caution, tables
from ..text.phrases import DEFAULT_LANGUAGE, Phrases
from ..text.words import range_of, reason_for_none

YEARS_AHEAD: Final = 10
"""Years over which it is told what will have been paid."""

if TYPE_CHECKING:
    from ...energy.interval import Interval
    from ...energy.metering import RatedComparison


OF_A_STAY: Final = ("study_period", "residual_share", "resale_share")
"""What is entered about the end of the need; a need without end is null."""


def as_json(answer: Answer, scenarios: Sequence[ScenarioAnswer] = ()) -> str:
    """Write the whole answer as one JSON object."""
    return written(as_data(answer, scenarios))


def as_data(answer: Answer, scenarios: Sequence[ScenarioAnswer] = ()) -> dict[str, Any]:
    """Lay the whole answer out in dictionaries and lists; a number that does not exist is still NaN here."""
    weighing, mind = answer.weighing, safety(answer.cautions, [answer.case.fault])
    return {
        "schema": SCHEMA,
        "title": answer.case.title,
        "currency": weighing.unit,
        "money_of": tables().level.month,
        "today": str(answer.today),
        "quoted": weighing.quoted,
        "advantage": weighing.advantage,
        **_result(answer),
        "stopped_by": weighing.stopped_by,
        "options": [_option(cost) for cost in weighing.options],
        "successor": weighing.options[int(weighing.successor)].name,
        "planned_years": weighing.planned_years,
        "stay": {name: getattr(answer.case.household, name) for name in OF_A_STAY},
        "most_today": answer.case.household.most_today,
        "cost_of_cash": weighing.cost_of_cash,
        "measures": {name: getattr(answer.measures, name) for name in NUMBERS},
        "cash_by_year": [
            {"name": cost.name, "total": flow.total_by_year, "by_category": flow.by_year}
            for cost, flow in zip(weighing.options, answer.cash_by_year, strict=True)
        ],
        "cautions": [_caution(answer, caution, caution in mind.in_the_open) for caution in mind.listed],
        "defaults_used": [_default(default) for default in answer.defaults],
        "derived": [_derived(each) for each in answer.derived],
        "findings": [
            {"field": each.field, "rated": each.rated, **against_rated(each.finding)} for each in answer.findings
        ],
        **_remarks(answer),
        "scenarios": [scenario_data(each) for each in scenarios],
    }


def scenario_data(asked: ScenarioAnswer) -> dict[str, Any]:
    """The result of one scenario, under the keys of the case's own; or its error."""
    return {"name": asked.name} | (_result(asked.found) if asked.found else {"error": str(asked.error)})


def _result(answer: Answer) -> dict[str, Any]:
    """What comes of a case: limit, verdict and how sure it is, replacing as an investment, what will be paid."""
    weighing, measures = answer.weighing, answer.measures
    found = None if answer.undecided else answer.verdict
    paybacks = {name: getattr(measures, name) for name in ("simple_payback", "discounted_payback")}
    year = math.ceil(measures.simple_payback) if math.isfinite(measures.simple_payback) else math.nan
    gains = {"net_present_value": measures.net_saving, **paybacks, "breakeven_year": year}
    return {
        "repair_limit": weighing.repair_limit,
        "repair_limit_range": answer.decision.limit_range,
        "verdict": weighing.verdict,
        **{
            name: getattr(found, name, None)
            for name in ("state", "cheapest_share", "share_by_act", "expected_loss", "second", "second_loss")
        },
        **gains,
        "reasons": {name: _reason(answer, name) for name, value in gains.items() if not math.isfinite(value)},
        "paid_by_year": {
            cost.name: np.cumsum(flow.total_by_year)[: YEARS_AHEAD + 1]
            for cost, flow in zip(weighing.options, answer.cash_by_year, strict=True)
        },
        "another_bill": {
            option.name: dataclasses.asdict(bill)
            for option, bill in zip(answer.case.options, answer.another_bill, strict=True)
        },
    }


def _reason(answer: Answer, name: str) -> str:
    """Why a gain of replacing has no number."""
    found = reason_for_none(answer, name)
    return "never" if found == name else found


def _remarks(answer: Answer) -> dict[str, Any]:
    """What is said of the entries themselves."""
    found = answer.remarks
    if found is None:
        return {}
    return {
        "beyond_data": found.beyond_data,
        "guarantee": {"years": found.guarantee, "within": answer.guaranteed},
        "claim": found.claim and {**vars(found.claim), "limit": answer.claim_limit, "first": answer.claim is not None},
        "usual_quote": found.usual and {"median": found.usual.median, "low": found.usual.low, "high": found.usual.high},
        "quote_unusual": answer.unusual,
    }


def _option(cost: OptionCost[float]) -> dict[str, Any]:
    return {
        "name": cost.name,
        "action": cost.action,
        "price_includes_installation": cost.option.price_includes_installation,
        "today": cost.today,
        "equivalent_annual_cost": cost.equivalent_annual_cost,
        "present_cost": cost.present_cost,
        "expected_remaining_life": cost.expected_remaining_life,
        "by_category": cost.by_category,
        "blocked_by": cost.blocked_by,
        "left_out": bool(cost.left_out),
    }


def _caution(answer: Answer, caution: Caution, is_open: bool) -> dict[str, Any]:
    home = answer.case.household
    return {
        **{name: getattr(caution, name) for name in ("id", "when", "reader", "weight", "danger", "who", "prohibits")},
        "open": is_open,
        "text": Phrases.of(DEFAULT_LANGUAGE, home.region, home.place).caution_text(caution),
        "source": caution.source.citation,
    }


def _default(default: DefaultUsed) -> dict[str, Any]:
    figure = default.estimate
    low, high = range_of(default)
    return {
        "field": default.field,
        "value": default.value,
        "unit": default.unit,
        "source": figure.source.citation,
        "locator": figure.locator,
        "year": figure.year,
        "status": figure.status,
        "low": low,
        "high": high,
        "rule": default.rule,
        "price_year": default.period or figure.price_year,
        "published": figure.published,
        "index": figure.index,
        "stands_for": default.stands_for,
        "note": figure.note,
    }


def _derived(derived: Derived) -> dict[str, Any]:
    return {
        "field": derived.field,
        "value": derived.value,
        "unit": derived.unit,
        "way": derived.way,
        "entered": derived.source,
        "low": derived.low,
        "high": derived.high,
        "status": derived.status,
        "counts": derived.counts,
        "sources": [
            {name: getattr(basis, name) for name in ("source", "locator", "year", "status", "note")}
            for basis in derived.bases
        ],
        "remarks": list(derived.remarks),
        **derived.facts,
    }


def against_rated(finding: "RatedComparison") -> dict[str, Any]:
    """Lay a comparison with the rated use out."""
    return {
        "ratio": interval(finding.ratio),
        "excess": interval(finding.excess),
        "chance_above": finding.chance_above,
    }


def interval(of: "Interval") -> dict[str, Any]:
    """Lay a figure with its bounds out."""
    return {"value": of.value, "low": of.low, "high": of.high, "coverage": of.coverage}


def written(data: Any) -> str:
    """Write plain data as JSON."""
    return json.dumps(_plain(data), allow_nan=False, indent=2)


def _plain(value: Any) -> Any:
    """The same in what JSON knows: lists for columns, null for a number that does not exist or has no end."""
    if isinstance(value, dict):
        return {name: _plain(inner) for name, inner in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(inner) for inner in value]
    if isinstance(value, np.ndarray):
        return _plain(value.tolist())
    if isinstance(value, float | np.floating):
        return float(value) if math.isfinite(value) else None
    return int(value) if isinstance(value, np.integer) else value
