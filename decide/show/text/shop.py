"""What a shop's job book says of its advice, and a quote held to its limit: from numbers to sentences and rows."""

import math
from collections.abc import Iterator
from functools import partial
from typing import Final

import numpy as np
from babel.dates import format_date

from ...answers.shop_bands import Rule, ShopBands
from ...answers.shop_groups import MEASURES as MEASURES_COMPARED
from ...answers.shop_groups import Comparison
from ...answers.shop_policy import FEE_STEP, labour_factor, markup_tried
from ...answers.shop_quote import ShopQuote
from ...shop.acceptance import NEEDED
from ...shop.bands import Bands, WhatIf
from ...shop.comparison import Difference
from .jobs import count, loss_text
from .words import Words

BEYOND: Final = 0.1
"""How far beyond the limit an answer is told as well, as a share of the price of new."""


MOST_GROUPS: Final = 15
"""Groups of a trait that are listed."""

MEASURES: Final = ("jobs_won", "margin", "gain")


def bands_text(words: Words, found: ShopBands) -> list[str]:
    """Say the bands on the repair limit, and what they rest on."""
    text = words.say("bands.read", jobs=count(words, "job", found.jobs), rows=words.number(found.rows, 0))
    spread = words.say(
        "bands.spread",
        share=words.percent(found.spread, 0),
        attention=words.money(found.practice.attention),
    )
    return [text, bands_sentence(words, found.bands), spread]


def bands_sentence(words: Words, bands: Bands) -> str:
    """Say up to which share of the limit to say what."""
    facts = {"lower": threshold(words, bands.lower), "higher": threshold(words, bands.higher)}
    return words.say(f"bands.on_limit_{'_'.join(bands.says)}", **facts)


def threshold(words: Words, value: float) -> str:
    """A threshold in percent; without an end it is `never` below and `always` above."""
    if math.isinf(value):
        return words.say("bands.always" if value > 0 else "bands.never")
    return words.percent(value, 0)


def rule_rows(words: Words, found: ShopBands) -> list[tuple[str, str, str]]:
    """What is regretted by each rule, in all and a job."""
    return [
        (rule_text(words, rule), words.money(rule.regret), words.money(rule.regret / found.jobs, cents=True))
        for rule in found.rules
    ]


def rule_text(words: Words, rule: Rule) -> str:
    """Name a rule; the ceiling of the last is rounded as one would remember it."""
    if math.isnan(rule.figure):
        return words.say(f"bands.{rule.name}")
    if math.isinf(rule.figure):
        return words.say(f"bands.{rule.name}_{'never' if rule.figure < 0 else 'always'}")
    return words.say(f"bands.{rule.name}", ceiling=words.money(rule.figure))


def past_text(words: Words, found: ShopBands) -> list[str]:
    """Say how many quotes lay above the limit and what that cost, and what was passed up within it."""
    past = found.past
    above = words.say(
        "bands.past_above",
        above=words.number(past.above, 0),
        quotes=count(words, "quote", past.quotes),
        accepted=words.number(past.accepted_above, 0),
    )
    within = words.say("bands.past_within", declined=count(words, "quote", past.declined_within))
    losses = (loss_text(words, loss) for loss in (past.paid_too_much, past.passed_up))
    return [f"{counted} {lost}" for counted, lost in zip((above, within), losses, strict=True)]


def acceptance_text(words: Words, found: ShopBands) -> str:
    """Say how customers answer, and whether that is the book's word or a judgement."""
    age = float(np.median(found.answers.age)) if len(found.answers.age) else 0.0
    at_limit = [float(curve.chance(0.0, age)) for curve in found.curves]
    if found.fit is None:
        ends = {"low": words.percent(min(at_limit), 0), "high": words.percent(max(at_limit), 0)}
        if found.answers.rarer >= NEEDED:
            return words.say("bands.judged_parted", **ends)
        counts = {"n": words.number(found.answers.rarer, 0), "needed": words.number(NEEDED, 0)}
        return words.say("bands.judged_few", **counts, **ends)
    sentences = []
    for excess in (0.0, BEYOND):
        low, high = found.fit.interval(np.array([[excess, age]]))
        middle = float(found.curves[0].chance(excess, age))
        ends = {"low": words.percent(float(low[0]), 0), "high": words.percent(float(high[0]), 0)}
        sentences.append(words.say("bands.chance", middle=words.percent(middle, 0), **ends))
    n = words.number(found.fit.records, 0)
    return words.say("bands.fitted", n=n, at_limit=sentences[0], beyond=sentences[1], years=words.years(age))


