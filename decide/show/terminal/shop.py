"""Lays out for a terminal, and as plain data, what a shop's job book says of its advice."""

import math
from typing import Any, Final

import numpy as np

from ...answers.shop_bands import Rule, ShopBands
from ...shop.acceptance import NEEDED
from ...shop.bands import AGE_BANDS, Bands, WhatIf
from ..text.words import Words
from .jobs import count
from .layout import Page

BEYOND: Final = 0.1
"""How far beyond the limit an answer is told as well, as a share of the price of new."""

MEASURES: Final = ("jobs_won", "margin", "regret", "gain")


def show_bands(words: Words, found: ShopBands) -> None:
    """Show the bands, what rules of thumb cost beside them, past quotes, answers and what-ifs."""
    page = Page()
    page.line(words.say("bands.title"), "bold")
    for text in bands_text(words, found):
        page.line(text)
    page.heading(words.say("bands.by_age"))
    page.table(
        [words.say(f"bands.{head}") for head in ("age", "repair_up_to", "replace_above")], age_rows(words, found)
    )
    page.heading(words.say("bands.rules"))
    heads = [words.say(f"bands.{head}") for head in ("rule", "regret", "a_job")]
    page.table(heads, rule_rows(words, found), (1, 2))
    page.heading(words.say("bands.past"))
    for text in past_text(words, found):
        page.line(text)
    page.heading(words.say("bands.acceptance"))
    page.line(acceptance_text(words, found))
    page.heading(words.say("bands.what_if"))
    heads = [words.say(f"bands.{head}") for head in ("change", "jobs_won", "margin", "customers", "gain")]
    page.table(heads, what_if_rows(words, found), (1, 2, 3, 4))
    for text in what_if_notes(words, found):
        page.line(text, "dim")


def bands_text(words: Words, found: ShopBands) -> list[str]:
    """Say the bands on the repair limit, and what they rest on."""
    text = words.say("bands.read", jobs=count(words, "job", found.jobs), rows=words.number(found.rows, 0))
    facts = {"lower": threshold(words, found.bands.lower), "higher": threshold(words, found.bands.higher)}
    spread = words.say(
        "bands.spread",
        share=words.percent(found.spread, 0),
        attention=words.money(found.practice.attention, found.currency),
    )
    return [text, words.say(f"bands.on_limit_{'_'.join(found.bands.says)}", **facts), spread]


def threshold(words: Words, value: float) -> str:
    """A threshold in percent; without an end it is `never` below and `always` above."""
    if math.isinf(value):
        return words.say("bands.always" if value > 0 else "bands.never")
    return words.percent(value, 0)


def age_rows(words: Words, found: ShopBands) -> list[tuple[str, str, str]]:
    """Bands of each stretch of ages."""
    rows = []
    for bands, low, high in zip(found.by_age, AGE_BANDS[:-1], AGE_BANDS[1:], strict=True):
        ages = words.say("bands.ages", low=words.number(low, 0), high=words.years(high))
        stretch = words.say("bands.ages_from", low=words.years(low)) if math.isinf(high) else ages
        rows.append((stretch, threshold(words, bands.lower), _replaced(words, bands)))
    return rows


def _replaced(words: Words, bands: Bands) -> str:
    """Above what share to replace; nothing above without an end."""
    return words.say("bands.never") if bands.higher == math.inf else threshold(words, bands.higher)


def rule_rows(words: Words, found: ShopBands) -> list[tuple[str, str, str]]:
    """What is regretted by each rule, in all and a job."""
    return [
        (
            rule_text(words, found, rule),
            words.money(rule.regret, found.currency),
            words.money(rule.regret / found.jobs, found.currency, cents=True),
        )
        for rule in found.rules
    ]


def rule_text(words: Words, found: ShopBands, rule: Rule) -> str:
    """Name a rule; the ceiling of the last is rounded as one would remember it."""
    if math.isnan(rule.figure):
        return words.say(f"bands.{rule.name}")
    if math.isinf(rule.figure):
        return words.say(f"bands.{rule.name}_{'never' if rule.figure < 0 else 'always'}")
    return words.say(f"bands.{rule.name}", ceiling=words.money(rule.figure, found.currency))


def past_text(words: Words, found: ShopBands) -> list[str]:
    """Say how many quotes lay above the limit and what that cost, and what was passed up within it."""
    past = found.past
    above = words.say(
        "bands.past_above",
        above=words.number(past.above, 0),
        quotes=count(words, "quote", past.quotes),
        accepted=words.number(past.accepted_above, 0),
        cost=words.money(past.paid_too_much, found.currency),
    )
    within = words.say(
        "bands.past_within",
        declined=count(words, "quote", past.declined_within),
        cost=words.money(past.passed_up, found.currency),
    )
    return [above, within]


