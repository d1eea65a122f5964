"""The order of checks, what a finding changes, and the bill before any quote: against print, all orders, simulation."""

import itertools
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.stats import lognorm

from decide.diagnosis.check_order import MOST_CAUSES, NOT_MADE, best_order, counted, expected_cost, observed, ruled_out
from decide.diagnosis.expected_bill import Bill, visit
from decide.errors import CaseError, OutOfRange

# Rule: largest chance for its cost first, one fault. Kadane, Simon (1977); Kalagnanam, Henrion, UAI 1990 (arXiv
# 1304.2362); Heckerman, Breese, Rommelse, CACM 38(3):49-57 (1995). Numbers of our own; the sums were done apart from
# this program, over all 120 orders.
FIVE_CAUSES = {
    "chance": [0.4, 0.25, 0.2, 0.1, 0.05],
    "check_cost": [20.0, 5.0, 40.0, 8.0, 60.0],
    "repair_cost": [90.0, 150.0, 60.0, 30.0, 200.0],
}
FIVE_ORDER, FIVE_CHECKS, FIVE_REPAIRS, FIVE_TOTAL, FIVE_WORST = [1, 0, 3, 2, 4], 35.8, 98.5, 134.3, 118.25

# The same with a service call of fixed cost to fall back on (extension of Heckerman, Breese, Rommelse, 1995), by how
# many checks are made before it; summed apart from this program, over all ordered subsets.
FALLBACK = 180.0
FIVE_BY_CHECKS = [180.0, 177.5, 156.5, 144.3, 130.3, 134.3]
FIVE_WITH_FALLBACK = [1, 0, 3, 2]


def by_hand(order, chance, check, repair, fallback=math.inf):
    """Walk an order cause by cause: for each world, pay for looks until its fault is met."""
    total = 0.0
    for truth, share in enumerate(chance):
        if share == 0:
            continue
        paid = 0.0
        for cause in order:
            paid += check[cause]
            if cause == truth:
                paid += repair[cause]
                break
        else:
            paid += fallback
        total += share * paid
    return total


def allowed(order, after):
    return all(not after[i, j] or (j in order[:at]) for at, i in enumerate(order) for j in range(len(after)))


def least_over_all_orders(chance, check, repair, after, fallback=math.inf):
    n = len(chance)
    sizes = [n] if math.isinf(fallback) else range(n + 1)
    return min(
        by_hand(order, chance, check, repair, fallback)
        for size in sizes
        for order in itertools.permutations(range(n), size)
        if allowed(order, after)
    )


# the order


@pytest.mark.published("own sums over all orders; rule of Kadane & Simon (1977), Kalagnanam & Henrion (1990)", "TRB-1")
def test_the_likeliest_for_its_cost_comes_first():
    plan = best_order(**FIVE_CAUSES)
    assert plan.order.tolist() == FIVE_ORDER
    assert plan.checking == pytest.approx(FIVE_CHECKS, abs=1e-9)
    assert plan.repairing == pytest.approx(FIVE_REPAIRS, abs=1e-9)
    assert plan.cost == pytest.approx(FIVE_TOTAL, abs=1e-9)
    assert plan.giving_up == 0


@pytest.mark.published("own sums over all orders; rule of Kadane & Simon (1977), Kalagnanam & Henrion (1990)", "TRB-1")
def test_the_worst_order_costs_what_was_summed_apart():
    costs = [float(expected_cost(order, **FIVE_CAUSES).checking) for order in itertools.permutations(range(5))]
    assert max(costs) == pytest.approx(FIVE_WORST, abs=1e-9)
    assert min(costs) == pytest.approx(FIVE_CHECKS, abs=1e-9)


@pytest.mark.published("own sums over all subsets; extension of Heckerman, Breese & Rommelse (1995)", "TRB-2")
def test_a_fallback_ends_the_search_where_that_costs_less():
    plan = best_order(**FIVE_CAUSES, fallback=FALLBACK)
    assert plan.order.tolist() == [*FIVE_WITH_FALLBACK, NOT_MADE]
    assert plan.cost == pytest.approx(FIVE_BY_CHECKS[4], abs=1e-9)
    for checks, cost in enumerate(FIVE_BY_CHECKS):
        order = FIVE_ORDER[:checks] + [NOT_MADE] * (5 - checks)
        assert expected_cost(order, **FIVE_CAUSES, fallback=FALLBACK).cost == pytest.approx(cost, abs=1e-9)


