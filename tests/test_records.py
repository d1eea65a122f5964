"""Shares of faults, what repairs cost, whether they hold: against printed posteriors, libraries, simulated books."""

import numpy as np
import pytest
from scipy import stats
from shop_books import jobs_of_columns

from decide.errors import OutOfRange
from decide.shop.callback_jobs import callback_jobs
from decide.shop.jobs import DECISIONS, OUTCOMES, Jobs
from decide.shop.records import RecordFigure, fault_shares, repair_costs

FAULTS = ("other", "compressor", "icemaker")
BOOKS = 2000
NOISE = 3 * (0.9 * 0.1 / BOOKS) ** 0.5
"""Three standard errors of a share of 0.9 in so many books: 0.020."""


def with_faults(counts: tuple[int, ...]) -> Jobs:
    codes = np.repeat(np.arange(len(counts)), counts).astype(np.int16)
    return jobs_of_columns(faults=FAULTS, fault=codes, age=np.zeros(len(codes)))


def with_quotes(quotes: np.ndarray) -> Jobs:
    return jobs_of_columns(quote=quotes, age=np.zeros(len(quotes)))


def repairs(*rows: tuple[str, str, str]) -> Jobs:
    """Day, outcome and its day of repaired jobs."""
    day, outcome, heard = zip(*rows, strict=True)
    return jobs_of_columns(
        date=np.array(day, dtype="datetime64[D]"),
        age=np.zeros(len(rows)),
        decision=np.full(len(rows), DECISIONS.index("repaired"), np.int16),
        outcome=np.array([OUTCOMES.index(each) for each in outcome], np.int16),
        outcome_date=np.array([each or "NaT" for each in heard], dtype="datetime64[D]"),
    )


def repair_success_probability(
    jobs: Jobs, window: float, prior: float | None = None, strength: float = np.nan
) -> RecordFigure:
    return callback_jobs(jobs, window).holds(np.ones(len(jobs), bool), prior, strength)


# faults


def test_a_share_with_no_prior_is_the_mean_of_jeffreys_posterior_with_its_interval() -> None:
    found = fault_shares(with_faults((2, 6, 2)), FAULTS)
    assert found["compressor"].value == pytest.approx(6.5 / 11.5)
    law = stats.beta(6.5, 5.0)
    assert (found["compressor"].low, found["compressor"].high) == pytest.approx((law.ppf(0.05), law.ppf(0.95)))
    assert sum(each.value for each in found.values()) == pytest.approx(1.0)


@pytest.mark.published("Gelman et al., Bayesian Data Analysis, section 3.4, from memory")
def test_shares_of_an_election_poll_have_the_published_posterior_mean() -> None:
    """Gelman et al., Bayesian Data Analysis, section 3.4 (from memory): 727, 583 and 137 of 1447 with a uniform prior
    give Dirichlet(728, 584, 138), and a mean difference of the first two of 0.099."""
    third = dict.fromkeys(FAULTS, 1 / 3)
    found = fault_shares(with_faults((727, 583, 137)), FAULTS, third, strength=3.0)
    assert found["other"].value - found["compressor"].value == pytest.approx(144 / 1450)
    assert round(found["other"].value - found["compressor"].value, 3) == 0.099


def test_few_jobs_hardly_move_a_share_known_from_elsewhere_and_many_make_it_their_own() -> None:
    prior = {"other": 0.2, "compressor": 0.5, "icemaker": 0.3}
    one = fault_shares(with_faults((0, 1, 0)), FAULTS, prior, 20.0)["compressor"]
    many = fault_shares(with_faults((0, 2000, 0)), FAULTS, prior, 20.0)["compressor"]
    assert 0.5 < one.value < 0.53
    assert many.value > 0.99


def test_a_share_known_to_be_small_or_nearly_all_has_its_interval() -> None:
    found = fault_shares(with_faults((0, 3, 0)), FAULTS, {"other": 0.02, "compressor": 0.97, "icemaker": 0.01}, 20.0)
    for fault, yes in (("other", 0.4), ("compressor", 3 + 19.4)):  # of 23 jobs, those of the prior with them
        law = stats.beta(yes, 23 - yes)
        told = (found[fault].value, found[fault].low, found[fault].high)
        assert told == pytest.approx((yes / 23, law.ppf(0.05), law.ppf(0.95)))


