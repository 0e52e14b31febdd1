"""Files that wait to be imported: kept beside the records from the trial to the import, with how far it has come.

An import runs in one of several processes; a page that any of them serves tells how far it is. What is forgotten here goes after
a day, and a file leaves as soon as it has been taken in.
"""

from __future__ import annotations

import json
import os
import re
import secrets
import time
from contextlib import suppress
from dataclasses import asdict, dataclass, field, replace
from typing import TYPE_CHECKING

from foible.errors import FoibleError, KeepingError, NotFoundError

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from foible.records.trail import Who
    from foible.services.transfer.planning import Plan
    from foible.services.transfer.taking import Transfer

__all__ = ["Desk", "Waiting"]

NAME = re.compile(r"[0-9a-f]{24}")
DAY_S = 86_400
"""How long a file waits [s]."""
SILENT_S = 60
"""After so long without a word an import has stopped: its process was ended, and nothing was saved [s]."""
OFTEN_S = 0.3
"""How often the state on disk is brought up to date [s]."""
MOST_CODES = 2000
"""Codes of new items that are remembered, so that labels can be printed for them."""


@dataclass(frozen=True)
class Waiting:
    """A file at the desk: how it is to be read, and what became of it."""

    name: str
    table: str | None = None
    columns: dict[str, str | None] = field(default_factory=dict)
    """Column by heading, as somebody chose it."""
    state: str = "waiting"
    """“waiting”, “running”, “done”, “failed”."""
    done: int = 0
    of: int = 0
    counts: dict[str, int] = field(default_factory=dict)
    codes: list[str] = field(default_factory=list)
    seen: str = ""
    """Why it failed."""
    remedy: str = ""
    at: float = 0.0
    """When the state was last written."""


class Desk:
    """A folder of files that wait; for its owner alone."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def keep(self, raw: bytes, name: str) -> str:
        """Keep a file and return what it is called here. Raises KeepingError."""
        ref = secrets.token_hex(12)
        try:
            self._folder.mkdir(mode=0o700, parents=True, exist_ok=True)
            self._tidy_up()
            self._put(self._folder / f"{ref}.table", raw)
        except OSError as error:
            raise KeepingError(what="the file", reason=error.strerror or str(error)) from error
        self.change(ref, Waiting(name))
        return ref

    def look(self, ref: str) -> Waiting:
        """Return the state of a file. Raises NotFoundError."""
        try:
            waiting = Waiting(**json.loads(self._path(ref, "json").read_text("utf-8")))
        except (OSError, ValueError) as error:
            raise NotFoundError(what="file to import", name=ref, known=()) from error
        if waiting.state == "running" and time.time() - waiting.at > SILENT_S:
            return replace(waiting, state="failed", seen="the import was interrupted", remedy="nothing was saved; start it again")
        return waiting

    def bytes_of(self, ref: str) -> bytes:
        """Return a file. Raises NotFoundError where it has been taken in, or has waited too long."""
        try:
            return self._path(ref, "table").read_bytes()
        except OSError as error:
            raise NotFoundError(what="file to import", name=ref, known=()) from error

    def change(self, ref: str, waiting: Waiting) -> None:
        """Write the state of a file, whole or not at all. Raises KeepingError."""
        try:
            self._put(self._path(ref, "json"), json.dumps(asdict(replace(waiting, at=time.time()))).encode())
        except OSError as error:
            raise KeepingError(what="the file", reason=error.strerror or str(error)) from error

    def begin(self, ref: str) -> bool:
        """Return whether the import of a file may begin: of two who ask, one may, and nobody may twice."""
        waiting = self.look(ref)
        if waiting.state == "failed":
            self._path(ref, "lock").unlink(missing_ok=True)
        with suppress(FileExistsError):
            os.close(os.open(self._path(ref, "lock"), os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600))
            self.change(ref, replace(waiting, state="running", done=0, of=0))
            return True
        return False

    def run(self, ref: str, transfer: Transfer, by: Who) -> None:
        """Import a file, and say how far that is and how it ended; nothing is raised, and nothing is half done."""
        waiting = self.look(ref)
        last = time.monotonic()

        def tell(done: int, of: int) -> None:
            nonlocal last
            if time.monotonic() - last > OFTEN_S:
                last = time.monotonic()
                self.change(ref, replace(waiting, state="running", done=done, of=of))

        try:
            plan = self.tried(ref, transfer, tell)
            self.change(ref, replace(waiting, state="running", done=plan.draft.count, of=plan.draft.count))
            counts = transfer.take(plan, by=by)
        except FoibleError as error:
            seen, remedy = getattr(error, "seen", str(error)), getattr(error, "remedy", "try again")
            self.change(ref, replace(waiting, state="failed", seen=seen, remedy=remedy))
        except Exception:
            self.change(
                ref, replace(waiting, state="failed", seen="something went wrong inside Foible", remedy="nothing was saved")
            )
            raise
        else:
            codes = [str(row["code"]) for row in plan.batch.get("items", ())][:MOST_CODES]
            self.change(ref, replace(waiting, state="done", counts=counts, codes=codes))
            self._path(ref, "table").unlink(missing_ok=True)

    def tried(self, ref: str, transfer: Transfer, progress: Callable[[int, int], None] | None = None) -> Plan:
        """Return what a file would add, read as was chosen. Raises InputError."""
        waiting = self.look(ref)
        raw, columns = self.bytes_of(ref), waiting.columns
        return transfer.tried(raw, name=waiting.name, table=waiting.table, columns=columns, progress=progress)

    def _path(self, ref: str, ending: str) -> Path:
        if not NAME.fullmatch(ref):
            raise NotFoundError(what="file to import", name=ref, known=())
        return self._folder / f"{ref}.{ending}"

    def _put(self, path: Path, content: bytes) -> None:
        part = path.with_name(f".{path.name}.{secrets.token_hex(4)}")
        with os.fdopen(os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as file:
            file.write(content)
        part.replace(path)

    def _tidy_up(self) -> None:
        """Remove what has waited for too long."""
        for path in self._folder.iterdir():
            with suppress(OSError):
                if time.time() - path.stat().st_mtime > DAY_S:
                    path.unlink()
