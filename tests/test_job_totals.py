"""Totals of weighed jobs: a book of eight rows added up by hand. Large books stand in `test_weigh_jobs.py`."""

import math

import numpy as np
import pytest
from shop_books import jobs_of_columns

from decide.shop.job_totals import Tally, band_of, part, quantile_share, summary, tally_of
from decide.shop.jobs import DECISIONS, Jobs
from decide.shop.weigh_jobs import VERDICTS, WeighedJobs

NONE = math.nan
# Own rows: class, age, price of a new one, limit, quote, verdict, decision. Shares of the price lie in mid-cell.
ROWS = [
    ("dishwasher", 2.0, 500.0, 151.25, 100.0, "repair", "repaired"),
    ("dishwasher", 2.9, 500.0, 151.25, 200.0, "replace", "repaired"),  # 48.75 too much
    ("dishwasher", 3.0, 500.0, 131.25, 120.0, "repair", "declined"),  # 11.25 passed up
    ("dishwasher", 10.0, 500.0, 91.25, NONE, "no quote", "open"),
    ("dishwasher", 10.0, 500.0, NONE, 300.0, "refused", "replaced"),
    ("refrigerator", 25.0, 1000.0, 102.5, 80.0, "repair", "replaced"),  # 22.5 passed up
    ("refrigerator", 25.0, 1000.0, -37.5, 405.0, "replace", "left"),
    ("refrigerator", 25.0, NONE, NONE, 90.0, "not weighed", "repaired"),
]


@pytest.fixture(scope="module")
def book() -> tuple[Jobs, WeighedJobs]:
    kind, age, price, limit, quote, verdict, decision = zip(*ROWS, strict=True)
    kinds = ("dishwasher", "refrigerator", "washer")
    jobs = jobs_of_columns(
        kinds=kinds,
        kind=np.array([kinds.index(each) for each in kind], np.int16),
        age=np.array(age),
        quote=np.array(quote),
        decision=np.array([DECISIONS.index(each) for each in decision], np.int16),
    )
    weighed = WeighedJobs(
        repair_limit=np.array(limit),
        advantage=np.array(limit) - np.array(quote),
        credit=np.zeros(len(ROWS)),
        quote=np.array(quote),
        new_price=np.array(price),
        verdict=np.array([VERDICTS.index(each) for each in verdict], np.int8),
        state=np.zeros(len(ROWS), np.int8),
        stopped=np.array([each == "refused" for each in verdict]),
        claimable=np.zeros(len(ROWS), bool),
        reason=np.array([each == "not weighed" for each in verdict], np.int8),
    )
    return jobs, weighed


@pytest.fixture(scope="module")
def tally(book: tuple[Jobs, WeighedJobs]) -> Tally:
    return tally_of(*book)


def test_a_class_is_added_up_as_by_hand(tally: Tally) -> None:
    line = part(tally, "dishwasher")
    assert (line.kind, line.band) == ("dishwasher", None)
    assert (line.jobs, line.repair, line.replace, line.leave) == (5, 2, 1, 0)
    assert (line.no_quote, line.refused, line.not_weighed) == (1, 1, 0)
    assert (line.mean_limit, line.mean_price) == ((151.25 + 151.25 + 131.25 + 91.25) / 4, 500.0)
    assert (line.quoted, line.mean_quote) == (3, 140.0)
    assert (line.above, line.paid_above, line.paid_above_cost, line.paid_above_each) == (1, 1, 48.75, 48.75)
    assert (line.passed_up, line.value_lost_by_declining) == (1, 11.25)
    assert line.above_share == pytest.approx(1 / 3)
    # two of four lie below the end of the cell of half a percent that holds the second
    assert line.median_limit_share == pytest.approx(0.265)
    assert line.median_limit == pytest.approx(132.5)
    assert part(tally, "dishwasher", None, "repaired").jobs == 2
    assert math.isnan(part(tally, "dishwasher", None, "repaired").median_limit_share)


