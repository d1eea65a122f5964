"""A shop's jobs weighed, in columns, by the functions that weigh one case.

The highest quote worth paying does not depend on the quote. So of all jobs that are the same case but for age and
quote, each age is weighed once, and every job takes the limit of its age: the same function, the same answer.

What a repair is worth to the customer is without the shop's own terms of its fee. A fee that comes off an accepted
quote is told beside it: it raises what that quote may come to one for one.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, fields
from typing import Final, Self

import numpy as np
from numpy.typing import NDArray

from ..arrays import Floats
from ..economics.bounds import Bounds, numbers_of
from ..economics.case import AGE, CENT, LEAVE, REPAIR, REPLACE, Appliance, Case, Option, Quote, vary_all
from ..economics.decision import STATES, state_at
from ..economics.household import Household
from ..economics.weigh import NO_QUOTE, weigh
from ..errors import CaseError
from .jobs import Jobs

NOT_WEIGHED: Final = "not weighed"
REFUSED: Final = "refused"
VERDICTS: Final = (NOT_WEIGHED, REPAIR, REPLACE, LEAVE, NO_QUOTE, REFUSED)
"""What is to be done with a job. `refused`: a caution rules the repair out, whatever it costs."""

WEIGHED: Final = "weighed"
NO_AGE: Final = "no_age"
AGE_RANGE: Final = "age_range"
QUOTE_RANGE: Final = "quote_range"
CREDIT_RANGE: Final = "credit_range"
CREDIT_ABOVE: Final = "credit_above"
NO_CASE: Final = "no_case"
REASONS: Final = (WEIGHED, NO_AGE, AGE_RANGE, QUOTE_RANGE, CREDIT_RANGE, CREDIT_ABOVE, NO_CASE)
"""Why a job is not weighed. `no_case`: a class that has no figures here, or a fault that the class cannot have."""

SURE: Final = ("", *STATES)
"""How sure the verdict of a job is; nothing where it has none, or nobody asked."""

USE: Final = "use"
"""What a caution stops that says: do not use it until it is made safe."""

MOST_REMEMBERED: Final = 500_000
"""Ages that are kept between chunks; beyond it all are forgotten, so that memory does not grow with the book."""

Codes = NDArray[np.int8]
Mask = NDArray[np.bool_]
EdgesOf = Callable[[Case, Floats], Floats]
"""Of a case at several ages: what the limit under all that is not known adds to that of the case as it stands, and
where on the scale of quote less limit its states change; shape (ages, 5). [money]"""
Own = tuple[tuple[str, float], ...]
"""Entries of a case besides its class, age and fault, by path."""
TemplateOf = Callable[[str, str, Own], Case]
"""The case of a class and a fault, at any age and without a quote; `CaseError` where there is none. Faults that lead
to the same case should be given the same object, so that it is weighed once."""


_OF_UNIT, _OF_QUOTE = numbers_of(Appliance), numbers_of(Quote)
AGES: Final = _OF_UNIT["age"]
OWN_BOUNDS: Final = {
    "new_price": numbers_of(Option)["price"],
    "rate": numbers_of(Household)["rate"],
    "electricity": _OF_UNIT["electricity"],
    "new_electricity": _OF_UNIT["electricity"],
}
"""What jobs may say of their own case, by the role of the column."""

PRICE, RATE = "replace.price", "household.rate"
PRICES_TWICE, RATES_EACH, MOST_LEVELS = 8, 50, 150
"""Later repairs of a job with a price or a rate of its own are those of the nearest of so many prices up to twice as
much, and of so many rates up to 1; the limit is within 2 % of the price of a new one by that. [-]"""


@dataclass(frozen=True, kw_only=True)
class WeighedJobs:
    """What comes of each job, amounts in money; arrays have shape (jobs,), and NaN where a job has no such figure."""

    repair_limit: Floats
    """Highest quote worth paying, whatever comes off for a fee; below 0 even a free repair costs more."""
    advantage: Floats
    """Repair limit less quote."""
    credit: Floats
    """Of the shop's fee, what comes off an accepted quote; 0 where nothing does."""
    quote: Floats
    new_price: Floats
    """Price of the new unit that is bought when the one there ends."""
    verdict: Codes
    """Index in `VERDICTS`; those of `state` and `reason` are in `SURE` and `REASONS`."""
    state: Codes
    stopped: Mask
    """Whether a caution says not to use it until it is made safe."""
    claimable: Mask
    """Whether somebody else usually owes the repair, and is to be asked first."""
    reason: Codes

    def __len__(self) -> int:
        return len(self.verdict)

    def take(self, which: NDArray[np.intp] | Mask | slice) -> Self:
        """Some of the jobs, in the order of an index, a mask or a slice."""
        return type(self)(**{item.name: getattr(self, item.name)[which] for item in fields(self)})

    @property
    def limit_share(self) -> Floats:
        """Repair limit over the price of a new unit. [share]"""
        return self.repair_limit / self.new_price

    @property
    def quote_share(self) -> Floats:
        """Quote over the price of a new unit. [share]"""
        return self.quote / self.new_price

    @property
    def turned_by_fee(self) -> Mask:
        """Which quotes are above the limit, and worth it only by the fee that comes off."""
        return (self.advantage < 0) & (self.advantage + self.credit >= 0)

    @property
    def weighed(self) -> Mask:
        """Which jobs could be weighed."""
        return self.reason == REASONS.index(WEIGHED)


