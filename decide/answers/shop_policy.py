"""What a shop's policy costs and brings: cost lines out of its own book, and fee, rate, mark-up and warranty tried.

What it earns by new units is told by `NewUnits` alone. No limit, verdict, band or change that is tried takes it in.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from ..arrays import Floats
from ..errors import require
from ..load.tables.tables import Tables
from ..shop import bands as advice
from ..shop.acceptance import Curve
from ..shop.bands import Offers, WhatIf
from ..shop.jobs import REPAIRED, REPLACED, Jobs
from ..shop.quoting import TERMS, FeeTerms, Work
from ..shop.warranty import EarlyFailure, callbacks
from ..shop.weigh_jobs import credit_of

FEE_STEP: Final = 10.0
"""What a fee is dearer by where so many fewer call, as `calls_lost` says. [money]"""


@dataclass(frozen=True, kw_only=True)
class Practice:
    """What no book tells, and is stated. All can be changed."""

    attention: float  # What it costs a customer to weigh both ways. [money]
    spread: float | None = None
    """Of customers' own limits, as a share of the price of new; none: from the ranges of what they can know. [-]"""
    cost: float | None = None  # Of a job, as a share of its quote before tax; none: by the lines below. [-]
    missing_cost: float  # The same where a book tells neither parts nor labour. [-]
    hour_cost: float  # What an hour of work costs the shop. [money/hour]
    way_cost: float  # What a visit costs it, for the van and the way. [money]
    overhead: float  # On both, as a share. [-]
    markup_now: float  # What is put on parts now, where the book does not tell their cost. [-]
    calls_lost: float  # Share of calls that stay away where the fee is dearer by `FEE_STEP`. [-]
    dearer: float  # Change of the labour rate, and of charges for parts, that is tried unless one is stated. [-]
    rate: float | None = None  # Labour rate that is tried. [money/hour]
    markup: float | None = None  # Mark-up on parts that is tried. [-]
    fee: float | None = None  # Diagnostic fee that is tried. [money]
    way: str = "charged"  # What becomes of it, a key of `TERMS`.
    warranty: float  # Length of the warranty that is tried. [day]
    unit_margin: float | None = None  # What a new unit that is sold brings. [money]

    def __post_init__(self) -> None:
        for name, bounds in BOUNDS.items():
            if (value := getattr(self, name)) is not None:
                require(name.replace("_", " "), value, *bounds)


BOUNDS: Final = {
    "attention": (0, 10_000, "money"), "unit_margin": (0, 100_000, "money"), "warranty": (0, 3_650, "day"),
    **dict.fromkeys(("way_cost", "fee"), (0, 10_000, "money")),
    **dict.fromkeys(("hour_cost", "rate"), (0, 10_000, "money/hour")),
    **dict.fromkeys(("spread", "cost", "missing_cost"), (0, 2, "")), "calls_lost": (0, 1, ""), "dearer": (-0.9, 5, ""),
    **dict.fromkeys(("markup_now", "markup"), (0, 20, "")), "overhead": (0, 10, ""),
}  # fmt: skip
"""What each may be, with its unit."""

USUAL: Final = {
    "attention": "attention_cost", "missing_cost": "job_cost_share", "hour_cost": "hour_cost", "way_cost": "visit_cost",
    "overhead": "overhead_share", "markup_now": "parts_markup", "calls_lost": "calls_lost",
    "dearer": "labour_rise_tried", "warranty": "longer_warranty_tried",
}  # fmt: skip
"""Quantities of the tables by what they stand in for."""


def usual_practice(place: str, reference: Tables, **stated: float | str | None) -> Practice:
    """What no book of a place tells, as usual but for what is stated."""
    usual = {name: reference.usual(quantity, place).value for name, quantity in USUAL.items()}
    return Practice(**usual | {name: value for name, value in stated.items() if value is not None})  # type: ignore[arg-type]


