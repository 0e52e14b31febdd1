"""Cases have facts of the place and the kit.

They are names out of `foible.facts`, as a list of JSON.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

__all__ = ["down_revision", "downgrade", "revision", "upgrade"]

revision = "0003"
down_revision = "0002"


def upgrade() -> None:
    """Add what is new; of the cases that are there, no fact is known."""
    with op.batch_alter_table("cases") as batch:
        batch.add_column(sa.Column("facts", sa.JSON(), nullable=False, server_default="[]"))


def downgrade() -> None:
    """Take it away again."""
    with op.batch_alter_table("cases") as batch:
        batch.drop_column("facts")
