"""The policy card in the shop: chosen, seen as a chart and a table, and taken away on one page or as rows."""

import datetime
from collections.abc import Mapping
from functools import partial
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

import streamlit as st

from ....answers.policy_card import MOST_CLASSES, Card, card_of
from ....errors import MendpointError
from ....load.jobs.export import write_table
from ....load.tables.tables import Tables
from ...pdf.policy_card import card_page
from ...text.policy_card import cells, heading, notes, prices, table_rows
from ...text.words import Words
from ..ask import choose_place, say_error
from ..pocket import say_pocket
from ..state.repository import paper_here, shop_here, taken
from ..widgets import download, say_text
from .rates import begin_rates, entered_here
from .settings import ask_paper

if TYPE_CHECKING:
    import pandas as pd


def say_card(words: Words, reference: Tables) -> None:
    """Draw the part: what is to be on the card, and the card."""
    asked, result = st.columns([4, 8], gap="medium")
    with asked:
        sold = {kind.kind: words.kind(kind.kind) for kind in reference.classes(words.region)}
        state = st.session_state
        state["policy_kinds"] = [kind for kind in state.get("policy_kinds", []) if kind in sold]
        kinds = st.multiselect(
            words.say("shop_card.classes"),
            list(sold),
            format_func=sold.__getitem__,
            key="policy_kinds",
            max_selections=MOST_CLASSES,
            placeholder=words.say("shop_card.all"),
            filter_mode="contains",
            persist_state="session",
        )
        choose_place(words, reference)
        ask_paper(words)
    with result:
        try:
            begin_rates()
            typed = entered_here(words, ("fee", "rate", "markup", "days")).values
            card = _card(kinds, reference, typed, words.currency)
        except MendpointError as error:
            say_error(words, error, "shop_card")
            return
        _say(words, card)
        say_pocket(words, reference)


def _card(kinds: list[str], reference: Tables, terms: Mapping[str, float], currency: str) -> Card:
    """The card, worked out once while nothing of it changes; with the bands of the book that is open, if worked out."""
    state = st.session_state
    found = (state.get("shop_bands") or (None, None))[1]
    bands = found.bands if found is not None and found.currency == currency else None
    asked = (state["place"], datetime.date.today(), tuple(kinds), shop_here().name.strip())
    wanted = asked, reference, terms, bands
    if state.get("policy_made") is None or state["policy_made"][0] != wanted:
        state["policy_made"] = wanted, card_of(*asked, reference, terms, bands)
    made: Card = state["policy_made"][1]
    return made


def _say(words: Words, card: Card) -> None:
    st.header(words.say("card.title"), anchor="card")
    say_text("sentence", heading(words, card))
    name, size = words.say("shop_card.file"), paper_here(words)
    with st.container(key="take_away", horizontal=True):
        pdf, csv = partial(card_page, words, card, size), partial(as_csv, words, card)
        for made, ending, mime in ((pdf, "pdf", "application/pdf"), (csv, "csv", "text/csv")):
            label, file, key = words.say(f"shop_card.{ending}"), f"{name}.{ending}", f"take_card_{ending}"
            download(label, taken(made, file), file, mime, key, first=made is pdf)
    rows = card_table(words, card)
    pinned = {words.say("card.class"): st.column_config.Column(pinned=True)}
    height = min(560, 36 * (len(rows) + 1) + 2)
    st.dataframe(rows, key="policy_table", hide_index=True, column_config=pinned, height=height)
    say_text("small", *notes(words, card))


def card_table(words: Words, card: Card) -> "pd.DataFrame":
    """The card as it is shown: limit and share of the price of new by class and age."""
    import pandas as pd

    columns = {words.say("card.class"): [words.kind(row.kind) for row in card.rows]}
    columns[words.say("card.price")] = [_cell(words, *prices(words, row)) for row in card.rows]
    written = [cells(words, card, row) for row in card.rows]
    for at, age in enumerate(card.ages):
        columns[words.quantity(age, "year")] = [_cell(words, *row[at]) for row in written]
    return pd.DataFrame(columns)


def _cell(words: Words, amount: str, beside: str) -> str:
    return words.say("shop_card.cell", limit=amount, share=beside) if amount and beside else amount or beside


def as_csv(words: Words, card: Card) -> bytes:
    """The card as rows."""
    with TemporaryDirectory() as folder:
        path = Path(folder, "card.csv")
        write_table(path, table_rows(words, card))
        return path.read_bytes()
