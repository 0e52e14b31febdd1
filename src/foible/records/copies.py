"""Copies of the records: one file each, made while Foible runs, and checked before it is believed.

A copy is a ZIP archive: `about.json` tells what is in it and the SHA-256 of every other member; `records.db` is an SQLite
database, or `records.pgdump` what PostgreSQL's own `pg_dump` writes; `photos/` has the files that lie beside the records.
"""

from __future__ import annotations

import errno
import hashlib
import json
import os
import shutil
import zipfile
import zlib
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from pathlib import Path, PurePosixPath
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any

from foible import __version__
from foible.errors import InputError, KeepingError
from foible.records import postgresql_tools, sqlite_copy
from foible.records.on_file import address_of, file_of

if TYPE_CHECKING:
    from collections.abc import Iterator

__all__ = ["ABOUT", "PHOTOS", "Contents", "Copied", "attachments", "back_up", "named_disk", "opened_copy"]

ABOUT = "about.json"
PHOTOS = "photos"
SQLITE, POSTGRESQL = "records.db", "records.pgdump"
LARGEST_ABOUT = 10_000_000
"""Bytes; room for a hundred thousand photos."""
DISK = {errno.ENOSPC: "the disk is full", errno.EDQUOT: "the disk is full", errno.EROFS: "nothing can be written there"}


@dataclass(frozen=True)
class Contents:
    """What is in the records."""

    step: str
    """The step of the migrations that the tables are at."""
    cases: int
    entries: int
    latest: str | None
    """When a case was last changed, in UTC (ISO 8601)."""


@dataclass(frozen=True)
class Copied:
    """A copy, as it says of itself."""

    made: str
    """When, in UTC (ISO 8601)."""
    by: str
    """The version of Foible."""
    records: str
    """The member with the records."""
    contents: Contents
    members: dict[str, str]
    """The SHA-256 of each member, in hexadecimal."""

    @property
    def photos(self) -> tuple[str, ...]:
        """The members that lie beside the records, by their paths below the folder."""
        return tuple(name.removeprefix(f"{PHOTOS}/") for name in self.members if name.startswith(f"{PHOTOS}/"))


def back_up(url: str, target: Path, *, photos: Path, now: datetime | None = None, replace: bool = False) -> Copied:
    """Copy the records at `url`, with the files in the folder `photos`, into one file; a running Foible goes on meanwhile.

    The file is complete or is not there. Raises InputError and KeepingError.
    """
    if target.exists() and not replace:
        raise InputError(seen=f"the file {target} already exists", remedy="give another name, or --replace to overwrite it")
    with named_disk(target), TemporaryDirectory(dir=target.absolute().parent, prefix=f".{target.name}.") as folder:
        records, contents = _records(url, Path(folder))
        files = {records.name: records, **attachments(photos)}  # a photo is there before its entry
        part = Path(folder) / "part"
        copied = Copied(
            made=(now or datetime.now(UTC)).isoformat(timespec="seconds"),
            by=__version__,
            records=records.name,
            contents=contents,
            members=_packed(part, files),
        )
        with zipfile.ZipFile(part, "a") as archive:
            archive.writestr(ABOUT, json.dumps(asdict(copied), indent=1))
        with part.open("rb") as written:
            os.fsync(written.fileno())
        part.replace(target)
    return copied


def attachments(folder: Path) -> dict[str, Path]:
    """Return the files beside the records, by the names of their members; none where there is no such folder."""
    found = sorted(path for path in folder.rglob("*") if path.is_file() and not path.is_symlink())
    return {f"{PHOTOS}/{path.relative_to(folder).as_posix()}": path for path in found}


