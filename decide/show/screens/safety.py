"""What must be heeded: the orders that come before any money, and what to mind before work starts."""

from typing import Final

import streamlit as st

from ...load.tables import Tables
from ..words import CautionLine, Words
from .parts import say_text, show
from .pieces import listed, order, text

USE: Final = "use"


def stop_of(words: Words, reference: Tables, kind: str | None, fault: str | None) -> tuple[str, str] | None:
    """What stops the use of a unit in a few words, and what to do now: known as soon as class and fault are."""
    if not (kind and fault):
        return None
    stops = [caution for caution in reference.cautions(kind, fault, words.region) if USE in caution.stops]
    if not stops:
        return None
    label = words.fault(fault)
    of_the_fault = any(fault in caution.faults for caution in stops)
    short = words.say("verdict.stop", fault=label[:1].lower() + label[1:]) if of_the_fault else ""
    return short or words.say("verdict.stopped"), " ".join(words.heed(caution) for caution in stops)


def say_stop(verdict: str, what: str) -> None:
    """Say what stops the use, and what to do now, in a red box."""
    with st.container(key="stop"):
        show(order(verdict, what))


def say_cautions(words: Words, lines: list[CautionLine], weight: str) -> None:
    """Say the cautions of one weight: those for the home first, then those for who mends it."""
    loud = [line for line in lines if line.weight == weight]
    for whose in (True, False):
        theirs = [line for line in loud if line.for_household is whose]
        if theirs:
            say_text("name", words.say("door.for_you" if whose else "door.for_technician"))
            show(listed(f"cautions {weight}", (_caution(words, line) for line in theirs)))


def _caution(words: Words, line: CautionLine) -> str:
    return text("said", line.text) + text("small", words.say("door.who", who=line.who))
