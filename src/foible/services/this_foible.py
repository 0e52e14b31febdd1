"""The service of kept cases in; out, what whoever looks after this Foible wants to know: what is kept, where, how much room."""

from __future__ import annotations

import shutil
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from foible.records.copies import attachments

if TYPE_CHECKING:
    from pathlib import Path

    from foible.services.cases import Cases
    from foible.services.daily import DailyCopies

__all__ = ["ENOUGH_BYTES", "Kept", "copied_last", "kept_here", "room_for"]

ENOUGH_BYTES = 20_000_000
"""With less free space than this the disk counts as full: an answer takes a few kB, a photo 500 [byte]."""


@dataclass(frozen=True)
class Kept:
    """What is kept, and where."""

    kind: str
    """SQLite or PostgreSQL."""
    place: str
    """A file, or a URL without its password."""
    read_only: bool
    records_bytes: int
    cases: int
    photos: int
    photos_bytes: int
    free_bytes: int | None
    """Room on the disk of the records, or for a server's of the photos; None where that is not known."""


def kept_here(cases: Cases) -> Kept:
    """Return what is kept, and where. Raises KeepingError."""
    database = cases.store.database
    files = [path.stat().st_size for path in attachments(cases.album.folder).values()] if cases.album else []
    return Kept(
        kind=database.kind,
        place=database.place,
        read_only=database.read_only,
        records_bytes=database.size(),
        cases=cases.store.count(),
        photos=len(files) // 2,  # each lies there in two sizes
        photos_bytes=sum(files),
        free_bytes=room_for(cases),
    )


def room_for(cases: Cases) -> int | None:
    """Return the free space on the disk that Foible writes to [byte]; None where that is not known."""
    path = cases.store.database.path or (cases.album.folder if cases.album else None)
    while path is not None and not path.exists() and path != path.parent:
        path = path.parent
    return shutil.disk_usage(path).free if path is not None else None


def copied_last(daily: DailyCopies) -> tuple[Path, datetime, int] | None:
    """Return the newest of the daily copies, when it was made and its size [byte]; None where there is none yet."""
    for path in daily.there():
        found = path.stat()
        return path, datetime.fromtimestamp(found.st_mtime, UTC), found.st_size
    return None
