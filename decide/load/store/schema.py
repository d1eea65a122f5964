"""The tables of the store, and how an older store is brought to them.

Each change of a table is a script in `migrations/versions`, run at opening. The tables here are those after the last.
"""

import datetime
from collections.abc import Callable
from pathlib import Path
from typing import Any, Final, TypeVar

import sqlalchemy as sa

from ...errors import StoreError

NEWEST: Final = "0005"
"""Version that this program writes."""

VERSIONS: Final = "store_version"
"""Table with the version of the store."""

MIGRATIONS: Final = Path(__file__).resolve().parent / "migrations"

ONE_AT_A_TIME: Final = 0x6D656E64
"""Lock of a server under which tables are changed."""


Told = TypeVar("Told")


class _Lenient(sa.TypeDecorator[Told]):
    """A value of which a damaged row may hold something else; that is handed on as None, for the row to be set aside.

    A file holds any value in any column, so one spoilt day would else stop the reading of all.
    """

    cache_ok = True

    def result_processor(self, dialect: sa.Dialect, coltype: object) -> Callable[[Any], Any]:
        """Read a value, if it can be read."""
        read = super().result_processor(dialect, coltype)

        def lenient(value: Any) -> Any:
            try:
                return value if read is None else read(value)
            except (ValueError, TypeError, AttributeError, OverflowError):
                return None

        return lenient


class Moment(_Lenient[datetime.datetime]):
    """An instant. Kept in universal time without saying so, as not every database knows zones."""

    impl = sa.DateTime
    cache_ok = True

    def process_bind_param(self, value: datetime.datetime | None, dialect: sa.Dialect) -> datetime.datetime | None:
        """Bring an instant to universal time."""
        return None if value is None else value.astimezone(datetime.UTC).replace(tzinfo=None)

    def process_result_value(self, value: datetime.datetime | None, dialect: sa.Dialect) -> datetime.datetime | None:
        """Say again that it is universal time."""
        return None if value is None else value.replace(tzinfo=datetime.UTC)


class Day(_Lenient[datetime.date]):
    """A day."""

    impl = sa.Date
    cache_ok = True


class Flag(_Lenient[bool]):
    """Yes or no."""

    impl = sa.Boolean
    cache_ok = True


class Content(_Lenient[bytes]):
    """Bytes of a file."""

    impl = sa.LargeBinary
    cache_ok = True

    def result_processor(self, dialect: sa.Dialect, coltype: object) -> Callable[[Any], Any]:
        """Read bytes; a number is none, though it could be read as so many of them."""
        return lambda value: bytes(value) if isinstance(value, bytes | bytearray | memoryview) else None


METADATA: Final = sa.MetaData()


class _VisitColumns(sa.TypedColumns):
    id: sa.Named[str] = sa.Column(sa.Text, primary_key=True)
    title: sa.Named[str] = sa.Column(sa.Text)
    sought: sa.Named[str] = sa.Column(sa.Text, server_default="")
    """The title as a search compares it, since databases disagree on capitals."""
    entries: sa.Named[str] = sa.Column(sa.Text)
    page: sa.Named[str] = sa.Column(sa.Text)
    version: sa.Named[int]
    created: sa.Named[datetime.datetime] = sa.Column(Moment)
    changed: sa.Named[datetime.datetime] = sa.Column(Moment, index=True)
    copy_of: sa.Named[str] = sa.Column(sa.Text, server_default="")
    seal: sa.Named[str] = sa.Column(sa.Text, server_default="")
    """Digest of all that the row says, and of the names and digests of its files."""
    person: sa.Named[str] = sa.Column(sa.Text, server_default="")
    """Who made it, where people sign in; '' for nobody. Not sealed: only owners see what is spoilt here."""


class _FileColumns(sa.TypedColumns):
    visit: sa.Named[str] = sa.Column(sa.Text, sa.ForeignKey("visits.id", ondelete="CASCADE"), primary_key=True)
    name: sa.Named[str] = sa.Column(sa.Text, primary_key=True)
    digest: sa.Named[str] = sa.Column(sa.Text)
    content: sa.Named[bytes] = sa.Column(Content)


class _BookColumns(sa.TypedColumns):
    id: sa.Named[str] = sa.Column(sa.Text, primary_key=True)
    name: sa.Named[str] = sa.Column(sa.Text)
    mapping: sa.Named[str] = sa.Column(sa.Text)
    rows: sa.Named[int]
    size: sa.Named[int]
    digest: sa.Named[str] = sa.Column(sa.Text)
    content: sa.Named[bytes] = sa.Column(Content)
    imported: sa.Named[datetime.datetime] = sa.Column(Moment)
    seal: sa.Named[str] = sa.Column(sa.Text, server_default="")


