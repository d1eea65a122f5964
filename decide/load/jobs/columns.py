"""Which column of a job book is which, and what the shop's own words mean: guessed from the book, fixed by the owner.

Only what has one meaning is guessed. A column that two roles could claim, two columns for one role, a word for two
classes, days that may be read in two orders and amounts that may be read in two sizes are all left open, and reported.

    [columns]               # by role; then the shop's words: [classes], [faults], [decisions], [outcomes]
    quote = "Preis brutto"
"""

from collections import Counter
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, Final

from ...errors import CaseError, Message, ReadError
from ...shop.jobs import DECISIONS, OUTCOMES
from ..files.plain_file import content_of
from ..files.toml_text import toml_of
from ..tables.dates import ORDERS, TIME_OF_DAY, order_of
from ..tables.tables import tables
from ..tables.vocabulary import ROLES, likely, meanings, plain, vocabulary
from .book import JobBook
from .chunks import TextChunk, short
from .numbers import MARKS, marks_found
from .words import IGNORE, fault_of, kind_of, means_nothing, suggestion

NEEDED: Final = ("class", "quote")
MONEY_ROLES: Final = ("parts", "labour", "trip", "fee", "tax", "quote", "new_price", "parts_cost")
DATE_ROLES: Final = ("date", "known_since", "outcome_date")
WORD_ROLES: Final = {"class": "classes", "decision": "decisions", "outcome": "outcomes", "fault": "faults"}
"""Roles whose cells are words, with the name of their table in a mapping."""

LOOKED_AT: Final = 1_000_000
"""Rows read for a guess, at most; a guess that has settled everything reads less."""
LOOKED_AT_LEAST: Final = 20_000
MOST_WORDS: Final = 2_000
"""Different words of a column that are looked up; a column with more holds sentences, not words."""
MOST_SUGGESTED: Final = 300
"""Open words for which a meaning is looked for; the most frequent ones."""
LARGEST_MAPPING: Final = 1_000_000
"""[byte]"""


@dataclass(frozen=True)
class Undecided:
    """A column that could play several roles, or several columns that could play one."""

    headers: tuple[str, ...]
    roles: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class ColumnMapping:
    """What a job book's columns and words mean. The owner changes it with `dataclasses.replace`, or in its file."""

    place: str = "US"
    """Region, state or country that the book is of."""
    columns: Mapping[str, str] = field(default_factory=dict)
    """Heading by role; the roles are `ROLES`."""
    classes: Mapping[str, str] = field(default_factory=dict)
    """Id of a class by the shop's own word."""
    faults: Mapping[str, str] = field(default_factory=dict)
    decisions: Mapping[str, str] = field(default_factory=dict)
    outcomes: Mapping[str, str] = field(default_factory=dict)
    date_order: str | None = None
    """`day first` or `month first`; None where it is not known, or never matters."""
    decimal_mark: str | None = None
    """`.` or `,`; None likewise."""
    undecided: tuple[Undecided, ...] = ()
    """What was found in the book and could not be decided. This and what follows is no part of the file."""
    unknown_words: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    """By role, the words of the book that mean nothing yet, or two things; the most frequent first."""
    rows_of: Mapping[tuple[str, str], int] = field(default_factory=dict)
    """How many of the rows looked at hang on each of them, by role and word."""
    suggested: Mapping[tuple[str, str], str] = field(default_factory=dict)
    """What some of them may be meant for."""
    callbacks: Mapping[str, bool] = field(default_factory=dict)
    """By line and day of a later job, whether it is a callback, over the rule of `callback_jobs`; part of the file."""
    asks: tuple[str, ...] = ()
    """`date_order`, `decimal_mark`: whether cells of the book hang on them."""

    def missing(self) -> tuple[str, ...]:
        """What is still to be told before the book can be read whole: roles, or `age` where neither age nor year is."""
        roles = [role for role in NEEDED if role not in self.columns]
        if {"parts", "labour"} <= set(self.columns):  # they add up to it
            roles = [role for role in roles if role != "quote"]
        if "age" not in self.columns and "year" not in self.columns:
            roles.append("age")
        if "year" in self.columns and "age" not in self.columns and "date" not in self.columns:
            roles.append("date")
        known = {"date_order": self.date_order, "decimal_mark": self.decimal_mark}
        return (*roles, *(ask for ask in self.asks if known[ask] is None))


# Guessing


def guess_mapping(book: JobBook, place: str = "US") -> ColumnMapping:
    """Guess what a book's columns and words mean, for a place; what is not certain is left open."""
    columns, undecided = _columns_of(book.header)
    found = looked_over(book, ColumnMapping(place=place, columns=columns, undecided=undecided))
    if "outcome" in columns and "decision" not in columns:  # its cells say which it is
        other = dict(columns)
        other["decision"] = other.pop("outcome")
        swapped = looked_over(book, replace(found, columns=other, outcomes={}))
        if len(swapped.decisions) > len(found.outcomes):
            return swapped
    return found