def test_no_jobs_give_the_prior_back() -> None:
    prior = {"other": 0.2, "compressor": 0.5, "icemaker": 0.3}
    found = fault_shares(with_faults((0, 0, 0)), FAULTS, prior, 20.0)
    assert {fault: each.value for fault, each in found.items()} == pytest.approx(prior)
    alone = fault_shares(with_faults((0, 0, 0)), FAULTS, {"compressor": 1.0}, 0.5)  # the one that there can be
    assert alone["compressor"] == RecordFigure(0, 1.0, 1.0, 1.0)
    assert alone["other"] == RecordFigure(0, 0.0, 0.0, 0.0)


def test_a_prior_of_shares_that_do_not_add_up_counts_in_proportion_and_no_prior_at_all_is_refused() -> None:
    half = fault_shares(with_faults((1, 1, 1)), FAULTS, {"other": 0.1, "compressor": 0.25, "icemaker": 0.15}, 20.0)
    full = fault_shares(with_faults((1, 1, 1)), FAULTS, {"other": 0.2, "compressor": 0.5, "icemaker": 0.3}, 20.0)
    assert half == full
    with pytest.raises(OutOfRange, match="prior"):
        fault_shares(with_faults((1, 1, 1)), FAULTS, {"door": 0.5}, 20.0)
    for wrong in (np.nan, -0.1, 1.1):
        with pytest.raises(OutOfRange, match="prior"):
            fault_shares(with_faults((1, 1, 1)), FAULTS, {"other": wrong, "compressor": 0.5}, 20.0)
    for strength in (-1.0, np.nan):
        with pytest.raises(OutOfRange, match="strength"):
            fault_shares(with_faults((1, 1, 1)), FAULTS, {"other": 0.5, "compressor": 0.5}, strength)


def test_a_fault_that_no_job_of_the_book_names_is_what_none_of_them_is_about() -> None:
    found = fault_shares(with_faults((2, 6, 2)), (*FAULTS, "door"))
    assert {fault: each.n for fault, each in found.items()} == {"other": 2, "compressor": 6, "icemaker": 2, "door": 0}
    assert found["door"].value == pytest.approx(0.5 / 12)


def test_nine_of_ten_intervals_of_a_share_hold_it_when_the_shop_is_drawn_from_the_prior() -> None:
    rng, inside = np.random.default_rng(3), 0
    prior = {"other": 0.2, "compressor": 0.5, "icemaker": 0.3}
    for _ in range(BOOKS):
        true = rng.dirichlet(20 * np.array(list(prior.values())))
        drawn = rng.multinomial(15, true)
        found = fault_shares(with_faults(tuple(drawn)), FAULTS, prior, 20.0)["compressor"]
        inside += found.low <= true[1] <= found.high
    assert inside / BOOKS == pytest.approx(0.9, abs=NOISE)


# quotes


@pytest.mark.published("tables of chi-squared, 9 degrees of freedom")
def test_quotes_of_ten_jobs_have_the_textbook_interval() -> None:
    logs = np.array([5.1, 5.3, 5.7, 5.9, 6.0, 5.2, 5.5, 5.8, 6.1, 5.4])
    found = repair_costs(with_quotes(np.exp(logs)))
    low, high = stats.t(9, logs.mean(), stats.sem(logs)).interval(0.9)
    assert (found.median.low, found.median.high) == pytest.approx((np.exp(low), np.exp(high)))
    assert found.median.value == pytest.approx(stats.gmean(np.exp(logs)))
    assert found.spread.value == pytest.approx(logs.std(ddof=1))
    # chi-squared, 9 degrees of freedom, any table: 3.325 and 16.919
    assert found.spread.low == pytest.approx(logs.std(ddof=1) * (9 / 16.919) ** 0.5, rel=1e-4)
    assert found.spread.high == pytest.approx(logs.std(ddof=1) * (9 / 3.325) ** 0.5, rel=1e-4)


def test_quotes_in_thousands_cost_the_same() -> None:
    quotes = np.array([100.0, 200, 300, 150, 250, 120, 180, 90, 2000])
    plain, coarse = repair_costs(with_quotes(quotes)), repair_costs(with_quotes(quotes / 1000))
    of_median, of_coarse = ((each.median.low, each.median.value, each.median.high) for each in (plain, coarse))
    assert coarse.median.n == 9
    assert 1000 * np.array(of_coarse) == pytest.approx(np.array(of_median))
    assert coarse.spread.value == pytest.approx(plain.spread.value)


def test_quotes_count_whether_taken_or_not_but_none_that_is_missing_or_of_nothing() -> None:
    quotes = np.array([100.0, 200, 300, 150, 250, 120, 180, 90, np.nan, 0.0])
    assert repair_costs(with_quotes(quotes)).median.n == 8
    few = repair_costs(with_quotes(quotes[:7]))
    assert few.median.too_few
    assert few.spread.too_few
    assert few.median.n == 7


