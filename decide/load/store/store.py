"""The store: what a shop or a household keeps from one day to the next, and loses nothing of.

One file in the user's data folder, or a database server by its address; the code is the same. Every action is one
transaction: it is on the disk whole when it comes back, or it raises and nothing of it is. A `Store` may be shared by
all threads of a program, as a server of pages does.

    with Store.open() as store:
        visit = store.save_visit(store.new_id(), entries)
        again = store.visit(visit.id)

A store that is opened with `who` asks for a name at each call, refuses what its role may not do, and notes the rest.
"""

import datetime
import functools
import inspect
import sqlite3
from collections.abc import Callable, Mapping
from contextvars import ContextVar
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Concatenate, Final, ParamSpec, Self, TypeVar

from sqlalchemy import Connection, Engine, func, select, text, update
from sqlalchemy.exc import IntegrityError

from ...errors import Message, StoreError
from ..cases.case_file import write_case
from . import people, shelf, visits
from . import seals as store_seals
from .opening import LARGEST_LOG, SQLITE, address_of_store, connected, for_reading, log_is_missing, redacted, telling
from .records import (
    Damaged,
    EditConflict,
    ImportSummary,
    LocalFigures,
    NotAllowed,
    StoredBook,
    Thing,
    Visit,
    VisitLine,
    kept_visit,
)
from .schema import FILES, LOG, METADATA, upgrade_schema, version_of
from .shelf import Setting

Clock = Callable[[], datetime.datetime]
Who = Callable[[], str | None]
Found = TypeVar("Found")
Given = ParamSpec("Given")
Kind = TypeVar("Kind")

WAIT: Final = 5.0
"""How long a writer waits for its turn. [s]"""

_NOW: Final[Clock] = functools.partial(datetime.datetime.now, datetime.UTC)

TRIES: Final = 3
"""How often an action is begun anew where another one added the same thing in the same moment."""


@dataclass(frozen=True)
class _Call:
    """A call of a store by whoever signed in."""

    who: str = ""
    only: str | None = None
    """Whose visits alone it may touch."""
    deed: str = ""
    what: str = ""


CALL: Final[ContextVar[_Call]] = ContextVar("CALL", default=_Call())  # noqa: B039 - it is frozen


def _asking(kind: type[Kind]) -> type[Kind]:
    """Let every public method ask first whether whoever calls it may: the one place that all actions pass."""
    for name, method in list(vars(kind).items()):
        if inspect.isfunction(method) and not name.startswith("_") and name not in ("role", "close"):
            setattr(kind, name, _asked(name, method))
    return kind


def _asked(name: str, method: Callable[..., Any]) -> Callable[..., Any]:
    @functools.wraps(method)
    def call(store: "Store", /, *given: Any, **named: Any) -> Any:
        who = store._who()
        if who is None:
            return method(store, *given, **named)
        role = store.role()
        if role is None:
            raise NotAllowed("{name} is on no list of this shop's people.", who or Message("Nobody"))
        if role is not people.Role.OWNER and name not in people.OF_TECHNICIANS:
            raise NotAllowed("Only an owner may do this.")
        only, what = None if role is people.Role.OWNER else who, next(iter((*given, *named.values())), "")
        begun = CALL.set(_Call(who, only, name, people.what_of(what)))
        try:
            return method(store, *given, **named)
        finally:
            CALL.reset(begun)

    return call


def _reading(look: Callable[Concatenate[Connection, Given], Found]) -> Callable[Concatenate["Store", Given], Found]:
    """A method that looks at one state of the store."""

    @functools.wraps(look)
    def method(store: "Store", /, *given: Given.args, **named: Given.kwargs) -> Found:
        return store._read(lambda connection: look(connection, *given, **named))

    return method


def _writing(work: Callable[Concatenate[Connection, Given], Found]) -> Callable[Concatenate["Store", Given], Found]:
    """A method that does its work in a transaction of its own."""

    @functools.wraps(work)
    def method(store: "Store", /, *given: Given.args, **named: Given.kwargs) -> Found:
        return store._write(lambda connection: work(connection, *given, **named))

    return method


