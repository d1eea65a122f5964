"""A shop's own mix of jobs: the bands of advice that serve its customers best, beside rules of thumb, and what-ifs."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache
from itertools import count
from typing import Final

import numpy as np

from ..arrays import Floats
from ..economics.case import Case
from ..economics.decision import decide
from ..errors import CaseError, NoSolution
from ..load.cases.case_file import complete
from ..load.cases.ranges import ranges_of
from ..load.jobs.book import Progress
from ..load.jobs.cases import JobCases, entries_of
from ..load.tables.draws import points, sureness
from ..load.tables.tables import CURRENCIES, Tables
from ..shop import bands as advice
from ..shop.acceptance import Answers, Curve, Fit, answers_of, fitted
from ..shop.bands import Bands, Regrets, WhatIf
from ..shop.jobs import DECLINED, LEFT, REPAIRED, REPLACED, Jobs
from ..shop.losses import Losses, losses_of
from ..shop.weigh_jobs import weigh_jobs
from .shop_policy import NewUnits, OwnCosts, Practice, new_units, offers_of, own_costs, what_ifs
from .shop_quote import judged_curves

SPREAD_AGE: Final = 8.0
"""Age at which that spread is taken. [year]"""

HALF: Final = 0.5

NOBODY_KNOWS: Final = frozenset({
    "mean_life", "life_shape", "failure_free_years", "maintenance_and_repair", "later_repair_median",
    "later_repair_log_sd", "efficiency_degradation_rate", "efficiency_degradation_cap", "repair_success_probability",
    "callback_window", "electricity_escalation", "gas_escalation", "water_escalation", "price_escalation", "inflation",
})  # fmt: skip
"""Figures that a customer knows no better than the shop, so that they set no customer's limit apart; our judgement."""


@dataclass(frozen=True)
class Rule:
    """What a shop goes by, and what all customers together can be expected to regret by it."""

    name: str
    regret: float
    """[money]"""
    figure: float = float("nan")


@dataclass(frozen=True, kw_only=True)
class ShopBands:
    """What a book says of a shop's advice. Amounts are in its money."""

    currency: str
    rows: int
    """Jobs that could be read."""
    jobs: int
    """Those of them with a quote, an age and a limit."""
    score: Floats
    """Quote over repair limit; shape (jobs). [-]"""
    bands: Bands
    spread: float
    """Mean spread of customers' limits, as a share of the price of new. [-]"""
    rules: tuple[Rule, ...]
    past: Losses
    answers: Answers
    curves: tuple[Curve, ...]
    fit: Fit | None
    """None: too few answers, and the curves are judged."""
    why_judged: str
    what_ifs: Mapping[str, WhatIf]
    """By `labour`, `markup`, `credited`, `waived`, `fee`, `warranty` and `together`; what cannot be worked out, or is
    not stated, is left out. Those of the fee are told against the same fee charged to everyone."""
    costs: OwnCosts
    new_units: NewUnits | None
    practice: Practice
    warranty_now: float
    """[day]"""


