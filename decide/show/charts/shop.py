"""Figures of a weighed job book and of a shop's own lives, each with the sentence that says what it shows.

No meaning rests on colour alone: bars differ by pattern and lines by dash, and labels and the legend say the same.
"""

from typing import Final

import numpy as np

from ...finance.life import Weibull
from ...load.jobs.own_figures import LIFE
from ...load.jobs.own_records import ClassRecords
from ...shop.job_totals import SHARE_EDGES, Tally, part, quantile_share
from ..text.jobs import count
from ..text.words import Words
from .charts import Chart, _figure, _say
from .palette import INK, MUTED, OTHERWISE, REPAIRING
from .sketch import filled

CELLS: Final = 20
"""Cells of the histograms of a tally that make one bar."""
FAR: Final = 1.0
"""Shares of the price of a new unit to both sides, beyond which bars are put together."""
BAND: Final = "rgba(15,107,98,.16)"
AGES: Final = 61
"""Ages at which a curve is drawn."""
OLDEST: Final = 40.0
"""[year]"""


def advantage_chart(words: Words, tally: Tally) -> Chart | None:
    """How far quotes lie from their limits, as a share of the price of new; none where nothing was quoted."""
    counts = tally.advantages.sum((0, 1))
    if not counts.sum():
        return None
    edges, bars = SHARE_EDGES[::CELLS], counts.reshape(-1, CELLS).sum(1)
    near = np.flatnonzero((edges[:-1] >= -FAR - 1e-9) & (edges[1:] <= FAR + 1e-9))
    first, last = int(near[0]), int(near[-1])
    shown = bars[first : last + 1].copy()  # what lies far out is put in the outermost
    shown[0] += bars[:first].sum()
    shown[-1] += bars[last + 1 :].sum()
    left, right = np.round(edges[first : last + 1], 9), np.round(edges[first + 1 : last + 2], 9)
    figure = _figure(220, left=8, bottom=44, top=26)
    for side, colour, pattern in ((left >= 0, REPAIRING, ""), (left < 0, OTHERWISE, "/")):
        x, width = (left[side] + right[side]) / 2, (right - left)[side]
        marker = filled(colour, pattern, 5, 0.5)
        figure.traces.append({"type": "bar", "x": x, "y": shown[side], "width": width, "marker": marker})
    figure.add_upright("line", 0, 0, line={"color": INK, "width": 2, "dash": "dot"})
    for at, key in ((-FAR / 2, "above"), (FAR / 2, "within")):
        _say(figure, words.say(f"chart_jobs.{key}"), at, 1.0, MUTED, "center", "bottom", yref="paper")
    title = words.say("chart_jobs.spread_axis")
    figure.layout["xaxis"].update(title_text=title, tickformat=".0%", range=[-FAR, FAR], nticks=5)
    figure.layout["yaxis"].update(visible=False, rangemode="tozero")
    figure.layout["bargap"] = 0
    whole = part(tally)
    low, high = (words.percent(quantile_share(counts, share), 0) for share in (0.25, 0.75))
    facts = {"within": count(words, "quote", whole.quoted - whole.above), "above": words.number(whole.above, 0)}
    return Chart(figure, words.say("chart_jobs.spread_alt", **facts, low=low, high=high))


def lives_chart(words: Words, records: ClassRecords) -> Chart | None:
    """Share still in service by age, from own records with its interval and as shipped; none where no life is told."""
    known = [shown.value for name in LIFE if (shown := records.shipped.get(name)) is not None]
    if not records.life.identified or len(known) < len(LIFE):
        return None
    shipped, ages = Weibull.with_mean(*known), np.linspace(0.0, OLDEST, AGES)
    figure = _figure(300, left=52, bottom=92, top=10)
    figure.layout["xaxis"].update(title_text=words.say("chart_records.age_axis"), dtick=10, range=[0, OLDEST])
    figure.layout["yaxis"].update(title_text=words.say("chart_records.share_axis"), tickformat=".0%", range=[0, 1.02])
    legend = {"x": 0, "y": -0.24, "xanchor": "left", "yanchor": "top", "traceorder": "normal"}
    figure.layout.update(showlegend=True, legend=legend, legend_itemclick=False, legend_itemdoubleclick=False)
    low, high = records.life.band(ages[1:])
    around = {"mode": "lines", "line": {"width": 0}, "showlegend": False}
    figure.add_scatter(x=ages[1:], y=low, **around)
    figure.add_scatter(x=ages[1:], y=high, fill="tonexty", fillcolor=BAND, **around)
    figure.add_line(ages, records.life.law.survival(ages), REPAIRING, 3, name=words.say("chart_records.own"))
    figure.add_line(ages, shipped.survival(ages), OTHERWISE, 2.5, "dash", name=words.say("chart_records.shipped"))
    least, most = (float(end[0]) for end in records.life.band(np.array([10.0])))
    alt = words.say(
        "chart_records.lives_alt",
        label=words.kind(records.kind),
        own=words.years(records.life.mean.value),
        shipped=words.years(float(shipped.mean())),
        at_ten=words.percent(float(records.life.law.survival(10.0)), 0),
        low=words.percent(least, 0),
        high=words.percent(most, 0),
        shipped_at_ten=words.percent(float(shipped.survival(10.0)), 0),
    )
    return Chart(figure, alt)
