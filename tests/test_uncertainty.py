"""How sure, and luck: published values of information, closed forms, and a household lived life by life."""

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest
from households import case_of, simulated_costs, standard_error
from scipy.stats import ks_2samp, norm, qmc
from variance_shares import variance_shares, variance_shares_of
from yearly_cash import cash

from decide.economics.case import Case, Option, Prohibition, Quote, inputs, vary, vary_all
from decide.economics.decision import Decision, DecisionConfidence, Sureness, confidence, decide
from decide.economics.flows import money
from decide.economics.outcomes import outcome_distribution
from decide.economics.uncertainty import (
    DRAWS,
    Distribution,
    Range,
    evpi,
    evppi,
    mean_law,
    sobol_points,
)
from decide.economics.weigh import weigh
from decide.errors import CaseError

# Howard R.A. (1966), Information Value Theory, IEEE Transactions on Systems Science and Cybernetics 2:22-26, the
# bidding example; figures from memory, recomputed. Own cost uniform on 0 to 1, the rivals' lowest bid on 0 to 2.
HOWARD_1966 = {"best_bid": 1.25, "profit": 27 / 96, "own_cost": 1 / 96, "rival_bid": 27 / 96, "both": 29 / 96}
# Raiffa H. (1968), Decision Analysis, the oil wildcatter; inputs as printed in software manuals, 22.5 from memory.
RAIFFA_1968 = {"without": 20.0, "evpi": 35.0, "evsi": 12.5}
WELLS = {"dry": (0.5, -70.0), "wet": (0.3, 50.0), "soaking": (0.2, 200.0)}
SOUNDINGS = {"dry": (0.6, 0.3, 0.1), "wet": (0.3, 0.4, 0.3), "soaking": (0.1, 0.4, 0.5)}
# Schlaifer R. (1959), Probability and Statistics for Business Decisions, unit normal loss integral; from memory.
SCHLAIFER_1959 = [(0.0, 0.3989), (0.5, 0.1978), (1.0, 0.08332), (1.5, 0.02931), (2.0, 0.008491)]
# Own row, closed form: advantage normal with mean 60 and standard deviation 150, seen with noise of 100.
NORMAL = {
    "mean": 60.0,
    "sd": 150.0,
    "noise": 100.0,
    "cheaper": 0.65542174161,
    "evpi": 34.5658255421,
    "evsi": 25.4363321111,
}
# Ishigami & Homma (1990) with a = 7, b = 0.1; indices as in Saltelli et al. (2008), Global Sensitivity Analysis: The
# Primer; from memory.
ISHIGAMI = {"first": (0.3139, 0.4424, 0.0), "total": (0.5576, 0.4424, 0.2437)}

AMOUNT = "repair.quote.amount"
NEAR = case_of(Quote(amount=85.0))
STUDIED = vary(NEAR, "household.study_period", 12.0)


def span(case: Case, path: str, low: float, high: float) -> Range:
    (value,) = (float(entry.value) for entry in inputs(case) if entry.path == path)
    return Range(paths=(path,), lows=(low,), values=(value,), highs=(high,), source="invented")


RANGES = (
    span(NEAR, "repair.remaining_life_factor", 0.5, 1.3),
    span(NEAR, "repair.quote.amount", 60.0, 130.0),
    span(NEAR, "appliance.electricity", 330.0, 430.0),
    span(NEAR, "household.rate", 0.02, 0.06),
    Range(
        paths=("appliance.mean_life", "replace.appliance.mean_life", "replace.2.appliance.mean_life"),
        lows=(10.0, 10.0, 10.0), values=(13.0, 13.0, 13.0), highs=(15.0, 15.0, 15.0), source="invented",
    ),
    span(NEAR, "household.gas_price", 0.1, 0.2),
)  # fmt: skip


SURE = Sureness(clear=0.9, leaning=0.65, doubt=0.0)


