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
    # above 2 of 5, one of them accepted at 100 too much; within: one declined that would have saved 50
    quote, limit = np.array([100.0, 400.0, 350.0, 250.0, 200.0]), np.full(5, 300.0)
    accepted = np.array([True, True, False, False, False])
    declined = np.array([False, False, True, True, False])
    found = losses_of(quote, limit, np.full(5, 1e-6), DOUBT, accepted, declined)
    assert (found.quotes, found.above, found.accepted_above, found.declined_within) == (5, 2, 1, 1)
    assert (found.paid_too_much.counted, found.passed_up.counted) == (100.0, 50.0)
    assert (found.paid_too_much.value, found.passed_up.explained) == (100.0, 0.0)


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
