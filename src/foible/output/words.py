"""Figures and decisions in words, for the terminal and for pages alike."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from foible.diagnosis import SOUND, UNKNOWN
from foible.situation import Mode

if TYPE_CHECKING:
    from collections.abc import Sequence

    from foible.diagnosis import Aim, Suspect
    from foible.trials import Trial

__all__ = ["LIKELY", "SURE", "act_words", "behaviour_words", "duration_words", "severity_words", "weight_words"]

LIKELY = 0.5
"""From here on something is more likely than not."""
SURE = 0.95
"""From here on acting is offered beside trying on."""
MOSTLY, HARDLY = 0.8, 0.2
"""Shares from which something is said to be so, and below which it is not mentioned."""
LEAST_BITS = 0.05
"""Evidence below this is none [bit]."""
MINUTES_FROM = 120.0
"""From so many seconds on a time is told in minutes [s]."""


def act_words(mode: Mode, aim: Aim) -> str:
    """Return what acting on an aim is."""
    if aim.name in (SOUND, UNKNOWN):
        return {SOUND: "nothing is wrong", UNKNOWN: "something that this model does not know: ask for help"}[aim.name]
    return f"exchange the {aim.name}, or put it right" if mode is Mode.PISTE else aim.name


def duration_words(seconds: float) -> str:
    """Return a time in seconds or minutes."""
    return f"{seconds:.0f} s" if seconds < MINUTES_FROM else f"{seconds / 60:.0f} min"


def severity_words(suspect: Suspect, trials: Sequence[Trial]) -> str:
    """Return the resistance that a suspect would have, where a meter has been at work; "" elsewhere."""
    low, high = suspect.ohms_range
    measured = any(trial.reads for trial in trials)
    if not measured or not suspect.failure.raises or math.isinf(high):
        return ""
    return f"{low:.2g} to {high:.2g} Ω"


def behaviour_words(suspect: Suspect) -> str:
    """Return whether a suspect comes and goes; "" where it stays."""
    if suspect.intermittent > MOSTLY:
        return "comes and goes"
    return "" if suspect.intermittent < HARDLY else "perhaps comes and goes"


def weight_words(bits: float) -> str:
    """Return how much a trial spoke for a suspect, or against it where negative [bit]."""
    if abs(bits) < LEAST_BITS:
        return "neither for nor against it"
    return f"{abs(bits):.1f} bits {'for' if bits > 0 else 'against'} it"
