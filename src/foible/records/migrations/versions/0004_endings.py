"""Cases have an ending: what became of the kit, and the items and repairs that it is about.

Entries of the kind “end” say so in the case itself; a Foible before this step does not know the kind.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

__all__ = ["down_revision", "downgrade", "revision", "upgrade"]

revision = "0004"
down_revision = "0003"


def upgrade() -> None:
    """Add what is new; of the cases that were closed, no ending is known."""
    with op.batch_alter_table("cases") as batch:
        batch.add_column(sa.Column("ending", sa.String(40)))
        batch.add_column(sa.Column("ended_with", sa.JSON(), nullable=False, server_default="[]"))


def downgrade() -> None:
    """Take it away again; closed cases stay closed."""
    op.execute(sa.text("DELETE FROM entries WHERE kind = 'end'"))
    with op.batch_alter_table("cases") as batch:
        batch.drop_column("ended_with")
        batch.drop_column("ending")
