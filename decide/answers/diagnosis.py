"""From a symptom to the whole picture before a quote, in one call; the terminal and the screens both start here."""

import datetime
import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from ..arrays import Floats
from ..diagnosis.check_order import NOT_MADE, CheckPlan, best_order, counted, expected_cost, observed, ruled_out
from ..diagnosis.expected_bill import Bill, VisitValue, visit
from ..errors import require
from ..load.tables.symptoms import NOBODY, OWNER, Symptom, Symptoms, symptoms
from ..load.tables.tables import CURRENCIES, Caution, Estimate, Tables, danger_rank, tables
from .answer import answer

NO_PRICE: Final = 1e9
"""Stands for the bill of what cannot be repaired: above every limit. [money]"""

NONE_LEFT: Final = 1e-9
"""A chance below this is none. [-]"""

GAS_ALARMS: Final = ("gas_leak", "carbon_monoxide")
"""Faults whose cautions are told for whatever burns gas, though no check finds them."""


@dataclass(frozen=True, kw_only=True)
class Diagnosis:
    """What may be behind a symptom, in which order to look, and what that may come to."""

    reference: Tables
    """The tables that it rests on."""
    kind: str
    region: str
    symptom: Symptom
    listed: Symptoms
    out: tuple[str, ...]
    """Causes ruled out."""
    own_jobs: float
    """Jobs of the shop that were counted in. [job]"""
    prior_jobs: float
    """How many of them the shares listed count as. [job]"""
    chance: Floats
    """Of each cause, in the order of the symptom. [-]"""
    plan: CheckPlan
    """The order of least cost; where the limit is known, giving up means to replace."""
    bill: Bill
    """Of the causes that can be repaired; of all, at no price, where none can."""
    no_repair: float
    """Chance that it is something that cannot be repaired. [-]"""
    rate: float
    """Billed for an hour of labour. [money/hour]"""
    usual_rate: Estimate
    fee: float
    credited: float
    age: float
    """NaN where it was not told. [year]"""
    limit: float
    """Highest bill worth paying; NaN where the age was not told. [money]"""
    visit: VisitValue | None
    """None where there is no limit above 0."""

    @property
    def made(self) -> float | None:
        """Year of manufacture by the age; None where it was not told. [year]"""
        return None if math.isnan(self.age) else datetime.date.today().year - self.age

    @property
    def currency(self) -> str:
        """The money of the region."""
        return CURRENCIES[self.region]

    @property
    def steps(self) -> list[int]:
        """The causes in the order in which they are checked, by their place in the symptom."""
        return [int(index) for index in self.plan.order if index != NOT_MADE]

    @property
    def stops_early(self) -> bool:
        """Whether replacing costs less than going on looking, with causes left."""
        return float(np.sum(self.chance[self.steps])) < 1 - 1e-9

    @property
    def expected(self) -> CheckPlan:
        """What the order takes where whatever is found is repaired. [money]"""
        fallback = self.limit if self.stops_early else math.inf
        return expected_cost(self.plan.order, self.chance, self.check_cost, self.bill.by_cause, fallback)

    @property
    def check_cost(self) -> Floats:
        """Of looking at each cause: paid time, and nothing for what an owner can look at. [money]"""
        return _check_cost(self.symptom, self.rate)


