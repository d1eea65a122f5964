"""What a quote is built of and what a shop tries, as typed: read, saved, and explained where it is unusable.

The shop's own rates are typed once: they go to the store as they are typed. What belongs to one job goes with the
visit at the door, so that the next customer starts without it and the last one gets it back.
"""

import json
import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Final

import streamlit as st

from ....economics.bounds import MONEY, Bounds
from ....errors import CaseError, require
from ....load.tables.typed import LONGEST, typed_number
from ....shop.quoting import HIGHEST_MARGIN, LARGEST, TERMS
from ....shop.warranty import LONGEST as LONGEST_WARRANTY
from ...text.words import Words
from ..ask import say_error
from ..state.repository import keeping, look_up
from ..widgets import say_text, text_field

SHARE: Final = "share"
AN_HOUR: Final = "money/hour"


OF_THE_JOB: Final = {
    "parts": Bounds(MONEY, 0, LARGEST),
    "hours": Bounds("hour", 0, 1_000),
    "flat": Bounds(MONEY, 0, LARGEST),
}

RATES: Final = {
    "rate": Bounds(AN_HOUR, 0, LARGEST),
    "markup": Bounds(SHARE, 0, 20),
    "trip": Bounds(MONEY, 0, LARGEST),
    "hour_cost": Bounds(AN_HOUR, 0, LARGEST),
    "way_cost": Bounds(MONEY, 0, LARGEST),
    "overhead": Bounds(SHARE, 0, 10),
    "tax": Bounds(SHARE, 0, 0.5),
    "tax_labour": Bounds(SHARE, 0, 0.5),
    "margin": Bounds(SHARE, 0, HIGHEST_MARGIN),
    "fee": Bounds(MONEY, 0, LARGEST),
    "days": Bounds("day", 0, LONGEST_WARRANTY),
}

TRIED: Final = {
    "dearer": Bounds(SHARE, -0.9, 5),
    "longer": Bounds("day", 0, LONGEST_WARRANTY),
    "cost": Bounds(SHARE, 0, 2),
    "attention": Bounds(MONEY, 0, 10_000),
    "new_rate": Bounds(AN_HOUR, 0, 10_000),
    "new_markup": Bounds(SHARE, 0, 20),
    "new_fee": Bounds(MONEY, 0, 10_000),
    "calls_lost": Bounds(SHARE, 0, 1),
    "unit_margin": Bounds(MONEY, 0, 100_000),
}
"""What is tried on a book, and what no book tells."""

NUMBERS: Final = {**OF_THE_JOB, **RATES, **TRIED}
"""What is typed in the shop; shares are typed in percent."""

CHOSEN: Final = {"pricing": ("hourly", "flat"), **dict.fromkeys(("way", "new_way"), tuple(TERMS))}
"""Choices, the usual one first; of labour, and of what becomes of the fee, also of one that is tried."""

KEPT: Final = (*RATES, *TRIED, *CHOSEN)
SETTING: Final = "rates"


@dataclass(frozen=True)
class Entered:
    """The numbers that were typed, and what of them cannot be used, both by name."""

    values: Mapping[str, float]
    errors: Mapping[str, CaseError]


def key_of(name: str) -> str:
    """Where a field of the builder stands in the session."""
    return f"build_{name}"


def begin_rates() -> None:
    """Fill the fields of a new session with what the shop typed last."""
    state = st.session_state
    if key_of("kept") in state:
        return
    usual = {**dict.fromkeys((*RATES, *TRIED), ""), **{name: choices[0] for name, choices in CHOSEN.items()}}
    # of the store, as they were typed; what stands there otherwise is said, and not taken
    kept = look_up(lambda there: checked_rates(there.settings().get(SETTING, "{}"))) or {}
    state.update({key_of(name): text for name, text in {**usual, **kept}.items()})
    state[key_of("kept")] = _as_kept()
    if key_of("visit") not in state:
        state.update({key_of(name): "" for name in OF_THE_JOB})
        state.update({key_of("visit"): state["visit"], key_of("jobs"): {}})


