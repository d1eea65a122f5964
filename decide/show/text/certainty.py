"""How sure an answer is and what would change it: from numbers to sentences and rows.

Uncertain figures and chance are kept separate, never in one sentence.
"""

import math
from dataclasses import dataclass
from typing import Final

from ...answers.answer import Answer
from ...answers.confidence import ends_of_nine
from ...answers.limits import RuleCost
from ...economics.breakeven import STUDY_PERIOD, BreakevenValues
from ...economics.case import inputs, option_paths
from ...economics.decision import ENDS, DecisionConfidence
from ...economics.outcomes import OutcomeDistribution
from ...economics.uncertainty import Range
from .words import HALF, Words

WORTH_FINDING: Final = 3
"""How many things to find out are named."""

MOVERS: Final = 6
"""How many of the ranges that move the answer most are shown."""


NOT_TO_BE_FOUND: Final = frozenset({
    "life_shape", "failure_free_years", "efficiency_degradation_rate", "efficiency_degradation_cap",
    "later_repair_median", "later_repair_log_sd", "planned_replacement_years", "callback_window", "residual_share",
    "resale_share", "financed_share", "most_today",
    "inflation", "electricity_escalation", "gas_escalation", "water_escalation", "price_escalation", "rebate",
    "trade_in", "financed", "loan_rate", "loan_years", "fee_credit", "fee_if_declined",
})  # fmt: skip
"""What nobody can find out before deciding, or is known once it is entered."""


@dataclass(frozen=True)
class Line:
    """A label, what it says, and what stands small below; one that looks unlike the others has a name."""

    label: str
    text: str
    small: str = ""
    name: str = ""


def confidence_text(words: Words, answer: Answer, confidence: DecisionConfidence) -> list[str]:
    """Say how sure the verdict is: the plain sentence first."""
    if answer.all_that_can_be_paid:
        return [words.say("headline.cash", most=words.money(answer.case.household.most_today))]
    if not confidence.ranges:
        return [words.say("confidence.certain")]
    amount, name = confidence.expected_regret, confidence.names[confidence.verdict]
    regret = words.say("confidence.no_regret")
    if amount >= HALF:
        regret = words.say("confidence.regret", amount=words.money(amount))
    share = words.share(answer.verdict.share_by_act[answer.verdict.act])
    key = "repair" if name == answer.case.repair.name else "other"
    ends = ends_of_nine(confidence)
    way = "either" if ends[0] < 0 <= ends[1] else "cheaper" if ends[0] >= 0 else "dearer"
    low, high = (words.money(abs(end)) for end in (ends if way != "dearer" else reversed(ends)))
    headline = words.say(f"confidence.{key}", share=share, name=words.option(name), regret=regret)
    return [headline, words.say(f"confidence.{way}", low=low, high=high)]


def limit_text(words: Words, low: float, high: float) -> list[str]:
    """Say between what the highest quote worth paying lies, where no quote has come yet."""
    if high < HALF:
        return [words.say("confidence.never")]
    least = words.money(low) if low >= HALF else words.say("confidence.nothing")
    return [words.say("confidence.limit", low=least, high=words.money(high))]


def outcome_distribution_text(words: Words, answer: Answer, lived: OutcomeDistribution) -> str:
    """Say what luck does, in a sentence of its own."""
    ends = dict(zip(lived.spread.levels, lived.spread.quantiles, strict=True))
    low, high = (words.money(ends[level]) for level in ENDS)
    name = words.option_name(answer, int(answer.weighing.best))
    facts = {"years": words.years(lived.years), "name": name, "mean": words.money(lived.spread.mean)}
    return (
        words.say("confidence.no_outcome_distribution", **facts)
        if low == high
        else words.say("confidence.outcome_distribution", low=low, high=high, **facts)
    )


# what is worth finding out, and what moves the answer


def worth_finding(words: Words, confidence: DecisionConfidence) -> list[Line]:
    """What is worth finding out before deciding, most first: at most three, each worth at least one unit of money."""
    ranked = sorted(zip(confidence.evppi, confidence.ranges, strict=True), key=lambda pair: -pair[0])
    found: dict[str, Line] = {}
    for worth, each in ranked:
        name = each.paths[0].rpartition(".")[2]
        what = "" if name in NOT_TO_BE_FOUND else words.say(f"find.{name}")
        if what and worth >= 1 and what not in found:
            text = words.say("find.worth", what=what, amount=words.money(worth))
            found[what] = Line(range_label(words, each), text)
    return list(found.values())[:WORTH_FINDING]