def _records(url: str, folder: Path) -> tuple[Path, Contents]:
    """Copy the database alone into a folder."""
    path = file_of(url)
    if path is not None:
        made = folder / SQLITE
        sqlite_copy.copy(path, made)
        return made, Contents(**sqlite_copy.contents(made))
    if address_of(url).get_backend_name() != "postgresql":
        raise InputError(seen="there is no file to copy", remedy="name the file or the PostgreSQL database with --data")
    made = folder / POSTGRESQL
    postgresql_tools.dump(url, made)
    return made, Contents(**postgresql_tools.contents(url))


def _packed(part: Path, files: dict[str, Path]) -> dict[str, str]:
    """Write the members of a copy, and return the SHA-256 of each."""
    sums = {}
    with zipfile.ZipFile(part, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as archive:
        for name, path in files.items():
            digest = hashlib.sha256()
            with path.open("rb") as source, archive.open(name, "w", force_zip64=True) as member:
                while block := source.read(1 << 20):
                    digest.update(block)
                    member.write(block)
            sums[name] = digest.hexdigest()
    return sums


@contextmanager
def opened_copy(path: Path) -> Iterator[tuple[Copied, Path]]:
    """Yield what a copy says of itself, and a folder with all its members, each compared with its SHA-256.

    Raises InputError where this is no copy, or not a whole one.
    """
    remedy = "use another copy; `foible check FILE` tells of each whether it is whole"
    with TemporaryDirectory(prefix="foible-copy-") as folder:
        try:
            with zipfile.ZipFile(path) as archive:
                copied = _about(archive)
                for name, known in copied.members.items():
                    _unpack(archive, name, known, Path(folder))
        except OSError as error:
            if error.errno in DISK:
                raise
            raise InputError(seen=f"{path} cannot be read ({error.strerror})", remedy="check the file's name") from error
        except (zipfile.BadZipFile, zlib.error, EOFError, KeyError, ValueError, TypeError, RuntimeError) as error:
            raise InputError(seen=f"{path} is not a whole copy made by `foible backup` ({error})", remedy=remedy) from error
        yield copied, Path(folder)


def _about(archive: zipfile.ZipFile) -> Copied:
    """Return what a copy says of itself. Raises KeyError, TypeError and ValueError where it says something else."""
    if archive.getinfo(ABOUT).file_size > LARGEST_ABOUT:
        msg = f"{ABOUT} is too large"
        raise ValueError(msg)
    about: dict[str, Any] = json.loads(archive.read(ABOUT))
    copied = Copied(**about | {"contents": Contents(**about["contents"]), "members": dict(about["members"])})
    if copied.records not in (SQLITE, POSTGRESQL) or copied.records not in copied.members:
        msg = "there are no records in it"
        raise ValueError(msg)
    return copied


def _unpack(archive: zipfile.ZipFile, name: str, known: str, folder: Path) -> None:
    steps = PurePosixPath(name).parts
    if name not in (SQLITE, POSTGRESQL) and (steps[0] != PHOTOS or {"..", ".", "/"} & set(steps) or "\\" in name):
        msg = f"the member {name!r} does not belong there"
        raise ValueError(msg)
    target = folder.joinpath(*steps)
    target.parent.mkdir(parents=True, exist_ok=True)
    digest = hashlib.sha256()
    with archive.open(name) as source, target.open("wb") as file:
        while block := source.read(1 << 20):
            digest.update(block)
            file.write(block)
    if digest.hexdigest() != known:
        msg = f"{name} is not as it was when the copy was made"
        raise ValueError(msg)


@contextmanager
def named_disk(target: Path) -> Iterator[None]:
    """Within this block, what the disk refuses is told by its right name."""
    try:
        yield
    except OSError as error:
        reason = DISK.get(error.errno or 0, error.strerror or str(error))
        room = shutil.disk_usage(target.absolute().parent).free if target.absolute().parent.is_dir() else None
        left = f", {room // 1_000_000:,} MB are free there" if room is not None else ""
        remedy = f"nothing was changed; choose a folder with room that you may write to{left}"
        raise KeepingError(what=str(target), reason=reason, done="written", remedy=remedy) from error
