"""Lays out for a terminal, and as plain data, where a verdict flips, how sure it is, and the limits by age."""

from collections.abc import Sequence
from typing import Any

import numpy as np

from ...answers.answer import Answer
from ...answers.confidence import has_verdict
from ...answers.limits import Limits
from ...economics.breakeven import BreakevenValues, TwoWay
from ...economics.case import inputs
from ...economics.decision import DecisionConfidence
from ...economics.outcomes import OutcomeDistribution
from ...economics.uncertainty import Distribution
from ..text.certainty import breakeven_text, rule_text, shown
from ..text.report import changes, luck, sure_blocks
from ..text.words import Words
from .layout import Page
from .outlet import attributes


def show_breakeven(words: Words, answer: Answer, there: Sequence[BreakevenValues], both: TwoWay | None) -> None:
    """Show where the verdict flips on each input, and on two at once."""
    page = Page()
    page.heading(words.say("terminal.confidence.breakeven"))
    page.table(("", ""), [(row.label, row.text) for row in changes(words, answer, there)])
    if not has_verdict(answer):
        page.line(words.say("breakeven.needs_quote"))
    if both is not None:
        page.heading(words.say("terminal.confidence.map"))
        page.table([words.full_label(path) for path in (both.down, both.across)], map_rows(words, answer, both))


def map_rows(words: Words, answer: Answer, both: TwoWay) -> list[tuple[str, str]]:
    """Each value of the one input, with where the verdict flips on the other."""
    units = {e.path: e.bounds.unit for e in inputs(answer.case)}
    rows = []
    for y, advantage in zip(both.y, both.advantage, strict=True):
        values = np.unique(both.line[both.line[:, 1] == y, 0])
        wins = advantage >= 0
        there = values[(values > both.x[0]) & (values < both.x[-1])] if np.any(wins[1:] != wins[:-1]) else values[:0]
        found = BreakevenValues(
            path=both.across,
            unit=units[both.across],
            low=float(both.x[0]),
            high=float(both.x[-1]),
            values=tuple(map(float, there)),
            repair_wins_at_low=bool(wins[0]),
        )
        text = breakeven_text(words, found)
        rows.append((shown(words, float(y), units[both.down], both.down), text))
    return rows


def breakeven_data(answer: Answer, there: Sequence[BreakevenValues], both: TwoWay | None) -> dict[str, Any]:
    """The same as plain data."""
    return {
        "currency": answer.case.household.currency,
        **attributes(answer.weighing, "repair_limit", "quoted"),
        "breakeven": [vars(found) for found in there],
        "map": both and vars(both),
    }


# how sure


def show_confidence(words: Words, answer: Answer, confidence: DecisionConfidence, lived: OutcomeDistribution) -> None:
    """Show how sure the verdict is, what to find out, what moves it, and luck, each by itself."""
    page = Page()
    page.line(words.verdict(answer), "bold")
    page.blocks([*sure_blocks(words, answer, confidence), luck(words, answer, lived)])


def confidence_data(
    answer: Answer, confidence: DecisionConfidence, lived: OutcomeDistribution, seed: int
) -> dict[str, Any]:
    """The same as plain data."""
    each = zip(confidence.ranges, confidence.evppi, confidence.bars, strict=True)
    return {
        "currency": answer.case.household.currency,
        "draws": confidence.draws,
        "seed": seed,
        "verdict": confidence.names[confidence.verdict],
        "share_cheapest": dict(zip(confidence.names, confidence.share_cheapest, strict=True)),
        **attributes(confidence, "expected_regret", "evpi"),
        "advantage": _spread(confidence.advantage),
        "ranges": [
            {
                "paths": known.paths,
                "low": known.lows,
                "value": known.values,
                "high": known.highs,
                "source": known.source,
                "evppi": worth,
                "advantage_at_low": bar.low,
                "advantage_at_high": bar.high,
            }
            for known, worth, bar in each
        ],
        "outcome_distribution": {
            "option": lived.name,
            "years": lived.years,
            "households": lived.costs.size,
            **_spread(lived.spread),
        },
    }


def _spread(of: Distribution) -> dict[str, Any]:
    return {"mean": of.mean, "quantiles": dict(zip(map(str, of.levels), of.quantiles, strict=True))}


# the limits by age


def show_limits(words: Words, found: Limits) -> None:
    """Show the limits by age with their ranges, and the rules of thumb."""
    page = Page()
    label, place = words.kind(found.kind), words.place(found.place)
    page.heading(words.say("terminal.confidence.limits", label=label, place=place))
    note = "limits_note_installed" if found.installed else "limits_note"
    costs = {name: words.money(getattr(found, name)) for name in ("price", "cost_of_new")}
    page.line(words.say(f"terminal.confidence.{note}", **costs), "dim")
    heads = ("age", "limit", "share_of_new", "from_to", "clear_repair", "clear_other", "still_in_use")
    page.table(
        [words.say(f"terminal.confidence.{head}") for head in heads],
        [_by_age(words, found, i) for i in range(len(found.ages))],
        range(7),
    )
    if found.rules:
        page.heading(words.say("terminal.confidence.rules"))
        rows = [(rule_text(words, rule), words.money(rule.costs)) for rule in found.rules]
        page.table([words.say(f"terminal.confidence.{head}") for head in ("rule", "costs")], rows, (1,))
        page.line(words.say("rule.ceiling"), "dim")


def _by_age(words: Words, found: Limits, row: int) -> tuple[str, ...]:
    low, high = (words.money(end[row]) for end in (found.low, found.high))
    return (
        words.number(float(found.ages[row]), 0),
        words.money(found.limit[row]),
        words.percent(float(found.limit[row]) / found.cost_of_new, 0),
        words.say("terminal.confidence.range", low=low, high=high),
        words.money(found.clear_repair[row]),
        words.money(found.clear_other[row]),
        words.percent(float(found.published[row]), 0),
    )


def limits_data(found: Limits) -> dict[str, Any]:
    """The same as plain data, a row an age, with the rules of thumb; shares are fractions."""
    columns = {
        "age": found.ages,
        "limit": found.limit,
        "share_of_new": found.limit / found.price,
        "low": found.low,
        "high": found.high,
        "clear_repair_up_to": found.clear_repair,
        "clear_replace_from": found.clear_other,
        "still_in_use": found.published,
    }
    rows = zip(*(column.tolist() for column in columns.values()), strict=True)
    return {
        "class": found.kind,
        **attributes(found, "place", "currency", "price"),
        "by_age": [dict(zip(columns, row, strict=True)) for row in rows],
        "rules": [{**attributes(rule, "rule", "figure"), "costs_at_a_failure": rule.costs} for rule in found.rules],
    }
