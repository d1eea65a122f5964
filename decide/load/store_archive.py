"""Everything of a store in one file, and back: a zip of plain files with a list of what they are.

    manifest.json              what is there, when it was kept, and the digest of every file
    visits/1/case.toml         the entries; beside it page.json and the files that the entries name
    books/1/...                a job book as it came, and mapping.toml
    mappings/1.toml  figures/1.csv  settings/1.txt

What comes in is not trusted: every file must be on the list, small enough, where it belongs, and whole.
"""

import dataclasses
import datetime
import json
import os
import re
import tempfile
import zipfile
import zlib
from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Final

from sqlalchemy import Connection, select

from ..errors import CaseError, ReadError
from . import store_shelf, store_visits
from .store_records import LARGEST, Arrived, Book, LocalFigures, Visit, kept_id, kept_toml
from .store_schema import MAPPINGS, SETTINGS
from .store_shelf import Setting
from .store_visits import digest_of, new_id

FORMAT: Final = "mendpoint store"
LAYOUT: Final = 1
"""Of the files in an export; a later layout is refused."""

MANIFEST: Final = "manifest.json"
LARGEST_MANIFEST: Final = 100_000_000
LARGEST_EXPORT: Final = 4_000_000_000
"""All files of an export, unpacked. [byte]"""

MOST: Final = 2**31 - 1
"""Of rows and of saves, as every database can count them."""

LONGEST_FILE_NAME: Final = 80


# out


def write_archive(connection: Connection, path: Path, now: datetime.datetime) -> None:
    """Write everything to a file that is not there yet; it comes to stand there whole or not at all."""
    try:
        if path.exists():
            raise ReadError(str(path), "is there already; name another file")
        handle, half = tempfile.mkstemp(prefix=".", suffix=".part", dir=path.resolve().parent)
        try:
            with os.fdopen(handle, "wb") as file:
                with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive:
                    _Outgoing(archive, now).write_all(connection)
                file.flush()
                os.fsync(file.fileno())
            Path(half).replace(path)
        finally:
            Path(half).unlink(missing_ok=True)
    except OSError as error:
        raise ReadError(str(path), error.strerror or "cannot be written") from error


@dataclasses.dataclass
class _Outgoing:
    """An export as it grows."""

    archive: zipfile.ZipFile
    now: datetime.datetime
    digests: dict[str, str] = dataclasses.field(default_factory=dict)

    def write_all(self, connection: Connection) -> None:
        """Write every file, and last the list of them."""
        listed = {
            "format": FORMAT,
            "layout": LAYOUT,
            "written": self.now.isoformat(),
            "visits": list(self._visits(connection)),
            "books": list(self._books(connection)),
            "mappings": list(self._mappings(connection)),
            "figures": list(self._figures(connection)),
            "settings": list(self._settings(connection)),
            "digests": self.digests,
        }
        self._put(MANIFEST, json.dumps(listed, indent=1).encode())

    def _put(self, path: str, content: bytes) -> str:
        self.digests[path] = digest_of(content)
        info = zipfile.ZipInfo(path, self.now.timetuple()[:6])
        self.archive.writestr(info, content, zipfile.ZIP_DEFLATED)
        return path

    def _visits(self, connection: Connection) -> Iterator[Mapping[str, Any]]:
        lines = store_visits.listed(connection)
        for number, line in enumerate(lines, 1):
            visit, folder = store_visits.read(connection, line.id), f"visits/{number}"
            files = [
                {"name": name, "path": self._put(f"{folder}/{at}-{_plain(name)}", content)}
                for at, (name, content) in enumerate(visit.files.items(), 1)
            ]
            yield {
                **_told(line),
                "case": self._put(f"{folder}/case.toml", visit.text.encode()),
                "page": self._put(f"{folder}/page.json", store_visits.page_as_text(visit.page).encode()),
                "files": files,
            }

    def _books(self, connection: Connection) -> Iterator[Mapping[str, Any]]:
        for number, book in enumerate(store_shelf.books(connection), 1):
            content = store_shelf.book_content(connection, book.id)
            yield {
                **_told(book),
                "path": self._put(f"books/{number}/1-{_plain(book.name)}", content),
                "mapping": self._put(f"books/{number}/mapping.toml", book.mapping.encode()),
            }

    def _mappings(self, connection: Connection) -> Iterator[Mapping[str, Any]]:
        rows = connection.execute(select(MAPPINGS).order_by(MAPPINGS.c.name))
        for number, row in enumerate(rows, 1):
            path = self._put(f"mappings/{number}.toml", row.mapping.encode())
            yield {"name": row.name, "changed": row.changed.isoformat(), "path": path}

    def _figures(self, connection: Connection) -> Iterator[Mapping[str, Any]]:
        for number, figures in enumerate(store_shelf.local_figures(connection), 1):
            path = self._put(f"figures/{number}.csv", figures.text.encode())
            yield {name: told for name, told in _told(figures).items() if name != "text"} | {"path": path}

    def _settings(self, connection: Connection) -> Iterator[Mapping[str, Any]]:
        rows = connection.execute(select(SETTINGS).order_by(SETTINGS.c.name))
        for number, row in enumerate(rows, 1):
            picture = row.value is None
            content = row.content if picture else row.value.encode()
            path = self._put(f"settings/{number}.{'bin' if picture else 'txt'}", bytes(content))
            yield {"name": row.name, "changed": row.changed.isoformat(), "picture": picture, "path": path}