@dataclass(frozen=True, kw_only=True)
class OwnCosts:
    """What jobs cost the shop; columns of shape (jobs). [money]"""

    job: Floats
    """Beyond the visit."""
    visit: float
    known_share: float
    """Share of jobs of which the book itself tells parts and work. [-]"""
    rate: float
    """Labour rate of the book, or the usual one. [money/hour]"""
    markup: float
    """What the book puts on parts, or what is stated. [-]"""


def own_costs(jobs: Jobs, practice: Practice, place: str, reference: Tables) -> OwnCosts:
    """Work out what each job costs: its parts, its hours, and overhead; the visit apart.

    A job that tells no lines costs as large a share of its quote as the middle one of those that do.
    """
    lines = jobs.quote / (1 + reference.usual("sales_tax", place).value)
    both = (jobs.labour > 0) & (jobs.labour_hours > 0)
    usual = reference.usual("labour_rate", place).value
    rate = float(np.median(jobs.labour[both] / jobs.labour_hours[both])) if np.any(both) else usual
    known = jobs.own.get("parts_cost", np.full(len(jobs), np.nan))
    priced = (known > 0) & (jobs.parts > 0)
    markup = float(np.median(jobs.parts[priced] / known[priced])) - 1 if np.any(priced) else practice.markup_now
    parts = np.where(np.isnan(known), jobs.parts / (1 + max(markup, 0.0)), known)
    hours = np.minimum(np.where(np.isnan(jobs.labour_hours), jobs.labour / rate, jobs.labour_hours), 1_000.0)
    known_lines = np.isfinite(parts) & np.isfinite(hours) & (practice.cost is None)
    work = Work(
        parts=np.nan_to_num(parts), hours=np.nan_to_num(hours), hour_cost=practice.hour_cost, overhead=practice.overhead
    )
    shares = (work.cost / np.where(lines > 0, lines, np.nan))[known_lines]
    shares, visit = shares[np.isfinite(shares)], Work(way_cost=practice.way_cost, overhead=practice.overhead).cost
    share = float(np.median(shares)) if len(shares) else practice.cost
    share = practice.missing_cost if share is None else share
    return OwnCosts(
        job=np.where(known_lines, work.cost, share * np.nan_to_num(lines)),
        visit=float(visit) if np.any(known_lines) else 0.0,
        known_share=float(np.mean(known_lines)) if len(jobs) else 0.0,
        rate=rate,
        markup=max(markup, 0.0),
    )


def offers_of(jobs: Jobs, limit: Floats, new_price: Floats, costs: OwnCosts, place: str, reference: Tables) -> Offers:
    """The quotes of a book as both sides see them, each with its limit without the shop's own terms."""
    return Offers(
        quote=jobs.quote,
        terms=FeeTerms(at_visit=np.nan_to_num(jobs.fee), credit=credit_of(jobs)),
        limit=limit,
        new_price=new_price,
        age=jobs.age,
        kept=jobs.quote / (1 + reference.usual("sales_tax", place).value) - costs.job,
        visit_cost=costs.visit,
    )


def brought(jobs: Jobs, costs: OwnCosts, place: str, reference: Tables) -> Floats:
    """What each visit brought the shop: its fee, and what was kept of a quote that was taken; shape (jobs). [money]"""
    kept = jobs.quote / (1 + reference.usual("sales_tax", place).value) - costs.job - credit_of(jobs)
    return np.nan_to_num(jobs.fee) + np.where(jobs.decided(REPAIRED), kept, 0.0) - costs.visit


@dataclass(frozen=True)
class NewUnits:
    """What new units brought the shop, at most. It stands beside everything else, and goes into none of it."""

    replaced: int
    """Jobs that ended with a new unit, whoever sold it."""
    margin: float
    """Of each. [money]"""


def new_units(jobs: Jobs, practice: Practice) -> NewUnits | None:
    """The new units of a book; none where nobody says what one brings."""
    replaced = int(np.count_nonzero(jobs.decided(REPLACED)))
    return None if practice.unit_margin is None else NewUnits(replaced, practice.unit_margin)


