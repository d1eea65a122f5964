"""Figures of a shop's quoting policy, each with the sentence that says what it shows, in the looks of `charts`."""

import textwrap
from typing import Final

import numpy as np

from ...answers.policy_card import Card
from ...answers.shop_bands import ShopBands
from ...shop.bands import Bands
from ..text.shop import rule_text, threshold
from ..text.words import Words
from .charts import INK, LONGEST_NAME, MUTED, OTHERWISE, REPAIRING, Chart, _figure, _say, _shown, money_axis

TRIED: Final = 81
"""Thresholds that are tried."""

TOP: Final = 2.5
"""Highest of them, as a share of the repair limit."""

ROOM: Final = 1.5
"""How high the chart of thresholds reaches, over the dearest lower one."""

EXCESS: Final = 0.6
"""How far to both sides of the limit acceptance is drawn, as a share of the price of new."""

MOST_LINES: Final = 5
"""Classes of a card that one chart carries."""

BELOW: Final = {"x": 0, "y": -0.22, "xanchor": "left", "yanchor": "top"}
"""Where a legend stands."""

LOOKS: Final = (("solid", "circle"), ("dash", "square"), ("dot", "diamond"), ("dashdot", "x"), ("longdash", "cross"))


def thresholds_chart(words: Words, found: ShopBands) -> Chart:
    """What customers regret as either threshold moves, the other where it is best."""
    tried = np.linspace(0, TOP, TRIED)
    lower = [_regret(found, Bands(t, max(t, found.bands.higher))) for t in tried]
    higher = [_regret(found, Bands(min(t, found.bands.lower), t)) for t in tried]
    figure = _figure(320, left=66, bottom=96, top=10)
    for key, values, colour, dash in (("lower", lower, REPAIRING, "solid"), ("higher", higher, OTHERWISE, "dash")):
        figure.add_line(tried, np.array(values), colour, 2.5, dash, name=words.say(f"chart_shop.{key}"))
    figure.update_xaxes(title_text=words.say("chart_shop.threshold_axis"), tickformat=".0%", range=[0, TOP])
    # a low threshold for "replace" costs so much that all else would lie flat beside it
    figure.update_yaxes(range=[0, ROOM * max(lower)], **money_axis(words, found.currency))
    figure.show_legend(**BELOW)
    return Chart(figure, thresholds_alt(words, found))


def thresholds_alt(words: Words, found: ShopBands) -> str:
    """Say what the two lines show, from the same numbers."""
    return words.say(
        "chart_shop.thresholds_alt",
        lower=threshold(words, found.bands.lower),
        higher=threshold(words, found.bands.higher),
        regret=words.money(_regret(found, found.bands), found.currency),
    )


def _regret(found: ShopBands, bands: Bands) -> float:
    return bands.regret(found.score, found.regrets)


def rules_chart(words: Words, found: ShopBands) -> Chart:
    """What customers regret by what the shop goes by: bands against rules of thumb."""
    figure = _figure(64 * len(found.rules) + 40, left=4, bottom=40, top=4)
    rows = np.arange(len(found.rules), dtype=float)
    ours = np.array([rule.name in ("best", "limit_bands", "age_bands", "limit_alone") for rule in found.rules])
    figure.add_bar(
        x=np.array([rule.regret for rule in found.rules]),
        y=rows + 0.2,
        width=0.28,
        orientation="h",
        marker={
            "color": np.where(ours, REPAIRING, OTHERWISE).tolist(),
            "pattern": {"shape": np.where(ours, "", "/").tolist(), "size": 5},
        },
    )
    for row, text in zip(rows, _rule_rows(words, found), strict=True):
        folded = "<br>".join(_shown(line) for line in textwrap.wrap(text, LONGEST_NAME))
        _say(figure, folded, 0.0, float(row) + 0.02, INK, "flush", "bottom")
    title = words.say("chart_shop.regret_axis")
    figure.update_xaxes(title_text=title, rangemode="tozero", **money_axis(words, found.currency))
    figure.update_yaxes(visible=False, range=[len(found.rules) - 0.5, -0.6])
    return Chart(figure, rules_alt(words, found))


def rules_alt(words: Words, found: ShopBands) -> str:
    """Say what the bars of the rules show, from the same numbers."""
    return words.say("chart_shop.rules_alt", rows="; ".join(_rule_rows(words, found)))


