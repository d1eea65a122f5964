r"""The decision under everything that is not known: one verdict, one limit, one range, from the same draws.

Uncertain inputs are drawn together, and the case is weighed as it stands and at every draw, as one column. With C_ij
the present cost of option i in draw j, and the repair committed to its better plan,

.. math:: R = \min_{i \ne repair} E[C_i] - (E[C_{repair}] - quote)

is the quote at which expected costs are equal; the verdict is the option of least expected cost. In one draw the limit
is L_j = min_i C_ij - (C_repair,j - quote), and repairing is the cheapest there just when the quote is below L_j. So how
sure a verdict is follows for every quote at once from the quantiles of L.

A doubt about the model itself, one normal draw with mean 0 on the cost of repairing, is in L too.

A value is the **mean** of its range (`mean_law`): what is expected is then what the case says as it stands, nearly.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np

from ..arrays import Floats, Number
from ..finance.special import ndtri
from .breakeven import require_verdict
from .case import CENT, REPAIR, REPLACE, Case
from .flows import money
from .horizon import horizon_of, years_tried
from .uncertainty import Distribution, Range, columns_of, evpi, evppi, values_at, varied
from .weigh import Weighing, most_for_the_quote, single, weigh, weighed_options

CLEAR: Final = "clear"
LEANING: Final = "leaning"
CLOSE: Final = "close"
STATES: Final = (CLEAR, LEANING, CLOSE)

ENDS: Final = (0.05, 0.95)  # Share of draws below each end of a range that is told.


@dataclass(frozen=True, kw_only=True)
class Sureness:
    """From which share of draws on a verdict is clear, or leaning; and how far the model itself is doubted."""

    clear: float  # Least share of draws in which the cheapest option begins with the same act today. [-]
    leaning: float
    doubt: float  # Standard deviation of the cost of repairing over what a new appliance costs. [-]

    def state(self, share: float) -> str:
        """Clear, leaning or close, by the share of draws that agree."""
        return CLEAR if share >= self.clear else LEANING if share >= self.leaning else CLOSE


@dataclass(frozen=True, kw_only=True)
class Decision:
    """What to do, and how sure that is. Money is present cost. [money]"""

    weighing: Weighing[float]
    """The options at what they can be expected to cost; its limit and its best option are the decision's."""
    names: tuple[str, ...]  # What can be chosen today, in the case's order; the repair once, by its better plan.
    acts: tuple[str, ...]  # What each begins with today, one of `case.ACTIONS`.
    rest: Floats
    """Cost of repairing in each draw, less the quote, and without the doubt about the model; shape (draws). [money]"""
    others: Floats
    """Cost of each option that is no repair, in each draw; shape (options - 1, draws), without a row where nothing but
    the repair can be paid today. [money]"""
    doubt: Floats  # What the model may be wrong by about repairing, in each draw; shape (draws). [money]
    quote_error: Floats
    """What the bill may differ from the quote by, where it was given a range; shape (draws) or (). [money]"""
    repair: int  # Index of the repair among the names; -1 where a caution refuses it.
    most: float  # Highest quote that can be paid today; infinite where nothing was said of that. [money]
    cost_of_new: float  # What the cheapest new appliance costs today. [money]
    ranges: tuple[Range, ...]
    shares: Floats  # Share of draws below each draw's value of each range; shape (draws, ranges).
    sureness: Sureness

    @property
    def repair_limit(self) -> float:
        """Highest quote worth paying; NaN where the repair is refused. [money]"""
        return self.weighing.repair_limit

    @property
    def quote(self) -> float:
        """What is asked for the repair; NaN without a quote. [money]"""
        return self.weighing.quoted

    @property
    def limits(self) -> Floats:
        """Highest quote worth paying in each draw, shape (draws). [money]"""
        if not len(self.others):
            return np.full(self.doubt.shape, self.most)
        return np.min(self.others, axis=0) - self.rest - self.doubt

    @property
    def limit_range(self) -> tuple[float, float]:
        """What the limit may be: 5 % and 95 % of draws lie below. [money]"""
        limits = np.sort(self.limits)  # `numpy.quantile` gives the same, and takes 10 ms to start
        low, high = np.interp(ENDS, np.linspace(0.0, 1.0, limits.size), limits)
        return float(low), float(high)

    def costs(self, quote: float) -> Floats:
        """Cost of each option in each draw at a quote, doubt included; shape (options, draws). [money]

        Without a quote, or where a caution refuses the repair or it cannot be paid, only of those that are no repair,
        if any of those can be paid.
        """
        if self.repair < 0 or (len(self.others) and (math.isnan(quote) or quote > self.most + CENT)):
            return self.others
        return np.insert(self.others, self.repair, self.rest + quote + self.quote_error + self.doubt, axis=0)

    def at(self, quote: float) -> "Verdict":
        """The verdict at a quote, or without any repair to choose where it is NaN."""
        costs, names, acts = self.costs(quote), self.names, self.acts
        expected = np.mean(self.others, axis=1)
        if len(costs) > len(self.others):
            expected = np.insert(expected, self.repair, float(np.mean(self.rest)) + quote)  # the doubts have mean 0
        elif self.repair >= 0:
            names, acts = (tuple(n for i, n in enumerate(each) if i != self.repair) for each in (names, acts))
        chosen, cheapest = int(np.argmin(expected)), np.argmin(costs, axis=0)
        shares = np.bincount(cheapest, minlength=len(names)) / costs.shape[1]
        by_act: dict[str, float] = {}
        for act, share in zip(acts, shares, strict=True):
            by_act[act] = by_act.get(act, 0.0) + float(share)
        least = np.min(costs, axis=0)
        others = [i for i, act in enumerate(acts) if act != acts[chosen]]
        second = min(others, key=lambda i: expected[i]) if others else None
        return Verdict(
            option=names[chosen],
            act=acts[chosen],
            state=self.sureness.state(by_act[acts[chosen]]),
            share_by_act=by_act,
            cheapest_share=dict(zip(names, map(float, shares), strict=True)),
            expected_loss=float(np.mean(costs[chosen] - least)),
            second=None if second is None else names[second],
            second_act=None if second is None else acts[second],
            second_loss=math.nan if second is None else float(np.mean(costs[second] - least)),
        )

    @property
    def zones(self) -> "Zones":
        """Where each state begins and ends on the scale of quotes."""
        limit, drawn, others = self.repair_limit, np.sort(self.limits), np.mean(self.others, axis=1)
        if not len(others):
            return Zones(*[limit] * 5)
        acts = np.array([act for i, act in enumerate(self.acts) if i != self.repair])
        agreeing = acts[np.argmin(self.others, axis=0)] == acts[int(np.argmin(others))]
        # above the limit the same act agrees in the draws whose own limit is below the quote, if their cheapest has it
        above = np.sort(np.where(agreeing, self.limits, np.inf))
        clear, leaning = (math.ceil(s * drawn.size - 1e-9) for s in (self.sureness.clear, self.sureness.leaning))
        return Zones(
            clear_repair=min(limit, float(drawn[drawn.size - clear])),
            leaning_repair=min(limit, float(drawn[drawn.size - leaning])),
            limit=limit,
            leaning_other=max(limit, float(above[leaning - 1])),
            clear_other=max(limit, float(above[clear - 1])),
        )