def drawn_of(case: Case, ranges: Sequence[Range], draws: int = DRAWS, seed: int = 1) -> Decision:
    return decide(case, ranges, sobol_points(draws, len(ranges) + 1, seed), SURE)


def confidence_of(case: Case, ranges: Sequence[Range], draws: int = DRAWS, seed: int = 1) -> DecisionConfidence:
    return confidence(case, drawn_of(case, ranges, draws, seed))


# several ranges of one input


def test_each_of_several_ranges_moves_an_input_by_its_own_factor() -> None:
    """Against a loop that multiplies by hand, case by case."""
    life = "appliance.mean_life"
    (use,) = (float(entry.value) for entry in inputs(NEAR) if entry.path == "appliance.electricity")
    ranges = (
        span(NEAR, "appliance.electricity", 0.8 * use, 1.3 * use),
        span(NEAR, life, 10.0, 16.0),
        span(NEAR, "appliance.electricity", 0.9 * use, 1.2 * use),
    )
    drawn = drawn_of(NEAR, ranges, 16)
    for at, shares in enumerate(drawn.shares):
        one, years, other = (each.at(share) for each, share in zip(ranges, shares, strict=True))
        by_hand = {
            "appliance.electricity": one["appliance.electricity"] * other["appliance.electricity"] / use,
            **years,
        }
        alone = weigh(vary_all(NEAR, by_hand), None, drawn.weighing.planned_years)
        others = [float(cost.present_cost) for cost in alone.options if cost.action != "repair"]
        assert np.min(drawn.others[:, at]) == pytest.approx(min(others))
        repairs = [float(cost.present_cost) - 85.0 for cost in alone.options if cost.action == "repair"]
        assert drawn.rest[at] in (pytest.approx(repairs[0]), pytest.approx(repairs[-1]))
    # at an end of one range the other stands at its value
    bars = confidence_of(NEAR, ranges, 16).bars
    for bar, times in ((bars[0], (0.8, 1.3)), (bars[2], (0.9, 1.2))):
        for end, by in zip((bar.low, bar.high), times, strict=True):
            alone = weigh(vary(NEAR, "appliance.electricity", by * use), None, drawn.weighing.planned_years)
            assert end == pytest.approx(float(alone.advantage))


def test_an_input_that_is_0_has_no_factor() -> None:
    none = vary(NEAR, "appliance.water", 0.0)
    twice = [span(none, "appliance.water", 0.0, 5.0)] * 2
    with pytest.raises(CaseError, match=r"appliance\.water: is 0, so that no two ranges can move it"):
        drawn_of(none, twice, 16)


# the value of information, on plain arrays


