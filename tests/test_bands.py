"""Bands of advice: against every pair of thresholds, simulated customers, and what knowing is worth."""

import itertools
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.special import expit

from decide.answers.shop_quote import judged_curves
from decide.economics.uncertainty import evpi
from decide.errors import CaseError, OutOfRange
from decide.load.tables.tables import tables
from decide.shop.acceptance import Answers, Curve, fitted
from decide.shop.bands import (
    Offers,
    Regrets,
    below_share,
    best_bands,
    best_cut,
    normal_loss,
    outcome,
    regrets_of,
    repair_where,
    share_of_limit,
    under_terms,
    what_if,
    with_dearer_line,
    with_warranty,
)
from decide.shop.quoting import TERMS, FeeTerms

charged, waived, credited, _ = TERMS.values()

# Unit normal loss as tables print it (Raiffa & Schlaifer 1961, table II; recalled, found so in texts on value of
# information): z, L(z)
NORMAL_LOSS = [(0.0, 0.3989), (0.5, 0.1978), (1.0, 0.0833), (1.5, 0.0293), (2.0, 0.0085), (-1.0, 1.0833)]

JUDGED = judged_curves(tables())


@pytest.mark.parametrize(("z", "loss"), NORMAL_LOSS)
@pytest.mark.published("Raiffa & Schlaifer (1961), table II, from memory", "VOI-3")
def test_the_normal_loss_is_as_printed(z: float, loss: float) -> None:
    assert float(normal_loss(z)) == pytest.approx(loss, abs=5e-5)


def test_simulated_customers_regret_as_much() -> None:
    rng = np.random.default_rng(8)
    quote, limit, spread = np.array([180.0, 300.0, 420.0]), np.array([300.0, 300.0, 250.0]), np.array([80.0, 40.0, 120])
    theirs = limit[:, np.newaxis] + spread[:, np.newaxis] * rng.standard_normal((3, 400_000))
    found = regrets_of(quote, limit, spread, 12.0)
    for word, paid in (
        (found.repair, np.maximum(quote[:, np.newaxis] - theirs, 0)),
        (found.replace, np.maximum(theirs - quote[:, np.newaxis], 0)),
    ):
        error = paid.std(axis=1) / math.sqrt(paid.shape[1])
        assert np.all(np.abs(word - paid.mean(axis=1)) < 4 * error)
    assert np.all(found.both == 12.0)


def test_regrets_in_thousands_are_the_same_regrets() -> None:
    amounts = np.array([180.0, 300.0, 420.0]), np.array([300.0, 300.0, 250.0]), np.array([80.0, 40.0, 0.0]), 12.0
    plain, coarse = regrets_of(*amounts), regrets_of(*(each / 1000 for each in amounts))
    for word in ("repair", "both", "replace"):
        assert 1000 * getattr(coarse, word) == pytest.approx(getattr(plain, word))


def test_the_lesser_regret_is_the_worth_of_knowing_ones_own_limit() -> None:
    rng = np.random.default_rng(9)
    theirs = 300 + 80 * rng.standard_normal(400_000)
    known = evpi(np.stack([np.full(theirs.size, 260.0), theirs]))
    found = regrets_of(np.array([260.0]), np.array([300.0]), 80.0, 0.0)
    assert float(min(found.repair[0], found.replace[0])) == pytest.approx(known, rel=0.02)


def test_customers_who_are_all_alike_regret_the_whole_gap_or_nothing() -> None:
    found = regrets_of(np.array([200.0, 400.0]), np.array([300.0, 300.0]), 0.0, 5.0)
    assert found.repair.tolist() == [0.0, 100.0]
    assert found.replace.tolist() == [100.0, 0.0]


amounts = st.lists(
    st.tuples(st.integers(0, 6), st.integers(0, 50), st.integers(0, 50), st.integers(0, 50)), min_size=1, max_size=9
)


@given(amounts)
def test_no_pair_of_thresholds_does_better_and_jobs_of_one_score_get_one_word(rows: list[tuple[int, ...]]) -> None:
    score, repair, both, replacing = (np.array(each, float) for each in zip(*rows, strict=True))
    regrets = Regrets(repair=repair, both=both, replace=replacing)
    found = best_bands(score, regrets)
    ends = [-math.inf, *sorted(set(score)), math.inf]
    tried = []
    for low, high in itertools.combinations_with_replacement(ends, 2):
        total = 0.0
        for s, a, b, c in zip(score, repair, both, replacing, strict=True):
            total += a if s <= low else b if s <= high else c
        tried.append(total)
    assert found.lower <= found.higher
    assert found.regret(score, regrets) == pytest.approx(min(tried))
    assert found.regret(score, regrets) >= regrets.least - 1e-9
    cut = best_cut(score, regrets)
    singles = [sum(a if s <= t else c for s, a, _, c in rows) for t in ends]
    assert cut.lower == cut.higher
    assert cut.regret(score, regrets) == pytest.approx(min(singles))


