"""Whose the visit is, by which it is found, its photos, and how it ended, which the shop's records count."""

from functools import partial
from typing import Any

import streamlit as st

from ....errors import ReadError
from ....load.cases.filled import LONGEST_REASON, WITH_REASON
from ....load.files.pictures import KEPT_PIXELS, PHOTO_MB, drawn_anew, photo
from ....load.store.records import EARLIEST, LATEST, LONGEST_DETAIL
from ...text.words import Words
from ..ask import say_error
from ..state.fields import ENDS
from ..state.repository import shop_here
from ..state.visits import PHOTOS, WHOSE
from ..widgets import one_of, say_text, set_fields, text_field, unfolding, upload


def ask_whose(words: Words) -> None:
    """Draw the fold with its fields."""
    with unfolding("whose", words.say("whose.title")) as is_open:
        if not is_open:
            return
        for pair in (("customer", "job_number"), ("model", "serial")):
            for name, column in zip(pair, st.columns(2, wrap=False), strict=True):
                with column:
                    _field(words, name)
        _field(words, "address")
        _field(words, "technician", shop_here().technician)
        key, order = WHOSE["follow_up"], "MM/DD/YYYY" if words.region == "US" else "DD/MM/YYYY"
        days: dict[str, Any] = {"value": None, "min_value": EARLIEST, "max_value": LATEST, "format": order}
        st.date_input(words.say("whose.follow_up"), key=key, persist_state="session", **days)
        say_text("small", words.say("whose.kept"))


def _field(words: Words, name: str, usual: str = "") -> None:
    text_field(words.say(f"whose.{name}"), WHOSE[name], usual or None, max_chars=LONGEST_DETAIL)


def ask_outcome(words: Words) -> None:
    """Draw the one choice after the answer, and a line for the reason where there is one to give."""
    outcome = st.session_state["outcome"]
    labels = {end: words.say(f"ended.{end}") for end in ENDS if end != "several_faults" or end == outcome}
    one_of(words.say("ended.title"), labels, "outcome", words.say("ended.open"), required=False)
    if outcome in (*WITH_REASON, "declined"):
        label = words.say("ended.reason" if outcome in WITH_REASON else "ended.why")
        text_field(label, "outcome_reason", None, max_chars=LONGEST_REASON)


def ask_photos(words: Words) -> None:
    """Draw the fold with a field for each photo, or the photo that is kept."""
    with unfolding("photo_fold", words.say("photos.title")) as is_open:
        if not is_open:
            return
        say_text("small", words.say("photos.kept"))
        state = st.session_state
        for name in PHOTOS:
            label, field = words.say(f"photos.{name}"), f"photo_{name}"
            if name not in state["photos"]:
                upload(label, ["jpg", "jpeg", "png"], f"{field}_{state['uploads']}", partial(_take, name), PHOTO_MB)
                if field in state["photo_errors"]:
                    say_error(words, state["photo_errors"][field], field)
                continue
            try:
                shown = drawn_anew(label, state["photos"][name], PHOTO_MB, KEPT_PIXELS, KEPT_PIXELS)
                st.image(shown, label, alt=label)
            except ReadError as error:  # of a visit that came from elsewhere
                say_error(words, error, field)
            left = {each: content for each, content in state["photos"].items() if each != name}
            st.button(words.say("photos.drop", what=label), key=f"drop_{field}", on_click=set_fields({"photos": left}))


def _take(name: str, widget: str) -> None:
    """Keep a photo that was taken or chosen, or why it cannot be kept."""
    state, field = st.session_state, f"photo_{name}"
    given, state["photo_errors"] = state[widget], {}
    if given is not None:
        try:
            state["photos"] = {**state["photos"], name: photo(given.name, given.getvalue())}
        except ReadError as error:
            state["photo_errors"] = {field: error}