@dataclass(frozen=True, kw_only=True)
class Verdict:
    """What to do at one quote."""

    option: str  # The option of least expected cost.
    act: str
    state: str  # One of `STATES`: by the share of draws in which the cheapest option begins with the same act.
    share_by_act: dict[str, float]
    cheapest_share: dict[str, float]  # Share of draws in which each option is the cheapest.
    expected_loss: float  # What one can expect to pay too much by the verdict. [money]
    second: str | None  # The best option that begins with another act.
    second_act: str | None
    second_loss: float  # The same by that one. [money]


@dataclass(frozen=True)
class Zones:
    """Quotes at which the state of the verdict changes, in rising order. [money]"""

    clear_repair: float  # Up to it repairing is clear.
    leaning_repair: float  # Up to it the verdict leans to repairing; from there to `leaning_other` it is a close call.
    limit: float
    leaning_other: float  # From it on the verdict leans to the best other act.
    clear_other: float  # From it on that is clear.

    @property
    def beyond(self) -> tuple[float, float, float, float]:
        """The same less the limit, without the limit itself. [money]"""
        ends = (self.clear_repair, self.leaning_repair, self.leaning_other, self.clear_other)
        clear, leaning, other_leaning, other_clear = (end - self.limit for end in ends)
        return clear, leaning, other_leaning, other_clear


