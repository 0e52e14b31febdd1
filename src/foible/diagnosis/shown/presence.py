"""A trial in; out, the chance that each failure is there: in both looks of the trial, in one, or in none."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from foible.diagnosis.shown.hypotheses import Activity
from foible.kit import WHOLE_SIDE

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from foible.diagnosis.shown.hypotheses import Hypotheses
    from foible.kit import Setup
    from foible.trials import Trial

    Regimes = tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]

__all__ = ["STRANGE", "UNKNOWN_AT", "Presence"]

IDLE = {Activity.STEADY: 1.0, Activity.OFTEN: 0.8, Activity.SELDOM: 0.15}
"""Chance that a failure shows in a trial that does nothing to provoke it; judgement, no source."""
STIRRED = {Activity.STEADY: 1.0, Activity.OFTEN: 0.9, Activity.SELDOM: 0.5}
"""The same while the fencer moves about as in a bout; judgement, no source."""
UNSTEADY = 0.7
"""Share of the times an intermittent failure shows in which it comes and goes within one trial; judgement, no source."""
STRANGE = 0.15
"""Chance that an unknown cause does what no known failure does; judgement, no source."""
UNKNOWN_AT = 1
"""Position of “something this model does not know” among the hypotheses."""


class Presence:
    """What a trial does to the failures themselves: provokes them, holds them together, takes them out."""

    def __init__(self, setup: Setup, hypotheses: Hypotheses) -> None:
        self._setup = setup
        self._hypotheses = hypotheses
        self._repairs: dict[str, NDArray[np.intp]] = {}
        self.runs = {name: run for name, run in hypotheses.runs.items() if name in setup.parts}

    def regimes(self, trial: Trial) -> Regimes:
        """Return the chance that the failure is there in both looks, in one, in none; shape (N,) each."""
        activity = self._hypotheses.activity
        shows = _by_activity(IDLE, activity)
        gone = np.zeros(len(self._hypotheses))
        for move in trial.moves:
            self._move(move, shows, gone)
        for part, run in self.runs.items():
            if self.healed(trial, part):
                gone[run] = 1.0
        for repair in trial.mended:
            gone[self._repaired(repair)] = 1.0
        unsteady = np.where(activity == Activity.STEADY, 0.0, UNSTEADY)
        there = (1 - gone) * shows
        return there * (1 - unsteady), there * unsteady, 1 - there

    def _move(self, move: str, shows: NDArray[np.float64], gone: NDArray[np.float64]) -> None:
        """Take account of one movement: intermittent failures it provokes, failures it holds together."""
        verb, _, side = move.partition(" ")
        if verb == WHOLE_SIDE:
            stirred = _by_activity(STIRRED, self._hypotheses.activity)
            for part, run in self.runs.items():
                if self._setup.items[self._setup.parts[part].item].side == side:
                    np.maximum(shows[run], stirred[run], out=shows[run])
        for part, run in self.runs.items():
            provoked = self._setup.parts[part].moved_by.get(move, 0.0)
            np.maximum(shows[run], provoked, out=shows[run])
            np.maximum(gone[run], self._setup.parts[part].held_by.get(move, 0.0), out=gone[run])

    def _repaired(self, repair: str) -> NDArray[np.intp]:
        """Return the positions of the hypotheses that a repair, named “item: repair”, puts right."""
        if repair not in self._repairs:
            mended = [failure.repair is not None and failure.job == repair for failure in self._hypotheses.failures]
            self._repairs[repair] = np.flatnonzero(np.array([*mended, False])[self._hypotheses.failure])
        return self._repairs[repair]

    def healed(self, trial: Trial, part: str) -> bool:
        """Return whether a trial is made with the part put right or its item exchanged."""
        return part in trial.mended or self._setup.parts[part].item in trial.swapped

    def unknown(self, chance: NDArray[np.float64], blind: float) -> float:
        """Return the chance under something the model does not know.

        Mostly a trial comes out as it would with some known failure, now and then as with none. So it gains little
        from one trial, and gains on every known failure where trials fit together under none.
        """
        known = self._hypotheses.prior.copy()
        known[UNKNOWN_AT] = 0.0
        return (1 - STRANGE) * float(known @ chance / known.sum()) + STRANGE * blind


def _by_activity(chances: Mapping[Activity, float], activity: NDArray[np.intp]) -> NDArray[np.float64]:
    return np.array([chances[kind] for kind in Activity])[activity]