class _MappingColumns(sa.TypedColumns):
    name: sa.Named[str] = sa.Column(sa.Text, primary_key=True)
    mapping: sa.Named[str] = sa.Column(sa.Text)
    changed: sa.Named[datetime.datetime] = sa.Column(Moment)
    seal: sa.Named[str] = sa.Column(sa.Text, server_default="")


class _FiguresColumns(sa.TypedColumns):
    id: sa.Named[str] = sa.Column(sa.Text, primary_key=True)
    name: sa.Named[str] = sa.Column(sa.Text)
    rows: sa.Named[str] = sa.Column(sa.Text)
    dated: sa.Named[datetime.date] = sa.Column(Day)
    used: sa.Named[bool] = sa.Column(Flag)
    kept: sa.Named[datetime.datetime] = sa.Column(Moment)
    seal: sa.Named[str] = sa.Column(sa.Text, server_default="")


class _SettingColumns(sa.TypedColumns):
    name: sa.Named[str] = sa.Column(sa.Text, primary_key=True)
    value: sa.Named[str | None] = sa.Column(sa.Text)
    content: sa.Named[bytes | None] = sa.Column(Content)
    """In place of a value, where the setting is a picture."""
    changed: sa.Named[datetime.datetime] = sa.Column(Moment)
    seal: sa.Named[str] = sa.Column(sa.Text, server_default="")


class _LogColumns(sa.TypedColumns):
    id: sa.Named[int] = sa.Column(sa.Integer, primary_key=True)
    goes_on: sa.Named[int] = sa.Column(sa.Integer)
    """1 in the file itself while a log beside it has more; the first word of that log sets it to 0."""
    lacking: sa.Named[int] = sa.Column(sa.Integer)
    """1 once the file was found without the log that it goes on in."""


class _HistoryColumns(sa.TypedColumns):
    id: sa.Named[int] = sa.Column(sa.Integer, primary_key=True)
    at: sa.Named[datetime.datetime] = sa.Column(Moment)
    person: sa.Named[str] = sa.Column(sa.Text)
    deed: sa.Named[str] = sa.Column(sa.Text)
    what: sa.Named[str] = sa.Column(sa.Text)


VISITS: Final = sa.Table("visits", METADATA, _VisitColumns)
FILES: Final = sa.Table("visit_files", METADATA, _FileColumns)
BOOKS: Final = sa.Table("books", METADATA, _BookColumns)
MAPPINGS: Final = sa.Table("mappings", METADATA, _MappingColumns)
FIGURES: Final = sa.Table("local_figures", METADATA, _FiguresColumns)
SETTINGS: Final = sa.Table("settings", METADATA, _SettingColumns)
LOG: Final = sa.Table("store_log", METADATA, _LogColumns)
HISTORY: Final = sa.Table("history", METADATA, _HistoryColumns)


def version_of(connection: sa.Connection) -> str:
    """Version of the store there; '' where there is none yet."""
    if not sa.inspect(connection).has_table(VERSIONS):
        return ""
    return str(connection.execute(sa.text(f"SELECT version_num FROM {VERSIONS}")).scalar() or "")


def upgrade_schema(connection: sa.Connection, where: str) -> None:
    """Make the tables, or bring those of an older store to the newest version, all in the transaction at hand.

    Raises `StoreError`: the store is newer than this program, or its version is none; it is left as it is.
    """
    if connection.dialect.name == "postgresql":
        connection.execute(sa.text(f"SELECT pg_advisory_xact_lock({ONE_AT_A_TIME})"))
    found = version_of(connection)
    if found > NEWEST:
        raise StoreError(where, "newer", f"{found} > {NEWEST}")
    if found < NEWEST:
        if not found and sa.inspect(connection).has_table(VISITS.name):
            raise StoreError(where, "corrupt", f"{VERSIONS} is empty")
        from alembic.util import CommandError

        try:
            migrate(connection, NEWEST)
        except CommandError as error:
            raise StoreError(where, "corrupt", f"{VERSIONS} says {found[:20]!r}") from error


def migrate(connection: sa.Connection, version: str) -> None:
    """Run the scripts up to a version, in the transaction at hand."""
    from alembic.config import Config
    from alembic.runtime.environment import EnvironmentContext
    from alembic.script import ScriptDirectory

    scripts = ScriptDirectory(str(MIGRATIONS))

    def steps(revision: str, _context: object) -> list[object]:
        return list(scripts._upgrade_revs(version, revision))

    with EnvironmentContext(Config(), scripts, fn=steps) as environment:
        environment.configure(connection=connection, version_table=VERSIONS, transactional_ddl=True)
        environment.run_migrations()