def what_ifs(
    jobs: Jobs, now: Offers, costs: OwnCosts, curves: Sequence[Curve], practice: Practice, place: str, reference: Tables
) -> dict[str, WhatIf]:
    """What each change does by itself, and what is stated does together; what cannot be worked out is left out."""
    tax, fees = reference.usual("sales_tax", place).value, _fees(jobs, place, reference)
    charging, together = replace(now, terms=FeeTerms(at_visit=fees)), now
    then: dict[str, tuple[Offers, Offers]] = {}
    lines = {
        "labour": (jobs.labour, labour_factor(costs, practice)),
        "markup": (jobs.parts, (1 + markup_tried(costs, practice)) / (1 + costs.markup)),
    }
    for name, (line, factor) in lines.items():
        charged = _of_quotes(line, jobs.quote / (1 + tax))
        if charged is not None:
            then[name] = now, advice.with_dearer_line(now, charged, factor, tax)
            together = advice.with_dearer_line(together, charged, factor, tax)
    then |= {way: (charging, _under(charging, way, fees, practice)) for way in ("credited", "waived")}
    if practice.fee is not None:
        tried, together = np.full(len(jobs), practice.fee), replace(together, terms=charging.terms)
        then["fee"] = charging, _under(charging, practice.way, tried, practice)
        together = _under(together, practice.way, tried, practice)
    longer = _more_repairs(jobs, practice, place, reference), costs.job + costs.visit
    then["warranty"] = now, advice.with_warranty(now, *longer)
    then["together"] = now if practice.fee is None else charging, advice.with_warranty(together, *longer)
    return {name: advice.what_if(*pair, curves) for name, pair in then.items()}


def labour_factor(costs: OwnCosts, practice: Practice) -> float:
    """What labour is tried at, in times what it is. [-]"""
    return 1 + practice.dearer if practice.rate is None else practice.rate / costs.rate


def markup_tried(costs: OwnCosts, practice: Practice) -> float:
    """The mark-up on parts that is tried: as stated, or so much dearer parts. [-]"""
    return (1 + costs.markup) * (1 + practice.dearer) - 1 if practice.markup is None else practice.markup


def _under(now: Offers, way: str, fee: Floats, practice: Practice) -> Offers:
    """The same offers under another fee; calls go by what is asked of whoever calls."""
    terms = TERMS[way](fee)
    more = float(np.mean(terms.at_visit + terms.if_declined - now.terms.at_visit - now.terms.if_declined))
    calls = max(0.0, 1 - practice.calls_lost * more / FEE_STEP)
    return replace(advice.under_terms(now, terms), calls=calls)


def _more_repairs(jobs: Jobs, practice: Practice, place: str, reference: Tables) -> Floats:
    """How many more free repairs the longer warranty brings, by the chance of each class that a repair holds. [-]"""
    region, usual = reference.region_of(place), reference.usual("repair_success_probability", place)

    def of_class(kind: str) -> float:
        holds = (reference.figure("repair_success_probability", kind, region) or usual).value
        law = EarlyFailure(holds, reference.usual("callback_window", place).value)
        now = reference.usual("repair_warranty", place).value
        return float(callbacks(law, practice.warranty)) - float(callbacks(law, now))

    return jobs.by_class(of_class)


def _fees(jobs: Jobs, place: str, reference: Tables) -> Floats:
    """The fee of each job; where it has none the median of the book, and that of the tables where the book has none."""
    known = jobs.fee[np.isfinite(jobs.fee)]
    usual = float(np.median(known)) if len(known) else reference.usual("service_fee", place).value
    return np.where(np.isfinite(jobs.fee), jobs.fee, usual)


def _of_quotes(line: Floats, lines: Floats) -> Floats | None:
    """A line of each quote, before tax; the median share of it where a job does not tell, none where no job tells."""
    known = np.isfinite(line) & (lines > 0)
    if not np.any(known):
        return None
    usual = float(np.median(np.minimum(line[known] / lines[known], 1.0)))
    return np.where(known, line, usual * lines)
