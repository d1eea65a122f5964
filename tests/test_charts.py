"""The charts against the numbers they draw: lines that meet at the repair limit, words that agree."""

import tomllib
from typing import Any

import numpy as np
import pytest
from conftest import ROOT

from decide.answers.answer import Answer, answer
from decide.load.cases.case_file import Entries
from decide.show.charts.charts import Chart, breakeven_chart
from decide.show.charts.palette import INK, MUTED, OTHERWISE, REPAIRING
from decide.show.text.report import paid_of
from decide.show.text.words import Words

DEMO: Entries = tomllib.loads((ROOT / "data" / "demo" / "refrigerator.toml").read_text("utf-8"))

# Invented.
WORTHLESS: Entries = {
    "appliance": {"class": "refrigerator", "age": 25, "fault": "compressor", "electricity": 2200},
    "household": {"place": "US"},
    "repair": {"quote": 300, "remaining_life_factor": 0.4},
}
NO_QUOTE: Entries = {
    "appliance": {"class": "clothes_washer", "age": 6, "fault": "shock_absorbers"},
    "household": {"place": "FR", "study_period": 6},
    "leave": {"annual_loss_of_use": 80},
}
RULED_OUT: Entries = {
    "appliance": {"class": "water_heater_electric", "age": 11, "fault": "tank_leak"},
    "household": {"place": "DE"},
    "repair": {"quote": 250},
}
CASES = {"demo": DEMO, "worthless": WORTHLESS, "no_quote": NO_QUOTE, "ruled_out": RULED_OUT}
WITH_A_LIMIT = ["demo", "worthless", "no_quote"]

# WCAG 2.1, success criterion 1.4.3 (contrast of text, from memory) with its relative luminance of sRGB.
LEAST_CONTRAST = 4.5
PAPER = "#f7f8f5"


def found(name: str) -> tuple[Answer, Any]:
    result = answer(CASES[name])
    return result, Words.for_place(result.case.household.region)


def charts_of(name: str) -> list[Chart]:
    result, words = found(name)
    made = breakeven_chart(result, words)
    return [] if made is None else [made]


def trace(chart: Chart, index: int) -> Any:
    return chart.figure.data[index]