def nothing_to_find(words: Words, confidence: DecisionConfidence) -> str:
    """Say that nothing is worth finding out."""
    if confidence.evpi < HALF:
        return words.say("find.next_to_nothing")
    return words.say("find.nothing", amount=words.money(confidence.evpi))


def range_label(words: Words, each: Range) -> str:
    """Name what a range is about; what one figure fills in several places is named without a place."""
    return words.label(each.paths[0]) if len(each.paths) > 1 else words.full_label(each.paths[0])


@dataclass(frozen=True)
class Mover:
    """A range, and the advantage of repairing at both its ends. [money]"""

    label: str
    low: str
    """Its low end as text."""
    high: str
    at_low: float
    at_high: float


def movers(words: Words, answer: Answer, confidence: DecisionConfidence) -> list[Mover]:
    """The ranges that move the advantage of repairing most, those that move it by nothing left out."""
    ranked = sorted(
        zip(confidence.bars, confidence.ranges, strict=True), key=lambda pair: -abs(pair[0].high - pair[0].low)
    )
    return [
        Mover(range_label(words, each), *_ends_of(words, answer, each), bar.low, bar.high)
        for bar, each in ranked[:MOVERS]
        if abs(bar.high - bar.low) >= HALF
    ]


def _ends_of(words: Words, answer: Answer, each: Range) -> tuple[str, str]:
    """Both ends of a range as text; the unit stands at the high end."""
    unit = next(entry.bounds.unit for entry in inputs(answer.case) if entry.path == each.paths[0])
    low, high = each.lows[0], each.highs[0]
    if unit == "money":
        return words.money(low), words.money(high)
    path = each.paths[0]
    return words.figure(low, unit, path), words.quantity(high, unit, path)


# where it flips


def quote_row(words: Words, answer: Answer) -> Line:
    """The highest quote worth paying, which is where the quote makes the verdict flip."""
    limit = answer.weighing.repair_limit
    text = words.say("breakeven.no_quote") if limit < 0 else words.money(limit)
    return Line(words.say("breakeven.quote"), text)


def breakeven_row(words: Words, answer: Answer, found: BreakevenValues) -> Line:
    """Say where the verdict flips on one input, and what the input is now."""
    case = answer.case
    now = next(float(entry.value) for entry in inputs(case) if entry.path == found.path)
    value = shown(words, now, found.unit, found.path)
    text = words.say("breakeven.now", text=breakeven_text(words, found), value=value)
    return Line(_breakeven_label(words, answer, found.path), text)


def breakeven_text(words: Words, found: BreakevenValues) -> str:
    """Say where the verdict flips, and which side wins there."""
    low, high, *at = (shown(words, each, found.unit, found.path) for each in (found.low, found.high, *found.values))
    if len(at) > 2:
        return words.say("breakeven.many", all=", ".join(at))
    key = (("none_other", "none_repair"), ("from", "up_to"), ("between", "outside"))[len(at)][found.repair_wins_at_low]
    return words.say(f"breakeven.{key}", low=low, high=high, **dict(zip(("first", "second"), at, strict=False)))


def _breakeven_label(words: Words, answer: Answer, path: str) -> str:
    place, _, name = path.rpartition(".")
    if path in ("appliance.age", "household.electricity_price", "household.gas_price", STUDY_PERIOD):
        return words.say(f"breakeven.{name}")
    options = dict(zip(option_paths(answer.case), answer.case.options, strict=True))
    if name == "price" and place in options:
        return words.say("breakeven.price", name=words.option(options[place].name))
    return words.full_label(path)


def shown(words: Words, value: float, unit: str, path: str = "") -> str:
    """Write a value as an answer has it: no finer than it is worth."""
    if unit == "year":
        return words.years(value) if value else words.quantity(0.0, unit)
    if unit == "money":
        return words.money(value)
    return words.quantity(value, unit, path)


def rule_text(words: Words, rule: RuleCost) -> str:
    """Say a rule of thumb; a ceiling is told to two digits."""
    if math.isnan(rule.figure):
        return words.say("rule.half")
    if rule.rule == "half_until":
        return words.say("rule.half_until", years=words.years(rule.figure))
    return words.say("rule.age_times_quote", ceiling=words.money(float(f"{rule.figure:.2g}")))
