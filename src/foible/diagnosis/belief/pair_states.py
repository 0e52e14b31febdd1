"""A run of trials in, the state of all pairs after it out, from memory as far as possible."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
from cachetools import LRUCache

if TYPE_CHECKING:
    from collections.abc import Callable

    from foible.diagnosis.belief.pairs import PairEvidence, Pairs, PairState
    from foible.diagnosis.shown.presence import Regimes
    from foible.trials import Trial

__all__ = ["PairStates", "in_levels"]

STATE_BYTES = 256_000_000
"""Memory for states, so that many cases can go on side by side [byte]."""
EVIDENCE = 64
"""Trials whose evidence about pairs stays in memory."""

LEVELS = np.array([0, 0.01, 0.03, 0.06, 0.1, 0.15, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.75, 0.8, 0.85, 0.9, 0.95, 0.98, 1.0])
"""Readiness is told apart in these steps, so that pairs fall into few kinds."""


def in_levels(regimes: Regimes) -> Regimes:
    """Return regimes with the chance that a failure is there at all rounded to the nearest of `LEVELS`."""
    both, one, _ = regimes
    there = both + one
    level = LEVELS[np.abs(there[:, None] - LEVELS).argmin(axis=1)]
    share = np.divide(one, there, out=np.zeros_like(one), where=there > 0)
    return level * (1 - share), level * share, 1 - level


class PairStates:
    """States of the pairs of one set-up, by the trials that led to them.

    `evidence` returns what a trial says about all pairs; `regimes` the chance that each failure is there in it, after the trials
    before it: a failure's readiness is learnt as if it were alone. The states in memory take up to `most_bytes`; a single one
    that takes more is not cached.
    """

    def __init__(
        self,
        pairs: Pairs,
        evidence: Callable[[Trial], PairEvidence],
        regimes: Callable[[Trial, tuple[Trial, ...]], Regimes],
        *,
        most_bytes: int = STATE_BYTES,
    ) -> None:
        self._pairs = pairs
        self._regimes = regimes
        self._weigh = evidence
        self._states: LRUCache[tuple[Trial, ...], PairState] = LRUCache(most_bytes, getsizeof=lambda state: state.size)
        self._evidence: LRUCache[Trial, PairEvidence] = LRUCache(EVIDENCE)

    def after(self, trials: tuple[Trial, ...]) -> PairState:
        """Return the pairs after some trials, continuing from the longest run of them in memory."""
        known = next((number for number in range(len(trials), 0, -1) if trials[:number] in self._states), 0)
        state = self._states[trials[:known]] if known else self._pairs.start
        for number in range(known, len(trials)):
            state = self._pairs.after(state, self._of(trials[number], trials[:number]))
            if number in (0, len(trials) - 1):  # many cases begin alike; the states in between are large and soon rebuilt
                with suppress(ValueError):  # larger than all the memory for states
                    self._states[trials[: number + 1]] = state
        if 1 < known < len(trials):
            self._states.pop(trials[:known], None)
        return state

    def _of(self, trial: Trial, before: tuple[Trial, ...]) -> PairEvidence:
        """Return what a trial says of pairs; looking at one place again finds the same and says no more."""
        if trial not in self._evidence:
            self._evidence[trial] = self._weigh(trial)
        again = trial.bare() in [made.bare() for made in before]
        evidence = replace(self._evidence[trial], regimes=in_levels(self._regimes(trial, before)))
        return replace(evidence, findings=()) if again else evidence
