"""Figures of an answer, each with the sentence that says what it shows; drawn by Plotly, shown by the screens.

No meaning rests on colour alone: lines differ by dash and symbol and carry their names, pieces of a bar by pattern.
Each chart has at most two hundred points, a fixed height, and room enough at the width of a phone.
"""

import html
import math
from dataclasses import dataclass
from typing import Final

import numpy as np
import plotly.graph_objects as go

from ...answers.answer import Answer
from ..text.ruler import rival_of
from ..text.words import Words
from .palette import INK, MUTED, OTHERWISE, REPAIRING, RULE
from .sketch import Sketch

NARROW: Final = 285
"""Width of the plot on a phone. [pixel]"""

LETTER: Final = 7.2
"""Width of a bold letter of a label. [pixel]"""

LONGEST_NAME: Final = 30
FAMILY: Final = "'Source Sans', 'Source Sans Pro', system-ui, sans-serif"


@dataclass(frozen=True)
class Chart:
    """A figure, and in words what it shows."""

    sketch: Sketch
    alt: str

    @property
    def figure(self) -> go.Figure:
        """The figure as Plotly shows it."""
        return self.sketch.figure()


def breakeven_chart(answer: Answer, words: Words) -> Chart | None:
    """Cost of repairing against the quote, and the cheapest other way; none where a repair is ruled out.

    The cost of repairing rises one for one with the quote, so the line is exact everywhere.
    """
    limit, quoted = answer.weighing.repair_limit, answer.weighing.quoted
    if math.isnan(limit):
        return None
    level, name = rival_of(answer).present_cost, words.option(rival_of(answer).name)
    last = 1.6 * max(limit, 0.0 if math.isnan(quoted) else quoted, abs(limit) / 2, 1.0)
    quote, cost = np.array([0.0, last]), np.array([level - limit, level + last - limit])
    low, high = min(cost[0], level), max(cost[1], level)
    span = high - low
    bottom = low - 0.34 * span
    figure = _figure(340, left=62, bottom=48, top=26)
    before, _, after = words.money(0).partition("0")
    money = {"nticks": 5, "tickformat": ",.0f", "tickprefix": before, "ticksuffix": after}
    figure.layout["xaxis"].update(range=[0, last], title_text=words.say("chart.quote_axis"), **money)
    figure.layout["yaxis"].update(range=[bottom, high + 0.14 * span], **money)
    _shade_sides(figure, words, limit, last)
    figure.add_line(quote, cost, REPAIRING, 3.5)
    figure.add_line(quote, np.array([level, level]), OTHERWISE, 2.5, "dash")
    _say(figure, words.say("chart.repairing"), last, cost[1], REPAIRING, "right", "bottom", bold=True)
    if limit > 0.5 * last:
        _say(figure, _shown(name), 0.0, level, OTHERWISE, "left", "bottom", bold=True)
    else:
        _say(figure, _shown(name), last, level, OTHERWISE, "right", "top", bold=True)
    marks = []
    if limit > 0:
        marks.append((limit, "circle", words.say("chart.limit", limit=words.money(limit))))
    if not math.isnan(quoted):
        marks.append((quoted, "diamond", words.say("chart.quoted", quote=words.money(quoted))))
    right_most = max((at for at, _, _ in marks), default=0.0)
    for row, (at, symbol, text) in enumerate(marks):
        room = NARROW * ((last - at) if at == right_most else at) / last
        outwards, inwards = ("left", "right") if at == right_most else ("right", "left")
        across = outwards if LETTER * len(text) < room else inwards
        _mark(figure, text, (at, level + at - limit), symbol, (bottom, row), across)
    return Chart(figure, breakeven_alt(answer, words))


