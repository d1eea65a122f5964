"""What the charts draw, in numbers: one source for the screens and for paper."""

import math
from dataclasses import dataclass

from ...answers.answer import Answer
from ...economics.case import REPAIR
from ...economics.flows import COST_CATEGORIES
from ...economics.weigh import OptionCost
from ..text.words import Words


@dataclass(frozen=True)
class Breakeven:
    """Cost of repairing against the quote, and the level of the cheapest other way. [money]"""

    last: float
    """Highest quote shown."""
    level: float
    cost: tuple[float, float]
    """Cost of repairing at a quote of nothing, and at the highest: it rises one for one, so the line is exact."""


def breakeven_drawn(answer: Answer, words: Words) -> Breakeven:
    """The lines of the break-even chart, up to a quote that shows both the limit and the quote."""
    limit, quoted = answer.weighing.repair_limit, answer.weighing.quoted
    level = cheapest_other(answer, words)[0].present_cost
    last = 1.6 * max(limit, 0.0 if math.isnan(quoted) else quoted, abs(limit) / 2, 1.0)
    return Breakeven(last, level, (level - limit, level + last - limit))


def shown_options(answer: Answer, words: Words) -> list[int]:
    """The options that have figures to show: those not ruled out, and plans only where they bring something."""
    return [index for index, row in enumerate(words.options(answer)) if row.today and not row.hidden]


def shown_categories(answer: Answer, words: Words) -> tuple[str, ...]:
    """Categories that cost anything with any option that is shown, in their order."""
    costs = [answer.weighing.options[index] for index in shown_options(answer, words)]
    return tuple(
        category for category in COST_CATEGORIES if any(abs(cost.by_category[category]) >= 0.5 for cost in costs)
    )


def cheapest_other(answer: Answer, words: Words) -> tuple[OptionCost[float], str]:
    """What a repair is up against: the cheapest other way that no caution refuses."""
    others = [cost for cost in answer.weighing.options if cost.action != REPAIR and not cost.blocked_by]
    cheapest = min(others, key=lambda cost: (cost.left_out, cost.present_cost))
    return cheapest, words.option(cheapest.name)


def breakeven_alt(answer: Answer, words: Words) -> str:
    """Say what the break-even chart shows, from the same numbers."""
    limit, gap = answer.weighing.repair_limit, answer.weighing.advantage
    other, name = cheapest_other(answer, words)
    sentences = [words.say("chart.breakeven_alt", name=name, other=in_money(words, answer, other.present_cost))]
    if limit > 0:
        sentences.append(words.say("chart.breakeven_limit", limit=in_money(words, answer, limit)))
        if not math.isnan(gap):
            facts = {"quote": in_money(words, answer, answer.weighing.quoted), "gap": in_money(words, answer, abs(gap))}
            sentences.append(
                words.say("chart.breakeven_quoted" if gap >= 0 else "chart.breakeven_quoted_above", **facts)
            )
    else:
        sentences.append(words.say("chart.breakeven_never", gap=in_money(words, answer, -limit)))
    return " ".join(sentences)


def in_money(words: Words, answer: Answer, amount: float) -> str:
    """Write an amount in the money of the case."""
    return words.money(amount, answer.case.household.currency)