def what_if_rows(words: Words, found: ShopBands) -> list[tuple[str, ...]]:
    """What each change does to jobs won, margin and gain; a range where the answers of customers are judged."""
    practice, costs = found.practice, found.costs
    facts = {
        "share": words.percent(labour_factor(costs, practice) - 1, 1),
        "days": words.quantity(practice.warranty, "day"),
        "before": words.quantity(found.warranty_now, "day"),
        "markup": words.percent(markup_tried(costs, practice), 0),
        "markup_now": words.percent(costs.markup, 0),
        "fee": words.money(practice.fee or 0.0),
        "way": words.say(f"quoting.way.{practice.way.replace('-', '_')}").lower(),
    }
    return [
        (words.say(f"bands.{name}", **facts), *(_moved(words, change, each) for each in MEASURES))
        for name, change in found.what_ifs.items()
    ]


def _moved(words: Words, change: WhatIf, measure: str) -> str:
    ends = change.change(measure)
    if any(map(math.isnan, ends)):
        return words.say("bands.untold")
    low, high = (words.number(end, 1) if measure == "jobs_won" else words.money(end) for end in ends)
    return low if low == high else words.say("bands.between", low=low, high=high)


def what_if_notes(words: Words, found: ShopBands) -> Iterator[str]:
    """Say what the what-ifs take for granted: costs, calls and answers; and that new units stand beside them."""
    practice, costs, money = found.practice, found.costs, words.money
    facts = {"overhead": words.percent(practice.overhead, 0), "known": words.percent(costs.known_share, 0)}
    facts |= {name: money(getattr(practice, name)) for name in ("hour_cost", "way_cost")} | {
        "markup": words.percent(costs.markup, 0)
    }
    share = practice.missing_cost if practice.cost is None else practice.cost
    key = "bands.costs_note" if costs.known_share else "bands.margin_note"
    yield words.say(key, share=words.percent(share, 0), **facts)
    lost = {"share": words.percent(practice.calls_lost, 1), "step": money(FEE_STEP)}
    yield words.say("bands.calls_note", **lost)
    yield words.say("bands.callbacks_note")
    if found.new_units is not None:
        sold = found.new_units
        amounts = {"margin": money(sold.margin), "total": money(sold.replaced * sold.margin)}
        yield words.say("bands.new_units", jobs=count(words, "job", sold.replaced), **amounts)
    if "labour" not in found.what_ifs:
        yield words.say("bands.no_labour")


# groups


def group_table(words: Words, found: Comparison, trait: str) -> tuple[list[str], list[tuple[str, ...]]]:
    """Headings, and each group of a trait with its difference in each measure; what is named and the largest first."""
    by_group: dict[str, dict[str, Difference]] = {}
    for each in found.by[trait]:
        by_group.setdefault(each.group, {})[each.measure] = each
    named = {each.group for each in found.named(trait)}
    jobs = {group: max(each.jobs for each in those.values()) for group, those in by_group.items()}
    order = sorted(by_group, key=lambda group: (group not in named, -jobs[group]))
    if trait == "month":
        order = sorted(by_group, reverse=True)
    measures = [measure for measure in MEASURES_COMPARED if any(measure in those for those in by_group.values())]
    heads = [words.say(f"compare.{head}") for head in ("group", "jobs", *measures)]
    return heads, [
        (
            group_name(words, found, trait, group),
            words.number(jobs[group], 0),
            *(_moved_by(words, by_group[group].get(measure)) for measure in measures),
        )
        for group in order[:MOST_GROUPS]
    ]