def bids(steps: int, doublings: int) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Bids from 0 to 2, and in each draw one's own cost, the rivals' bid, and the loss at each bid."""
    bid = np.arange(2 * steps + 1) / steps
    points = qmc.Sobol(2, rng=np.random.default_rng(3)).random_base2(doublings)
    own, rival = points[:, 0], 2 * points[:, 1]
    offered = bid[:, np.newaxis]
    return bid, own, rival, np.where(offered < rival, own - offered, 0.0)


@pytest.mark.published("Howard, Information Value Theory, IEEE Trans SSC-2 (1966) 22-26, from memory", "VOI-1")
def test_howard_s_bidder() -> None:
    bid, _, rival, costs = bids(256, 14)
    mean = costs.mean(axis=1)
    assert -mean.min() == pytest.approx(HOWARD_1966["profit"], abs=5e-4)
    assert bid[np.argmin(mean)] == pytest.approx(HOWARD_1966["best_bid"], abs=0.03)
    # a bid falls short of the rivals' by up to a step of 1/256, by a group's width besides where they are grouped
    assert evpi(costs) == pytest.approx(HOWARD_1966["both"], abs=3e-3)
    assert evppi(costs, rival, groups=512) == pytest.approx(HOWARD_1966["rival_bid"], abs=5e-3)
    # the best bid at a known cost is a flat optimum: fewer bids and more draws tell it from its neighbours
    _, own, _, costs = bids(32, 16)
    assert evppi(costs, own, groups=32) == pytest.approx(HOWARD_1966["own_cost"], abs=1e-4)


@pytest.mark.published("Raiffa, Decision Analysis (1968), oil wildcatter, second-hand", "VOI-2")
def test_raiffa_s_wildcatter() -> None:
    # every joint chance is a whole percentage, so 100 draws hold them exactly; twice over, for either half
    drill, sounding = [], []
    for state, (chance, payoff) in WELLS.items():
        for seen, likelihood in enumerate(SOUNDINGS[state]):
            count = round(100 * chance * likelihood)
            drill += [-payoff] * count
            sounding += [float(seen)] * count
    costs = np.tile(np.stack([np.array(drill), np.zeros(100)]), 2)
    assert -costs.mean(axis=1).min() == pytest.approx(RAIFFA_1968["without"])
    assert evpi(costs) == pytest.approx(RAIFFA_1968["evpi"])
    assert evppi(costs, np.tile(sounding, 2)) == pytest.approx(RAIFFA_1968["evsi"])


@pytest.mark.parametrize(("z", "printed"), SCHLAIFER_1959)
@pytest.mark.published("Schlaifer (1959), unit normal loss integral, from memory", "VOI-3")
def test_the_unit_normal_loss_integral(z: float, printed: float) -> None:
    advantage = norm.ppf((np.arange(2**16) + 0.5) / 2**16) + z
    assert evpi(np.stack([np.zeros(2**16), advantage])) == pytest.approx(printed, abs=6e-5)


def normal_draws(seed: int, mean: float = NORMAL["mean"]) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Costs of two options, a noisy sample of their difference, and a quantity that tells nothing."""
    points = norm.ppf(qmc.Sobol(3, rng=np.random.default_rng(seed)).random_base2(12))
    advantage = mean + NORMAL["sd"] * points[:, 0]
    return np.stack([np.zeros(4096), advantage]), advantage + NORMAL["noise"] * points[:, 1], points[:, 2]


@pytest.mark.published("own closed form of a normal difference", "VOI-4")
def test_a_normal_difference_has_its_closed_forms() -> None:
    costs, reading, _ = normal_draws(1)
    assert np.mean(costs[1] > 0) == pytest.approx(NORMAL["cheaper"], abs=2e-3)
    assert evpi(costs) == pytest.approx(NORMAL["evpi"], abs=0.05)
    assert evppi(costs, reading) == pytest.approx(NORMAL["evsi"], abs=0.5)


def test_the_estimator_s_bias_is_below_one_percent_and_does_not_flatter() -> None:
    found = [evppi(*normal_draws(seed)[:2]) for seed in range(20)]
    assert np.mean(found) == pytest.approx(NORMAL["evsi"], rel=0.01)


def test_what_tells_nothing_is_worth_nothing() -> None:
    # most tempting where the options are even: judged by the draws that chose, it would seem worth several percent
    for seed in range(10):
        costs, _, nothing = normal_draws(seed, mean=0.0)
        assert evppi(costs, nothing) < 0.01 * evpi(costs)


def test_knowing_one_thing_is_never_worth_more_than_knowing_all_and_that_no_more_than_the_regret() -> None:
    rng = np.random.default_rng(8)
    for _ in range(20):
        costs, known = rng.normal(size=(4, 256)), rng.normal(size=256)
        most = evpi(costs)
        assert 0 <= evppi(costs, known) <= most
        assert all(most <= float(np.mean(costs[chosen] - np.min(costs, axis=0))) + 1e-12 for chosen in range(4))


# draws through the verdict