@dataclass(frozen=True, kw_only=True)
class LimitsByAge:
    """What one case comes to at each of several ages, whatever is quoted; arrays have shape (ages,)."""

    ages: Floats
    """In rising order. [year]"""
    limit: Floats
    """Repair limit; NaN where the repair is refused. [money]"""
    new_price: Floats
    """Price of what is bought when the unit ends. [money]"""
    otherwise: Codes
    """Index in `VERDICTS` of the best way that is no repair."""

    def take(self, which: NDArray[np.intp]) -> Self:
        """Some of the ages."""
        return type(self)(**{item.name: getattr(self, item.name)[which] for item in fields(self)})


def by_age(template: Case, ages: Floats, own: Mapping[str, Floats] | None = None) -> LimitsByAge:
    """Weigh a case at several ages, in rising order unless inputs of its `own` go with each."""
    weighing = weigh(vary_all(template, {AGE: ages, **(own or {})}))
    prices = np.stack([_each(cost.option.asked_price, ages) for cost in weighing.options])
    followed = _each(weighing.successor, ages).astype(np.intp)
    others = [cost for cost in weighing.options if cost.action != REPAIR and not cost.blocked_by]
    totals = np.stack([_each(cost.present_cost, ages) for cost in others])
    actions = np.array([VERDICTS.index(cost.action) for cost in others], dtype=np.int8)
    return LimitsByAge(
        ages=ages,
        limit=_each(weighing.repair_limit, ages),
        new_price=np.take_along_axis(prices, followed[np.newaxis], axis=0)[0],
        otherwise=actions[np.argmin(totals, axis=0)],
    )


class Remembered:
    """`by_age` for chunk after chunk: an age that was weighed before is looked up."""

    def __init__(self) -> None:
        self._known: dict[int, tuple[Case, LimitsByAge]] = {}

    def __call__(self, template: Case, ages: Floats) -> LimitsByAge:
        """Weigh a case at those of the ages, in rising order, that are new."""
        if sum(len(known.ages) for _, known in self._known.values()) > MOST_REMEMBERED:
            self._known = {}
        known = self._known[id(template)][1] if id(template) in self._known else by_age(template, ages)
        if len(fresh := np.setdiff1d(ages, known.ages, assume_unique=True)):
            pair = known, by_age(template, fresh)
            both = {
                item.name: np.concatenate([getattr(each, item.name) for each in pair]) for item in fields(LimitsByAge)
            }
            known = LimitsByAge(**both).take(np.argsort(both["ages"], kind="stable"))
        self._known[id(template)] = template, known
        return known.take(np.searchsorted(known.ages, ages))


