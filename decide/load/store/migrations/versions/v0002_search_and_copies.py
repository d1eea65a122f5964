"""Visits are found by their title in any writing, and a visit changed in two places is kept twice."""

import unicodedata

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    """Add both columns, and fill the one to search by.

    Columns are added in place: to copy the table and drop the old one would take the files of every visit with it.
    """
    op.add_column("visits", sa.Column("sought", sa.Text, nullable=False, server_default=""))
    op.add_column("visits", sa.Column("copy_of", sa.Text, nullable=False, server_default=""))
    visits = sa.table("visits", sa.column("id", sa.Text), sa.column("title", sa.Text), sa.column("sought", sa.Text))
    connection = op.get_bind()
    fill = sa.update(visits).where(visits.c.id == sa.bindparam("which"))
    folded = [
        {"which": row.id, "sought": unicodedata.normalize("NFKC", row.title).casefold()}
        for row in connection.execute(sa.select(visits.c.id, visits.c.title))
    ]
    if folded:
        connection.execute(fill, folded)
