"""Files of the server's own beside the records: for their owner alone, whole or not at all."""

from __future__ import annotations

import os
from contextlib import suppress
from pathlib import Path
from tempfile import NamedTemporaryFile

from foible.records import file_of
from foible.services.opening import data_url

__all__ = ["beside", "store"]


def beside(url: str, ending: str) -> Path:
    """Return the path of a file beside the database; for a server's database, in the user's own folder."""
    return Path(f"{file_of(url) or file_of(data_url(None))}{ending}")


def store(path: Path, text: str) -> None:
    """Put a file in its place in one step, on disk before it is used; where none is there, the first of several processes wins.

    Raises OSError.
    """
    with NamedTemporaryFile("w", dir=path.parent, prefix=f".{path.name}.", delete=False) as new:  # for its owner alone
        new.write(text)
        new.flush()
        os.fsync(new.fileno())
    part = Path(new.name)
    try:
        if path.exists():
            part.replace(path)
        else:
            with suppress(FileExistsError):
                os.link(part, path)
    finally:
        part.unlink(missing_ok=True)