def shop(jobs: int = 3_000, seed: int = 1) -> tuple[np.ndarray, ...]:
    """Invented jobs: price of new, age, limit, quote, spread."""
    rng = np.random.default_rng(seed)
    price, age = rng.uniform(400, 1500, jobs), rng.uniform(0, 18, jobs)
    limit = price * (0.7 - 0.045 * age)
    quote = price * rng.lognormal(math.log(0.3), 0.5, jobs)
    return price, age, limit, quote, 0.12 * price


def test_bands_that_only_part_where_knowing_is_worth_its_attention_are_found() -> None:
    # With one spread and one attention for all, the best words are two thresholds on the advantage itself
    rng = np.random.default_rng(4)
    advantage = rng.normal(0, 100, 4_000)
    regrets = regrets_of(np.full(4_000, 500.0), 500.0 + advantage, 60.0, 10.0)
    bands = best_bands(-advantage, regrets)
    assert bands.regret(-advantage, regrets) == pytest.approx(regrets.least)
    # the edge is where 60 L(a / 60) = 10, so L = 0.1667 and a = 0.60 x 60 (tables of the loss: L(0.60) = 0.1687)
    assert bands.higher == pytest.approx(0.6 * 60, abs=1.0)
    assert bands.lower == pytest.approx(-0.6 * 60, abs=1.0)


def test_bands_never_do_worse_than_a_rule_of_thumb_on_their_own_score() -> None:
    price, _, limit, quote, spread = shop()
    regrets = regrets_of(quote, limit, spread, 10.0)
    share = quote / price
    bands = best_bands(share, regrets)
    half = repair_where(below_share(quote, price, 0.5), regrets)
    assert bands.regret(share, regrets) <= best_cut(share, regrets).regret(share, regrets) <= half
    on_limit = share_of_limit(quote, limit)
    assert best_bands(on_limit, regrets).regret(on_limit, regrets) < bands.regret(share, regrets)


def test_a_repair_that_is_not_worth_it_for_free_is_always_the_last_to_be_advised() -> None:
    price, _, limit, quote, spread = shop()
    limit = np.where(np.arange(limit.size) % 7 == 0, -50.0, limit)
    score = share_of_limit(quote, limit)
    assert np.all(np.isinf(score[::7]))
    words = best_bands(score, regrets_of(quote, limit, spread, 10.0)).words(score)
    assert np.all(words[::7] == 2)
    assert np.all(price > 0)


def test_half_until_an_age_says_replace_from_it_on() -> None:
    quote, price = np.array([100.0, 100.0, 300.0]), np.full(3, 500.0)
    assert below_share(quote, price, 0.5, np.array([6.9, 7.0, 1.0]), 7.0).tolist() == [True, False, False]


# what if


def offers(jobs: int = 2_000) -> Offers:
    price, age, limit, quote, _ = shop(jobs)
    return Offers(quote=quote, terms=charged(90.0), limit=limit, new_price=price, age=age, kept=0.2 * quote)


@pytest.mark.parametrize("terms", [credited(90.0), FeeTerms(at_visit=30.0, if_declined=60.0)])
def test_the_outcome_is_what_simulated_customers_do(terms: FeeTerms) -> None:
    rng, now, curve = np.random.default_rng(3), under_terms(offers(500), terms), Curve(0.2, -6.0)
    won, margin, gain = [], [], []
    off, due = np.minimum(terms.credit, now.quote), terms.if_declined
    price = now.quote - off - due
    for _ in range(400):  # each has a limit of his own about the one at which half would accept, and goes by it
        theirs = price + now.new_price / 6.0 * (
            0.2 - 6.0 * (price - now.limit) / now.new_price + rng.logistic(size=500)
        )
        accepted = theirs > price
        won.append(accepted.sum())
        margin.append(np.sum(terms.at_visit + np.where(accepted, now.kept - off, due)))
        gain.append(np.sum(np.where(accepted, theirs - now.quote + off, -due) - terms.at_visit))
    found = outcome(now, curve)
    for value, seen in ((found.jobs_won, won), (found.margin, margin), (found.gain, gain)):
        assert value == pytest.approx(np.mean(seen), abs=4 * np.std(seen) / 20)


@pytest.mark.parametrize("curve", [*JUDGED, Curve(-2.0, -0.5, 0.1), Curve(3.0, -20.0)])
@pytest.mark.parametrize("factor", [1.01, 1.1, 1.5])
def test_a_price_rise_is_never_a_gain_to_customers_and_a_lower_price_never_a_loss(curve: Curve, factor: float) -> None:
    now = offers(300)
    dearer = with_dearer_line(now, 0.5 * now.quote, factor, 0.07)
    assert what_if(now, dearer, [curve]).change("gain")[1] < 0
    assert what_if(dearer, now, [curve]).change("gain")[0] > 0
    for terms in (credited(90.0), waived(90.0)):
        assert what_if(now, under_terms(now, terms), [curve]).change("gain")[0] > 0


