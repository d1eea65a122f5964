"""The rest of the store: job books, mappings, the shop's own figures, settings. Each works in a transaction at hand."""

import datetime
from collections.abc import Callable, Mapping
from typing import Any

from sqlalchemy import Connection, Table, delete, insert, select, update

from . import records
from .records import UNSOUND, Damaged, LocalFigures, NotFound, StoredBook, Thing
from .schema import BOOKS, FIGURES, MAPPINGS, SETTINGS
from .seals import AsKept, Noun, change, digest_of, rows_of, sealed, sorted_out, telling_damage, unbroken, whole

Setting = str | bytes


def damaged(connection: Connection, deep: bool) -> list[Thing]:
    """What is not as it was saved; with `deep` the bytes of the books are looked at too."""
    found = [
        thing
        for table, make in ((BOOKS, _book), (MAPPINGS, _mapping), (FIGURES, _figures), (SETTINGS, setting))
        for thing in sorted_out(connection, table, rows_of(table), make)[1]
    ]
    for book in books(connection) if deep else ():
        try:
            book_content(connection, book.id)
        except Damaged:
            found.append(Thing("book", book.id, book.name))
    return found


# job books


def add_book(connection: Connection, book: StoredBook, content: bytes) -> StoredBook:
    """Keep a job book as it came; one that is there with the same name, bytes and mapping is not kept twice."""
    size, digest = len(records.storable_bytes("book", content)), digest_of(content)
    row = {**_sound_book(vars(book)), "size": size, "digest": digest}
    there = _like(connection, BOOKS, row, ("name", "digest", "mapping", "rows"), _book)
    if there is None:
        connection.execute(insert(BOOKS).values(**sealed(BOOKS, row), content=content))
    return there or book


def books(connection: Connection) -> list[StoredBook]:
    """List the job books, the last one first."""
    return sorted_out(connection, BOOKS, rows_of(BOOKS).order_by(BOOKS.c.imported.desc(), BOOKS.c.id), _book)[0]


def _book(row: AsKept) -> StoredBook:
    """A book whose mapping cannot be read is one that was never mapped."""
    unbroken(BOOKS, row)
    try:
        mapping = records.kept_mapping(row["mapping"]) if row["mapping"] else ""
    except UNSOUND:
        mapping = ""
    return StoredBook(**_sound_book({**row, "mapping": mapping}))


def _sound_book(found: Mapping[str, Any]) -> dict[str, Any]:
    """What is said of a book, where all of it can be kept."""
    return {
        "id": records.storable_id("book", found["id"]),
        "name": records.storable_name("book", found["name"]),
        "mapping": found["mapping"] and records.kept_mapping(found["mapping"]),
        "rows": records.kept_count("rows", found["rows"]),
        "size": records.kept_count("size", found["size"]),
        "imported": records.kept_moment("imported", found["imported"]),
    }


def book_content(connection: Connection, book: str) -> bytes:
    """Read the bytes of a job book by its id, as they came; `Damaged` where they are others."""
    asked = select(BOOKS.c.content, BOOKS.c.digest).where(BOOKS.c.id == book)
    there = connection.execute(asked).one_or_none()
    if there is None:
        raise NotFound("book", book)
    with telling_damage(connection, Thing("book", book)):
        return whole(there.content, there.digest)


def map_book(connection: Connection, book: str, mapping: str, rows: int) -> None:
    """Say anew which column of a job book means what, and how many rows can be read by it."""
    values = {"mapping": mapping and records.kept_mapping(mapping), "rows": records.kept_count("rows", rows)}
    change(connection, BOOKS, book, values)


# mappings


def put_mapping(connection: Connection, name: str, mapping: str, now: datetime.datetime) -> None:
    """Keep a mapping of columns under a name, in place of what was there by it."""
    row = {
        "name": records.storable_name("mapping", name),
        "mapping": records.kept_mapping(mapping),
        "changed": now,
    }
    _put(connection, MAPPINGS, row)


