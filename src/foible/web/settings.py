"""The server's settings, and the passphrase that devices join with."""

from __future__ import annotations

import hashlib
import hmac
import secrets
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from foible.errors import InputError
from foible.web.devices import Devices
from foible.web.guesses import Guesses

if TYPE_CHECKING:
    from pathlib import Path

    from foible.web.certificates import Certificate

__all__ = ["Passphrase", "Settings"]

WORDS = tuple(
    """
    anvil apron bench bolt brass chalk clamp cork crate dowel drill elbow ember ferry flint gauge girder glaze hammer hinge
    inkwell jacket kettle ladder lantern lever linen mallet marble needle nickel oar paddle pebble pedal pepper pewter pulley
    quarry rafter ribbon rivet saddle satchel shovel spindle spool thimble timber trellis trowel turnip valve velvet walnut
    wicker willow window zipper
    """.split()  # noqa: SIM905 — a list of words is read more easily than a list of strings
)
"""The words of passphrases where the user gives none."""
COUNT = 7
"""Words in a generated passphrase: 59⁷ is 2.5 · 10¹², more than 41 bits."""
SHORTEST = 12
"""Characters of a passphrase of one's own."""
FEWEST = 6
"""Different characters in it."""
COMMON = (
    "password",
    "passphrase",
    "qwerty",
    "asdfgh",
    "letmein",
    "iloveyou",
    "welcome",
    "football",
    "123456",
    "abcdef",
    "foible",
)
"""What the commonest passphrases are made of, from memory."""
COST = {"n": 2**14, "r": 8, "p": 1}
"""Work of one scrypt (RFC 7914): the values for interactive logins of Percival 2009, from memory."""


@dataclass(frozen=True)
class Passphrase:
    """What lets other devices in, stored as a salted hash."""

    salt: bytes
    digest: bytes = field(repr=False)

    @classmethod
    def of(cls, text: str, salt: bytes | None = None) -> Passphrase:
        """Return the hash of a passphrase; capitals and spaces around it do not matter. Without a `salt` one is made."""
        salt = salt or secrets.token_bytes(16)
        return cls(salt, _hashed(text, salt))

    def opens(self, text: str) -> bool:
        """Return whether `text` is the passphrase."""
        return hmac.compare_digest(_hashed(text, self.salt), self.digest)

    @staticmethod
    def check(text: str) -> None:
        """Refuse a passphrase that is soon guessed. Raises InputError."""
        words = "".join(text.split()).casefold()
        rest = words
        for each in COMMON:
            rest = rest.replace(each, "")
        if len(" ".join(text.split())) < SHORTEST:
            seen = f"the passphrase has fewer than {SHORTEST} characters"
        elif len(set(words)) < FEWEST or len(rest) < SHORTEST // 2:
            seen = "the passphrase is among those that are guessed first"
        else:
            return
        raise InputError(seen=seen, remedy="give three or four words that do not belong together, or none: then one is made up")

    @staticmethod
    def made() -> str:
        """Return a new passphrase of common words."""
        return " ".join(secrets.choice(WORDS) for _ in range(COUNT))


def _hashed(text: str, salt: bytes) -> bytes:
    words = " ".join(text.split()).casefold()
    return hashlib.scrypt(words.encode(), salt=salt, n=COST["n"], r=COST["r"], p=COST["p"])


@dataclass(frozen=True)
class Settings:
    """The server's settings. Without a passphrase it serves this machine only."""

    hosts: tuple[str, ...] = ("localhost", "127.0.0.1", "::1")
    """Host names that the server answers to; others are refused, so that no foreign page can point its own name here."""
    passphrase: Passphrase | None = None
    join: str = ""
    """Address that other devices open, with the passphrase behind a “#”; empty where none may join."""
    secret: str = field(default_factory=lambda: secrets.token_hex(32), repr=False)
    """Key of the cookies."""
    proxy: str | None = None
    """Address of the proxy that Foible stands behind; then no request counts as made on this machine."""
    guesses: Guesses = field(default_factory=Guesses, repr=False, compare=False)
    """Made before the server's processes, which share it."""
    devices: Devices = field(default_factory=Devices, repr=False, compare=False)
    """Those that have joined."""
    certificate: Certificate | None = field(default=None, repr=False)
    """What the server speaks TLS with; None: it speaks plain HTTP."""
    rules: tuple[Path, ...] = ()
    """Files of own rules."""

    @property
    def ticket(self) -> str:
        """What the cookie of a joined device holds; another passphrase invalidates it."""
        digest = self.passphrase.digest if self.passphrase else b""
        return hmac.new(self.secret.encode(), digest, "sha256").hexdigest()[:32]

    @property
    def shared(self) -> bool:
        """Whether devices other than this machine may join."""
        return self.passphrase is not None
