"""Cases say on which piste they are and whose kit it is, as free text."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

__all__ = ["down_revision", "downgrade", "revision", "upgrade"]

revision = "0005"
down_revision = "0004"


def upgrade() -> None:
    """Add what is new; of the cases that are there, neither is known."""
    with op.batch_alter_table("cases") as batch:
        batch.add_column(sa.Column("piste", sa.String(40), nullable=False, server_default=""))
        batch.add_column(sa.Column("fencer", sa.String(80), nullable=False, server_default=""))


def downgrade() -> None:
    """Take it away again."""
    with op.batch_alter_table("cases") as batch:
        batch.drop_column("fencer")
        batch.drop_column("piste")
