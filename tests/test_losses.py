"""What customers lost, less what their own limits explain: by hand, and where nobody lost anything."""

import numpy as np
import pytest

from decide.shop.losses import Losses, losses_of

DOUBT = (0.5, 1.5)


def drawn(seed: int, jobs: int = 4_000, careless: float = 0.0) -> tuple[Losses, float]:
    """Quotes of customers who know their own limits, but for a share who turn down all; and what these lost."""
    draw = np.random.default_rng(seed)
    limit, quote, spread = draw.uniform(100, 700, jobs), draw.lognormal(5.6, 0.5, jobs), np.full(jobs, 90.0)
    theirs = limit + spread * draw.standard_normal(jobs)
    lazy = draw.uniform(size=jobs) < careless
    accepted = (quote <= theirs) & ~lazy
    lost = float(np.sum(np.maximum(theirs - quote, 0.0)[lazy]))
    return losses_of(quote, limit, spread, DOUBT, accepted, ~accepted), lost


def test_past_quotes_are_counted_by_hand() -> None:
    # above 2 of 7, one of them accepted at 100 too much; within: one declined that would have saved 50, and one that
    # is just at the limit, where nothing is lost; another there is accepted
    quote, limit = np.array([100.0, 400.0, 350.0, 250.0, 200.0, 300.0, 300.0]), np.full(7, 300.0)
    accepted = np.array([True, True, False, False, False, False, True])
    declined = np.array([False, False, True, True, False, True, False])
    found = losses_of(quote, limit, np.full(7, 1e-6), DOUBT, accepted, declined)
    assert (found.quotes, found.above, found.accepted_above, found.declined_within) == (7, 2, 1, 2)
    assert (found.paid_too_much.counted, found.passed_up.counted) == (100.0, 50.0)
    assert (found.paid_too_much.value, found.passed_up.explained) == (100.0, 0.0)


def test_the_range_of_a_loss_holds_the_doubt_about_the_spread_and_the_chance_of_the_draw() -> None:
    # One repair at 20 above its limit. The normal law as any table prints it, at -20/40, -20/20 and -20/10: 0.3085,
    # 0.1587, 0.0228; its nine tenths: 1.6449. So 20 less 6.17, 3.17 or .46 is lost, and 1.6449 x 19.54 is chance.
    one = np.array([True])
    found = losses_of(np.array([120.0]), np.array([100.0]), np.array([20.0]), (0.5, 2.0), one, ~one).paid_too_much
    assert (found.counted, found.explained) == (20.0, pytest.approx(3.174, abs=2e-3))
    assert found.value == pytest.approx(16.826, abs=2e-3)
    assert (found.low, found.high) == (0.0, pytest.approx(19.544 * 2.6449, abs=5e-3))
    # Of a hundred such repairs chance is a tenth as large beside them.
    many = np.ones(100, bool)
    found = losses_of(*(np.full(100, each) for each in (120.0, 100.0, 20.0)), (0.5, 2.0), many, ~many).paid_too_much
    assert found.low == pytest.approx(1383.0 - 16.449 * 19.544, abs=0.5)
    assert found.high == pytest.approx(1954.4 + 16.449 * 19.544, abs=0.5)


def test_a_book_without_quotes_lost_nothing_and_adds_nothing() -> None:
    for loss in (Losses().passed_up, Losses().paid_too_much):
        assert (loss.counted, loss.value, loss.low, loss.high) == (0, 0, 0, 0)
    one = drawn(1, jobs=50)[0]
    assert (one + Losses()).paid_too_much == one.paid_too_much


@pytest.mark.parametrize("seed", range(5))
def test_where_all_know_their_own_limit_the_plain_count_is_explained_and_the_range_reaches_nothing(seed: int) -> None:
    found, _ = drawn(seed)
    for loss in (found.passed_up, found.paid_too_much):
        assert loss.counted > 8_000
        assert loss.value < 0.2 * loss.counted
        assert loss.low == 0.0


@pytest.mark.parametrize("seed", range(5))
def test_what_careless_customers_lose_lies_in_the_range(seed: int) -> None:
    found, lost = drawn(seed, careless=0.3)
    assert found.passed_up.low <= lost <= found.passed_up.high
    assert found.passed_up.value == pytest.approx(lost, rel=0.25)
    assert found.passed_up.value < found.passed_up.counted


def test_losses_of_parts_add_up() -> None:
    draw = np.random.default_rng(3)
    limit, quote, spread = draw.uniform(100, 700, 50), draw.lognormal(5.6, 0.5, 50), np.full(50, 90.0)
    yes = draw.uniform(size=50) < 0.5
    whole = losses_of(quote, limit, spread, DOUBT, yes, ~yes)
    parts = [losses_of(quote[s], limit[s], spread[s], DOUBT, yes[s], ~yes[s]) for s in (slice(0, 20), slice(20, None))]
    both = parts[0] + parts[1]
    assert both.passed_up.low == pytest.approx(whole.passed_up.low)
    assert (both.quotes, both.above) == (whole.quotes, whole.above)