def test_with_one_range_on_the_quote_all_has_a_closed_form() -> None:
    limit = float(weigh(NEAR).repair_limit)
    found = confidence_of(NEAR, [RANGES[1]])
    quotes = mean_law((np.arange(100_000) + 0.5) / 100_000, 60.0, 85.0, 130.0)
    too_dear, cheaper = (float(np.mean(np.maximum(gap, 0.0))) for gap in (quotes - limit, limit - quotes))
    assert 85 < limit < 130
    assert found.names[found.verdict] == "repair"
    assert found.share_cheapest[0] == pytest.approx(np.mean(quotes < limit), abs=2e-3)
    assert found.expected_regret == pytest.approx(too_dear, abs=0.02)
    assert cheaper - too_dear == pytest.approx(limit - 85, abs=0.02)
    assert found.evpi == pytest.approx(too_dear, abs=0.02)  # what is best without knowing is to have it repaired
    assert found.advantage.mean == pytest.approx(limit - 85, abs=0.02)
    assert (found.bars[0].low, found.bars[0].high) == pytest.approx((limit - 60, limit - 130))


def test_draws_of_ranges_without_width_are_the_single_case() -> None:
    pinned = [replace(each, lows=each.values, highs=each.values) for each in RANGES]
    single = weigh(NEAR)
    for ranges in (pinned, []):
        assert drawn_of(NEAR, ranges, 64).limits == pytest.approx(np.full(64, single.repair_limit), abs=1e-8)
        found = confidence_of(NEAR, ranges, 64)
        assert found.share_cheapest == tuple(float(i == found.verdict) for i in range(len(found.names)))
        assert found.expected_regret == pytest.approx(0.0, abs=1e-8)
        assert found.evppi == pytest.approx([0.0] * len(ranges), abs=1e-8)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_the_shares_move_by_less_than_a_hundredth_when_draws_double(seed: int) -> None:
    once, twice = (confidence_of(NEAR, RANGES, draws, seed) for draws in (4096, 8192))
    assert 0.1 < once.share_cheapest[0] < 0.9  # as unsure as it gets
    assert once.share_cheapest == pytest.approx(twice.share_cheapest, abs=0.01)
    assert once.expected_regret == pytest.approx(twice.expected_regret, rel=0.03)


def test_each_draw_is_the_answer_to_its_own_case() -> None:
    drawn = drawn_of(NEAR, RANGES, 64)
    for row in (0, 17, 63):
        case = NEAR
        for each, share in zip(RANGES, drawn.shares[row], strict=True):
            for path, value in each.at(float(share)).items():
                case = vary(case, path, float(value))
        costs = weigh(case, None, drawn.weighing.planned_years).options
        found = {cost.name: float(cost.present_cost) for cost in costs}
        asked = float(case.repair.quote.total)
        assert drawn.rest[row] + asked == pytest.approx(min(found["repair"], found["repair, then replace"]), rel=0.01)
        assert drawn.rest[row] + asked in (
            pytest.approx(found["repair"]),
            pytest.approx(found["repair, then replace"]),
        )
        assert drawn.others[:, row] == pytest.approx([found[name] for name in ("new", "used", "leave")])


def test_the_advantage_and_the_costs_tell_the_same_story() -> None:
    drawn, found = drawn_of(NEAR, RANGES), confidence_of(NEAR, RANGES)
    assert drawn.names == ("repair", "new", "used", "leave")
    costs = drawn.costs(85.0)
    advantage = costs[1:].min(axis=0) - costs[0]
    assert advantage == pytest.approx(drawn.limits - 85.0 - drawn.quote_error, abs=1e-8)
    assert found.share_cheapest[0] == pytest.approx(np.mean(advantage >= 0))
    assert sum(found.share_cheapest) == pytest.approx(1.0)


