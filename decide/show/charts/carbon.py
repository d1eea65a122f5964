"""The figure of what each way emits and for what, with the sentence that says it; the looks are those of `charts`.

Pieces differ by pattern and carry their names where there is room; no meaning rests on colour alone.
"""

from typing import Final

import numpy as np

from ...answers.answer import Answer
from ...answers.carbon import CarbonAnswer, carbon_answer
from ...economics.flows import COST_CATEGORIES
from ..text.carbon_words import LEAST, kilograms
from ..text.words import Words
from .charts import CATEGORY_LOOK, INK, LIGHT_FILLS, MUTED, Chart, _figure, _say, _shown
from .sketch import filled

ROW: Final = 62
"""Height of one way's bar with its name. [pixel]"""
LETTERS_OF_A_BAR: Final = 40
"""Letters that fit along the longest bar on a phone."""


def carbon_chart(answer: Answer, words: Words) -> Chart:
    """Bars of what each way emits over the years, piece by piece; what a caution refuses is left out."""
    found = carbon_answer(answer)
    ways = [o for o in found.weighing.options[: len(found.filled.case.options)] if not o.blocked_by]
    longest = max(way.present_cost for way in ways)
    figure = _figure(ROW * len(ways) + 48, left=4, bottom=42, top=4)
    for row, way in enumerate(ways):
        begins = 0.0
        for category in COST_CATEGORIES:
            amount = way.by_category[category]
            if abs(amount) < LEAST:
                continue
            fill, pattern = CATEGORY_LOOK[category]
            name = words.say(f"carbon.category.{category}")
            fits = len(name) + 2 < LETTERS_OF_A_BAR * amount / longest
            figure.add_bar(
                x=np.array([amount]),
                base=np.array([begins]),
                y=np.array([row + 0.25]),
                width=np.array([0.4]),
                orientation="h",
                marker=filled(fill, pattern, 6),
                text=[_shown(name) if fits else ""],
                textposition="inside",
                insidetextanchor="middle",
                textangle=0,
                textfont={"color": INK if category in LIGHT_FILLS else "white"},
            )
            begins += amount
        name, total = _shown(words.option(way.name)), kilograms(words, way.present_cost)
        text = words.say("carbon.bar", name=name, total=total)
        _say(figure, text, 0.0, row - 0.02, INK, "flush", "bottom", bold=True)
    figure.update_layout(barmode="overlay")
    axis = {"range": [0, 1.04 * longest], "nticks": 5, "tickformat": ",.0f", "tickfont": {"color": MUTED}}
    figure.update_xaxes(title_text=words.say("chart_carbon.axis"), **axis)
    figure.update_yaxes(visible=False, range=[len(ways) - 0.46, -0.5])
    return Chart(figure, carbon_alt(words, found))


def carbon_alt(words: Words, found: CarbonAnswer) -> str:
    """Say what the bars show, from the same numbers."""
    rows = []
    for way in found.weighing.options[: len(found.filled.case.options)]:
        if way.blocked_by:
            continue
        parts = "; ".join(
            words.say(
                "chart_carbon.part",
                category=words.say(f"carbon.category.{category}"),
                amount=kilograms(words, way.by_category[category]),
            )
            for category in COST_CATEGORIES
            if abs(way.by_category[category]) >= LEAST
        )
        total = kilograms(words, way.present_cost)
        rows.append(words.say("chart_carbon.row", name=words.option(way.name), total=total, parts=parts))
    return words.say("chart_carbon.alt", years=words.years(found.years), rows=". ".join(rows))
