"""What to check first: before any quote, in which order to look for the cause of what is seen.

One fault is taken to explain what is seen, and a check tells for certain whether its cause is that fault. Looking goes
on until the cause is found, so a check costs its price times the chance that nothing before it was the cause. All
causes that a symptom can have stand on the last axis of each array, cases on the leading ones.

References
----------
Kadane, Simon (1977), and Kalagnanam, Henrion, UAI 1990 (arXiv 1304.2362): likeliest for its cost first, one fault.
Heckerman, Breese, Rommelse, CACM 38(3) 1995: the same, with a service call of fixed cost to fall back on.
"""

import functools
import graphlib
import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..arrays import Floats, Number, Truths
from ..errors import CaseError, require

MOST_CAUSES: Final = 16  # All sets of causes are weighed, so each cause more doubles the work.

MOST_EXACT: Final = 9
"""Of more causes whose check costs something, many plans at once are weighed by the likeliest for its cost first."""

NOT_MADE: Final = -1  # Stands in an order where no check is made any more.

Order = NDArray[np.intp]


@dataclass(frozen=True, kw_only=True)
class CheckPlan:
    """An order of checks and what it can be expected to cost."""

    order: Order
    """Index of the cause that is checked first, second ..., shape (..., causes); `NOT_MADE` after the last check."""
    reached: Floats  # Chance that the check at that place is made at all. [-]
    checking: Number  # Expected cost of the checks. [money]
    repairing: Number  # Expected cost of the repairs that they lead to. [money]
    giving_up: Number  # Expected cost of falling back when no check finds it. [money]

    @property
    def cost(self) -> Number:
        """What finding and mending it can be expected to cost. [money]"""
        return self.checking + self.repairing + self.giving_up


def best_order(
    chance: ArrayLike,
    check_cost: ArrayLike,
    repair_cost: ArrayLike,
    after: Truths | None = None,
    fallback: Number = math.inf,
) -> CheckPlan:
    """Find the order in which looking for the cause costs least, and where to stop looking.

    The least cost of going on from a set S of causes checked, with q(S) the chance of all others, is
    ``V(S) = min(q(S) F, min over i that may come next of q(S) c_i + p_i r_i + V(S with i))``: exact, by all sets.
    Without prerequisites and fallback this is the order of falling p/c, in which checks that cost nothing come first.

    `chance` of each cause adds up to 1, and one of chance 0 counts as checked [-]; `check_cost` finds out whether it is
    that cause, `repair_cost` mends it [money]; all of shape (..., causes). Row i of `after` marks what must be checked
    before cause i. `fallback` is giving up, by replacing the unit or handing it on; infinite where that is not open.

    Raises `OutOfRange`: a chance or cost out of bounds, or more than `MOST_CAUSES` causes. Raises `CaseError`: chances
    that do not add up to 1, or prerequisites that go in a circle.
    """
    p, c, r, lead = _causes(chance, check_cost, repair_cost)
    needs = _needs(after, p.shape[-1])
    give_up = np.broadcast_to(np.asarray(fallback, dtype=float), lead).reshape(-1)
    require("checks.fallback", give_up, 0.0, math.inf, "money")
    value, left = _values(p, c, r, needs, give_up)
    order = _walk(p, c, r, needs, value, left).reshape(*lead, p.shape[-1])
    return expected_cost(order, chance, check_cost, repair_cost, fallback)


def least_costs(
    chance: ArrayLike, check_cost: Floats, repair_cost: Floats, after: Truths | None = None, fallback: float = math.inf
) -> Floats:
    """Cost of the best order under many chances at once, without the order: what a question is worth asks for it.

    Exact for `MOST_EXACT` causes whose check costs something, and by falling p/c with the best place to stop beyond;
    what costs nothing to check, and costs no more to mend than giving up, comes first in any case. `chance` has shape
    (..., causes); the costs are the same under all of them, shape (causes,) [money]; the rest is as in `best_order`.
    """
    p, _, _, lead = _causes(chance, check_cost, repair_cost)
    n = p.shape[-1]
    marks = np.zeros((n, n), dtype=bool) if after is None else np.asarray(after, dtype=bool)
    idle = ~np.any(p > 0, axis=0)
    free = free_checks(idle, check_cost, repair_cost, marks, fallback)
    first = p[:, free] @ repair_cost[free]
    paid = ~(free | idle)
    if not np.any(paid):
        return first.reshape(lead)
    p, c, r, marks = p[:, paid], check_cost[paid], repair_cost[paid], marks[np.ix_(paid, paid)]
    shape, give_up = p.shape, np.full(len(p), float(fallback))
    if shape[1] > MOST_EXACT:
        return (first + _greedy(p, c, r, marks, give_up)).reshape(lead)
    value, _ = _values(p, np.broadcast_to(c, shape), np.broadcast_to(r, shape), _needs(marks, shape[1]), give_up)
    done = (p == 0) @ (1 << np.arange(shape[1]))
    return (first + value[np.arange(len(p)), done]).reshape(lead)


