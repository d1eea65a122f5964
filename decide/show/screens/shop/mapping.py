"""How a job book is read, as guessed, for the owner to put right: what is asked first, then every column and word.

Whatever is chosen counts at once and is kept with the book; there is nothing to save.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from itertools import islice
from typing import Any, Final

import streamlit as st

from ....errors import MendpointError
from ....load.jobs.columns import DATE_ROLES, MONEY_ROLES, WORD_ROLES, ColumnMapping
from ....load.jobs.numbers import MARKS
from ....load.jobs.open_words import OpenWord, ranked
from ....load.jobs.people import left_out
from ....load.jobs.words import IGNORE
from ....load.tables.dates import ORDERS
from ....load.tables.tables import tables
from ....load.tables.vocabulary import ROLES
from ....shop.jobs import DECISIONS, OUTCOMES
from ...text.jobs import undecided_text
from ...text.words import Words
from ..widgets import choice, one_of, say_text, unfolding
from .held import Held, held_here, kept, read_by

WORDS_ASKED: Final = 100
"""Words that are asked about at a time; those first that most rows hold."""

ROWS_SHOWN: Final = 3
EXAMPLES: Final = 3
"""Rows that are shown where a column is asked about, and cells that show what a column holds."""

SETTLED: Final = {"required": False, "persist_state": None}
"""How a field is drawn whose value the book itself has."""

SKIPS_ITS_ROW: Final = ("class", "decision")
"""Roles of which a word without a meaning skips its row."""


def ask_mapping(words: Words, held: Held) -> None:
    """Ask what the book does not tell, and offer the rest for correction."""
    # asked: roles that are needed and have no column, and those that the book leaves undecided
    needed = {role for role in held.mapping.missing() if role not in held.mapping.asks}
    needed |= {"year"} if "age" in needed else set()
    open_ones = {
        role
        for unclear in held.mapping.undecided
        if not set(unclear.headers) & set(held.mapping.columns.values())
        for role in unclear.roles
        if role not in held.mapping.columns
    }
    asked = [role for role in ROLES if role in needed | open_ones]
    _ask_first(words, held, asked)
    _ask_people(words, held)
    read, there = (words.number(len(each), 0) for each in (held.mapping.columns, held.book.header))
    known = words.say("shop.columns_read", read=read, of=there)
    with unfolding("shop_reading", words.say("shop.reading", known=known)) as is_open:
        if is_open:
            if held.like:
                say_text("sentence", words.say("shop.read_like", name=held.like))
            say_text("small", words.say("shop.reading_note"))
            st.session_state["shop_place"] = held.mapping.place
            places = {place: words.place(place) for place in tables().known_places}
            one_of(
                words.say("shop.place"),
                places,
                "shop_place",
                index=0,
                on_change=_take,
                args=("place", "shop_place"),
                persist_state=None,
            )
            _ask_columns(words, held, [role for role in ROLES if role not in asked])
            _ask_marks(words, held, [ask for ask in held.mapping.asks if getattr(held.mapping, ask)])
            _correct_words(words, held)


def _ask_people(words: Words, held: Held) -> None:
    """Say which columns are left out of what is kept and written, and let them in on purpose."""
    columns = left_out(held.people, held.mapping)
    if not columns:
        return
    say_text("small", words.say("shop.people", columns=", ".join(columns)))
    st.session_state["shop_keep_people"] = held.keeps_people
    st.checkbox(words.say("shop.keep_people"), key="shop_keep_people", on_change=_keep_people)


def _keep_people() -> None:
    held = held_here()
    if held is not None:
        st.session_state["shop_held"] = kept(replace(held, keeps_people=bool(st.session_state["shop_keep_people"])))


def _ask_first(words: Words, held: Held, roles: Sequence[str]) -> None:
    """What cannot be read, or not be read for certain, until the owner says."""
    mapping = held.mapping
    marks = [ask for ask in mapping.asks if not getattr(mapping, ask)]
    unknown = {role: mapping.unknown_words[role] for role in SKIPS_ITS_ROW if role in mapping.unknown_words}
    if not (roles or marks or unknown):
        return
    with st.container(key="shop_asked"):
        say_text("name", words.say("shop.asked"))
        say_text("small", words.say("shop.asked_note" if not held.lacking else "shop.asked_first"))
        for unclear in mapping.undecided:
            if set(unclear.roles) & set(roles):
                say_text("sentence", undecided_text(words, unclear))
        # the first rows as they stand, for whoever has to say which column is which
        for first in islice(held.book.chunks(ROWS_SHOWN), bool(roles)):
            st.dataframe(dict(first.columns), key="shop_first_rows", hide_index=True)
        _ask_columns(words, held, roles)
        _ask_marks(words, held, marks)
        if unknown:
            _ask_words(words, held)


# columns


def _ask_columns(words: Words, held: Held, roles: Sequence[str]) -> None:
    """A list of the book's headings for each role, with some of what stands below the one that is chosen."""
    examples = _examples(held)
    with st.container(key=f"shop_roles_{roles[0] if roles else ''}"):
        for role in roles:
            with st.container(key=f"shop_one_{role}"):
                key = f"shop_role_{role}"
                st.session_state[key] = held.mapping.columns.get(role)
                headings = {heading: heading for heading in held.book.header}
                taken = {"on_change": _take_column, "args": (role, key), **SETTLED}
                one_of(words.say(f"role.{role}"), headings, key, words.say("shop.no_column"), **taken)
                if shown := "; ".join(examples.get(held.mapping.columns.get(role, ""), ())):
                    say_text("small", words.say("shop.such_as", cells=shown))


