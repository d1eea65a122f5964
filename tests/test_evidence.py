"""Evidence: what is seen and measured moves the shares, and the next step is the one that saves most.

Referees that share no code with it stand in `referees_evidence.py`. Worked numbers of Heckerman, Breese and Rommelse
(CACM 38(3), 1995) and of Jensen et al. (AI EDAM 15(4), 2001) could not be read in open text. Their theorem, that with
one fault and independent checks the order of falling p/c is the best, is held by `test_checks_first.py`.
"""

import math
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from referees_evidence import Puzzle, bayes_by_hand, best_policy, cost_of, puzzles

from decide.answers.diagnosis import Diagnosis, diagnose
from decide.answers.next_step import CHECK, QUESTION, READING, next_step, steps_of, why_none
from decide.diagnosis.check_order import NOT_MADE, best_order, expected_cost, least_costs, observed
from decide.diagnosis.evidence import (
    AnswerRule,
    Looking,
    after_each_reading,
    capped,
    counted_answers,
    divergence,
    falls,
    is_better_now,
    updated,
    worth_of_check,
)
from decide.errors import CaseError
from decide.load.tables.evidence import LEAST_LIKELY, OUTCOMES, evidence
from decide.load.tables.symptoms import NOBODY, OWNER, WHO, symptoms
from decide.load.tables.tables import CURRENCIES, tables
from decide.show.text.checks import cause_name
from decide.show.text.evidence import in_unit, reading_name, value_of, verdict_text
from decide.show.text.words import Words

FREE = AnswerRule(counted=99, most=1.0)
EVERY = [(kind, each.symptom) for kind in tables().known_classes for each in symptoms().of_class(kind)]


def place_of(kind: str) -> str:
    return tables().kind(kind).regions[0]


# Bayes' rule, by a referee


@pytest.mark.parametrize(("kind", "symptom"), EVERY)
def test_without_a_cap_every_answer_moves_the_shares_as_bayes_by_hand_does(kind: str, symptom: str) -> None:
    found, place = symptoms().symptom(kind, symptom), place_of(kind)
    before = {cause: Fraction(share) for cause, share in zip(found.ids, found.shares.tolist(), strict=True)}
    seen: list[Any] = []
    by_hand: list[Any] = []
    asked = [*evidence().questions_of(found, kind, place), *evidence().readings_of(found, kind, place)]
    for one in asked[:6]:
        table = one.under(found)
        likely = int(np.argmax(table.sum(axis=1)))
        seen.append(table[likely])
        rest = one.likelihoods.get("*")
        listed = {cause: one.likelihoods.get(cause, rest) for cause in found.ids}
        known = {cause: Fraction(each[likely]) for cause, each in listed.items() if each is not None}
        mean = sum(before[c] * p for c, p in known.items()) / sum(before[c] for c in known)
        by_hand.append({cause: known.get(cause, mean) for cause in found.ids})
    ours = updated(found.shares, seen, [], FREE)
    theirs = bayes_by_hand(before, by_hand)
    assert ours == pytest.approx([float(theirs[cause]) for cause in found.ids], abs=1e-12)


@given(st.lists(st.floats(0.01, 1), min_size=3, max_size=6), st.integers(0, 10_000))
def test_answers_in_any_order_come_to_the_same(weights: list[float], seed: int) -> None:
    chance = np.array(weights) / sum(weights)
    dice = np.random.default_rng(seed)
    answers = [dice.uniform(0.02, 0.98, len(chance)) for _ in range(4)]
    rule = AnswerRule(counted=2, most=0.9)
    shuffled = [answers[at] for at in dice.permutation(4)]
    assert updated(chance, answers, [], rule) == pytest.approx(updated(chance, shuffled, [], rule))


