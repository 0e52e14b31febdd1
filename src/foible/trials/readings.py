"""A meter reading in words in, the interval that it stands for out."""

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

_NUMBER = r"(\d+(?:\.\d+)?)"
_FORMS = "give a figure in ohms such as “1.6”, or “open”, “over 10”, “under 1”, or “2 to 6” if it wobbles"


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


def read_reading(text: str) -> Reading:
    """Return the reading that `text` reports; the digits of a figure say how exact it is. Raises InputError."""
    words = re.sub(r"\s*(ohms?|ω)$", "", plain(text))
    if words == "open":
        return Reading(OVER_RANGE_OHMS, math.inf, wobbles=False, text=text)
    if match := re.fullmatch(rf"over {_NUMBER}", words):
        return Reading(float(match[1]), math.inf, wobbles=False, text=text, told_open=OVER_IS_OPEN)
    if match := re.fullmatch(rf"under {_NUMBER}", words):
        return Reading(0.0, float(match[1]), wobbles=False, text=text)
    if match := re.fullmatch(rf"{_NUMBER} to open", words):
        return Reading(float(match[1]), math.inf, wobbles=True, text=text)
    if match := re.fullmatch(rf"{_NUMBER} to {_NUMBER}", words):
        low, high = sorted((float(match[1]), float(match[2])))
        return Reading(low, high, wobbles=True, text=text)
    if match := re.fullmatch(_NUMBER, words):
        half = 0.5 * 10.0 ** -len(match[1].partition(".")[2])
        return Reading(max(float(match[1]) - half, 0.0), float(match[1]) + half, wobbles=False, text=text)
    raise InputError(seen=f"“{text}” is not a meter reading", remedy=_FORMS)
