"""The first store: visits with their files, job books, mappings, local figures, settings."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None


def upgrade() -> None:
    """Make the tables."""
    op.create_table(
        "visits",
        sa.Column("id", sa.Text, primary_key=True),
        sa.Column("title", sa.Text, nullable=False),
        sa.Column("entries", sa.Text, nullable=False),
        sa.Column("page", sa.Text, nullable=False),
        sa.Column("version", sa.Integer, nullable=False),
        sa.Column("created", sa.DateTime, nullable=False),
        sa.Column("changed", sa.DateTime, nullable=False),
    )
    op.create_index("ix_visits_changed", "visits", ["changed"])
    op.create_table(
        "visit_files",
        sa.Column("visit", sa.Text, sa.ForeignKey("visits.id", ondelete="CASCADE"), primary_key=True),
        sa.Column("name", sa.Text, primary_key=True),
        sa.Column("digest", sa.Text, nullable=False),
        sa.Column("content", sa.LargeBinary, nullable=False),
    )
    op.create_table(
        "books",
        sa.Column("id", sa.Text, primary_key=True),
        sa.Column("name", sa.Text, nullable=False),
        sa.Column("mapping", sa.Text, nullable=False),
        sa.Column("rows", sa.Integer, nullable=False),
        sa.Column("size", sa.Integer, nullable=False),
        sa.Column("digest", sa.Text, nullable=False),
        sa.Column("content", sa.LargeBinary, nullable=False),
        sa.Column("imported", sa.DateTime, nullable=False),
    )
    op.create_table(
        "mappings",
        sa.Column("name", sa.Text, primary_key=True),
        sa.Column("mapping", sa.Text, nullable=False),
        sa.Column("changed", sa.DateTime, nullable=False),
    )
    op.create_table(
        "local_figures",
        sa.Column("id", sa.Text, primary_key=True),
        sa.Column("name", sa.Text, nullable=False),
        sa.Column("rows", sa.Text, nullable=False),
        sa.Column("dated", sa.Date, nullable=False),
        sa.Column("used", sa.Boolean, nullable=False),
        sa.Column("kept", sa.DateTime, nullable=False),
    )
    op.create_table(
        "settings",
        sa.Column("name", sa.Text, primary_key=True),
        sa.Column("value", sa.Text),
        sa.Column("content", sa.LargeBinary),
        sa.Column("changed", sa.DateTime, nullable=False),
    )