def mappings(connection: Connection) -> dict[str, str]:
    """Every mapping by its name."""
    return dict(sorted(sorted_out(connection, MAPPINGS, rows_of(MAPPINGS), _mapping)[0]))


def _mapping(row: AsKept) -> tuple[str, str]:
    unbroken(MAPPINGS, row)
    records.kept_moment("changed", row["changed"])
    return records.storable_name("mapping", row["name"]), records.kept_mapping(row["mapping"])


# the shop's own figures


def add_figures(connection: Connection, figures: LocalFigures) -> LocalFigures:
    """Keep a set of own figures; one that is there with the same name, date and rows is not kept twice."""
    row = _sound_figures({**vars(figures), "rows": figures.text})
    there = _like(connection, FIGURES, row, ("name", "rows", "dated"), _figures)
    if there is None:
        connection.execute(insert(FIGURES).values(**sealed(FIGURES, row)))
    return there or figures


def local_figures(connection: Connection) -> list[LocalFigures]:
    """List the sets of own figures, the last one first."""
    wanted = rows_of(FIGURES).order_by(FIGURES.c.dated.desc(), FIGURES.c.kept.desc(), FIGURES.c.id)
    return sorted_out(connection, FIGURES, wanted, _figures)[0]


def _figures(row: AsKept) -> LocalFigures:
    unbroken(FIGURES, row)
    found = _sound_figures(row)
    return LocalFigures(text=found.pop("rows"), **found)


def _sound_figures(found: AsKept) -> dict[str, Any]:
    """What is said of a set of figures, where all of it can be kept."""
    return {
        "id": records.storable_id("figures", found["id"]),
        "name": records.storable_name("figures", found["name"]),
        "rows": records.kept_figures("figures", found["rows"]),
        "dated": records.kept_day("dated", found["dated"]),
        "used": bool(found["used"]),
        "kept": records.kept_moment("kept", found["kept"]),
    }


def use_figures(connection: Connection, figures: str, used: bool) -> None:
    """Let a set of own figures stand in for the shipped ones, or no longer."""
    change(connection, FIGURES, figures, {"used": used})


# settings


def put_setting(connection: Connection, name: str, value: Setting | None, now: datetime.datetime) -> None:
    """Keep a setting in place of what was there by its name; None takes it away."""
    field = f"settings.{records.storable_name('settings', name)}"
    if value is None:
        connection.execute(delete(SETTINGS).where(SETTINGS.c.name == name))
        return
    text = records.storable_text(field, value, records.LARGEST_TEXT) if isinstance(value, str) else None
    content = records.storable_bytes(field, value) if isinstance(value, bytes) else None
    _put(connection, SETTINGS, {"name": name, "value": text, "content": content, "changed": now})


def settings(connection: Connection) -> dict[str, Setting]:
    """Every setting by its name."""
    return dict(sorted(sorted_out(connection, SETTINGS, rows_of(SETTINGS), setting)[0], key=lambda each: each[0]))


def setting(row: AsKept) -> tuple[str, Setting]:
    """A setting with its name, as it was saved."""
    unbroken(SETTINGS, row)
    records.kept_moment("changed", row["changed"])
    name, value, content = records.storable_name("settings", row["name"]), row["value"], row["content"]
    if isinstance(content, bytes) and value is None:
        return name, content
    return name, records.storable_text(f"settings.{name}", value)


def _like(
    connection: Connection, table: Table, row: Mapping[str, Any], names: tuple[str, ...], make: Callable[[AsKept], Noun]
) -> Noun | None:
    """What is there with the same in some columns; None where nothing sound is."""
    same = rows_of(table).filter_by(**{name: row[name] for name in names})
    return next(iter(sorted_out(connection, table, same, make)[0]), None)


def _put(connection: Connection, table: Table, row: Mapping[str, Any]) -> None:
    """Put a row in the place of the one with its name."""
    records.kept_moment("changed", row["changed"])
    row = sealed(table, row)
    if not connection.execute(update(table).where(table.c.name == row["name"]).values(**row)).rowcount:
        connection.execute(insert(table).values(**row))
