"""Everything of a store in one file, and back: a zip of plain files with a list of what they are.

    manifest.json              what is there, when it was kept, and the digest of every file
    visits/1/case.toml         the entries; beside it page.json and the files that the entries name
    books/1/...                a job book as it came, and mapping.toml
    mappings/1.toml  figures/1.csv  settings/1.txt

    damaged/1/...              what was not as it was saved, as it stands; it is not taken in

What comes in is not trusted: every file must be on the list, small enough, where it belongs, and whole; and each thing
must be one that the store itself could have saved. No file may be packed more densely than `DENSEST`, so that a small
export cannot fill the memory or the disk; what is packed better than that goes out unpacked.
"""

import contextlib
import dataclasses
import datetime
import json
import re
import zipfile
import zlib
from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import Any, Final

from sqlalchemy import Connection, Table, select

from ...errors import CaseError, Message, ReadError
from ..cases.case_file import parse_case, write_case
from ..files.file_names import plain_names
from ..files.plain_file import new_file
from ..jobs.book import open_book
from ..jobs.columns import guess_mapping, parse_mapping
from ..jobs.people import without_people
from . import records, shelf, visits
from .people import PEOPLE
from .records import UNSOUND
from .schema import BOOKS, FIGURES, MAPPINGS, SETTINGS, VISITS
from .seals import as_it_stands, digest_of
from .shelf import Setting
from .visits import new_id

FORMAT: Final = "mendpoint store"
LAYOUT: Final = 2
"""Of the files in an export; a later layout is refused. The first did not say whose a visit is."""

NAMES: Final = ("shop_technician", PEOPLE)  # Settings that name people.
LEFT_OUT: Final = "…"
"""Stands for a text that may name somebody."""

MANIFEST: Final = "manifest.json"
LARGEST_MANIFEST: Final = 100_000_000
LARGEST_EXPORT: Final = 1_000_000_000
"""All files of an export, unpacked, unless its owner lets it be more. [byte]"""

DENSEST: Final = 100
"""How often its packed size a file, or all of an export, may come to. A book of jobs comes to 3 to 20 times. [-]"""

DENSEST_MANIFEST: Final = 10
"""The same of the list, half of which are digests that do not pack. [-]"""

SMALL: Final = 1_000_000
"""What may come of any packed size. [byte]"""

TINY: Final = 10_000
"""What comes to less than `DENSEST` times of what a zip itself needs for a file. [byte]"""

STEP: Final = 1 << 20
"""Unpacked at a time. [byte]"""

LONGEST_FILE_NAME: Final = 80


# out


def write_archive(connection: Connection, path: Path, now: datetime.datetime, people: bool = True) -> None:
    """Write everything to a file that is not there yet; it comes to stand there whole or not at all.

    Without people it holds no detail of a visit, no name that somebody gave it and no file of it, no column of a job
    book that tells who a customer is, nothing that is damaged, and no technician.
    """
    with contextlib.suppress(OSError):  # a name that cannot be is refused below
        if path.exists():
            raise ReadError(str(path), "is there already; name another file")
    with new_file(path, False) as file, zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive:
        Path(file.name).chmod(0o600)  # it holds customers
        _Outgoing(archive, now, people).write_all(connection)