def state_at(beyond: Floats, edges: Floats) -> Floats:
    """State of each verdict by how far its quote is above its limit: 1 clear, 2 leaning, 3 close; 0 where not known.

    `beyond` is quote less repair limit, shape (n); `edges` are `Zones.beyond`, shape (n, 4). [money]
    """
    clear, leaning, other_leaning, other_clear = edges.T
    found = np.where((beyond <= leaning) | (beyond > other_leaning), 2, 3)
    found = np.where((beyond <= clear) | (beyond > other_clear), 1, found)
    return np.where(np.isnan(beyond + clear), 0, found)


def decide(case: Case, ranges: Sequence[Range], points: Floats, sureness: Sureness) -> Decision:
    """Decide a single case under what its inputs may be instead, as `ranges` say; all else stands.

    `points` are low-discrepancy points in the unit cube, shape (draws, at least ranges + 1).
    Raises `CaseError`: some ranges together make no case: the message names them.
    """
    shares, draws = points[:, columns_of(ranges, points.shape[1])], len(points)
    tried = len(years_tried(case)) if ranges else 0  # with a row of the case as it stands for each of them
    planned_years = None if tried else horizon_of(case, money(case.household)).best_plan(case.repair)
    drawn = varied(case, ranges, values_at(ranges, shares, standing=max(1, tried))) if ranges else case
    weighed: Weighing[Any] = weigh(drawn, None, planned_years, tried + draws if tried else 0)
    standing = single(weighed, weighed_options(case, weighed.planned_years))
    quote = standing.quoted
    allowed = [cost for cost in weighed.options if not cost.blocked_by]
    left_out = {cost.name for cost in standing.options if cost.left_out and cost.action != REPAIR}
    payable = [cost for cost in allowed if cost.name not in left_out]
    most = float(most_for_the_quote(case))
    alone = all(cost.action == REPAIR for cost in payable)
    if alone and (not payable or np.nan_to_num(quote) > most + CENT):
        payable, most = allowed, math.inf  # nothing can be paid: then all of it is told
    costs = {id(cost): np.broadcast_to(_drawn(cost.present_cost, draws), draws) for cost in allowed}
    plans = [cost for cost in payable if cost.action == REPAIR]
    others = [cost for cost in payable if cost.action != REPAIR]
    better = min(plans, key=lambda cost: float(np.mean(costs[id(cost)])), default=None)
    quoted = np.asarray(_drawn(weighed.quoted, draws))
    rest = np.full(draws, math.nan) if better is None else costs[id(better)] - np.nan_to_num(quoted)
    choices = [cost for cost in payable if cost.action != REPAIR or cost is plans[0]]
    other_costs = np.array([costs[id(cost)] for cost in others]).reshape(-1, draws)
    limit = min(float(np.min(np.mean(other_costs, axis=1), initial=math.inf) - np.mean(rest)), most)
    if math.isinf(limit):  # a card pays any quote, and nothing else can be paid: worth what it is worth in the long run
        long_run = (float(np.mean(costs[id(cost)])) for cost in allowed if cost.action != REPAIR)
        limit = most = min(long_run, default=math.inf) - float(np.mean(rest))
    new = min(_mean(cost.today, draws) for cost in weighed.options if cost.action == REPLACE)
    return Decision(
        weighing=_expected(weighed, standing, limit, draws),
        names=tuple(cost.name for cost in choices),
        acts=tuple(cost.action for cost in choices),
        rest=rest,
        others=other_costs,
        doubt=sureness.doubt * new * ndtri(points[:, 0]),
        quote_error=np.nan_to_num(quoted - quote),
        repair=choices.index(plans[0]) if plans else -1,
        most=most,
        cost_of_new=new,
        ranges=tuple(ranges),
        shares=shares,
        sureness=sureness,
    )


