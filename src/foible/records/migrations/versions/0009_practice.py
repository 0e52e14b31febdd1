"""The practice strip: learners, results that stay, what the scheduler knows, groups and the series set for them."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

__all__ = ["down_revision", "downgrade", "revision", "upgrade"]

revision = "0009"
down_revision = "0007"

REFUSED = "a result stays as it is"
POSTGRESQL_REFUSES = f"""
CREATE FUNCTION results_stay() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN RAISE EXCEPTION '{REFUSED}'; END $$"""
SQLITE_REFUSES = "CREATE TRIGGER results_stay_on_{0} BEFORE {0} ON practice_results {1}BEGIN SELECT RAISE(ABORT, '{2}'); END"
TAKEN = {"UPDATE": "", "DELETE": "", "INSERT": "WHEN EXISTS (SELECT 1 FROM practice_results WHERE id = NEW.id) "}
"""When SQLite refuses; INSERT OR REPLACE would delete a row without any trigger for that (SQLite documentation, "REPLACE")."""


def upgrade() -> None:  # long: every column of five tables
    """Make the tables, and the triggers that keep the results."""
    op.create_table(
        "practice_groups",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(80), nullable=False),
        sa.Column("code", sa.String(12), nullable=False),
        sa.Column("owner_id", sa.Integer()),
        sa.Column("opened", sa.DateTime(), nullable=False),
        sa.Column("closed", sa.DateTime()),
        sa.Column("token", sa.String(40)),
        sa.PrimaryKeyConstraint("id", name="pk_practice_groups"),
        sa.ForeignKeyConstraint(["owner_id"], ["people.id"], name="fk_practice_groups_owner_id"),
    )
    op.create_index("uq_practice_groups_code", "practice_groups", ["code"], unique=True)
    op.create_index("uq_practice_groups_token", "practice_groups", ["token"], unique=True)
    op.create_index("ix_practice_groups_owner_id", "practice_groups", ["owner_id"])
    op.create_table(
        "learners",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("token", sa.String(40), nullable=False),
        sa.Column("nickname", sa.String(40), nullable=False, server_default=""),
        sa.Column("group_id", sa.Integer()),
        sa.Column("person_id", sa.Integer()),
        sa.Column("began", sa.DateTime(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_learners"),
        sa.ForeignKeyConstraint(["group_id"], ["practice_groups.id"], name="fk_learners_group_id"),
        sa.ForeignKeyConstraint(["person_id"], ["people.id"], name="fk_learners_person_id"),
    )
    op.create_index("uq_learners_token", "learners", ["token"], unique=True)
    op.create_index("uq_learners_person_id", "learners", ["person_id"], unique=True)
    op.create_index("ix_learners_group_id", "learners", ["group_id"])
    op.create_table(
        "practice_results",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("learner_id", sa.Integer(), nullable=False),
        sa.Column("subject", sa.String(40), nullable=False),
        sa.Column("weapon", sa.String(20), nullable=False),
        sa.Column("exercise", sa.String(20), nullable=False),
        sa.Column("name", sa.String(120), nullable=False),
        sa.Column("right", sa.Boolean(), nullable=False),
        sa.Column("seconds", sa.Double(), nullable=False),
        sa.Column("usual", sa.Double(), nullable=False),
        sa.Column("grade", sa.Integer(), nullable=False),
        sa.Column("at", sa.DateTime(), nullable=False),
        sa.Column("token", sa.String(60)),
        sa.PrimaryKeyConstraint("id", name="pk_practice_results"),
        sa.ForeignKeyConstraint(["learner_id"], ["learners.id"], name="fk_practice_results_learner_id"),
    )
    op.create_index("ix_practice_results_of", "practice_results", ["learner_id", "id"])
    op.create_index("uq_practice_results_token", "practice_results", ["token"], unique=True)
    op.create_table(
        "practice_cards",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("learner_id", sa.Integer(), nullable=False),
        sa.Column("subject", sa.String(40), nullable=False),
        sa.Column("weapon", sa.String(20), nullable=False),
        sa.Column("state", sa.Integer(), nullable=False),
        sa.Column("step", sa.Integer()),
        sa.Column("stability", sa.Double(), nullable=False),
        sa.Column("difficulty", sa.Double(), nullable=False),
        sa.Column("due", sa.DateTime(), nullable=False),
        sa.Column("last", sa.DateTime(), nullable=False),
        sa.Column("reviews", sa.Integer(), nullable=False),
        sa.Column("wrong_run", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_practice_cards"),
        sa.ForeignKeyConstraint(["learner_id"], ["learners.id"], name="fk_practice_cards_learner_id"),
        sa.UniqueConstraint("learner_id", "subject", "weapon", name="uq_practice_cards_learner_id"),
    )
    op.create_index("ix_practice_cards_due", "practice_cards", ["learner_id", "due"])
    op.create_table(
        "practice_series",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("group_id", sa.Integer(), nullable=False),
        sa.Column("title", sa.String(120), nullable=False),
        sa.Column("tasks", sa.JSON(), nullable=False),
        sa.Column("due", sa.Date()),
        sa.Column("set", sa.DateTime(), nullable=False),
        sa.Column("ended", sa.DateTime()),
        sa.Column("token", sa.String(40)),
        sa.PrimaryKeyConstraint("id", name="pk_practice_series"),
        sa.ForeignKeyConstraint(["group_id"], ["practice_groups.id"], name="fk_practice_series_group_id"),
    )
    op.create_index("ix_practice_series_group_id", "practice_series", ["group_id", "id"])
    op.create_index("uq_practice_series_token", "practice_series", ["token"], unique=True)
    if op.get_bind().dialect.name == "postgresql":
        op.execute(POSTGRESQL_REFUSES)
        op.execute(
            "CREATE TRIGGER results_stay BEFORE UPDATE OR DELETE OR TRUNCATE ON practice_results "
            "FOR EACH STATEMENT EXECUTE FUNCTION results_stay()"
        )
    else:
        for change, when in TAKEN.items():
            op.execute(SQLITE_REFUSES.format(change, when, REFUSED))


def downgrade() -> None:
    """Drop it all."""
    for table in ("practice_series", "practice_cards", "practice_results", "learners", "practice_groups"):
        op.drop_table(table)
    if op.get_bind().dialect.name == "postgresql":
        op.execute("DROP FUNCTION results_stay()")
