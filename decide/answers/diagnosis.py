"""From a symptom to the whole picture before a quote, in one call; the terminal and the screens both start here."""

import datetime
import functools
import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from ..arrays import Floats
from ..diagnosis.check_order import NOT_MADE, CheckPlan, counted, expected_cost, ruled_out
from ..diagnosis.evidence import AnswerRule, Looking, updated
from ..diagnosis.expected_bill import Bill, VisitValue, bill_of_causes, visit
from ..economics.case import REPAIR, REPLACE
from ..errors import CaseError, require
from ..load.tables.evidence import Asked, Evidence, Reading, SymptomQuestion, evidence, find
from ..load.tables.symptoms import NOBODY, OWNER, TROUBLE, Symptom, Symptoms, symptoms
from ..load.tables.tables import CURRENCIES, UNITS, Caution, Estimate, Tables, danger_rank, tables
from .answer import answer

NO_PRICE: Final = 1e9  # Stands for the bill of what cannot be repaired: above every limit. [money]
NONE_LEFT: Final = 1e-9  # A chance below this is none. [-]
LimitOf = Callable[[str], float]  # Highest bill worth paying, by the fault that it ends. [money]

GAS_ALARMS: Final = ("gas_leak", "carbon_monoxide")
"""Faults whose cautions are told for whatever burns gas, though no check finds them."""


@dataclass(frozen=True, kw_only=True)
class Diagnosis:
    """What may be behind a symptom, in which order to look, and what that may come to."""

    reference: Tables  # The tables that it rests on.
    kind: str
    region: str
    symptom: Symptom
    listed: Symptoms
    out: tuple[str, ...]  # Causes ruled out.
    own_jobs: float  # Jobs of the shop that were counted in. [job]
    listed_chance: Floats  # Of each cause before anything was seen, in the order of the symptom. [-]
    questions: Mapping[str, SymptomQuestion]  # All that can be asked, by key.
    tests: Mapping[str, Reading]  # All that can be measured, by key.
    answers: Mapping[str, str]  # What was answered, by question.
    readings: Mapping[str, float]  # What was measured, by reading. [unit of the reading]
    seen: tuple[list[Floats], list[Floats]]  # How likely each of them is under each cause. [-]
    rule: AnswerRule
    chance: Floats  # Of each cause after all that. [-]
    looking: Looking  # What looking costs and ends in; an owner's own time counts nothing here.
    plan: CheckPlan  # The order of least cost; where the limit is known, giving up means to replace.
    bill: Bill  # Of the causes that can be repaired; of all, at no price, where none can.
    no_repair: float  # Chance that it is something that cannot be repaired. [-]
    rate: float  # Billed for an hour of labour. [money/hour]
    usual: Mapping[str, Estimate]  # Figures that it rests on.
    fee: float
    credited: float
    age: float  # NaN where it was not told. [year]
    condition: float  # Share of the usual years left, by what was answered of the whole unit. [-]
    limit: float  # Highest bill worth paying; NaN where the age was not told. [money]
    limits: Floats  # The same with each cause, as a core part says more of a unit than a consumable one. [money]
    covered: tuple[str, ...]  # Causes whose part the maker's warranty still pays.
    visit: VisitValue | None  # None where there is no limit above 0.

    @property
    def made(self) -> float | None:
        """Year of manufacture by the age; None where it was not told. [year]"""
        return None if math.isnan(self.age) else datetime.date.today().year - self.age

    @property
    def currency(self) -> str:
        """The money of the region."""
        return CURRENCIES[self.region]

    def figure(self, name: str) -> float:
        """One of the figures that it rests on."""
        return self.usual[name].value

    @property
    def shown(self) -> list[int]:
        """The steps that are worth a line: a cause that prints as 0 % counts, and is not shown."""
        return [step for step in self.steps if self.chance[step] >= self.figure("order_share")]

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
        return expected_cost(self.plan.order, self.chance, self.looking.check_cost, self.bill.by_cause, fallback)

    @property
    def worth_claiming(self) -> list[str]:
        """Causes that are replaced as it stands, and repaired where the maker's warranty pays the part."""
        acts = self.verdicts
        return [
            link.cause.cause
            for link, chance, limit in zip(self.symptom.links, self.chance, self.limits, strict=True)
            if acts[link.cause.cause] == REPLACE and chance > NONE_LEFT and link.cause.mend != NOBODY
            if link.cause.parts[1] > 0 and sum(link.cause.hours) / 2 * self.rate <= limit
        ]

    @property
    def finding_out(self) -> float:
        """What looking first brings beyond replacing at once; NaN where the age was not told. [money]"""
        return float("nan") if math.isinf(self.looking.fallback) else self.looking.fallback - float(self.plan.cost)

    @property
    def verdicts(self) -> dict[str, str | None]:
        """What to do, by cause: repair where its usual bill is worth paying; None without an age, and for the house."""
        found: dict[str, str | None] = {}
        for link, bill, limit in zip(self.symptom.links, self.bill.by_cause, self.limits, strict=True):
            act = None if math.isnan(limit) or link.cause.of_the_house else REPAIR if bill <= max(limit, 0) else REPLACE
            found[link.cause.cause] = REPLACE if link.cause.mend == NOBODY else act
        return found


