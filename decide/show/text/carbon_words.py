"""What is said of carbon: a sentence, what each way emits and for what, how sure it is, and who says so."""

import datetime
import math
from typing import Final

from ...answers.answer import Answer
from ...answers.carbon import CarbonAnswer
from ...economics.carbon import CARBON_ENTRIES, CarbonConfidence
from ...economics.case import REPLACE
from ...economics.flows import COST_CATEGORIES
from ...economics.landlord import purchase_weight
from .words import Assumption, Words

LEAST: Final = 0.5
"""Amounts that round to nothing are not told. [kg]"""


def kilograms(words: Words, amount: float) -> str:
    """Write kilograms of CO2 equivalent, in whole ones."""
    return words.say("carbon.kg", n=words.number(amount, 0))


def carbon_headline(words: Words, found: CarbonAnswer) -> str:
    """Say in one sentence which way emits less."""
    if math.isnan(found.advantage):
        return words.say("carbon.refused")
    facts = {"amount": kilograms(words, abs(found.advantage)), "years": words.years(found.years)}
    if found.close:
        return words.say("carbon.close", **facts)
    other = words.option(found.best_other.name)
    return words.say("carbon.repair" if found.advantage > 0 else "carbon.other", other=other, name=other, **facts)


def carbon_text(words: Words, found: CarbonAnswer) -> list[str]:
    """Say what follows: the most a repair may emit, the payback, the price of carbon, and what was counted how."""
    sentences = []
    if not math.isnan(found.limit):
        facts = {"limit": kilograms(words, found.limit), "emitted": kilograms(words, found.weighing.quoted)}
        sentences.append(words.say("carbon.no_limit" if found.limit < LEAST else "carbon.limit", **facts))
        payback = found.measures.running_payback
        key = "no_payback" if not math.isfinite(payback) else "payback" if payback else "no_outlay"
        years = words.years(payback if math.isfinite(payback) else found.years)
        sentences.append(words.say(f"carbon.{key}", years=years))
    if found.confidence is not None:
        sentences.append(_confidence(words, found.confidence, found.weighing.repair.name))
    sentences.append(words.say("carbon.apart") if found.priced is None else _mixed(words, found))
    return [*sentences, words.say("carbon.basis", years=words.years(found.years)), words.say("carbon.left_out")]


def _confidence(words: Words, confidence: CarbonConfidence, repair: str) -> str:
    share = dict(zip(confidence.names, confidence.share_least, strict=True))[repair]
    low, high = (
        words.say("carbon.less" if end >= 0 else "carbon.more", amount=kilograms(words, abs(end)))
        for end in (confidence.high, confidence.low)
    )
    return words.say("carbon.confidence", share=words.share(share), low=low, high=high)


def _mixed(words: Words, found: CarbonAnswer) -> str:
    limit, before = (each.repair_limit for each in (found.priced, found.in_money) if each is not None)
    if math.isnan(limit):
        return words.say("carbon.refused")
    facts = {
        "price": words.quantity(found.filled.price, "money/t"),
        "before": words.money(before) if before >= LEAST else words.say("carbon.nothing"),
    }
    return words.say("carbon.mixed_none" if limit < LEAST else "carbon.mixed", limit=words.money(limit), **facts)


def carbon_rows(words: Words, found: CarbonAnswer) -> list[tuple[str, ...]]:
    """What each way emits over the years: a head, a row for each thing that it is emitted for, the sum, and a year's.

    Ways that a caution refuses are left out.
    """
    ways = [way for way in found.weighing.options[: len(found.filled.case.options)] if not way.blocked_by]
    totals = [way.present_cost for way in ways]
    rows = [(words.say(f"carbon.category.{each}"), [way.by_category[each] for way in ways]) for each in COST_CATEGORIES]
    rows = [row for row in rows if any(abs(amount) >= LEAST for amount in row[1])]
    rows.append((words.say("terminal.carbon.total"), totals))
    rows.append((words.say("terminal.carbon.a_year"), [total / found.years for total in totals]))
    heads = (words.say("terminal.carbon.option"), *(words.option(way.name) for way in ways))
    return [heads, *((label, *(kilograms(words, amount) for amount in amounts)) for label, amounts in rows)]


def carbon_grounds(words: Words, answer: Answer, found: CarbonAnswer) -> list[Assumption]:
    """Every figure of carbon with who says so; first those of the tables, each once, then those entered."""
    status = words.say("assumption.entered")
    year = (answer.today or datetime.date.today()).year
    taken = dict.fromkeys(words.taken(each, year) for each in found.filled.defaults)
    entered = (
        words.assumed(f"carbon.{name}", value, CARBON_ENTRIES[name].unit, status=status)
        for name, value in answer.carbon.items()
    )
    return [*taken, *entered]


def landlord_text(words: Words, answer: Answer) -> list[str]:
    """Say what a landlord's amounts mean; nothing for a household that lives there."""
    household = answer.case.household
    if household.landlord is None:
        return []
    option = next(o for o in answer.case.options if o.action == REPLACE)
    amounts = {"price": float(option.price), "weighs": float(option.price * purchase_weight(household))}
    facts = {name: words.money(amount) for name, amount in amounts.items()}
    years = words.years(float(len(household.landlord.depreciation)))
    return [words.say("landlord.weighs", years=years, **facts), words.say("landlord.no_advice")]