def _told(noun: Any) -> dict[str, Any]:
    """What a noun says of itself, with days and instants written out."""
    plain = ((item.name, getattr(noun, item.name)) for item in dataclasses.fields(noun))
    return {name: told.isoformat() if isinstance(told, datetime.date) else told for name, told in plain}


def _plain(name: str) -> str:
    """A file's name without signs that some system could trip over; the list has it as it was."""
    return re.sub(r"[^\w.-]+", "_", name, flags=re.ASCII)[-LONGEST_FILE_NAME:] or "file"


# in


def read_archive(connection: Connection, path: Path) -> Arrived:
    """Take everything in; what is there already and differs stays, and what comes is kept beside it."""
    with _complaining(path), zipfile.ZipFile(path) as archive:
        files = _safe_files(path, archive)
        listed = json.loads(_content(path, archive, files, MANIFEST, LARGEST_MANIFEST))
        if not isinstance(listed, dict) or listed["format"] != FORMAT:
            raise ReadError(path.name, "is no export of a store")
        if listed["layout"] != LAYOUT:
            raise ReadError(path.name, "was written by a newer version of this program")
        digests = listed["digests"]
        if set(files) != {*digests, MANIFEST}:
            raise ReadError(path.name, "does not hold the files that it lists")

        def content(name: str) -> bytes:
            found = _content(path, archive, files, name, LARGEST)
            if digest_of(found) != digests[name]:
                raise ReadError(path.name, f"{name} is damaged")
            return found

        return _Incoming(connection, content).read_all(listed)


@contextmanager
def _complaining(path: Path) -> Iterator[None]:
    """Say of a file that cannot be taken in that it is so."""
    try:
        yield
    except OSError as error:
        raise ReadError(str(path), error.strerror or "cannot be read") from error
    except CaseError as error:
        raise ReadError(path.name, f"holds what cannot be kept: {error}") from error
    except (zipfile.BadZipFile, zlib.error, EOFError, RuntimeError, NotImplementedError) as error:
        raise ReadError(path.name, f"is damaged, or no export of a store ({error})") from error
    except (LookupError, TypeError, ValueError, AttributeError) as error:
        raise ReadError(path.name, "does not list its files as an export of a store does") from error


def _safe_files(path: Path, archive: zipfile.ZipFile) -> dict[str, zipfile.ZipInfo]:
    """The files of an archive by their names, unless one of them is a trick."""
    names = Counter(info.filename for info in archive.infolist())
    for name, times in names.items():
        parts = name.split("/")
        if times > 1 or "\\" in name or ":" in name or any(part in ("", ".", "..") for part in parts):
            raise ReadError(path.name, f"holds a file where none belongs: {name[:100]!r}")
    if sum(info.file_size for info in archive.infolist()) > LARGEST_EXPORT:
        raise ReadError(path.name, f"would unpack to more than {LARGEST_EXPORT:,} bytes")
    return {info.filename: info for info in archive.infolist()}


def _content(
    path: Path, archive: zipfile.ZipFile, files: Mapping[str, zipfile.ZipInfo], name: str, largest: int
) -> bytes:
    info = files[name]
    if info.file_size > largest:
        raise ReadError(path.name, f"{name} would unpack to more than {largest:,} bytes")
    return archive.read(info)  # never more than the size it states