@dataclasses.dataclass
class _Outgoing:
    """An export as it grows."""

    archive: zipfile.ZipFile
    now: datetime.datetime
    people: bool
    digests: dict[str, str] = dataclasses.field(default_factory=dict)
    damaged: list[records.Thing] = dataclasses.field(default_factory=list)

    def write_all(self, connection: Connection) -> None:
        """Write every file, and last the list of them."""
        listed = {
            "format": FORMAT,
            "layout": LAYOUT,
            "written": self.now.isoformat(),
            "visits": list(self._visits(connection)),
            "books": list(self._books(connection)),
            "mappings": list(self._named(connection, MAPPINGS, shelf.mappings(connection))),
            "figures": list(self._figures(connection)),
            "settings": list(self._named(connection, SETTINGS, shelf.settings(connection))),
            "damaged": list(self._damaged(connection)) if self.people else [],
            "digests": self.digests,
        }
        self._put(MANIFEST, json.dumps(listed, indent=1).encode(), DENSEST_MANIFEST)

    def _put(self, path: str, content: bytes, densest: int = DENSEST) -> str:
        """Write a file, packed unless an import would take it for a trick."""
        self.digests[path] = digest_of(content)
        info = zipfile.ZipInfo(path, max(self.now.timetuple()[:6], (1980, 1, 1, 0, 0, 0)))
        dense = len(content) > TINY and 2 * len(content) > densest * len(zlib.compress(content))
        self.archive.writestr(info, content, zipfile.ZIP_STORED if dense else zipfile.ZIP_DEFLATED)
        return path

    def _visits(self, connection: Connection) -> Iterator[Mapping[str, Any]]:
        lines = visits.listed(connection)
        for number, line in enumerate(lines, 1):
            try:
                visit, folder = visits.read(connection, line.id), f"visits/{number}"
            except records.Damaged as error:
                self.damaged += error.things
                continue
            if not self.people:
                visit = _without_people(visit)
            files = [
                {"name": name, "path": self._put(f"{folder}/{at}-{_plain(name)}", content)}
                for at, (name, content) in enumerate(visit.files.items(), 1)
            ]
            yield {
                **{name: value for name, value in _to_dict(visit).items() if name not in ("text", "page", "files")},
                "case": self._put(f"{folder}/case.toml", visit.text.encode()),
                "page": self._put(f"{folder}/page.json", records.page_as_text(visit.page).encode()),
                "files": files,
            }

    def _books(self, connection: Connection) -> Iterator[Mapping[str, Any]]:
        for number, book in enumerate(shelf.books(connection), 1):
            try:
                content = shelf.book_content(connection, book.id)
            except records.Damaged as error:
                self.damaged += error.things
                continue
            if not self.people:
                name, kept = book.name, book.mapping
                mapping = parse_mapping(kept, name) if kept else guess_mapping(open_book(content, name))
                content = without_people(content, name, None, mapping)
            yield {
                **_to_dict(book),
                "path": self._put(f"books/{number}/1-{_plain(book.name)}", content),
                "mapping": self._put(f"books/{number}/mapping.toml", book.mapping.encode()),
            }

    def _named(self, connection: Connection, table: Table, sound: Mapping[str, Any]) -> Iterator[Mapping[str, Any]]:
        """What is kept by its name: mappings, or settings, of which a picture is kept as bytes."""
        changed = connection.execute(select(table.c.name, table.c.changed).where(table.c.name.in_(sound)))
        for number, (name, day) in enumerate(sorted(changed), 1):
            if not self.people and name in NAMES:
                continue
            value, record = sound[name], {"name": name, "changed": day.isoformat()}
            picture = isinstance(value, bytes)
            if table is SETTINGS:
                record["picture"] = picture
            ending = "toml" if table is MAPPINGS else "bin" if picture else "txt"
            path = f"{table.name}/{number}.{ending}"
            yield {**record, "path": self._put(path, value if picture else value.encode())}

    def _figures(self, connection: Connection) -> Iterator[Mapping[str, Any]]:
        for number, figures in enumerate(shelf.local_figures(connection), 1):
            path = self._put(f"figures/{number}.csv", figures.text.encode())
            yield {name: record for name, record in _to_dict(figures).items() if name != "text"} | {"path": path}

    def _damaged(self, connection: Connection) -> Iterator[Mapping[str, Any]]:
        """What is not as it was saved, a file a value, for whoever mends it by hand."""
        things = [*self.damaged, *visits.damaged(connection, False), *shelf.damaged(connection, False)]
        for number, thing in enumerate(things, 1):
            for name, value in as_it_stands(connection, thing):
                content = value if isinstance(value, bytes) else str(value).encode(errors="surrogateescape")
                self._put(f"damaged/{number}/{name}", content)
            yield {"kind": thing.noun, "name": thing.name, "path": f"damaged/{number}"}


def _without_people(visit: records.Visit) -> records.Visit:
    """The same visit without its details, its files, and whatever names somebody wrote or may have written in it."""

    def bare(text: str) -> str:
        entries = {name: each for name, each in parse_case(text.encode()).items() if name != "title"}
        if isinstance(there := entries.get("appliance"), dict) and "outcome_reason" in there:
            entries["appliance"] = {**there, "outcome_reason": LEFT_OUT}
        return write_case(entries)

    named = bool(visit.page.get("title") or visit.entries.get("title"))
    page = {**visit.page, "files": {}, "kept": bare(str(visit.page.get("kept", "")))}
    page |= {name: LEFT_OUT if name != "title" else "" for name in ("title", "outcome_reason") if page.get(name)}
    title = "" if named else visit.title
    return dataclasses.replace(visit, title=title, text=bare(visit.text), page=page, files={}, details={}, person="")


def _to_dict(noun: Any) -> dict[str, Any]:
    """What a noun says of itself, with days and instants written out."""
    plain = ((item.name, getattr(noun, item.name)) for item in dataclasses.fields(noun))
    return {name: value.isoformat() if isinstance(value, datetime.date) else value for name, value in plain}


