"""The charts of how sure an answer is, against the numbers they draw."""

import dataclasses

import numpy as np
import pytest

from decide.answers.answer import Answer, answer
from decide.economics.decision import DecisionConfidence
from decide.load.cases.case_file import Entries
from decide.show.charts.charts import Chart
from decide.show.charts.confidence import movers_chart, share_chart, spread_chart
from decide.show.text.certainty import movers
from decide.show.text.words import Words

# Invented.
CASES: dict[str, Entries] = {
    "washer": {"appliance": {"class": "clothes_washer", "age": 8}, "repair": {"quote": 250}},
    "furnace": {"appliance": {"class": "furnace_gas", "age": 14}, "repair": {"quote": 900}},
    "confidence": {"appliance": {"class": "dishwasher", "age": 3}, "repair": {"quote": 20},
        "household": {"place": "DE"}},
    "used": {
        "appliance": {"class": "refrigerator", "age": 12},
        "repair": {"quote": 400},
        "replace": [{}, {"name": "<b>Used</b>", "price": 320, "appliance": {"age": 6}}],
    },
}  # fmt: skip


@pytest.fixture(scope="module", params=CASES)
def found(request: pytest.FixtureRequest) -> Answer:
    return answer(CASES[request.param])


@pytest.fixture(scope="module")
def confidence(found: Answer) -> DecisionConfidence:
    return found.confidence


def charts_of(found: Answer, confidence: DecisionConfidence) -> list[Chart]:
    words = Words.for_place(found.case.household.region)
    made = [
        share_chart(found, words, confidence),
        spread_chart(found, words, confidence),
        movers_chart(found, words, confidence),
    ]
    return [chart for chart in made if chart is not None]


def test_full_dots_are_the_shares_to_a_tenth(found: Answer, confidence: DecisionConfidence) -> None:
    chart = share_chart(found, Words.for_place("US"), confidence)
    full = [list(row.marker.symbol).count("circle") for row in chart.figure.data]
    assert full == [round(10 * share) for share in confidence.share_cheapest]
    assert all(len(row.marker.symbol) == 10 for row in chart.figure.data)
    for name, share in zip(confidence.names, confidence.share_cheapest, strict=True):
        assert f"{name}: {Words.for_place('US').share(share)}" in chart.alt


def test_the_bars_of_the_spread_count_every_reading_once_and_part_at_nothing(
    found: Answer, confidence: DecisionConfidence
) -> None:
    bars = spread_chart(found, Words.for_place(found.case.household.region), confidence).figure.data
    assert sum(float(np.sum(bar.y)) for bar in bars) == confidence.draws
    cheaper, dearer = bars
    assert all(x >= 0 for x in cheaper.x)
    assert all(x < 0 for x in dearer.x)
    assert cheaper.marker.pattern.shape != dearer.marker.pattern.shape


def test_each_range_is_drawn_from_its_low_end_to_its_high_end(found: Answer, confidence: DecisionConfidence) -> None:
    words = Words.for_place(found.case.household.region)
    chart, rows = movers_chart(found, words, confidence), movers(words, found, confidence)
    assert chart is not None
    assert [(bar.x[0], bar.x[1]) for bar in chart.figure.data] == [(row.at_low, row.at_high) for row in rows]
    assert all(bar.marker.color[0] != bar.marker.color[1] for bar in chart.figure.data)
    for row in rows:
        assert row.label in chart.alt


def test_without_a_range_that_moves_anything_there_is_no_chart(found: Answer, confidence: DecisionConfidence) -> None:
    fixed = dataclasses.replace(confidence, ranges=(), bars=())
    assert movers_chart(found, Words.for_place("US"), fixed) is None


def test_a_chart_is_small_in_words_and_never_reads_marks(found: Answer, confidence: DecisionConfidence) -> None:
    for chart in charts_of(found, confidence):
        assert 100 <= chart.figure.layout.height <= 560
        assert sum(len(line.x) for line in chart.figure.data) <= 200
        assert all(isinstance(values, np.ndarray) for line in chart.figure.data for values in (line.x, line.y))
        assert "nan" not in chart.alt
        assert chart.alt.endswith(".")
        written = [note.text for note in chart.figure.layout.annotations]
        assert not any("<b>Used" in text for text in written)
