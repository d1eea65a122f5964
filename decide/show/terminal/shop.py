"""Lays out for a terminal, and as plain data, what a shop's job book says of its advice, and its quotes."""

import math
from functools import partial
from typing import Any

from ...answers.shop_bands import ShopBands
from ...answers.shop_groups import Comparison
from ...answers.shop_quote import ShopQuote
from ...shop.bands import Bands
from ..text import shop as text
from ..text.report import Piece
from ..text.words import Words
from .layout import Page
from .outlet import attributes


def show_bands(words: Words, found: ShopBands) -> None:
    """Show the bands, what rules of thumb cost beside them, past quotes, answers and what-ifs."""
    page = Page()
    page.line(words.say("bands.title"), "bold")
    rules, changes = ("rule", "regret", "a_job"), ("change", "jobs_won", "margin", "customers")
    of_rules, of_changes = (tuple(words.say(f"bands.{head}") for head in heads) for heads in (rules, changes))
    notes, moved = tuple(text.what_if_notes(words, found)), (of_changes, *text.what_if_rows(words, found))
    page.blocks(
        (
            Piece("", tuple(text.bands_text(words, found))),
            Piece(words.say("bands.rules"), table=(of_rules, *text.rule_rows(words, found))),
            Piece(words.say("bands.past"), tuple(text.past_text(words, found))),
            Piece(words.say("bands.acceptance"), (text.acceptance_text(words, found),)),
            Piece(words.say("bands.what_if"), table=moved, small=notes),
        )
    )


def show_comparison(words: Words, found: Comparison) -> None:
    """Show by each trait what differs from like jobs of the others, and who by more than chance."""
    page = Page(136)
    for trait in found.by:
        head, *sentences = text.named_text(words, found, trait)
        if found.named(trait):
            head, sentences = words.say(f"compare.by.{trait}"), [head, *sentences]
        heads, rows = text.group_table(words, found, trait)
        page.blocks([Piece(head, tuple(sentences), table=(tuple(heads), *rows))])
    page.line()
    page.blocks([Piece(small=tuple(text.compare_notes(words, found) if found.by else [words.say("compare.nothing")]))])


def comparison_data(found: Comparison) -> dict[str, Any]:
    """The same as plain data, with every group; `named` are those that differ by more than chance."""
    named = {trait: list(dict.fromkeys(each.group for each in found.named(trait))) for trait in found.by}
    by = {trait: [vars(each) for each in those] for trait, those in found.by.items()}
    return {
        **attributes(found, "jobs", "naming_chance", "costs_known"),
        "since": found.since and str(found.since),
        "by": by,
        "named": named,
    }


def bands_data(found: ShopBands) -> dict[str, Any]:
    """The same as plain data."""
    return {
        **attributes(found, "currency", "rows", "jobs"),
        "bands_on_quote_over_limit": _bands_data(found.bands),
        "spread": found.spread,
        "attention": found.practice.attention,
        "rules": [{"rule": rule.name, "regret": rule.regret, "figure": rule.figure} for rule in found.rules],
        "past": attributes(found.past, "quotes", "above", "accepted_above", "declined_within")
        | {name: vars(getattr(found.past, name)) for name in ("paid_too_much", "passed_up")},
        "acceptance": {
            "fitted": found.fit is not None,
            "records": len(found.answers.accepted),
            "why_judged": found.why_judged,
            "curves": [attributes(curve, "level", "by_excess", "by_age") for curve in found.curves],
            "standard_errors": None if found.fit is None else found.fit.standard_errors,
        },
        "what_if": {
            name: {measure: change.change(measure) for measure in text.MEASURES}
            for name, change in found.what_ifs.items()
        },
        "costs": attributes(found.costs, "known_share", "visit", "rate", "markup")
        | attributes(found.practice, "hour_cost", "way_cost", "overhead", "calls_lost"),
        "new_units": found.new_units and vars(found.new_units),
    }


def _bands_data(bands: Bands) -> dict[str, Any]:
    """Thresholds, and the words that they part; a threshold without an end is null."""
    return {
        "says": list(bands.says),
        "repair_up_to": bands.lower if math.isfinite(bands.lower) else None,
        "replace_above": bands.higher if math.isfinite(bands.higher) else None,
    }


def show_quote(words: Words, found: ShopQuote) -> None:
    """Show a quote: whether it may be given, its lines, the margin, the fee and the warranty."""
    page, money = Page(), partial(words.money, cents=True)
    page.line(text.verdict_text(words, found), "bold")
    page.heading(words.say("quoting.lines"))
    amounts = {"parts": found.given.parts, "labour": found.given.labour, "trip": found.given.trip}
    rows = [(words.say(f"quoting.{name}"), money(amount)) for name, amount in amounts.items()]
    rows += [(words.say("quoting.tax"), money(found.tax)), (words.say("quoting.quote"), money(found.held.quote))]
    page.table(("", ""), rows, (1,))
    for sentence in text.shop_text(words, found):
        page.line(sentence)
    if found.fees:
        heads = tuple(words.say(f"quoting.{head}") for head in ("fee", "price", "chance", "income"))
        table, note = (heads, *text.fee_rows(words, found)), (words.say("quoting.fees_note"),)
        page.blocks([Piece(words.say("quoting.fees"), table=table, small=note)])
    else:
        page.line(words.say("quoting.no_fee"), "dim")


def quote_data(found: ShopQuote) -> dict[str, Any]:
    """The same as plain data."""
    return {
        "currency": found.currency,
        **attributes(found.given, "parts", "labour", "trip"),
        "tax": found.tax,
        "quote": found.held.quote,
        "listed_before_tax": found.listed.net,
        **attributes(found, "cost", "margin"),
        "incremental_price": found.price,
        "repair_limit": found.held.limit,
        "limit_with_fee_terms": found.held.limit + found.terms.steers,
        "fee_turns_the_verdict": found.fee_turns,
        "above_limit": found.held.above,
        "flagged": bool(found.held.flagged),
        "quote_at_limit": found.held.at_limit,
        "margin_at_limit": found.margin_at_limit,
        "warranty": {
            "days": found.days,
            "callbacks": found.warranty.repairs,
            **attributes(found.warranty, "cost", "addition", "gain"),
        },
        "fees": {
            each.name: {"incremental_price": each.price, "chance": each.chance, "income": each.income}
            for each in found.fees
        },
    }
