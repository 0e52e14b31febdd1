"""Text in, text out in the characters that the typefaces built into PDF can write."""

from __future__ import annotations

import unicodedata

from anyascii import anyascii

__all__ = ["CODING", "written"]

CODING = "cp1252"
"""What the typefaces built into PDF can write."""
STAND_INS = {"Ω": "ohm", "→": ">", "−": "-", "≤": "at most", "≥": "at least"}
"""Stand-ins for signs that they cannot write."""


def written(text: str) -> str:
    """Return text in characters that the typeface has: without accents that it lacks, and other scripts in Latin letters."""
    return "".join(_sign(sign) for sign in text)


def _sign(sign: str) -> str:
    if sign in STAND_INS:
        return STAND_INS[sign]
    for form in (sign, unicodedata.normalize("NFKD", sign), anyascii(sign)):
        writable = form.encode(CODING, "ignore").decode(CODING)
        if writable:
            return writable
    return "?"