def test_what_matters_is_worth_knowing_and_what_does_not_is_not() -> None:
    found = confidence_of(NEAR, RANGES)
    worth = dict(zip((each.paths[0] for each in RANGES), found.evppi, strict=True))
    bars = dict(zip((each.paths[0] for each in RANGES), found.bars, strict=True))
    assert worth["household.gas_price"] < 0.01 * found.evpi  # nothing there runs on gas
    assert bars["household.gas_price"].low == pytest.approx(bars["household.gas_price"].high)
    assert all(worth[path] > 0 for path in ("repair.remaining_life_factor", "appliance.electricity"))
    assert bars["repair.remaining_life_factor"].low == pytest.approx(
        weigh(vary(NEAR, "repair.remaining_life_factor", 0.5)).advantage
    )
    assert bars["repair.remaining_life_factor"].high == pytest.approx(
        weigh(vary(NEAR, "repair.remaining_life_factor", 1.3)).advantage
    )


@pytest.mark.slow
@pytest.mark.parametrize("which", [0, 2], ids=lambda i: RANGES[i].paths[0])
def test_the_worth_of_knowing_one_range_is_that_of_a_loop_within_a_loop(which: int) -> None:
    # the textbook way: at each of many true values, all else drawn anew and the best choice made
    others = [each for each in RANGES if each is not RANGES[which]]
    (path,) = RANGES[which].paths
    means = []
    for share in (np.arange(64) + 0.5) / 64:
        known = vary(NEAR, path, float(RANGES[which].at(share)[path]))
        means.append(drawn_of(known, others, 256, seed=int(64 * share)).costs(85.0).mean(axis=1))
    looped = np.min(np.mean(means, axis=0)) - np.mean(np.min(means, axis=1))
    assert confidence_of(NEAR, RANGES).evppi[which] == pytest.approx(looped, rel=0.05)


def test_the_same_question_gets_the_same_answer() -> None:
    assert confidence_of(NEAR, RANGES, 256).share_cheapest == confidence_of(NEAR, RANGES, 256).share_cheapest


def clash(ranges: Sequence[Range]) -> str:
    with pytest.raises(CaseError) as caught:
        confidence_of(NEAR, ranges, 64)
    return str(caught.value)


def test_ranges_that_make_no_case_are_named() -> None:
    rising = span(NEAR, "household.electricity_escalation", 0.0, 0.025)
    message = clash([RANGES[0], RANGES[3], rising])
    assert message.startswith("household.rate: ranges clash, household.rate (0.02 to 0.06) and ")
    assert "household.electricity_escalation (0 to 0.025)" in message
    assert "above every escalation" in message
    assert "repair.remaining_life_factor" not in message
    alone = clash([RANGES[0], span(NEAR, "household.rate", 0.0, 0.05)])
    assert alone.startswith("household.rate: range cannot be drawn, household.rate (0 to 0.05): ")


@pytest.mark.parametrize(("low", "high"), [(1.1, 1.3), (0.5, 0.9), (math.nan, 1.3), (0.5, math.inf)])
def test_a_range_holds_its_value(low: float, high: float) -> None:
    with pytest.raises(CaseError, match=r"^repair\.remaining_life_factor: must have a range that holds its value 1"):
        span(NEAR, "repair.remaining_life_factor", low, high)


def test_bad_questions_name_what_is_wrong() -> None:
    with pytest.raises(CaseError, match=r"^household\.study_period: is one number"):
        span(STUDIED, "household.study_period", 5.0, 15.0)
    with pytest.raises(CaseError, match=r"^draws: must be a power of two, got 1000"):
        drawn_of(NEAR, RANGES, 1000)
    with pytest.raises(CaseError, match=r"^repair: is refused by a caution"):
        confidence_of(replace(NEAR, prohibitions=(Prohibition(action="repair", caution="some-caution"),)), RANGES)
    unquoted = replace(NEAR, options=(replace(NEAR.options[0], quote=None), *NEAR.options[1:]))
    with pytest.raises(CaseError, match=r"^repair\.quote: is needed"):
        confidence_of(unquoted, RANGES[:1])
    # the limit has a spread all the same
    assert Distribution.of(drawn_of(unquoted, RANGES[:1], 64).limits).mean == pytest.approx(84, abs=15)
    with pytest.raises(CaseError, match=r"^appliance\.age: must be one number"):
        outcome_distribution(vary(STUDIED, "appliance.age", np.array([1.0, 2.0])), STUDIED.options[0])