def test_quotes_that_nobody_paid_or_that_were_far_above_are_no_loss(tally: Tally) -> None:
    line = part(tally, "refrigerator")
    assert (line.jobs, line.repair, line.replace, line.not_weighed, line.quoted) == (3, 1, 1, 1, 2)
    assert (line.above, line.paid_above, line.paid_above_cost) == (1, 0, 0.0)
    assert math.isnan(line.paid_above_each)
    assert (line.passed_up, line.value_lost_by_declining) == (1, 22.5)
    assert (line.mean_limit, line.mean_price, line.mean_quote) == (32.5, 1000.0, 242.5)
    assert float(tally.sums["stopped"].sum()) == 1


def test_a_summary_has_a_line_for_each_age_with_jobs_then_the_class_then_all(tally: Tally) -> None:
    lines = summary(tally)
    assert [(line.kind, line.band, line.jobs) for line in lines] == [
        ("dishwasher", 0, 2), ("dishwasher", 1, 1), ("dishwasher", 3, 2), ("dishwasher", None, 5),
        ("refrigerator", 6, 3), ("refrigerator", None, 3), (None, None, 8),
    ]  # fmt: skip
    whole = lines[-1]
    assert (whole.above, whole.paid_above, whole.passed_up, whole.value_lost_by_declining) == (2, 1, 2, 33.75)
    assert math.isnan(whole.median_limit)
    nobody = part(tally, "washer")
    assert nobody.jobs == 0
    assert all(math.isnan(each) for each in (nobody.mean_limit, nobody.mean_quote, nobody.above_share))


def test_tallies_of_parts_make_the_whole_and_those_of_other_classes_none(book: tuple[Jobs, WeighedJobs]) -> None:
    jobs, weighed = book
    whole, parts = tally_of(jobs, weighed), [tally_of(jobs.take(s), weighed.take(s)) for s in (slice(3), slice(3, 8))]
    both = parts[0] + parts[1]
    assert all(np.array_equal(both.sums[name], whole.sums[name]) for name in whole.sums)
    assert np.array_equal(both.limits, whole.limits)
    assert np.array_equal(both.advantages, whole.advantages)
    with pytest.raises(ValueError, match="same list"):
        whole + Tally(kinds=("oven",), sums=whole.sums, limits=whole.limits, advantages=whole.advantages)


def test_a_quantile_lies_straight_within_its_cell(tally: Tally) -> None:
    limits = tally.limits[0].sum(axis=0)  # of dishwashers: .1825, .2625 and twice .3025, cells of .005
    for below, share in ((0.125, 0.1825), (0.25, 0.185), (0.5, 0.265), (0.75, 0.3025), (1.0, 0.305)):
        assert quantile_share(limits, below) == pytest.approx(share)
    gains = tally.advantages[1].sum(axis=0)  # of refrigerators: .0225 and -.4425
    assert (quantile_share(gains, 0.25), quantile_share(gains, 0.75)) == (pytest.approx(-0.4425), pytest.approx(0.0225))
    assert math.isnan(quantile_share(np.zeros(800), 0.5))


def test_shares_beyond_the_histogram_count_in_its_ends(book: tuple[Jobs, WeighedJobs]) -> None:
    jobs, weighed = (each.take(np.array([0, 1])) for each in book)
    far = tally_of(jobs, WeighedJobs(**{**vars(weighed), "repair_limit": np.array([-5000.0, 5000.0])}))
    found = far.limits[0].sum(axis=0)
    assert (found[0], found[-1], found.sum()) == (1, 1, 2)


def test_an_age_that_nobody_knows_or_that_cannot_be_counts_in_the_nearest_band() -> None:
    assert band_of(np.array([-1.0, 0.0, 2.99, 3.0, 20.0, np.inf, np.nan])).tolist() == [0, 0, 0, 1, 6, 6, 6]


def test_shares_of_a_row_are_of_its_own_price(book: tuple[Jobs, WeighedJobs]) -> None:
    _, weighed = book
    assert weighed.limit_share[[0, 5]] == pytest.approx([0.3025, 0.1025])
    assert weighed.quote_share[[0, 5]] == pytest.approx([0.2, 0.08])
    assert weighed.weighed.tolist() == [True] * 7 + [False]