def group_name(words: Words, found: Comparison, trait: str, group: str) -> str:
    """What a group is called."""
    if trait == "since" and found.since is not None:
        return words.say("compare.since", day=format_date(found.since, "medium", locale=words.locale))
    return words.kind(group) if trait == "class" else group


def _moved_by(words: Words, each: Difference | None) -> str:
    if each is None:
        return ""
    value, low, high = (_signed(words, each.measure, getattr(each, end)) for end in ("value", "low", "high"))
    return words.say("bands.chance", middle=value, low=low, high=high)


def _signed(words: Words, measure: str, value: float) -> str:
    write = {"price": lambda: words.percent(value, 0), "brings": lambda: words.money(value)}
    text = write.get(measure, lambda: words.number(100 * value, 0))()
    return f"+{text}" if value > 0 else text


def named_text(words: Words, found: Comparison, trait: str) -> list[str]:
    """Say who differs from the others by more than chance, or that nobody does."""
    named = found.named(trait)
    if not named:
        return [words.say("compare.none", trait=words.say(f"compare.by.{trait}"))]
    return [
        words.say(
            "compare.named",
            group=group_name(words, found, trait, each.group),
            measure=words.say(f"compare.{each.measure}"),
            difference=_moved_by(words, each),
        )
        for each in named
    ]


def compare_notes(words: Words, found: Comparison) -> list[str]:
    """Say what a comparison holds to what, and how a name comes to be given."""
    chance = {"chance": words.percent(found.naming_chance, 0)}
    return [words.say("compare.note"), words.say("compare.chance_note", **chance), words.say("compare.money_note")]


# a quote


def fee_rows(words: Words, found: ShopQuote) -> list[tuple[str, ...]]:
    """Each way with the fee: the customer's price, the chance that it is accepted, and what the shop can expect."""
    rows = []
    for each in found.fees:
        chance = [words.percent(end, 0) for end in each.chance]
        income = [words.money(end) for end in each.income]
        rows.append(
            (
                words.say(f"quoting.way.{each.name.replace('-', '_')}"),
                words.money(each.price, cents=True),
                *(words.say("bands.between", low=low, high=high) for low, high in (chance, income)),
            )
        )
    return rows


def verdict_text(words: Words, found: ShopQuote) -> str:
    """Say whether the quote may be recommended, how far above the limit it is, and what would be at the limit."""
    limit, facts = float(found.held.limit), {"quote": words.money(found.held.quote, cents=True)}
    if np.isnan(limit):
        return words.say("quoting.refused", **facts)
    if limit < 0:
        return words.say("quoting.never", **facts)
    facts["limit"] = words.money(limit, cents=True)
    if not found.held.flagged:
        return words.say("quoting.within", **facts)
    return words.say("quoting.above", above=words.money(found.held.above, cents=True), **facts)


def shop_text(words: Words, found: ShopQuote) -> Iterator[str]:
    """Say what the shop keeps, what the fee does to the customer's price, and what the warranty costs and is worth."""
    money, worth = partial(words.money, cents=True), found.warranty
    if not np.isnan(found.margin):
        yield words.say("quoting.margin", cost=money(found.cost), margin=words.percent(found.margin, 1))
    if found.held.flagged and not np.isnan(found.margin_at_limit):
        kept = words.percent(found.margin_at_limit, 1)
        yield words.say("quoting.margin_at_limit", limit=money(found.held.at_limit), margin=kept)
    if float(found.terms.steers) > 0:
        key = "steers" if found.price >= 0 else "steers_less"
        yield words.say(f"quoting.{key}", price=money(abs(found.price)), fee=money(found.terms.steers))
        if found.fee_turns:
            yield words.say("quoting.fee_turns")
    elif float(found.terms.at_visit) > 0:
        yield words.say("quoting.sunk", fee=money(found.terms.at_visit))
    facts = {name: money(getattr(worth, name)) for name in ("cost", "addition", "gain")}
    facts["callbacks"] = words.number(100 * float(worth.repairs), 0)
    yield words.say("quoting.warranty", days=words.quantity(found.days, "day"), **facts)