def test_the_two_answers_that_tell_most_count_and_no_others() -> None:
    chance = np.array([0.4, 0.3, 0.3])
    weak, strong, middling = np.array([0.5, 0.6, 0.5]), np.array([0.9, 0.05, 0.1]), np.array([0.8, 0.3, 0.3])
    assert divergence(chance, strong) > divergence(chance, middling) > divergence(chance, weak)
    assert counted_answers(chance, [weak, strong, middling], AnswerRule(counted=2, most=0.9)) == [1, 2]
    both = updated(chance, [strong, middling], [], AnswerRule(counted=2, most=1.0))
    assert updated(chance, [weak, strong, middling], [], AnswerRule(counted=2, most=1.0)) == pytest.approx(both)


@given(st.lists(st.floats(0.01, 1), min_size=2, max_size=8), st.integers(0, 10_000))
def test_no_share_passes_the_cap_by_answers_alone_and_the_others_keep_their_proportion(
    weights: list[float], seed: int
) -> None:
    chance = np.array(weights) / sum(weights)
    answers = [np.random.default_rng(seed + at).uniform(0.001, 0.999, len(chance)) for at in range(2)]
    plain = observed(observed(chance, answers[0]), answers[1])
    found = updated(chance, answers, [], AnswerRule(counted=2, most=0.9))
    top = int(np.argmax(plain))
    assert found.sum() == pytest.approx(1)
    assert found[top] <= max(0.9, chance[top]) + 1e-12
    rest = [at for at in range(len(chance)) if at != top]
    assert found[rest] / found[rest].sum() == pytest.approx(plain[rest] / plain[rest].sum())


def test_a_reading_may_go_beyond_the_cap_and_a_check_that_left_one_cause_stays_certain() -> None:
    chance, clear = np.array([0.5, 0.5]), np.array([0.99, 0.01])
    assert updated(chance, [clear, clear], [], AnswerRule(counted=2, most=0.9))[0] == pytest.approx(0.9)
    assert updated(chance, [clear, clear], [clear], AnswerRule(counted=2, most=0.9))[0] > 0.99
    assert capped(np.array([1.0, 0.0]), np.array([1.0, 0.0]), 0.9).tolist() == [1.0, 0.0]


def test_a_cause_that_nothing_is_listed_for_is_not_moved_against_the_mean_of_the_others() -> None:
    found = symptoms().known["warm_throughout"]
    question = evidence().questions["compressor_sound"]
    without = {cause: each for cause, each in question.likelihoods.items() if cause != "fridge_board"}
    table = replace(question, likelihoods=without).under(found)
    at = found.ids.index("fridge_board")
    for row in table:
        assert observed(found.shares, row)[at] == pytest.approx(found.shares[at])


# the tables


def test_every_symptom_has_questions_and_every_paid_cause_a_likelihood_that_sets_it_apart() -> None:
    for kind, symptom in EVERY:
        found = symptoms().symptom(kind, symptom)
        questions = [each for region in tables().kind(kind).regions for each in
                     evidence().questions_of(found, kind, region)]  # fmt: skip
        assert len({each.key for each in questions}) >= 2, (kind, symptom)


def test_every_likelihood_is_above_nothing_adds_up_and_names_a_cause_of_its_symptom() -> None:
    for question in evidence().questions.values():
        possible = {
            cause
            for each in question.symptoms
            for region in CURRENCIES
            if each in symptoms(region).known
            for cause in symptoms(region).known[each].ids
        }
        assert set(question.likelihoods) - {"*"} <= possible, question.key
        for row in question.likelihoods.values():
            assert len(row) == len(question.outcomes)
            assert min(row) >= LEAST_LIKELY
            assert sum(row) == pytest.approx(1)
    for reading in evidence().readings.values():
        assert reading.outcomes == OUTCOMES
        for row in reading.likelihoods.values():
            assert sum(row) == pytest.approx(1)
            assert (row[0] == 0) == math.isinf(reading.low)
            assert (row[3] == 0) == math.isinf(reading.high)


