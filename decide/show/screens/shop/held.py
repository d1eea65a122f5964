"""The job book that is open in the shop: its bytes, how it is read, and its place in the store.

Each way that it is read by is kept with it as soon as it is chosen, and serves the next book with the same columns.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from typing import Final, TypeVar

import streamlit as st

from ....errors import MendpointError, ReadError
from ....load.jobs.book import JobBook, Progress, open_book
from ....load.jobs.columns import ColumnMapping, guess_mapping, looked_over, parse_mapping, write_mapping
from ....load.jobs.coverage import Coverage
from ....load.jobs.people import left_out, people_like, without_people
from ....load.jobs.rows import ReadChunk, read_book
from ....load.store.records import NotFound, Thing, Visit
from ....load.store.records import StoredBook as Kept
from ....load.store.store import Store
from ....load.store.visit_book import visit_book
from ....load.tables.tables import Tables, data_dir, tables
from ...text.jobs import coverage_sentences
from ...text.words import Words
from ..ask import say_error
from ..state.repository import keeping, look_up, store
from ..widgets import say_text, set_fields

LARGEST_MB: Final = 50
"""A book beyond this is not taken on the page: some 300,000 jobs. The command takes larger ones. [MB]"""

LARGEST: Final = LARGEST_MB * 1024 * 1024
"""The same, as the server of the pages counts it. [byte]"""

INVENTED: Final = "invented-jobs.csv"

LARGE: Final = 4_000_000
"""From here on a book is weighed when asked: it may take seconds. [byte]"""


@dataclass(frozen=True, eq=False)
class Held:
    """A job book that is open. A change of how it is read makes another one."""

    id: str
    """Its id in the store; '' where it could not be kept."""
    book: JobBook
    content: bytes
    mapping: ColumnMapping
    like: str = ""
    """The earlier book that it is read like, where it is."""
    of_visits: bool = False
    """Whether it was made of the visits kept here, and is kept in them alone."""
    people: tuple[str, ...] = ()
    """Columns that tell who a customer is."""
    keeps_people: bool = False
    """Whether they are kept in the store, and written, on purpose."""
    kept_out: tuple[str, ...] = ()
    """Those without which it is kept."""

    @property
    def left_out(self) -> tuple[str, ...]:
        """Columns that are kept nowhere and written nowhere."""
        return () if self.keeps_people else left_out(self.people, self.mapping)

    @property
    def is_large(self) -> bool:
        """Whether weighing it takes seconds."""
        return len(self.content) > LARGE

    @property
    def lines(self) -> int:
        """About how many rows it has, where it is text; 0 for a book that is packed."""
        packed = self.content[:4] in (b"PK\x03\x04", b"PAR1")
        return 0 if packed else max(1, self.content.count(b"\n") - 1)

    @property
    def lacking(self) -> tuple[str, ...]:
        """Roles without which no row of it can be weighed."""
        return tuple(role for role in self.mapping.missing() if role not in self.mapping.asks)


def held_here() -> Held | None:
    """The book that is open on the pages of this session."""
    found: Held | None = st.session_state.get("shop_held")
    return found


def taken_in(content: bytes, name: str, place: str) -> Held:
    """Open a book that was given, read it like an earlier one or by a guess, and keep it.

    `ReadError`: it is too large, damaged, or no book.
    """
    if len(content) > LARGEST:
        raise ReadError(name, "is larger than {most} MB", LARGEST_MB)
    book = open_book(content, name)

    def look(there: Store) -> list[tuple[str, str]]:
        return [*((book.name, book.mapping) for book in there.books() if book.mapping), *there.mappings().items()]

    like = people_like(book)
    for earlier, text in look_up(look) or []:
        known = parse_mapping(text, earlier)
        if _fits(known, book):
            read = looked_over(book, replace(known, date_order=None, decimal_mark=None))
            order, mark = read.date_order or known.date_order, read.decimal_mark or known.decimal_mark
            read = replace(read, date_order=order, decimal_mark=mark)
            return kept(Held("", book, content, read, earlier, people=like))
    return kept(Held("", book, content, guess_mapping(book, place), people=like))


def invented() -> Held:
    """The book of an invented shop, which shows what all of this is."""
    folder = data_dir() / "demo"
    content, text = (folder / "jobs.csv").read_bytes(), (folder / "jobs.toml").read_text("utf-8")
    book = open_book(content, INVENTED)
    return kept(Held("", book, content, looked_over(book, parse_mapping(text, "jobs.toml"))))


def of_visits(words: Words, visits: Iterable[Visit]) -> Held:
    """Open the visits that the customer decided as a book."""
    content, mapping = visit_book(visits, st.session_state["place"], tables())
    return Held("", open_book(content, words.say("shop.of_visits")), content, mapping, of_visits=True)


def reopened(book: str, place: str, sheet: str | None = None) -> Held:
    """Open a book of the store as it was left; `MendpointError` where it is not kept here, or cannot be read."""
    there = store()
    known = next((each for each in there.books() if each.id == book), None) if there is not None else None
    if there is None or known is None:
        raise NotFound("book", book)
    content = there.book_content(book)
    opened = open_book(content, known.name)
    if sheet in opened.sheets:
        opened = open_book(content, known.name, sheet)
    who = people_like(opened)  # what is there was kept on purpose
    mapping = parse_mapping(known.mapping, known.name) if known.mapping else None
    for name in opened.sheets if mapping and sheet is None else ():  # the sheet that it was read from
        if _fits(mapping, opened):
            break
        opened = open_book(content, known.name, name)
    return Held(book, opened, content, _read_like(mapping, opened, place), people=who, keeps_people=bool(who))


def other_sheet(held: Held, sheet: str) -> Held:
    """Read another sheet of the same file."""
    book = open_book(held.content, held.book.name, sheet)
    mapping, held = held.mapping, replace(held, people=people_like(book))
    return kept(replace(held, book=book, mapping=_read_like(mapping, book, mapping.place), like=""))


def read_by(held: Held, mapping: ColumnMapping) -> Held:
    """Read the book in another way from now on."""
    return kept(replace(held, mapping=looked_over(held.book, mapping)))


def kept(held: Held) -> Held:
    """Keep the book, and the way that it is read by also under its name."""
    if held.of_visits:
        return held
    text, name, ids, known = write_mapping(held.mapping), held.book.name, [""], held.id
    out, stored = held.left_out, held.content
    if out and (not held.id or out != held.kept_out):
        stored = without_people(held.content, name, held.book.sheet, held.mapping)
    if held.id and out != held.kept_out and keeping(lambda there: there.delete(Thing("book", held.id))):
        known = ""  # what is kept has too many columns, or too few

    def is_it(there: Store, book: Kept) -> bool:
        """Whether a book that is kept is this very file."""
        alike = not known and (book.name, book.size) == (name, len(stored))
        return book.id == known or (alike and there.book_content(book.id) == stored)

    def keep(there: Store) -> None:
        same = {book.id: book.rows for book in there.books() if is_it(there, book)}
        ids[0] = next(iter(same), "")
        if same:
            there.map_book(ids[0], text, same[ids[0]])
        else:
            ids[0] = there.keep_book(name, stored, text).id
        there.save_mapping(name, text)

    return replace(held, id=ids[0], kept_out=out) if keeping(keep) else held


def count_rows(held: Held, rows: int) -> None:
    """Note how many rows the book has, now that they have been read."""
    if held.id:
        keeping(lambda there: there.map_book(held.id, write_mapping(held.mapping), rows))


def _fits(mapping: ColumnMapping | None, book: JobBook) -> bool:
    """Whether a book has every column of a mapping, and the mapping all that a book needs."""
    return mapping is not None and set(mapping.columns.values()) <= set(book.header) and not mapping.missing()


def _read_like(mapping: ColumnMapping | None, book: JobBook, place: str) -> ColumnMapping:
    """How a book is read: as before where that fits it, else by a guess."""
    if mapping is not None and _fits(mapping, book):
        return looked_over(book, mapping)
    return guess_mapping(book, mapping.place if mapping else place)


def says_coverage(words: Words, coverage: Coverage, reference: Tables) -> bool:
    """Say how much of the book a result rests on; whether anything may be concluded from it."""
    say_text("small", *coverage_sentences(words, coverage, reference))
    return not coverage.held_back(reference, words.region)


# work on it that may take long: told while it is done, stopped at a tap, and kept for the session

Found = TypeVar("Found")

SAYS: Final = {
    "weighed": ("shop.weigh", "shop.weighing"),
    "records": ("shop_quotes.work_out", "shop.reading_records"),
}
"""What begins some work, and what is said meanwhile; of the rest it is the usual."""


def worked_out(
    words: Words, name: str, held: Held, wants: tuple[object, ...], work: Callable[[Progress], Found]
) -> Found | None:
    """What some work on the open book comes to; nothing while it waits, or where it cannot be done, which is said.

    A large book, and one whose work was stopped, waits until it is asked for. `work` is given what it tells how far it
    is, in rows, or 0, and as a share: there a stop is heeded. `wants` is all that the work hangs on.
    """
    state, key = st.session_state, f"shop_{name}"
    if state.get(key) is not None and state[key][0] == wants:
        known: Found = state[key][1]
        return known
    begin, meanwhile = (words.say(each) for each in SAYS.get(name, ("shop_quotes.work_out", "shop_quotes.working")))
    if (held.is_large or state["shop_stopped"] is held) and state["shop_asked_for"] is not held:
        asked = set_fields({"shop_asked_for": held})
        st.button(begin, key=f"shop_begin_{name}", type="primary", on_click=asked)
        return None
    bar, stop = st.progress(0.0, meanwhile), st.empty()
    stopped = set_fields({"shop_stopped": held, "shop_asked_for": None})
    stop.button(words.say("shop.stop"), key=f"shop_stop_{name}", on_click=stopped)  # heeded where the bar moves

    def tell(rows: int, share: float) -> None:
        done = words.say("shop.weighed", rows=words.counted("jobs.count.row", rows)) if rows else meanwhile
        bar.progress(min(1.0, share), done)

    found: Found | None = None
    try:
        found = work(tell)
        state[key] = wants, found
    except MendpointError as error:
        say_error(words, error, f"{key}_error")
    bar.empty()
    stop.empty()
    return found


def read_once(words: Words, held: Held) -> ReadChunk | None:
    """The jobs of the open book and how much of it could be read, read once while it stays open."""
    return worked_out(words, "read", held, (held,), lambda tell: read_book(held.book, held.mapping, tell))