def diagnose(
    kind: str,
    symptom: str,
    *,
    place: str = "US",
    age: float | None = None,
    limit: float | None = None,
    limit_of: LimitOf | None = None,
    out: tuple[str, ...] = (),
    answers: Mapping[str, str] | None = None,
    readings: Mapping[str, float] | None = None,
    covered: tuple[str, ...] = (),
    meter: bool = False,
    rate: float | None = None,
    fee: float | None = None,
    credited: float = 0.0,
    listed: Symptoms | None = None,
    asked: Evidence | None = None,
    counts: Mapping[str, Mapping[str, float]] | None = None,
    reference: Tables | None = None,
) -> Diagnosis:
    """Say what to check first for a symptom of a unit, and what it may come to.

    Parameters
    ----------
    age : of the unit; with it the repair limit is worked out from the usual figures [year]
    limit, limit_of : highest bill worth paying where a case tells it already; the same by the fault behind it [money]
    out : causes ruled out [-]
    answers, readings : what was answered, by question, and measured, by reading [-, unit of the reading]
    covered : causes whose part the maker's warranty pays, or `sealed` alone: only the labour is billed then [-]
    meter : whether an owner asks to measure on dead circuits; never of what burns gas [-]
    rate, fee : billed labour, and the fee of a visit; the usual ones of the region unless given [money/hour, money]
    credited : share of the fee that comes off an accepted bill [-]
    listed, asked : a shop's own lists, and its own questions and readings [-]
    counts : a shop's own counts: symptom, cause, jobs [job]
    reference : tables with a shop's own figures; the shipped ones unless given [-]

    Raises `CaseError`: unknown class, symptom, place, cause, question, answer or reading; or nothing is left.

    >>> found = diagnose("refrigerator", "warm_throughout")
    >>> [found.symptom.ids[step] for step in found.steps][:2]
    ['shut_and_set', 'fridge_gasket']
    """
    table = reference or tables()
    region = table.region_of(place)
    known = listed or symptoms(region)
    found = known.symptom(table.kind(kind).kind, symptom)
    if meter and "gas" not in table.kind(kind).fuels:
        found = found.with_meter()
    names = ["labour_rate", "service_fee", "sales_tax", "prior_jobs", "answers_counted", "share_by_answers"]
    names += ["caution_share", "stop_share", "order_share", "least_worth"]
    usual = {name: table.needed(name, table.kind(kind).kind, region) for name in names}
    paid = usual["labour_rate"].value if rate is None else rate
    asked_fee = usual["service_fee"].value if fee is None else fee
    require("rate", paid, 0.0, 10_000.0, "")
    rule = AnswerRule(counted=round(usual["answers_counted"].value), most=usual["share_by_answers"].value)
    seen = asked or evidence()
    questions = {each.key: each for each in seen.questions_of(found, kind, region)}
    tests = {each.key: each for each in seen.readings_of(found, kind, region)}
    own = np.array([float((counts or {}).get(symptom, {}).get(cause, 0.0)) for cause in found.ids])
    before = ruled_out(counted(found.shares, own, usual["prior_jobs"].value), found.which(out, "out"))
    seen_rows, read_rows = (
        [asked_.under(found)[asked_.outcomes.index(outcome)] for asked_, outcome in each]
        for each in (_answered(questions, answers or {}), _measured(tests, readings or {}))
    )
    chance = updated(before, seen_rows, read_rows, rule)
    mortal = np.array([link.cause.mend == NOBODY for link in found.links])
    no_repair = float(np.sum(chance[mortal]))
    priced = no_repair < 1 - NONE_LEFT
    left = np.minimum(np.where(mortal, 0.0, chance) / (1 - no_repair), 1.0) if priced else chance
    sealed = (link.cause.cause for link in found.links if table.opens_the_circuit(link.cause.fault))
    covered = tuple(sealed) if covered == ("sealed",) else covered
    parts, hours = (np.array([getattr(link.cause, each) for link in found.links]) for each in ("parts", "hours"))
    billed = parts * ~found.which(covered, "covered")[:, None]
    bill = bill_of_causes(left, billed, hours, paid, usual["sales_tax"].value)
    low, high = (np.where(mortal, NO_PRICE, end) for end in (bill.low, bill.high))
    whole = replace(bill, chance=chance, low=low, high=high)
    condition = condition_of(answers or {}, table, place)
    if limit is None and limit_of is None and age is not None:
        usual_limit = _usual_limit if table is tables() else functools.partial(_worked_limit, table)
        limit_of = functools.partial(usual_limit, datetime.date.today(), kind, place, age, condition)
    worth, limits = _limits(table, kind, found, limit, limit_of)
    mended = [link.cause.mend == OWNER for link in found.links]
    by_owner = np.array([link.cause.who == OWNER for link in found.links])
    looking = _looking(found, bill if math.isnan(worth) else whole, paid, limits)
    return Diagnosis(
        reference=table,
        kind=kind,
        region=region,
        symptom=found,
        listed=known,
        out=out,
        own_jobs=float(own.sum()),
        listed_chance=before,
        questions=questions,
        tests=tests,
        answers=answers or {},
        readings=readings or {},
        seen=(seen_rows, read_rows),
        rule=rule,
        chance=chance,
        looking=looking,
        plan=looking.plan(chance),
        bill=bill,
        no_repair=no_repair if priced else 1.0,
        rate=paid,
        usual=usual,
        fee=asked_fee,
        credited=credited,
        age=math.nan if age is None else age,
        condition=condition,
        limit=worth,
        limits=limits,
        covered=covered,
        visit=visit(whole, limits, asked_fee, by_owner, mended, credited) if worth > 0 and priced else None,
    )