def test_a_cheap_fallback_is_taken_at_once():
    plan = best_order(**FIVE_CAUSES, fallback=20.0)
    assert plan.order.tolist() == [NOT_MADE] * 5
    assert plan.cost == pytest.approx(20.0)


@st.composite
def searches(draw, most=7):
    n = draw(st.integers(1, most))
    weights = np.array([draw(st.integers(1, 40)) for _ in range(n)], dtype=float)
    check = np.array([draw(st.sampled_from([0.0, 3.0, 8.0, 20.0, 55.0])) for _ in range(n)])
    repair = np.array([float(draw(st.integers(0, 300))) for _ in range(n)])
    ranks = draw(st.permutations(range(n)))  # a random order that the prerequisites agree with
    after = np.zeros((n, n), dtype=bool)
    for i, j in itertools.permutations(range(n), 2):
        if ranks[j] < ranks[i]:
            after[i, j] = draw(st.sampled_from([False, False, True]))
    return weights / weights.sum(), check, repair, after


@given(searches())
def test_no_order_of_all_that_prerequisites_allow_costs_less(search):
    chance, check, repair, after = search
    plan = best_order(chance, check, repair, after)
    assert allowed(plan.order.tolist(), after)
    assert float(plan.cost) == pytest.approx(least_over_all_orders(chance, check, repair, after), abs=1e-9)
    assert by_hand(plan.order, chance, check, repair) == pytest.approx(float(plan.cost), abs=1e-9)


@given(searches(most=5), st.sampled_from([0.0, 40.0, 120.0, 400.0]))
def test_with_a_fallback_no_ordered_subset_costs_less(search, fallback):
    chance, check, repair, after = search
    plan = best_order(chance, check, repair, after, fallback)
    made = [i for i in plan.order.tolist() if i != NOT_MADE]
    assert allowed(made, after)
    assert float(plan.cost) == pytest.approx(least_over_all_orders(chance, check, repair, after, fallback), abs=1e-9)


@given(searches())
def test_without_prerequisites_checks_that_cost_nothing_come_first(search):
    chance, check, repair, _ = search
    price = check[best_order(chance, check, repair).order]
    free = np.flatnonzero(price == 0)
    assert free.tolist() == list(range(len(free)))


def test_an_expected_visit_is_the_mean_of_simulated_ones():
    after = np.zeros((5, 5), dtype=bool)
    after[1, 2] = True
    plan = best_order(**FIVE_CAUSES, after=after, fallback=FALLBACK)
    made = [i for i in plan.order.tolist() if i != NOT_MADE]
    rng, check, repair = np.random.default_rng(5), FIVE_CAUSES["check_cost"], FIVE_CAUSES["repair_cost"]
    truth = rng.choice(5, size=200_000, p=FIVE_CAUSES["chance"])
    paid, open_still = np.zeros(truth.size), np.ones(truth.size, dtype=bool)
    for cause in made:
        paid[open_still] += check[cause]
        paid[open_still & (truth == cause)] += repair[cause]
        open_still &= truth != cause
    paid[open_still] += FALLBACK
    assert paid.mean() == pytest.approx(float(plan.cost), abs=4 * paid.std() / math.sqrt(paid.size))


def test_many_cases_at_once_are_the_cases_one_by_one():
    rng = np.random.default_rng(3)
    chance = rng.dirichlet(np.ones(6), 40)
    check, repair = rng.uniform(0, 50, 6), rng.uniform(10, 300, (40, 6))
    after = np.zeros((6, 6), dtype=bool)
    after[0, 1] = after[3, 2] = True
    fallback = rng.uniform(50, 400, 40)
    together = best_order(chance, check, repair, after, fallback)
    for at in range(40):
        alone = best_order(chance[at], check, repair[at], after, float(fallback[at]))
        assert together.order[at].tolist() == alone.order.tolist()
        assert float(together.cost[at]) == pytest.approx(float(alone.cost))


