"""Figures of own records: what is drawn, and that the sentence beside each says the same."""

import numpy as np
import pytest
from shop_books import shop_book

from decide.finance.life import Weibull, drawn_to, without_delay
from decide.load.jobs.own_records import ClassRecords, class_records
from decide.load.tables.tables import tables
from decide.show.charts.shop import lives_chart
from decide.show.text.words import Words


@pytest.fixture(scope="module")
def identified() -> ClassRecords:
    return class_records(shop_book(np.random.default_rng(6), 300, 2.4, 13.0), "refrigerator", "US", tables())


@pytest.fixture(scope="module")
def not_identified() -> ClassRecords:
    return class_records(shop_book(np.random.default_rng(6), 15, 2.4, 13.0), "refrigerator", "US", tables())


def test_own_and_shipped_lives_are_drawn_with_the_band_about_the_own_one(identified: ClassRecords) -> None:
    chart = lives_chart(Words.of(), identified)
    low, high, own, shipped = chart.figure.data
    assert np.all(low.y <= own.y[1:])
    assert np.all(own.y[1:] <= high.y)
    assert own.line.dash != shipped.line.dash
    at_ten = list(own.x).index(10.0)
    assert own.y[at_ten] == pytest.approx(np.exp(-((10 / identified.life.scale) ** identified.life.shape.value)))
    # as published but for the rule of lives: 1.272 after 8.874 years is 2.45 without a delay, drawn to 2
    mean = tables().figure("mean_life", "refrigerator", "US")
    assert mean is not None
    rule = Weibull.with_mean(mean.value, drawn_to(without_delay(1.272, 11.75, 8.874), 2.0))
    assert shipped.y[at_ten] == pytest.approx(rule.survival(10.0), abs=2e-3)
    assert f"{own.y[at_ten]:.0%} still serve by own records" in chart.alt
    assert f"{mean.value:g} years" in chart.alt


def test_where_no_life_is_told_none_is_drawn(not_identified: ClassRecords) -> None:
    assert not not_identified.life.identified
    assert lives_chart(Words.of(), not_identified) is None