def condition_of(answers: Mapping[str, str], reference: Tables, place: str) -> float:
    """Share of its usual years that a unit has left, by the worst that was answered of the whole of it. [-]"""
    named = {f"condition_{outcome}" for outcome in answers.values()} & UNITS.keys()
    return min((reference.usual(each, place).value for each in named), default=1.0)


def _answered(questions: Mapping[str, SymptomQuestion], given: Mapping[str, str]) -> Iterator[tuple[Asked, str]]:
    """What was answered, each an answer of a question of the symptom."""
    for key, answered in given.items():
        question = find(key, tuple(questions.values()), "answer")
        if answered not in question.outcomes:
            known = ", ".join(question.outcomes)
            raise CaseError("answer", "{key} must be one of {known}, got {got!r}", key, known, answered)
        yield question, answered


def _measured(tests: Mapping[str, Reading], given: Mapping[str, float]) -> Iterator[tuple[Asked, str]]:
    """What was measured, each with what it comes to."""
    for key, value in given.items():
        reading = find(key, tuple(tests.values()), "reading")
        if not reading.least <= value <= reading.most:
            ends = (f"{each:g} {reading.unit}" for each in (reading.least, reading.most, value))
            raise CaseError("reading", "{where} must lie between {low} and {high}, got {got}", key, *ends)
        yield reading, reading.outcome(value)


