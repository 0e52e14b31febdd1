"""What a database's driver complains of in, its right name and what to do about it out."""

from __future__ import annotations

from sqlalchemy.exc import SQLAlchemyError

from foible.errors import KeepingError

__all__ = ["DAMAGED", "UNREADABLE", "named", "reason_of"]

UNREADABLE = (SQLAlchemyError, ValueError)
"""What a damaged database makes of reading it: the driver complains, or what it hands over is no text, no time, no JSON."""
NO_TEXT = "Could not decode to UTF-8"
"""What Python's own driver says of a text that is none; SQLite itself has not looked at it."""
AGAIN = "nothing was changed; try again"
DAMAGED = (
    "the file is damaged",
    "nothing was changed; stop Foible, keep a copy of the file, see what `foible check` says of it, and restore the last copy",
)
FULL = ("the disk is full", "nothing was changed; make room on the disk that holds the records, then try again")
READ_ONLY = ("the records can only be read here", "nothing was changed; allow Foible to write to the file and to its folder")
AWAY = ("the database server cannot be reached", "nothing was changed; see that it runs and try again")
TROUBLES = {
    "SQLITE_FULL": FULL,
    "SQLITE_READONLY": READ_ONLY,
    "SQLITE_CORRUPT": DAMAGED,
    "SQLITE_NOTADB": DAMAGED,
    "SQLITE_IOERR": ("the disk does not read and write as it should", "nothing was changed; look at the disk, then try again"),
    "SQLITE_CANTOPEN": ("the file cannot be opened", "nothing was changed; see that its folder exists and can be written to"),
    "SQLITE_BUSY": ("another program has held the records for seconds", AGAIN),
    "53100": FULL,
    "25006": READ_ONLY,
    "XX001": DAMAGED,
    "XX002": DAMAGED,
    "57P": AWAY,
    "08": AWAY,
    "3D000": ("the database is no longer there", "nothing was changed; restore it, or give another place with --data"),
}
"""By the beginning of SQLite's name of a result, and of an SQL state (PostgreSQL documentation, appendix A)."""


def named(error: SQLAlchemyError | ValueError, *, what: str, done: str = "saved") -> KeepingError:
    """Return the error that tells people what has happened and what to do."""
    original = getattr(error, "orig", None)
    code = str(getattr(original, "sqlite_errorname", None) or getattr(original, "sqlstate", None) or "")
    known = next((trouble for start, trouble in TROUBLES.items() if code.startswith(start)), None)
    if isinstance(error, ValueError) or NO_TEXT in reason_of(error):
        known = DAMAGED
    if known is None:
        return KeepingError(what=what, reason=reason_of(error), done=done)
    name, remedy = known
    return KeepingError(what=what, reason=f"{name}: {reason_of(error)}", done=done, remedy=remedy)


def reason_of(error: SQLAlchemyError | ValueError) -> str:
    """Return the driver's own words, on one line."""
    return str(getattr(error, "orig", None) or error).splitlines()[0]
