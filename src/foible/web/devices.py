"""The devices that have joined: a small file for each in a folder beside the records, so that all processes know of the same.

A device whose file is gone is out at its next request, whoever removed the file. The time of the file is when the device was
last seen. The folder lies with the key of the cookies, not in the records: a copy put back lets nobody in who was sent away.
"""

from __future__ import annotations

import json
import os
import re
import secrets
import shutil
import sys
import tempfile
import weakref
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

from foible.errors import InputError, KeepingError

if TYPE_CHECKING:
    from collections.abc import Callable

__all__ = ["LONGEST_NAME", "STAYS", "Device", "Devices", "kind_of"]

STAYS = timedelta(days=14)
"""How long a device stays joined after it joined or was last seen."""
MOST = 500
"""Devices at one time."""
LONGEST_NAME = 40
"""Characters of a device's name."""
SEEN_S = 60.0
"""How much later a device must be seen for that to be noted [s]."""
ID = re.compile(r"[0-9a-f]{16}")
SIZE = 512
"""Bytes of a device's file, always the same, so that one write changes all of it."""
KINDS = {r"iPad|Tablet|Android(?!.*Mobile)": "tablet", r"iPhone|Android|Mobile": "phone", r"Macintosh|Windows|X11|CrOS": "laptop"}
"""What a browser's own name tells of the device, and no more of it is kept."""


@dataclass(frozen=True)
class Device:
    """A device that has joined."""

    id: str
    name: str
    joined: datetime
    seen: datetime
    """To the minute."""


def kind_of(user_agent: str) -> str:
    """Return what kind of device a browser says that it is on."""
    return next((kind for pattern, kind in KINDS.items() if re.search(pattern, user_agent)), "device")


class Devices:
    """The devices that know one passphrase; `ticket` stands for it. With another passphrase all have to join again."""

    def __init__(
        self, folder: Path | None = None, ticket: str = "", *, clock: Callable[[], datetime] = lambda: datetime.now(UTC)
    ) -> None:
        """Without a `folder` they have one of their own, which lasts as long as this object; without a `ticket` any will do."""
        if folder is None:
            folder = Path(tempfile.mkdtemp(prefix="foible-devices-"))
            weakref.finalize(self, shutil.rmtree, folder, ignore_errors=True)
        self._folder, self._ticket, self._clock = folder, ticket, clock

    @classmethod
    def opened(cls, folder: Path, ticket: str) -> Devices:
        """Return the devices of a server that starts; those that stay out are forgotten.

        Where nothing can be stored, devices stay joined until Foible stops.
        """
        devices = cls(folder, ticket)
        try:
            folder.mkdir(mode=0o700, exist_ok=True)
            with tempfile.TemporaryFile(dir=folder):
                pass
        except OSError as error:
            sys.stderr.write(f"Devices cannot be kept in {folder} ({error.strerror}): they have to join again after a restart.\n")
            devices = cls(None, ticket)
        devices._forget()
        return devices

    def all(self) -> tuple[Device, ...]:
        """Return all of them, the one that was seen last first."""
        found = (self._device(path) for path in self._paths())
        return tuple(sorted(filter(None, found), key=lambda device: (device.seen, device.id), reverse=True))

    def one(self, name: str) -> Device | None:
        """Return a device by its id; None where it has not joined."""
        return self._device(self._folder / name) if ID.fullmatch(name) else None

    def join(self, kind: str, known: str = "") -> str:
        """Take in a device, or one that was in already, and return its id.

        Raises InputError where there are too many, and KeepingError where it cannot be kept.
        """
        if self.one(known):
            return known
        self._forget()
        others = self.all()
        if len(others) >= MOST:
            raise InputError(seen=f"{MOST} devices have joined already", remedy="send some of them away on the page “devices”")
        taken = {device.name for device in others}
        name = next(name for name in (kind, *(f"{kind} {number}" for number in range(2, MOST + 2))) if name not in taken)
        made, now = secrets.token_hex(8), self._clock()
        try:
            self._folder.mkdir(mode=0o700, exist_ok=True)
            with tempfile.NamedTemporaryFile(dir=self._folder, delete=False) as file:
                file.write(self._content(name, now))
            os.utime(file.name, (now.timestamp(), now.timestamp()))
            Path(file.name).rename(self._folder / made)
        except OSError as error:
            raise KeepingError(what="the device", reason=error.strerror or str(error)) from error
        return made

    def welcome(self, name: object) -> bool:
        """Return whether a device is in, and note that it was seen; quick enough for every request."""
        if not isinstance(name, str) or not ID.fullmatch(name):
            return False
        path, now = self._folder / name, self._clock().timestamp()
        try:
            seen = path.stat().st_mtime
            if abs(now - seen) >= SEEN_S:  # also after the clock was put back
                os.utime(path, (now, now))
        except OSError:
            return False
        return True

    def rename(self, name: str, called: str) -> None:
        """Call a device something else; without a word it keeps its name. Raises InputError."""
        words = " ".join(called.split())
        if len(words) > LONGEST_NAME or not words.isprintable():
            seen = f"the name is longer than {LONGEST_NAME} characters" if words.isprintable() else "the name cannot be shown"
            raise InputError(seen=seen, remedy="give a short one, such as “Anna’s phone”")
        device = self.one(name)
        if device is None or not words:
            return
        with suppress(FileNotFoundError), (self._folder / name).open("r+b", buffering=0) as file:  # never made anew
            file.write(self._content(words, device.joined))
            os.utime(file.fileno(), (device.seen.timestamp(), device.seen.timestamp()))

    def send_away(self, name: str) -> bool:
        """End a device's session, and return whether it was in."""
        if not ID.fullmatch(name):
            return False
        try:
            (self._folder / name).unlink()
        except FileNotFoundError:
            return False
        _on_disk(self._folder)  # a power cut brings nobody back
        return True

    def _paths(self) -> list[Path]:
        try:
            return [path for path in self._folder.iterdir() if ID.fullmatch(path.name)]
        except OSError:
            return []

    def _content(self, name: str, joined: datetime) -> bytes:
        told = {"ticket": self._ticket, "name": name, "joined": joined.isoformat()}
        return json.dumps(told, ensure_ascii=False).encode().ljust(SIZE)

    def _device(self, path: Path) -> Device | None:
        """Return the device that a file tells of; None where it is not whole or knows another passphrase."""
        try:
            told: dict[str, Any] = json.loads(path.read_bytes())
            joined, seen = datetime.fromisoformat(told["joined"]), datetime.fromtimestamp(path.stat().st_mtime, UTC)
            found = Device(path.name, str(told["name"]), joined, seen)
        except (OSError, ValueError, KeyError, TypeError):
            return None
        return found if not self._ticket or told.get("ticket") == self._ticket else None

    def _forget(self) -> None:
        """Remove what stays out anyway: other passphrases, and those not seen for too long."""
        for path in self._paths():
            device = self._device(path)
            if device is None or self._clock() - device.seen > STAYS:
                path.unlink(missing_ok=True)


def _on_disk(folder: Path) -> None:
    """Have the system write down which files are in a folder, where it lets us ask for that."""
    with suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