def diagnose(
    kind: str,
    symptom: str,
    *,
    place: str = "US",
    age: float | None = None,
    limit: float | None = None,
    out: tuple[str, ...] = (),
    seen: Mapping[str, float] | None = None,
    rate: float | None = None,
    fee: float | None = None,
    credited: float = 0.0,
    listed: Symptoms | None = None,
    counts: Mapping[str, Mapping[str, float]] | None = None,
    reference: Tables | None = None,
) -> Diagnosis:
    """Say what to check first for a symptom of a unit, and what it may come to.

    Parameters
    ----------
    age : float, optional
        Of the unit; with it the repair limit is worked out from the usual figures. [year]
    limit : float, optional
        Highest bill worth paying, where a case tells it already. [money]
    out : tuple of str
        Causes ruled out. [-]
    seen : mapping, optional
        How likely one sees what was seen, by cause; 1 for all others. [-]
    rate, fee : float, optional
        Billed labour, and the fee of a visit; the usual ones of the region unless given. [money/hour, money]
    credited : float
        Share of the fee that comes off an accepted bill. [-]
    listed : Symptoms, optional
        A shop's own lists. [-]
    counts : mapping, optional
        A shop's own counts: symptom, cause, jobs. [job]
    reference : Tables, optional
        Tables with a shop's own figures; the shipped ones unless given. [-]

    Raises
    ------
    CaseError
        Unknown class, symptom, place or cause; or nothing is left.

    Examples
    --------
    >>> found = diagnose("refrigerator", "warm_throughout")
    >>> [found.symptom.ids[step] for step in found.steps][:2]
    ['shut_and_set', 'fridge_coil_dirty']
    """
    table, known = reference or tables(), listed or symptoms()
    region = table.region_of(place)
    found = known.symptom(table.kind(kind).kind, symptom)
    usual = {name: table.usual(name, region) for name in ("labour_rate", "service_fee", "sales_tax", "prior_jobs")}
    paid = usual["labour_rate"].value if rate is None else rate
    asked = usual["service_fee"].value if fee is None else fee
    require("rate", paid, 0.0, 10_000.0, "")
    strength = usual["prior_jobs"].value
    chance, jobs = _chance(found, out, seen or {}, (counts or {}).get(symptom, {}), strength)
    mortal = np.array([link.cause.mend == NOBODY for link in found.links])
    no_repair = float(np.sum(chance[mortal]))
    priced = no_repair < 1 - NONE_LEFT
    left = np.where(mortal, 0.0, chance) / (1 - no_repair) if priced else chance
    bill = _bill(found, left, paid, usual["sales_tax"].value)
    low, high = (np.where(mortal, NO_PRICE, end) for end in (bill.low, bill.high))
    whole = replace(bill, chance=chance, low=low, high=high)
    worth = _limit(table, kind, place, age) if limit is None else limit
    mended = [link.cause.mend == OWNER for link in found.links]
    by_owner = [link.cause.who == OWNER for link in found.links]
    return Diagnosis(
        reference=table,
        kind=kind,
        region=region,
        symptom=found,
        listed=known,
        out=out,
        own_jobs=jobs,
        prior_jobs=strength,
        chance=chance,
        plan=_plan(found, chance, bill if math.isnan(worth) else whole, paid, worth),
        bill=bill,
        no_repair=no_repair if priced else 1.0,
        rate=paid,
        usual_rate=usual["labour_rate"],
        fee=asked,
        credited=credited,
        age=math.nan if age is None else age,
        limit=worth,
        visit=visit(whole, worth, asked, by_owner, mended, credited) if worth > 0 and priced else None,
    )


def _chance(
    symptom: Symptom, out: tuple[str, ...], seen: Mapping[str, float], counts: Mapping[str, float], strength: float
) -> tuple[Floats, float]:
    """Shares as listed, blended with own counts, then with what was seen and ruled out; and how many jobs counted."""
    own = np.array([float(counts.get(cause, 0.0)) for cause in symptom.ids])
    chance = counted(symptom.shares, own, strength)
    symptom.which(seen, "seen")
    likelihood = np.array([float(seen.get(cause, 1.0)) for cause in symptom.ids])
    return ruled_out(observed(chance, likelihood), symptom.which(out, "out")), float(own.sum())


def _bill(symptom: Symptom, chance: Floats, rate: float, tax: float) -> Bill:
    """Parts with their tax, and labour; dear parts go with long work, so the ends of both add up."""
    low, high = (
        np.array([link.cause.parts[end] * (1 + tax) + link.cause.hours[end] * rate for link in symptom.links])
        for end in (0, 1)
    )
    return Bill(chance=chance, low=low, high=high)


def _check_cost(symptom: Symptom, rate: float) -> Floats:
    return np.array([0.0 if link.cause.who == OWNER else link.cause.minutes / 60 * rate for link in symptom.links])


def _limit(table: Tables, kind: str, place: str, age: float | None) -> float:
    if age is None:
        return math.nan
    entries = {"appliance": {"class": kind, "age": age}, "household": {"place": place}}
    return answer(entries, table).weighing.repair_limit


def _plan(symptom: Symptom, chance: Floats, bill: Bill, rate: float, limit: float) -> CheckPlan:
    """The order of least cost. Replacing costs as much as a repair at its limit, so that is what giving up costs."""
    looking = _check_cost(symptom, rate)
    if math.isnan(limit):
        return best_order(chance, looking, bill.by_cause, symptom.after)
    most = max(limit, 0.0)
    return best_order(chance, looking, most - bill.gain(most), symptom.after, most)


def cautions_of(diagnosis: Diagnosis, found: str | None = None) -> list[tuple[Caution, str]]:
    """Cautions of all that may be behind it, or of what is found, each with the fault that it is bound to or ''."""
    table, links = diagnosis.reference, zip(diagnosis.symptom.links, diagnosis.chance, strict=True)
    possible = [link.cause.fault for link, p in links if (link.cause.cause == found if found else p > 0)]
    alarms = GAS_ALARMS if not found and "gas" in table.kind(diagnosis.kind).fuels else ()
    known: dict[str, tuple[Caution, str]] = {}  # by words: a row for a fault and one for all others may share them
    for fault in dict.fromkeys((*alarms, *possible)):
        for caution in table.cautions(diagnosis.kind, fault, diagnosis.region, diagnosis.made):
            if caution.weight == "first" or fault in caution.faults or not set(possible) & set(caution.not_faults):
                known.setdefault(caution.words, (caution, fault if fault in caution.faults else ""))
    return sorted(known.values(), key=lambda each: danger_rank(each[0]))
