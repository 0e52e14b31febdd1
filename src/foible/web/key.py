"""The key of the cookies: kept beside the records for their owner alone, whole or not at all."""

from __future__ import annotations

import os
import re
import secrets
import sys
from contextlib import suppress
from pathlib import Path
from tempfile import NamedTemporaryFile

from foible.records import file_of
from foible.services.opening import data_url

__all__ = ["kept_secret"]

WHOLE = re.compile(r"[0-9a-f]{64}")
"""What a key looks like: 256 bits."""


def kept_secret(url: str) -> str:
    """Return the key of the cookies, stored beside the cases, so that a restart ends no session.

    One that is not whole, as a crash or a hand may leave it, opens nothing: a new one takes its place, and devices join again.
    Where nothing can be stored, the key lasts until Foible stops.
    """
    path = Path(f"{file_of(url) or file_of(data_url(None))}.key")
    known = _read(path)
    if known:
        return known
    if path.exists():
        sys.stderr.write(f"The key in {path} is not whole, so a new one is made: devices that had joined have to join again.\n")
    made = secrets.token_hex(32)
    try:
        _store(path, made)
    except OSError as error:
        sys.stderr.write(f"The key in {path} cannot be kept ({error.strerror}): devices have to join again after a restart.\n")
        return made
    return _read(path) or made  # another process may have been first


def _read(path: Path) -> str | None:
    """Return a whole key, or None."""
    with suppress(OSError, UnicodeDecodeError):
        if path.is_file() and WHOLE.fullmatch(text := path.read_text(encoding="ascii").strip()):
            return text
    return None


def _store(path: Path, key: str) -> None:
    """Put a key in its place in one step, on disk before it is used; the first of several processes wins."""
    with NamedTemporaryFile("w", dir=path.parent, prefix=f".{path.name}.", delete=False) as new:  # for its owner alone
        new.write(key)
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
