"""What is seen and measured moves the shares of the causes, and what to ask, measure or look at next.

Causes stand on the last axis of every array. An answer or a reading is a *likelihood*: the chance of seeing it, were it
that cause. Answers about one complaint are not independent, and their likelihoods are judgements; so those that tell
most count in full, the others not, and answers alone take no cause beyond a share. Readings stand on their own.

References
----------
Heckerman, Breese, Rommelse, CACM 38(3) 1995, and Jensen et al., AI EDAM 15(4) 2001: the next question is the one with
the largest fall of the expected cost, looking one step ahead.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import rel_entr

from ..arrays import Floats, Truths
from .check_order import NOT_MADE, CheckPlan, best_order, expected_cost, free_checks, least_costs, observed, ruled_out

NOTHING = 1e-9  # A chance or an amount below this is none.


@dataclass(frozen=True, kw_only=True)
class AnswerRule:
    """How far answers are trusted."""

    counted: int  # So many answers count, those that tell most. [-]
    most: float  # No cause passes this share by answers alone. [-]


@dataclass(frozen=True, kw_only=True)
class Looking:
    """What looking costs and ends in: all that the worth of a question depends on beside the shares."""

    check_cost: Floats  # Of finding out whether it is that cause, shape (causes,). [money]
    minutes: Floats  # That it takes. [minute]
    repair_cost: Floats  # Of what is then done about it, shape (causes,). [money]
    after: Truths  # Row i marks what is checked before cause i, shape (causes, causes).
    fallback: float  # Cost of giving up; infinite where that is not open. [money]

    def plan(self, chance: Floats) -> CheckPlan:
        """The order of checks of least cost, exactly; of those that are free the likeliest for its time first."""
        idle = chance <= 0
        free = free_checks(idle, self.check_cost, self.repair_cost, self.after, self.fallback)
        order: list[int] = []
        while waiting := [int(at) for at in np.flatnonzero(free) if at not in order]:
            ready = [at for at in waiting if not any(self.after[at, other] for other in waiting)]
            order.append(max(ready, key=lambda at: chance[at] / self.minutes[at]))
        paid = np.flatnonzero(~(free | idle))
        if paid.size:
            left = np.minimum(chance[paid] / chance[paid].sum(), 1.0)
            costs = (self.check_cost[paid], self.repair_cost[paid])
            then = best_order(left, *costs, self.after[np.ix_(paid, paid)], self.fallback).order
            order += [int(paid[at]) for at in then if at != NOT_MADE]
        whole = np.array(order + [NOT_MADE] * (len(chance) - len(order)))
        return expected_cost(whole, chance, self.check_cost, self.repair_cost, self.fallback)


def divergence(chance: Floats, likelihood: Floats) -> float:
    """How much an answer tells: divergence of the shares after it from those before. [nat]"""
    return float(np.sum(rel_entr(observed(chance, likelihood), chance)))


def counted_answers(chance: Floats, answers: Sequence[Floats], rule: AnswerRule) -> list[int]:
    """Which answers count: those that tell most, by their place. Of equal ones the first that was given."""
    if len(answers) <= rule.counted:
        return list(range(len(answers)))
    best = sorted(range(len(answers)), key=lambda at: -round(divergence(chance, answers[at]), 12))
    return sorted(best[: rule.counted])


def capped(chance: Floats, before: Floats, most: float) -> Floats:
    """Hold every share to `most`, or to what it was before; the excess goes to the others in proportion."""
    top = int(np.argmax(chance))
    held, others = max(most, float(before[top])), 1.0 - float(chance[top])
    if chance[top] <= held or others < NOTHING:
        return chance
    found = chance * (1.0 - held) / others
    found[top] = held
    return found


def updated(chance: ArrayLike, answers: Sequence[Floats], readings: Sequence[Floats], rule: AnswerRule) -> Floats:
    """Update the shares of the causes, shape (causes,), by the likelihoods of all that was seen and measured.

    Bayes' rule by the answers that count, then the cap, then Bayes' rule by every reading.
    Raises `CaseError`: no cause that is left could show it.
    """
    before = np.asarray(chance, dtype=float)
    found = before
    for at in counted_answers(before, answers, rule):
        found = observed(found, answers[at])
    found = capped(found, before, rule.most)
    for likelihood in readings:
        found = observed(found, likelihood)
    return found


def after_each_reading(chance: Floats, likelihoods: Floats) -> Floats:
    """The shares after each outcome of one more reading, shape (outcomes, causes); as they were for what cannot be."""
    joint = likelihoods * chance
    total = joint.sum(axis=-1, keepdims=True)
    return np.where(total > 0, np.minimum(joint / np.where(total > 0, total, 1.0), 1.0), chance)


def falls(
    looking: Looking, chance: Floats, plan: CheckPlan, likelihoods: Sequence[Floats], shares: Sequence[Floats]
) -> Floats:
    """What each question or reading is worth before it is known: ``sum over a of P(a) (plan kept - least cost)``.

    Both costs are those under the shares that an answer would leave. Where these are plain Bayes this is the value of
    information; where an answer would not count, or is capped, it is what changing the plan then saves, never below 0.

    `plan` is of least cost now, under `chance`, shape (causes,). For each question `likelihoods` has the chance of each
    of its answers under each cause, and `shares` what the shares are after it, shape (answers, causes). What comes back
    is the fall of the expected cost of the visit and of the decision after it, shape (questions). [money]
    """
    if not likelihoods:
        return np.zeros(0)
    stacked = np.concatenate(list(shares))
    costs = looking.check_cost, looking.repair_cost
    kept = np.asarray(expected_cost(plan.order, stacked, *costs, looking.fallback).cost)
    saved = np.maximum(kept - least_costs(stacked, *costs, looking.after, looking.fallback), 0.0)
    weight = np.concatenate([each @ chance for each in likelihoods])
    ends = np.cumsum([len(each) for each in likelihoods])[:-1]
    return np.array([float(np.sum(part)) for part in np.split(weight * saved, ends)])


def worth_of_check(looking: Looking, chance: Floats, plan: CheckPlan, at: int) -> float:
    """What the check of cause `at` saves a plan: the least cost were it never made, less that of the plan. [money]

    Were it that cause, all others would be looked at in vain and the search given up. Where giving up is not open: NaN.
    """
    if not np.isfinite(looking.fallback):
        return float("nan")
    without = looking.fallback
    if chance[at] < 1 - NOTHING:
        left = ruled_out(chance, np.arange(len(chance)) == at)
        rest = looking.plan(left)
        vain = looking.fallback + float(np.sum(looking.check_cost[rest.order[rest.order != NOT_MADE]]))
        without = min(without, (1 - chance[at]) * float(rest.cost) + chance[at] * vain)
    return max(without - float(plan.cost), 0.0)


def is_better_now(
    looking: Looking, chance: Floats, plan: CheckPlan, likelihoods: Floats, fall: float, cost: float
) -> bool:
    """Whether a test is better now than once the first check of the plan found nothing: two steps ahead."""
    first = int(plan.order[0])
    if fall <= cost or first == NOT_MADE or chance[first] > 1 - NOTHING:
        return fall > cost
    left = ruled_out(chance, np.arange(len(chance)) == first)
    then = looking.plan(left)
    later = float(falls(looking, left, then, [likelihoods], [after_each_reading(left, likelihoods)])[0]) - cost
    checked = looking.check_cost[first] + chance[first] * looking.repair_cost[first]
    waiting = checked + (1 - chance[first]) * (float(then.cost) - max(later, 0.0))
    return float(plan.cost) - (fall - cost) <= waiting + NOTHING
