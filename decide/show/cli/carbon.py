"""The command that says what emits less, beside the money; `cli.py` adds it to the command `mendpoint`."""

from typing import TYPE_CHECKING, Any, Final

from ..terminal.outlet import attributes, print_json
from .given import CaseFile, Figures, Json, answered

if TYPE_CHECKING:
    from ...answers.answer import Answer
    from ...answers.carbon import CarbonAnswer

FIGURES: Final = (
    "electricity", "electricity_growth", "gas", "water", "made", "refrigerant", "repair", "repair_refrigerant",
)  # fmt: skip
"""Figures of what things emit, as other programs get them."""


def carbon(case: CaseFile, figures: Figures = None, json: Json = False) -> None:
    """Say what emits less, repairing or a new one."""
    from ...answers.carbon import carbon_answer

    found = answered(case, figures)
    emitted = carbon_answer(found)
    if json:
        print_json(carbon_data(found, emitted))
    else:
        from ..terminal.layout import Page
        from ..text.report import carbon as pieces
        from ..text.words import Words

        Page().blocks(pieces(Words.for_household(found.case.household), found))


def carbon_data(answer: "Answer", found: "CarbonAnswer") -> dict[str, Any]:
    """The same as plain data, in kilograms of CO2 equivalent."""
    confidence = found.confidence
    return {
        "unit": found.weighing.unit,
        "years": found.years,
        "repair_limit": found.limit,
        "repair": found.weighing.quoted,
        "advantage": found.advantage,
        "payback_years": found.measures.running_payback,
        "options": [
            {
                **attributes(option, "name", "action"),
                "total": option.present_cost,
                **attributes(option, "by_category", "blocked_by"),
            }
            for option in found.weighing.options
        ],
        "figures": attributes(found.filled.figures, *FIGURES),
        "confidence": confidence
        and {
            "draws": confidence.draws,
            "share_least": dict(zip(confidence.names, confidence.share_least, strict=True)),
            **attributes(confidence, "low", "high"),
        },
        "price": found.filled.price,
        "repair_limit_priced": None if found.priced is None else found.priced.repair_limit,
        "repair_limit_money": found.in_money.repair_limit,
        "currency": answer.case.household.currency,
    }
