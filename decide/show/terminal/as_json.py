"""The whole answer as plain data, for other programs. Names are kept stable; what does not exist is null, never NaN."""

import dataclasses
import math
from collections.abc import Sequence
from typing import Any, Final

from ...answers.answer import Answer
from ...answers.safety import safety
from ...answers.scenarios import ScenarioAnswer
from ...economics.weigh import NUMBERS
from ...load.cases.parts.entries import SCHEMA
from ...load.cases.reading import DefaultUsed, Derived
from ...load.tables.tables import Caution, tables
from ..text.answer_facts import reason_for_none
from ..text.phrases import DEFAULT_LANGUAGE, Phrases
from ..text.words import range_of
from .outlet import attributes, written

YEARS_AHEAD: Final = 10
"""Years over which it is told what will have been paid."""

OF_A_STAY: Final = ("study_period", "residual_share", "resale_share")
"""What is entered about the end of the need; a need without end is null."""


def as_json(answer: Answer, scenarios: Sequence[ScenarioAnswer] = ()) -> str:
    """Write the whole answer as one JSON object."""
    return written(as_data(answer, scenarios))


def as_data(answer: Answer, scenarios: Sequence[ScenarioAnswer] = ()) -> dict[str, Any]:
    """Lay the whole answer out in dictionaries and lists; a number that does not exist is still NaN here."""
    weighing, mind = answer.weighing, safety(answer.cautions, answer.case.faults)
    return {
        "schema": SCHEMA,
        "title": answer.case.title,
        "currency": weighing.unit,
        "money_of": tables().level.month,
        "today": str(answer.today),
        **attributes(weighing, "quoted", "advantage"),
        **_result(answer),
        "stopped_by": weighing.stopped_by,
        "options": [
            {
                **attributes(cost, "name", "action"),
                **attributes(cost.option, "price_includes_installation"),
                **attributes(cost, "today", "equivalent_annual_cost", "present_cost", "expected_remaining_life"),
                **attributes(cost, "by_category", "blocked_by"),
                "left_out": bool(cost.left_out),
            }
            for cost in weighing.options
        ],
        "successor": weighing.options[int(weighing.successor)].name,
        "planned_years": weighing.planned_years,
        "stay": attributes(answer.case.household, *OF_A_STAY),
        "most_today": answer.case.household.most_today,
        "cost_of_cash": weighing.cost_of_cash,
        "measures": attributes(answer.measures, *NUMBERS),
        "cash_by_year": [
            {"name": cost.name, "total": flow.total_by_year, "by_category": flow.by_year}
            for cost, flow in zip(weighing.options, answer.cash_by_year, strict=True)
        ],
        "cautions": [_caution(answer, caution, caution in mind.in_the_open) for caution in mind.listed],
        "defaults_used": [_default(default) for default in answer.defaults],
        "derived": [_derived(each) for each in answer.derived],
        "findings": [
            {
                **attributes(each, "field", "rated"),
                "ratio": vars(each.finding.ratio),
                "excess": vars(each.finding.excess),
                "chance_above": each.finding.chance_above,
            }
            for each in answer.findings
        ],
        **_remarks(answer),
        "second_repair": answer.second
        and {
            "name": answer.second.case.repair.name,
            "quoted": answer.second.weighing.quoted,
            "saves": answer.second_saves,
            **_result(answer.second),
        },
        "scenarios": [scenario_data(each) for each in scenarios],
    }


def scenario_data(asked: ScenarioAnswer) -> dict[str, Any]:
    """The result of one scenario, under the keys of the case's own; or its error."""
    return {"name": asked.name} | (_result(asked.found) if asked.found else {"error": str(asked.error)})


def _result(answer: Answer) -> dict[str, Any]:
    """What comes of a case: limit, verdict and how sure it is, replacing as an investment, what will be paid."""
    weighing, measures = answer.weighing, answer.measures
    found = None if answer.undecided else answer.verdict
    paybacks = attributes(measures, "simple_payback", "discounted_payback")
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
        **attributes(answer, "wait_a_year", "worth_more_a_year"),
        "reasons": {
            name: "never" if (why := reason_for_none(answer, name)) == name else why
            for name, value in gains.items()
            if not math.isfinite(value)
        },
        "paid_by_year": {cost.name: answer.paid(cost)[: YEARS_AHEAD + 1] for cost in weighing.options},
        "another_bill": {
            option.name: dataclasses.asdict(bill)
            for option, bill in zip(answer.case.options, answer.another_bill, strict=True)
        },
    }


def _remarks(answer: Answer) -> dict[str, Any]:
    """What is said of the entries themselves."""
    found = answer.remarks
    if found is None:
        return {}
    return {
        "beyond_data": found.beyond_data,
        "guarantee": {"years": found.guarantee, "within": answer.guaranteed},
        "claim": found.claim and {**vars(found.claim), "limit": answer.claim_limit, "first": answer.claim is not None},
        "usual_quote": found.usual and attributes(found.usual, "median", "low", "high"),
        "quote_unusual": answer.unusual,
        "look_first": answer.look_first,
    }


def _caution(answer: Answer, caution: Caution, is_open: bool) -> dict[str, Any]:
    return {
        **attributes(caution, "id", "when", "reader", "weight", "danger", "who", "prohibits"),
        "open": is_open,
        "text": Phrases.of(DEFAULT_LANGUAGE, (home := answer.case.household).region, home.place).caution_text(caution),
        "source": caution.source.citation,
    }


def _default(default: DefaultUsed) -> dict[str, Any]:
    figure = default.estimate
    low, high = range_of(default)
    return {
        **attributes(default, "field", "value", "unit"),
        "source": figure.source.citation,
        **attributes(figure, "locator", "year", "status"),
        "low": low,
        "high": high,
        "rule": default.rule,
        "price_year": default.period or figure.price_year,
        **attributes(figure, "published", "index"),
        "stands_for": default.stands_for,
        "note": figure.note,
    }


def _derived(derived: Derived) -> dict[str, Any]:
    return {
        **attributes(derived, "field", "value", "unit", "way"),
        "entered": derived.source,
        **attributes(derived, "low", "high", "status", "counts"),
        "sources": [attributes(basis, "source", "locator", "year", "status", "note") for basis in derived.bases],
        "remarks": list(derived.remarks),
        **derived.facts,
    }
