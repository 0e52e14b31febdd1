"""Copies of the records as surfaces ask for them: made, checked, put back, and made anew each day."""

from __future__ import annotations

import os
import shutil
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

from foible.errors import FoibleError, InputError
from foible.records import Database, file_of, postgresql_tools, sqlite_copy
from foible.records.copies import PHOTOS, Contents, Copied, attachments, named_disk, opened_copy
from foible.records.copies import back_up as copy_to
from foible.services.opening import photo_folder

if TYPE_CHECKING:
    from collections.abc import Sequence

__all__ = ["Checked", "back_up", "check", "restore"]


@dataclass(frozen=True)
class Checked:
    """What a database or a copy holds, and whether it is whole."""

    what: str
    contents: Contents | None
    """None where the records cannot be read at all."""
    photos: int
    faults: Sequence[str]
    """What is wrong; nothing where it is whole."""


def back_up(url: str, target: Path, *, photos: str | None = None, now: datetime | None = None, replace: bool = False) -> Copied:
    """Copy the records, with the files that belong to them, into one file. Raises InputError and KeepingError."""
    return copy_to(url, target, photos=photo_folder(url, photos), now=now, replace=replace)


def check(place: str, *, photos: str | None = None) -> Checked:
    """Return what a copy, a file or the database at a URL holds, and whether it is whole. Nothing is changed by it.

    `photos` is the folder of its photos, where that is not the usual one.

    Raises InputError where there is nothing, and KeepingError where a server cannot be reached.
    """
    if "://" in place and file_of(place) is None:
        return _checked_server(place, photos)
    path = file_of(place) if "://" in place else Path(place).expanduser()
    assert path is not None  # noqa: S101 — said above
    if not path.is_file():
        raise InputError(seen=f"there is no file {path}", remedy="give a database, or a copy made by `foible backup`")
    with path.open("rb") as file:
        packed = file.read(2) == b"PK"
    if packed:
        return _checked_copy(path)
    return _checked_file(path, f"database {path}", len(attachments(photo_folder(f"sqlite:///{path.absolute()}", photos))))


def _checked_file(path: Path, what: str, photos: int) -> Checked:
    faults = sqlite_copy.faults(path)
    try:
        contents = Contents(**sqlite_copy.contents(path))
    except FoibleError as error:
        return Checked(what, None, photos, faults or [str(error)])
    return Checked(what, contents, photos, faults)


def _checked_copy(path: Path) -> Checked:
    try:
        with opened_copy(path) as (copied, folder):
            what = f"copy {path} of {copied.made[:16].replace('T', ' ')} UTC, made by Foible {copied.by}"
            records = folder / copied.records
            if records.suffix == ".db":
                checked = _checked_file(records, what, len(copied.photos))
                if checked.contents in (None, copied.contents):
                    return checked
                return Checked(what, checked.contents, checked.photos, ["it holds other records than it says"])
            faults = [] if postgresql_tools.readable(records) else ["pg_restore cannot read the records in it"]
            return Checked(what, copied.contents, len(copied.photos), faults)
    except InputError as error:
        return Checked(f"copy {path}", None, 0, [error.seen])


def _checked_server(url: str, photos: str | None) -> Checked:
    """Return what a server's database holds: it is read from beginning to end."""
    contents = Contents(**postgresql_tools.contents(url))
    with TemporaryDirectory(prefix="foible-check-") as folder:
        read = Path(folder) / "read"
        postgresql_tools.dump(url, read)
        faults = [] if postgresql_tools.readable(read) else ["pg_restore cannot read what pg_dump wrote"]
    return Checked("PostgreSQL database", contents, len(attachments(photo_folder(url, photos))), faults)


def restore(
    copy: Path, url: str, *, photos: str | None = None, replace: bool = False, now: datetime | None = None
) -> tuple[Copied, Path | None]:
    """Put a copy in a place of its own, once it is known to be whole and to open with this Foible.

    With `replace`, what is there now is set aside first; returns the copy and where that is. Raises InputError and KeepingError.
    """
    checked = check(str(copy))
    if checked.faults:
        remedy = "use another copy; `foible check FILE` tells of each whether it is whole"
        raise InputError(seen=f"{copy} is not whole ({checked.faults[0]})", remedy=remedy)
    path, album = file_of(url), photo_folder(url, photos)
    with opened_copy(copy) as (copied, folder):
        if path is None:
            _fill_server(url, copied, folder)
            aside = None
        elif copied.records.endswith(".db"):
            Database(f"sqlite:///{folder / copied.records}").dispose()  # or it is of a later version, which is told
            aside = _set_aside(path, album, now or datetime.now(UTC), replace=replace)
            with named_disk(path):
                _put(folder / copied.records, path)
        else:
            raise InputError(seen=f"{copy} is a copy of a PostgreSQL database", remedy="give the URL of an empty one with --data")
        if copied.photos:
            with named_disk(album):
                shutil.copytree(folder / PHOTOS, album, dirs_exist_ok=True)
    return copied, aside


def _put(made: Path, target: Path) -> None:
    """Put a file in its place in one step."""
    part = target.with_name(f".{target.name}.part")
    try:
        shutil.copyfile(made, part)
        with part.open("rb") as written:
            os.fsync(written.fileno())
        part.replace(target)
    finally:
        part.unlink(missing_ok=True)


def _fill_server(url: str, copied: Copied, folder: Path) -> None:
    if copied.records.endswith(".db"):
        seen = "this is a copy of a database in a file"
        raise InputError(seen=seen, remedy="restore it into a file; give one with --data")
    if not postgresql_tools.is_empty(url):
        raise InputError(seen="the database has tables already", remedy="make an empty one with createdb and give its URL")
    postgresql_tools.restore(url, folder / copied.records)


def _set_aside(path: Path, photos: Path, now: datetime, *, replace: bool) -> Path | None:
    """Move what is in the place of the records out of the way, and return where it is now."""
    if not path.exists():
        return None
    if not replace:
        remedy = "give another place with --data, or --replace: then the present records are set aside, not removed"
        raise InputError(seen=f"there are records in {path} already", remedy=remedy)
    if sqlite_copy.in_use(path):
        raise InputError(seen=f"{path} is in use", remedy="stop Foible first")
    stamp = now.strftime("before-restoring-%Y-%m-%d-%H%M%S")
    with named_disk(path):
        for each in (path, *(path.with_name(path.name + end) for end in ("-wal", "-shm")), photos):
            if each.exists():
                rest = each.name.removeprefix(path.name) if each.name.startswith(path.name) else f".{each.name}"
                each.rename(each.with_name(f"{path.name}.{stamp}{rest}"))
    return path.with_name(f"{path.name}.{stamp}")
