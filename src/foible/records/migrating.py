"""A database in; out, the same with its tables brought up to date, in one transaction: an interruption leaves the old state."""

from __future__ import annotations

from contextlib import contextmanager
from importlib.resources import files
from typing import TYPE_CHECKING

from alembic import command
from alembic.config import Config
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import text

from foible.errors import InputError, KeepingError
from foible.records.trouble import DAMAGED

if TYPE_CHECKING:
    from collections.abc import Iterator

    from sqlalchemy.engine import Connection, Engine

__all__ = ["go_back", "migrate"]

TURN = 0x666F69626C65
"""The advisory lock under which one program at a time changes the tables of a PostgreSQL database: "foible" in ASCII."""


def migrate(engine: Engine, to: str = "head") -> None:
    """Bring the tables up to a step, the latest where none is named. Raises InputError where a later Foible has changed them."""
    script = ScriptDirectory.from_config(_config())
    with engine.connect() as connection:
        heads = MigrationContext.configure(connection).get_current_heads()
    if len(heads) > 1:
        raise KeepingError(what="the records", reason=DAMAGED[0], done="opened", remedy=DAMAGED[1])
    found = heads[0] if heads else None
    if found == script.get_current_head():
        return
    if found is not None and all(step.revision != found for step in script.walk_revisions()):
        seen = f"the records were written by a later version of Foible (their tables are at step {found})"
        raise InputError(seen=seen, remedy="use that version, or give another place with --data")
    with _alone(engine) as connection:
        command.upgrade(_config(connection), to)


def go_back(engine: Engine, to: str) -> None:
    """Take the tables back to an earlier step, for the Foible of that time; what that version did not know is lost."""
    with _alone(engine) as connection:
        command.downgrade(_config(connection), to)


def _config(connection: Connection | None = None) -> Config:
    config = Config()
    config.set_main_option("script_location", str(files("foible.records") / "migrations"))
    config.attributes["connection"] = connection
    return config


@contextmanager
def _alone(engine: Engine) -> Iterator[Connection]:
    """Yield a connection in a transaction in which nobody else changes the tables.

    SQLite changes most things about a table by making a new one and dropping the old one. With foreign keys enforced, that
    would delete all rows which refer to it; so they are checked at the end instead (SQLite documentation, "Making other
    kinds of table schema changes").
    """
    on_file = engine.dialect.name == "sqlite"
    with engine.execution_options(immediate=True).connect() as connection:
        driver = connection.connection.driver_connection
        if on_file and driver:
            driver.execute("PRAGMA foreign_keys = OFF")  # outside a transaction, or it does nothing
        try:
            with connection.begin():
                if engine.dialect.name == "postgresql":
                    connection.execute(text("SELECT pg_advisory_xact_lock(:turn)"), {"turn": TURN})
                yield connection
                if on_file and connection.exec_driver_sql("PRAGMA foreign_key_check").first():
                    raise KeepingError(what="the records", reason="a migration leaves rows that refer to nothing")
        finally:
            if on_file and driver:
                driver.execute("PRAGMA foreign_keys = ON")
