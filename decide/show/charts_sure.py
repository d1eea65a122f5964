"""Figures of how sure an answer is, each with the sentence that says what it shows; the looks are those of `charts`.

Nothing is told by colour alone: full and open marks, dashes and labels say the same.
"""

from typing import Any, Final

import numpy as np

from ..breakeven import TwoWay
from ..case import inputs
from ..uncertainty import HowSure
from .answer import Answer
from .certainty import Mover, ends_of_nine, movers, repair_name, share_of, shown
from .charts import INK, MUTED, OTHERWISE, REPAIRING, RULE, Chart, _figure, _say, _shown
from .limits import Limits
from .words import Words

DOTS: Final = 10
LONGEST_LABEL: Final = 46
REPAIRING_PALE: Final = "rgba(15,107,98,.12)"
OTHERWISE_PALE: Final = "rgba(164,80,28,.10)"


def share_chart(answer: Answer, words: Words, sure: HowSure) -> Chart:
    """In how many of ten readings each choice is the cheapest: full dots beside open ones."""
    figure = _figure(54 * len(sure.names) + 6, left=0, bottom=2, top=2)
    for row, (name, share) in enumerate(zip(sure.names, sure.share_cheapest, strict=True)):
        colour = REPAIRING if name == repair_name(answer) else OTHERWISE
        full = round(DOTS * share)
        figure.add_scatter(
            x=np.arange(DOTS, dtype=float),
            y=np.full(DOTS, row + 0.24),
            mode="markers",
            marker={
                "symbol": ["circle" if dot < full else "circle-open" for dot in range(DOTS)],
                "size": 17,
                "color": colour,
                "line": {"color": colour, "width": 1.6},
            },
        )
        said = words.say("chart_sure.share_row", name=_shown(words.option(name)), share=share_of(words, share))
        _say(figure, said, -0.45, row - 0.04, INK, "flush", "bottom", bold=True)
    figure.update_xaxes(visible=False, range=[-0.45, 1.55 * DOTS])
    figure.update_yaxes(visible=False, range=[len(sure.names) - 0.46, -0.5])
    return Chart(figure, share_alt(words, sure))


def share_alt(words: Words, sure: HowSure) -> str:
    """Say what the dots show, from the same numbers."""
    rows = (
        words.say("chart_sure.share_row", name=words.option(name), share=share_of(words, share))
        for name, share in zip(sure.names, sure.share_cheapest, strict=True)
    )
    return words.say("chart_sure.share_alt", rows="; ".join(rows))


def spread_chart(answer: Answer, words: Words, sure: HowSure) -> Chart:
    """How the advantage of repairing is spread over the readings, to both sides of the line where it is nothing."""
    edges, counts = sure.advantage.edges, sure.advantage.counts
    middle, width = (edges[1:] + edges[:-1]) / 2, np.diff(edges)
    figure = _figure(210, left=8, bottom=44, top=26)
    wins = middle >= 0
    sides = ((wins, REPAIRING, ""), (~wins, OTHERWISE, "/"))
    for side, colour, pattern in sides:
        figure.add_bar(
            x=middle[side],
            y=counts[side],
            width=width[side],
            marker={
                "color": colour,
                "line": {"color": "white", "width": 0.5},
                "pattern": {"shape": pattern, "size": 5},
            },
        )
    low, high = float(min(edges[0], 0.0)), float(max(edges[-1], 0.0))
    room = 0.04 * (high - low)
    figure.add_vline(x=0, line={"color": INK, "width": 2, "dash": "dot"})
    for at, key, there in ((low / 2, "dearer", low), (high / 2, "cheaper", high)):
        if abs(there) > 0.25 * (high - low):
            _say(figure, words.say(f"chart_sure.{key}"), at, 1.0, MUTED, "center", "bottom", yref="paper")
    figure.update_xaxes(
        title_text=words.say("chart_sure.spread_axis"),
        range=[low - room, high + room],
        **_money_ticks(words, answer, 4),
    )
    figure.update_yaxes(visible=False, rangemode="tozero")
    figure.update_layout(bargap=0)
    return Chart(figure, spread_alt(answer, words, sure))


