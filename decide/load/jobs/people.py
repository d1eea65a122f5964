"""Columns of a job book that tell who a customer is: found by their headings and cells, and left out on demand.

A customer and an address stay as marks, which tell only which rows are of the same one: the digest of the text under a
key that is the digest of the whole book, so that nobody without the book can try names out. All else is blanked.
"""

import csv
import io
import re
from collections.abc import Collection
from hashlib import blake2b
from typing import TYPE_CHECKING, Final

import numpy as np

from ..tables.vocabulary import plain, tells_who
from .book import JobBook, open_book
from .chunks import trimmed
from .columns import ColumnMapping

if TYPE_CHECKING:
    import pandas as pd

SAME: Final = ("customer", "address")
"""Roles by which an appliance is known again."""

MARK: Final = re.compile("~[0-9a-f]{12}")
REACHED: Final = re.compile(r"\+?(?:[\s()./-]*\d){9,15}|[^@\s]+@[^@\s]+\.\w+")
"""A telephone number or an e-mail address."""
MAY_REACH: Final = "@|^[^A-Za-z]{9,}$"
"""What any of these fits, for arrow, whose digits and blanks are fewer."""
HALF: Final = 0.5


def people_like(book: JobBook, among: Collection[str] | None = None) -> tuple[str, ...]:
    """Columns of a book in which names, telephone numbers, addresses or notes stand, as headings or cells tell.

    `among`: the only columns that are asked about; the book is read as far as they take to tell.
    """
    import pyarrow.compute as pc

    reached = {name: np.zeros(2, int) for name in book.header if among is None or name in among}
    for chunk in book.chunks():
        if all(tells_who(name) and filled for name, (_, filled) in reached.items()):
            break
        for name in reached:
            words = pc.unique(trimmed(chunk.columns[name]))
            words = words.filter(pc.invert(pc.match_substring_regex(words, f"^(?:{MARK.pattern})?$")))
            may = words.filter(pc.match_substring_regex(words, MAY_REACH)).to_pylist()
            reached[name] += sum(bool(REACHED.fullmatch(word)) for word in may), len(words)
    return tuple(
        name for name, (some, filled) in reached.items() if filled and (tells_who(name) or some > HALF * filled)
    )


def left_out(like: Collection[str], mapping: ColumnMapping) -> tuple[str, ...]:
    """Those of such columns that are left out: all that serve no other end, and the customer and the address."""
    roles = {name: role for role, name in mapping.columns.items()}
    return tuple(name for name in like if roles.get(name, SAME[0]) in SAME)


def without_people(content: bytes, name: str, sheet: str | None, mapping: ColumnMapping) -> bytes:
    """A book without the columns that tell who a customer is, each row on its line; the same bytes where it has none.

    Of an Excel file the sheet that is read is left, as CSV.
    """
    book = open_book(content, name, sheet)
    for other in book.sheets if sheet is None else ():  # the one that the mapping is of
        if set(mapping.columns.values()) <= set(book.header):
            break
        book = open_book(content, name, other)
    out = left_out(people_like(book), mapping)
    if not out:
        return content
    key, same = blake2b(content).digest(), {mapping.columns.get(role) for role in SAME}
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow(book.header)
    line = 1
    for chunk in book.chunks():
        columns = {
            heading: (_marks(cells, key) if heading in same else [""] * len(chunk)) if heading in out else cells
            for heading, cells in chunk.columns.items()
        }
        for at, row in zip(chunk.lines.tolist(), zip(*columns.values(), strict=True), strict=True):
            text.write("\r\n" * (at - line - 1))
            writer.writerow(row)
            line = at
    return text.getvalue().encode()


def _marks(cells: "pd.Series[str]", key: bytes) -> list[str]:
    def mark(cell: str) -> str:
        word = plain(cell)
        same = not word or MARK.fullmatch(cell)
        return cell.strip() if same else f"~{blake2b(word.encode(), key=key, digest_size=6).hexdigest()}"

    return [mark(cell) for cell in cells]
