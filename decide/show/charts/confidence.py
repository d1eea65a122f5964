"""Figures of how sure an answer is, each with the sentence that says what it shows; the looks are those of `charts`.

No meaning rests on colour alone: full and open marks, dashes and labels say the same.
"""

from typing import Final

import numpy as np

from ...answers.answer import Answer
from ...answers.confidence import ends_of_nine
from ...economics.decision import DecisionConfidence
from ..text.certainty import Mover, movers
from ..text.words import Words
from .charts import INK, MUTED, OTHERWISE, REPAIRING, Chart, _figure, _say, _shown, money_axis
from .drawn import in_money

DOTS: Final = 10
LONGEST_LABEL: Final = 46


def share_chart(answer: Answer, words: Words, confidence: DecisionConfidence) -> Chart:
    """In how many of ten samples each choice is the cheapest: full dots beside open ones."""
    figure = _figure(54 * len(confidence.names) + 6, left=0, bottom=2, top=2)
    for row, (name, share) in enumerate(zip(confidence.names, confidence.share_cheapest, strict=True)):
        colour = REPAIRING if name == answer.case.repair.name else OTHERWISE
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
        text = words.say("chart_confidence.share_row", name=_shown(words.option(name)), share=words.share(share))
        _say(figure, text, -0.45, row - 0.04, INK, "flush", "bottom", bold=True)
    figure.update_xaxes(visible=False, range=[-0.45, 1.55 * DOTS])
    figure.update_yaxes(visible=False, range=[len(confidence.names) - 0.46, -0.5])
    return Chart(figure, share_alt(words, confidence))


def share_alt(words: Words, confidence: DecisionConfidence) -> str:
    """Say what the dots show, from the same numbers."""
    rows = (
        words.say("chart_confidence.share_row", name=words.option(name), share=words.share(share))
        for name, share in zip(confidence.names, confidence.share_cheapest, strict=True)
    )
    return words.say("chart_confidence.share_alt", rows="; ".join(rows))


def spread_chart(answer: Answer, words: Words, confidence: DecisionConfidence) -> Chart:
    """How the advantage of repairing is spread over the samples, to both sides of the line where it is nothing."""
    edges = confidence.advantage.edges
    figure = _figure(210, left=8, bottom=44, top=26)
    figure.add_sides(edges, confidence.advantage.counts, (edges[1:] + edges[:-1]) / 2)
    low, high = float(min(edges[0], 0.0)), float(max(edges[-1], 0.0))
    room = 0.04 * (high - low)
    for at, key, there in ((low / 2, "dearer", low), (high / 2, "cheaper", high)):
        if abs(there) > 0.25 * (high - low):
            _say(figure, words.say(f"chart_confidence.{key}"), at, 1.0, MUTED, "center", "bottom", yref="paper")
    title, ticks = words.say("chart_confidence.spread_axis"), money_axis(words, answer.case.household.currency)
    figure.update_xaxes(title_text=title, range=[low - room, high + room], **ticks)
    return Chart(figure, spread_alt(answer, words, confidence))


def spread_alt(answer: Answer, words: Words, confidence: DecisionConfidence) -> str:
    """Say what the bars of the spread show, from the same numbers."""
    low, high = (in_money(words, answer, end) for end in ends_of_nine(confidence))
    above = float(np.sum(confidence.advantage.counts[confidence.advantage.edges[:-1] >= 0])) / confidence.draws
    return words.say("chart_confidence.spread_alt", low=low, high=high, share=words.share(above))


def movers_chart(answer: Answer, words: Words, confidence: DecisionConfidence) -> Chart | None:
    """What the advantage of repairing becomes at both ends of each range; none where nothing moves it."""
    rows = movers(words, answer, confidence)
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
        between = words.say("chart_confidence.mover", low=row.low, high=row.high)
        _say(figure, _shown(row.label, LONGEST_LABEL), low - room, index - 0.26, INK, "flush", "bottom", bold=True)
        _say(figure, between, low - room, index - 0.02, MUTED, "flush", "bottom")
    title, ticks = words.say("chart_confidence.movers_axis"), money_axis(words, answer.case.household.currency)
    figure.update_xaxes(title_text=title, range=[low - room, high + room], **ticks)
    figure.update_yaxes(visible=False, range=[len(rows) - 0.5, -0.56])
    return Chart(figure, movers_alt(answer, words, rows))


def movers_alt(answer: Answer, words: Words, rows: list[Mover]) -> str:
    """Say what the bars of the ranges show, from the same numbers."""
    found = (
        words.say(
            "chart_confidence.mover_alt",
            label=row.label,
            low=row.low,
            high=row.high,
            at_low=in_money(words, answer, row.at_low),
            at_high=in_money(words, answer, row.at_high),
        )
        for row in rows
    )
    return words.say("chart_confidence.movers_alt", rows=" ".join(found))