def free_checks(idle: Truths, check_cost: Floats, repair_cost: Floats, after: Truths, fallback: float) -> Truths:
    """Checks that come first in any case: they cost nothing, mending costs no more than giving up, none waits for a
    paid one; `idle` marks causes that are out already."""
    free = (check_cost == 0) & (repair_cost <= fallback)
    while np.any(waits := free & np.any(after & ~(free | idle), axis=-1)):
        free &= ~waits
    return free & ~idle


def _greedy(p: Floats, c: Floats, r: Floats, marks: Truths, give_up: Floats) -> Floats:
    """Cost of checking the likeliest for its cost first of those that may come next, up to the best place to stop."""
    done, at = p == 0, np.arange(len(p))
    left, spent = p.sum(axis=-1), np.zeros(len(p))
    least = np.where(left > 0, give_up * np.where(left > 0, left, 1.0), 0.0)
    ratio = np.divide(p, c, out=np.full(p.shape, np.inf), where=c > 0)
    for _ in range(p.shape[1]):
        ready = ~done & ~np.any(marks & ~done[:, None, :], axis=-1)
        pick = np.argmax(np.where(ready, ratio, -1.0), axis=-1)
        more = ready[at, pick]
        spent += np.where(more, left * c[pick] + p[at, pick] * r[pick], 0.0)
        left = np.where(more, left - p[at, pick], left)
        done[at, pick] |= more
        ended = left < 1e-12
        least = np.minimum(least, np.where(ended, spent, spent + np.where(ended, 1.0, left) * give_up))
    return least


def expected_cost(
    order: ArrayLike, chance: ArrayLike, check_cost: ArrayLike, repair_cost: ArrayLike, fallback: Number = math.inf
) -> CheckPlan:
    """Work out what an order of checks can be expected to cost, such as the one that a shop is used to.

    ``sum over k of q_k c_k + p_k r_k``, with q_k the chance of what is not checked before k, and then ``q F``.

    `order` holds indices of the causes, shape (..., causes), filled up with `NOT_MADE`; the rest is as in `best_order`,
    and giving up comes once all checks of the order are made.

    Raises `CaseError`: the order names a cause twice, or one that there is not.
    """
    p, c, r, lead = _causes(chance, check_cost, repair_cost)
    n = p.shape[-1]
    places = np.broadcast_to(np.asarray(order, dtype=np.intp), (*lead, n)).reshape(-1, n)
    made = places != NOT_MADE
    ranked = np.sort(np.where(made, places, n + np.arange(n)), axis=-1)
    if np.any(ranked[:, 1:] == ranked[:, :-1]) or np.any(places < NOT_MADE) or np.any(places >= n):
        raise CaseError("checks.order", "must name each of {n} causes once at most", n)
    there = np.where(made, places, 0)
    found, price, mend = (np.where(made, np.take_along_axis(each, there, axis=-1), 0.0) for each in (p, c, r))
    before = np.cumsum(found, axis=-1)
    reached = np.where(made, np.clip(1.0 - (before - found), 0.0, 1.0), 0.0)
    missed = np.where(np.isclose(before[:, -1], 1.0, rtol=0, atol=1e-12), 0.0, 1.0 - before[:, -1])
    give_up = np.broadcast_to(np.asarray(fallback, dtype=float), lead).reshape(-1)
    return CheckPlan(
        order=places.reshape(*lead, n),
        reached=reached.reshape(*lead, n),
        checking=np.sum(reached * price, axis=-1).reshape(lead),
        repairing=np.sum(found * mend, axis=-1).reshape(lead),
        giving_up=(np.where(missed > 0, give_up, 0.0) * missed).reshape(lead),
    )


def _causes(*given: ArrayLike) -> tuple[Floats, Floats, Floats, tuple[int, ...]]:
    """Chance, check cost and repair cost, checked, with all leading axes drawn into one; and these axes."""
    p, c, r = np.broadcast_arrays(*(np.asarray(each, dtype=float) for each in given))
    if p.ndim == 0:
        raise CaseError("checks.chance", "must have a number for each cause")
    require("checks.causes", float(p.shape[-1]), 1, MOST_CAUSES, "")
    require_chances(p)
    require("checks.check_cost", c, 0.0, 1e9, "money")
    require("checks.repair_cost", r, 0.0, 1e9, "money")
    n = p.shape[-1]
    return p.reshape(-1, n), c.reshape(-1, n), r.reshape(-1, n), p.shape[:-1]


def require_chances(chance: Floats) -> None:
    """Raise unless the chances of the causes, on the last axis, lie from 0 to 1 and add up to 1."""
    require("checks.chance", chance, 0.0, 1.0, "")
    total = chance.sum(axis=-1)
    if not np.allclose(total, 1.0, rtol=0, atol=1e-9):
        raise CaseError("checks.chance", "must add up to 1 over the causes, got {got:g}", float(np.ravel(total)[0]))


