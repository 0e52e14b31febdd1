"""Sheets of masks, blades, reels, cables, pistes and apparatus, as they were filled in."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

__all__ = ["down_revision", "downgrade", "revision", "upgrade"]

revision = "0011"
down_revision = "0010"


def upgrade() -> None:
    """Make the table."""
    op.create_table(
        "control_sheets",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("sheet", sa.String(40), nullable=False),
        sa.Column("weapon", sa.String(20)),
        sa.Column("item_id", sa.Integer()),
        sa.Column("competition_id", sa.Integer()),
        sa.Column("about", sa.String(120), nullable=False, server_default=""),
        sa.Column("edition", sa.String(40), nullable=False),
        sa.Column("decision", sa.String(40), nullable=False),
        sa.Column("found", sa.JSON(), nullable=False),
        sa.Column("outcome", sa.String(20), nullable=False),
        sa.Column("note", sa.Text(), nullable=False, server_default=""),
        sa.Column("at", sa.DateTime(), nullable=False),
        sa.Column("by_id", sa.Integer()),
        sa.Column("token", sa.String(40)),
        sa.PrimaryKeyConstraint("id", name="pk_control_sheets"),
        sa.UniqueConstraint("token", name="uq_control_sheets_token"),
        sa.ForeignKeyConstraint(["item_id"], ["items.id"], name="fk_control_sheets_item_id"),
        sa.ForeignKeyConstraint(["competition_id"], ["competitions.id"], name="fk_control_sheets_competition_id"),
        sa.ForeignKeyConstraint(["by_id"], ["people.id"], name="fk_control_sheets_by_id"),
    )
    op.create_index("ix_control_sheets_sheet", "control_sheets", ["sheet", "id"])
    op.create_index("ix_control_sheets_item_id", "control_sheets", ["item_id", "id"])
    op.create_index("ix_control_sheets_competition_id", "control_sheets", ["competition_id", "id"])


def downgrade() -> None:
    """Drop it."""
    op.drop_table("control_sheets")
