"""The register: people, items with their loans, readings and jobs, parts in stock, and the trail of who changed what.

The trail can be added to and nothing else: triggers refuse to change or delete a row of it.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

__all__ = ["down_revision", "downgrade", "revision", "upgrade"]

revision = "0007"
down_revision = "0006"

REFUSED = "a change that was noted stays as it is"
POSTGRESQL_REFUSES = f"""
CREATE FUNCTION trail_stays() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN RAISE EXCEPTION '{REFUSED}'; END $$"""
SQLITE_REFUSES = "CREATE TRIGGER trail_stays_on_{0} BEFORE {0} ON trail {1}BEGIN SELECT RAISE(ABORT, '{2}'); END"
TAKEN = {"UPDATE": "", "DELETE": "", "INSERT": "WHEN EXISTS (SELECT 1 FROM trail WHERE id = NEW.id) "}
"""When SQLite refuses; INSERT OR REPLACE would delete a row without any trigger for that (SQLite documentation, "REPLACE")."""


def upgrade() -> None:  # long: every column of eleven tables
    """Make the tables, and the triggers that keep the trail."""
    op.create_table(
        "choices",
        sa.Column("name", sa.String(40), nullable=False),
        sa.Column("value", sa.JSON(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("changed", sa.DateTime(), nullable=False),
        sa.PrimaryKeyConstraint("name", name="pk_choices"),
    )
    op.create_table(
        "people",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(10), nullable=False, server_default="person"),
        sa.Column("name", sa.String(80), nullable=False),
        sa.Column("club", sa.String(80), nullable=False, server_default=""),
        sa.Column("contact", sa.String(200), nullable=False, server_default=""),
        sa.Column("login", sa.String(40)),
        sa.Column("role", sa.String(10)),
        sa.Column("secret", sa.String(200)),
        sa.Column("wrong", sa.Integer(), nullable=False, server_default="0"),
        sa.Column("locked", sa.DateTime()),
        sa.Column("erased", sa.DateTime()),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("changed", sa.DateTime(), nullable=False),
        sa.Column("token", sa.String(40)),
        sa.Column("words", sa.Text(), nullable=False, server_default=""),
        sa.PrimaryKeyConstraint("id", name="pk_people"),
    )
    op.create_index("uq_people_login", "people", ["login"], unique=True)
    op.create_index("uq_people_token", "people", ["token"], unique=True)
    op.create_table(
        "trail",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("at", sa.DateTime(), nullable=False),
        sa.Column("by_id", sa.Integer()),
        sa.Column("device", sa.String(40), nullable=False, server_default=""),
        sa.Column("kind", sa.String(10), nullable=False),
        sa.Column("ref", sa.Integer(), nullable=False),
        sa.Column("did", sa.String(20), nullable=False),
        sa.Column("what", sa.JSON(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_trail"),
        sa.ForeignKeyConstraint(["by_id"], ["people.id"], name="fk_trail_by_id"),
    )
    op.create_index("ix_trail_by", "trail", ["by_id", "id"])
    op.create_index("ix_trail_of", "trail", ["kind", "ref", "id"])
    op.create_table(
        "items",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("code", sa.String(12), nullable=False),
        sa.Column("kind", sa.String(40), nullable=False),
        sa.Column("weapon", sa.String(20)),
        sa.Column("name", sa.String(120), nullable=False, server_default=""),
        sa.Column("fitted", sa.JSON(), nullable=False, server_default="{}"),
        sa.Column("made_by", sa.JSON(), nullable=False, server_default="{}"),
        sa.Column("owner_id", sa.Integer()),
        sa.Column("state", sa.String(20), nullable=False, server_default="in use"),
        sa.Column("bought", sa.Date()),
        sa.Column("first_used", sa.Date()),
        sa.Column("retired", sa.Date()),
        sa.Column("price", sa.Integer()),
        sa.Column("check_due", sa.Date()),
        sa.Column("photo", sa.String(40), nullable=False, server_default=""),
        sa.Column("notes", sa.Text(), nullable=False, server_default=""),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("opened", sa.DateTime(), nullable=False),
        sa.Column("changed", sa.DateTime(), nullable=False),
        sa.Column("token", sa.String(40)),
        sa.PrimaryKeyConstraint("id", name="pk_items"),
        sa.ForeignKeyConstraint(["owner_id"], ["people.id"], name="fk_items_owner_id"),
    )
    op.create_index("ix_items_changed", "items", ["changed", "id"])
    op.create_index("ix_items_check_due", "items", ["check_due"])
    op.create_index("ix_items_owner", "items", ["owner_id", "id"])
    op.create_index("ix_items_state", "items", ["state", "changed"])
    op.create_index("uq_items_code", "items", ["code"], unique=True)
    op.create_index("uq_items_token", "items", ["token"], unique=True)
    op.create_table(
        "item_words",
        sa.Column("word", sa.String(40).with_variant(sa.String(40, collation="C"), "postgresql"), nullable=False),
        sa.Column("item_id", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("word", "item_id", name="pk_item_words"),
        sa.ForeignKeyConstraint(["item_id"], ["items.id"], name="fk_item_words_item_id"),
    )
    op.create_index("ix_item_words_item", "item_words", ["item_id", "word"])
    op.create_table(
        "loans",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("item_id", sa.Integer(), nullable=False),
        sa.Column("to_id", sa.Integer(), nullable=False),
        sa.Column("out", sa.DateTime(), nullable=False),
        sa.Column("until", sa.Date()),
        sa.Column("back", sa.DateTime()),
        sa.Column("back_state", sa.Text(), nullable=False, server_default=""),
        sa.Column("token", sa.String(40)),
        sa.PrimaryKeyConstraint("id", name="pk_loans"),
        sa.ForeignKeyConstraint(["item_id"], ["items.id"], name="fk_loans_item_id"),
        sa.ForeignKeyConstraint(["to_id"], ["people.id"], name="fk_loans_to_id"),
    )
    op.create_index("ix_loans_item_id", "loans", ["item_id"])
    op.create_index("ix_loans_to_id", "loans", ["to_id"])
    op.create_index("uq_loans_token", "loans", ["token"], unique=True)
    op.create_table(
        "jobs",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("item_id", sa.Integer(), nullable=False),
        sa.Column("case_id", sa.String(12)),
        sa.Column("kind", sa.String(40), nullable=False),
        sa.Column("complaint", sa.Text(), nullable=False, server_default=""),
        sa.Column("evidence", sa.JSON()),
        sa.Column("state", sa.String(20), nullable=False, server_default="waiting"),
        sa.Column("sound", sa.Boolean()),
        sa.Column("minutes", sa.Double()),
        sa.Column("promised", sa.Date()),
        sa.Column("opened", sa.DateTime(), nullable=False),
        sa.Column("changed", sa.DateTime(), nullable=False),
        sa.Column("done", sa.DateTime()),
        sa.Column("by_id", sa.Integer()),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("token", sa.String(40)),
        sa.PrimaryKeyConstraint("id", name="pk_jobs"),
        sa.ForeignKeyConstraint(["item_id"], ["items.id"], name="fk_jobs_item_id"),
        sa.ForeignKeyConstraint(["case_id"], ["cases.id"], name="fk_jobs_case_id"),
        sa.ForeignKeyConstraint(["by_id"], ["people.id"], name="fk_jobs_by_id"),
    )
    op.create_index("ix_jobs_case", "jobs", ["case_id"])
    op.create_index("ix_jobs_changed", "jobs", ["changed"])
    op.create_index("ix_jobs_done", "jobs", ["done"])
    op.create_index("ix_jobs_item", "jobs", ["item_id", "id"])
    op.create_index("ix_jobs_queue", "jobs", ["state", "promised", "id"])
    op.create_index("uq_jobs_token", "jobs", ["token"], unique=True)
    op.create_table(
        "readings",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("item_id", sa.Integer(), nullable=False),
        sa.Column("job_id", sa.Integer()),
        sa.Column("quantity", sa.String(60), nullable=False),
        sa.Column("line", sa.String(10), nullable=False, server_default=""),
        sa.Column("value", sa.Double(), nullable=False),
        sa.Column("unit", sa.String(10), nullable=False),
        sa.Column("clause", sa.String(40), nullable=False, server_default=""),
        sa.Column("passed", sa.Boolean()),
        sa.Column("map", sa.JSON()),
        sa.Column("instrument_id", sa.Integer()),
        sa.Column("at", sa.DateTime(), nullable=False),
        sa.Column("by_id", sa.Integer()),
        sa.Column("token", sa.String(40)),
        sa.PrimaryKeyConstraint("id", name="pk_readings"),
        sa.ForeignKeyConstraint(["item_id"], ["items.id"], name="fk_readings_item_id"),
        sa.ForeignKeyConstraint(["job_id"], ["jobs.id"], name="fk_readings_job_id"),
        sa.ForeignKeyConstraint(["instrument_id"], ["items.id"], name="fk_readings_instrument_id"),
        sa.ForeignKeyConstraint(["by_id"], ["people.id"], name="fk_readings_by_id"),
    )
    op.create_index("ix_readings_item", "readings", ["item_id", "quantity", "at"])
    op.create_index("ix_readings_job_id", "readings", ["job_id"])
    op.create_index("uq_readings_token", "readings", ["token"], unique=True)
    op.create_table(
        "job_lines",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("job_id", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(10), nullable=False),
        sa.Column("ref", sa.String(120), nullable=False, server_default=""),
        sa.Column("text", sa.Text(), nullable=False, server_default=""),
        sa.Column("count", sa.Double()),
        sa.Column("cost", sa.Integer()),
        sa.Column("at", sa.DateTime(), nullable=False),
        sa.Column("by_id", sa.Integer()),
        sa.Column("taken_back", sa.DateTime()),
        sa.Column("token", sa.String(40)),
        sa.PrimaryKeyConstraint("id", name="pk_job_lines"),
        sa.ForeignKeyConstraint(["job_id"], ["jobs.id"], name="fk_job_lines_job_id"),
        sa.ForeignKeyConstraint(["by_id"], ["people.id"], name="fk_job_lines_by_id"),
        sa.UniqueConstraint("job_id", "number", name="uq_job_lines_job_id"),
    )
    op.create_index("ix_job_lines_ref", "job_lines", ["kind", "ref"])
    op.create_index("uq_job_lines_token", "job_lines", ["token"], unique=True)
    op.create_table(
        "parts",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("code", sa.String(12), nullable=False),
        sa.Column("name", sa.String(120), nullable=False),
        sa.Column("fits", sa.JSON(), nullable=False, server_default="[]"),
        sa.Column("made_by", sa.String(60), nullable=False, server_default=""),
        sa.Column("bin", sa.String(20), nullable=False, server_default=""),
        sa.Column("count", sa.Integer(), nullable=False, server_default="0"),
        sa.Column("least", sa.Integer(), nullable=False, server_default="0"),
        sa.Column("price", sa.Integer()),
        sa.Column("supplier", sa.String(80), nullable=False, server_default=""),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("changed", sa.DateTime(), nullable=False),
        sa.Column("token", sa.String(40)),
        sa.PrimaryKeyConstraint("id", name="pk_parts"),
    )
    op.create_index("uq_parts_code", "parts", ["code"], unique=True)
    op.create_index("uq_parts_token", "parts", ["token"], unique=True)
    op.create_table(
        "moves",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("part_id", sa.Integer(), nullable=False),
        sa.Column("change", sa.Integer(), nullable=False),
        sa.Column("why", sa.String(10), nullable=False),
        sa.Column("line_id", sa.Integer()),
        sa.Column("at", sa.DateTime(), nullable=False),
        sa.Column("by_id", sa.Integer()),
        sa.Column("token", sa.String(40)),
        sa.PrimaryKeyConstraint("id", name="pk_moves"),
        sa.ForeignKeyConstraint(["part_id"], ["parts.id"], name="fk_moves_part_id"),
        sa.ForeignKeyConstraint(["line_id"], ["job_lines.id"], name="fk_moves_line_id"),
        sa.ForeignKeyConstraint(["by_id"], ["people.id"], name="fk_moves_by_id"),
    )
    op.create_index("ix_moves_line_id", "moves", ["line_id"])
    op.create_index("ix_moves_part_id", "moves", ["part_id"])
    op.create_index("uq_moves_token", "moves", ["token"], unique=True)
    if op.get_bind().dialect.name == "postgresql":
        op.execute(POSTGRESQL_REFUSES)
        op.execute(
            "CREATE TRIGGER trail_stays BEFORE UPDATE OR DELETE OR TRUNCATE ON trail "
            "FOR EACH STATEMENT EXECUTE FUNCTION trail_stays()"
        )
    else:
        for change, when in TAKEN.items():
            op.execute(SQLITE_REFUSES.format(change, when, REFUSED))


def downgrade() -> None:
    """Drop it all."""
    before = ("moves", "parts", "job_lines", "readings", "jobs", "loans", "item_words", "items", "trail", "people", "choices")
    for table in before:
        op.drop_table(table)
    if op.get_bind().dialect.name == "postgresql":
        op.execute("DROP FUNCTION trail_stays()")
