"""Figures of what to check first, each with the sentence that says what it shows; the looks are those of `charts`.

No meaning rests on colour alone: lines are dashed and named, bars carry their shares.
"""

import html
import math
import textwrap
from typing import Final

import numpy as np

from ...answers.diagnosis import Diagnosis
from ..text.checks import HALF, bill_ends, likeliest
from ..text.words import Words
from .charts import Chart, _figure, _say, money_axis
from .palette import INK, MUTED, OTHERWISE, REPAIRING

POINTS: Final = 120
ACROSS: Final = 42
"""Letters of a name that stand side by side on a phone; a longer name takes more lines."""

ROW: Final = 46
"""Height of a bar with its name. [pixel]"""

LINE: Final = 0.42
"""Height of one more line of a name. [row]"""


def bill_chart(diagnosis: Diagnosis, words: Words) -> Chart:
    """What share of all bills stays within an amount, with half of them, eight in ten, and the repair limit marked."""
    low, median, high = bill_ends(diagnosis).values()
    limit, free = diagnosis.limit if diagnosis.limit > 0 else math.nan, float(diagnosis.bill.below(0.0))
    last = max(float(diagnosis.bill.quantile(0.96)), 1.1 * (0.0 if math.isnan(limit) else limit), 1.0)
    amount = np.linspace(0.0, last, POINTS)
    share = np.array([float(diagnosis.bill.below(float(each))) for each in amount])
    figure = _figure(280, left=68, bottom=46, top=26)
    figure.add_vrect(x0=low, x1=high, fillcolor="rgba(15,107,98,.10)", line_width=0)
    figure.add_line(amount, share, REPAIRING, 3)
    figure.add_point(median, max(HALF, free), "circle", INK)
    right = median < 0.55 * last
    half = words.say("chart_checks.half", median=words.money(median, diagnosis.currency))
    if free >= HALF:
        half = words.say("chart_checks.free", share=words.percent(free, 0))
    _say(figure, half, median, max(HALF, free) - 0.06, INK, "left" if right else "right", "top", bold=True)
    _say(figure, words.say("chart_checks.most"), (low + high) / 2, 0.01, MUTED, "center", "bottom")
    if not math.isnan(limit):
        figure.add_vline(x=limit, line={"color": OTHERWISE, "width": 2, "dash": "dash"})
        text = words.say("chart_checks.limit", limit=words.money(limit, diagnosis.currency))
        across = "left" if limit < 0.5 * last else "right"
        _say(figure, text, limit, 1.0, OTHERWISE, across, "bottom", bold=True, yref="paper")
    title, money = words.say("chart_checks.bill_axis"), money_axis(words, diagnosis.currency)
    figure.update_xaxes(range=[0, last], title_text=title, **money)
    figure.update_yaxes(range=[0, 1.02], tickformat=".0%", nticks=5, title_text=words.say("chart_checks.bills_within"))
    return Chart(figure, bill_alt(diagnosis, words))


def bill_alt(diagnosis: Diagnosis, words: Words) -> str:
    """Say what the line of bills shows, from the same numbers."""
    amounts = {name: words.money(each, diagnosis.currency) for name, each in bill_ends(diagnosis).items()}
    free = float(diagnosis.bill.below(0.0))
    if free >= HALF:
        share = words.percent(free, 0)
        sentences = [words.say("chart_checks.bill_alt_free", share=share, high=amounts["high"])]
    else:
        sentences = [words.say("chart_checks.bill_alt", **amounts)]
    if diagnosis.limit > 0:
        within, limit = float(diagnosis.bill.below(diagnosis.limit)), words.money(diagnosis.limit, diagnosis.currency)
        sentences.append(words.say("chart_checks.bill_alt_limit", share=words.percent(within, 0), limit=limit))
    return " ".join(sentences)


def causes_chart(diagnosis: Diagnosis, words: Words) -> Chart:
    """How likely each cause still is, likeliest first."""
    rows = likeliest(words, diagnosis)
    named = [textwrap.wrap(name, ACROSS) for name, _ in rows]
    at = np.arange(len(rows)) + LINE * np.cumsum([len(lines) - 1 for lines in named])
    end = float(at[-1]) + 0.5
    figure = _figure(round(ROW * (end + 0.5)) + 8, left=0, bottom=2, top=2)
    most = rows[0][1]
    for y, lines, (_, share) in zip(at.tolist(), named, rows, strict=True):
        bar = {"x0": 0, "x1": share, "y0": y + 0.06, "y1": y + 0.36}
        figure.add_shape(type="rect", **bar, fillcolor=REPAIRING, line={"color": REPAIRING, "width": 1})
        name = "<br>".join(html.escape(line, quote=False) for line in lines)
        _say(figure, name, 0.0, y + 0.02, INK, "flush", "bottom", bold=True)
        _say(figure, words.percent(share, 0), share, y + 0.42, MUTED, "left", "bottom")
    figure.update_xaxes(visible=False, range=[0, 1.25 * most])
    figure.update_yaxes(visible=False, range=[end, -0.5])
    told = (words.say("chart_checks.causes_row", name=name, share=words.percent(share, 0)) for name, share in rows)
    return Chart(figure, words.say("chart_checks.causes_alt", rows="; ".join(told)))
