"""A meter reading as people write it down in, the interval that it stands for out.

A figure may have a comma or a point (“1,6”), a unit (“1.6 Ω”), thousands (“1k”, “4k7”, “2 MΩ”) or a bound (“>20”, “over 20”).
An open circuit is what meters show for it (“OL”, “∞”) or “open”. A reading that wobbles has two ends: “2-6”, “2 to 6”, “jumps
between 1 and 5”, “1 to open”.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from foible.errors import InputError
from foible.kit import plain

__all__ = ["OVER_RANGE_OHMS", "Reading", "read_reading"]

OVER_RANGE_OHMS = 1e6
"""From here on a meter shows “open” [Ω]; judgement, no source: continuity ranges end lower, auto-ranging meters higher."""

OVER_IS_OPEN = 0.05
"""How often someone who found a line open says “over” a figure, instead of “open”; judgement, no source."""

OPEN = r"open|[o0]\.?l\.?|∞|inf|infinite|infinity|over ?load|over ?range"
FIGURE = r"(\d+)(?:[.,](\d+)|(k|meg)(\d+))?\s*(k|meg)?"
"""Whole part, decimals; or decimals behind the letter for thousands, as in 4k7; thousands or millions."""
UNIT = r"\s*(?:ohms?|ω)?"
_FIGURE = re.compile(FIGURE + UNIT)
_BOUND = re.compile(rf"(over|above|more than|>|≥|under|below|less than|<|≤)\s*({FIGURE}){UNIT}")
_ENDS = re.compile(
    r"(?:(?:it )?(?:jumps|wobbles|varies|flickers|goes|moves)\s*)?(?:between|from)?\s*"
    rf"(?P<low>{FIGURE}{UNIT})\s*(?:to|and|or|until|-|–|—|…|\.\.\.?)\s*(?P<high>{FIGURE}{UNIT}|{OPEN})"
)
_LOW = {"under", "below", "less than", "<", "≤"}
_TIMES = {"": 1.0, "k": 1e3, "meg": 1e6}
_FORMS = "give a figure in ohms such as “1.6” or “4.7k”, or “open”, “over 10”, “under 1”, or “2 to 6” if it wobbles"


@dataclass(frozen=True, slots=True)
class Reading:
    """What a meter showed: somewhere between `low` and `high` [Ω], steady or wobbling between them."""

    low: float
    high: float
    wobbles: bool
    text: str
    told_open: float = 1.0
    """How often an open line is told like this, where `high` is infinite."""

    @property
    def top(self) -> Reading:
        """The upper end of a wobble: a moving contact passes through all values up to its worst, which is at least that."""
        least = OVER_RANGE_OHMS if math.isinf(self.high) else self.high / 2
        return Reading(least, math.inf, wobbles=False, text=self.text)

    @property
    def bottom(self) -> Reading:
        """The lower end of a wobbling reading, read by eye: within a third and a few tenths of an ohm."""
        return Reading(self.low / 1.3, self.low * 1.3 + 0.3, wobbles=False, text=self.text)

    @property
    def words(self) -> str:
        """The reading as pages and papers say it, with its unit: “1.6 Ω”, “over 20 Ω”, “2 to 6 Ω”, “open”."""
        words = _words(self.text)
        if re.fullmatch(OPEN, words):
            return "open"
        if match := _BOUND.fullmatch(words):
            return f"{'under' if match[1] in _LOW else 'over'} {_said(match[2])}"
        if match := _ENDS.fullmatch(words):
            low, high = match["low"], match["high"]
            return f"{_said(low).removesuffix(' Ω')} to {'open' if re.fullmatch(OPEN, high) else _said(high)}"
        return _said(words) if _FIGURE.fullmatch(words) else self.text


def read_reading(text: str) -> Reading:
    """Return the reading that `text` reports; the digits of a figure say how exact it is. Raises InputError."""
    words = _words(text)
    _check_thousands(text, words)
    if re.fullmatch(OPEN, words):
        return Reading(OVER_RANGE_OHMS, math.inf, wobbles=False, text=text)
    if match := _BOUND.fullmatch(words):
        ohms, _ = _ohms(match[2])
        if match[1] in _LOW:
            return Reading(0.0, ohms, wobbles=False, text=text)
        return Reading(ohms, math.inf, wobbles=False, text=text, told_open=OVER_IS_OPEN)
    if match := _ENDS.fullmatch(words):
        low = _ohms(match["low"])[0]
        if re.fullmatch(OPEN, match["high"]):
            return Reading(low, math.inf, wobbles=True, text=text)
        low, high = sorted((low, _ohms(match["high"])[0]))
        return Reading(low, high, wobbles=True, text=text)
    if _FIGURE.fullmatch(words):
        ohms, half = _ohms(words)
        return Reading(max(ohms - half, 0.0), ohms + half, wobbles=False, text=text)
    raise InputError(seen=f"“{text}” is not a meter reading", remedy=_FORMS)


def _words(text: str) -> str:
    """Return a reading in lower case, single-spaced, without its last unit; a capital M is a million, a small one is none."""
    millions = re.sub(r"(?<=\d)\s*M(?=\d|\s|\N{GREEK CAPITAL LETTER OMEGA}|\N{OHM SIGN}|o|$)", "meg", text)
    return re.sub(r"\s*(?:ohms?|ω)$", "", plain(millions))


def _check_thousands(text: str, words: str) -> None:
    """Refuse a comma before three digits: it may stand for thousands or for decimals, a thousand times apart."""
    if found := re.search(r"\d,\d{3}(?!\d)", words):
        bare = found[0].replace(",", "")
        seen = f"“{text}” can be read as {bare} Ω or as {found[0].replace(',', '.')} Ω"
        raise InputError(seen=seen, remedy=f"write “{bare}” or “{found[0].replace(',', '.')}”")


def _ohms(words: str) -> tuple[float, float]:
    """Return a figure and half of its last place [Ω]."""
    match = _FIGURE.fullmatch(words.strip())
    assert match is not None  # noqa: S101 — matched before, as part of a longer form
    whole, decimals, inner, behind, times = match.groups()
    places = decimals or behind or ""
    factor = _TIMES[inner or times or ""]
    return float(f"{whole}.{places or 0}") * factor, 0.5 * 10.0 ** -len(places) * factor


def _said(words: str) -> str:
    """Return a figure with a point and its unit: “1.6 Ω”, “4.7 kΩ”."""
    match = _FIGURE.fullmatch(words.strip())
    assert match is not None  # noqa: S101 — matched before, as part of a longer form
    whole, decimals, inner, behind, times = match.groups()
    places = decimals or behind
    letter = {"": "", "k": "k", "meg": "M"}[inner or times or ""]
    return f"{whole}{f'.{places}' if places else ''} {letter}Ω"
