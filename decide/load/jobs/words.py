"""What the words of a job book mean: classes, faults by what their class can have, decisions and outcomes.

A word counts as the shop or the tables have it. A class or a fault may also stand inside a longer text, where it is the
only one there. Anything else is asked, with what it may be meant for by its spelling or by a word inside it.
"""

from collections.abc import Collection, Mapping
from functools import lru_cache
from typing import Final

from ..tables.tables import tables
from ..tables.vocabulary import likely, meanings, plain, vocabulary

IGNORE: Final = ""
"""What the owner writes for a word that says nothing."""

OTHER: Final = "other"

TWO_CLASSES, UNKNOWN_WORD, MISSING = "two_meanings", "unknown_word", "missing"


def means_nothing(word: str) -> bool:
    """Whether a cell is blank, or holds a word for nothing."""
    return not plain(word) or plain(word) in vocabulary()["empty"]


def kind_of(word: str, own: Mapping[str, str], here: Collection[str]) -> tuple[str, str]:
    """The class of a word, or why there is none; `own` has the shop's plain words, `here` the classes sold there."""
    bare = plain(word)
    if bare in own:
        return own[bare], "" if own[bare] != IGNORE else UNKNOWN_WORD
    if means_nothing(word):
        return "", MISSING
    means = meanings(word, vocabulary()["class"], here, vocabulary()["ask"])
    return (next(iter(means)), "") if len(means) == 1 else ("", TWO_CLASSES if means else UNKNOWN_WORD)


def fault_of(word: str, kind: str, own: str | None = None) -> str | None:
    """The fault that a text says of a class; None where its words lead to none that the class can have, or to several.

    A blank, a word that says nothing, and the shop's own word for a fault that its class cannot have are `other`.
    """
    can = _can_have(kind)
    if own is not None:
        return own if own in can else OTHER
    if means_nothing(word):
        return OTHER
    means = meanings(word, vocabulary()["fault"], can)
    return next(iter(means)) if len(means) == 1 else None


@lru_cache(maxsize=100)
def _can_have(kind: str) -> frozenset[str]:
    return frozenset(fault.fault for fault in tables().faults(kind))


def suggestion(role: str, word: str, within: Collection[str]) -> str | None:
    """What an open word may be meant for, by a word inside it, else by its spelling; None unless that is one thing."""
    inside = meanings(word, vocabulary()[role], within, vocabulary()["ask"] if role == "class" else ())
    if inside or (role == "class" and plain(word) in vocabulary()["ask"]):
        return next(iter(inside)) if len(inside) == 1 else None
    return likely(word, vocabulary()[role], within)