def luminance(colour: str) -> float:
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    red, green, blue = (part / 12.92 if part <= 0.03928 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    dark, light = sorted((luminance(one), luminance(other)))
    return (light + 0.05) / (dark + 0.05)


@pytest.mark.parametrize("name", ["demo", "no_quote"])
def test_the_lines_meet_at_the_repair_limit(name: str) -> None:
    result, words = found(name)
    chart = breakeven_chart(result, words)
    assert chart is not None
    repairing, level = trace(chart, 0), trace(chart, 1)
    met = np.interp(float(result.weighing.repair_limit), repairing.x, repairing.y)
    assert met == pytest.approx(level.y[0])
    assert level.y[0] == level.y[1]


@pytest.mark.parametrize("quote", [0.0, 60.0, 150.0])
def test_the_line_of_repairing_is_what_the_model_says_at_any_quote(quote: float) -> None:
    """The line is drawn once; here the case is answered anew at each quote."""
    entries = {**DEMO, "repair": {"quote": 100, "remaining_life_factor": 0.8}}
    result = answer(entries)
    chart = breakeven_chart(result, Words.for_place("US"))
    assert chart is not None
    asked = answer({**entries, "repair": {**entries["repair"], "quote": quote}}).weighing.options
    cheapest_repair = min(float(cost.present_cost) for cost in asked if cost.action == "repair")
    line = trace(chart, 0)
    assert line.x[0] <= quote <= line.x[1]
    assert np.interp(quote, line.x, line.y) == pytest.approx(cheapest_repair, rel=1e-9)


def test_the_level_line_is_the_cheapest_other_way() -> None:
    result, words = found("no_quote")
    chart = breakeven_chart(result, words)
    assert chart is not None
    others = [float(cost.present_cost) for cost in result.weighing.options if cost.action != "repair"]
    assert trace(chart, 1).y[0] == pytest.approx(min(others))


def test_the_quote_is_marked_where_it_is_and_only_if_there_is_one() -> None:
    for name, marked in {"demo": True, "worthless": True, "no_quote": False}.items():
        result, words = found(name)
        chart = breakeven_chart(result, words)
        assert chart is not None
        diamonds = [line for line in chart.figure.data if line.marker.symbol == "diamond"]
        assert [float(line.x[0]) for line in diamonds] == ([float(result.weighing.quoted)] if marked else [])


def test_a_repair_that_is_not_worth_doing_for_free_never_meets_the_line() -> None:
    result, words = found("worthless")
    chart = breakeven_chart(result, words)
    assert chart is not None
    assert min(trace(chart, 0).y) > max(trace(chart, 1).y)
    assert words.money(-float(result.weighing.repair_limit)) in chart.alt


def test_no_chart_is_made_of_what_does_not_exist() -> None:
    result, words = found("ruled_out")
    assert breakeven_chart(result, words) is None
    result, words = found("no_quote")


def test_what_is_paid_starts_with_today_and_never_falls() -> None:
    result, words = found("demo")
    paid = paid_of(words, result)
    assert paid is not None
    repair = next(cost for cost in result.weighing.options if cost.action == "repair")
    assert paid.lines[0][0] == pytest.approx(result.bill(repair.option))
    assert [len(line) for line in paid.lines] == [11, 11]
    assert all(np.all(np.diff(line) > 0) for line in paid.lines)


# Invented.
FOR_SOME_YEARS: Entries = {
    "appliance": {"class": "clothes_washer", "age": 6, "fault": "drain_pump"},
    "household": {"place": "FR"},
    "repair": {"quote": 150},
}


@pytest.mark.parametrize("years", [1, 2, 3, 4, 6, 9, 11, 14, 20])
def test_what_is_paid_over_a_study_period_never_falls_and_ends_with_it(years: int) -> None:
    """What a unit is still worth at the end is no money paid, though it counts in the present cost."""
    result = answer({**FOR_SOME_YEARS, "household": {"place": "FR", "study_period": years}})
    paid = paid_of(Words.for_place("FR"), result)
    assert paid is not None
    for line in paid.lines:
        assert np.all(np.diff(line) >= 0)
        assert len(line) == min(years, len(paid.lines[0]) - 1) + 1
    last = len(paid.lines[0]) - 1
    roomy = {4: (1, 4), 6: (1, 5, 6), 9: (1, 5, 9), 11: (1, 5, 11), 14: (1, 5, 10, 14)}  # amounts do not lie on others
    assert paid.marked == roomy.get(last, paid.marked)
    assert paid.marked[-1] == last


@pytest.mark.parametrize("name", CASES)
def test_a_chart_is_small_fixed_in_height_and_made_of_arrays(name: str) -> None:
    for chart in charts_of(name):
        assert 120 <= chart.figure.layout.height <= 560
        assert sum(len(line.x) for line in chart.figure.data) <= 200
        assert all(isinstance(values, np.ndarray) for line in chart.figure.data for values in (line.x, line.y))


@pytest.mark.parametrize("name", CASES)
def test_the_words_of_a_chart_are_whole(name: str) -> None:
    for chart in charts_of(name):
        assert "nan" not in chart.alt
        assert chart.alt.endswith(".")


@pytest.mark.parametrize("name", WITH_A_LIMIT)
def test_the_labels_of_the_breakeven_chart_are_the_figures_of_the_headline(name: str) -> None:
    result, words = found(name)
    chart = breakeven_chart(result, words)
    assert chart is not None
    labels = " ".join(note.text for note in chart.figure.layout.annotations)
    limit, quoted = float(result.weighing.repair_limit), float(result.weighing.quoted)
    assert (words.money(limit) in labels) == (limit > 0)
    assert np.isnan(quoted) or words.money(quoted) in labels


def test_nothing_is_told_by_colour_alone() -> None:
    result, words = found("demo")
    breakeven = breakeven_chart(result, words)
    assert breakeven is not None
    assert len({trace(breakeven, i).line.dash for i in (0, 1)}) == 2


@pytest.mark.parametrize("colour", [INK, MUTED, REPAIRING, OTHERWISE])
def test_a_label_can_be_read_on_the_page(colour: str) -> None:
    assert contrast(colour, PAPER) >= LEAST_CONTRAST


def test_a_name_from_a_customer_is_never_read_as_marks() -> None:
    entries = {**DEMO, "replace": [{"name": "<a href='http://example.org'>tap</a> " + "x" * 60, "price": 500}]}
    result = answer(entries)
    words = Words.for_place("US")
    chart = breakeven_chart(result, words)
    assert chart is not None
    written = [note.text for note in chart.figure.layout.annotations] + [line.name or "" for line in chart.figure.data]
    assert not any("<a" in text for text in written)
    assert max(map(len, written)) < 100
