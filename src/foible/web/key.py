"""The key of the cookies: kept beside the records for their owner alone, whole or not at all."""

from __future__ import annotations

import re
import secrets
import sys
from contextlib import suppress
from typing import TYPE_CHECKING

from foible.web.own_files import beside, store

if TYPE_CHECKING:
    from pathlib import Path

__all__ = ["kept_secret"]

WHOLE = re.compile(r"[0-9a-f]{64}")
"""What a key looks like: 256 bits."""


def kept_secret(url: str) -> str:
    """Return the key of the cookies, stored beside the cases, so that a restart ends no session.

    One that is not whole, as a crash or a hand may leave it, opens nothing: a new one takes its place, and devices join again.
    Where nothing can be stored, the key lasts until Foible stops.
    """
    path = beside(url, ".key")
    known = _read(path)
    if known:
        return known
    if path.exists():
        sys.stderr.write(f"The key in {path} is not whole, so a new one is made: devices that had joined have to join again.\n")
    made = secrets.token_hex(32)
    try:
        store(path, made)
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
