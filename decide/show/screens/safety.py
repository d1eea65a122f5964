"""Safety: the orders that come before any money, and what to mind now, while working and afterwards."""

from collections.abc import Iterable, Iterator
from itertools import groupby
from typing import Final

import streamlit as st

from ...load.tables.symptoms import Symptom
from ...load.tables.tables import Tables
from ..text.checks import symptom_name
from ..text.words import CautionLine, Words
from .html import listed, order, text
from .widgets import show, unfolding

USE: Final = "use"


def stop_of(words: Words, reference: Tables, kind: str | None, fault: str | None) -> tuple[str, str] | None:
    """What stops the use of a unit in a few words, and what to do now: known as soon as class and fault are."""
    if not (kind and fault):
        return None
    stops = [caution for caution in reference.cautions(kind, fault, words.region) if USE in caution.prohibits]
    if not stops:
        return None
    label = words.fault(fault)
    short = words.say("verdict.stop", fault=label[:1].lower() + label[1:])
    return short, " ".join(words.caution_text(caution) for caution in stops)


def danger_symptoms(words: Words, reference: Tables, kind: str, listed: Iterable[Symptom]) -> dict[str, str]:
    """Complaints in the very words of a danger, by that danger: a page offers such a pair once."""
    named = {words.fault(each.fault): each.fault for each in reference.faults(kind)}
    found = {named.get(symptom_name(words, each), ""): each.symptom for each in listed}
    return {fault: symptom for fault, symptom in found.items() if stop_of(words, reference, kind, fault)}


def say_stop(verdict: str, what: str) -> None:
    """Say what stops the use, and what to do now, in a red box."""
    with st.container(key="stop"):
        show(order(verdict, what))


def say_cautions(words: Words, lines: list[CautionLine]) -> None:
    """Say what to do now, while working and afterwards, each list under its name; what is not open is a tap away."""
    hidden = [line for line in lines if not line.is_open]
    *urgent, last = (line for line in lines if line.is_open)
    show(*_lists(words, urgent, with_who=False), text("small", last.text))
    if hidden:
        with unfolding("notes", words.say("door.notes", count=words.number(len(hidden), 0))) as is_open:
            if is_open:
                show(*_lists(words, hidden, with_who=True))


def _lists(words: Words, lines: list[CautionLine], with_who: bool) -> Iterator[str]:
    for head, members in words.caution_lists(lines):
        if head:
            yield text("name", head)
        for weight, alike in groupby(members, key=lambda line: line.weight):
            yield listed(f"cautions {weight}", (_caution(words, line, with_who) for line in alike))


def _caution(words: Words, line: CautionLine, with_who: bool) -> str:
    who = text("small", words.say("door.who", who=line.who)) if with_who else ""
    return text("sentence", line.text) + who