def test_no_gain_is_told_where_price_moves_nobody() -> None:
    assert np.isnan(outcome(offers(20), Curve(0.0, 0.0)).gain)


def test_no_gain_is_told_where_it_may_be_chance_that_dearer_quotes_were_accepted_less() -> None:
    rng = np.random.default_rng(3)
    excess, age = rng.normal(-0.3, 0.2, 400), rng.uniform(1, 15, 400)
    for slope, told in ((0.0, False), (-8.0, True)):  # invented customers, who mind the price or do not
        taken = rng.uniform(size=400) < expit(1.0 + slope * (excess + 0.3))
        curve, _ = fitted(Answers(excess, age, taken))
        assert np.isfinite(outcome(offers(20), curve).gain) == told


def test_a_credited_fee_wins_jobs_and_a_waived_one_only_loses_its_income() -> None:
    now = offers()
    credit, free = (what_if(now, under_terms(now, terms), JUDGED) for terms in (credited(90.0), waived(90.0)))
    assert credit.change("jobs_won")[0] > 0
    assert free.change("jobs_won") == (0.0, 0.0)
    assert free.change("margin") == pytest.approx((-90.0 * 2_000, -90.0 * 2_000))


def test_a_dearer_hour_wins_fewer_jobs_and_a_warranty_more() -> None:
    now = offers()
    dearer = what_if(now, with_dearer_line(now, 0.5 * now.quote, 1.1, 0.07), JUDGED)
    assert dearer.change("jobs_won")[1] < 0
    assert dearer.change("gain")[1] < 0
    longer = what_if(now, with_warranty(now, 0.05, 0.8 * now.quote), JUDGED)
    assert longer.change("jobs_won")[0] > 0
    assert dearer.change("gain")[0] != dearer.change("gain")[1]


def test_a_dearer_line_and_a_longer_warranty_by_hand() -> None:
    # Own rows: not worth it for free, a limit within the quote, and one beyond it.
    three = Offers(
        quote=np.full(3, 100.0), terms=charged(60.0), limit=np.array([-20.0, 60.0, 150.0]), new_price=np.full(3, 400.0),
        age=np.full(3, 8.0), kept=np.full(3, 50.0),
    )  # fmt: skip
    dearer = with_dearer_line(three, np.array([0.0, 40.0, 80.0]), 1.25, 0.1)
    assert dearer.quote == pytest.approx([100.0, 111.0, 122.0])
    assert dearer.kept == pytest.approx([50.0, 60.0, 70.0])
    # a tenth of a free repair more, at 30 each: who accepts is spared a tenth of the lesser of quote and limit
    longer = with_warranty(three, 0.1, np.full(3, 30.0))
    assert longer.limit == pytest.approx([-20.0, 66.0, 160.0])
    assert longer.kept == pytest.approx(np.full(3, 47.0))
    with pytest.raises(OutOfRange, match="line"):
        with_dearer_line(three, np.array([0.0, -1.0, 0.0]), 1.25, 0.1)


def test_no_change_changes_nothing() -> None:
    now = offers()
    same = with_dearer_line(now, 0.5 * now.quote, 1.0, 0.07)
    for measure in ("jobs_won", "margin", "gain"):
        assert what_if(now, same, JUDGED).change(measure) == (0.0, 0.0)
    assert under_terms(now, FeeTerms(credit=1e6)).terms.credit == pytest.approx(now.quote)


def test_what_is_no_number_is_refused() -> None:
    with pytest.raises(CaseError, match="score"):
        best_bands(np.array([np.nan]), Regrets(repair=np.zeros(1), both=np.zeros(1), replace=np.zeros(1)))
    with pytest.raises(CaseError, match="score"):
        best_bands(np.array([]), Regrets(repair=np.zeros(0), both=np.zeros(0), replace=np.zeros(0)))
    with pytest.raises(OutOfRange, match="quote"):
        regrets_of(np.array([-1.0]), np.array([1.0]), 1.0, 0.0)
    with pytest.raises(OutOfRange, match="attention"):
        regrets_of(np.array([1.0]), np.array([1.0]), 1.0, -1.0)
    with pytest.raises(OutOfRange, match="spread"):
        regrets_of(np.array([1.0]), np.array([1.0]), -1.0, 0.0)
    with pytest.raises(OutOfRange, match="limit"):
        regrets_of(np.array([1.0]), np.array([np.nan]), 1.0, 0.0)