def weigh_jobs(
    jobs: Jobs,
    template_of: TemplateOf,
    weigh_ages: Callable[[Case, Floats], LimitsByAge] = by_age,
    edges_of: EdgesOf | None = None,
    owed_until: Callable[[str], float] | None = None,
) -> WeighedJobs:
    """Say of every job up to what quote its repair is worth it, and what to do.

    limit = (least cost of what is no repair) - (least cost of the repair without its bill)

    Parameters
    ----------
    jobs : Jobs
        Columns of shape (jobs,).
    template_of : callable
        Gives the case of a class and a fault, at any age and without a quote.
    weigh_ages : callable, optional
        `by_age`, or a `Remembered` where more jobs follow.
    edges_of : callable, optional
        Draws of what is not known; without it the case as it stands counts, and no state is told.
    owed_until : callable, optional
        Age of a class below which somebody else usually owes a repair; without it nobody does. [year]

    Returns
    -------
    WeighedJobs
        One entry a job; what cannot be weighed has its reason. [money]

    References
    ----------
    The limit is that of `weigh.weigh`; no other formula is used.

    Examples
    --------
    >>> from decide.load.jobs.book import open_book
    >>> from decide.load.jobs.cases import JobCases
    >>> from decide.load.jobs.columns import guess_mapping
    >>> from decide.load.jobs.rows import read_book
    >>> from decide.load.tables.tables import tables
    >>> book = open_book(b"Appliance,Age,Quote\\nDishwasher,3,120\\nDishwasher,15,900\\n", "invented.csv")
    >>> jobs = read_book(book, guess_mapping(book)).jobs
    >>> weighed = weigh_jobs(jobs, JobCases("US", tables()).template)
    >>> [VERDICTS[code] for code in weighed.verdict], bool(weighed.repair_limit[0] > weighed.repair_limit[1])
    (['repair', 'replace'], True)
    """
    size = len(jobs)
    limit, price = np.full(size, np.nan), np.full(size, np.nan)
    reason, otherwise = reason_of(jobs), np.zeros(size, np.int8)
    refused, stopped, edges = np.zeros(size, bool), np.zeros(size, bool), np.full((size, 4), np.nan)
    for rows, template, usual in _by_template(jobs, reason, template_of):
        ages, which = np.unique(jobs.age[rows], return_inverse=True)
        if own := _own_inputs(usual, jobs.take(rows)):
            ages, which = jobs.age[rows], np.arange(len(rows))
            found = by_age(template, ages, own)
        else:
            found = weigh_ages(template, ages)
        limit[rows], price[rows], otherwise[rows] = found.limit[which], found.new_price[which], found.otherwise[which]
        stops = {stop.action for stop in template.prohibitions}
        refused[rows], stopped[rows] = REPAIR in stops, USE in stops
        if edges_of is not None and REPAIR not in stops:
            drawn = edges_of(usual, ages)[which]
            limit[rows] += drawn[:, 0]
            edges[rows] = drawn[:, 1:]
    advantage, weighed = limit - jobs.quote, reason == REASONS.index(WEIGHED)
    cheapest = np.where(advantage >= 0, VERDICTS.index(REPAIR), otherwise)
    verdict = np.select(
        [~weighed, refused, np.isnan(jobs.quote)],
        [VERDICTS.index(NOT_WEIGHED), VERDICTS.index(REFUSED), VERDICTS.index(NO_QUOTE)],
        cheapest,
    ).astype(np.int8)
    return WeighedJobs(
        repair_limit=limit,
        advantage=advantage,
        credit=credit_of(jobs),
        quote=jobs.quote,
        new_price=price,
        verdict=verdict,
        state=np.where(weighed, state_at(-advantage, edges), 0).astype(np.int8),
        stopped=stopped,
        claimable=jobs.age < jobs.by_class(owed_until) if owed_until else np.zeros(size, bool),
        reason=reason,
    )


def credit_of(jobs: Jobs) -> Floats:
    """What comes off an accepted quote; nothing where there is no quote or no credit. [money]"""
    credit = np.nan_to_num(jobs.fee * jobs.fee_credited, nan=0.0)
    return np.where(np.isnan(jobs.quote), 0.0, credit)