def test_a_cause_that_is_ruled_out_is_not_checked_again_and_holds_up_no_other():
    after = np.array([[False, True, False], [False, False, False], [False, False, False]])
    plan = best_order([0.6, 0.0, 0.4], [10, 500, 10], [0, 0, 0], after)
    assert plan.order.tolist() == [0, 2, NOT_MADE]
    assert plan.reached.tolist() == [1.0, 0.4, 0.0]


def test_the_most_causes_are_still_weighed_exactly():
    rng = np.random.default_rng(8)
    chance, check = rng.dirichlet(np.ones(MOST_CAUSES)), rng.uniform(1, 50, MOST_CAUSES)
    plan = best_order(chance, check, np.zeros(MOST_CAUSES))
    assert plan.order.tolist() == np.argsort(-chance / check).tolist()


@pytest.mark.parametrize(
    ("fault", "arguments"),
    [
        (CaseError, {"chance": [0.5, 0.4], "check_cost": [1, 1], "repair_cost": [1, 1]}),
        (OutOfRange, {"chance": [1.5, -0.5], "check_cost": [1, 1], "repair_cost": [1, 1]}),
        (OutOfRange, {"chance": [math.nan, 1], "check_cost": [1, 1], "repair_cost": [1, 1]}),
        (OutOfRange, {"chance": [0.5, 0.5], "check_cost": [-1, 1], "repair_cost": [1, 1]}),
        (OutOfRange, {"chance": [0.5, 0.5], "check_cost": [1, 1], "repair_cost": [1, math.nan]}),
        (OutOfRange, {"chance": [0.5, 0.5], "check_cost": [1, 1], "repair_cost": [1, 1], "fallback": -1.0}),
        (OutOfRange, {"chance": np.full(17, 1 / 17), "check_cost": np.ones(17), "repair_cost": np.ones(17)}),
    ],
)
def test_what_is_out_of_bounds_is_refused(fault, arguments):
    with pytest.raises(fault):
        best_order(**arguments)


@pytest.mark.parametrize(
    ("field", "call"),
    [
        ("chance", lambda: counted([0.5, 0.4], [1, 2], 20)),
        ("chance", lambda: observed([0.5, 0.4], [0.5, 0.5])),
        ("counts", lambda: counted([0.5, 0.5], [-1, 2], 20)),
        ("strength", lambda: counted([0.5, 0.5], [1, 2], 0.0)),
        ("likelihood", lambda: observed([0.5, 0.5], [1.1, 0.5])),
        ("share", lambda: MIXED.quantile(0.0)),
        ("share", lambda: MIXED.quantile(1.0)),
        ("credited", lambda: visit(MIXED, 300.0, 50.0, [True] * 4, [True] * 4, 1.5)),
        ("order", lambda: expected_cost([0, 2], [0.5, 0.5], [1, 1], [1, 1])),
        ("order", lambda: expected_cost([0, -2], [0.5, 0.5], [1, 1], [1, 1])),
    ],
)
def test_a_number_out_of_its_bounds_is_refused_by_name(field, call):
    with pytest.raises(CaseError) as refused:
        call()
    assert refused.value.field == f"checks.{field}"


def test_of_ways_that_cost_the_same_the_likelier_cause_comes_first_at_any_price():
    # Equal p/c, so that every order costs the same; the sums differ in their last bit, which grows with the price.
    for price in (1.0, 1e3, 1e6):
        chance = np.array([0.1, 0.2, 0.3, 0.4])
        assert best_order(chance, price * chance, price * np.array([0.7, 0.1, 0.9, 0.3])).order.tolist() == [3, 2, 1, 0]


def test_prerequisites_in_a_circle_are_refused():
    circle = np.array([[False, True], [True, False]])
    with pytest.raises(CaseError, match="circle"):
        best_order([0.5, 0.5], [1, 1], [1, 1], circle)


def test_an_order_that_names_a_cause_twice_is_refused():
    with pytest.raises(CaseError, match="once at most"):
        expected_cost([0, 0], [0.5, 0.5], [1, 1], [1, 1])