def test_a_reading_points_at_a_cause_that_its_failing_makes_likelier() -> None:
    for reading in evidence().readings.values():
        rest = reading.likelihoods.get("*")
        assert rest is not None, reading.key
        named = [row for cause, row in reading.likelihoods.items() if cause != "*"]
        assert any(max(row[0] / max(rest[0], 1e-9), row[3] / max(rest[3], 1e-9)) > 2 for row in named), reading.key


def test_an_owner_is_never_sent_to_a_live_circuit_to_gas_or_to_a_refrigerant() -> None:
    for reading in evidence().readings.values():
        if reading.who == OWNER:
            assert reading.circuit != "live", reading.key
            assert reading.instrument not in ("gas_analyser", "manometer", "clamp_meter", "insulation_meter"), (
                reading.key
            )


@pytest.mark.parametrize(
    ("value", "outcome"),
    [(-30.0, "below"), (-21.9, "marginal"), (-21.0, "pass"), (-15.0, "pass"), (-14.5, "marginal"), (4.0, "above")],
)
def test_a_value_is_below_within_beside_or_above(value: float, outcome: str) -> None:
    assert evidence().readings["freezer_temperature"].outcome(value) == outcome


# what to do next, against every policy there is


def looking_of(puzzle: Puzzle) -> Looking:
    after = np.array([[j in need for j in range(len(puzzle.chance))] for need in puzzle.needs])
    return Looking(
        check_cost=np.array(puzzle.check), minutes=np.ones(len(puzzle.chance)), repair_cost=np.array(puzzle.repair),
        after=after, fallback=puzzle.give_up,
    )  # fmt: skip


def our_policy(puzzle: Puzzle) -> Any:
    """The rule of `next_step`: free tests that save first, then paid ones that pay now, then the first check."""
    looking = looking_of(puzzle)

    def act(shares: tuple[float, ...], checked: frozenset[int], used: frozenset[int]) -> tuple[str, int]:
        chance = np.array(shares)
        plan = looking.plan(chance)
        left = [at for at in range(len(puzzle.tests)) if at not in used]
        rows = [np.array(puzzle.tests[at].likelihoods) for at in left]
        fall = falls(looking, chance, plan, rows, [after_each_reading(chance, each) for each in rows])
        ranked = sorted(
            zip(left, rows, fall, strict=True),
            key=lambda each: (
                puzzle.tests[each[0]].cost > 0,
                -(each[2] - puzzle.tests[each[0]].cost) / max(puzzle.tests[each[0]].cost, 1.0),
            ),
        )
        for at, row, saved in ranked:
            cost = puzzle.tests[at].cost
            if saved - cost > 0.01 and (cost == 0 or is_better_now(looking, chance, plan, row, float(saved), cost)):
                return "test", at
        first = int(plan.order[0])
        return ("check", first) if first != NOT_MADE else ("stop", 0)

    return act


def test_a_test_is_put_off_where_a_cheap_look_is_likely_to_spare_it() -> None:
    """By hand. Two causes alike, 10 a look, a test that parts them: 4 + 10 with it, 10 + 10/2 without.

    One cause of .9 at 1 a look, two of .05 at 100: 1 + 10 + 5 now, 4 + 1 + 10 with the test first, and 1 + .1 x 104
    where it waits for the look.
    """

    def looking(*check: float) -> Looking:
        n = len(check)
        return Looking(
            check_cost=np.array(check), minutes=np.ones(n), repair_cost=np.zeros(n), after=np.zeros((n, n), bool),
            fallback=1e4,
        )  # fmt: skip

    for looks, shares, parts, plain, better in (
        (looking(10.0, 10.0), [0.5, 0.5], [[1.0, 0.0], [0.0, 1.0]], 15.0, True),
        (looking(1.0, 100.0, 100.0), [0.9, 0.05, 0.05], [[0.5, 1.0, 0.0], [0.5, 0.0, 1.0]], 16.0, False),
    ):
        chance, rows = np.array(shares), np.array(parts)
        plan = looks.plan(chance)
        assert plan.cost == pytest.approx(plain)
        fall = float(falls(looks, chance, plan, [rows], [after_each_reading(chance, rows)])[0])
        assert fall == pytest.approx(5.0)
        assert bool(is_better_now(looks, chance, plan, rows, fall, 4.0)) is better
        assert not is_better_now(looks, chance, plan, rows, fall, 5.1)
    alone, sure = looking(10.0), np.array([1.0])  # with one cause left there is nothing to wait for
    assert is_better_now(alone, sure, alone.plan(sure), np.array([[1.0], [0.0]]), 5.0, 4.0)


