"""What a sentence turns on: facts of an answer by which words are chosen, as the keys of the texts name them."""

import math
from typing import Final

from ...answers.answer import Answer
from ...economics.case import REPAIR, option_paths
from ...economics.flows import flows_of, money
from ...economics.weigh import OptionCost
from ...load.cases.filled import NO_FAULT
from .grounds import one
from .phrases import rounded
from .ruler import rival_of

RUNNING: Final = ("electricity", "gas", "water", "maintenance_and_repair")
"""Categories that a unit has each year as long as it runs."""

FLOWS: Final = ("electricity", "gas", "water")


def has_quote(answer: Answer) -> bool:
    """Whether somebody has said what the repair costs."""
    return not math.isnan(answer.weighing.quoted)


def with_cents(answer: Answer) -> bool:
    """Whether money that is paid today is told to the cent: where the quote has some."""
    return has_quote(answer) and rounded(answer.weighing.quoted, 2) != rounded(answer.weighing.quoted)


def ruled_out(answer: Answer) -> tuple[str, ...]:
    """Cautions that rule the repair out."""
    return answer.weighing.repair.blocked_by


def none_found(answer: Answer) -> tuple[str, ...]:
    """The order that goes first where no fault was found."""
    return tuple(caution.id for caution in answer.cautions if caution.id == NO_FAULT)


def two_repairs(answer: Answer) -> bool:
    """Whether two repairs of the fault are weighed that both may be made."""
    refused = answer.weighing.stopped_by or none_found(answer)
    return answer.second is not None and not refused and not math.isnan(answer.second.weighing.repair_limit)


def worth_counts(answer: Answer) -> bool:
    """Whether the quote of a repair is beside what it is worth: somebody pays it, and could choose something else."""
    close, found = answer.close, answer.verdict
    if answer.undecided or answer.claim or answer.all_that_can_be_paid or answer.weighing.repair_limit < 0:
        return False
    return not close or REPAIR in (found.act, found.second_act)


def is_usual(answer: Answer, cost: OptionCost[float]) -> bool:
    """Whether an option is a new unit of its class that nobody has named."""
    return bool(getattr(cost.name, "facts", {}).get("kind") == answer.case.appliance_of(cost.option).kind)


def is_planned(answer: Answer, index: int) -> bool:
    """Whether an option of a weighing is running the repaired unit for some years and then replacing it."""
    return index >= len(answer.case.options)


def course(answer: Answer) -> str:
    """What to do, as the keys of the texts name it."""
    best = int(answer.weighing.best)
    return "repair_planned" if is_planned(answer, best) else answer.weighing.options[best].action


def settled_by(answer: Answer) -> str:
    """What may settle a close call: a figure that was taken, and that can be had."""
    taken = {default.field for default in answer.defaults}
    path = option_paths(answer.case)[answer.weighing.options.index(rival_of(answer))]
    if f"{path}.price" in taken:
        return "price"
    measurable = "appliance.electricity" in taken and answer.case.appliance.electricity
    return "electricity" if measurable else "nothing"


def yearly_flow(answer: Answer, cost: OptionCost[float], category: str) -> float:
    """A unit's yearly flow of one category, in the flow's own unit."""
    return one(flows_of(answer.case, cost.option).yearly.get(category, 0.0))


def running_cost(answer: Answer, cost: OptionCost[float]) -> float:
    """What a unit takes a year to run and keep up, at today's prices. [money/year]"""
    prices = money(answer.case.household)
    return sum(one(prices.cost(category, yearly_flow(answer, cost, category))) for category in RUNNING)


def reason_for_none(answer: Answer, name: str) -> str:
    """Why a measure does not exist, as the keys of the texts name it."""
    measures, costs = answer.measures, answer.weighing.options
    if costs[measures.repair].blocked_by:
        return "refused"
    if math.isnan(answer.weighing.quoted):
        return "quote"
    if measures.years < 1 and name not in ("savings_to_investment_ratio", "adjusted_internal_rate_of_return"):
        return "short"
    if name == "adjusted_internal_rate_of_return" and math.isinf(answer.case.household.study_period):
        return "study_period"
    if name == "internal_rate_of_return" and costs[measures.replacement].today > costs[measures.repair].today:
        return "no_single_rate"
    return name
