"""Photos of a case: files in a folder beside the database, found by the entries of the case that they belong to.

A photo's name is made here and is nothing that anybody sent. Its files are written before its entry and removed after it, so that
no entry ever stands without its photo; what a cut leaves behind is a file that nobody asks for.
"""

from __future__ import annotations

import os
import secrets
from typing import TYPE_CHECKING

from foible.errors import InputError, KeepingError, NotFoundError
from foible.records import EntryKind, NewEntry
from foible.services.pictures import cleaned

if TYPE_CHECKING:
    from pathlib import Path

    from foible.records import KeptCase
    from foible.services.cases import Cases
    from foible.services.pictures import Picture

__all__ = ["MOST_PHOTOS", "Album", "album_of", "attach", "photo_of"]

MOST_PHOTOS = 20
"""Photos that stand in one case at most."""


class Album:
    """The folder in which photos lie, two files each. It comes into being with the first of them, for its owner alone."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def keep(self, picture: Picture) -> str:
        """Keep a photo, on disk before this returns, and return the name it is kept under. Raises KeepingError."""
        name = secrets.token_hex(16)
        try:
            self.folder.mkdir(mode=0o700, parents=True, exist_ok=True)
            for small, content in ((False, picture.large), (True, picture.small)):
                flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL
                with os.fdopen(os.open(self._path(name, small=small), flags, 0o600), "wb") as file:
                    file.write(content)
                    file.flush()
                    os.fsync(file.fileno())
        except OSError as error:
            self.drop(name)
            raise KeepingError(what="the photo", reason=error.strerror or str(error)) from error
        return name

    def read(self, name: str, *, small: bool) -> bytes:
        """Return a photo, a JPEG. Raises KeepingError where its file is gone."""
        try:
            return self._path(name, small=small).read_bytes()
        except OSError as error:
            raise KeepingError(what="the photo", reason=error.strerror or str(error), done="read") from error

    def drop(self, name: str) -> None:
        """Remove the files of a photo; what is gone already is no matter."""
        for small in (False, True):
            self._path(name, small=small).unlink(missing_ok=True)

    def _path(self, name: str, *, small: bool) -> Path:
        return self.folder / f"{name}{'-small' if small else ''}.jpg"


def attach(cases: Cases, case: str, raw: bytes, *, token: str, by: str = "") -> KeptCase:
    """Attach a photo to a case, sized down and stripped of everything but what can be seen; a known token changes nothing.

    Raises InputError where it is no photo, or the case has enough of them.
    """
    album, kept = album_of(cases), cases.store.case(case)
    if kept.has_heard(token):
        return kept
    if sum(bool(entry.photo) for entry in kept.standing) >= MOST_PHOTOS:
        raise InputError(seen=f"this case has {MOST_PHOTOS} photos already", remedy="take one back first")
    name = album.keep(cleaned(raw))
    try:
        kept = cases.store.add(kept.id, NewEntry(EntryKind.PHOTO, token, say="photo", by=by, photo=name))
    except BaseException:
        album.drop(name)
        raise
    if all(entry.photo != name for entry in kept.entries):  # the same was sent twice at one moment, and the other came first
        album.drop(name)
    return kept


def album_of(cases: Cases) -> Album:
    """Return where the photos of cases are kept. Raises InputError where none are."""
    if cases.album is None:
        raise InputError(seen="this server keeps no photos", remedy="start it with --photos FOLDER")
    return cases.album


def photo_of(kept: KeptCase, number: int) -> str:
    """Return the name of the photo that an entry of a case is. Raises NotFoundError, also where it was taken back."""
    known = {str(entry.number): entry.photo for entry in kept.standing if entry.photo}
    if str(number) not in known:
        raise NotFoundError(what="photo", name=str(number), known=known)
    return known[str(number)]
