"""Seals of what is kept: a row that is not as it was saved is recognised, skipped, and can be deleted."""

import datetime
import hashlib
import json
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from typing import Any, Final, TypeVar

from sqlalchemy import Connection, Row, RowMapping, Select, Table, delete, select, text, update

from .opening import redacted
from .records import UNSOUND, Damaged, NotFound, Thing
from .schema import BOOKS, FIGURES, FILES, MAPPINGS, SETTINGS, VISITS

Noun = TypeVar("Noun")

AsKept = Mapping[str, Any] | RowMapping
"""A row, by its columns."""

TABLES: Final = {"visit": VISITS, "book": BOOKS, "mapping": MAPPINGS, "figures": FIGURES, "setting": SETTINGS}
"""Where each noun stands; the first column of a table is its key."""

NOUNS: Final = {table.name: noun for noun, table in TABLES.items()}

UNSEALED: Final = ("sought", "seal", "person")
"""Columns that follow from the others, or only say who may look; bytes of a book are sealed by their digest."""


class BrokenSealError(ValueError):
    """A row, or a file, is not what was saved."""


def digest_of(content: bytes) -> str:
    """SHA-256 of some bytes."""
    return hashlib.sha256(content).hexdigest()


def seal_of(table: Table, row: AsKept, files: Mapping[str, str] | None = None) -> str:
    """SHA-256 of what a row says; `files` are the digests of a visit's files, by their names."""
    found = [_plain(row[column.name]) for column in _columns(table) if column.name not in UNSEALED]
    if files is not None:
        found.append(sorted([str(name), str(digest)] for name, digest in files.items()))
    return digest_of(json.dumps([table.name, *found]).encode())


def sealed(table: Table, row: AsKept, files: Mapping[str, str] | None = None) -> dict[str, Any]:
    """The row with its seal."""
    return {**row, "seal": seal_of(table, row, files)}


def unbroken(table: Table, row: AsKept, files: Mapping[str, str] | None = None) -> None:
    """Refuse a row that is not what was saved."""
    if row["seal"] != seal_of(table, row, files):
        raise BrokenSealError(table.name)


def whole(content: bytes | None, digest: str) -> bytes:
    """Hand bytes back that are those which were saved."""
    if content is None or digest_of(content) != digest:
        raise BrokenSealError(digest)
    return content


def _columns(table: Table) -> list[Any]:
    """All columns of a table but the bytes of books."""
    return [column for column in table.columns if not (table is BOOKS and column.name == "content")]


def _plain(value: object) -> object:
    if isinstance(value, datetime.datetime):
        return value.astimezone(datetime.UTC).isoformat()
    if isinstance(value, datetime.date):
        return str(value)
    return digest_of(value) if isinstance(value, bytes) else value


# rows


def rows_of(table: Table) -> Select[*tuple[Any, ...]]:
    """Select all of a table but the bytes of books."""
    return select(*_columns(table))


def sorted_out(
    connection: Connection, table: Table, wanted: Select[*tuple[Any, ...]], make: Callable[[AsKept], Noun]
) -> tuple[list[Noun], list[Thing]]:
    """What can be made of some rows, and the rows that are damaged."""
    sound, damaged = [], []
    for row in connection.execute(wanted).mappings():
        try:
            sound.append(make(row))
        except UNSOUND:
            title = row.get("title") or row.get("name")
            damaged.append(Thing(NOUNS[table.name], row[next(iter(table.columns)).name], str(title or "")))
    return sound, damaged


def change(connection: Connection, table: Table, key: str, values: Mapping[str, Any]) -> None:
    """Change a row that is as it was saved, and seal it anew; a damaged one is not made to look sound."""
    noun, first = NOUNS[table.name], next(iter(table.columns))
    row = connection.execute(rows_of(table).where(first == key).with_for_update()).mappings().one_or_none()
    if row is None:
        raise NotFound(noun, key)
    with telling_damage(connection, Thing(noun, key)):
        unbroken(table, row)
    after = sealed(table, {**row, **values})
    connection.execute(update(table).where(first == key).values(**values, seal=after["seal"]))


@contextmanager
def telling_damage(connection: Connection, thing: Thing) -> Iterator[None]:
    """Say of one thing that it is damaged, where it cannot be read."""
    try:
        yield
    except UNSOUND as error:
        raise Damaged(redacted(connection.engine.url), (thing,)) from error


def remove(connection: Connection, thing: Thing) -> None:
    """Delete a thing, sound or damaged."""
    key = next(iter(TABLES[thing.noun].columns))
    there = key.is_(None) if thing.key is None else key == thing.key
    if not connection.execute(delete(TABLES[thing.noun]).where(there)).rowcount:
        raise NotFound(thing.noun, thing.name)


def as_it_stands(connection: Connection, thing: Thing) -> Iterator[tuple[str, object]]:
    """What the rows of a thing hold, whatever it is, each value by its column; of a visit also of its files."""
    names = {"visit": (VISITS, FILES)}.get(thing.noun, (TABLES[thing.noun],))
    for table in names:
        key = next(iter(table.columns)).name
        alike = "IS" if connection.dialect.name == "sqlite" else "IS NOT DISTINCT FROM"
        asked = text(f"SELECT * FROM {table.name} WHERE {key} {alike} :key")
        rows: list[Row[Any]] = list(connection.execute(asked, {"key": thing.key}))
        for number, row in enumerate(rows):
            yield from ((f"{table.name}.{number}.{name}", value) for name, value in row._mapping.items())
