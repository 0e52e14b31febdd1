"""Where cases are kept: an option's words in, the address of a database out; and the service of kept cases opened on it."""

from __future__ import annotations

import os
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from foible.errors import InputError
from foible.records import CaseStore, Database, ExperienceStore, address_of
from foible.services.cases import Cases
from foible.services.photos import Album
from foible.services.reasoning import Reasoning
from foible.services.register.teacher import Teacher

if TYPE_CHECKING:
    from collections.abc import Sequence

__all__ = ["data_url", "open_cases", "photo_folder", "teacher_of_records"]


def data_url(data: str | None, *, demo: bool = False) -> str:
    """Return where cases are kept: `data`, a file or a database URL, or else a file in the user's own folder."""
    if data and "://" in data:
        return data
    if data:
        path = Path(data).expanduser()
    else:
        home = Path(os.environ.get("XDG_DATA_HOME") or Path.home() / ".local" / "share")
        # The file was called this before “register” meant something else; under another name, existing cases would not be found.
        path = home / "foible" / ("lanternfield.db" if demo else "register.db")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise InputError(
            seen=f"{path.parent} cannot be created ({error.strerror})", remedy="give another place with --data"
        ) from error
    return f"sqlite:///{path.resolve()}"


def photo_folder(url: str, photos: str | None = None) -> Path:
    """Return where the photos of a database's cases lie: `photos`, the variable FOIBLE_PHOTOS, or else a folder of their own.

    That is beside the file of the database, with “.photos” behind its name; for a server's database, in the user's own folder.
    """
    named = photos or os.environ.get("FOIBLE_PHOTOS")
    if named:
        return Path(named).expanduser()
    address = address_of(url)
    if address.get_backend_name() == "sqlite" and address.database not in (None, "", ":memory:"):
        return Path(f"{address.database}.photos")
    return Path(data_url(None).removeprefix("sqlite:///")).with_name("photos")


def open_cases(url: str, overlays: Sequence[Path] = (), *, photos: str | None = None) -> Cases:
    """Return the service of the cases in a database; `photos` is their folder. Raises KeepingError where it is out of reach."""
    store = CaseStore(Database(url), clock=_now)
    teacher = teacher_of_records(store.database)
    reasoning = Reasoning(overlays=overlays).taught(teacher.rates)
    return Cases(reasoning, store, Album(photo_folder(url, photos)), teacher.rates_in)


def teacher_of_records(database: Database) -> Teacher:
    """Return what the register in a database teaches."""
    return Teacher(ExperienceStore(database, clock=_now), _now)


def _now() -> datetime:
    return datetime.now(UTC)