@pytest.mark.slow
def test_our_next_step_costs_hardly_more_than_the_best_of_all_policies() -> None:
    gaps, spared = [], []
    for puzzle in puzzles(7, 60, causes=4, tests=3):
        best, ours = best_policy(puzzle), cost_of(puzzle, our_policy(puzzle))
        without = float(best_order(*(np.array(each) for each in (puzzle.chance, puzzle.check, puzzle.repair)),
                                   looking_of(puzzle).after, puzzle.give_up).cost)  # fmt: skip
        assert best - 1e-9 <= ours <= without + 1e-9
        gaps.append((ours - best) / best)
        spared.append((without - ours) / max(without - best, 1e-9) if without - best > 1e-6 else 1.0)
    assert np.mean(gaps) < 0.02
    assert max(gaps) < 0.15
    assert np.mean(spared) > 0.85  # of all that the best policy spares beside the best order without evidence


def test_without_tests_the_best_policy_is_the_exact_order_of_checks() -> None:
    for puzzle in puzzles(11, 25, causes=5, tests=0):
        assert float(looking_of(puzzle).plan(np.array(puzzle.chance)).cost) == pytest.approx(best_policy(puzzle))


@pytest.mark.parametrize("fallback", [math.inf, 250.0])
@pytest.mark.parametrize("n", [3, 6, 9, 12])
def test_many_plans_at_once_cost_what_each_costs_alone(n: int, fallback: float) -> None:
    dice = np.random.default_rng(n)
    chance = dice.dirichlet(np.ones(n), 20)
    chance[0, 0], chance[0, 1] = chance[0, 0] + chance[0, 1], 0.0
    check, repair = dice.uniform(5, 40, n), dice.uniform(0, 240, n)
    check[: n // 3] = 0.0
    after = np.zeros((n, n), dtype=bool)
    after[n - 1, n - 2] = after[1, 0] = True
    exact = best_order(chance, check, repair, after, fallback).cost
    together = least_costs(chance, check, repair, after, fallback)
    assert together == pytest.approx(exact)
    assert least_costs(chance, check, repair) == pytest.approx(best_order(chance, check, repair).cost)


def test_of_many_paid_causes_the_likeliest_for_its_cost_first_costs_hardly_more_than_the_exact_order() -> None:
    dice = np.random.default_rng(3)
    n = 12
    chance = dice.dirichlet(np.ones(n), 10)
    check, repair = dice.uniform(5, 40, n), dice.uniform(0, 240, n)
    after = np.zeros((n, n), dtype=bool)
    after[n - 1, n - 2] = after[5, 2] = True
    exact, ours = best_order(chance, check, repair, after, 250.0).cost, least_costs(chance, check, repair, after, 250.0)
    assert np.all(ours >= exact - 1e-9)
    assert np.mean(ours / exact) < 1.03
    assert np.max(ours / exact) < 1.15


@pytest.mark.parametrize("fallback", [math.inf, 250.0, 30.0])
def test_many_causes_that_can_only_be_looked_at_in_one_order_cost_that_order_to_its_best_end(fallback: float) -> None:
    dice = np.random.default_rng(6)
    n = 11
    chance = dice.dirichlet(np.ones(n), 8)
    check, repair = dice.uniform(5, 40, n), dice.uniform(0, 240, n)
    check[0], repair[0] = 0.0, 20.0  # looked at first, and out of what is left
    chain = [0, *(dice.permutation(n - 1) + 1)]
    after = np.zeros((n, n), dtype=bool)
    for before, then in pairwise(chain[1:]):
        after[then, before] = True
    for row, ours in zip(chance, least_costs(chance, check, repair, after, fallback), strict=True):
        ends = [[*chain[:made], *[NOT_MADE] * (n - made)] for made in range(1, n + 1)]
        assert ours == pytest.approx(min(float(expected_cost(e, row, check, repair, fallback).cost) for e in ends))


def test_of_free_checks_one_that_another_waits_for_comes_before_it_and_then_the_likelier_for_its_time() -> None:
    after = np.zeros((4, 4), dtype=bool)
    after[0, 1] = True  # the likeliest waits for another free one
    looking = Looking(
        check_cost=np.array([0.0, 0.0, 0.0, 9.0]), minutes=np.array([5.0, 5.0, 5.0, 1.0]),
        repair_cost=np.full(4, 30.0), after=after, fallback=200.0,
    )  # fmt: skip
    assert looking.plan(np.array([0.4, 0.2, 0.1, 0.3])).order.tolist() == [1, 0, 2, 3]
    slow = replace(looking, minutes=np.array([50.0, 5.0, 5.0, 1.0]))
    assert slow.plan(np.array([0.4, 0.2, 0.1, 0.3])).order.tolist() == [1, 2, 0, 3]
    # what cannot be repaired is given up on once it is found, and looking for that is free as well
    lost = replace(looking, repair_cost=np.array([30.0, 200.0, 30.0, 30.0]), after=np.zeros((4, 4), dtype=bool))
    assert lost.plan(np.array([0.2, 0.4, 0.1, 0.3])).order.tolist() == [1, 0, 2, 3]


def test_a_free_check_that_waits_for_a_paid_one_comes_no_sooner_and_holds_up_what_waits_for_it() -> None:
    # By hand: 0 waits for 1 and 1 for 2, which costs 9. That first 9 + 0 + 0 + .1 x 5, the other first 5 + .9 x 9.
    after = np.zeros((4, 4), dtype=bool)
    after[0, 1] = after[1, 2] = True
    looking = Looking(
        check_cost=np.array([0.0, 0.0, 9.0, 5.0]), minutes=np.ones(4), repair_cost=np.full(4, 30.0), after=after,
        fallback=200.0,
    )  # fmt: skip
    chance = np.array([0.4, 0.3, 0.2, 0.1])
    plan = looking.plan(chance)
    assert plan.order.tolist() == [2, 1, 0, 3]
    assert plan.cost == pytest.approx(39.5)
    costs = least_costs(chance[np.newaxis], looking.check_cost, looking.repair_cost, after, 200.0)
    assert costs == pytest.approx([39.5])
    assert looking.plan(np.array([0.5, 0.3, 0.0, 0.2])).order.tolist() == [1, 0, 3, NOT_MADE]  # once that is ruled out


def test_an_answer_that_cannot_change_the_order_is_worth_nothing() -> None:
    looking = looking_of(puzzles(1, 1, causes=4, tests=0)[0])
    chance = np.array([0.4, 0.3, 0.2, 0.1])
    dumb = np.full((2, 4), 0.5)
    assert falls(looking, chance, looking.plan(chance), [dumb], [after_each_reading(chance, dumb)]) == pytest.approx(0)
    assert falls(looking, chance, looking.plan(chance), [], []).tolist() == []


def test_a_check_is_worth_what_going_without_it_costs_more() -> None:
    # By hand: 72 with all three. Without the first .5 x (20 + .4 x 30 + 32) and .5 x (50 in vain + 300 for giving up).
    looking = Looking(
        check_cost=np.array([10.0, 20.0, 30.0]), minutes=np.ones(3), repair_cost=np.array([60.0, 40.0, 20.0]),
        after=np.zeros((3, 3), dtype=bool), fallback=300.0,
    )  # fmt: skip
    chance = np.array([0.5, 0.3, 0.2])
    plan = looking.plan(chance)
    assert plan.cost == pytest.approx(72)
    assert worth_of_check(looking, chance, plan, 0) == pytest.approx(207 - 72)
    assert worth_of_check(looking, chance, plan, 2) == pytest.approx(0.8 * 70 + 0.2 * 330 - 72)
    sure = np.array([1.0, 0.0, 0.0])  # without its check there is nothing but giving up
    assert worth_of_check(looking, sure, looking.plan(sure), 0) == pytest.approx(300 - 70)
    assert math.isnan(worth_of_check(replace(looking, fallback=math.inf), chance, plan, 0))


@given(st.integers(0, 10_000))
def test_what_is_learnt_is_never_worth_less_than_nothing_and_a_check_saves_what_it_saves(seed: int) -> None:
    puzzle = puzzles(seed, 1, causes=4, tests=2)[0]
    looking, chance = looking_of(puzzle), np.array(puzzle.chance)
    rows = [np.array(test.likelihoods) for test in puzzle.tests]
    plan = looking.plan(chance)
    assert np.all(falls(looking, chance, plan, rows, [after_each_reading(chance, each) for each in rows]) >= 0)
    if int(plan.order[0]) != NOT_MADE:
        assert 0 <= worth_of_check(looking, chance, plan, int(plan.order[0])) <= looking.fallback


# a whole diagnosis


def warm(**settings: Any) -> Diagnosis:
    return diagnose("refrigerator", "warm_throughout", age=7.0, **settings)


def test_a_click_and_a_bad_start_device_leave_the_relay() -> None:
    found = warm(answers={"compressor_sound": "clicks"}, readings={"start_device_ohm": 900.0})
    shares = dict(zip(found.symptom.ids, found.chance, strict=True))
    assert shares["fridge_start_relay"] > 0.95
    assert found.verdicts["fridge_start_relay"] == "repair"
    assert float(found.bill.quantile(0.5)) < float(warm().bill.quantile(0.5))


def test_the_first_thing_to_do_costs_nothing_and_is_worth_something() -> None:
    step = next_step(warm())
    assert step is not None
    assert (step.kind, step.cost) == (QUESTION, 0.0)
    assert step.worth == max(each.worth for each in steps_of(warm()) if each.cost == 0)


def test_an_owner_is_only_asked_what_is_for_owners() -> None:
    for kind, symptom in EVERY:
        found = diagnose(kind, symptom, place=place_of(kind))
        for step in steps_of(found, OWNER):
            assert step.who == OWNER
        first = next_step(found, OWNER)
        assert first is None or first.who == OWNER


@pytest.mark.slow
@pytest.mark.parametrize(("kind", "symptom"), EVERY)
def test_a_visit_by_our_steps_ends_with_one_cause_or_nothing_left_that_pays(kind: str, symptom: str) -> None:
    """The likeliest outcome of every step is taken; a check never finds it."""
    place, seen = place_of(kind), dict[str, Any](answers={}, readings={}, out=())
    done: list[str] = []
    for _ in range(60):
        try:
            found = diagnose(kind, symptom, place=place, age=8.0, **seen)
        except CaseError:
            break
        step = next_step(found)
        if step is None:
            break
        assert step.key not in done
        done.append(step.key)
        if step.kind == CHECK:
            seen["out"] = (*seen["out"], step.key)
            continue
        asked = found.questions.get(step.key) or found.tests[step.key]
        at = int(np.argmax(asked.under(found.symptom) @ found.chance))
        if step.kind == QUESTION:
            seen["answers"] = {**seen["answers"], step.key: asked.outcomes[at]}
        else:
            seen["readings"] = {**seen["readings"], step.key: value_for(found.tests[step.key], asked.outcomes[at])}
    else:
        raise AssertionError(done)


def value_for(reading: Any, outcome: str) -> float:
    """A value that comes to that outcome."""
    low = reading.low if math.isfinite(reading.low) else reading.high - 1
    high = reading.high if math.isfinite(reading.high) else reading.low + 1
    value = {
        "below": low - 2 * reading.margin - 1, "pass": (low + high) / 2, "above": high + 2 * reading.margin + 1,
        "marginal": high + reading.margin / 2 if math.isfinite(reading.high) else low - reading.margin / 2,
    }[outcome]  # fmt: skip
    assert reading.outcome(value) == outcome
    return float(value)


def test_the_limit_goes_by_what_is_broken_and_equals_the_one_answer() -> None:
    from decide.answers.answer import answer

    found = warm()
    for link, limit in zip(found.symptom.links, found.limits, strict=True):
        entries = {
            "appliance": {"class": "refrigerator", "age": 7.0, "fault": link.cause.fault},
            "household": {"place": "US"},
        }
        assert limit == pytest.approx(answer(entries).weighing.repair_limit)


@pytest.mark.parametrize(
    ("kind", "symptom"), [("furnace_gas", "furnace_short"), ("water_heater_gas", "heater_leaking")]
)
def test_where_something_cannot_be_repaired_replacing_is_what_it_comes_to_and_no_sum_stands_for_it(
    kind: str, symptom: str
) -> None:
    found = diagnose(kind, symptom, age=8.0)
    assert np.all(np.isfinite(found.limits))
    assert 0 < found.looking.fallback < 20_000
    assert np.max(found.looking.repair_cost) <= found.looking.fallback
    assert 0 <= found.finding_out <= found.looking.fallback


def test_a_part_under_the_makers_warranty_costs_its_work_alone_and_turns_the_verdict() -> None:
    bare, covered = warm(), warm(covered=("fridge_compressor", "fridge_sealed_leak"))
    at = bare.symptom.ids.index("fridge_compressor")
    assert bare.verdicts["fridge_compressor"] == "replace"
    assert "fridge_compressor" in bare.worth_claiming
    assert covered.verdicts["fridge_compressor"] == "repair"
    link = bare.symptom.links[at]
    assert float(covered.bill.high[at]) == pytest.approx(link.cause.hours[1] * bare.rate)
    assert covered.finding_out > bare.finding_out
    old = {"age": 10.0}
    before = diagnose("refrigerator", "warm_throughout", **old)  # type: ignore[arg-type]
    after = diagnose("refrigerator", "warm_throughout", covered=("fridge_compressor", "fridge_sealed_leak"), **old)  # type: ignore[arg-type]
    assert at not in before.steps
    assert at in after.steps


def test_what_a_new_one_would_share_has_no_verdict() -> None:
    """A small refrigerator on an outlet without a ground was to be replaced."""
    found = diagnose("refrigerator_compact", "gives_shock", age=8)
    assert found.verdicts["shock_ground"] is None
    assert found.verdicts["shock_part"] is not None
    for language, house in (("en", "A new one would have it too"), ("es", "Uno nuevo también lo tendría")):
        words = Words.of(language)
        (said,) = (each for each in verdict_text(words, found) if house in each)
        others = " ".join(each for each in verdict_text(words, found) if each != said)
        ground = next(
            cause_name(words, link.cause) for link in found.symptom.links if link.cause.cause == "shock_ground"
        )
        assert ground in said
        assert ground not in others
    old = diagnose("refrigerator_compact", "gives_shock", limit=-50.0)
    assert set(old.verdicts.values()) == {None, "replace"}


def test_what_cannot_be_repaired_says_replace_and_has_no_price() -> None:
    for kind, symptom in EVERY:
        for link in symptoms().symptom(kind, symptom).links:
            stopped = tables().cannot_be_repaired(kind, link.cause.fault)
            assert (link.cause.mend == NOBODY) == stopped
    found = diagnose("water_heater_gas", "heater_leaking", age=6.0)
    assert found.verdicts["heater_tank"] == "replace"


@pytest.mark.parametrize("kind_of", [QUESTION, READING])
def test_steps_come_free_ones_first_then_by_worth_for_cost(kind_of: str) -> None:
    steps = steps_of(warm())
    assert [step.cost > 0 for step in steps] == sorted(step.cost > 0 for step in steps)
    assert any(step.kind == kind_of for step in steps)
    assert {step.who for step in steps} <= set(WHO)


# what is worth asking for


LEAST_WORTH, LEAST_SHARE = 1.0, 0.005
CLICKS = {"answers": {"compressor_sound": "clicks"}, "readings": {"start_device_ohm": 900.0}}


@pytest.mark.slow
@pytest.mark.parametrize("age", [None, 8.0])
@pytest.mark.parametrize("who", [OWNER, WHO[-1]])
def test_nothing_is_named_next_that_saves_less_than_a_dollar(who: str, age: float | None) -> None:
    for kind, symptom in EVERY:
        found = diagnose(kind, symptom, place=place_of(kind), age=age)
        step = next_step(found, who)
        if step is None:
            assert all(each.worth < LEAST_WORTH or each.cost > 0 for each in steps_of(found, who)), (kind, symptom)
        else:
            assert step.worth >= LEAST_WORTH or (step.kind == CHECK and age is None), (kind, symptom, step)


@pytest.mark.parametrize("age", [None, 8.0])
def test_with_a_relay_all_but_certain_it_is_looked_at_and_nothing_else_is_measured(age: float | None) -> None:
    found = diagnose("refrigerator", "warm_throughout", age=age, **CLICKS)
    step = next_step(found)
    assert step is not None
    assert (step.kind, step.key) == (CHECK, "fridge_start_relay")
    assert found.symptom.ids[found.shown[0]] == "fridge_start_relay"
    assert all(found.chance[at] >= LEAST_SHARE for at in found.shown)
    assert len(found.shown) < len(found.steps)
    assert found.chance.sum() == pytest.approx(1)  # they still count


def test_the_last_cause_left_asks_for_nothing_and_says_so() -> None:
    causes = symptoms().known["warm_throughout"].ids
    found = diagnose("refrigerator", "warm_throughout", out=tuple(c for c in causes if c != "fridge_board"))
    assert next_step(found) is None
    assert why_none(found, None) == "one_left"
    assert why_none(found, "fridge_board") == "found"


# what a reading can be at all


@pytest.mark.parametrize(
    ("reading", "typed"),
    [
        ("start_device_ohm", "-5"), ("fresh_food_temperature", "400F"), ("fresh_food_temperature", "204"),
        ("freezer_temperature", "-80"), ("compressor_power", "-1"), ("supply_volt_us", "12000"), ("fill_volume", "-90"),
    ],
)  # fmt: skip
@pytest.mark.parametrize("language", ["en", "es"])
def test_a_reading_out_of_this_world_is_refused_by_its_name(reading: str, typed: str, language: str) -> None:
    words, test = Words.of(language, "US"), evidence().readings[reading]
    with pytest.raises(CaseError) as caught:
        value_of(words, test, typed)
    (said,) = words.explain(caught.value)
    assert all(each in said for each in (reading_name(words, test), in_unit(words, test.least, test.unit)))


def test_every_reading_has_bounds_around_what_a_sound_one_reads() -> None:
    for test in evidence().readings.values():
        assert math.isfinite(test.least)
        assert math.isfinite(test.most)
        ends = [end for end in (test.low, test.high) if math.isfinite(end)]
        assert all(test.least <= end <= test.most for end in ends), test.key
        assert test.unit not in ("ohm", "kohm", "Mohm", "W", "V", "A") or test.least == 0
        assert test.unit != "C" or (test.least, test.most) == (-60, 150)


@pytest.mark.parametrize("value", [-5.0, math.nan, math.inf])
def test_it_is_no_evidence_either(value: float) -> None:
    with pytest.raises(CaseError, match="start_device_ohm must lie between 0 ohm"):
        warm(readings={"start_device_ohm": value})
