"""Cases have all that a case file has; entries say which version of the kit's names they use; lists count and search."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from foible.records.tables import folded

__all__ = ["down_revision", "downgrade", "revision", "upgrade"]

revision = "0002"
down_revision = "0001"

CASES = ("id", "title", "complaint", "weapon", "item", "opened", "token", "words")
cases = sa.table("cases", *(sa.column(name) for name in CASES))
entries = sa.table("entries", *(sa.column(name) for name in ("case_id", "number", "token", "at")))


def upgrade() -> None:
    """Add what is new, and fill it for the cases that are there."""
    with op.batch_alter_table("entries") as batch:
        batch.add_column(sa.Column("names", sa.Integer(), nullable=False, server_default="0"))
    with op.batch_alter_table("cases") as batch:
        batch.add_column(sa.Column("token", sa.String(40)))
        batch.add_column(sa.Column("fitted", sa.JSON(), nullable=False, server_default="{}"))
        batch.add_column(sa.Column("known_good", sa.JSON(), nullable=False, server_default="[]"))
        batch.add_column(sa.Column("profile", sa.Text()))
        batch.add_column(sa.Column("source", sa.Text(), nullable=False, server_default=""))
        batch.add_column(sa.Column("expect", sa.JSON()))
        batch.add_column(sa.Column("words", sa.Text(), nullable=False, server_default=""))
    _fill(op.get_bind())
    op.create_index("uq_cases_token", "cases", ["token"], unique=True)
    op.create_index("ix_cases_closed", "cases", ["closed", "changed"])


def downgrade() -> None:
    """Take it away again."""
    op.drop_index("ix_cases_closed", "cases")
    op.drop_index("uq_cases_token", "cases")
    with op.batch_alter_table("cases") as batch:
        for column in ("token", "fitted", "known_good", "profile", "source", "expect", "words"):
            batch.drop_column(column)
    with op.batch_alter_table("entries") as batch:
        batch.drop_column("names")


def _fill(connection: sa.Connection) -> None:
    """Work out what cases are searched by, and the token of those that were opened with their first entry: both at one moment."""
    opening = sa.select(entries.c.case_id, entries.c.token).join(
        cases, (entries.c.case_id == cases.c.id) & (entries.c.at == cases.c.opened)
    )
    tokens: dict[str, str] = {}
    for case, token in connection.execute(opening.where(entries.c.number == 1).order_by(cases.c.opened, cases.c.id)):
        tokens.setdefault(token, case)
    by_case = {case: token for token, case in tokens.items()}
    known = connection.execute(sa.select(cases.c.id, cases.c.title, cases.c.complaint, cases.c.weapon, cases.c.item)).all()
    filled = [
        {
            "case": row.id,
            "token": by_case.get(row.id),
            "words": folded(" ".join((row.id, row.title, row.complaint, row.weapon, row.item or ""))),
        }
        for row in known
    ]
    if filled:
        change = sa.update(cases).where(cases.c.id == sa.bindparam("case"))
        connection.execute(change.values(token=sa.bindparam("token"), words=sa.bindparam("words")), filled)
