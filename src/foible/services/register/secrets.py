"""PINs and passphrases in: refused where they are soon guessed, hashed by Argon2id, compared."""

from __future__ import annotations

import unicodedata
from itertools import pairwise

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError

from foible.errors import InputError

__all__ = ["HASHER", "Secrets", "check_secret"]

HASHER = PasswordHasher()
"""Argon2id with the parameters that RFC 9106, section 4, recommends where memory is short: 64 MiB, three passes."""
SHORTEST_PIN, SHORTEST_PASSPHRASE, LONGEST = 6, 12, 200
FEWEST = 6
"""Different characters in a passphrase."""
REMEDY = f"give at least {SHORTEST_PIN} digits, or at least {SHORTEST_PASSPHRASE} characters, such as three or four words"


def check_secret(text: str) -> str:
    """Return a PIN or a passphrase as it is hashed. Raises InputError where it is too short or soon guessed."""
    secret = _plain(text)
    if secret.isascii() and secret.isdecimal():
        if len(secret) < SHORTEST_PIN:
            raise InputError(seen=f"the PIN has {len(secret)} digits", remedy=REMEDY)
        if _runs(secret) or _repeats(secret):
            raise InputError(seen="the PIN is among those that are guessed first", remedy="leave out runs and repetitions")
    elif len(secret) < SHORTEST_PASSPHRASE:
        raise InputError(seen=f"the passphrase has {len(secret)} characters", remedy=REMEDY)
    elif len(secret) > LONGEST:
        raise InputError(seen=f"the passphrase has {len(secret)} characters", remedy=f"give at most {LONGEST}")
    elif len(set(secret.casefold())) < FEWEST:
        raise InputError(seen="the passphrase is among those that are guessed first", remedy="use more different characters")
    return secret


class Secrets:
    """Hashes secrets and compares them; `hasher` says at what cost."""

    def __init__(self, hasher: PasswordHasher = HASHER) -> None:
        self._hasher = hasher
        self._nobodys = hasher.hash("nobody’s")

    def hashed(self, text: str) -> str:
        """Return the hash of a new PIN or passphrase. Raises InputError where it is soon guessed."""
        return self._hasher.hash(check_secret(text))

    def opens(self, text: str, kept: str | None) -> bool:
        """Return whether a secret is the one that was kept; without one it takes as long, and is not."""
        try:
            return self._hasher.verify(kept or self._nobodys, _plain(text[: 2 * LONGEST])) and kept is not None
        except (VerificationError, InvalidHashError):
            return False

    def renewed(self, text: str, kept: str) -> str | None:
        """Return a secret hashed at today's cost; None where it is already."""
        return self._hasher.hash(_plain(text)) if self._hasher.check_needs_rehash(kept) else None


def _plain(text: str) -> str:
    """Return a secret as it is hashed: composed, single-spaced (after RFC 8265, 4.2)."""
    return " ".join(unicodedata.normalize("NFKC", text).split())


def _repeats(digits: str) -> bool:
    """Return whether a PIN is one, two or three digits over and over."""
    return any(digits == (digits[:length] * len(digits))[: len(digits)] for length in (1, 2, 3))


def _runs(digits: str) -> bool:
    """Return whether a PIN counts up or down throughout, 0 after 9."""
    steps = {(int(later) - int(earlier)) % 10 for earlier, later in pairwise(digits)}
    return steps in ({1}, {9})
