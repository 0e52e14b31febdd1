"""The control table: competitions, entrants, what they hand in, each test of it, marks, reject forms.

A test that was entered stays as it is, and so does that it was withdrawn: triggers refuse to change or delete a row of either.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

__all__ = ["down_revision", "downgrade", "revision", "upgrade"]

revision = "0010"
down_revision = "0009"

REFUSED = "a test that was entered stays as it is"
STAY = ("control_entries", "control_withdrawals")
POSTGRESQL_REFUSES = f"""
CREATE FUNCTION tests_stay() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN RAISE EXCEPTION '{REFUSED}'; END $$"""
SQLITE_REFUSES = "CREATE TRIGGER {3}_stay_on_{0} BEFORE {0} ON {3} {1}BEGIN SELECT RAISE(ABORT, '{2}'); END"
TAKEN = {"UPDATE": "", "DELETE": "", "INSERT": "WHEN EXISTS (SELECT 1 FROM {} WHERE id = NEW.id) "}
"""When SQLite refuses; INSERT OR REPLACE would delete a row without any trigger for that (SQLite documentation, "REPLACE")."""
TABLES = (
    "control_rejects", "control_steps", "control_marks", "control_withdrawals", "control_entries", "control_items", "entrants",
    "control_stations", "control_instruments", "competitions",
)  # fmt: skip


def _key(table: str, column: str, to: str) -> sa.ForeignKeyConstraint:
    return sa.ForeignKeyConstraint([column], [to], name=f"fk_{table}_{column}")


def upgrade() -> None:
    """Make the tables, and the triggers that keep the tests."""
    _competitions()
    _handed_in()
    _tests()
    _what_follows()
    if op.get_bind().dialect.name == "postgresql":
        op.execute(POSTGRESQL_REFUSES)
        for table in STAY:
            op.execute(
                f"CREATE TRIGGER {table}_stay BEFORE UPDATE OR DELETE OR TRUNCATE ON {table} "
                "FOR EACH STATEMENT EXECUTE FUNCTION tests_stay()"
            )
    else:
        for table in STAY:
            for change, when in TAKEN.items():
                op.execute(SQLITE_REFUSES.format(change, when.format(table), REFUSED, table))


def _competitions() -> None:  # long: every column of three tables
    op.create_table(
        "competitions",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(120), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("edition", sa.String(40), nullable=False),
        sa.Column("decision", sa.String(40), nullable=False),
        sa.Column("risk", sa.Double(), nullable=False),
        sa.Column("state", sa.String(20), nullable=False, server_default="open"),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("opened", sa.DateTime(), nullable=False),
        sa.Column("changed", sa.DateTime(), nullable=False),
        sa.Column("token", sa.String(40)),
        sa.PrimaryKeyConstraint("id", name="pk_competitions"),
        sa.UniqueConstraint("token", name="uq_competitions_token"),
    )
    op.create_index("ix_competitions_day", "competitions", ["day", "id"])
    op.create_table(
        "control_instruments",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("competition_id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(80), nullable=False),
        sa.Column("tool", sa.String(20), nullable=False),
        sa.Column("unit", sa.String(10), nullable=False),
        sa.Column("u", sa.Double(), nullable=False),
        sa.Column("made_up_of", sa.JSON(), nullable=False, server_default="{}"),
        sa.Column("item_id", sa.Integer()),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("changed", sa.DateTime(), nullable=False),
        sa.Column("token", sa.String(40)),
        sa.PrimaryKeyConstraint("id", name="pk_control_instruments"),
        sa.UniqueConstraint("token", name="uq_control_instruments_token"),
        _key("control_instruments", "competition_id", "competitions.id"),
        _key("control_instruments", "item_id", "items.id"),
    )
    op.create_index("ix_control_instruments_competition_id", "control_instruments", ["competition_id", "id"])
    op.create_table(
        "control_stations",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("competition_id", sa.Integer(), nullable=False),
        sa.Column("does", sa.String(20), nullable=False),
        sa.Column("team", sa.Integer(), nullable=False),
        sa.Column("opened", sa.DateTime(), nullable=False),
        sa.Column("closed", sa.DateTime()),
        sa.Column("token", sa.String(40)),
        sa.PrimaryKeyConstraint("id", name="pk_control_stations"),
        sa.UniqueConstraint("token", name="uq_control_stations_token"),
        _key("control_stations", "competition_id", "competitions.id"),
    )
    op.create_index("ix_control_stations_competition_id", "control_stations", ["competition_id", "id"])


def _handed_in() -> None:  # long: every column of two tables
    op.create_table(
        "entrants",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("competition_id", sa.Integer(), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("weapons", sa.JSON(), nullable=False, server_default="[]"),
        sa.Column("came", sa.DateTime()),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("changed", sa.DateTime(), nullable=False),
        sa.Column("token", sa.String(40)),
        sa.PrimaryKeyConstraint("id", name="pk_entrants"),
        sa.UniqueConstraint("token", name="uq_entrants_token"),
        sa.UniqueConstraint("competition_id", "person_id", name="uq_entrants_competition_id"),
        _key("entrants", "competition_id", "competitions.id"),
        _key("entrants", "person_id", "people.id"),
    )
    op.create_index("ix_entrants_person_id", "entrants", ["person_id"])
    op.create_table(
        "control_items",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("competition_id", sa.Integer(), nullable=False),
        sa.Column("entrant_id", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(40), nullable=False),
        sa.Column("weapon", sa.String(20)),
        sa.Column("item_id", sa.Integer()),
        sa.Column("state", sa.String(20), nullable=False, server_default="handed in"),
        sa.Column("attempt", sa.Integer(), nullable=False, server_default="1"),
        sa.Column("passed", sa.Boolean()),
        sa.Column("handed_in", sa.DateTime(), nullable=False),
        sa.Column("decided", sa.DateTime()),
        sa.Column("handed_back", sa.DateTime()),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("changed", sa.DateTime(), nullable=False),
        sa.Column("token", sa.String(40)),
        sa.PrimaryKeyConstraint("id", name="pk_control_items"),
        sa.UniqueConstraint("token", name="uq_control_items_token"),
        sa.UniqueConstraint("entrant_id", "number", name="uq_control_items_entrant_id"),
        _key("control_items", "competition_id", "competitions.id"),
        _key("control_items", "entrant_id", "entrants.id"),
        _key("control_items", "item_id", "items.id"),
    )
    op.create_index("ix_control_items_item_id", "control_items", ["item_id"])
    op.create_index("ix_control_items_state", "control_items", ["competition_id", "state", "id"])


def _tests() -> None:  # long: every column of two tables
    op.create_table(
        "control_entries",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("competition_id", sa.Integer(), nullable=False),
        sa.Column("control_item_id", sa.Integer(), nullable=False),
        sa.Column("attempt", sa.Integer(), nullable=False),
        sa.Column("requirement", sa.String(80), nullable=False),
        sa.Column("line", sa.String(10), nullable=False, server_default=""),
        sa.Column("reading", sa.Double()),
        sa.Column("outcome", sa.String(20), nullable=False),
        sa.Column("conforms", sa.Double()),
        sa.Column("u", sa.Double()),
        sa.Column("instrument_id", sa.Integer()),
        sa.Column("note", sa.String(200), nullable=False, server_default=""),
        sa.Column("station_id", sa.Integer()),
        sa.Column("began", sa.DateTime(), nullable=False),
        sa.Column("at", sa.DateTime(), nullable=False),
        sa.Column("by_id", sa.Integer()),
        sa.Column("device", sa.String(40), nullable=False, server_default=""),
        sa.Column("seen", sa.Integer(), nullable=False),
        sa.Column("made", sa.Integer(), nullable=False),
        sa.Column("token", sa.String(60), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_control_entries"),
        sa.UniqueConstraint("token", name="uq_control_entries_token"),
        _key("control_entries", "competition_id", "competitions.id"),
        _key("control_entries", "control_item_id", "control_items.id"),
        _key("control_entries", "instrument_id", "control_instruments.id"),
        _key("control_entries", "station_id", "control_stations.id"),
        _key("control_entries", "by_id", "people.id"),
    )
    op.create_index("ix_control_entries_control_item_id", "control_entries", ["control_item_id", "attempt", "id"])
    op.create_index("ix_control_entries_competition_id", "control_entries", ["competition_id", "id"])
    op.create_table(
        "control_withdrawals",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("entry_id", sa.Integer(), nullable=False),
        sa.Column("for_id", sa.Integer()),
        sa.Column("at", sa.DateTime(), nullable=False),
        sa.Column("by_id", sa.Integer()),
        sa.PrimaryKeyConstraint("id", name="pk_control_withdrawals"),
        sa.UniqueConstraint("entry_id", name="uq_control_withdrawals_entry_id"),
        _key("control_withdrawals", "entry_id", "control_entries.id"),
        _key("control_withdrawals", "for_id", "control_entries.id"),
        _key("control_withdrawals", "by_id", "people.id"),
    )


def _what_follows() -> None:  # long: every column of three tables
    op.create_table(
        "control_marks",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("control_item_id", sa.Integer(), nullable=False),
        sa.Column("attempt", sa.Integer(), nullable=False),
        sa.Column("what", sa.String(80), nullable=False),
        sa.Column("station_id", sa.Integer()),
        sa.Column("began", sa.DateTime(), nullable=False),
        sa.Column("at", sa.DateTime(), nullable=False),
        sa.Column("by_id", sa.Integer()),
        sa.Column("token", sa.String(40)),
        sa.PrimaryKeyConstraint("id", name="pk_control_marks"),
        sa.UniqueConstraint("token", name="uq_control_marks_token"),
        _key("control_marks", "control_item_id", "control_items.id"),
        _key("control_marks", "station_id", "control_stations.id"),
        _key("control_marks", "by_id", "people.id"),
    )
    op.create_index("ix_control_marks_control_item_id", "control_marks", ["control_item_id", "id"])
    op.create_table(
        "control_steps",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("control_item_id", sa.Integer(), nullable=False),
        sa.Column("attempt", sa.Integer(), nullable=False),
        sa.Column("step", sa.String(40), nullable=False),
        sa.Column("at", sa.DateTime(), nullable=False),
        sa.Column("by_id", sa.Integer()),
        sa.PrimaryKeyConstraint("id", name="pk_control_steps"),
        sa.UniqueConstraint("control_item_id", "attempt", "step", name="uq_control_steps_control_item_id"),
        _key("control_steps", "control_item_id", "control_items.id"),
        _key("control_steps", "by_id", "people.id"),
    )
    op.create_table(
        "control_rejects",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("competition_id", sa.Integer(), nullable=False),
        sa.Column("control_item_id", sa.Integer(), nullable=False),
        sa.Column("attempt", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("words", sa.Text(), nullable=False, server_default=""),
        sa.Column("job_id", sa.Integer()),
        sa.Column("case_id", sa.String(12)),
        sa.Column("at", sa.DateTime(), nullable=False),
        sa.Column("by_id", sa.Integer()),
        sa.PrimaryKeyConstraint("id", name="pk_control_rejects"),
        sa.UniqueConstraint("competition_id", "number", name="uq_control_rejects_competition_id"),
        sa.UniqueConstraint("control_item_id", "attempt", name="uq_control_rejects_control_item_id"),
        _key("control_rejects", "competition_id", "competitions.id"),
        _key("control_rejects", "control_item_id", "control_items.id"),
        _key("control_rejects", "job_id", "jobs.id"),
        _key("control_rejects", "case_id", "cases.id"),
        _key("control_rejects", "by_id", "people.id"),
    )


def downgrade() -> None:
    """Drop it all."""
    for table in TABLES:
        op.drop_table(table)
    if op.get_bind().dialect.name == "postgresql":
        op.execute("DROP FUNCTION tests_stay()")