# shares of variance


@pytest.mark.published("Ishigami & Homma (1990), Saltelli et al. (2008), from memory")
def test_ishigami_s_function_has_its_published_shares() -> None:
    def ishigami(points: np.ndarray) -> np.ndarray:
        x = math.pi * (2 * points - 1)
        return np.sin(x[:, 0]) + 7 * np.sin(x[:, 1]) ** 2 + 0.1 * x[:, 2] ** 4 * np.sin(x[:, 0])

    found = variance_shares_of(ishigami, 3, base=4096)
    assert found.first == pytest.approx(ISHIGAMI["first"], abs=0.01)
    assert found.total == pytest.approx(ISHIGAMI["total"], abs=0.01)


def test_the_variance_of_the_advantage_is_shared_out() -> None:
    ranges = (RANGES[1], RANGES[5])
    found = variance_shares(NEAR, ranges, base=256)  # linear in the quote, blind to gas
    assert found.first == pytest.approx([1.0, 0.0], abs=0.02)
    assert found.total == pytest.approx([1.0, 0.0], abs=0.02)
    still = variance_shares(NEAR, [replace(RANGES[1], lows=(85.0,), highs=(85.0,))], base=16)
    assert np.all(np.isnan(still.first))


# luck


def options_of(case: Case) -> list[Option]:
    return [*case.options, weigh(case).options[-1].option]


@pytest.mark.parametrize("which", range(5), ids=["repair", "new", "used", "leave", "repair then replace"])
@pytest.mark.parametrize("years", [3.5, 12.0])
def test_the_mean_of_luck_is_what_the_cash_expects(which: int, years: float) -> None:
    case = vary(NEAR, "household.study_period", years)
    case = vary(vary(case, "household.price_escalation", -0.01), "household.electricity_escalation", 0.01)
    option = options_of(case)[which]
    successor = case.options[1]  # the one new unit
    expected = sum(cash(case, option, successor, money(case.household), years, True).present.values())
    found = outcome_distribution(case, option, households=40_000)
    assert standard_error(found) > 0.1
    assert found.spread.mean == pytest.approx(expected, abs=3 * standard_error(found))


@pytest.mark.slow
@pytest.mark.parametrize("which", range(4), ids=["repair", "new", "used", "leave"])
def test_luck_is_spread_as_in_households_lived_one_life_at_a_time(which: int) -> None:
    option = STUDIED.options[which]
    ours = np.round(
        outcome_distribution(STUDIED, option, households=10_000).costs, 1
    )  # costs of units that outlast the study tie
    theirs = np.round(simulated_costs(STUDIED, option, 10_000, 5), 1)
    assert ks_2samp(ours, theirs).pvalue > 0.001


def test_luck_over_given_years_is_that_of_a_study_period_so_long() -> None:
    given = outcome_distribution(NEAR, NEAR.options[0], 12.0, households=500)
    assert np.array_equal(given.costs, outcome_distribution(STUDIED, STUDIED.options[0], households=500).costs)
    assert (given.name, given.years) == ("repair", 12.0)
    for years in (None, math.inf, math.nan):
        with pytest.raises(CaseError, match=r"^years: must be a number of years"):
            outcome_distribution(NEAR, NEAR.options[0], years)


def test_a_unit_that_cannot_fail_leaves_nothing_to_luck() -> None:
    sturdy = vary(vary(STUDIED, "replace.appliance.life_shape", 10.0), "replace.appliance.mean_life", 80.0)
    found = outcome_distribution(sturdy, sturdy.options[1], households=200)
    assert np.ptp(found.costs) == pytest.approx(0.0, abs=1e-8)


