"""A trial in; out, what it costs besides the trial itself, for advice and for whoever practises."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

    from foible.trials import Idea

__all__ = ["ASKING_S", "EXCHANGING_S", "EXPLAINING_S", "LEAST_S", "LOOKING_S", "OTHER_FENCER_S", "acting", "asking_s"]

ASKING_S = 8.0
"""What every trial costs besides: reading what is asked, watching the lamps, tapping the answer [s]; judgement, no source."""
LOOKING_S = 4.0
"""The same where one only looks: nobody has to be told, and no lamp is watched [s]; judgement, no source."""
EXCHANGING_S = 10.0
"""What a trial costs besides in which an item is exchanged: fetching one, and the referee's leave [s]; judgement, no source."""
EXPLAINING_S = 12.0
"""What a trial costs besides that has to be explained to fencers and referee first [s]; judgement, no source."""
LEAST_S = 3.0
"""The least that a trial costs besides the repair or exchange in it [s]; judgement, no source."""
OTHER_FENCER_S = 8.0
"""What a trial costs besides in which the fencer has to hit of whom nobody complained [s]; judgement, no source."""


def asking_s(idea: Idea) -> float:
    """Return what a trial costs besides itself: it is asked for, explained where it is odd, watched and answered [s]."""
    return (LOOKING_S if idea.trial.examine else ASKING_S) + EXPLAINING_S * idea.odd


def acting(idea: Idea, naming: Mapping[str, float]) -> tuple[str, float]:
    """Return what a trial acts on, "" for nothing, and what it costs beyond that [s]; `naming`: the cost of each aim alone."""
    acted = idea.repair or (idea.trial.swapped[0] if len(idea.trial.swapped) == 1 else "")
    if acted not in naming:
        return "", idea.seconds + asking_s(idea)
    return acted, max(idea.seconds - naming[acted], LEAST_S) + asking_s(idea)