def _take_column(role: str, key: str) -> None:
    """Take a column for a role, and for no other; a habit guessed from the column before is guessed anew."""
    heading = st.session_state[key]

    def chosen(mapping: ColumnMapping) -> ColumnMapping:
        others = {each: name for each, name in mapping.columns.items() if each != role and name != heading}
        columns = {**others, role: heading} if heading else others
        order = None if role in DATE_ROLES else mapping.date_order
        mark = None if role in MONEY_ROLES else mapping.decimal_mark
        return replace(mapping, columns=columns, date_order=order, decimal_mark=mark)

    change(chosen)


def _examples(held: Held) -> Mapping[str, tuple[str, ...]]:
    """Some different cells of each column, from the first rows."""
    first = next(held.book.chunks(200), None)
    if first is None:
        return {}
    filled = {
        name: dict.fromkeys(cell.strip() for cell in cells if cell.strip()) for name, cells in first.columns.items()
    }
    cut = {name: [cell if len(cell) <= 18 else f"{cell[:17]}…" for cell in cells] for name, cells in filled.items()}
    return {name: tuple(cells[:EXAMPLES]) for name, cells in cut.items()}


# place, days and amounts


def _ask_marks(words: Words, held: Held, asks: Iterable[str]) -> None:
    """In which order days are written, and how cents are set off, where cells hang on it."""
    choices = {"date_order": ORDERS, "decimal_mark": MARKS}
    for ask in asks:
        key, named = f"shop_{ask}", {mark: f"shop.mark.{at}" for at, mark in enumerate(MARKS)}
        named |= {order: f"job_book.{order.replace(' ', '_')}" for order in ORDERS}
        labels = {each: words.say(named[each]) for each in choices[ask]}
        st.session_state[key] = getattr(held.mapping, ask)
        choice(words.say(f"job_book.ask_{ask}"), labels, key, on_change=_take, args=(ask, key), **SETTLED)


def _take(name: str, key: str) -> None:
    value = st.session_state[key]
    change(lambda mapping: replace(mapping, **{name: value}))


# words


def meanings_of(words: Words, role: str, region: str) -> dict[str, str]:
    """What a word of a role can mean, with its name; the last is that it means nothing."""
    named: dict[str, str]
    if role == "class":
        named = {kind.kind: words.kind(kind.kind) for kind in tables().classes(region)}
    elif role == "fault":
        named = {fault: words.fault(fault) for fault in tables().known_faults}
    else:
        codes = DECISIONS if role == "decision" else OUTCOMES
        named = {code: words.say(f"shop.{role}.{code.replace(' ', '_')}") for code in codes}
    nothing = {IGNORE: words.say("shop.none_of_these" if role == "class" else "shop.says_nothing")}
    return dict(sorted(named.items(), key=lambda each: each[1])) | nothing


