"""What a shop's own jobs tell of each class, beside what the tables say; lives are fitted by a survival library."""

import datetime
import warnings
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from ...errors import CaseError
from ...shop.callback_jobs import NO_REPAIRS, CallbackJobs, callback_jobs
from ...shop.jobs import Jobs
from ...shop.lifetimes import OwnLife, Spells, enough, not_identified, own_life, spells
from ...shop.records import RecordFigure, RepairCosts, fault_shares, repair_costs
from ..tables.symptoms import Cause, symptoms
from ..tables.tables import UNITS, Estimate, Tables
from ..tables.usual_bills import later_bills
from .book import Progress
from .own_figures import LIFE, BookOrigin, LocalFigure


def fitted_life(watched: Spells) -> OwnLife:
    """Fit a Weibull life to left-truncated, right-censored service, by SurPyval; intervals are those of `own_life`.

    No life is told where there are too few ends, too many units lost to follow-up, or no finite interval.
    """
    return maximum_likelihood(watched) if enough(watched) else not_identified(watched)


def maximum_likelihood(watched: Spells) -> OwnLife:
    """The fit itself, however few the ends; no life where the likelihood has no maximum that can be vouched for."""
    from surpyval.univariate.parametric import Weibull  # type: ignore[attr-defined]  # here: half a second to import

    with warnings.catch_warnings():
        warnings.simplefilter("error", UserWarning)
        try:
            fit = Weibull.fit(x=watched.exit, c=(~watched.ended).astype(int), tl=watched.entry)
        except (UserWarning, ValueError):
            return not_identified(watched)
    scale, shape = (float(value) for value in fit.params)
    return own_life(watched, shape, scale)


@dataclass(frozen=True, kw_only=True)
class ClassRecords:
    """What the jobs of one class tell, and the shipped figures beside it."""

    kind: str
    region: str
    jobs: int
    life: OwnLife
    costs: RepairCosts
    share: RecordFigure
    """Median quote over the shipped price of a new unit. [-]"""
    holds: RecordFigure
    """Share of repairs that did not come back. [-]"""
    cannot_tell: str
    """Why there is no such share: a reason of `callback_jobs`; '' where there is one."""
    faults: Mapping[str, RecordFigure]
    """Share of each fault, those of the class that came at all; the most frequent first. [-]"""
    usual: Mapping[str, float]
    """The shipped shares that these are drawn to; empty where the tables have none. [-]"""
    shipped: Mapping[str, Estimate]
    """By quantity."""

    def findings(self) -> dict[str, RecordFigure]:
        """Those that can take the place of a shipped figure, the life apart."""
        return {
            "quote_share": self.share,
            "later_repair_log_sd": self.costs.spread,
            "repair_success_probability": self.holds,
        }


SHIPPED = (*LIFE, "price", "quote_share", "later_repair_log_sd", "repair_success_probability")


def callbacks_of(jobs: Jobs, region: str, reference: Tables, ruled: Mapping[str, bool] | None = None) -> CallbackJobs:
    """The callbacks of a whole book, within the longest that the tables give a bad repair to show."""
    window = reference.usual("callback_window", region)
    return callback_jobs(jobs, window.value if window.high is None else window.high, ruled)


def class_records(
    jobs: Jobs, kind: str, region: str, reference: Tables, called: CallbackJobs | None = None
) -> ClassRecords:
    """What the jobs of one class tell, out of a whole book, and of its callbacks.

    Shares of faults are drawn to the shipped ones, where there are any, and callbacks to the shipped share. Raises
    `CaseError`: the class is not known, or is not sold in the region.
    """
    if region not in reference.kind(kind).regions:
        raise CaseError("appliance.class", "{kind} has no figures for {region}", kind, region)
    mine = jobs.of_kind(kind)
    found = {name: reference.figure(name, kind, region) for name in SHIPPED}
    shipped = {name: figure for name, figure in found.items() if figure is not None}
    later, price = later_bills(kind, region, reference), shipped["price"].value
    ends = {name: getattr(later.median, name) / price for name in ("low", "value", "high")}
    shipped.setdefault("quote_share", replace(later.median, unit="share", **ends))
    shipped.setdefault("later_repair_log_sd", later.spread)
    called = called or callbacks_of(jobs, region, reference)
    of_kind = jobs.kind == (jobs.kinds.index(kind) if kind in jobs.kinds else -1)
    costs = repair_costs(mine)
    usual, strength = usual_shares(kind, region), reference.usual("prior_jobs", region).value
    shares = fault_shares(mine, tuple(fault.fault for fault in reference.faults(kind)), usual or None, strength)
    prior = shipped.get("repair_success_probability")
    holds = called.holds(of_kind, None if prior is None else prior.value, strength)
    common = sorted(shares, key=lambda fault: -shares[fault].n)
    return ClassRecords(
        kind=kind,
        region=region,
        jobs=len(mine),
        life=fitted_life(spells(mine)),
        costs=costs,
        share=costs.median.times(1 / price),
        holds=holds,
        cannot_tell=(called.reason or NO_REPAIRS) if holds.too_few else "",
        faults={fault: shares[fault] for fault in common if shares[fault].n},
        usual=usual,
        shipped=shipped,
    )


