"""Who is signed in on which device, so that signing out ends it here; and photos of items.

Whoever had signed in before signs in once more.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

__all__ = ["down_revision", "downgrade", "revision", "upgrade"]

revision = "0008"
down_revision = "0007"


def upgrade() -> None:
    """Make the tables; the one photo of an item that 0007 had room for was never taken."""
    op.create_table(
        "sign_ins",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("token", sa.String(64), nullable=False),
        sa.Column("at", sa.DateTime(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_sign_ins"),
        sa.ForeignKeyConstraint(["person_id"], ["people.id"], name="fk_sign_ins_person_id"),
    )
    op.create_index("ix_sign_ins_person_id", "sign_ins", ["person_id"])
    op.create_index("uq_sign_ins_token", "sign_ins", ["token"], unique=True)
    op.create_table(
        "item_photos",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("item_id", sa.Integer(), nullable=False),
        sa.Column("photo", sa.String(40), nullable=False),
        sa.Column("at", sa.DateTime(), nullable=False),
        sa.Column("by_id", sa.Integer()),
        sa.Column("token", sa.String(40)),
        sa.PrimaryKeyConstraint("id", name="pk_item_photos"),
        sa.ForeignKeyConstraint(["item_id"], ["items.id"], name="fk_item_photos_item_id"),
        sa.ForeignKeyConstraint(["by_id"], ["people.id"], name="fk_item_photos_by_id"),
    )
    op.create_index("ix_item_photos_item_id", "item_photos", ["item_id"])
    op.create_index("uq_item_photos_token", "item_photos", ["token"], unique=True)
    op.drop_column("items", "photo")


def downgrade() -> None:
    """Drop them; the files of photos stay where they are."""
    op.add_column("items", sa.Column("photo", sa.String(40), nullable=False, server_default=""))
    op.drop_table("item_photos")
    op.drop_table("sign_ins")
