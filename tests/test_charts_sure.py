"""The charts of how sure an answer is, against the numbers they draw."""

import dataclasses

import numpy as np
import pytest

from decide.breakeven import around, two_way
from decide.case import vary
from decide.load.case_file import Entries
from decide.show.answer import Answer, answer
from decide.show.certainty import movers, share_of, sure_of
from decide.show.charts import Chart
from decide.show.charts_sure import limits_chart, map_chart, movers_chart, share_chart, spread_chart
from decide.show.limits import limits_of
from decide.show.words import Words
from decide.uncertainty import HowSure
from decide.weigh import weigh

# Invented.
CASES: dict[str, Entries] = {
    "washer": {"appliance": {"class": "clothes_washer", "age": 8}, "repair": {"quote": 250}},
    "furnace": {"appliance": {"class": "furnace_gas", "age": 14}, "repair": {"quote": 900}},
    "sure": {"appliance": {"class": "dishwasher", "age": 3}, "repair": {"quote": 20}, "household": {"place": "DE"}},
    "used": {
        "appliance": {"class": "refrigerator", "age": 12},
        "repair": {"quote": 400},
        "replace": [{}, {"name": "<b>Used</b>", "price": 320, "unit": {"age": 6}}],
    },
}  # fmt: skip
PRICE, AGE = "household.electricity_price", "appliance.age"


@pytest.fixture(scope="module", params=CASES)
def found(request: pytest.FixtureRequest) -> Answer:
    return answer(CASES[request.param])


@pytest.fixture(scope="module")
def sure(found: Answer) -> HowSure:
    return sure_of(found.case, found.ranges, 512)


def charts_of(found: Answer, sure: HowSure) -> list[Chart]:
    words = Words.for_place(found.case.household.region)
    made = [share_chart(found, words, sure), spread_chart(found, words, sure), movers_chart(found, words, sure)]
    return [chart for chart in made if chart is not None]


def test_full_dots_are_the_shares_to_a_tenth(found: Answer, sure: HowSure) -> None:
    chart = share_chart(found, Words.for_place("US"), sure)
    full = [list(row.marker.symbol).count("circle") for row in chart.figure.data]
    assert full == [round(10 * share) for share in sure.share_cheapest]
    assert all(len(row.marker.symbol) == 10 for row in chart.figure.data)
    for name, share in zip(sure.names, sure.share_cheapest, strict=True):
        assert f"{name}: {share_of(Words.for_place('US'), share)}" in chart.alt


def test_the_bars_of_the_spread_count_every_reading_once_and_part_at_nothing(found: Answer, sure: HowSure) -> None:
    bars = spread_chart(found, Words.for_place(found.case.household.region), sure).figure.data
    assert sum(float(np.sum(bar.y)) for bar in bars) == sure.draws
    cheaper, dearer = bars
    assert all(x >= 0 for x in cheaper.x)
    assert all(x < 0 for x in dearer.x)
    assert cheaper.marker.pattern.shape != dearer.marker.pattern.shape


def test_each_range_is_drawn_from_its_low_end_to_its_high_end(found: Answer, sure: HowSure) -> None:
    words = Words.for_place(found.case.household.region)
    chart, rows = movers_chart(found, words, sure), movers(words, found, sure)
    assert chart is not None
    assert [(bar.x[0], bar.x[1]) for bar in chart.figure.data] == [(row.at_low, row.at_high) for row in rows]
    assert all(bar.marker.color[0] != bar.marker.color[1] for bar in chart.figure.data)
    for row in rows:
        assert row.label in chart.alt


def test_without_a_range_that_moves_anything_there_is_no_chart(found: Answer, sure: HowSure) -> None:
    fixed = dataclasses.replace(sure, ranges=(), bars=())
    assert movers_chart(found, Words.for_place("US"), fixed) is None


def test_a_chart_is_small_in_words_and_never_reads_marks(found: Answer, sure: HowSure) -> None:
    for chart in charts_of(found, sure):
        assert 100 <= chart.figure.layout.height <= 560
        assert sum(len(line.x) for line in chart.figure.data) <= 200
        assert all(isinstance(values, np.ndarray) for line in chart.figure.data for values in (line.x, line.y))
        assert "nan" not in chart.alt
        assert chart.alt.endswith(".")
        written = [note.text for note in chart.figure.layout.annotations]
        assert not any("<b>Used" in text for text in written)


def test_the_limits_are_drawn_as_they_are_and_told_apart_without_colour() -> None:
    table, words = limits_of("clothes_washer"), Words.for_place("US")
    chart = limits_chart(words, table)
    first, second = chart.figure.data
    assert list(first.y) == list(table.ends_it)
    assert list(second.y) == list(table.decided_again)
    assert first.line.dash != second.line.dash
    assert first.name != second.name
    assert words.money(float(table.ends_it[10]), "USD") in chart.alt


def test_the_line_of_the_map_parts_what_pays_from_what_does_not() -> None:
    found, words = answer(CASES["washer"]), Words.for_place("US")
    both = two_way(found.case, PRICE, AGE, around(found.case, PRICE, 11), around(found.case, AGE, 11))
    chart = map_chart(found, words, both)
    heat, line, here = chart.figure.data
    assert np.array_equal(np.asarray(heat.z) == 1, both.advantage >= 0)
    for x, y in zip(line.x[::5], line.y[::5], strict=True):
        at = vary(vary(found.case, PRICE, float(x)), AGE, float(y))
        assert float(weigh(at).advantage) == pytest.approx(0.0, abs=1e-3)
    assert (here.x[0], here.y[0]) == (found.case.household.electricity_price, found.case.appliance.age)
    assert "flips on a line from" in chart.alt


def test_a_map_on_which_nothing_flips_says_so() -> None:
    found, words = answer(CASES["sure"]), Words.for_place("EU")
    both = two_way(found.case, "repair.outlook", AGE, np.linspace(0.9, 1.0, 5), np.linspace(1.0, 3.0, 5))
    assert "does not flip" in map_chart(found, words, both).alt