@pytest.mark.parametrize("n", [8, 40])
def test_nine_of_ten_intervals_of_simulated_quotes_hold_the_true_median_and_spread(n: int) -> None:
    rng = np.random.default_rng(n)
    found = [repair_costs(with_quotes(240 * np.exp(0.6 * rng.standard_normal(n)))) for _ in range(BOOKS)]
    assert np.mean([each.median.low <= 240 <= each.median.high for each in found]) == pytest.approx(0.9, abs=NOISE)
    assert np.mean([each.spread.low <= 0.6 <= each.spread.high for each in found]) == pytest.approx(0.9, abs=NOISE)


def test_a_median_as_a_share_of_a_price_keeps_its_jobs_and_one_of_too_few_stays_so() -> None:
    assert RecordFigure(9, 200.0, 100.0, 400.0).times(1 / 800) == RecordFigure(9, 0.25, 0.125, 0.5)
    assert RecordFigure(3).times(0.5).too_few


# callbacks


def test_a_repair_holds_once_the_window_has_passed_without_a_call() -> None:
    book = repairs(
        ("2024-01-01", "unknown", ""),
        ("2024-01-01", "held", "2024-06-01"),
        ("2024-01-01", "called back", "2024-01-20"),
        ("2024-01-01", "called back", "2024-09-20"),
        ("2024-01-01", "failed again", "2024-01-20"),
        ("2024-01-01", "retired", "2024-01-20"),
        ("2024-01-01", "retired", "2024-01-31"),  # on the last day of the window
        ("2024-01-01", "retired", "2024-02-01"),  # after it
        ("2024-12-20", "unknown", ""),
        ("2024-12-20", "called back", "2024-12-25"),
        ("2024-12-31", "unknown", ""),
    )
    found = repair_success_probability(book, 30.0)
    assert found.n == 6  # not those retired within the window, nor the three for which it has not passed
    assert found.value == pytest.approx(5.5 / 7)


def test_only_repairs_that_were_done_can_hold() -> None:
    book = jobs_of_columns(
        date=np.array(["2024-01-01", "2024-06-01"], dtype="datetime64[D]"),
        age=np.zeros(2),
        decision=np.array([DECISIONS.index("declined"), DECISIONS.index("replaced")], np.int16),
    )
    assert repair_success_probability(book, 30.0).too_few
    assert repair_success_probability(book.take(slice(0)), 30.0).too_few


def test_callbacks_start_from_the_share_known_from_elsewhere() -> None:
    rows = [("2024-01-01", "held", "2024-06-01")] * 10
    found = repair_success_probability(repairs(*rows), 30.0, prior=0.925, strength=20.0)
    assert found.value == pytest.approx((10 + 20 * 0.925) / 30)
    law = stats.beta(28.5, 1.5)
    assert (found.low, found.high) == pytest.approx((law.ppf(0.05), law.ppf(0.95)))
    slightly = repair_success_probability(repairs(*rows), 30.0, prior=0.925, strength=0.5)
    assert slightly.value == pytest.approx((10 + 0.5 * 0.925) / 10.5)
    with pytest.raises(OutOfRange, match="prior"):
        repair_success_probability(repairs(*rows), 30.0, prior=1.5)
    for strength in (-1.0, np.nan):
        with pytest.raises(OutOfRange, match="strength"):
            repair_success_probability(repairs(*rows), 30.0, prior=0.925, strength=strength)


def test_nine_of_ten_intervals_of_callbacks_hold_the_true_share() -> None:
    rng, inside = np.random.default_rng(4), 0
    for _ in range(BOOKS):
        true = rng.beta(20 * 0.925, 20 * 0.075)
        back = int(rng.binomial(60, 1 - true))
        rows = [("2024-01-01", "called back", "2024-01-09")] * back
        rows += [("2024-01-01", "held", "2024-06-01")] * (60 - back)
        found = repair_success_probability(repairs(*rows), 30.0, prior=0.925, strength=20.0)
        inside += found.low <= true <= found.high
    assert inside / BOOKS == pytest.approx(0.9, abs=NOISE)


def test_a_share_that_is_sure_from_elsewhere_and_never_contradicted_stays_sure() -> None:
    rows = [("2024-01-01", "held", "2024-06-01")] * 3
    for prior in (0.0, 1.0):
        last = ("2024-06-01", "unknown", "")  # the window of the others has passed
        always = repairs(*rows) if prior else repairs(*[("2024-01-01", "called back", "2024-01-05")] * 3, last)
        assert repair_success_probability(always, 30.0, prior=prior, strength=20.0) == RecordFigure(
            3, prior, prior, prior
        )