def _plain(name: str) -> str:
    """A file's name without signs that some system could trip over; the list has it as it was."""
    return re.sub(r"[^\w.-]+", "_", name, flags=re.ASCII)[-LONGEST_FILE_NAME:] or "file"


# in


def read_archive(connection: Connection, path: Path, most: int = LARGEST_EXPORT) -> records.ImportSummary:
    """Take everything in; what is there already and differs stays, and what comes is kept beside it."""
    try:
        with zipfile.ZipFile(path) as archive:
            files = _Packed(path, archive, min(most, max(SMALL, DENSEST * path.stat().st_size)))
            listed = json.loads(files.content(MANIFEST, LARGEST_MANIFEST, DENSEST_MANIFEST), parse_constant=_no_number)
            if not isinstance(listed, dict) or listed["format"] != FORMAT:
                raise ReadError(path.name, "is no export of a store")
            if listed["layout"] not in range(1, LAYOUT + 1):
                raise ReadError(path.name, "was written by a newer version of this program")
            digests = listed["digests"]
            if set(files.names) != {*digests, MANIFEST}:
                raise ReadError(path.name, "does not hold the files that it lists")

            def content(name: str, most: int = records.LARGEST) -> bytes:
                found = files.content(name, most)
                if digest_of(found) != digests[name]:
                    raise ReadError(path.name, "{name} is damaged", name)
                return found

            return _Incoming(connection, path.name, content).read_all(listed)
    except OSError as error:
        raise ReadError(str(path), error.strerror or "cannot be read") from error
    except (zipfile.BadZipFile, zlib.error, EOFError, RuntimeError, NotImplementedError) as error:
        raise ReadError(path.name, "is damaged, or no export of a store ({error})", error) from error
    except (LookupError, TypeError, ValueError, AttributeError) as error:
        raise ReadError(path.name, "does not list its files as an export of a store does") from error


class _Packed:
    """The files of an export, of which no more is unpacked than it may come to."""

    def __init__(self, path: Path, archive: zipfile.ZipFile, most: int) -> None:
        times = Counter(info.filename for info in archive.infolist())
        for name, count in times.items():
            parts = name.split("/")
            if count > 1 or "\\" in name or ":" in name or any(part in ("", ".", "..") for part in parts):
                raise ReadError(path.name, "holds a file where none belongs: {text!r}", name[:100])
        self.names = {info.filename: info for info in archive.infolist()}
        self._path, self._archive, self._most, self._left = path, archive, most, most

    def content(self, name: str, most: int, densest: int = DENSEST) -> bytes:
        """Unpack a file, step by step, as what it says of its own size may be a lie."""
        info, found = self.names[name], bytearray()
        dense = max(SMALL, densest * info.compress_size)
        with self._archive.open(info) as packed:
            while step := packed.read(STEP):
                found += step
                self._left -= len(step)
                if len(found) > most:
                    raise ReadError(self._path.name, "{name} would unpack to more than {most:,} bytes", name, most)
                if len(found) > dense:
                    raise ReadError(
                        self._path.name, "{name} would unpack to more than {most} times its size", name, densest
                    )
                if self._left < 0:
                    raise ReadError(self._path.name, "would unpack to more than {most:,} bytes", self._most)
        return bytes(found)


def _no_number(text: str) -> float:
    raise ValueError(f"{text} is no number")