def _often(kind: str, region: str) -> list[tuple[str, Cause, float]]:
    """The shipped causes of each symptom of a class, and how often both come beside all others of the class."""
    shown = symptoms(region).of_class(kind)
    whole = sum(symptom.often for symptom in shown)
    return [(each.symptom, link.cause, link.share * each.often / whole) for each in shown for link in each.links]


def usual_shares(kind: str, region: str = "US") -> dict[str, float]:
    """Share of each fault by the shipped causes of the symptoms of a class; none where no symptom of it is listed."""
    shares: dict[str, float] = {}
    for _, cause, share in _often(kind, region):
        shares[cause.fault] = shares.get(cause.fault, 0.0) + share
    return shares


def symptom_counts(jobs: Jobs, region: str = "US") -> dict[str, dict[str, float]]:
    """How many jobs of a book each cause of each symptom accounts for, as `symptoms.read_counts` takes them.

    A book says what was wrong, not what was seen first. So the jobs of a fault are shared out among the symptoms and
    causes that it can come with, as the shipped shares have them. [jobs]
    """
    counts: dict[str, dict[str, float]] = {}
    for kind in jobs.kinds:
        of_kind = jobs.of_kind(kind)
        found = dict(zip(jobs.faults, np.bincount(of_kind.fault, minlength=len(jobs.faults)), strict=True))
        shares = usual_shares(kind, region)
        for symptom, cause, share in _often(kind, region):
            of_symptom = counts.setdefault(symptom, {})
            part = share / shares[cause.fault] * float(found.get(cause.fault, 0))
            of_symptom[cause.cause] = of_symptom.get(cause.cause, 0.0) + part
    return counts


def records_of(
    jobs: Jobs,
    region: str,
    reference: Tables,
    called: CallbackJobs | None = None,
    progress: Progress | None = None,
) -> tuple[ClassRecords, ...]:
    """What a book tells of every class that it has jobs of and that is sold in the region."""
    called = called or callbacks_of(jobs, region, reference)
    sold = {kind.kind for kind in reference.classes(region)}
    known = [kind for at, kind in enumerate(jobs.kinds) if kind in sold and np.any(jobs.kind == at)]
    found = list[ClassRecords]()
    for kind in known:
        if progress is not None:
            progress(0, len(found) / len(known))
        found.append(class_records(jobs, kind, region, reference, called))
    return tuple(found)


def book_of(jobs: Jobs, shop: str, made: datetime.date) -> BookOrigin:
    """Whose records these are, and from when to when; `CaseError` where no job of the book has a date."""
    dated = jobs.date[~np.isnat(jobs.date)]
    if not len(dated):
        raise CaseError("jobs.date", "no job of the book has a date, so that its figures could not be dated either")
    first, last = (day.astype("datetime64[D]").astype(object) for day in (dated.min(), dated.max()))
    return BookOrigin(shop=shop, since=first, until=last, made=made)


def local_figures(records: tuple[ClassRecords, ...], book: BookOrigin) -> tuple[LocalFigure, ...]:
    """Every figure that the records tell and that can take the place of a shipped one; a life as its three figures."""
    found: list[LocalFigure] = []
    for each in records:
        made = {name: figure for name, figure in each.findings().items() if not figure.too_few}
        if each.life.identified:
            life = (each.life.mean, each.life.shape, RecordFigure(0, 0.0, 0.0, 0.0))
            made = {name: replace(one, n=each.life.watched.jobs) for name, one in zip(LIFE, life, strict=True)} | made
        of_class = {"kind": each.kind, "region": each.region, **vars(book)}
        found += [LocalFigure(quantity=name, unit=UNITS[name], **of_class, **vars(one)) for name, one in made.items()]
    return tuple(found)
