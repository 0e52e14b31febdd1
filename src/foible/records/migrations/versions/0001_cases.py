"""Cases and what is said in them."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

__all__ = ["down_revision", "downgrade", "revision", "upgrade"]

revision = "0001"
down_revision = None


def upgrade() -> None:
    """Make the tables."""
    op.create_table(
        "cases",
        sa.Column("id", sa.String(12), nullable=False),
        sa.Column("title", sa.String(200), nullable=False),
        sa.Column("weapon", sa.String(20), nullable=False),
        sa.Column("complaint", sa.Text(), nullable=False),
        sa.Column("place", sa.String(10), nullable=False),
        sa.Column("item", sa.String(80)),
        sa.Column("tools", sa.JSON(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("opened", sa.DateTime(), nullable=False),
        sa.Column("changed", sa.DateTime(), nullable=False),
        sa.Column("closed", sa.DateTime()),
        sa.PrimaryKeyConstraint("id", name="pk_cases"),
    )
    op.create_index("ix_cases_changed", "cases", ["changed"])
    op.create_table(
        "entries",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("case_id", sa.String(12), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(10), nullable=False),
        sa.Column("say", sa.Text(), nullable=False),
        sa.Column("trial", sa.JSON(), nullable=False),
        sa.Column("token", sa.String(40), nullable=False),
        sa.Column("by", sa.String(40), nullable=False),
        sa.Column("at", sa.DateTime(), nullable=False),
        sa.Column("taken_back", sa.DateTime()),
        sa.PrimaryKeyConstraint("id", name="pk_entries"),
        sa.ForeignKeyConstraint(["case_id"], ["cases.id"], name="fk_entries_case_id", ondelete="CASCADE"),
        sa.UniqueConstraint("case_id", "number", name="uq_entries_case_id"),
        sa.UniqueConstraint("case_id", "token", name="uq_entries_token"),
    )


def downgrade() -> None:
    """Drop the tables."""
    op.drop_table("entries")
    op.drop_table("cases")