def breakeven_alt(answer: Answer, words: Words) -> str:
    """Say what the break-even chart shows, from the same numbers."""
    limit, gap, rival = answer.weighing.repair_limit, answer.weighing.advantage, rival_of(answer)
    sentences = [words.say("chart.breakeven_alt", name=words.option(rival.name), other=words.money(rival.present_cost))]
    if limit <= 0:
        return " ".join([*sentences, words.say("chart.breakeven_never", gap=words.money(-limit))])
    sentences.append(words.say("chart.breakeven_limit", limit=words.money(limit)))
    if not math.isnan(gap):
        key = "breakeven_quoted" if gap >= 0 else "breakeven_quoted_above"
        sentences.append(
            words.say(f"chart.{key}", quote=words.money(answer.weighing.quoted), gap=words.money(abs(gap)))
        )
    return " ".join(sentences)


def _figure(height: int, left: int, bottom: int, top: int) -> Sketch:
    axis = {"fixedrange": True, "zeroline": False, "ticks": "", "tickfont": {"color": MUTED}}
    title = {"standoff": 8, "font": {"size": 13.5, "color": MUTED}}
    return Sketch(
        {
            "template": "none",
            "height": height,
            "margin": {"l": left, "r": 8, "t": top, "b": bottom},
            "font": {"family": FAMILY, "size": 13.5, "color": INK},
            "paper_bgcolor": "rgba(0,0,0,0)",
            "plot_bgcolor": "rgba(0,0,0,0)",
            "showlegend": False,
            "hovermode": False,
            "dragmode": False,
            "xaxis": {**axis, "showgrid": False, "linecolor": RULE, "title": title},
            "yaxis": {**axis, "gridcolor": RULE},
        }
    )


def _shade_sides(figure: Sketch, words: Words, limit: float, last: float) -> None:
    """Tint where the repair pays and where it does not, and say above which is which."""
    turn = min(max(limit, 0.0), last)
    sides = (
        (0.0, turn, "rgba(15,107,98,.10)", "chart.repair_side"),
        (turn, last, "rgba(164,80,28,.08)", "chart.other_side"),
    )
    for start, end, fill, key in sides:
        figure.add_upright("rect", start, end, fillcolor=fill, line_width=0, layer="below")
        if end - start > 0.28 * last:
            _say(figure, words.say(key), (start + end) / 2, 1.0, MUTED, "center", "bottom", yref="paper")


def _mark(
    figure: Sketch, text: str, point: tuple[float, float], symbol: str, foot: tuple[float, int], across: str
) -> None:
    """Mark a point of the line of repairing, with a dotted line down to what it says."""
    (x, y), (bottom, row) = point, foot
    figure.add_line(np.array([x, x]), np.array([bottom, y]), INK, 1.2, "dot")
    marker = {"symbol": symbol, "size": 13, "color": "white", "line": {"color": INK, "width": 2.5}}
    figure.add_scatter(x=np.array([x]), y=np.array([y]), mode="markers", marker=marker)
    _say(figure, text, x, bottom, INK, across, "bottom", bold=True, lift=20 * row)


def _say(
    figure: Sketch,
    text: str,
    x: float,
    y: float,
    colour: str,
    across: str,
    along: str,
    bold: bool = False,
    yref: str = "y",
    lift: int = 0,
) -> None:
    shown = {"text": f"<b>{text}</b>" if bold else text, "font": {"color": colour, "size": 13.5}, "showarrow": False}
    anchors = {"xanchor": across, "yanchor": along, "align": "center"}
    shift = {"xshift": {"left": 5, "right": -5}.get(across, 0), "yshift": {"bottom": 2, "top": -4}[along] + lift}
    figure.layout["annotations"].append({"x": x, "y": y, "yref": yref, **shown, **anchors, **shift})


def _shown(name: str) -> str:
    """A name as a chart can carry it: not too long, and never read as marks of the chart's own."""
    short = name if len(name) <= LONGEST_NAME else f"{name[: LONGEST_NAME - 1].rstrip()}…"
    return html.escape(short, quote=False)