def _rule_rows(words: Words, found: ShopBands) -> list[str]:
    return [
        words.say("chart_shop.rule_row", rule=rule, regret=words.money(each.regret, found.currency))
        for each, rule in ((each, rule_text(words, found, each)) for each in found.rules)
    ]


def acceptance_chart(words: Words, found: ShopBands) -> Chart:
    """Chance that a quote is accepted by how far it lies above the limit: fitted with its range, or judged curves."""
    excess, age = np.linspace(-EXCESS, EXCESS, 61), _age(found)
    chances = [np.asarray(curve.chance(excess, age)) for curve in found.curves]
    low, high = np.min(chances, axis=0), np.max(chances, axis=0)
    if found.fit is not None:
        low, high = found.fit.interval(np.column_stack([excess, np.full(excess.size, age)]))
    figure = _figure(300, left=52, bottom=48, top=22)
    figure.add_line(excess, low, OTHERWISE, 1.5, "dash")
    figure.add_line(excess, high, OTHERWISE, 1.5, "dash", fill="tonexty", fillcolor="rgba(164,80,28,.10)")
    if found.fit is not None:
        figure.add_line(excess, chances[0], REPAIRING, 3)
    figure.add_vline(x=0, line={"color": INK, "width": 1.5, "dash": "dot"})
    _say(figure, words.say("chart_shop.limit"), 0.0, 1.0, MUTED, "center", "bottom", yref="paper")
    figure.update_xaxes(title_text=words.say("chart_shop.excess_axis"), tickformat=".0%", range=[-EXCESS, EXCESS])
    figure.update_yaxes(tickformat=".0%", range=[0, 1])
    return Chart(figure, acceptance_alt(words, found))


def acceptance_alt(words: Words, found: ShopBands) -> str:
    """Say what the curve of acceptance shows, from the same numbers."""
    age = _age(found)
    sentences = []
    for excess in (-0.2, 0.0, 0.2):
        if found.fit is None:
            chances = [float(curve.chance(excess, age)) for curve in found.curves]
            low, high = min(chances), max(chances)
        else:
            low, high = (float(end[0]) for end in found.fit.interval(np.array([[excess, age]])))
        sentences.append(words.say("bands.between", low=words.percent(low, 0), high=words.percent(high, 0)))
    below, at, above = sentences
    key = "acceptance_judged_alt" if found.fit is None else "acceptance_alt"
    return words.say(f"chart_shop.{key}", below=below, at=at, above=above)


def _age(found: ShopBands) -> float:
    return float(np.median(found.answers.age)) if len(found.answers.age) else 0.0


def card_chart(words: Words, card: Card) -> Chart:
    """The repair limit by age as a share of the price of new, for the first classes of a card."""
    rows = card.rows[:MOST_LINES]
    figure = _figure(330 + 20 * len(rows), left=52, bottom=60 + 22 * len(rows), top=10)
    colours = (REPAIRING, OTHERWISE, INK, MUTED, "#735f8e")
    for row, colour, (dash, symbol) in zip(rows, colours, LOOKS, strict=False):
        figure.add_scatter(
            x=np.array(card.ages),
            y=row.limits / row.price,
            mode="lines+markers",
            line={"color": colour, "width": 2.2, "dash": dash},
            marker={"symbol": symbol, "size": 7},
            name=words.kind(row.kind),
        )
    figure.update_xaxes(title_text=words.say("chart_shop.age_axis"), dtick=5, range=[0, max(card.ages) + 0.5])
    figure.update_yaxes(rangemode="tozero", tickformat=".0%")
    figure.show_legend(**BELOW)
    return Chart(figure, card_alt(words, card))


def card_alt(words: Words, card: Card) -> str:
    """Say what the lines of the card show, from the same numbers."""
    first, last = card.ages[0], card.ages[-1]
    lines = (
        words.say(
            "chart_shop.card_line",
            kind=words.kind(row.kind),
            first=words.percent(float(row.limits[0]) / row.price, 0),
            last=words.percent(float(row.limits[-1]) / row.price, 0),
        )
        for row in card.rows[:MOST_LINES]
    )
    ages = {name: words.quantity(age, "year", card.currency) for name, age in (("young", first), ("old", last))}
    return words.say("chart_shop.card_alt", lines="; ".join(lines), **ages)
