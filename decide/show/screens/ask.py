"""What the page at the door asks, in the order in which a technician learns it. It draws fields; it reads nothing."""

import datetime
import functools
import re
from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from typing import Any, Final

import streamlit as st

from ...answers.answer import Answer
from ...errors import MendpointError
from ...load.tables.symptoms import symptoms
from ...load.tables.tables import GROUPS, ApplianceClass, Estimate, Tables, tables
from ..text.freshness import old_price, other_money
from ..text.words import Words
from .html import error as error_piece
from .safety import USE, say_stop
from .state.entry import Question, entry_at
from .state.fields import BUILT, TYPED, unit_of
from .state.repository import visits_tell
from .widgets import choice, one_of, say_text, show, text_field

SOUND: Final = 1.0
"""Years left of a unit as good as any of its age, against such a unit. [-]"""

FAR: Final = 5.0
"""A price so many times above the usual one, or below it, is asked about. A judgement. [-]"""


NAMED_BY_LABEL: Final = frozenset({
    "year", "hour", "litre", "door", "setting", "cycle", "cycle/year", "cycle/week", "therm/year", "hour/year",
    "gal/cycle", "litre/cycle", "person",
})  # fmt: skip
"""Units that the label of a field names already."""


def ask(
    words: Words, reference: Tables, question: Question, stop: tuple[str, str] | None, answer: Answer | None
) -> None:
    """Draw the fields that nearly everybody fills; what stops the use stands where the fault was chosen.

    Once kind and fault are chosen they fold into one line, so that the answer stands right below age and quote.
    """
    state = st.session_state
    chosen = bool(state["kind"] and state["fault"])
    label = words.say("door.what", kind=words.kind(state["kind"]), fault=words.fault(state["fault"])) if chosen else ""
    with st.expander(literal(label), key="what") if chosen else st.container():
        choose_kind(words, reference.classes(words.region))
        if state["kind"]:
            choose_fault(words, state["kind"])
    if stop is not None:
        say_stop(*stop)
    age, quote = st.columns(2, wrap=False)
    with age:
        number(words, question, "age", words.say("door.age"), words.say("door.age_example"))
    with quote:
        number(words, question, "quote", in_money(words, "door.quote"), words.say("door.quote_example"))
    with st.container():
        if isinstance(entry_at(question.entries, TYPED["quote"]), dict) and not state["quote"]:
            built = answer is not None and any(state[key] for key in BUILT)
            total = words.money(answer.weighing.quoted, cents=True) if answer and built else ""
            say_text("small", words.say("door.read_as", value=total) if total else words.say("door.quote_kept"))
        if answer is not None and answer.unusual:
            say_text("finding", words.unusual(answer))


def choose_kind(words: Words, sold: Sequence[ApplianceClass]) -> None:
    """Draw the groups, and the kinds of the one that is chosen; those used lately come first."""
    lately = [*visits_tell()[1], *(kind.kind for kind in sorted(sold, key=lambda kind: GROUPS.index(kind.group)))]
    ordered = sorted(sold, key=lambda kind: lately.index(kind.kind))
    groups = {kind.group: words.say(f"group.{kind.group}") for kind in ordered}
    choice(words.say("door.appliance"), groups, "group")
    group = st.session_state["group"]
    if group:
        labels = {kind.kind: words.kind(kind.kind) for kind in ordered if kind.group == group}
        choice(words.say("door.kind"), labels, "kind")


def choose_fault(words: Words, kind: str, key: str = "fault") -> None:
    """Draw the faults that a kind can have; as `second_fault`, those that the first one is not."""
    known, first = _ranked_faults(kind, words.region), key == "fault"
    labels = {fault: words.fault(fault) for fault in known if first or fault != st.session_state["fault"]}
    one_of(words.say(f"door.{key}"), labels, key, words.say(f"door.{key}_wanted"), required=first)


@functools.cache
def _ranked_faults(kind: str, region: str) -> list[str]:
    """Faults that a kind can have, the commonest first by the shares of its symptoms and dangers last."""
    often, reference = defaultdict[str, float](float), tables()
    for symptom in symptoms(region).of_class(kind):
        for link in symptom.links:
            often[link.cause.fault] += link.share

    def rank(fault: str) -> tuple[bool, float]:
        return any(USE in each.prohibits for each in reference.cautions(kind, fault, region)), -often[fault]

    return sorted((each.fault for each in reference.faults(kind)), key=rank)


def remaining_life_factors(reference: Tables, place: str) -> dict[str, float]:
    """Years left against a sound unit of the same age, by what a technician sees. [-]"""
    return {"usual": SOUND} | {how: reference.usual(f"condition_{how}", place).value for how in ("worn", "poor")}


def choose_remaining_life_factor(words: Words, reference: Tables, question: Question) -> None:
    """Three shares by name, and whatever else an opened case has."""
    entered = entry_at(question.entries, "repair.remaining_life_factor")
    factors = remaining_life_factors(reference, words.region)
    named = {share: words.say(f"remaining_life_factor.{name}") for name, share in factors.items()}
    shares = sorted({*named, *([entered] if isinstance(entered, int | float) else [])}, reverse=True)
    others = {share: words.say("remaining_life_factor.other", share=words.percent(share)) for share in shares}
    choice(words.say("door.remaining_life_factor"), {**others, **named}, "remaining_life_factor")
    share = st.session_state["remaining_life_factor"]
    sentence = words.say(f"remaining_life_factor.{'usual' if share == 1 else 'less'}_says", share=words.percent(share))
    judged = words.say("remaining_life_factor.judged") if share in named and share != 1 else ""
    say_text("small", f"{sentence} {judged}".rstrip())