def looked_over(book: JobBook, mapping: ColumnMapping) -> ColumnMapping:
    """Look a book over by a mapping: what it leaves open is guessed where that is certain, and told where it is not.

    `ReadError`: the mapping names a column that the book has not.
    """
    region = tables().region_of(mapping.place)
    for role, name in mapping.columns.items():
        if name not in book.header:
            raise ReadError(book.name, "has no column {name!r}, which the mapping takes for {role}", short(name), role)
    evidence = _Evidence(mapping)
    for chunk in book.chunks():
        evidence.add(chunk)
        evident = {"date_order": evidence.orders, "decimal_mark": evidence.marks}
        settled = all(evident[ask] for ask in evidence.asks)  # nothing that comes could be of help
        if evidence.rows >= LOOKED_AT or (settled and evidence.rows >= LOOKED_AT_LEAST):
            break
    return _with_words(evidence.completed(mapping), evidence.words, region)


def _columns_of(header: tuple[str, ...]) -> tuple[dict[str, str], tuple[Undecided, ...]]:
    """Roles by heading: a heading that is a role's very word outdoes one that only contains it."""
    words = vocabulary()["column"]
    exact = {name: words.get(plain(_bare(name)), frozenset()) for name in header}
    columns: dict[str, str] = {}
    undecided: list[Undecided] = []
    taken: set[str] = set()
    for certain in (True, False):
        open_roles = [role for role in ROLES if role not in columns]
        if certain:
            claims = exact
        else:
            free = [name for name in header if name not in taken and not exact[name]]
            claims = {name: meanings(_bare(name), words, open_roles) for name in free}
            slips = {name: likely(_bare(name), words, open_roles) for name, roles in claims.items() if not roles}
            claims |= {name: frozenset((meant,)) for name, meant in slips.items() if meant}
        several = {name: roles for name, roles in claims.items() if len(roles) > 1}
        sole = [roles for roles in claims.values() if len(roles) == 1]
        for name, roles in several.items():
            left = tuple(role for role in ROLES if role in roles and role in open_roles and {role} not in sole)
            if len(left) == 1:
                columns[left[0]] = name
            else:
                undecided += [Undecided((name,), tuple(role for role in ROLES if role in roles))] if left else []
            taken.add(name)
        for role in open_roles:
            names = tuple(name for name, roles in claims.items() if roles == {role})
            if len(names) == 1 and role not in columns:
                columns[role] = names[0]
            elif len(names) > 1:
                undecided.append(Undecided(names, (role,)))
            taken |= set(names)
    return columns, tuple(undecided)


def _bare(heading: str) -> str:
    """A heading without a unit in brackets, or a sign of money."""
    return heading.partition("(")[0].partition("[")[0].strip(" $\u20ac\u00a3:") or heading


class _Evidence:
    """What a book's cells tell of its habits, gathered chunk by chunk."""

    def __init__(self, guess: ColumnMapping) -> None:
        self.columns = guess.columns
        self.rows = 0
        self.orders: set[str] = set()
        self.marks: set[str] = set()
        self.asks: set[str] = set()
        self.words: dict[str, Counter[tuple[str, str]]] = {
            role: Counter() for role in WORD_ROLES if role in self.columns
        }
        """Words of each role, each with the appliance that its row names."""

    def add(self, chunk: TextChunk) -> None:
        self.rows += len(chunk)
        for role in DATE_ROLES:
            if role in self.columns:
                days = chunk.columns[self.columns[role]].str.strip().str.replace(TIME_OF_DAY, "", regex=True)
                order, asked = order_of(days.unique())
                self.orders |= {order} if order else set()
                self.asks |= {"date_order"} if asked else set()
        for role in MONEY_ROLES:
            if role in self.columns:
                marks, asked = marks_found(chunk.columns[self.columns[role]])
                self.marks |= marks
                self.asks |= {"decimal_mark"} if asked else set()
        for role, seen in self.words.items():
            if len(seen) <= MOST_WORDS:
                words = chunk.columns[self.columns[role]].str.strip()
                about = words.where(words == "", "")
                if role == "fault" and "class" in self.columns:
                    about = chunk.columns[self.columns["class"]].str.strip()
                pairs = Counter(zip(words.tolist(), about.tolist(), strict=True))
                seen.update({pair: n for pair, n in pairs.items() if pair[0]})

    def completed(self, guess: ColumnMapping) -> ColumnMapping:
        return replace(
            guess,
            date_order=guess.date_order or (next(iter(self.orders)) if len(self.orders) == 1 else None),
            decimal_mark=guess.decimal_mark or (next(iter(self.marks)) if len(self.marks) == 1 else None),
            asks=tuple(sorted(self.asks)),
        )