def acceptance_text(words: Words, found: ShopBands) -> str:
    """Say how customers answer, and whether that is the book's word or a judgement."""
    age = float(np.median(found.answers.age)) if len(found.answers.age) else 0.0
    at_limit = [float(np.asarray(curve.chance(0.0, age))) for curve in found.curves]
    if found.fit is None:
        ends = {"low": words.percent(min(at_limit), 0), "high": words.percent(max(at_limit), 0)}
        if found.answers.rarer >= NEEDED:
            return words.say("bands.judged_parted", **ends)
        counts = {"n": words.number(found.answers.rarer, 0), "needed": words.number(NEEDED, 0)}
        return words.say("bands.judged_few", **counts, **ends)
    sentences = []
    for excess in (0.0, BEYOND):
        low, high = found.fit.interval(np.array([[excess, age]]))
        middle = float(np.asarray(found.curves[0].chance(excess, age)))
        ends = {"low": words.percent(float(low[0]), 0), "high": words.percent(float(high[0]), 0)}
        sentences.append(words.say("bands.chance", middle=words.percent(middle, 0), **ends))
    n = words.number(found.fit.records, 0)
    return words.say("bands.fitted", n=n, at_limit=sentences[0], beyond=sentences[1], years=words.years(age))


def what_if_rows(words: Words, found: ShopBands) -> list[tuple[str, ...]]:
    """What each change does to jobs won, margin, regret and gain; a range where the answers of customers are judged."""
    days = words.quantity(found.practice.warranty, "day", found.currency)
    facts = {
        "share": words.percent(found.practice.dearer, 1),
        "days": days,
        "before": words.quantity(found.warranty_now, "day", found.currency),
    }
    return [
        (words.say(f"bands.{name}", **facts), *(_moved(words, found, change, each) for each in MEASURES))
        for name, change in found.what_ifs.items()
    ]


def _moved(words: Words, found: ShopBands, change: WhatIf, measure: str) -> str:
    ends = change.change(measure)
    low, high = (words.number(end, 1) if measure == "jobs_won" else words.money(end, found.currency) for end in ends)
    return low if low == high else words.say("bands.between", low=low, high=high)


def what_if_notes(words: Words, found: ShopBands) -> list[str]:
    """Say what the what-ifs take for granted."""
    sentences = [words.say("bands.margin_note", share=words.percent(found.practice.cost, 0))]
    sentences.append(words.say("bands.callbacks_note"))
    return sentences if "labour" in found.what_ifs else [*sentences, words.say("bands.no_labour")]


def bands_data(found: ShopBands) -> dict[str, Any]:
    """The same as plain data."""
    return {
        "currency": found.currency,
        "rows": found.rows,
        "jobs": found.jobs,
        "bands_on_quote_over_limit": _bands_data(found.bands),
        "bands_by_age_on_share_of_price": [
            {"from_age": low, "to_age": high, **_bands_data(bands)}
            for bands, low, high in zip(found.by_age, AGE_BANDS[:-1], AGE_BANDS[1:], strict=True)
        ],
        "spread": found.spread,
        "attention": found.practice.attention,
        "rules": [{"rule": rule.name, "regret": rule.regret, "figure": rule.figure} for rule in found.rules],
        "past": {
            "quotes": found.past.quotes,
            "above": found.past.above,
            "accepted_above": found.past.accepted_above,
            "paid_too_much": found.past.paid_too_much,
            "declined_within": found.past.declined_within,
            "passed_up": found.past.passed_up,
        },
        "acceptance": {
            "fitted": found.fit is not None,
            "records": len(found.answers.accepted),
            "why_judged": found.why_judged,
            "curves": [
                {"level": curve.level, "by_excess": curve.by_excess, "by_age": curve.by_age} for curve in found.curves
            ],
            "standard_errors": None if found.fit is None else found.fit.standard_errors,
        },
        "what_if": {
            name: {measure: change.change(measure) for measure in MEASURES} for name, change in found.what_ifs.items()
        },
    }


def _bands_data(bands: Bands) -> dict[str, Any]:
    """Thresholds, and the words that they part; a threshold without an end is null."""
    return {
        "says": list(bands.says),
        "repair_up_to": bands.lower if math.isfinite(bands.lower) else None,
        "replace_above": bands.higher if math.isfinite(bands.higher) else None,
    }