def _limits(
    table: Tables, kind: str, symptom: Symptom, limit: float | None, limit_of: LimitOf | None
) -> tuple[float, Floats]:
    """The highest bill worth paying, of the unit as it stands, and with each cause; NaN where nobody knows it."""
    if limit_of is None:
        known_limit = math.nan if limit is None else limit
        return known_limit, np.full(len(symptom.links), known_limit)
    alike: dict[tuple[object, ...], float] = {}  # what a fault tells of the unit hangs on these alone
    limits = []
    mended = ("other" if link.cause.mend == NOBODY else link.cause.fault for link in symptom.links)
    for fault in ("other", *mended):  # what cannot be repaired has no limit of its own
        known = table.known_faults[fault]
        like = (known.kind, known.spoils_food, known.stops(kind))
        alike[like] = alike[like] if like in alike else limit_of(fault)
        limits.append(alike[like])
    return limits[0] if limit is None else limit, np.array(limits[1:])


def _worked_limit(
    table: Tables, today: datetime.date, kind: str, place: str, age: float, condition: float, fault: str
) -> float:
    """By the one answer, on the usual figures. [money]"""
    there, home = {"class": kind, "age": age, "fault": fault}, {"place": place, "today": today}
    entries = {"appliance": there, "household": home, "repair": {"remaining_life_factor": condition}}
    return answer(entries, table).weighing.repair_limit


@functools.lru_cache(maxsize=4096)
def _usual_limit(today: datetime.date, kind: str, place: str, age: float, condition: float, fault: str) -> float:
    return _worked_limit(tables(), today, kind, place, age, condition, fault)


def _looking(symptom: Symptom, bill: Bill, rate: float, limits: Floats) -> Looking:
    """What looking costs and ends in. Giving up means to replace: as dear as a repair at its limit."""
    minutes = np.array([link.cause.minutes for link in symptom.links])
    trouble = np.array([TROUBLE.index(each.cause.trouble) if each.cause.who == OWNER else 0 for each in symptom.links])
    paid = np.array([link.cause.who != OWNER for link in symptom.links])
    if np.isnan(limits).any():
        repair, most = bill.by_cause, math.inf
    else:
        most = max(float(np.max(limits)), 0.0)
        repair = np.maximum(most - bill.gain(limits), 0.0)
    return Looking(
        check_cost=paid * minutes / 60 * rate,
        minutes=minutes * 10.0**trouble,
        repair_cost=repair,
        after=symptom.after,
        fallback=most,
    )


def likely_faults(diagnosis: Diagnosis, least: float) -> dict[str, float]:
    """What the possible causes amount to, each fault with its share in all, above a share; likeliest first. [-]"""
    shares: dict[str, float] = {}
    for link, share in zip(diagnosis.symptom.links, diagnosis.chance, strict=True):
        shares[link.cause.fault] = shares.get(link.cause.fault, 0.0) + float(share)
    return {fault: shares[fault] for fault in sorted(shares, key=lambda each: -shares[each]) if shares[fault] > least}


def cautions_of(diagnosis: Diagnosis, found: str | None = None) -> list[tuple[Caution, str]]:
    """Cautions of what is likely, or of what is found, each with the fault that it is bound to or ''.

    Of a fault that is not likely, as long as it is in the order of checks, and of GAS_ALARMS its stops are listed.
    """
    table, shares = diagnosis.reference, likely_faults(diagnosis, diagnosis.figure("order_share"))
    links = diagnosis.symptom.links
    likely = [link.cause.fault for link in links if link.cause.cause == found]
    if not found:
        likely = [fault for fault, share in shares.items() if share > diagnosis.figure("caution_share")]
    alarms = GAS_ALARMS if not found and "gas" in table.kind(diagnosis.kind).fuels else ()
    known: dict[str, tuple[Caution, str]] = {}  # by words: a row for a fault and one for all others may share them
    for fault in dict.fromkeys((*likely, *alarms, *(() if found else (*shares, None)))):
        for caution in table.cautions(diagnosis.kind, fault, diagnosis.region, diagnosis.made):
            if fault and fault not in likely and caution.weight != "stop":
                continue
            out = set(likely) & set(caution.not_faults)
            if fault in caution.faults or not out or (caution.weight == "first" and len(out) < len(set(likely))):
                known.setdefault(caution.words, (caution, fault if fault in caution.faults else ""))
    return sorted(known.values(), key=lambda each: danger_rank(each[0]))
