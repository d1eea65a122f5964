"""The rest of the store: job books, mappings, the shop's own figures, settings. Each works in a transaction at hand."""

import datetime
from collections.abc import Mapping

from sqlalchemy import Connection, Delete, Update, delete, insert, select, update

from .store_records import Book, LocalFigures, NotKept, kept_bytes, kept_name, kept_text, kept_toml
from .store_schema import BOOKS, FIGURES, MAPPINGS, SETTINGS
from .store_visits import digest_of

BOOK = (BOOKS.c.id, BOOKS.c.name, BOOKS.c.mapping, BOOKS.c.rows, BOOKS.c.size, BOOKS.c.imported)

Setting = str | bytes


# job books


def add_book(connection: Connection, book: Book, content: bytes) -> Book:
    """Keep a job book as it came; one that is there with the same name, bytes and mapping is not kept twice."""
    kept_name("book", book.name)
    kept_toml("mapping", book.mapping)
    digest = digest_of(kept_bytes("book", content))
    alike = {"name": book.name, "digest": digest, "mapping": book.mapping, "rows": book.rows}
    same = select(*BOOK).filter_by(**alike).limit(1)
    there = connection.execute(same).mappings().one_or_none()
    if there is not None:
        return Book(**there)
    row = {**alike, "id": book.id, "size": len(content), "content": content, "imported": book.imported}
    connection.execute(insert(BOOKS).values(**row))
    return book


def books(connection: Connection) -> list[Book]:
    """List the job books, the last one first."""
    wanted = select(*BOOK).order_by(BOOKS.c.imported.desc(), BOOKS.c.id)
    return [Book(**row) for row in connection.execute(wanted).mappings()]


def book_content(connection: Connection, book: str) -> bytes:
    """Read the bytes of a job book."""
    content = connection.execute(select(BOOKS.c.content).where(BOOKS.c.id == book)).scalar_one_or_none()
    if content is None:
        raise NotKept("book", book)
    return bytes(content)


def map_book(connection: Connection, book: str, mapping: str, rows: int) -> None:
    """Say anew which column of a job book means what, and how many rows can be read by it."""
    values = {"mapping": kept_toml("mapping", mapping), "rows": rows}
    _there(connection, update(BOOKS).where(BOOKS.c.id == book).values(**values), "book", book)


def remove_book(connection: Connection, book: str) -> None:
    """Delete a job book."""
    _there(connection, delete(BOOKS).where(BOOKS.c.id == book), "book", book)


# mappings


def put_mapping(connection: Connection, name: str, mapping: str, now: datetime.datetime) -> None:
    """Keep a mapping of columns under a name, in place of what was there by it."""
    values = {"mapping": kept_toml("mapping", mapping), "changed": now}
    named = update(MAPPINGS).where(MAPPINGS.c.name == kept_name("mapping", name))
    if not connection.execute(named.values(**values)).rowcount:
        connection.execute(insert(MAPPINGS).values(name=name, **values))


def mappings(connection: Connection) -> dict[str, str]:
    """Every mapping by its name."""
    rows = connection.execute(select(MAPPINGS.c.name, MAPPINGS.c.mapping))
    return dict(sorted((name, mapping) for name, mapping in rows))


def remove_mapping(connection: Connection, name: str) -> None:
    """Delete a mapping."""
    _there(connection, delete(MAPPINGS).where(MAPPINGS.c.name == name), "mapping", name)


# the shop's own figures


def add_figures(connection: Connection, figures: LocalFigures) -> LocalFigures:
    """Keep a set of own figures; one that is there with the same name, date and rows is not kept twice."""
    kept_name("figures", figures.name)
    alike = {"name": figures.name, "rows": kept_text("figures", figures.text), "dated": figures.dated}
    same = select(FIGURES.c.id).filter_by(**alike).limit(1)
    there = connection.execute(same).scalar_one_or_none()
    if there is not None:
        return next(each for each in local_figures(connection) if each.id == there)
    connection.execute(insert(FIGURES).values(id=figures.id, used=figures.used, kept=figures.kept, **alike))
    return figures


def local_figures(connection: Connection) -> list[LocalFigures]:
    """List the sets of own figures, the last one first."""
    wanted = select(FIGURES).order_by(FIGURES.c.dated.desc(), FIGURES.c.kept.desc(), FIGURES.c.id)
    return [
        LocalFigures(id=row.id, name=row.name, text=row.rows, dated=row.dated, used=row.used, kept=row.kept)
        for row in connection.execute(wanted)
    ]


def use_figures(connection: Connection, figures: str, used: bool) -> None:
    """Let a set of own figures stand in for the shipped ones, or no longer."""
    _there(connection, update(FIGURES).where(FIGURES.c.id == figures).values(used=used), "figures", figures)


def remove_figures(connection: Connection, figures: str) -> None:
    """Delete a set of own figures."""
    _there(connection, delete(FIGURES).where(FIGURES.c.id == figures), "figures", figures)


# settings


def put_settings(connection: Connection, values: Mapping[str, Setting | None], now: datetime.datetime) -> None:
    """Keep settings in place of what was there by their names; None takes one away."""
    for name, value in values.items():
        kept_name("settings", name)
        if value is None:
            connection.execute(delete(SETTINGS).where(SETTINGS.c.name == name))
            continue
        text = kept_text(f"settings.{name}", value) if isinstance(value, str) else None
        content = kept_bytes(f"settings.{name}", value) if isinstance(value, bytes) else None
        row = {"value": text, "content": content, "changed": now}
        if not connection.execute(update(SETTINGS).where(SETTINGS.c.name == name).values(**row)).rowcount:
            connection.execute(insert(SETTINGS).values(name=name, **row))


def settings(connection: Connection) -> dict[str, Setting]:
    """Every setting by its name."""
    found = connection.execute(select(SETTINGS.c.name, SETTINGS.c.value, SETTINGS.c.content))
    told = ((name, bytes(content) if value is None else value) for name, value, content in found)  # type: ignore[arg-type]
    return dict(sorted(told, key=lambda each: each[0]))


def _there(connection: Connection, change: Update | Delete, noun: str, name: str) -> None:
    if not connection.execute(change).rowcount:
        raise NotKept(noun, name)