@dataclasses.dataclass
class _Incoming:
    """An import as it goes on."""

    connection: Connection
    content: Callable[[str], bytes]
    counts: Counter[str] = dataclasses.field(default_factory=Counter)

    def read_all(self, listed: Mapping[str, Any]) -> Arrived:
        """Take in everything that is listed."""
        for told in listed["visits"]:
            self._visit(told)
        for told in listed["books"]:
            self._book(told)
        self._all_figures(listed["figures"])
        self._all_named(listed["mappings"], store_shelf.mappings(self.connection), self._put_mapping)
        self._all_named(listed["settings"], store_shelf.settings(self.connection), self._put_setting)
        return Arrived(**self.counts)

    def _text(self, path: str) -> str:
        return self.content(path).decode()

    def _visit(self, told: Mapping[str, Any]) -> None:
        page = json.loads(self._text(told["page"]))
        visit = Visit(
            id=kept_id("visit", told["id"]),
            title=_string(told["title"]),
            version=_count(told["version"], least=1) - 1,
            created=_moment(told["created"]),
            changed=_moment(told["changed"]),
            copy_of=told["copy_of"] and kept_id("visit", told["copy_of"]),
            text=kept_toml("visit.entries", self._text(told["case"])),
            page=dict(page),
            files={_string(file["name"]): self.content(file["path"]) for file in told["files"]},
        )
        there = store_visits.is_there(self.connection, store_visits.checked(visit))
        if there is None:
            store_visits.add(self.connection, visit)
            self.counts["new"] += 1
        elif there:
            self.counts["same"] += 1
        else:
            copies = store_visits.copies_of(self.connection, visit.id)
            kept = store_visits.keep_beside(self.connection, visit)
            self._count(kept.id not in copies, True)

    def _book(self, told: Mapping[str, Any]) -> None:
        content = self.content(told["path"])
        taken = {book.id for book in store_shelf.books(self.connection)}
        book = Book(
            id=_free(kept_id("book", told["id"]), taken),
            name=_string(told["name"]),
            mapping=self._text(told["mapping"]),
            rows=_count(told["rows"]),
            size=len(content),
            imported=_moment(told["imported"]),
        )
        saved = store_shelf.add_book(self.connection, book, content)
        self._count(saved.id == book.id, told["id"] in taken)

    def _all_figures(self, listed: list[Mapping[str, Any]]) -> None:
        """Sets of figures that come to others do not stand in for anything until someone says so."""
        first = not store_shelf.local_figures(self.connection)
        for told in listed:
            taken = {figures.id for figures in store_shelf.local_figures(self.connection)}
            figures = LocalFigures(
                id=_free(kept_id("figures", told["id"]), taken),
                name=_string(told["name"]),
                text=self._text(told["path"]),
                dated=datetime.date.fromisoformat(told["dated"]),
                used=first and told["used"] is True,
                kept=_moment(told["kept"]),
            )
            saved = store_shelf.add_figures(self.connection, figures)
            self._count(saved.id == figures.id, told["id"] in taken)

    def _all_named(
        self,
        listed: list[Mapping[str, Any]],
        there: Mapping[str, Setting],
        put: Callable[[str, Setting, datetime.datetime], None],
    ) -> None:
        """What is there by a name and differs stays; what comes is kept under the name and a number."""
        kept = dict(there)
        for told in listed:
            content = self.content(told["path"])
            value = content if told.get("picture") is True else content.decode()
            name = _string(told["name"])
            names = (name, *(f"{name} ({number})" for number in range(2, len(kept) + 3)))
            free = next(each for each in names if each not in kept or kept[each] == value)
            if free not in kept:
                put(free, value, _moment(told["changed"]))
            self._count(free not in kept, free != name)
            kept[free] = value

    def _put_mapping(self, name: str, mapping: Setting, changed: datetime.datetime) -> None:
        store_shelf.put_mapping(self.connection, name, str(mapping), changed)

    def _put_setting(self, name: str, value: Setting, changed: datetime.datetime) -> None:
        store_shelf.put_settings(self.connection, {name: value}, changed)

    def _count(self, added: bool, was_taken: bool) -> None:
        self.counts["same" if not added else "both" if was_taken else "new"] += 1


def _free(name: str, taken: set[str]) -> str:
    return new_id() if name in taken else name


def _string(told: object) -> str:
    if not isinstance(told, str):
        raise TypeError
    return told


def _count(told: object, least: int = 0) -> int:
    if not isinstance(told, int) or not least <= told <= MOST:
        raise ValueError
    return int(told)


def _moment(told: str) -> datetime.datetime:
    """An instant, of which no one needs to guess the zone."""
    moment = datetime.datetime.fromisoformat(told)
    if moment.tzinfo is None:
        raise ValueError
    return moment
