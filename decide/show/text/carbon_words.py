"""What is said of carbon: a sentence, what each way emits and for what, how sure it is, and who says so."""

import math
from dataclasses import dataclass

from ...answers.answer import Answer
from ...answers.carbon import CarbonAnswer
from ...economics.carbon import CARBON_ENTRIES
from ...economics.case import REPLACE
from ...economics.flows import COST_CATEGORIES
from ...economics.landlord import purchase_weight
from .words import Words

LEAST: float = 0.5
"""Amounts that round to nothing are not told. [kg]"""


@dataclass(frozen=True)
class CarbonRow:
    """What one way emits, as texts."""

    name: str
    total: str
    a_year: str
    parts: tuple[tuple[str, str], ...]
    """What for, and how much of it."""


@dataclass(frozen=True)
class CarbonGround:
    """One figure that it rests on, as texts."""

    label: str
    value: str
    range: str
    source: str
    status: str
    note: str


def kilograms(words: Words, amount: float) -> str:
    """Write kilograms of CO2 equivalent, in whole ones.

    >>> kilograms(Words.of(), 1234.4)
    '1,234 kg CO2e'
    """
    return words.say("carbon.kg", n=words.number(amount, 0))


def carbon_headline(words: Words, found: CarbonAnswer) -> str:
    """Say in one sentence which way emits less."""
    if math.isnan(found.advantage):
        return words.say("carbon.refused")
    facts = {"amount": kilograms(words, abs(found.advantage)), "years": words.years(found.years)}
    if found.close:
        return words.say("carbon.close", **facts)
    if found.advantage > 0:
        return words.say("carbon.repair", other=words.option(found.best_other.name), **facts)
    return words.say("carbon.other", name=words.option(found.best_other.name), **facts)


def carbon_text(words: Words, answer: Answer, found: CarbonAnswer, with_confidence: bool = True) -> list[str]:
    """Say what follows: the most a repair may emit, the payback, the price of carbon, and what was counted how."""
    sentences = []
    if not math.isnan(found.limit):
        sentences += [_limit(words, found), _payback(words, found)]
    if with_confidence and found.confidence is not None:
        sentences.append(_confidence(words, found))
    if found.priced is not None:
        sentences.append(_mixed(words, answer, found))
    else:
        sentences.append(words.say("carbon.apart"))
    return [*sentences, words.say("carbon.basis", years=words.years(found.years)), words.say("carbon.left_out")]


def _limit(words: Words, found: CarbonAnswer) -> str:
    if found.limit < LEAST:
        return words.say("carbon.no_limit")
    emitted = kilograms(words, found.weighing.quoted)
    return words.say("carbon.limit", limit=kilograms(words, found.limit), emitted=emitted)


def _payback(words: Words, found: CarbonAnswer) -> str:
    payback = found.measures.running_payback
    if not math.isfinite(payback):
        return words.say("carbon.no_payback", years=words.years(found.years))
    if payback == 0:
        return words.say("carbon.no_outlay")
    return words.say("carbon.payback", years=words.years(payback))


def _confidence(words: Words, found: CarbonAnswer) -> str:
    confidence = found.confidence
    if confidence is None:
        return ""
    share = dict(zip(confidence.names, confidence.share_least, strict=True))[found.weighing.repair.name]
    low, high = (
        words.say("carbon.less" if end >= 0 else "carbon.more", amount=kilograms(words, abs(end)))
        for end in (confidence.high, confidence.low)
    )
    return words.say("carbon.confidence", share=words.share(share), low=low, high=high)


def _mixed(words: Words, answer: Answer, found: CarbonAnswer) -> str:
    currency = answer.case.household.currency
    limit, before = (each.repair_limit for each in (found.priced, found.in_money) if each is not None)
    if math.isnan(limit):
        return words.say("carbon.refused")
    facts = {
        "price": words.quantity(found.filled.price, "money/t", currency),
        "before": words.money(before, currency) if before >= LEAST else words.say("carbon.nothing"),
    }
    if limit < LEAST:
        return words.say("carbon.mixed_none", **facts)
    return words.say("carbon.mixed", limit=words.money(limit, currency), **facts)


def carbon_rows(words: Words, found: CarbonAnswer) -> list[CarbonRow]:
    """What each way emits over the years, and for what; those that a caution refuses are left out."""
    rows = []
    for option in found.weighing.options[: len(found.filled.case.options)]:
        if option.blocked_by:
            continue
        parts = [
            (words.say(f"carbon.category.{category}"), option.by_category[category]) for category in COST_CATEGORIES
        ]
        total = option.present_cost
        rows.append(
            CarbonRow(
                name=words.option(option.name),
                total=kilograms(words, total),
                a_year=kilograms(words, total / found.years),
                parts=tuple((label, kilograms(words, amount)) for label, amount in parts if abs(amount) >= LEAST),
            )
        )
    return rows


def carbon_grounds(words: Words, answer: Answer, found: CarbonAnswer) -> list[CarbonGround]:
    """Every figure of carbon with who says so; first those of the tables, each once, then those entered."""
    currency, lines = answer.case.household.currency, []
    for each in found.filled.defaults:
        figure = each.estimate
        low, high = (words.figure(end or 0.0, each.unit, currency, each.field) for end in (figure.low, figure.high))
        between = "" if low == high else words.say("carbon.range", low=low, high=high)
        source = words.say(
            "assumption.source", citation=figure.source.citation, locator=figure.locator, year=str(figure.year)
        )
        if figure.status == "judgement":
            source = figure.note
        note = "; ".join(
            filter(None, (words.translated(each.rule), "" if figure.status == "judgement" else figure.note))
        )
        value = words.quantity(each.value, each.unit, currency, each.field)
        line = CarbonGround(words.label(each.field), value, between, source, words.status(figure.status), note)
        if line not in lines:
            lines.append(line)
    units = {name: bounds.unit for name, bounds in CARBON_ENTRIES.items()}
    entered = (
        CarbonGround(
            words.label(f"carbon.{name}"), words.quantity(value, units[name], currency, f"carbon.{name}"), "", "",
            words.say("assumption.entered"), "",
        )
        for name, value in answer.carbon.items()
    )  # fmt: skip
    return [*lines, *entered]


def landlord_text(words: Words, answer: Answer) -> list[str]:
    """Say what a landlord's amounts mean; nothing for a household that lives there."""
    household = answer.case.household
    if household.landlord is None:
        return []
    option = next(o for o in answer.case.options if o.action == REPLACE)
    price = float(option.price)
    weighs = price * float(purchase_weight(household))
    return [
        words.say(
            "landlord.weighs",
            price=words.money(price, household.currency),
            years=words.years(float(len(household.landlord.depreciation))),
            weighs=words.money(weighs, household.currency),
        ),
        words.say("landlord.no_advice"),
    ]
