"""Figures of a weighed job book, each with the sentence that says what it shows; the looks are those of `charts`.

No meaning rests on colour alone: patterns and labels say the same.
"""

from typing import Any, Final

import numpy as np

from ...arrays import Floats
from ...shop.job_totals import BANDS, SHARE_EDGES, SummaryLine, Tally, part, quantile_share
from ..text.jobs import band_name, class_name, count
from ..text.phrases import Phrases
from .charts import INK, MUTED, OTHERWISE, Chart, _figure, _say, _shown

FEWEST: Final = 5
"""Quotes below which a share says next to nothing, and is not drawn. Our judgement."""

MOST_BARS: Final = 14
"""Classes that are drawn: those with the most quotes."""

CELLS: Final = 20
"""Cells of the histograms of a tally that make one bar."""

FAR: Final = 1.0
"""Shares of the price of a new unit to both sides, beyond which bars are put together."""


def above_by_class_chart(phrases: Phrases, tally: Tally) -> Chart | None:
    """Share of quotes above the limit, by class; none where no class has quotes enough."""
    parts = [part(tally, kind) for kind in tally.kinds]
    most = sorted((each for each in parts if each.quoted >= FEWEST), key=lambda each: -each.quoted)[:MOST_BARS]
    named = [(class_name(phrases, each.kind), each) for each in most]
    return _above_chart(phrases, sorted(named, key=lambda each: -each[1].above_share))


def above_by_age_chart(phrases: Phrases, tally: Tally, kind: str | None = None) -> Chart | None:
    """Share of quotes above the limit, by band of age, of a class or of all; none where there are too few quotes."""
    parts = [part(tally, kind, band) for band in range(BANDS)]
    return _above_chart(phrases, [(band_name(phrases, each.band), each) for each in parts if each.quoted >= FEWEST])


def _above_chart(phrases: Phrases, rows: list[tuple[str, SummaryLine]]) -> Chart | None:
    if not rows:
        return None
    figure = _figure(46 * len(rows) + 52, left=4, bottom=44, top=4)
    at = np.arange(len(rows), dtype=float)
    figure.add_bar(
        x=np.array([each.above_share for _, each in rows]),
        y=at,
        orientation="h",
        width=0.36,
        marker={"color": OTHERWISE, "pattern": {"shape": "/", "size": 6, "solidity": 0.2}},
    )
    sentences = [
        phrases.say(
            "chart_jobs.above_row",
            name=name,
            share=phrases.percent(each.above_share, 0),
            quoted=count(phrases, "quote", each.quoted),
        )
        for name, each in rows
    ]
    for row, text in zip(at, sentences, strict=True):
        _say(figure, _shown(text, 60), 0.0, row - 0.22, INK, "flush", "bottom", bold=True)
    figure.update_xaxes(title_text=phrases.say("chart_jobs.above_axis"), range=[0, 1], tickformat=".0%", nticks=5)
    figure.update_yaxes(visible=False, range=[len(rows) - 0.6, -0.72])
    return Chart(figure, phrases.say("chart_jobs.above_alt", rows=" ".join(sentences)))


def advantage_chart(phrases: Phrases, tally: Tally, kind: str | None = None) -> Chart | None:
    """How far quotes lie from their limits, as a share of the price of new; none where nothing was quoted."""
    chosen: Any = slice(None) if kind is None else [tally.kinds.index(kind)]
    counts = tally.advantages[chosen].sum((0, 1))
    if not counts.sum():
        return None
    edges, bars = _bars(counts)
    figure = _figure(220, left=8, bottom=44, top=26)
    figure.add_sides(edges, bars, edges[:-1])
    for at, key in ((-FAR / 2, "above"), (FAR / 2, "within")):
        _say(figure, phrases.say(f"chart_jobs.{key}"), at, 1.0, MUTED, "center", "bottom", yref="paper")
    figure.update_xaxes(title_text=phrases.say("chart_jobs.spread_axis"), tickformat=".0%", range=[-FAR, FAR], nticks=5)
    whole = part(tally, kind)
    low, high = (phrases.percent(quantile_share(counts, share), 0) for share in (0.25, 0.75))
    facts = {"within": count(phrases, "quote", whole.quoted - whole.above), "above": phrases.number(whole.above, 0)}
    return Chart(figure, phrases.say("chart_jobs.spread_alt", **facts, low=low, high=high))


def _bars(counts: Floats) -> tuple[Floats, Floats]:
    """Edges and counts of the bars; what lies far out is put in the outermost."""
    edges, bars = SHARE_EDGES[::CELLS], counts.reshape(-1, CELLS).sum(1)
    near = np.flatnonzero((edges[:-1] >= -FAR - 1e-9) & (edges[1:] <= FAR + 1e-9))
    first, last = int(near[0]), int(near[-1])
    kept = bars[first : last + 1].copy()
    kept[0] += bars[:first].sum()
    kept[-1] += bars[last + 1 :].sum()
    return np.round(edges[first : last + 2], 9), kept