@dataclasses.dataclass
class _Incoming:
    """An import as it goes on."""

    connection: Connection
    name: str
    content: Callable[..., bytes]
    counts: Counter[str] = dataclasses.field(default_factory=Counter)

    def read_all(self, listed: Mapping[str, Any]) -> records.ImportSummary:
        """Take in everything that is listed."""
        self._each("visits", listed, self._visit)
        self._each("books", listed, self._book)
        first = not shelf.local_figures(self.connection)
        self._each("figures", listed, lambda record: self._figures(record, first))
        mappings: dict[str, Setting] = {**shelf.mappings(self.connection)}
        settings = shelf.settings(self.connection)
        self._each("mappings", listed, lambda record: self._named(record, mappings, shelf.put_mapping))
        self._each("settings", listed, lambda record: self._named(record, settings, shelf.put_setting))
        counts = self.counts
        return records.ImportSummary(new=counts["new"], same=counts["same"], both=counts["both"])

    def _each(self, kind: str, listed: Mapping[str, Any], take_in: Callable[[Mapping[str, Any]], None]) -> None:
        """Take in each of a list; the one that cannot be kept is named."""
        for number, found in enumerate(_list(listed[kind]), 1):
            try:
                take_in(found)
            except UNSOUND as error:
                if isinstance(error, ReadError) and error.where == self.name:
                    raise
                why: object = records.shown(error, 200) if isinstance(error, ValueError) else "is of a wrong kind"
                if isinstance(error, KeyError):
                    why = Message("{name} is not there", records.shown(error.args[0], 60))
                elif isinstance(error, ReadError | CaseError):
                    why = error.sentence
                template = "holds what cannot be kept: {kind}, row {number}: {why}"
                raise ReadError(self.name, template, kind, number, why) from error

    def _text(self, path: str) -> str:
        return self.content(path, records.LARGEST_TEXT).decode()

    def _visit(self, record: Mapping[str, Any]) -> None:
        page = json.loads(self._text(record["page"]), parse_constant=_no_number)
        if not isinstance(page, dict):
            raise CaseError("page", "must be a table")
        names = plain_names("visit.files", [file["name"] for file in _list(record["files"])])
        if len(names) != len(record["files"]):
            raise CaseError("visit.files", "names a file twice")
        visit = records.Visit(
            id=records.storable_id("visit", record["id"]),
            title=record["title"],
            version=records.kept_count("version", record["version"], least=1) - 1,
            created=_moment("created", record["created"]),
            changed=_moment("changed", record["changed"]),
            copy_of=records.storable_text("copy_of", record["copy_of"]),
            person=records.storable_text("person", record.get("person", "")),
            details=record.get("details", {}),
            text=self._text(record["case"]),
            page=page,
            files={name: self.content(file["path"]) for name, file in zip(names, record["files"], strict=True)},
        )
        visit = records.kept_visit(visit)
        there = visits.is_there(self.connection, visit)
        if there is None:
            visits.add(self.connection, visit)
            self.counts["new"] += 1
        elif there:
            self.counts["same"] += 1
        else:
            copies = set(self.connection.scalars(select(VISITS.c.id).where(VISITS.c.copy_of == visit.id)))
            kept = visits.save_conflict_copy(self.connection, visit)
            self._count(kept.id not in copies, True)

    def _id(self, noun: str, table: Table, record: Mapping[str, Any]) -> tuple[str, bool]:
        """The id of what comes, or another where it is taken; and whether it is."""
        asked = records.storable_id(noun, record["id"])
        taken = asked in set(self.connection.scalars(select(table.c.id)))
        return new_id() if taken else asked, taken

    def _book(self, record: Mapping[str, Any]) -> None:
        content, (free, taken) = self.content(record["path"]), self._id("book", BOOKS, record)
        book = records.StoredBook(
            id=free,
            name=record["name"],
            mapping=self._text(record["mapping"]),
            rows=record["rows"],
            size=len(content),
            imported=_moment("imported", record["imported"]),
        )
        saved = shelf.add_book(self.connection, book, content)
        self._count(saved.id == book.id, taken)

    def _figures(self, record: Mapping[str, Any], first: bool) -> None:
        """Sets of figures that come to others do not stand in for anything until someone says so."""
        free, taken = self._id("figures", FIGURES, record)
        figures = records.LocalFigures(
            id=free,
            name=record["name"],
            text=self._text(record["path"]),
            dated=datetime.date.fromisoformat(records.storable_text("dated", record["dated"])),
            used=_flag("used", record["used"]) and first,
            kept=_moment("kept", record["kept"]),
        )
        saved = shelf.add_figures(self.connection, figures)
        self._count(saved.id == figures.id, taken)

    def _named(
        self,
        values: Mapping[str, Any],
        kept: dict[str, Setting],
        put: Callable[[Connection, str, Any, datetime.datetime], None],
    ) -> None:
        """What is there by a name and differs stays; what comes is kept under the name and a number."""
        picture = _flag("picture", values.get("picture", False))
        value: Setting = self.content(values["path"]) if picture else self._text(values["path"])
        name = records.storable_name("name", values["name"])
        names = (name, *(f"{name} ({number})" for number in range(2, len(kept) + 3)))
        free = next(each for each in names if each not in kept or kept[each] == value)
        if free not in kept:
            put(self.connection, free, value, _moment("changed", values["changed"]))
        self._count(free not in kept, free != name)
        kept[free] = value

    def _count(self, added: bool, was_taken: bool) -> None:
        self.counts["same" if not added else "both" if was_taken else "new"] += 1


def _list(found: object) -> list[Any]:
    if not isinstance(found, list):
        raise TypeError
    return found


def _flag(field: str, found: object) -> bool:
    if not isinstance(found, bool):
        raise CaseError(field, "must be true or false, got {got}", records.shown(found, 60))
    return found


def _moment(field: str, text: object) -> datetime.datetime:
    try:
        return records.kept_moment(field, datetime.datetime.fromisoformat(records.storable_text(field, text)))
    except ValueError:
        raise CaseError(field, "must be a time with its zone, got {got}", records.shown(text, 60)) from None
