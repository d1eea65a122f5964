"""Figures of a shop's own records, each with the sentence that says what it shows; the looks are those of `charts`.

No meaning rests on colour alone: lines differ by dash, and the legend and the sentence say the same.
"""

from typing import Final

import numpy as np

from ...arrays import Floats
from ...finance.life import Weibull
from ...load.jobs.own_figures import LIFE
from ...load.jobs.own_records import ClassRecords
from ...shop.lifetimes import kaplan_meier
from ..text.words import Words
from .charts import INK, OTHERWISE, REPAIRING, Chart, _figure
from .sketch import Sketch

BAND: Final = "rgba(15,107,98,.16)"
AGES: Final = 61
"""Ages at which a curve is drawn."""
OLDEST: Final = 40.0
"""[year]"""
LEAST_AT_RISK: Final = 5
"""Units that must have entered before the count of those still in service starts: fewer throw it about. A judgement."""
MOST_STEPS: Final = 80


def lives_chart(words: Words, records: ClassRecords) -> Chart | None:
    """Share still in service by age, from own records with its interval and as shipped; none where no life is told."""
    shipped = shipped_life(records)
    if not records.life.identified or shipped is None:
        return None
    figure, ages = _service(words), _ages()
    low, high = records.life.band(ages[1:])
    around = {"mode": "lines", "line": {"width": 0}, "showlegend": False}
    figure.add_scatter(x=ages[1:], y=low, **around)
    figure.add_scatter(x=ages[1:], y=high, fill="tonexty", fillcolor=BAND, **around)
    figure.add_line(ages, records.life.law.survival(ages), REPAIRING, 3, name=words.say("chart_records.own"))
    figure.add_line(ages, shipped.survival(ages), OTHERWISE, 2.5, "dash", name=words.say("chart_records.shipped"))
    return Chart(figure, lives_alt(words, records, shipped))


def lives_alt(words: Words, records: ClassRecords, shipped: Weibull) -> str:
    """Say what the curves show, from the same numbers."""
    ten = np.array([10.0])
    low, high = (float(end[0]) for end in records.life.band(ten))
    return words.say(
        "chart_records.lives_alt",
        label=words.kind(records.kind),
        own=words.years(records.life.mean.value),
        shipped=words.years(float(shipped.mean())),
        at_ten=words.percent(float(records.life.law.survival(10.0)), 0),
        low=words.percent(low, 0),
        high=words.percent(high, 0),
        shipped_at_ten=words.percent(float(shipped.survival(10.0)), 0),
    )


def counted_chart(words: Words, records: ClassRecords) -> Chart | None:
    """Share still in service as counted, beside the fitted life; none where no life is told.

    The count starts once a few units have entered, at the share that the fit gives to that age.
    """
    if not records.life.identified:
        return None
    start, ages, shares = _counted(records)
    figure, smooth = _service(words), _ages()
    figure.add_line(smooth, records.life.law.survival(smooth), REPAIRING, 3, name=words.say("chart_records.fitted"))
    figure.add_line(
        np.concatenate([[start], ages]),
        np.concatenate([records.life.law.survival(np.array([start])), shares]),
        *(INK, 1.8, "dot"),
        line={"shape": "hv"},
        name=words.say("chart_records.counted"),
    )
    return Chart(figure, counted_alt(words, records))


def counted_alt(words: Words, records: ClassRecords) -> str:
    """Say what the steps show, from the same numbers."""
    start, ages, shares = _counted(records)
    apart = float(np.max(np.abs(shares - records.life.law.survival(ages))))
    return words.say(
        "chart_records.counted_alt",
        label=words.kind(records.kind),
        n=words.number(len(records.life.watched), 0),
        ends=words.number(records.life.watched.ends, 0),
        start=words.number(start, 1),
        last=words.number(float(ages[-1]), 1),
        apart=words.percent(apart, 0),
    )


def _counted(records: ClassRecords) -> tuple[float, Floats, Floats]:
    """Age at which the count starts, ages of its steps, and the share still in service after each."""
    watched = records.life.watched
    start = float(np.sort(watched.entry)[min(LEAST_AT_RISK, len(watched)) - 1])
    steps = kaplan_meier(watched, start)
    shown = np.unique(np.linspace(0, len(steps.age) - 1, min(MOST_STEPS, len(steps.age))).astype(int))
    return start, steps.age[shown], float(records.life.law.survival(start)) * steps.survival[shown]


def shipped_life(records: ClassRecords) -> Weibull | None:
    """The life of the class as the tables have it."""
    named = [records.shipped.get(name) for name in LIFE]
    known = [figure.value for figure in named if figure is not None]
    return Weibull.with_mean(*known) if len(known) == len(LIFE) else None


def _ages() -> Floats:
    return np.linspace(0.0, OLDEST, AGES)


def _service(words: Words) -> Sketch:
    """An empty figure of the share in service by age."""
    figure = _figure(300, left=52, bottom=92, top=10)
    figure.update_xaxes(title_text=words.say("chart_records.age_axis"), dtick=10, range=[0, OLDEST])
    figure.update_yaxes(title_text=words.say("chart_records.share_axis"), tickformat=".0%", range=[0, 1.02])
    figure.show_legend(x=0, y=-0.24, xanchor="left", yanchor="top", traceorder="normal")
    return figure
