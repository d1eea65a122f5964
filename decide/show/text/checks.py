"""Says what to check first: rows and sentences for the screen, the terminal and paper, from one `Diagnosis`."""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np

from ...answers.diagnosis import Diagnosis, cautions_of, likely_faults
from ...answers.safety import safety
from ...diagnosis.expected_bill import VisitValue
from ...load.tables.symptoms import NOBODY, OWNER, Cause, CheckFact, Symptom
from .words import CautionLine, Words

LEAST_SHOWN: Final = 0.005
"""A share or an amount below this is nothing once it is printed."""

HALF: Final = 0.5
"""Share of the bills from which on the middle one is nothing, if so many are."""


@dataclass(frozen=True)
class CheckRow:
    """One check, all of it text."""

    cause: str
    """Its id."""
    name: str
    who: str
    share: str
    minutes: str
    cost: str
    bill: str
    look: str
    facts: tuple[str, ...]
    after: str


def check_rows(words: Words, diagnosis: Diagnosis) -> list[CheckRow]:
    """The checks, in the order in which they are made."""
    return [_row(words, diagnosis, step) for step in diagnosis.shown]


def _row(words: Words, diagnosis: Diagnosis, step: int) -> CheckRow:
    link = diagnosis.symptom.links[step]
    cause, cost = link.cause, float(diagnosis.looking.check_cost[step])
    waits = [each for each in diagnosis.symptom.links if each.cause.cause in link.after]
    names = "; ".join(cause_name(words, each.cause) for each in waits)
    return CheckRow(
        cause=cause.cause,
        name=cause_name(words, cause),
        who=words.say("checks.meter" if cause.meter and cause.who == OWNER else f"checks.{cause.who}"),
        share=words.percent(float(diagnosis.chance[step]), 0),
        minutes=words.say("checks.minutes_of", n=words.number(cause.minutes, 0)),
        cost=_amount(words, cost),
        bill=words.say("checks.cannot")
        if cause.mend == NOBODY
        else _between(words, float(diagnosis.bill.low[step]), float(diagnosis.bill.high[step])),
        look=cause.look or words.in_place(f"check.{cause.cause}.look"),
        facts=tuple(fact_text(words, fact) for fact in diagnosis.listed.facts_of(cause.cause, diagnosis.region)),
        after=words.say("checks.after", names=names) if waits else "",
    )


def cause_name(words: Words, cause: Cause) -> str:
    """Name a cause: a shop's own words go before ours."""
    return cause.name or words.in_place(f"check.{cause.cause}.name")


def symptom_name(words: Words, symptom: Symptom) -> str:
    """Name a symptom as people would."""
    return symptom.name or words.say(f"symptom.{symptom.symptom}")


def fact_text(words: Words, fact: CheckFact) -> str:
    """Say a number that decides a check, in the units of the region; of two, the first without its unit."""
    ends = {end: value for end, value in (("low", fact.low), ("high", fact.high)) if not math.isnan(value)}
    numbers = {end: words.converted(value, fact.unit)[0] for end, value in ends.items()}
    last, hours = list(ends)[-1], fact.unit == "h"
    numbers[last] = words.say("check_unit.h", n=numbers[last]) if hours else words.measured(ends[last], fact.unit)
    return words.say(f"check_fact.{fact.fact}", **numbers)


def title(words: Words, diagnosis: Diagnosis) -> str:
    """Name what this is about."""
    return words.say("checks.title", kind=words.kind(diagnosis.kind), symptom=symptom_name(words, diagnosis.symptom))


def standing(words: Words, diagnosis: Diagnosis) -> Iterator[str]:
    """Say how to go about it, and what is known so far: what is ruled out, and whether one cause is left."""
    yield words.say("checks.one_fault")
    yield words.say("checks.own_part")
    if any(link.cause.meter and link.cause.who == OWNER for link in diagnosis.symptom.links):
        yield words.in_place("checks.by_meter")
    names = {link.cause.cause: cause_name(words, link.cause) for link in diagnosis.symptom.links}
    if diagnosis.out:
        yield words.say("checks.out", names="; ".join(names[cause] for cause in diagnosis.out))
    left = [link.cause for link, chance in zip(diagnosis.symptom.links, diagnosis.chance, strict=True) if chance > 0]
    if len(left) == 1:
        yield words.say("checks.only_left", name=names[left[0].cause], fault=left[0].fault)
    if diagnosis.own_jobs:
        jobs, strength = (words.number(each, 0) for each in (diagnosis.own_jobs, diagnosis.figure("prior_jobs")))
        yield words.say("checks.own_counts", n=jobs, strength=strength)


def ending(words: Words, diagnosis: Diagnosis) -> str:
    """Say where looking ends before all is looked at; nothing where it goes on to the last."""
    if not diagnosis.stops_early:
        return ""
    return words.say("checks.stop" if diagnosis.steps else "checks.stop_now")


def found_text(words: Words, diagnosis: Diagnosis, cause: str) -> str:
    """Say what a finding amounts to: the fault to enter in a case, and what such a repair asks for."""
    at = int(np.flatnonzero(diagnosis.symptom.which((cause,), "found"))[0])
    found, bill = diagnosis.symptom.links[at].cause, diagnosis.bill
    if found.mend == NOBODY:
        return words.say("checks.found_cannot", name=cause_name(words, found), fault=found.fault)
    if float(bill.high[at]) < LEAST_SHOWN:
        return words.say("checks.found_free", name=cause_name(words, found))
    low, median, high = (_amount(words, float(each[at])) for each in (bill.low, bill.middle, bill.high))
    facts = {"low": low, "median": median, "high": high, "fault": found.fault}
    return words.say("checks.found", name=cause_name(words, found), **facts)


