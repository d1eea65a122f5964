"""What is said of a job book: why a row was set apart, what its columns hold, and what the owner still has to tell."""

from typing import Final

from ..load.job_chunks import SetApart
from ..load.job_columns import Mapping, Undecided
from .phrases import Phrases

WORDS_SHOWN: Final = 12
"""Of those without a meaning; the most frequent first."""


def role_label(role: str, phrases: Phrases) -> str:
    """Name what a column can hold.

    >>> role_label("fee_credited", Phrases.of())
    'Fee taken off the quote'
    """
    return phrases.say(f"role.{role}")


def why_set_apart(apart: SetApart, phrases: Phrases) -> str:
    """Say which line was set apart, and why.

    >>> why_set_apart(SetApart(61, "Age", "no_number", "abt 8"), Phrases.of())
    'Line 61, Age: This is no number. There it says “abt 8”.'
    """
    facts = {
        "line": phrases.number(apart.row, 0),
        "column": apart.column,
        "reason": phrases.say(f"job_book.reason.{apart.reason}"),
        "text": apart.text,
    }
    if not apart.column:
        return phrases.say("job_book.set_apart_row", **facts)
    return phrases.say("job_book.set_apart" if apart.text else "job_book.set_apart_blank", **facts)


def questions(mapping: Mapping, phrases: Phrases) -> list[str]:
    """Ask for everything that a mapping leaves open, what is needed most first.

    >>> questions(Mapping(columns={"class": "Kind", "age": "Age"}), Phrases.of())
    ['Say which column holds this: Quote.']
    """
    asked = [_missing(need, phrases) for need in mapping.missing()]
    asked += [_undecided(each, phrases) for each in mapping.undecided]
    for role, words in mapping.unknown_words.items():
        facts = {"role": role_label(role, phrases), "words": ", ".join(words[:WORDS_SHOWN])}
        asked.append(phrases.say("job_book.unknown_words", **facts))
    return asked


def _missing(need: str, phrases: Phrases) -> str:
    if need in ("date_order", "decimal_mark"):
        return phrases.say(f"job_book.ask_{need}")
    if need == "age":
        return phrases.say("job_book.need_age")
    return phrases.say("job_book.need", role=role_label(need, phrases))


def _undecided(each: Undecided, phrases: Phrases) -> str:
    roles = ", ".join(role_label(role, phrases) for role in each.roles)
    if len(each.headers) == 1:
        return phrases.say("job_book.undecided_column", column=each.headers[0], roles=roles)
    return phrases.say("job_book.undecided_role", role=roles, columns=", ".join(each.headers))