def ask_earlier_repairs(words: Words, question: Question) -> None:
    """Draw the one question about its past that everybody can answer."""
    number(words, question, "earlier_repairs", words.say("door.earlier_repairs"), words.say("door.earlier_example"))


def choose_place(words: Words, reference: Tables) -> None:
    """Draw the places that the tables know."""
    places = {place: words.place(place) for place in reference.known_places}
    one_of(words.say("door.place"), places, "place", index=0)
    if other_money(words):
        say_text("small", other_money(words))


def ask_price(words: Words, reference: Tables, question: Question) -> None:
    """Draw the field for the price of a new one; one far from the usual is asked about, and so is an old usual one."""
    kind = reference.kind(st.session_state["kind"])
    installed = words.region in kind.sold_installed
    label = "price_installed" if installed else "price" if words.region == "US" else "price_with_tax"
    known = reference.installed_price if installed else functools.partial(reference.figure, "price")
    figure = known(kind.kind, words.region)
    from_table(words, question, "price", in_money(words, f"door.{label}"), figure)
    read = entry_at(question.entries, TYPED["price"])
    if read is None and figure is not None:
        asked = old_price(words, "old_in_shop", figure.price_year, datetime.date.today().year)
        say_text("small", *filter(None, [asked]))
    if figure is None or not isinstance(read, float):
        return
    if not figure.value / FAR <= read <= figure.value * FAR:
        say_text("finding", words.say("door.far_price", usual=usual_of(words, figure.value, figure.unit)))


# the kinds of fields


def number(words: Words, question: Question, key: str, label: str, example: str = "") -> None:
    """Draw a field for a number as people type it; what was read of it, or why nothing was, stands below."""
    with st.container():  # one piece, so that what comes and goes in it moves no field below
        text_field(label, key, example)
        say_errors(words, question, key)
        read = entry_at(question.entries, TYPED[key])
        unit = unit_of(TYPED[key])
        typed = str(st.session_state[key] or "").strip()
        plain = typed.isdecimal() and read == float(typed)
        if unit and typed and not plain and isinstance(read, float) and not question.errors_at(key):
            value = words.quantity(read, unit, TYPED[key])
            say_text("small read", words.say("door.read_as", value=value))


def numbers(words: Words, question: Question, labels: Mapping[str, str]) -> None:
    """Draw fields for numbers side by side, each with its label."""
    for column, (key, label) in zip(st.columns(len(labels), wrap=False), labels.items(), strict=True):
        with column:
            number(words, question, key, label)


def from_table(words: Words, question: Question, key: str, label: str, figure: Estimate | None) -> None:
    """Draw a field whose empty state means a figure of the tables: the figure stands in it and below."""
    if figure is None:
        number(words, question, key, label)
        return
    value = usual_of(words, figure.value, figure.unit, TYPED[key])
    with st.container():
        number(words, question, key, label, value)
        if not st.session_state[key]:
            say_text("small", words.say("door.left_empty", value=value))


def usual_of(words: Words, value: float, unit: str, path: str = "") -> str:
    """A usual value as people say it, to two digits; a price in whole units of money, as it stands on a card."""
    if unit == words.currency:
        return words.money(value)
    here = words.local(unit.replace(words.currency, "money"), path)
    return words.quantity(here.filed(float(f"{here.shown(value):.2g}")), unit, path)


def still_needed(words: Words, question: Question, table: str, named: Callable[[str], str]) -> None:
    """Say which fields a part still needs before it counts."""
    lacking = question.missing.get(table, ())
    if lacking:
        say_text("small", words.say("door.still", what=", ".join(named(key) for key in lacking)))


def say_worked_out(words: Words, answer: Answer | None, path: str) -> None:
    """Say what a label, a meter or a tariff comes to, and between what it may lie."""
    if answer is None or path not in {each.field for each in answer.derived}:
        return
    line = next(line for line in words.assumptions(answer) if line.path == path)
    text = words.say("use.worked_out_range" if line.range else "use.worked_out", value=line.value, range=line.range)
    say_text("worked_out", text)
    say_text("small", line.note or line.source)


def say_errors(words: Words, question: Question, key: str) -> None:
    """Say below a field what of it cannot be used."""
    errors = question.errors_at(key)
    if errors:
        show(error_piece(key, (line for each in errors for line in words.explain(each))))


def say_error(words: Words, error: MendpointError, place: str) -> None:
    """Say what cannot be used, at a place of the page that can be led to."""
    show(error_piece(place, words.explain(error)))


# words of a field


def in_money(words: Words, key: str) -> str:
    """A label with the sign of the money."""
    return words.say(key, symbol=words.unit("money"))


def labelled(words: Words, key: str) -> str:
    """The label of the input that a field fills, with its unit."""
    path, unit = TYPED[key], unit_of(TYPED[key])
    label = words.label(path)
    shown = "" if unit in NAMED_BY_LABEL else words.unit(unit, path)
    return words.say("door.per", label=label, unit=shown) if shown else label


_MARKS: Final = str.maketrans({mark: f"\\{mark}" for mark in "\\`*_{}[]()<>#+-.!$|~:^"})


_ADDRESS: Final = re.compile(r"(?<=://)|(?<=www)(?=\.)|(?=@)", re.IGNORECASE)
"""Where an address shows itself; a page makes a link of one whatever marks stand before its signs."""


def literal(text: str) -> str:
    """Text whose every mark stands for itself, and no address in it is a link: a joiner that is not seen parts it."""
    return _ADDRESS.sub("\u2060", text).translate(_MARKS)


def fields_wanted(words: Words, fields: Mapping[str, Any]) -> list[str]:
    """Name the fields without which there is no answer."""
    return [words.say(f"wanted.{name}") for name in ("kind", "age", "fault") if not fields.get(name)]