def reason_of(jobs: Jobs) -> Codes:
    """Index in `REASONS` of what keeps a job from being weighed, the bounds being those of a single case."""
    quote, credit = np.nan_to_num(jobs.quote, nan=0.0), credit_of(jobs)
    faults = {
        NO_AGE: np.isnan(jobs.age),
        AGE_RANGE: ~_within(jobs.age, AGES),
        QUOTE_RANGE: ~_within(quote, _OF_QUOTE["amount"]),
        CREDIT_RANGE: ~_within(credit, _OF_QUOTE["fee_credit"]),
        CREDIT_ABOVE: quote - credit < -CENT,
    }
    return np.select(list(faults.values()), [REASONS.index(name) for name in faults], 0).astype(np.int8)


def _within(values: Floats, bounds: Bounds) -> Mask:
    return (values >= bounds.low) & (values <= bounds.high)


def _by_template(jobs: Jobs, reason: Codes, template_of: TemplateOf) -> Iterator[tuple[NDArray[np.intp], Case, Case]]:
    """Jobs whose cases differ in numbers alone, their case, and that of others like them; no case goes to `reason`."""
    price, rate = (jobs.own.get(role, np.full(len(jobs), np.nan)) for role in ("new_price", "rate"))
    levels = np.round([PRICES_TWICE * np.log2(np.maximum(price, 1.0)), RATES_EACH * rate]) + 1
    priced, rated = np.nan_to_num(levels).astype(np.int64)
    key = ((jobs.kind.astype(np.int64) * len(jobs.faults) + jobs.fault) * MOST_LEVELS + priced) * MOST_LEVELS + rated
    order = np.argsort(key, kind="stable")
    order = order[reason[order] == REASONS.index(WEIGHED)]
    groups: dict[int, tuple[Case, Case, list[NDArray[np.intp]]]] = {}
    for rows in np.split(order, np.flatnonzero(np.diff(key[order])) + 1) if len(order) else ():
        at, by_price, by_rate = rows[0], float(priced[rows[0]]), float(rated[rows[0]])
        nearest = ((PRICE, 2 ** ((by_price - 1) / PRICES_TWICE)), (RATE, (by_rate - 1) / RATES_EACH))
        own = tuple(each for each, level in zip(nearest, (by_price, by_rate), strict=True) if level)
        try:
            usual, template = (
                template_of(jobs.kinds[jobs.kind[at]], jobs.faults[jobs.fault[at]], o) for o in ((), own)
            )
        except CaseError:
            reason[rows] = REASONS.index(NO_CASE)
        else:
            groups.setdefault(id(template), (template, usual, []))[2].append(rows)
    for template, usual, parts in groups.values():
        yield np.concatenate(parts), template, usual


def _own_inputs(usual: Case, jobs: Jobs) -> dict[str, Floats]:
    """What the jobs of one group enter, by path; a use there carries to the new one, as where one case is completed."""
    own_columns = {role: values for role, values in jobs.own.items() if not np.all(np.isnan(values))}
    own = {path: own_columns[role] for role, path in (("new_price", PRICE), ("rate", RATE)) if role in own_columns}
    if own_columns.keys() & {"electricity", "new_electricity"}:
        varied = vary_all(usual, {AGE: jobs.age})
        bought = next(option.appliance for option in varied.options if option.appliance is not None)
        old, new = (_each(unit.electricity, jobs.age) for unit in (varied.appliance, bought))
        there = np.where(np.isnan(own_columns.get("electricity", np.nan)), old, own_columns.get("electricity", np.nan))
        carried = there * np.divide(new, old, out=np.ones_like(old), where=old > 0)
        entered = own_columns.get("new_electricity", np.nan)
        own |= {
            "appliance.electricity": there,
            "replace.appliance.electricity": np.where(np.isnan(entered), carried, entered),
        }
    return own


def _each(values: object, ages: Floats) -> Floats:
    """A figure of a weighing, with one entry an age."""
    return np.broadcast_to(np.asarray(values, dtype=float), ages.shape)
