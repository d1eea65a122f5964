"""Says what to check first: rows and sentences for the screen, the terminal and paper, from one `FirstLook`."""

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from ...answers.diagnosis import STRENGTH, FirstLook, cautions_of
from ...diagnosis.expected_bill import VisitValue
from ...load.tables.symptoms import NOBODY, Cause, CheckFact, Symptom
from ...load.tables.tables import Caution
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


def check_rows(words: Words, look: FirstLook) -> list[CheckRow]:
    """The checks, in the order in which they are made."""
    return [_row(words, look, step) for step in look.steps]


def _row(words: Words, look: FirstLook, step: int) -> CheckRow:
    link = look.symptom.links[step]
    cause, cost = link.cause, float(look.check_cost[step])
    waits = [each for each in look.symptom.links if each.cause.cause in link.after]
    names = "; ".join(cause_name(words, each.cause) for each in waits)
    return CheckRow(
        cause=cause.cause,
        name=cause_name(words, cause),
        who=words.say(f"checks.{cause.who}"),
        share=words.percent(float(look.chance[step]), 0),
        minutes=words.say("checks.minutes_of", n=words.number(cause.minutes, 0)),
        cost=_amount(words, look, cost),
        bill=words.say("checks.cannot")
        if cause.mend == NOBODY
        else _between(words, look, float(look.bill.low[step]), float(look.bill.high[step])),
        look=cause.look or words.in_place(f"check.{cause.cause}.look"),
        facts=tuple(fact_text(words, fact) for fact in look.listed.facts_of(cause.cause, look.region)),
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
    last = list(ends)[-1]
    numbers[last] = (
        words.measured(ends[last], fact.unit) if fact.unit != "h" else words.say("check_unit.h", n=numbers[last])
    )
    return words.say(f"check_fact.{fact.fact}", **numbers)


def title(words: Words, look: FirstLook) -> str:
    """Name what this is about."""
    return words.say("checks.title", kind=words.kind(look.kind), symptom=symptom_name(words, look.symptom))


def standing(words: Words, look: FirstLook) -> Iterator[str]:
    """Say how to go about it, and what is known so far: what is ruled out, and whether one cause is left."""
    yield words.say("checks.one_fault")
    yield words.say("checks.own_part")
    names = {link.cause.cause: cause_name(words, link.cause) for link in look.symptom.links}
    if look.out:
        yield words.say("checks.out", names="; ".join(names[cause] for cause in look.out))
    left = [link.cause for link, chance in zip(look.symptom.links, look.chance, strict=True) if chance > 0]
    if len(left) == 1:
        yield words.say("checks.only_left", name=names[left[0].cause], fault=left[0].fault)
    if look.own_jobs:
        jobs, strength = (words.number(each, 0) for each in (look.own_jobs, STRENGTH))
        yield words.say("checks.own_counts", n=jobs, strength=strength)


def ending(words: Words, look: FirstLook) -> str:
    """Say where looking ends before all is looked at; nothing where it goes on to the last."""
    if not look.stops_early:
        return ""
    return words.say("checks.stop" if look.steps else "checks.stop_now")


def found_text(words: Words, look: FirstLook, cause: str) -> str:
    """Say what a finding amounts to: the fault to enter in a case, and what such a repair asks for."""
    at = int(np.flatnonzero(look.symptom.which((cause,), "found"))[0])
    found, bill = look.symptom.links[at].cause, look.bill
    if found.mend == NOBODY:
        return words.say("checks.found_cannot", name=cause_name(words, found), fault=found.fault)
    if float(bill.high[at]) < LEAST_SHOWN:
        return words.say("checks.found_free", name=cause_name(words, found))
    low, high, mean = (_amount(words, look, float(each[at])) for each in (bill.low, bill.high, bill.by_cause))
    return words.say("checks.found", name=cause_name(words, found), fault=found.fault, low=low, high=high, mean=mean)


def money_text(words: Words, look: FirstLook) -> Iterator[str]:
    """Say what finding and mending it may come to."""
    if look.no_repair == 1.0:
        yield words.say("checks.cannot_all")
        return
    expected, bill = look.expected, look.bill
    values = {name: _amount(words, look, float(getattr(expected, name))) for name in ("checking", "repairing")}
    missed = 1 - float(np.sum(look.chance[look.steps]))
    if look.stops_early and look.steps:
        yield words.say("checks.expected_stop", **values, share=words.percent(missed, 0))
    elif look.steps:
        yield words.say("checks.expected", **values)
    ends = {name: float(bill.quantile(share)) for name, share in (("low", 0.1), ("median", 0.5), ("high", 0.9))}
    amounts = {name: _amount(words, look, amount) for name, amount in ends.items()}
    nothing = float(bill.below(0.0))
    if look.no_repair > LEAST_SHOWN:
        yield words.say("checks.cannot_share", share=words.percent(look.no_repair, 0))
    if nothing >= HALF:  # only what the owner can mend asks for nothing
        yield words.say("checks.median_free", share=words.percent(nothing, 0), high=amounts["high"])
        return
    yield words.say("checks.median", **amounts)
    if nothing > LEAST_SHOWN:
        yield words.say("checks.nothing_share", share=words.percent(nothing, 0))


def visit_text(words: Words, look: FirstLook) -> Iterator[str]:
    """Say whether a visit is worth its fee, at once and after the owner's own checks."""
    fee = words.money(look.fee, look.currency)
    if math.isnan(look.limit):
        yield words.say("checks.no_limit", fee=fee)
        return
    if look.visit is None:
        if not math.isnan(look.age) and look.no_repair < 1.0:
            yield words.say("checks.no_worth", age=words.years(look.age))
        return
    if not math.isnan(look.age):
        limit = words.money(look.limit, look.currency)
        yield words.say("checks.limit", age=words.years(look.age), limit=limit)
    yield from _worth_text(words, look, look.visit, fee)
    if look.credited:
        yield words.say("checks.credited", share=words.percent(look.credited, 0))
    yield words.say("checks.how")


def _worth_text(words: Words, look: FirstLook, visit: VisitValue, fee: str) -> Iterator[str]:
    """Say what comes first: the owner's own checks, then a visit after them, and only then one called at once."""
    own, after, worth = (float(each) for each in (visit.found_by_owner, visit.worth_after_own, visit.worth))
    apart = words.money(abs(worth), look.currency)
    if own <= LEAST_SHOWN:
        gain = words.money(float(visit.gain), look.currency)
        yield (
            words.say("checks.pays", worth=apart, gain=gain, fee=fee)
            if worth > 0
            else words.say("checks.pays_not", short=apart, gain=gain, fee=fee)
        )
        return
    if math.isnan(after):
        yield words.say("checks.own_all")
    else:
        yield words.say("checks.own_first", share=words.percent(own, 0))
        then = words.money(abs(after), look.currency)
        yield (
            words.say("checks.pays_after", worth=then, fee=fee)
            if after > 0
            else words.say("checks.pays_not_after", short=then, fee=fee)
        )
    yield (
        words.say("checks.pays_at_once", worth=apart, fee=fee)
        if worth > 0
        else words.say("checks.pays_not_at_once", short=apart, fee=fee)
    )


def basis_text(words: Words, look: FirstLook) -> str:
    """Say what all of it rests on."""
    usual = look.usual_rate.value == look.rate
    status = words.status(look.usual_rate.status) if usual else words.say("assumption.entered")
    return words.say("checks.basis", rate=words.money(look.rate, look.currency), status=status)


def heed(words: Words, look: FirstLook, found: str | None = None) -> list[CautionLine]:
    """List the cautions; the last line defers to local codes and licensed practice."""
    lines = [caution_line(words, caution, fault) for caution, fault in cautions_of(look, found)]
    return [*lines, words.last_caution()]


def caution_line(words: Words, caution: Caution, fault: str = "") -> CautionLine:
    """Say a caution; where it is bound to a fault that may be behind it, with the fault's name."""
    line = words.caution_line(caution)
    return replace(line, text=words.say("checks.heed_if", fault=words.fault(fault), text=line.text)) if fault else line


def _amount(words: Words, look: FirstLook, amount: float) -> str:
    return words.money(amount, look.currency) if amount >= 0.5 else words.say("checks.free")


def _between(words: Words, look: FirstLook, low: float, high: float) -> str:
    if high - low < 0.5:
        return _amount(words, look, high)
    return words.say("checks.between", low=_amount(words, look, low), high=_amount(words, look, high))
