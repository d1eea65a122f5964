"""Says what is asked and measured, what to do next, and what to do by cause; a shop's own words go before ours."""

import math
from collections.abc import Iterator
from typing import Final

from ...answers.diagnosis import Diagnosis, likely_faults
from ...answers.next_step import QUESTION, READING, Step, why_none
from ...economics.case import REPAIR, REPLACE
from ...errors import CaseError
from ...load.tables.evidence import Reading, SymptomQuestion
from ...load.tables.symptoms import NOBODY, OWNER
from ...load.tables.typed import NoNumber, typed_number
from ...load.tables.usual_bills import OTHER, usual_quote
from .checks import bill_ends, cause_name
from .local_units import READINGS, LocalUnit
from .words import Words

MOST_NAMED: Final = 3
"""Causes of one advice that are named; the others are counted."""


class _Degrees:
    """Temperatures in a text, `{C[-12]}`, and differences, `{K[15]}`, in the degrees of the region."""

    def __init__(self, words: Words, unit: str) -> None:
        self.words, self.unit = words, unit

    def __getitem__(self, value: str) -> str:
        shown, name = self.words.converted(float(value), self.unit)
        return f"{shown} {'°C' if name in 'CK' else '°F'}"


def _in_degrees(words: Words, key: str) -> str:
    return words.in_place(key, C=_Degrees(words, "C"), K=_Degrees(words, "K"))


def question_text(words: Words, question: SymptomQuestion) -> str:
    """Ask a question."""
    return question.name or _in_degrees(words, f"evidence_question.{question.key}")


def answer_text(words: Words, answer: str) -> str:
    """Say an answer; a shop's own stands as it is."""
    return _in_degrees(words, f"evidence_answer.{answer}") if answer in words.text["evidence_answer"] else answer


def reading_name(words: Words, reading: Reading) -> str:
    """Name what is measured."""
    return reading.name or _in_degrees(words, f"reading.{reading.key}.name")


def reading_point(words: Words, reading: Reading) -> str:
    """Say where it is measured, and when."""
    return reading.point or _in_degrees(words, f"reading.{reading.key}.point")


def in_unit(words: Words, value: float, unit: str) -> str:
    """Write a reading in the units of the region."""
    local = _local(words, unit)
    shown = local.shown(value)
    return words.say(
        f"reading_unit.{local.name}", n=words.number(shown, 0 if local.name != unit or abs(shown) >= 100 else 2)
    )


def unit_text(words: Words, unit: str) -> str:
    """Name the unit in which a reading is entered."""
    return words.say(f"reading_unit.{_local(words, unit).name}", n="").strip()


def _local(words: Words, unit: str) -> LocalUnit:
    return READINGS.get(unit, LocalUnit(unit)) if words.region == "US" else LocalUnit(unit)


def value_of(words: Words, reading: Reading, typed: str) -> float:
    """Read a value as it was typed: in the unit of the table, or in that of the region where its sign is there.

    Raises `CaseError`: it is no number, or it lies outside what such a reading can be.
    """
    value = _value_of(words, reading, typed.strip())
    if not reading.least <= value <= reading.most:
        ends = (in_unit(words, each, reading.unit) for each in (reading.least, reading.most, value))
        name = reading_name(words, reading)
        raise CaseError("reading", "{where} must lie between {low} and {high}, got {got}", name, *ends)
    return value


def _value_of(words: Words, reading: Reading, text: str) -> float:
    local = READINGS.get(reading.unit, LocalUnit(""))
    for sign in filter(None, (words.text["reading_unit"].get(local.name, "").replace("{n}", "").strip(), local.name)):
        if text.endswith(sign):
            return local.filed(_number(words, reading.key, text[: -len(sign)]))
    sign = words.text["reading_unit"].get(reading.unit, "").replace("{n}", "").strip()
    return _number(words, reading.key, text.removesuffix(sign).removesuffix(reading.unit))


def value_beside(words: Words, reading: Reading, typed: str) -> float:
    """Read a value typed beside the unit of `unit_text`: a bare number is in that unit."""
    bare = typed.strip()[-1:].isdigit()
    return value_of(words, reading, f"{typed} {unit_text(words, reading.unit)}" if bare else typed)


def _number(words: Words, key: str, text: str) -> float:
    try:
        return typed_number(text, "reading", words.number_locale(""))
    except NoNumber as error:
        raise CaseError("reading", "{where} must be a number, got {got!r}", key, text.strip()) from error


def range_text(words: Words, reading: Reading) -> str:
    """Say what a sound one reads."""
    ends = (reading.low, reading.high)  # an open end has no words
    low, high = (in_unit(words, end, reading.unit) if math.isfinite(end) else "" for end in ends)
    if math.isinf(reading.low):
        return words.say("evidence.at_most", high=high)
    key = "evidence.at_least" if math.isinf(reading.high) else "checks.between"
    return words.say(key, low=low, high=high)


