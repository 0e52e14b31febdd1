"""An SQLite database copied while others write to it, looked through for damage, and asked what is in it."""

from __future__ import annotations

import sqlite3
from contextlib import closing, contextmanager
from typing import TYPE_CHECKING, Any

from foible.errors import KeepingError
from foible.records.on_file import ReadingCopy

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

__all__ = ["contents", "copy", "faults", "in_use"]

BUSY_S = 5.0
"""How long to wait for others who use the same file [s]."""
MOST_FAULTS = 20


def copy(path: Path, target: Path) -> None:
    """Write everything that is saved at one moment, `-wal` and all, into one file (SQLite documentation, "Online Backup API").

    Raises KeepingError where the database is damaged or is not there.
    """
    try:
        with _reading(path) as source, closing(sqlite3.connect(target)) as made:
            source.backup(made)
            made.execute("PRAGMA journal_mode = DELETE")
    except (sqlite3.Error, ValueError) as error:
        remedy = f"nothing was changed; `foible check {path}` tells more"
        raise KeepingError(what=f"the records in {path}", reason=str(error), done="copied", remedy=remedy) from error


def faults(path: Path) -> list[str]:
    """Return what is wrong with a database, in SQLite's words; nothing where it is whole. It is not changed."""
    try:
        with _reading(path) as connection:
            found = [str(row[0]) for row in connection.execute(f"PRAGMA integrity_check({MOST_FAULTS})") if row[0] != "ok"]
            lost = connection.execute("PRAGMA foreign_key_check").fetchmany(MOST_FAULTS)
            tables = {name for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
    except (sqlite3.Error, ValueError) as error:
        return [str(error)]
    missing = {"alembic_version", "cases", "entries"} - tables
    found += [f"a row of {table} refers to nothing" for table, *_ in lost]
    return found + [f"there is no table {name}" for name in sorted(missing)]


def contents(path: Path) -> dict[str, Any]:
    """Return the keys of `Contents`. Raises KeepingError where the tables are not those of Foible."""
    try:
        with _reading(path) as connection:
            step = connection.execute("SELECT version_num FROM alembic_version").fetchone()
            cases, latest = connection.execute("SELECT count(*), max(changed) FROM cases").fetchone()
            entries = connection.execute("SELECT count(*) FROM entries").fetchone()[0]
    except (sqlite3.Error, ValueError) as error:
        remedy = "give a database of Foible, or a copy made by `foible backup`"
        raise KeepingError(what=f"the records in {path}", reason=str(error), done="read", remedy=remedy) from error
    return {"step": step[0] if step else "none", "cases": cases, "entries": entries, "latest": latest}


def in_use(path: Path) -> bool:
    """Return whether another program has a database open; where nobody has, what lay beside it is put into it."""
    try:
        with closing(sqlite3.connect(f"{path.absolute().as_uri()}?mode=rw", uri=True, timeout=0.1)) as connection:
            connection.execute("PRAGMA journal_mode = DELETE")
    except sqlite3.OperationalError as error:
        return error.sqlite_errorname.startswith(("SQLITE_BUSY", "SQLITE_LOCKED"))
    except sqlite3.Error:
        return False
    return False


@contextmanager
def _reading(path: Path) -> Iterator[sqlite3.Connection]:
    """Yield a connection that only reads; where nothing can be written beside the file, it reads a copy."""
    if ReadingCopy.needed(path):
        copied = ReadingCopy(path)
        try:
            with closing(sqlite3.connect(copied.path)) as connection:
                yield connection
        finally:
            copied.remove()
        return
    with closing(sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True, timeout=BUSY_S)) as connection:
        yield connection