def _with_words(guess: ColumnMapping, words: Mapping[str, Counter[tuple[str, str]]], region: str) -> ColumnMapping:
    """Note what each word of the book means where it has one meaning, and which words are left; what is said stays."""
    here = {known.kind for known in tables().classes(region)}
    within = {"class": here, "fault": tables().known_faults, "decision": DECISIONS, "outcome": OUTCOMES}
    own_classes = {plain(word): means for word, means in guess.classes.items()}
    found: dict[str, Any] = {}
    rows_of: dict[tuple[str, str], int] = {}
    for role, counts in words.items():
        meant = dict(getattr(guess, WORD_ROLES[role]))
        known = {plain(word) for word in meant}
        asked: dict[str, str] = {}  # once, however it is written
        for (word, about), n in counts.most_common():
            if plain(word) in known or means_nothing(word):
                continue
            if role == "fault":  # by what the class can have, row by row
                kind = kind_of(about, own_classes, here)[0]
                if kind and fault_of(word, kind) is None:
                    word = asked.setdefault(plain(word), word)
                    rows_of[role, word] = rows_of.get((role, word), 0) + n
                continue
            exact = vocabulary()[role].get(plain(word), frozenset()) & frozenset(within[role])
            means = kind_of(word, {}, here)[0] if role == "class" else next(iter(exact), "") if len(exact) == 1 else ""
            if means:
                meant[word] = means
            else:
                word = asked.setdefault(plain(word), word)
                rows_of[role, word] = rows_of.get((role, word), 0) + n
        found[WORD_ROLES[role]] = meant
    ranked = sorted(rows_of, key=lambda each: -rows_of[each])[:MOST_WORDS]
    unknown = {role: tuple(word for of, word in ranked if of == role) for role in words}
    likely_ones = {(role, word): suggestion(role, word, within[role]) for role, word in ranked[:MOST_SUGGESTED]}
    return replace(
        guess,
        unknown_words={role: those for role, those in unknown.items() if those},
        rows_of=rows_of,
        suggested={each: means for each, means in likely_ones.items() if means is not None},
        **found,
    )


# The mapping's file


def write_mapping(mapping: ColumnMapping) -> str:
    """Write a mapping as the text of a TOML file; `parse_mapping` of it gives the same one."""
    import tomlkit

    head = {"place": mapping.place, "date_order": mapping.date_order, "decimal_mark": mapping.decimal_mark}
    content: dict[str, Any] = {key: value for key, value in head.items() if value is not None}
    for name in ("columns", *WORD_ROLES.values(), "callbacks"):
        if getattr(mapping, name):
            content[name] = dict(getattr(mapping, name))
    return tomlkit.dumps(content)


def read_mapping(path: Path) -> ColumnMapping:
    """Read a mapping from its file."""
    too_large = Message("is larger than {most:,} bytes; a mapping is a page of text", LARGEST_MAPPING)
    return parse_mapping(content_of(path, LARGEST_MAPPING, too_large), path.name)


def parse_mapping(content: bytes | str, name: str = "mapping") -> ColumnMapping:
    """Read a mapping from the text of its file; `ReadError` names what it does not know."""
    read = toml_of(content, name)
    allowed: dict[str, Collection[str]] = {
        "classes": tables().known_classes,
        "faults": tables().known_faults,
        "decisions": DECISIONS,
        "outcomes": OUTCOMES,
    }
    for key in read:
        if key not in ("place", "date_order", "decimal_mark", "columns", "callbacks", *allowed):
            raise ReadError(name, "{key} is not known in a mapping", short(key))
    place = read.get("place", "US")
    if not isinstance(place, str):
        raise ReadError(name, "{key} must be text, got {got}", "place", short(repr(place)))
    try:
        place = tables().place(place).place
    except CaseError as error:
        raise ReadError(name, "place: {message}", error.message) from error
    callbacks, columns = read.get("callbacks", {}), _words(read.get("columns", {}), None, name, "columns")
    for role in columns:
        if role not in ROLES:
            raise ReadError(name, "columns: {role} is no role; known are {roles}", short(role), ", ".join(ROLES))
    if not isinstance(callbacks, dict) or not all(isinstance(counts, bool) for counts in callbacks.values()):
        raise ReadError(name, "{key} must be a table of true and false, got {got}", "callbacks", short(repr(callbacks)))
    words: dict[str, Any] = {
        table: _words(read.get(table, {}), (*known, IGNORE), name, table) for table, known in allowed.items()
    }
    return ColumnMapping(
        place=place,
        date_order=_choice(read.get("date_order"), ORDERS, name, "date_order"),
        decimal_mark=_choice(read.get("decimal_mark"), MARKS, name, "decimal_mark"),
        columns=columns,
        callbacks=callbacks,
        **words,
    )


def _choice(value: object, choices: Collection[str], name: str, key: str) -> str | None:
    if value is not None and value not in choices:
        raise ReadError(
            name, "{key} must be {known}, got {got}", key, " or ".join(map(repr, choices)), short(repr(value))
        )
    return None if value is None else str(value)


def _words(table: object, allowed: Collection[str] | None, name: str, key: str) -> dict[str, str]:
    if not isinstance(table, dict):
        raise ReadError(name, "{key} must be a table, got {got}", key, short(repr(table)))
    for word, means in table.items():
        if not isinstance(means, str) or (allowed is not None and means not in allowed):
            raise ReadError(name, "{where}: {word!r} cannot mean {means}", key, short(word), short(repr(means)))
    return dict(table)
