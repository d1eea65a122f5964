"""A visit says whose it is, and what people do is noted in a log."""

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"


def upgrade() -> None:
    """Add both; a visit from before is no technician's."""
    op.add_column("visits", sa.Column("person", sa.Text, nullable=False, server_default=""))
    op.create_table(
        "history",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("at", sa.DateTime, nullable=False),
        sa.Column("person", sa.Text, nullable=False),
        sa.Column("deed", sa.Text, nullable=False),
        sa.Column("what", sa.Text, nullable=False),
    )
