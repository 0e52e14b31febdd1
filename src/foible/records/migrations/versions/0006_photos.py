"""Cases have photos: an entry of the kind “photo” names one, whose files lie in a folder beside the database.

A Foible before this step does not know the kind.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

__all__ = ["down_revision", "downgrade", "revision", "upgrade"]

revision = "0006"
down_revision = "0005"


def upgrade() -> None:
    """Add what is new; no case that is there has a photo."""
    with op.batch_alter_table("entries") as batch:
        batch.add_column(sa.Column("photo", sa.String(40), nullable=False, server_default=""))


def downgrade() -> None:
    """Take it away again; the files stay in their folder."""
    op.execute(sa.text("DELETE FROM entries WHERE kind = 'photo'"))
    with op.batch_alter_table("entries") as batch:
        batch.drop_column("photo")
