"""The figure of what moves an answer most, with the sentence that says what it shows; the looks are those of `charts`.

No meaning rests on colour alone: full and open marks, dashes and labels say the same.
"""

from typing import Final

import numpy as np

from ...answers.answer import Answer
from ..text.certainty import Mover, movers
from ..text.words import Words
from .charts import INK, MUTED, REPAIRING, Chart, _figure, _say, _shown, money_axis
from .drawn import in_money

LONGEST_LABEL: Final = 46


def movers_chart(answer: Answer, words: Words) -> Chart | None:
    """What the advantage of repairing becomes at both ends of each range; none where nothing moves it."""
    rows = movers(words, answer, answer.confidence)
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