@_asking
class Store:
    """Visits, job books, mappings, own figures and settings, kept."""

    def __init__(self, engine: Engine, where: str, clock: Clock, who: Who) -> None:
        self.where = where
        """The path of its file, or its address without the password."""
        self._engine, self._snapshots, self._clock = engine, for_reading(engine), clock
        self._who = who
        self._goes_on_in_log = False

    @classmethod
    def open(cls, url: str | None = None, clock: Clock = _NOW, wait: float = WAIT, who: Who = lambda: None) -> Self:
        """Open the store, making it or bringing an older one up where needed.

        `url` is a folder or an address; else what the environment says in MENDPOINT_STORE; else the user's data folder.
        `clock` tells what time it is, with its zone; `wait` is how long an action may wait for its turn [s].
        `who` says who calls a method: a name, '' for nobody, or None where nobody signs in and everybody may do all.
        `StoreError` says where it stands and what is in the way.
        """
        address = address_of_store(url)
        where = redacted(address)
        with telling(where):
            lacking = log_is_missing(address)
            store = cls(connected(address, wait), where, clock, who)

        def begin(connection: Connection) -> None:
            upgrade_schema(connection, where)
            if connection.dialect.name == SQLITE:
                noted = update(LOG).values(goes_on=0, lacking=1)
                connection.execute(noted if lacking else update(LOG).where(LOG.c.goes_on != 0).values(goes_on=0))

        try:
            store._in_turn(begin)
        except StoreError:
            store.close()
            raise
        return store

    def close(self) -> None:
        """Let go of every connection; the store can be used again and then makes new ones."""
        self._engine.dispose()
        self._goes_on_in_log = False

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    @property
    def schema(self) -> str:
        """Version of its tables."""
        return self._read(version_of)

    # visits

    new_id = staticmethod(visits.new_id)

    def save_visit(
        self,
        visit: str,
        entries: Mapping[str, Any],
        *,
        version: int = 0,
        title: str | None = None,
        page: Mapping[str, Any] | None = None,
        files: Mapping[str, bytes] | None = None,
        details: Mapping[str, str] | None = None,
    ) -> Visit:
        """Save a visit whole; what is there word for word is not written again, so a save may be repeated.

        `version` is that of the visit which these entries go on from, 0 for one never saved before; `title` is what it
        is found by, else the title among the entries; `page` fields of the page as JSON can say them; `files` those
        that the entries name; `details` whose it is. Gives the visit as saved, with the version that the next save goes
        on from.

        `EditConflict`: it was changed elsewhere since that version; nothing is overwritten, and this one is kept as a
        copy. `NotFound`: there is no such visit any more. `StoreError`: it could not be written.
        """
        now, name = self._clock(), str(entries.get("title", "")) if title is None else title
        who = CALL.get().who
        held: dict[str, Any] = {"page": dict(page or {}), "files": dict(files or {}), "details": dict(details or {})}
        line: dict[str, Any] = {"id": visit, "title": name, "version": version, "created": now, "changed": now, **held}
        asked = kept_visit(Visit(**line, copy_of="", person=who, text=write_case(entries)))
        saved = self._write(lambda connection: visits.save(connection, asked, CALL.get().only))
        if saved.id != visit:
            raise EditConflict(saved)
        return saved

    def visit(self, visit: str) -> Visit:
        """Read a visit by its id, as from a link; `NotFound`, `Damaged`, or `NotAllowed` where it is another's."""
        return self._read(lambda connection: visits.read(connection, visit, CALL.get().only))

    def visits_without_files(self) -> list[Visit]:
        """Every visit that is as it was saved, the last one changed first, at once and without its files."""
        return self._read(lambda connection: visits.without_files(connection, CALL.get().only))

    def visits(self, search: str = "", most: int | None = None) -> list[VisitLine]:
        """List the visits that have every word that is sought, the last one changed first."""
        return self._read(lambda connection: visits.listed(connection, search, most, CALL.get().only))

    # job books

    books = _reading(shelf.books)
    book_content = _reading(shelf.book_content)
    map_book = _writing(shelf.map_book)

    def keep_book(self, name: str, content: bytes, mapping: str = "", rows: int = 0) -> StoredBook:
        """Keep a job book as it came, with the mapping (TOML) that it is read by; the same one only once."""
        size, now = len(content), self._clock()
        book = StoredBook(id=self.new_id(), name=name, mapping=mapping, rows=rows, size=size, imported=now)
        return self._write(lambda connection: shelf.add_book(connection, book, content))

    # mappings

    mappings = _reading(shelf.mappings)

    def save_mapping(self, name: str, mapping: str) -> None:
        """Keep a mapping (TOML) under a name, in place of what was there by it."""
        now = self._clock()
        self._write(lambda connection: shelf.put_mapping(connection, name, mapping, now))

    # the shop's own figures

    local_figures = _reading(shelf.local_figures)
    use_figures = _writing(shelf.use_figures)

    def keep_figures(self, name: str, rows: str, dated: datetime.date, used: bool = False) -> LocalFigures:
        """Keep a set of own figures (CSV text); the same one only once."""
        now = self._clock()
        figures = LocalFigures(id=self.new_id(), name=name, text=rows, dated=dated, used=used, kept=now)
        return self._write(lambda connection: shelf.add_figures(connection, figures))

    # settings

    settings = _reading(shelf.settings)

    def save_settings(self, values: Mapping[str, Setting | None]) -> None:
        """Keep settings: text, or bytes for a picture; None takes one away."""
        now = self._clock()

        def put(connection: Connection) -> None:
            for name, value in values.items():
                shelf.put_setting(connection, name, value, now)

        self._write(put)

    # people

    def role(self) -> people.Role | None:
        """What whoever calls this is here; none where the name is on no list. Where nobody signs in, an owner."""
        who = self._who()
        return people.Role.OWNER if who is None else self._read(lambda connection: people.role_of(connection, who))

    def note_export(self, _what: str) -> None:
        """Note that an owner takes something out, or somebody of the shop for a customer; `NotAllowed` for others."""
        self._write(lambda connection: None)

    note_hand_out = note_export

    deeds = _reading(people.deeds)

    # whatever it is

    def things(self) -> list[Thing]:
        """All that is kept and as it was saved, to be chosen from."""
        return [
            *(Thing("visit", line.id, line.title) for line in self.visits()),
            *(Thing("book", book.id, book.name) for book in self.books()),
            *(Thing("mapping", name) for name in self.mappings()),
            *(Thing("figures", figures.id, figures.name) for figures in self.local_figures()),
            *(Thing("setting", name) for name in self.settings()),
        ]

    def damaged(self, deep: bool = False, beside_visits: bool = False) -> list[Thing]:
        """What is not as it was saved, as far as lists show it; with `deep` everything is read.

        `beside_visits` leaves visits out: a shop has thousands, and whoever asks at every tap waits for each of them.
        """
        parts = [] if beside_visits else [visits.damaged]
        parts = [*parts, shelf.damaged] if CALL.get().only is None else []
        return self._read(lambda connection: [thing for part in parts for thing in part(connection, deep)])

    def lacks_log(self) -> bool:
        """Whether the file was found without the log that it goes on in, and no export was taken in since."""
        return bool(self._read(lambda connection: connection.scalar(select(LOG.c.lacking))))

    def delete(self, thing: Thing) -> None:
        """Delete something for good, sound or damaged; `NotFound` where there is no such thing."""

        def remove(connection: Connection) -> None:
            store_seals.remove(connection, thing)
            if thing.noun == "visit" and isinstance(thing.key, str):
                visits.forget_original(connection, thing.key)

        self._write(remove)
        # bring what was overwritten from the log to the file, so that it stands in neither; later, if others read
        if self._engine.name == SQLITE:
            with telling(self.where):
                self._begin_log("TRUNCATE")

    # all of it

    def export_all(self, path: Path, people: bool = True) -> Path:
        """Write everything to one file, a zip of plain files; a file that is there already is not overwritten.

        What is damaged goes to a folder of its own in it, as it stands, and is not taken in again. Without
        people, whatever names a customer or may do so is left out.
        """
        from .archive import write_archive

        if CALL.get().who:
            self._write(lambda connection: None)
        self._read(lambda connection: write_archive(connection, path, self._clock(), people))
        return path

    def import_all(self, path: Path, most: int | None = None) -> ImportSummary:
        """Take in everything from such a file; where both differ, both are kept. All of it arrives, or none.

        `most`: what all of it may come to, unpacked; else `archive.LARGEST_EXPORT` [byte]. Raises `ReadError`: the file
        is no export, is damaged, holds what no page could use, or would unpack to more than that.
        """
        from .archive import LARGEST_EXPORT, read_archive

        def take_in(connection: Connection) -> ImportSummary:
            arrived = read_archive(connection, path, LARGEST_EXPORT if most is None else most)
            connection.execute(update(LOG).where(LOG.c.lacking != 0).values(lacking=0))
            return arrived

        return self._write(take_in)

    def vacuum(self) -> None:
        """Write the store anew without what was deleted.

        Of a file, nothing deleted is left in it or beside it. On a server, its own logs and backups are its keeper's.
        """
        with telling(self.where):
            if self._engine.name == SQLITE:
                self._on_file("VACUUM")
                self._begin_log("TRUNCATE")
                return
            with self._engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
                for table in METADATA.sorted_tables:
                    connection.execute(text(f"VACUUM FULL {table.name}"))

    def check(self) -> int:
        """Read all of it and hold it to its seals and digests; the number of things that were looked at.

        `Damaged` names what is not as it was saved; `StoreError`: the file itself is damaged, or was copied without its
        log.
        """

        def checked(connection: Connection) -> int:
            if connection.dialect.name == SQLITE:
                messages = [str(row[0]) for row in connection.exec_driver_sql("PRAGMA integrity_check(5)")]
                if messages != ["ok"]:
                    raise StoreError(self.where, "corrupt", " ".join("; ".join(messages).split()))
            damaged = [*visits.damaged(connection, deep=True), *shelf.damaged(connection, deep=True)]
            if damaged:
                raise Damaged(self.where, tuple(damaged))
            if connection.scalar(select(LOG.c.lacking)):
                raise StoreError(self.where, "log")
            tables = (*store_seals.TABLES.values(), FILES)
            return sum(connection.scalar(select(func.count()).select_from(table)) or 0 for table in tables)

        return self._read(checked)

    def _write(self, work: Callable[[Connection], Found]) -> Found:
        """Do something in a transaction of its own, in turn with all others."""
        if self._engine.name == SQLITE and not (self._goes_on_in_log and self._log_is_short()):
            with telling(self.where):
                self._begin_log("PASSIVE")
        return self._in_turn(work)

    def _in_turn(self, work: Callable[[Connection], Found]) -> Found:
        def noted(connection: Connection) -> Found:
            found, call = work(connection), CALL.get()
            if call.who:
                people.note(connection, people.Deed(self._clock(), call.who, call.deed, call.what))
            return found

        with telling(self.where):
            for _ in range(TRIES - 1):
                try:
                    with self._engine.begin() as connection:
                        return noted(connection)
                except IntegrityError:  # another one added the same in the same moment; now it is there to be seen
                    continue
            with self._engine.begin() as connection:
                return noted(connection)

    def _read(self, work: Callable[[Connection], Found]) -> Found:
        """Look at one state of the store while others may write."""
        with telling(self.where), self._snapshots.begin() as connection:
            return work(connection)

    def _log_is_short(self) -> bool:
        try:
            return Path(f"{self.where}-wal").stat().st_size <= LARGEST_LOG
        except FileNotFoundError:
            return True

    def _begin_log(self, how: str) -> None:
        """Bring the log to the file, and let the file say that a log goes on from it, which the log itself takes back.

        So a file that is copied without its log says that it lacks one; a log that is brought to the file, by whatever
        program, leaves a file that does not.
        """
        say = "UPDATE store_log SET goes_on = {}"
        _, [(_, pages, brought)], _ = self._on_file(say.format(1), f"PRAGMA wal_checkpoint({how})", say.format(0))
        self._goes_on_in_log = pages == brought

    def _on_file(self, *statements: str) -> list[list[tuple[Any, ...]]]:
        """Run statements that stand outside of transactions."""
        borrowed = self._engine.raw_connection()
        try:
            connection = borrowed.driver_connection
            assert isinstance(connection, sqlite3.Connection)
            return [connection.execute(statement).fetchall() for statement in statements]
        finally:
            borrowed.close()