def _drawn(value: Number, draws: int) -> Number:
    """The rows of a column that are drawn; those before them are the case as it stands."""
    return value[-draws:] if isinstance(value, np.ndarray) else value


def _mean(value: Number, draws: int) -> float:
    return float(np.add.reduce(value[-draws:])) / draws if isinstance(value, np.ndarray) else value


def _expected(weighed: Weighing[Any], standing: Weighing[float], limit: float, draws: int) -> Weighing[float]:
    """The weighing at mean costs; what comes next, and when, as the case stands."""
    names, options = ("present_cost", "equivalent_annual_cost", "expected_remaining_life"), []
    for cost, stands in zip(weighed.options, standing.options, strict=True):
        means: dict[str, Any] = {name: _mean(getattr(cost, name), draws) for name in names}
        means["by_category"] = {category: _mean(amount, draws) for category, amount in cost.by_category.items()}
        options.append(replace(stands, **means))
    totals = np.array([math.inf if cost.blocked_by else cost.present_cost for cost in options])
    payable = np.where([bool(cost.left_out) for cost in options], math.inf, totals)
    some = bool(np.any(np.isfinite(payable)))
    return replace(
        standing,
        options=tuple(options),
        repair_limit=limit,
        advantage=limit - standing.quoted,
        best=float(np.argmin(payable if some else totals)),
        cost_of_cash=float(np.min(payable) - np.min(totals)) if some else math.nan,
    )


@dataclass(frozen=True)
class Bar:
    """The advantage of repairing at both ends of one range, all else as it stands. [money]"""

    low: float
    high: float


@dataclass(frozen=True, kw_only=True)
class DecisionConfidence:
    """How sure the verdict is. Amounts are present costs. [money]"""

    draws: int
    ranges: tuple[Range, ...]
    names: tuple[str, ...]  # What can be chosen today, in the case's order.
    verdict: int  # Index of the choice of least expected cost.
    state: str
    advantage: Distribution  # Of repairing.
    share_cheapest: tuple[float, ...]  # Share of draws in which each choice is the cheapest.
    expected_regret: float  # Of following the verdict.
    evpi: float
    evppi: tuple[float, ...]  # What it is worth to learn each range's true value before deciding.
    bars: tuple[Bar, ...]  # One for each range.


def confidence(case: Case, decided: Decision) -> DecisionConfidence:
    """How sure the verdict of a single case with a quote is, and what moves it; `decided` is what `decide` made of it.

    Raises `CaseError`: the case has columns, no quote, or a repair that a caution refuses.
    """
    require_verdict(case)
    found, costs = decided.at(decided.quote), decided.costs(decided.quote)
    return DecisionConfidence(
        draws=len(decided.doubt),
        ranges=decided.ranges,
        names=decided.names,
        verdict=decided.names.index(found.option),
        state=found.state,
        advantage=Distribution.of(decided.limits - decided.quote - decided.quote_error),
        share_cheapest=tuple(found.cheapest_share.values()),
        expected_regret=found.expected_loss,
        evpi=evpi(costs),
        evppi=tuple(evppi(costs, known) for known in decided.shares.T),
        bars=_bars(case, decided),
    )


def _bars(case: Case, decided: Decision) -> tuple[Bar, ...]:
    """The advantage at both ends of each range, two rows a range."""
    ranges = decided.ranges
    if not ranges:
        return ()
    drawn = []
    for index, each in enumerate(ranges):
        rows = {path: np.full(2 * len(ranges), value) for path, value in zip(each.paths, each.values, strict=True)}
        for path, low, high in zip(each.paths, each.lows, each.highs, strict=True):
            rows[path][2 * index : 2 * index + 2] = low, high
        drawn.append(rows)
    weighed = weigh(varied(case, ranges, drawn), None, decided.weighing.planned_years)
    ends = np.broadcast_to(np.asarray(weighed.advantage), 2 * len(ranges)).reshape(-1, 2)
    return tuple(Bar(float(low), float(high)) for low, high in ends)