def spread_alt(answer: Answer, words: Words, sure: HowSure) -> str:
    """Say what the bars of the spread show, from the same numbers."""
    low, high = (_sum(words, answer, end) for end in ends_of_nine(sure))
    above = float(np.sum(sure.advantage.counts[sure.advantage.edges[:-1] >= 0])) / sure.draws
    return words.say("chart_sure.spread_alt", low=low, high=high, share=share_of(words, above))


def movers_chart(answer: Answer, words: Words, sure: HowSure) -> Chart | None:
    """What the advantage of repairing becomes at both ends of each range; none where nothing moves it."""
    rows = movers(words, answer, sure)
    if not rows:
        return None
    ends = [end for row in rows for end in (row.at_low, row.at_high)]
    low, high = min(0.0, *ends), max(0.0, *ends)
    room = 0.1 * (high - low)
    figure = _figure(76 * len(rows) + 46, left=4, bottom=42, top=4)
    for index, row in enumerate(rows):
        figure.add_shape(
            type="line", x0=0, x1=0, y0=index + 0.02, y1=index + 0.42, line={"color": INK, "width": 2, "dash": "dot"}
        )
        figure.add_scatter(
            x=np.array([row.at_low, row.at_high]),
            y=np.full(2, index + 0.22),
            mode="lines+markers",
            line={"color": REPAIRING, "width": 5},
            marker={
                "symbol": ["circle", "circle"],
                "size": 13,
                "color": ["white", REPAIRING],
                "line": {"color": REPAIRING, "width": 2.5},
            },
        )
        between = words.say("chart_sure.mover", low=row.low, high=row.high)
        _say(figure, _shown(row.label, LONGEST_LABEL), low - room, index - 0.26, INK, "flush", "bottom", bold=True)
        _say(figure, between, low - room, index - 0.02, MUTED, "flush", "bottom")
    figure.update_xaxes(
        title_text=words.say("chart_sure.movers_axis"),
        range=[low - room, high + room],
        **_money_ticks(words, answer, 4),
    )
    figure.update_yaxes(visible=False, range=[len(rows) - 0.5, -0.56])
    return Chart(figure, movers_alt(answer, words, rows))


def movers_alt(answer: Answer, words: Words, rows: list[Mover]) -> str:
    """Say what the bars of the ranges show, from the same numbers."""
    said = (
        words.say(
            "chart_sure.mover_alt",
            label=row.label,
            low=row.low,
            high=row.high,
            at_low=_sum(words, answer, row.at_low),
            at_high=_sum(words, answer, row.at_high),
        )
        for row in rows
    )
    return words.say("chart_sure.movers_alt", rows=" ".join(said))


def limits_chart(words: Words, found: Limits) -> Chart:
    """The highest quote worth paying at each age, by both answers to the next failure."""
    figure = _figure(330, left=62, bottom=100, top=10)
    looks = (
        ("ends_it", found.ends_it, REPAIRING, "solid", "circle"),
        ("decided_again", found.decided_again, OTHERWISE, "dash", "square"),
    )
    for key, limits, colour, dash, symbol in looks:
        figure.add_scatter(
            x=found.ages,
            y=limits,
            mode="lines+markers",
            line={"color": colour, "width": 2.5, "dash": dash},
            marker={"symbol": symbol, "size": 5},
            name=words.say(f"next_failure.{key}"),
        )
    figure.update_xaxes(title_text=words.say("chart_sure.age_axis"), dtick=5, range=[-0.5, float(found.ages[-1]) + 0.5])
    figure.update_yaxes(rangemode="tozero", **_ticks(words, found.currency, 4))
    figure.update_layout(
        showlegend=True,
        legend={"x": 0, "y": -0.22, "xanchor": "left", "yanchor": "top"},
        legend_itemclick=False,
        legend_itemdoubleclick=False,
    )
    return Chart(figure, limits_alt(words, found))