def bill_ends(diagnosis: Diagnosis) -> dict[str, float]:
    """The middle bill, and between what eight in ten lie. [money]"""
    return {name: float(diagnosis.bill.quantile(at)) for name, at in (("low", 0.1), ("median", 0.5), ("high", 0.9))}


def likeliest(words: Words, diagnosis: Diagnosis, most: int | None = None) -> list[tuple[str, float]]:
    """The causes that are left with their chances, likeliest first; of a few only those whose share can be printed."""
    least = 0.0 if most is None else LEAST_SHOWN
    ranked = sorted(zip(diagnosis.symptom.links, diagnosis.chance, strict=True), key=lambda each: -each[1])
    return [(cause_name(words, link.cause), float(share)) for link, share in ranked[:most] if share > least]


def money_text(words: Words, diagnosis: Diagnosis) -> Iterator[str]:
    """Say what finding and mending it may come to."""
    if diagnosis.no_repair == 1.0:
        yield words.say("checks.cannot_all")
        return
    expected = diagnosis.expected
    values = {name: _amount(words, float(getattr(expected, name))) for name in ("checking", "repairing")}
    missed = 1 - float(np.sum(diagnosis.chance[diagnosis.steps]))
    if diagnosis.stops_early and diagnosis.steps:
        yield words.say("checks.expected_stop", **values, share=words.percent(missed, 0))
    elif diagnosis.steps:
        yield words.say("checks.expected", **values)
    amounts = {name: _amount(words, amount) for name, amount in bill_ends(diagnosis).items()}
    nothing = float(diagnosis.bill.below(0.0))
    if diagnosis.no_repair > LEAST_SHOWN:
        yield words.say("checks.cannot_share", share=words.percent(diagnosis.no_repair, 0))
    if nothing >= HALF:  # only what the owner can mend asks for nothing
        yield words.say("checks.median_free", share=words.percent(nothing, 0), high=amounts["high"])
        return
    yield words.say("checks.median", **amounts)
    if nothing > LEAST_SHOWN:
        yield words.say("checks.nothing_share", share=words.percent(nothing, 0))


def visit_text(words: Words, diagnosis: Diagnosis) -> Iterator[str]:
    """Say whether a visit is worth its fee, at once and after the owner's own checks."""
    fee = words.money(diagnosis.fee)
    if math.isnan(diagnosis.limit):
        yield words.say("checks.no_limit", fee=fee)
        return
    if diagnosis.visit is None:
        if not math.isnan(diagnosis.age) and diagnosis.no_repair < 1.0:
            yield words.say("checks.no_worth", age=words.years(diagnosis.age))
        return
    if not math.isnan(diagnosis.age):
        limit = words.money(diagnosis.limit)
        yield words.say("checks.limit", age=words.years(diagnosis.age), limit=limit)
    yield from _worth_text(words, diagnosis.visit, fee)
    if diagnosis.credited:
        yield words.say("checks.credited", share=words.percent(diagnosis.credited, 0))
    yield words.say("checks.how")


def _worth_text(words: Words, visit: VisitValue, fee: str) -> Iterator[str]:
    """Say what comes first: the owner's own checks, then a visit after them, and only then one called at once."""
    own, after, worth = (float(each) for each in (visit.found_by_owner, visit.worth_after_own, visit.worth))

    def pays(amount: float, key: str, otherwise: str, **facts: str) -> str:
        gap = words.money(abs(amount))
        return words.say(f"checks.{key if amount > 0 else otherwise}", worth=gap, short=gap, fee=fee, **facts)

    if own <= LEAST_SHOWN:
        yield pays(worth, "pays", "pays_not", gain=words.money(visit.gain))
        return
    if math.isnan(after):
        yield words.say("checks.own_all")
    else:
        yield words.say("checks.own_first", share=words.percent(own, 0))
        yield pays(after, "pays_after", "pays_not_after")
    yield pays(worth, "pays_at_once", "pays_not_at_once")


def basis_text(words: Words, diagnosis: Diagnosis) -> str:
    """Say what all of it rests on."""
    usual = diagnosis.usual["labour_rate"]
    status = words.status(usual.status) if usual.value == diagnosis.rate else words.say("assumption.entered")
    return words.say("checks.basis", rate=words.money(diagnosis.rate), status=status)


def caution_list(
    words: Words, diagnosis: Diagnosis, found: str | None = None, reader: str | None = None
) -> list[CautionLine]:
    """List what to mind while somebody looks for the cause, or of what is found."""
    known = cautions_of(diagnosis, found)
    if found:
        return words.safety_lines(safety((c for c, _ in known), {fault for _, fault in known if fault}, reader))
    likely, sure = (likely_faults(diagnosis, diagnosis.figure(f"{each}_share")) for each in ("caution", "stop"))
    ifs = {caution.id: fault for caution, fault in known}
    chosen = safety(
        (c for c, _ in known), likely, reader, "look", list(sure), lambda c: len(words.caution_if(c, ifs).split())
    )
    return words.safety_lines(chosen, ifs)


def _amount(words: Words, amount: float) -> str:
    return words.money(amount) if amount >= 0.5 else words.say("checks.free")


def _between(words: Words, low: float, high: float) -> str:
    if high - low < 0.5:
        return _amount(words, high)
    return words.say("checks.between", low=_amount(words, low), high=_amount(words, high))
