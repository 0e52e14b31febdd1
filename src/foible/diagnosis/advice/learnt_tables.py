"""What was learnt of readiness in; out, what each trial can show then: of the catalogue, and of those that exchange an item."""

from __future__ import annotations

from operator import attrgetter
from typing import TYPE_CHECKING

import numpy as np
from cachetools import LRUCache, cachedmethod

from foible.diagnosis.advice.outcomes import LEAST
from foible.diagnosis.shown.presence import STRANGE, UNKNOWN_AT

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from foible.diagnosis.advice.model import DecisionModel
    from foible.diagnosis.advice.outcomes import Experiment, OutcomeTables, Tables
    from foible.diagnosis.shown.presence import Learnt
    from foible.trials import Idea, Trial

    Floats = NDArray[np.float64]
    Table = NDArray[np.float32]

__all__ = ["LearntTables"]

SHOWN = 16
"""Trials in which items are exchanged whose chances stay in memory; those of one take 2 MB for a whole strip."""


class LearntTables:
    """The chances of outcomes under the hypotheses at positions `chosen`, each of which stands for `prior`; shape (K,) both."""

    def __init__(
        self, outcome_tables: OutcomeTables, experiments: Sequence[Experiment], chosen: NDArray[np.intp], prior: Floats
    ) -> None:
        self._outcome_tables, self._experiments, self._chosen = outcome_tables, experiments, chosen
        self._known = (prior * (chosen != UNKNOWN_AT)).astype(np.float32)
        self._looks: LRUCache[Trial, Tables] = LRUCache(SHOWN)

    def sharpened(self, model: DecisionModel, learnt: Learnt) -> Table:
        """Return the chances of the outcomes of all the catalogue's trials, laid out as the model's `by_state`, shape (K, R)."""
        table = model.by_state.copy()
        present: dict[object, Tables] = {}
        for number, experiment in enumerate(self._experiments):
            if experiment.looks is not None:
                trial = experiment.idea.trial
                handled = trial.moves, trial.arrangement.press, trial.swapped, trial.mended
                if handled not in present:
                    present[handled] = self._present(trial, learnt)
                table[:, model.first[number] : model.first[number + 1]] = _mixed(present[handled], experiment.looks).T
        return table

    def exchanged(self, ideas: Sequence[Idea], learnt: Learnt) -> Iterator[Table]:
        """Yield the chances of what trials can show that differ only in what is exchanged for them; shape (outcomes, K) each."""
        if not ideas:
            return
        looks = self._looks_of(ideas[0].trial.with_own_kit())
        own_kit = _mixed(self._present(ideas[0].trial.with_own_kit(), learnt), looks)
        for idea in ideas:
            chance, gone = own_kit.copy(), self._outcome_tables.gone(idea.trial)[self._chosen]
            chance[:, gone] = looks[2][:, gone]
            some = chance @ self._known / max(float(self._known.sum()), 1e-30)
            chance[:, self._chosen == UNKNOWN_AT] = ((1 - STRANGE) * some + STRANGE / len(chance))[:, None]
            likely = chance.max(axis=1) >= LEAST
            yield np.concatenate([chance[likely], chance[~likely].sum(axis=0, keepdims=True)])

    @cachedmethod(attrgetter("_looks"))
    def _looks_of(self, trial: Trial) -> Tables:
        return self._outcome_tables.looks(trial, self._chosen)

    def _present(self, trial: Trial, learnt: Learnt) -> Tables:
        both, one, none = (each.astype(np.float32) for each in self._outcome_tables.regimes(trial, self._chosen, learnt))
        return both, one, none


def _mixed(present: Tables, looks: Tables) -> Table:
    """Return the chances of outcomes where failures are there in both looks, in one or in none with the chances `present`."""
    mixed = looks[0] * present[0]
    mixed += looks[1] * present[1]
    mixed += looks[2] * present[2]
    return mixed