def how_text(words: Words, reading: Reading) -> str:
    """Say with what it is measured, and what is to be off before."""
    shipped = reading.instrument in words.text["instrument"]  # else a shop's own words
    instrument = words.say(f"instrument.{reading.instrument}") if shipped else reading.instrument
    facts = {"range": range_text(words, reading), "status": words.status(reading.basis.status)}
    circuit = "own_dead" if reading.circuit == "dead" and reading.who == OWNER else reading.circuit
    sentences = [words.say("evidence.how", instrument=instrument, **facts)]
    if circuit != "none":
        sentences.append(words.say(f"evidence.{circuit}"))
    return " ".join(sentences)


def step_text(words: Words, diagnosis: Diagnosis, step: Step | None) -> str:
    """Say what to do next, and what it is worth; or why there is nothing."""
    if step is None:
        return words.say(f"evidence.none_next.{why_none(diagnosis, None)}")
    if step.kind == QUESTION:
        what = words.say("evidence.ask", what=question_text(words, diagnosis.questions[step.key]))
    elif step.kind == READING:
        what = words.say("evidence.measure", what=reading_name(words, diagnosis.tests[step.key]))
    else:
        cause = next(link.cause for link in diagnosis.symptom.links if link.cause.cause == step.key)
        what = words.say("evidence.look", what=cause_name(words, cause))
    if math.isnan(step.worth) or step.worth < 0.5:
        return what
    return " ".join([what, words.say("evidence.worth", worth=words.money(step.worth))])


def seen_rows(words: Words, diagnosis: Diagnosis) -> list[tuple[str, str]]:
    """What was answered and measured, with what a reading comes to."""
    rows = [
        (question_text(words, diagnosis.questions[key]), answer_text(words, answer))
        for key, answer in diagnosis.answers.items()
    ]
    for key, value in diagnosis.readings.items():
        reading = diagnosis.tests[key]
        rows.append((reading_name(words, reading), measured_text(words, reading, value)))
    return rows


def measured_text(words: Words, reading: Reading, value: float) -> str:
    """Say what was measured, and what it comes to."""
    outcome = words.say(f"evidence.{reading.outcome(value)}", range=range_text(words, reading))
    return f"{in_unit(words, value, reading.unit)}: {outcome}"


def verdict_text(words: Words, diagnosis: Diagnosis) -> Iterator[str]:
    """Say what to do by cause, the likeliest of each named, and what finding out first is worth."""
    if math.isnan(diagnosis.limit):
        return
    ranked = sorted(zip(diagnosis.symptom.links, diagnosis.chance, strict=True), key=lambda each: -each[1])
    verdicts = diagnosis.verdicts
    for act in (REPAIR, REPLACE):
        named = [link.cause for link, chance in ranked if chance >= 0.005 and verdicts[link.cause.cause] == act]
        if named:
            key = f"evidence.if_{act}" if len(named) <= MOST_NAMED else f"evidence.if_{act}_more"
            names = "; ".join(cause_name(words, cause) for cause in named[:MOST_NAMED])
            yield words.say(key, names=names, more=words.number(max(len(named) - MOST_NAMED, 0), 0))
    house = [link.cause.cause for link, chance in ranked if chance >= 0.005 and link.cause.of_the_house]
    notes = {"house": house, "covered": diagnosis.covered, "ask_warranty": diagnosis.worth_claiming}
    for key, causes in notes.items():
        if causes:
            names = "; ".join(cause_name(words, link.cause) for link, _ in ranked if link.cause.cause in causes)
            yield words.say(f"evidence.{key}", names=names)
    if diagnosis.condition < 1:
        yield words.say("evidence.condition", share=words.percent(diagnosis.condition, 0))
    if diagnosis.finding_out >= 0.5:
        yield words.say("evidence.find_out", worth=words.money(diagnosis.finding_out))


def bill_text(words: Words, diagnosis: Diagnosis) -> Iterator[str]:
    """Say what the bill is likely to be, where any of it can be repaired, and what the likeliest is quoted at."""
    if diagnosis.no_repair < 1:
        ends = {name: words.money(end) for name, end in bill_ends(diagnosis).items()}
        yield words.say("evidence.bill", **ends)
    asked = {link.cause.fault for link in diagnosis.symptom.links if link.cause.mend not in (OWNER, NOBODY)} - {OTHER}
    fault = next((each for each in likely_faults(diagnosis, 0.0) if each in asked), "")
    quote = usual_quote(diagnosis.kind, fault, diagnosis.region, diagnosis.reference) if fault else None
    if quote is not None:
        low, high = (words.money(end) for end in (quote.low, quote.high))
        yield words.say("evidence.quote", fault=words.fault(fault), low=low, high=high)


def rule_text(words: Words, diagnosis: Diagnosis) -> str:
    """Say how far answers are trusted."""
    rule = diagnosis.rule
    return words.say("evidence.rule", n=words.number(rule.counted, 0), share=words.percent(rule.most, 0))
