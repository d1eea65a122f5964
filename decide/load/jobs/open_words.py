"""The words of a book that nobody knows yet, as one table to answer: ranked by the rows that each wins."""

from collections import Counter
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final

from ...errors import ReadError
from ..tables.vocabulary import plain
from .book import open_book
from .chunks import short
from .columns import WORD_ROLES, ColumnMapping, write_mapping
from .columns import parse_mapping as parsed
from .coverage import Coverage
from .words import IGNORE

SKIP: Final = "-"
"""What is answered for a word that says nothing."""


@dataclass(frozen=True, kw_only=True)
class OpenWord:
    """A word of a book without a meaning."""

    role: str
    word: str
    rows: int
    """Rows that can be read, or whose fault is known, once it has one."""
    suggested: str = ""


def ranked(mapping: ColumnMapping, coverage: Coverage | None = None) -> list[OpenWord]:
    """Open words, those first that win most rows; without a coverage, those that most rows hold."""
    held = mapping.rows_of if coverage is None else {(cell.role, cell.text): n for cell, n in coverage.open.items()}
    wins = Counter[tuple[str, str]]()
    for (role, word), n in held.items():
        wins[role, plain(short(word))] += n
    found = [
        OpenWord(
            role=role,
            word=word,
            rows=wins[role, plain(short(word))],
            suggested=mapping.suggested.get((role, word), ""),
        )
        for role, words in mapping.unknown_words.items()
        for word in words
    ]
    return sorted(found, key=lambda each: (each.role == "fault", -each.rows))


def read_answers(path: Path, mapping: ColumnMapping) -> ColumnMapping:
    """A mapping with the words as answered: an id, `-` for a word that says nothing; a blank answers nothing.

    `ReadError`: the table lacks a column, or an answer is none that the role can have.
    """
    book = open_book(path, path.name)
    lacking = [name for name in ("role", "word", "means") if name not in book.header]
    if lacking:
        raise ReadError(path.name, "must have the columns role, word and means; lacks {lacking}", ", ".join(lacking))
    tables: dict[str, dict[str, str]] = {}
    for chunk in book.chunks():
        cells = zip(*(chunk.columns[name] for name in ("role", "word", "means")), strict=True)
        for role, word, means in (map(str.strip, row) for row in cells):
            if means:
                if role not in WORD_ROLES:
                    raise ReadError(path.name, "{role} is no role with words", short(role))
                tables.setdefault(WORD_ROLES[role], {})[word.removeprefix("'")] = IGNORE if means == SKIP else means
    words: dict[str, Any] = {table: {**getattr(mapping, table), **answers} for table, answers in tables.items()}
    checked = parsed(write_mapping(replace(mapping, **words)), path.name)
    return replace(checked, undecided=mapping.undecided)