# what a finding changes


def test_chances_after_a_finding_are_the_shares_among_simulated_worlds_that_show_it():
    rng, chance, likelihood = np.random.default_rng(2), [0.5, 0.3, 0.2], np.array([0.1, 0.9, 0.5])
    truth = rng.choice(3, size=400_000, p=chance)
    shown = truth[rng.random(truth.size) < likelihood[truth]]
    among = np.bincount(shown, minlength=3) / shown.size
    assert observed(chance, likelihood) == pytest.approx(among, abs=0.005)
    many = observed([chance, [0.2, 0.2, 0.6]], likelihood)
    assert many == pytest.approx(np.stack([observed(chance, likelihood), observed([0.2, 0.2, 0.6], likelihood)]))


def test_ruling_out_in_any_order_comes_to_the_same():
    chance = [0.4, 0.3, 0.2, 0.1]
    one = ruled_out(ruled_out(chance, [1, 0, 0, 0]), [0, 0, 1, 0])
    assert one == pytest.approx(ruled_out(chance, [1, 0, 1, 0]))
    assert one.sum() == pytest.approx(1)


def test_ruling_out_all_leaves_nothing_to_say():
    with pytest.raises(CaseError, match="none of the listed"):
        ruled_out([0.5, 0.5], [True, True])


def test_own_counts_take_over_as_they_grow():
    prior = [0.7, 0.2, 0.1]
    assert counted(prior, [0, 0, 0], 20) == pytest.approx(prior)
    assert counted([0.5, 0.5], [1, 0], 0.5) == pytest.approx([1.25 / 1.5, 0.25 / 1.5])  # half a job against one
    both = counted([[0.7, 0.3], [0.5, 0.5]], [[3, 1], [0, 6]], 4)
    assert both == pytest.approx(np.array([[5.8 / 8, 2.2 / 8], [2 / 10, 8 / 10]]))
    assert counted(prior, [100_000, 300_000, 600_000], 20) == pytest.approx([0.1, 0.3, 0.6], abs=1e-4)


def test_own_counts_are_the_mean_of_shares_that_explain_them():
    """Draws of shares from the prior, kept by how likely they make the counts: nothing of the formula is used."""
    rng, prior, counts = np.random.default_rng(4), np.array([0.5, 0.3, 0.2]), np.array([1, 6, 3])
    shares = rng.dirichlet(10 * prior, 300_000)
    weight = np.prod(shares**counts, axis=1)
    assert counted(prior, counts, 10) == pytest.approx(weight @ shares / weight.sum(), abs=0.004)


# the bill before any quote

MIXED = Bill(
    chance=np.array([0.3, 0.4, 0.2, 0.1]),
    low=np.array([0.0, 80.0, 150.0, 600.0]),
    high=np.array([0.0, 200.0, 150.0, 1500.0]),
)


def simulated(bill, size=400_000, seed=11):
    """Bills drawn cause by cause; 1.2815515655 is the printed normal point of 0.9."""
    rng = np.random.default_rng(seed)
    cause = rng.choice(bill.chance.size, size=size, p=bill.chance)
    low, high = bill.low[cause], bill.high[cause]
    middle = np.sqrt(low * high)
    spread = np.zeros(size)
    spread[low > 0] = np.log(high[low > 0] / low[low > 0]) / (2 * 1.2815515655)
    return middle * np.exp(spread * rng.standard_normal(size))


def test_the_spread_of_bills_is_that_of_simulated_ones():
    drawn = simulated(MIXED)
    assert float(MIXED.mean) == pytest.approx(drawn.mean(), abs=4 * drawn.std() / math.sqrt(drawn.size))
    for amount in (0.0, 50.0, 100.0, 149.0, 150.0, 300.0, 1000.0):
        assert float(MIXED.below(amount)) == pytest.approx(np.mean(drawn <= amount), abs=0.004)
    for share in (0.1, 0.35, 0.5, 0.8, 0.95):
        assert float(MIXED.quantile(share)) == pytest.approx(np.quantile(drawn, share), rel=0.02)