def limits_alt(words: Words, found: Limits) -> str:
    """Say what the lines of the limits show, from the same numbers."""
    told = []
    for key, limits in (("ends_it", found.ends_it), ("decided_again", found.decided_again)):
        new, ten, old = (words.money(float(limits[age]), found.currency) for age in (0, 10, 20))
        told.append(
            words.say("chart_sure.limits_line", name=words.say(f"next_failure.{key}"), new=new, ten=ten, twenty=old)
        )
    return words.say("chart_sure.limits_alt", lines=" ".join(told))


def map_chart(answer: Answer, words: Words, both: TwoWay) -> Chart:
    """Which side wins over two inputs at once, with the line on which the verdict flips and the case as it is."""
    figure = _figure(320, left=70, bottom=50, top=10)
    figure.add_heatmap(
        x=both.x,
        y=both.y,
        z=(both.advantage >= 0).astype(float),
        zmin=0,
        zmax=1,
        colorscale=[[0, OTHERWISE_PALE], [1, REPAIRING_PALE]],
        showscale=False,
    )
    line = both.line[np.argsort(both.line[:, 1], kind="stable")]
    figure.add_scatter(x=line[:, 0], y=line[:, 1], mode="markers", marker={"color": INK, "size": 4})
    for wins, key, colour in ((True, "repair_side", REPAIRING), (False, "other_side", OTHERWISE)):
        down, across = np.nonzero((both.advantage >= 0) == wins)
        if down.size > 0.06 * both.advantage.size:
            at = float(np.mean(both.x[across])), float(np.mean(both.y[down]))
            _say(figure, words.say(f"chart_sure.{key}"), *at, colour, "center", "bottom", bold=True)
    here = {entry.path: float(entry.value) for entry in inputs(answer.entered)}
    figure.add_scatter(
        x=np.array([here[both.across]]),
        y=np.array([here[both.down]]),
        mode="markers",
        marker={"symbol": "diamond", "size": 13, "color": "white", "line": {"color": INK, "width": 2.5}},
    )
    figure.update_xaxes(title_text=_shown(words.full_label(both.across), 44), range=[both.x[0], both.x[-1]])
    figure.update_yaxes(title_text=_shown(words.full_label(both.down), 36), range=[both.y[0], both.y[-1]])
    figure.update_xaxes(linecolor=RULE)
    return Chart(figure, map_alt(answer, words, both))


def map_alt(answer: Answer, words: Words, both: TwoWay) -> str:
    """Say what the map shows, from the same numbers."""
    units = {entry.path: entry.bounds.unit for entry in inputs(answer.entered)}
    currency = answer.entered.household.currency
    facts = {"across": words.full_label(both.across), "down": words.full_label(both.down)}
    won = words.say("chart_sure.map_share", share=share_of(words, float(np.mean(both.advantage >= 0))))
    if not len(both.line):
        return words.say("chart_sure.map_alt", **facts, line=words.say("chart_sure.map_no_line"), won=won)
    ends = [both.line[index(both.line[:, 1])] for index in (np.argmin, np.argmax)]
    first, last = (
        words.say(
            "chart_sure.map_point",
            x=shown(words, float(x), units[both.across], currency),
            y=shown(words, float(y), units[both.down], currency),
        )
        for x, y in ends
    )
    return words.say(
        "chart_sure.map_alt", **facts, line=words.say("chart_sure.map_line", first=first, last=last), won=won
    )


def _money_ticks(words: Words, answer: Answer, ticks: int) -> dict[str, Any]:
    return _ticks(words, answer.entered.household.currency, ticks)


def _ticks(words: Words, currency: str, ticks: int) -> dict[str, Any]:
    before, _, after = words.money(0, currency).partition("0")
    return {"nticks": ticks + 1, "tickformat": ",.0f", "tickprefix": before, "ticksuffix": after}


def _sum(words: Words, answer: Answer, amount: float) -> str:
    return words.money(amount, answer.entered.household.currency)
