"""Every row is sealed by a digest of what it says, and a file that was copied without its log can be noticed."""

import datetime
import hashlib
import json
from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"

SEALED = {
    "visits": ("id", "title", "entries", "page", "version", "created", "changed", "copy_of"),
    "books": ("id", "name", "mapping", "rows", "size", "digest", "imported"),
    "mappings": ("name", "mapping", "changed"),
    "local_figures": ("id", "name", "rows", "dated", "used", "kept"),
    "settings": ("name", "value", "content", "changed"),
}
"""What is sealed of each table, the first its key."""


def upgrade() -> None:
    """Add the seals, those of what is there as it stands now; what cannot be read is left without one, as damaged."""
    connection = op.get_bind()
    op.create_table(
        "store_log",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("goes_on", sa.Integer, nullable=False),
        sa.Column("lacking", sa.Integer, nullable=False),
    )
    connection.execute(sa.text("INSERT INTO store_log (id, goes_on, lacking) VALUES (1, 0, 0)"))
    for name, columns in SEALED.items():
        op.add_column(name, sa.Column("seal", sa.Text, nullable=False, server_default=""))
        table = sa.table(name, *(sa.column(column) for column in (*columns, "seal")))
        key = table.c[columns[0]]
        seal = sa.update(table).where(key == sa.bindparam("which")).values(seal=sa.bindparam("told"))
        for which in connection.scalars(sa.select(key)).all():
            row = connection.execute(sa.select(*table.c[:-1]).where(key == which)).first()
            try:
                output: list[Any] = [_plain(column, value) for column, value in zip(columns, row or (), strict=True)]
            except (ValueError, TypeError):
                continue
            if name == "visits":
                files = sa.text("SELECT name, digest FROM visit_files WHERE visit = :which")
                found = connection.execute(files, {"which": which})
                output.append(sorted([str(file), str(digest)] for file, digest in found))
            sealed = hashlib.sha256(json.dumps([name, *output]).encode()).hexdigest()
            connection.execute(seal, {"which": which, "told": sealed})


def _plain(column: str, value: Any) -> Any:
    """A value as it is sealed; instants in universal time, bytes by their digest."""
    if column in ("created", "changed", "imported", "kept"):
        moment = value if isinstance(value, datetime.datetime) else datetime.datetime.fromisoformat(str(value))
        return moment.replace(tzinfo=datetime.UTC).isoformat()
    if column == "dated":
        return str(value if isinstance(value, datetime.date) else datetime.date.fromisoformat(str(value)))
    if column == "used":
        return bool(value)
    return hashlib.sha256(value).hexdigest() if isinstance(value, bytes | memoryview) else value