def test_eight_in_ten_bills_of_a_cause_fall_inside_its_range():
    law = lognorm(s=math.log(200 / 80) / (2 * 1.2815515655), scale=math.sqrt(80 * 200))
    assert law.cdf([80, 200]) == pytest.approx([0.1, 0.9], abs=1e-9)
    one = Bill(chance=np.array([1.0]), low=np.array([80.0]), high=np.array([200.0]))
    assert float(one.mean) == pytest.approx(law.mean(), rel=1e-9)
    assert float(one.quantile(0.37)) == pytest.approx(law.ppf(0.37), rel=1e-9)


def test_a_certain_bill_holds_its_quantiles_in_one_place():
    assert float(MIXED.quantile(0.3)) == 0.0
    sure = Bill(chance=np.array([0.5, 0.5]), low=np.array([100.0, 300.0]), high=np.array([100.0, 300.0]))
    assert [round(float(sure.quantile(share)), 6) for share in (0.2, 0.5, 0.51, 0.9)] == [100, 100, 300, 300]
    for share in (0.2, 0.5, 0.51, 0.9):  # as many bills do stay within
        assert sure.below(sure.quantile(share)) >= share
        assert sure.below(sure.quantile(share) - 0.01) < share


@pytest.mark.parametrize("limit", [-50.0, 0.0, 90.0, 250.0, 2000.0])
def test_what_deciding_with_the_bill_known_brings_is_the_mean_of_simulated_decisions(limit):
    drawn = simulated(MIXED)
    brought = np.maximum(limit - drawn, 0.0)
    mean = float(np.sum(MIXED.chance * MIXED.gain(limit)))
    assert mean == pytest.approx(brought.mean(), abs=4 * brought.std() / math.sqrt(drawn.size) + 1e-9)


def test_the_gain_is_the_area_under_the_share_of_bills():
    area, _ = quad(lambda amount: float(MIXED.below(amount)), 0, 250, points=[150], limit=200)
    assert float(np.sum(MIXED.chance * MIXED.gain(250.0))) == pytest.approx(area, rel=1e-6)


def test_many_bills_at_once_are_the_bills_one_by_one():
    chance = np.array([[0.3, 0.4, 0.2, 0.1], [0.0, 0.1, 0.2, 0.7]])
    both = Bill(chance=chance, low=MIXED.low, high=MIXED.high)
    limits = np.array([120.0, 800.0])
    for at in range(2):
        one = Bill(chance=chance[at], low=MIXED.low, high=MIXED.high)
        assert float(both.quantile(0.8)[at]) == pytest.approx(float(one.quantile(0.8)))
        assert both.gain(limits[:, None])[at] == pytest.approx(one.gain(float(limits[at])))
        assert float(both.below(limits)[at]) == pytest.approx(float(one.below(float(limits[at]))))
    dearer = Bill(chance=chance, low=np.stack([MIXED.low, 3 * MIXED.low]), high=np.stack([MIXED.high, 3 * MIXED.high]))
    assert dearer.quantile(0.8) == pytest.approx(both.quantile(0.8) * [1, 3])


def test_a_bill_in_thousands_is_the_same_bill():
    coarse = Bill(chance=MIXED.chance, low=MIXED.low / 1000, high=MIXED.high / 1000)
    for share in (0.1, 0.35, 0.5, 0.8):
        assert 1000 * float(coarse.quantile(share)) == pytest.approx(float(MIXED.quantile(share)))
    assert 1000 * float(coarse.mean) == pytest.approx(float(MIXED.mean))
    assert 1000 * coarse.gain(0.25) == pytest.approx(MIXED.gain(250.0))


@pytest.mark.parametrize(
    ("low", "high"), [([10.0], [5.0]), ([0.0], [50.0]), ([-5.0], [5.0]), ([math.nan], [5.0]), ([5.0], [math.inf])]
)
def test_a_range_that_is_none_is_refused(low, high):
    with pytest.raises(CaseError):
        Bill(chance=np.array([1.0]), low=np.array(low), high=np.array(high))
    with pytest.raises(CaseError):  # beside one that is sound, too
        Bill(chance=np.array([0.5, 0.5]), low=np.array([80.0, *low]), high=np.array([200.0, *high]))


