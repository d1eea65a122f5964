"""The charts of how sure an answer is, against the numbers they draw."""

import dataclasses

import numpy as np
import pytest

from decide.answers.answer import Answer, answer
from decide.economics.decision import DecisionConfidence
from decide.load.cases.case_file import Entries
from decide.show.charts.charts import Chart
from decide.show.charts.confidence import movers_chart
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


def charts_of(found: Answer) -> list[Chart]:
    words = Words.for_place(found.case.household.region)
    made = movers_chart(found, words)
    return [] if made is None else [made]


def test_each_range_is_drawn_from_its_low_end_to_its_high_end(found: Answer, confidence: DecisionConfidence) -> None:
    words = Words.for_place(found.case.household.region)
    chart, rows = movers_chart(found, words), movers(words, found, confidence)
    assert chart is not None
    assert [(bar.x[0], bar.x[1]) for bar in chart.figure.data] == [(row.at_low, row.at_high) for row in rows]
    assert all(bar.marker.color[0] != bar.marker.color[1] for bar in chart.figure.data)
    for row in rows:
        assert row.label in chart.alt


def test_without_a_range_that_moves_anything_there_is_no_chart(found: Answer, confidence: DecisionConfidence) -> None:
    fixed = dataclasses.replace(found)
    vars(fixed)["confidence"] = dataclasses.replace(confidence, ranges=(), bars=())
    assert movers_chart(fixed, Words.for_place("US")) is None


def test_a_chart_is_small_in_words_and_never_reads_marks(found: Answer) -> None:
    for chart in charts_of(found):
        assert 100 <= chart.figure.layout.height <= 560
        assert sum(len(line.x) for line in chart.figure.data) <= 200
        assert all(isinstance(values, np.ndarray) for line in chart.figure.data for values in (line.x, line.y))
        assert "nan" not in chart.alt
        assert chart.alt.endswith(".")
        written = [note.text for note in chart.figure.layout.annotations]
        assert not any("<b>Used" in text for text in written)
