"""PostgreSQL's own tools, `pg_dump` and `pg_restore`, where they are installed; said plainly where they are not."""

from __future__ import annotations

import os
import shutil
import subprocess
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sqlalchemy import create_engine, inspect, text
from sqlalchemy.engine import URL, make_url
from sqlalchemy.exc import SQLAlchemyError

from foible.errors import InputError, KeepingError
from foible.records.trouble import named

if TYPE_CHECKING:
    from sqlalchemy.engine import Engine

__all__ = ["contents", "dump", "is_empty", "readable", "restore"]


def dump(url: str, target: Path) -> None:
    """Write one moment of a database into a file, in `pg_dump`'s own format. Raises InputError and KeepingError."""
    _run(url, "pg_dump", "--format=custom", "--no-owner", f"--file={target}")


def restore(url: str, source: Path) -> None:
    """Fill an empty database from such a file, all of it or nothing. Raises InputError and KeepingError."""
    _run(url, "pg_restore", "--exit-on-error", "--single-transaction", "--no-owner", str(source))


def readable(source: Path) -> bool:
    """Return whether `pg_restore` can read the list of contents of such a file. Raises InputError where there is no such tool."""
    listed = subprocess.run([_tool("pg_restore"), "--list", str(source)], check=False, capture_output=True)  # noqa: S603 — PostgreSQL's own tool
    return listed.returncode == 0


def contents(url: str) -> dict[str, Any]:
    """Return the keys of `Contents`. Raises KeepingError where the database cannot be reached, or its tables are not Foible's."""
    engine = _engine(url)
    try:
        with engine.connect() as connection:
            step = connection.scalar(text("SELECT version_num FROM alembic_version"))
            cases, latest = connection.execute(text("SELECT count(*), max(changed) FROM cases")).one()
            entries = connection.scalar(text("SELECT count(*) FROM entries"))
    except SQLAlchemyError as error:
        raise named(error, what=f"the records at {engine.url.render_as_string()}", done="read") from error
    finally:
        engine.dispose()
    return {"step": step or "none", "cases": cases, "entries": entries, "latest": latest and latest.isoformat(" ")}


def is_empty(url: str) -> bool:
    """Return whether a database has no tables yet. Raises KeepingError."""
    engine = _engine(url)
    try:
        return not inspect(engine).get_table_names()
    except SQLAlchemyError as error:
        raise named(error, what=f"the database at {engine.url.render_as_string()}", done="read") from error
    finally:
        engine.dispose()


def _engine(url: str) -> Engine:
    try:
        return create_engine(make_url(url).set(drivername="postgresql+psycopg"))
    except ImportError as error:
        seen = "no driver for PostgreSQL is installed here"
        raise InputError(seen=seen, remedy="install foible[postgresql]") from error


def _run(url: str, tool: str, *arguments: str) -> None:
    address = make_url(url)
    password = {"PGPASSWORD": str(address.password)} if address.password else {}  # not among the arguments, which others can see
    place = URL.create(
        "postgresql", address.username, None, address.host, address.port, address.database, address.query
    ).render_as_string()
    made = subprocess.run(  # noqa: S603 — PostgreSQL's own tool
        [_tool(tool), "--no-password", f"--dbname={place}", *arguments],
        check=False,
        capture_output=True,
        text=True,
        errors="replace",
        env={**os.environ, **password},
    )
    if made.returncode:
        reason = made.stderr.strip().splitlines()[-1] if made.stderr.strip() else f"it ended with {made.returncode}"
        raise KeepingError(what=f"the records at {place}", reason=reason, done="copied or restored")


def _tool(name: str) -> str:
    """Return the path of a tool: what is found first, or else the newest that the distribution has. Raises InputError."""
    versions = sorted(Path("/usr/lib/postgresql").glob(f"*/bin/{name}"), key=lambda path: float(path.parent.parent.name))
    found = shutil.which(name) or next((str(path) for path in reversed(versions)), None)
    if found is None:
        seen = f"{name}, PostgreSQL's own tool for copies, is not installed here"
        raise InputError(seen=seen, remedy="install the distribution's package postgresql-client, or copy on the server itself")
    return found
