"""A visit says whose it is, and is found by that; its seal covers it."""

import datetime
import hashlib
import json

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"

SEALED = ("id", "title", "entries", "page", "version", "created", "changed", "copy_of")
"""What was sealed before."""


def upgrade() -> None:
    """Add the column, and seal anew what was as it was saved; what was not keeps the seal that tells so."""
    connection = op.get_bind()
    op.add_column("visits", sa.Column("details", sa.Text, nullable=False, server_default="{}"))
    visits = sa.table("visits", *(sa.column(name) for name in (*SEALED, "seal")))
    files = sa.text("SELECT name, digest FROM visit_files WHERE visit = :which")
    seal = sa.update(visits).where(visits.c.id == sa.bindparam("which")).values(seal=sa.bindparam("told"))
    for which in connection.scalars(sa.select(visits.c.id)).all():
        row = connection.execute(sa.select(visits).where(visits.c.id == which)).mappings().first()
        if row is None:
            continue
        try:
            cells = [_moment(row[name]) if name in ("created", "changed") else row[name] for name in SEALED]
            named = sorted([str(file), str(digest)] for file, digest in connection.execute(files, {"which": which}))
            before, after = (_digest(["visits", *cells, *more, named]) for more in ((), ("{}",)))
        except (ValueError, TypeError):
            continue
        if row["seal"] == before:
            connection.execute(seal, {"which": which, "told": after})


def _digest(parts: list[object]) -> str:
    return hashlib.sha256(json.dumps(parts).encode()).hexdigest()


def _moment(value: object) -> str:
    moment = value if isinstance(value, datetime.datetime) else datetime.datetime.fromisoformat(str(value))
    return moment.replace(tzinfo=datetime.UTC).isoformat()