def shop_bands(
    jobs: Jobs, place: str, practice: Practice, reference: Tables, progress: Progress | None = None
) -> ShopBands:
    """Find the bands of a book and what they are worth; `progress` is told before each case.

    Raises `CaseError`: no job of the book has both a quote and a limit; or a stated figure out of bounds.
    """
    cases, done, stated = JobCases(place, reference), count(), practice.spread
    groups = len(np.unique(jobs.kind.astype(int) * len(jobs.faults) + jobs.fault))

    def edges(template: Case, ages: Floats) -> Floats:
        if progress is not None:
            progress(0, min(1.0, next(done) / groups))
        return cases.edges(template, ages)

    weighed = weigh_jobs(jobs, cases.template, edges_of=edges)
    known = np.isfinite(weighed.repair_limit) & np.isfinite(jobs.quote) & np.isfinite(jobs.age)
    if not np.any(known):
        raise CaseError("quote", "is not known, with a limit, for any job of the book")
    used, price = jobs.take(known), weighed.new_price[known]
    limit = weighed.repair_limit[known]
    share = used.by_class(limit_spreads(place, reference) if stated is None else lambda _: stated)
    regrets = advice.regrets_of(used.quote, limit, share * price, practice.attention)
    score = advice.share_of_limit(used.quote, limit)
    bands = advice.best_bands(score, regrets)
    costs = own_costs(used, practice, place, reference)
    offers = offers_of(used, limit, price, costs, place, reference)
    answers, region = answers_of(used, offers.excess), reference.region_of(place)
    fit, why = None, ""
    try:
        curve, fit = fitted(answers)
        curves: tuple[Curve, ...] = (curve,)
    except NoSolution as too_few:
        curves, why = judged_curves(reference), str(too_few)
    return ShopBands(
        currency=CURRENCIES[region],
        rows=len(jobs),
        jobs=len(used),
        score=score,
        bands=bands,
        spread=float(np.mean(share)),
        rules=(
            Rule(name="best", regret=regrets.least),
            Rule(name="limit_bands", regret=bands.regret(score, regrets)),
            Rule(name="limit_alone", regret=advice.repair_where(used.quote <= limit, regrets)),
            *_thumbs(used, price, regrets, place, reference),
        ),
        past=customers_losses(used, limit, share * price, reference, place),
        answers=answers,
        curves=curves,
        fit=fit,
        why_judged=why,
        what_ifs=what_ifs(used, offers, costs, curves, practice, place, reference),
        costs=costs,
        new_units=new_units(jobs, practice),
        practice=practice,
        warranty_now=reference.usual("repair_warranty", place).value,
    )


def customers_losses(jobs: Jobs, limit: Floats, spread: Floats, reference: Tables, place: str) -> Losses:
    """What customers lost by quotes, each with its limit and the spread of customers' own; shape (jobs). [money]"""
    factor = reference.usual("limit_spread_factor", place)
    doubt = (factor.low or factor.value, factor.high or factor.value)
    accepted, declined = jobs.decided(REPAIRED), jobs.decided(REPLACED, LEFT, DECLINED)
    return losses_of(jobs.quote, limit, spread, doubt, accepted, declined)


def limit_spreads(place: str, reference: Tables) -> Callable[[str], float]:
    """The spread of customers' own limits by class, as a share of the price of new; each is worked out once."""
    return cache(lambda kind: _spread(kind, place, reference))


def _spread(kind: str, place: str, reference: Tables) -> float:
    """The spread of the limit over the ranges of what a customer can know, as a share of the price of new."""
    filled = complete(entries_of(place, kind, "other", SPREAD_AGE), reference)
    own = [
        each for each in ranges_of(filled) if not any(path.rpartition(".")[2] in NOBODY_KNOWS for path in each.paths)
    ]
    found = decide(filled.case, own, points(len(own)), sureness(reference, place))
    price = next(float(option.asked_price) for option in filled.case.options if option.appliance is not None)
    return float(np.std(found.limits + found.doubt)) / price


def _thumbs(jobs: Jobs, price: Floats, regrets: Regrets, place: str, reference: Tables) -> tuple[Rule, ...]:
    """The usual rules of thumb on the same rows; the last with the ceiling that serves these best."""
    region = reference.region_of(place)
    lives = jobs.by_class(lambda kind: getattr(reference.figure("mean_life", kind, region), "value", np.nan))
    product = jobs.age * jobs.quote
    cut = advice.best_cut(product, regrets)
    return (
        Rule("half", advice.repair_where(advice.below_share(jobs.quote, price, HALF), regrets)),
        Rule(
            "half_until",
            advice.repair_where(advice.below_share(jobs.quote, price, HALF, jobs.age / lives, HALF), regrets),
        ),
        Rule("age_times_quote", cut.regret(product, regrets), cut.lower),
    )
