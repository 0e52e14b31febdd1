"""A copy of the records each day, kept by itself while Foible is served: so many of them, and the oldest goes."""

from __future__ import annotations

import re
import sys
import threading
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from foible.errors import FoibleError
from foible.records import file_of
from foible.services.copying import back_up
from foible.services.opening import data_url

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

__all__ = ["COPIES", "DailyCopies", "copies_folder"]

COPIES = 14
"""Copies that stay, by default."""
FIRST_S, LOOK_S = 20.0, 600.0
"""How long after the start, and how often, it is seen whether today has its copy [s]."""


def copies_folder(url: str) -> Path:
    """Return where the copies of a database lie by default: beside its file, or in the user's own folder."""
    path = file_of(url) or file_of(data_url(None))
    assert path is not None  # noqa: S101 — the user's own records are a file
    return path.with_name(f"{path.name}.copies")


@dataclass
class DailyCopies:
    """The copies of one database in one folder. `clock` tells the time, in UTC."""

    url: str
    folder: Path
    keep: int = COPIES
    photos: str | None = None
    """Where the photos lie; None is beside the records."""
    clock: Callable[[], datetime] = lambda: datetime.now(UTC)
    _complained: str = field(default="", init=False)

    def there(self) -> list[Path]:
        """Return the copies that are there, the newest first; other files in the folder are nobody's business."""
        stem = re.escape(self._stem)
        mine = re.compile(rf"{stem}-\d{{4}}-\d\d-\d\d\.zip")
        found = self.folder.glob("*.zip") if self.folder.is_dir() else ()
        return sorted((path for path in found if mine.fullmatch(path.name)), reverse=True)

    def look(self) -> Path | None:
        """Make today's copy where there is none yet, and remove the oldest beyond those to be kept. Raises FoibleError."""
        today = self.folder / f"{self._stem}-{self.clock():%Y-%m-%d}.zip"
        made = None
        if not today.exists():
            self.folder.mkdir(mode=0o700, parents=True, exist_ok=True)
            back_up(self.url, today, photos=self.photos, now=self.clock())
            made = today
        for old in self.there()[self.keep :]:
            old.unlink(missing_ok=True)
        return made

    def start(self) -> threading.Thread:
        """Look now and then, in a thread that ends with the program."""
        thread = threading.Thread(target=self._watch, name="copies", daemon=True)
        thread.start()
        return thread

    def _watch(self) -> None:
        pause = threading.Event()
        wait_s = FIRST_S
        while not pause.wait(wait_s):
            wait_s = LOOK_S
            try:
                self.look()
                self._complained = ""
            except (FoibleError, OSError) as error:
                if str(error) != self._complained:  # the same is said once
                    self._complained = str(error)
                    sys.stderr.write(f"Today's copy of the records is not made: {error}\n")

    @property
    def _stem(self) -> str:
        path = file_of(self.url)
        return path.stem if path else "records"