def _needs(after: Truths | None, n: int) -> list[int]:
    """What must come before each cause, as the bits of a set."""
    marks = np.zeros((n, n), dtype=bool) if after is None else np.asarray(after, dtype=bool)
    if marks.shape != (n, n):
        raise CaseError("checks.after", "must have {n} rows of {n}, got shape {shape}", n, marks.shape)
    try:
        graphlib.TopologicalSorter({i: np.flatnonzero(row).tolist() for i, row in enumerate(marks)}).prepare()
    except graphlib.CycleError as error:
        raise CaseError("checks.after", "goes in a circle at causes {waiting}", sorted(set(error.args[1]))) from error
    return [sum(1 << int(other) for other in np.flatnonzero(row)) for row in marks]


@functools.lru_cache(maxsize=32)
def _moves(n: int, needs: tuple[int, ...]) -> tuple[tuple[int, NDArray[np.intp]], ...]:
    """Each cause that may come next, with the sets of causes checked from which it may; the fullest sets first."""
    codes = np.arange(1 << n)
    held = sum((codes >> i) & 1 for i in range(n))
    sets = (np.flatnonzero(held == size) for size in reversed(range(n)))
    found = ((i, here[((here >> i) & 1 == 0) & (needs[i] & ~here == 0)]) for here in sets for i in range(n))
    return tuple((i, here) for i, here in found if here.size)


def _values(p: Floats, c: Floats, r: Floats, needs: list[int], give_up: Floats) -> tuple[Floats, Floats]:
    """Least cost of going on from each set of causes checked, shape (cases, sets), and the chance of all others."""
    n = p.shape[-1]
    codes = np.arange(1 << n)
    left = p @ np.array([1.0 - ((codes >> i) & 1) for i in range(n)])
    stopped = np.where(np.isinf(give_up), 0.0, give_up)[:, None] * left
    value = np.where((left > 0) & np.isinf(give_up)[:, None], np.inf, stopped)
    mended = p * r
    for i, open_here in _moves(n, tuple(needs)):
        going_on = c[:, i, None] * left[:, open_here] + mended[:, i, None] + value[:, open_here | 1 << i]
        value[:, open_here] = np.minimum(value[:, open_here], going_on)
    return value, left


def _walk(p: Floats, c: Floats, r: Floats, needs: list[int], value: Floats, left: Floats) -> Order:
    """Follow the least cost from what is checked already; where two ways cost the same, the likelier cause first."""
    cases, n = p.shape
    order = np.full((cases, n), NOT_MADE, dtype=np.intp)
    for case in range(cases):
        done = sum(1 << i for i in range(n) if p[case, i] == 0.0)
        for place in range(n):
            most = value[case, done] + 1e-12 * max(1.0, abs(value[case, done]))
            ways = [i for i in range(n) if not done >> i & 1 and not needs[i] & ~done]
            cost = {
                i: c[case, i] * left[case, done] + p[case, i] * r[case, i] + value[case, done | 1 << i] for i in ways
            }
            ways = [i for i in ways if cost[i] <= most]
            if not ways:
                break
            order[case, place] = max(ways, key=lambda i: p[case, i])
            done |= 1 << int(order[case, place])
    return order


def ruled_out(chance: ArrayLike, which: ArrayLike) -> Floats:
    """Share the chances anew among the causes that are left, once those of `which`, shape (causes,), were found sound.

    Raises `CaseError`: no cause is left.
    """
    return observed(chance, np.where(np.asarray(which, dtype=bool), 0.0, 1.0))


def observed(chance: ArrayLike, likelihood: ArrayLike) -> Floats:
    """Update the chances by something seen (Bayes): ``p_i l_i / sum of p_j l_j``, all of shape (..., causes). [-]

    Raises `CaseError`: no cause that is left could show what was seen.
    """
    before, shown = np.asarray(chance, dtype=float), np.asarray(likelihood, dtype=float)
    require_chances(before)
    require("checks.likelihood", shown, 0.0, 1.0, "")
    joint = before * shown
    total = joint.sum(axis=-1, keepdims=True)
    if np.any(total <= 0.0):
        raise CaseError("checks.out", "leaves none of the listed causes: it is another one, or a check misled")
    return joint / total


def counted(chance: ArrayLike, counts: ArrayLike, strength: float) -> Floats:
    """Blend the listed chances with what a shop has found itself: ``(s p_i + n_i) / (s + n)`` (Dirichlet).

    `counts` are its jobs in which each cause was the one, shape (..., causes); the listed chances count as `strength`
    jobs. Raises `OutOfRange`: a count below 0, or a strength that is not above 0.
    """
    prior, jobs = np.asarray(chance, dtype=float), np.asarray(counts, dtype=float)
    require_chances(prior)
    require("checks.counts", jobs, 0.0, 1e9, "jobs")
    require("checks.strength", strength, 1e-9, 1e9, "jobs")
    return (strength * prior + jobs) / (strength + jobs.sum(axis=-1, keepdims=True))
