"""What a kept job book says of the shop's quoting: bands of advice beside rules of thumb, past quotes, and what-ifs."""

import datetime
from collections.abc import Mapping, Sequence
from typing import Final

import streamlit as st

from ....answers.shop_bands import ShopBands, shop_bands
from ....answers.shop_groups import compared
from ....answers.shop_policy import Practice, usual_practice
from ....load.tables.tables import Tables
from ....shop.jobs import Jobs
from ....shop.quoting import TERMS
from ...text.certainty import Line
from ...text.shop import (
    acceptance_text,
    bands_text,
    compare_notes,
    group_table,
    named_text,
    past_text,
    rule_rows,
    what_if_notes,
    what_if_rows,
)
from ...text.words import Words
from ..ask import literal
from ..html import cards, rows, text
from ..widgets import choice, say_text, show, unfolding
from .book import choose_book
from .held import Held, read_once, says_coverage, worked_out
from .rates import TRIED, Entered, ask_number, ask_pair, entered_here, key_of

TOLD_AS: Final = {
    "longer": "warranty", "new_rate": "rate", "new_markup": "markup", "new_fee": "fee", "markup": "markup_now",
}  # fmt: skip
"""Names of a practice by the fields that fill them."""


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
    read = read_once(local_words, held)
    if read is None or not says_coverage(local_words, read.coverage, reference):
        return
    costs, place = ("hour_cost", "way_cost", "overhead"), held.mapping.place
    entered, usual = entered_here(local_words, (*TRIED, *costs, "markup")), usual_practice(place, reference)
    _ask_tried(local_words, entered, usual)
    if entered.errors:
        say_text("small", words.say("door.all_kept"))
        return
    stated: dict[str, float | str | None] = {TOLD_AS.get(name, name): each for name, each in entered.values.items()}
    practice = usual_practice(place, reference, way=st.session_state[key_of("new_way")], **stated)
    book, wants = (read.jobs, place, practice, reference), (held, practice, reference)
    found = worked_out(local_words, "bands", held, wants, lambda tell: shop_bands(*book, progress=tell))
    if found is not None:
        _say_bands(local_words, found)
        _say_groups(local_words, held, book)


def _ask_tried(words: Words, entered: Entered, usual: Practice) -> None:
    """What is tried, and what no book tells; beside each field what is taken where it is empty."""
    money, days = words.money, words.quantity(usual.warranty, "day")
    columns = st.columns(2, gap="medium")
    with columns[0]:
        ask_pair(words, entered, ("dearer", words.percent(usual.dearer)), ("new_rate", ""))
        ask_pair(words, entered, ("new_markup", ""), ("longer", days))
        ask_pair(words, entered, ("new_fee", ""), ("calls_lost", words.percent(usual.calls_lost)))
        ways = {way: words.say(f"quoting.way.{way.replace('-', '_')}") for way in TERMS}
        choice(words.say("shop_quotes.new_way"), ways, key_of("new_way"))
    with columns[1]:
        ask_pair(words, entered, ("cost", ""), ("attention", money(usual.attention)))
        ask_number(words, entered, "unit_margin")
        facts = {name: money(getattr(usual, name)) for name in ("hour_cost", "way_cost")}
        shares = {name: words.percent(getattr(usual, name)) for name in ("overhead", "markup_now")}
        say_text("small", words.say("shop_quotes.costs_note", **facts, **shares))
    say_text("small", words.say("shop_quotes.tried_note"))


# telling


def _say_bands(words: Words, found: ShopBands) -> None:
    with st.container(key="card_bands"):
        read, bands, spread = bands_text(words, found)
        past = [text("sentence", sentence) for sentence in past_text(words, found)]
        show(text("note", read), text("name", bands), text("note", spread), *past)
    st.subheader(words.say("bands.rules"), anchor=False)
    heads = [words.say(f"bands.{head}") for head in ("rule", "regret", "a_job")]
    table(heads, rule_rows(words, found), words.say("bands.rules"))
    st.subheader(words.say("bands.acceptance"), anchor=False)
    say_text("sentence", acceptance_text(words, found))
    st.subheader(words.say("bands.what_if"), anchor=False)
    heads = [words.say(f"bands.{head}") for head in ("jobs_won", "margin", "customers")]
    changes = what_if_rows(words, found)
    show(cards(text("name", change) + rows("facts", map(Line, heads, moved)) for change, *moved in changes))
    say_text("small", words.say("shop_quotes.changes"), *what_if_notes(words, found))


def _say_groups(words: Words, held: Held, book: tuple[Jobs, str, Practice, Tables]) -> None:
    """Who and where differs from the others on like jobs, and what changed since a day."""
    st.subheader(words.say("compare.title"), anchor=False)
    since = st.date_input(words.say("compare.day"), None, key="shop_since", persist_state="session")
    asked = (*book, since if isinstance(since, datetime.date) else None, held.mapping.callbacks)
    found = worked_out(words, "groups", held, (held, *asked[2:5]), lambda tell: compared(*asked, progress=tell))
    if found is None:
        return
    for trait in found.by:
        say_text("sentence", *named_text(words, found, trait))
        with unfolding(f"shop_by_{trait}", words.say(f"compare.by.{trait}")) as is_open:
            if is_open:
                table(*group_table(words, found, trait), words.say(f"compare.by.{trait}"))
    say_text("small", *(compare_notes(words, found) if found.by else [words.say("compare.nothing")]))


def table(heads: Sequence[str], rows: Sequence[tuple[str, ...]], alt: str) -> None:
    """A table of a few rows, every sign of which stands for itself."""
    columns: Mapping[str, list[str]] = {
        literal(head): [literal(row[at]) for row in rows] for at, head in enumerate(heads)
    }
    st.table(columns, hide_index=True, border="horizontal", alt=alt)