def forget_rates() -> None:
    """Let the next drawing fill the rates from the store again; what the session has of them was kept there."""
    st.session_state.pop(key_of("kept"), None)


def checked_rates(kept: str | bytes) -> dict[str, str]:
    """Rates as they were typed, from a setting, which may have come with an import; `CaseError` where it holds none."""
    try:
        read: Any = json.loads(kept)
    except ValueError as error:
        raise CaseError(SETTING, "is no JSON text") from error
    sound = isinstance(read, dict) and all(
        text in CHOSEN[name] if name in CHOSEN else name in KEPT and isinstance(text, str) and len(text) <= LONGEST
        for name, text in read.items()
    )
    if not sound:
        raise CaseError(SETTING, "holds what is no rate of a shop")
    return dict(read)


def keep_rates() -> None:
    """Keep the rates as they are typed now, if they changed."""
    state, now = st.session_state, _as_kept()
    if now != state[key_of("kept")] and keeping(lambda there: there.save_settings({SETTING: now})):
        state.update({key_of("kept"): now, "not_kept": None})


def _as_kept() -> str:
    typed = {name: st.session_state[key_of(name)][:LONGEST] for name in KEPT}
    return json.dumps({name: text for name, text in typed.items() if text and text != CHOSEN.get(name, ("",))[0]})


def follow_visit() -> None:
    """Put what belongs to a job away with its visit, and bring back that of the visit which is at the door now."""
    state = st.session_state
    here, before, jobs = state["visit"], state[key_of("visit")], state[key_of("jobs")]
    if here != before and before:
        jobs[before] = {name: state[key_of(name)] for name in OF_THE_JOB}
    if here != before and (before or here in jobs):  # else what stands here is only now given an id
        state.update({key_of(name): jobs.get(here, {}).get(name, "") for name in OF_THE_JOB})
    state[key_of("visit")] = here


# reading


def entered_here(words: Words, names: Iterable[str]) -> Entered:
    """Read some of the fields; an empty one enters nothing."""
    values: dict[str, float] = {}
    errors: dict[str, CaseError] = {}
    for name in names:
        text = str(st.session_state[key_of(name)]).strip()
        if text:
            try:
                values[name] = number_typed(words, name, text)
            except CaseError as error:
                errors[name] = error
    return Entered(values, errors)


def number_typed(words: Words, name: str, text: str) -> float:
    """Read one field; a share is typed in percent, with the sign or without it. `CaseError`: no number, two, or out of
    bounds.
    """
    asked, label = NUMBERS[name], label_of(words, name)
    value = typed_number(text, label, words.number_locale(asked.unit), asked.unit, words.currency)
    if asked.unit == SHARE and "%" not in unicodedata.normalize("NFKC", text):
        value /= 100
    require(label, value, asked.low, asked.high, asked.unit)
    return value


def label_of(words: Words, name: str) -> str:
    """Name a field, with its unit."""
    return words.say(f"shop_quotes.field.{name}", symbol=words.unit("money"))


# drawing


def ask_number(words: Words, entered: Entered, name: str, usual: str = "") -> None:
    """Draw a field for a number; below it what was read, what is taken where it is empty, or why it cannot be used."""
    key = key_of(name)
    with st.container():  # one piece, so that what comes and goes in it moves no field below
        text_field(label_of(words, name), key, usual or None)
        if name in entered.errors:
            say_error(words, entered.errors[name], key)
        elif name in entered.values:
            value = words.quantity(entered.values[name], NUMBERS[name].unit)
            say_text("small read", words.say("door.read_as", value=value))


def ask_pair(words: Words, entered: Entered, first: tuple[str, str], second: tuple[str, str]) -> None:
    """Draw two fields beside each other, each with what is taken where it is empty."""
    for column, (name, usual) in zip(st.columns(2, wrap=False), (first, second), strict=True):
        with column:
            ask_number(words, entered, name, usual)