def _ask_words(words: Words, held: Held) -> None:
    """One table of what nobody knows yet: those first that most rows hold, each with what it may mean."""
    found = [each for each in ranked(held.mapping) if each.role in SKIPS_ITS_ROW][:WORDS_ASKED]
    named = {each.role: meanings_of(words, each.role, words.region) for each in found}
    labels = {role: words.say(f"role.{role}") for role in named}
    codes = {role: {label: code for code, label in options.items()} for role, options in named.items()}
    labels_of_all = [label for options in codes.values() for label in options]
    key = f"shop_words_asked_{st.session_state['shop_turn']}"
    suggested = [named[each.role].get(each.suggested, "") if each.suggested else "" for each in found]
    columns: dict[str, list[Any]] = {
        "word": [each.word for each in found],
        "means": suggested,
        "rows": [each.rows for each in found],
        "role": [labels[each.role] for each in found],
    }
    means = st.column_config.SelectboxColumn(words.say("shop.means"), options=labels_of_all)
    _edit(words, columns, key, means)
    st.button(
        words.say("shop.take_words"), key="shop_take_words", on_click=_answer, args=(found, suggested, codes, key)
    )


def _answer(found: list[OpenWord], suggested: list[str], codes: Mapping[str, Mapping[str, str]], key: str) -> None:
    """Take the table: what was chosen, and what was suggested and left to stand; the book is read once."""
    edited = st.session_state[key]["edited_rows"]
    chosen = [edited.get(at, {}).get("means", label) or "" for at, label in enumerate(suggested)]
    st.session_state["shop_turn"] += 1
    meanings: dict[str, dict[str, str]] = {}
    for each, label in zip(found, chosen, strict=True):
        if label in codes[each.role]:  # what belongs to another column says nothing of this one
            meanings.setdefault(each.role, {})[each.word] = codes[each.role][label]
    _say_words(meanings)


def _say_words(meanings: Mapping[str, Mapping[str, str]]) -> None:
    """Let words mean what was said of them, by role."""

    def with_words(mapping: ColumnMapping) -> ColumnMapping:
        tables = {WORD_ROLES[role]: {**getattr(mapping, WORD_ROLES[role]), **meant} for role, meant in meanings.items()}
        return replace(mapping, **tables)  # type: ignore[arg-type]

    change(with_words)


def _correct_words(words: Words, held: Held) -> None:
    """What the words of the book are taken for, to be put right; those that say nothing yet come first."""
    mapping = held.mapping
    roles = {role: words.say(f"role.{role}") for role in WORD_ROLES if role in mapping.columns}
    if not roles:
        return
    role = choice(words.say("shop.words"), roles, "shop_words", wrap=None, default=next(iter(roles)))
    if role is None:
        return
    left = dict.fromkeys(mapping.unknown_words.get(role, ()))
    known: dict[str, str | None] = {**left, **getattr(mapping, WORD_ROLES[role])}
    means, key = meanings_of(words, role, words.region), f"shop_words_{role}_{st.session_state['shop_turn']}"
    means |= {each: words.kind(each) for each in known.values() if each and each not in means and role == "class"}
    column = st.column_config.SelectboxColumn(
        words.say("shop.means"), options=list(means), format_func=lambda each: means[str(each)]
    )
    how = {"placeholder": words.say("shop.not_said"), "height": min(380, 38 * len(known) + 40)}
    columns: dict[str, list[Any]] = {"word": list(known), "means": list(known.values())}
    _edit(words, columns, key, column, on_change=_take_words, args=(role, tuple(known), key), **how)


def _edit(words: Words, columns: Mapping[str, list[Any]], key: str, means: Any, **how: Any) -> None:
    """A table of words, of which nothing but what they mean can be chosen."""
    import pandas as pd

    heads = {"word": "shop.word", "role": "shop.column", "rows": "shop.rows"}
    fixed = {
        name: st.column_config.Column(words.say(heads[name]), disabled=True) for name in columns if name != "means"
    }
    config = {**fixed, "means": means}
    st.data_editor(pd.DataFrame(columns), key=key, hide_index=True, num_rows="fixed", column_config=config, **how)


def _take_words(role: str, listed: tuple[str, ...], key: str) -> None:
    edited = st.session_state[key]["edited_rows"]
    meant = {listed[int(at)]: cells.get("means") or IGNORE for at, cells in edited.items()}
    st.session_state["shop_turn"] += 1
    _say_words({role: meant})


def change(chosen: Callable[[ColumnMapping], ColumnMapping]) -> None:
    """Read the open book in another way from now on; what stands in the way is kept to be said."""
    state, held = st.session_state, held_here()
    if held is None:
        return
    try:
        state.update({"shop_held": read_by(held, chosen(held.mapping)), "shop_refused": None})
    except MendpointError as error:
        state["shop_refused"] = error