def test_what_a_caution_refuses_is_no_choice_in_any_draw() -> None:
    refused = replace(NEAR, prohibitions=(Prohibition(action="leave", caution="some-caution"),))
    assert "leave" in confidence_of(NEAR, RANGES[:1], 64).names
    assert "leave" not in confidence_of(refused, RANGES[:1], 64).names


AMOUNT_KNOWN = tuple(each for each in RANGES if each.paths != ("repair.quote.amount",))
FEES = case_of(
    Quote(parts=40.0, labour_hours=1.0, labour_rate=60.0, tax_rate=0.1, fee_credit=25.0, fee_if_declined=15.0)
)


@pytest.mark.parametrize("case", [NEAR, STUDIED, FEES], ids=["endless", "studied", "with fees"])
@pytest.mark.parametrize("asked", [25.0, 84.0, 85.0, 130.0, 2_000.0])
def test_one_decision_tells_of_any_quote_what_deciding_anew_does(case: Case, asked: float) -> None:
    parts = {"repair.quote.parts": 0.0, "repair.quote.labour_hours": 0.0}
    anew = drawn_of(vary_all(case, parts | {AMOUNT: asked}), AMOUNT_KNOWN, 256)
    assert anew.repair_limit == pytest.approx(drawn_of(case, AMOUNT_KNOWN, 256).repair_limit, rel=1e-9)
    once, again = drawn_of(case, AMOUNT_KNOWN, 256).at(asked), anew.at(asked)
    assert (once.option, once.state, once.cheapest_share) == (again.option, again.state, again.cheapest_share)
    assert (once.expected_loss, once.second_loss) == pytest.approx((again.expected_loss, again.second_loss), rel=1e-9)


def test_the_bars_are_those_of_the_case_weighed_alone() -> None:
    found, planned = confidence_of(NEAR, RANGES, 128), drawn_of(NEAR, RANGES, 128).weighing.planned_years
    for each, bar in zip(RANGES, found.bars, strict=True):
        for ends, end in ((each.lows, bar.low), (each.highs, bar.high)):
            alone = vary_all(NEAR, dict(zip(each.paths, ends, strict=True)))
            assert end == pytest.approx(float(weigh(alone, None, planned).advantage), rel=1e-9)


@pytest.mark.parametrize("values", [3, 16, 17, 40, 2_000])
def test_the_value_of_knowing_one_quantity_is_what_sorting_and_judging_by_hand_gives(values: int) -> None:
    # own rows: as many values as said, so ties; half the draws choose for the other half, group by group
    rng = np.random.default_rng(values)
    known = rng.integers(0, values, 1_000) / 7 if values < 2_000 else rng.random(1_000)
    tells = 15 * (known - known.mean()) / known.std()
    costs = np.stack([tells + rng.normal(0, 20, 1_000), np.zeros(1_000), rng.normal(2, 40, 1_000)])
    parts = [list(range(500)), list(range(500, 1_000))]
    groups: list[dict[float, list[int]]] = []
    for part in parts:
        found: dict[float, list[int]] = {}
        for rank, draw_number in enumerate(sorted(part, key=lambda i: known[i])):  # a stable sort
            few = len(set(known)) <= 16
            found.setdefault(known[draw_number] if few else rank * 16 // 500, []).append(draw_number)
        groups.append(found)
    blind = min(range(3), key=lambda option: costs[option].sum())
    spent = 0.0
    for chooser, judge in ((0, 1), (1, 0)):
        for label, members in groups[judge].items():
            seen = groups[chooser].get(label, [])
            choice = min(range(3), key=lambda o: sum(costs[o][i] for i in seen)) if seen else blind
            spent += sum(costs[choice][i] for i in members)
    expected = max(0.0, (costs[blind].sum() - spent) / 1_000)
    assert evppi(costs, known) == pytest.approx(expected, rel=1e-9, abs=1e-9)
    assert expected > 0
