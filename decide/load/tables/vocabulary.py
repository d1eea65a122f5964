"""The words that shops use, read from the tables: for columns, classes, faults, and what became of a job.

Words are compared without accents, capitals and marks. A word that means two things has two meanings here, and is never
decided for the shop.
"""

import difflib
import functools
import unicodedata
from collections import defaultdict
from collections.abc import Collection, Mapping
from typing import Final

from ...shop.jobs import DECISIONS, OUTCOMES
from ..files.rows import rows
from .tables import CURRENCIES, data_dir, tables

ROLES: Final = (
    "date", "class", "age", "year", "known_since", "fault", "parts", "labour", "labour_hours", "trip", "fee",
    "fee_credited", "tax", "quote", "decision", "outcome", "outcome_date", "unit", "job", "customer", "address",
    "technician", "postcode", "parts_cost", "new_price", "rate", "electricity", "new_electricity",
)  # fmt: skip
"""What a column of a job book can hold."""

COLUMNS: Final = "kind,meaning,language,words"
LIKE: Final = 0.86  # Likeness of spelling from which a word is taken for another: one slip in a word of seven letters.
SHORTEST_SLIP: Final = 5  # Shorter words are one slip away from too many others. [character]
Words = Mapping[str, frozenset[str]]  # What each word may mean.


@functools.lru_cache(maxsize=200_000)
def plain(text: str) -> str:
    """A word without accents, capitals and marks."""
    letters = unicodedata.normalize("NFKD", text[:200].casefold())
    kept = (each if each.isalnum() else "" if unicodedata.combining(each) else " " for each in letters)
    return " ".join("".join(kept).split())


def tells_who(heading: str) -> bool:
    """Whether a column of such a heading may tell who a customer is: a name, a number, an address, a note."""
    words = f" {plain(heading)} "
    return any(f" {word} " in words for word in vocabulary()["people"])


@functools.cache
def vocabulary() -> Mapping[str, Words]:
    """Every word of the tables, by kind, as data/README.md has them."""
    allowed: Mapping[str, Collection[str]] = {
        "column": ROLES,
        "class": tables().known_classes,
        "fault": tables().known_faults,
        "decision": DECISIONS,
        "outcome": OUTCOMES,
        "answer": ("yes", "no"),
        "empty": ("empty",),
        "time": ("year", "month"),
        "money": tuple(CURRENCIES.values()),
        **{kind: (kind,) for kind in ("beside", "new", "free", "tax", "ask", "people")},
    }
    found: dict[str, dict[str, set[str]]] = {kind: defaultdict(set) for kind in allowed}
    for row in rows(data_dir() / "job_words.csv", COLUMNS):
        kind = row.choice("kind", allowed)
        meaning = row.choice("meaning", allowed[kind])
        for word in row.text("words").split(";"):
            if not plain(word):
                raise row.broken("words has one without letters: {text!r}", word)
            found[kind][plain(word)].add(meaning)
    _named_in_the_tables(found)
    return {kind: {word: frozenset(means) for word, means in words.items()} for kind, words in found.items()}


def _named_in_the_tables(found: dict[str, dict[str, set[str]]]) -> None:
    """Ids and labels mean themselves; what people call a class besides counts where no shop's word says otherwise."""
    shops = set(found["class"])
    for kind, known in tables().known_classes.items():
        for word in known.also:
            if plain(word) not in shops:
                found["class"][plain(word)].add(kind)
    for kind, known in tables().known_classes.items():
        for word in (kind, known.label):
            found["class"][plain(word)] = {kind}
    for fault, described in tables().known_faults.items():
        for word in (fault, described.label):
            found["fault"][plain(word)].add(fault)
    for kind, codes in (("decision", DECISIONS), ("outcome", OUTCOMES)):
        for code in codes:
            found[kind][plain(code)] = {code}
    for word in found["ask"]:
        found["class"].pop(word, None)


def meanings(word: str, words: Words, within: Collection[str], asked: Collection[str] = ()) -> frozenset[str]:
    """What a word may mean, among some meanings: as it stands, else by the words in it; nothing where one is asked.

    Of words inside it the longest count, and what lies inside these does not.
    """
    bare = plain(word)
    if bare in words:
        return words[bare] & frozenset(within)
    inside = _inside(bare, words)
    if any(f" {each} " in f" {bare} " and not any(each in found for found in inside) for each in asked):
        return frozenset()
    return frozenset().union(*(words[each] for each in inside)) & frozenset(within)


def likely(word: str, words: Words, within: Collection[str]) -> str | None:
    """What a word may be meant for by its spelling, to be suggested; None where nothing, or more than one thing, is."""
    bare = plain(word)
    if len(bare) < SHORTEST_SLIP:
        return None
    close = difflib.get_close_matches(bare, [each for each in words if len(each) >= SHORTEST_SLIP], cutoff=LIKE)
    means = frozenset().union(*(words[each] for each in close)) & frozenset(within)
    return next(iter(means)) if len(means) == 1 else None


def _inside(bare: str, words: Words) -> list[str]:
    parts = bare.split()[:12]
    spans = [(start, end) for start in range(len(parts)) for end in range(start + 1, len(parts) + 1)]
    found: list[tuple[int, int]] = []
    for start, end in sorted(spans, key=lambda span: span[0] - span[1]):
        if " ".join(parts[start:end]) in words and not any(a <= start and end <= b for a, b in found):
            found.append((start, end))
    return [" ".join(parts[start:end]) for start, end in found]
