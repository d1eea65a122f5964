"""What a kept job book says of the shop's quoting: bands of advice beside rules of thumb, past quotes, and what-ifs."""

from collections.abc import Mapping, Sequence

import streamlit as st

from ....answers.shop_bands import Practice, ShopBands, shop_bands, usual_practice
from ....errors import MendpointError
from ....load.tables.tables import Tables
from ...text.shop import acceptance_text, age_rows, bands_text, past_text, rule_rows, what_if_rows
from ...text.words import Words
from ..ask import literal, say_error
from ..html import LabelledRow, cards, rows, text
from ..widgets import say_text, set_fields, show
from .book import choose_book
from .held import Held, read_once, says_coverage
from .rates import TRIED, ask_pair, entered_here, key_of


def say_policy(words: Words, reference: Tables) -> None:
    """Draw the part: the book, what is tried, and what it says."""
    st.header(words.say("shop_quotes.policy"), anchor="policy")
    say_text("small", words.say("shop_quotes.policy_note"))
    held = choose_book(words)
    if held is None:
        return
    local_words = Words.for_place(held.mapping.place, words.language)
    if held.lacking:
        say_text("sentence", words.say("shop.read_first"))
        return
    if not says_coverage(local_words, read_once(held).coverage, reference):
        return
    entered = entered_here(local_words, TRIED)
    stated = {"warranty" if name == "longer" else name: value for name, value in entered.values.items()}
    practice = usual_practice(held.mapping.place, reference)
    usual = {
        "dearer": local_words.percent(practice.dearer),
        "longer": local_words.quantity(practice.warranty, "day", local_words.currency),
        "cost": local_words.percent(practice.cost),
        "attention": local_words.money(practice.attention, local_words.currency),
    }
    left, right = st.columns(2, gap="medium")
    with left:
        ask_pair(local_words, entered, ("dearer", usual["dearer"]), ("longer", usual["longer"]))
    with right:
        ask_pair(local_words, entered, ("cost", usual["cost"]), ("attention", usual["attention"]))
    say_text("small", local_words.say("shop_quotes.tried_note"))
    if entered.errors:
        say_text("small", words.say("door.all_kept"))
        return
    found = _found(local_words, held, usual_practice(held.mapping.place, reference, **stated), reference)
    if found is not None:
        _say_bands(local_words, found)


# working it out


def _found(words: Words, held: Held, practice: Practice, reference: Tables) -> ShopBands | None:
    """What the book says, kept for the session; a large book waits until it is asked for."""
    state, asked = st.session_state, (held, practice, reference)
    done = state.get(key_of("bands"))
    if done is not None and done[0] == asked:
        known: ShopBands = done[1]
        return known
    if held.is_large and state.get(key_of("asked_for")) is not held:
        wanted = set_fields({key_of("asked_for"): held})
        st.button(words.say("shop_quotes.work_out"), key="build_work_out", type="primary", on_click=wanted)
        return None
    try:
        with st.spinner(words.say("shop_quotes.working")):
            found = shop_bands(read_once(held).jobs, held.mapping.place, practice, reference)
    except MendpointError as error:
        say_error(words, error, "shop_bands")
        return None
    state[key_of("bands")] = (asked, found)
    return found


# telling


def _say_bands(words: Words, found: ShopBands) -> None:
    with st.container(key="card_bands"):
        read, bands, spread = bands_text(words, found)
        past = [text("sentence", sentence) for sentence in past_text(words, found)]
        show(text("note", read), text("name", bands), text("note", spread), *past)
    left, right = st.columns(2, gap="large")
    with left:
        _table(words, "by_age", ("age", "repair_up_to", "replace_above"), age_rows(words, found))
    with right:
        _table(words, "rules", ("rule", "regret", "a_job"), rule_rows(words, found))
    st.subheader(words.say("bands.acceptance"), anchor=False)
    say_text("sentence", acceptance_text(words, found))
    st.subheader(words.say("bands.what_if"), anchor=False)
    heads = [words.say(f"bands.{head}") for head in ("jobs_won", "margin", "customers")]
    pieces = (
        (text("name", change) + rows("facts", map(LabelledRow, heads, moved)), False)
        for change, *moved in what_if_rows(words, found)
    )
    show(cards(pieces))
    share = words.percent(found.practice.cost, 0)
    say_text("small", words.say("shop_quotes.changes", share=share))
    say_text("small", words.say("bands.callbacks_note"))
    if "labour" not in found.what_ifs:
        say_text("small", words.say("bands.no_labour"))


def _table(words: Words, title: str, heads: Sequence[str], rows: Sequence[tuple[str, ...]]) -> None:
    title_text = words.say(f"bands.{title}")
    st.subheader(title_text, anchor=False)
    table([words.say(f"bands.{head}") for head in heads], rows, title_text)


def table(heads: Sequence[str], rows: Sequence[tuple[str, ...]], alt: str) -> None:
    """A table of a few rows, every sign of which stands for itself."""
    columns: Mapping[str, list[str]] = {
        literal(head): [literal(row[at]) for row in rows] for at, head in enumerate(heads)
    }
    st.table(columns, hide_index=True, border="horizontal", alt=alt)