# whether a visit is worth its fee


def test_a_visit_is_worth_what_simulated_households_gain_by_it():
    """Each household lives through it: own checks or not, then the fee, then the decision with the bill known."""
    limit, fee, credited = 260.0, 70.0, 0.5
    by_owner, mended = np.array([True, False, True, False]), np.array([True, False, False, False])
    found = visit(MIXED, limit, fee, by_owner, mended, credited)
    rng = np.random.default_rng(21)
    cause = rng.choice(4, size=400_000, p=MIXED.chance)
    spread = np.where(MIXED.low > 0, np.log(np.where(MIXED.low > 0, MIXED.high / np.maximum(MIXED.low, 1), 1)), 0)
    bill = np.sqrt(MIXED.low * MIXED.high)[cause] * np.exp(
        spread[cause] / (2 * 1.2815515655) * rng.standard_normal(cause.size)
    )
    at_once = np.where(bill - credited * fee < limit, limit - bill + credited * fee, 0.0) - fee
    error = 4 * at_once.std() / math.sqrt(cause.size)
    assert float(found.worth) == pytest.approx(at_once.mean(), abs=error)
    owned = by_owner[cause]
    assert float(found.found_by_owner) == pytest.approx(owned.mean(), abs=0.004)
    later = at_once[~owned].mean()
    assert float(found.worth_after_own) == pytest.approx(later, abs=2 * error)
    own_first = np.where(mended[cause], np.maximum(limit - bill, 0.0), 0.0)
    # what the owner finds but cannot mend is paid for only if that is worth it, and this one is: 150 is certain
    known = owned & ~mended[cause]
    own_first[known] = np.maximum(at_once[known].mean(), 0.0)
    own_first[~owned] = at_once[~owned] if later > 0 else 0.0
    assert float(found.worth_own_first) == pytest.approx(own_first.mean(), abs=2 * error)


def test_many_visits_at_once_are_the_visits_one_by_one():
    chance = np.array([[0.3, 0.4, 0.2, 0.1], [0.0, 0.1, 0.2, 0.7]])
    both = Bill(chance=chance, low=MIXED.low, high=MIXED.high)
    limits, fees, credited = np.array([[260.0], [900.0]]), np.array([70.0, 40.0]), np.array([0.5, 1.0])
    owner = [True, False, True, False], [True, False, False, False]
    together = visit(both, limits, fees, *owner, credited)
    for at in range(2):
        alone = visit(
            Bill(chance=chance[at], low=MIXED.low, high=MIXED.high), limits[at], fees[at], *owner, credited[at]
        )
        for name, value in vars(alone).items():
            assert getattr(together, name)[at] == pytest.approx(float(value)), name


@given(st.floats(1, 2000), st.floats(0, 300))
def test_looking_first_for_nothing_never_costs(limit, fee):
    by_owner, mended = [True, False, False, False], [True, False, False, False]
    found = visit(MIXED, limit, fee, by_owner, mended)
    assert float(found.worth_own_first) >= float(found.worth) - 1e-9
    assert float(found.worth_own_first) >= 0


def test_own_checks_that_find_all_there_is_leave_no_visit():
    found = visit(MIXED, 300.0, 50.0, [True] * 4, [True] * 4)
    assert math.isnan(float(found.worth_after_own))
    assert float(found.worth_own_first) == pytest.approx(float(found.gain))
    dear = visit(MIXED, 300.0, 1e4, [True] * 4, [False] * 4)  # what is found pays for nobody to come and mend it
    assert float(dear.worth_own_first) == 0


def test_a_fee_that_is_no_amount_is_refused():
    with pytest.raises(OutOfRange, match="fee"):
        visit(MIXED, 300.0, -1.0, [True] * 4, [True] * 4)


def test_checks_without_causes_or_with_prerequisites_of_others_are_refused() -> None:
    with pytest.raises(CaseError, match="a number for each cause"):
        best_order(1.0, 1.0, 1.0)
    with pytest.raises(CaseError, match="must have 2 rows of 2"):
        best_order([0.5, 0.5], [1, 1], [1, 1], np.zeros((3, 3), dtype=bool))
