"""A trial in; out, what it says about two failures at once: the counterpart of `likelihood` for pairs."""

from __future__ import annotations

from itertools import product
from operator import attrgetter
from typing import TYPE_CHECKING

import numpy as np
from cachetools import LRUCache, cachedmethod

from foible.apparatus import Gap
from foible.circuit import Port, equal_rows
from foible.diagnosis.belief.lamp_reports import MISREAD, agreement, lamp_states
from foible.diagnosis.belief.pairs import PairEvidence, Sight
from foible.diagnosis.shown.readings import BOX_GAP
from foible.kit import SIDES
from foible.trials import groups_of

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from foible.circuit import Grid
    from foible.diagnosis.belief.lamp_reports import Report
    from foible.diagnosis.belief.likelihood import TrialLikelihood
    from foible.diagnosis.shown.pair_lamps import PairDictionary
    from foible.kit import Setup
    from foible.trials import Group, Look, Trial

    Rows = NDArray[np.float64]
    Key = tuple[str, Group]

__all__ = ["PairLikelihood"]

STEP = 1e-3
"""Probabilities are told apart in steps of this."""
SEEN = 96
"""Arrangements whose lamps stay in memory, some 2 MB each."""


class PairLikelihood:
    """Turns trials into evidence about pairs."""

    def __init__(self, setup: Setup, trial_likelihood: TrialLikelihood, dictionary: PairDictionary) -> None:
        self._setup = setup
        self._trial_likelihood = trial_likelihood
        self._dictionary = dictionary
        self._seen: LRUCache[object, tuple[Grid, list[tuple[float, dict[Key, Rows]]]]] = LRUCache(SEEN)

    def pair_evidence(self, trial: Trial) -> PairEvidence:
        """Return what a trial says of all pairs."""
        sights = []
        if trial.seen is not None and trial.seen.looks:
            sights.append(self._of_lamps(trial, trial.seen.looks))
        if trial.box:
            sights.append(self._of_box(trial, self._setup.items[trial.box].box))
        if trial.meter and trial.reads:
            sights.append(self._of_meter(trial))
        return PairEvidence(
            tuple(sights),
            self._trial_likelihood.presence.regimes(trial),
            tuple(self._trial_likelihood.findings(trial)),
            times=trial.times,
        )

    def prepare(self, trial: Trial) -> None:
        """Work out what the lamps show of all pairs in a trial, ready for whatever is reported."""
        self._shown(trial, frozenset(product(SIDES, groups_of(self._setup.kind))))

    def _of_lamps(self, trial: Trial, looks: Mapping[Key, frozenset[Look]]) -> Sight:
        report = self._trial_likelihood.report(trial, looks)
        (share, usual), *others = self._trial_likelihood.ways(trial)
        two, shown = self._shown(usual, frozenset(report.allowed))
        told = share * _between(report, shown)
        for share, way in others:
            further, shown = self._shown(way, frozenset(report.allowed))
            two, rows = two.crossed(further, len(further_rows := _between(report, shown)))
            first, second = rows // len(further_rows), rows % len(further_rows)
            told = told[np.ix_(first, first)] + share * further_rows[np.ix_(second, second)]
        return Sight(two, told)

    def _shown(self, trial: Trial, looked: frozenset[Key]) -> tuple[Grid, list[tuple[float, dict[Key, Rows]]]]:
        """Return what groups of lamps show of all pairs: the row of each pair, and by group each row's chances of the states.

        The latter for each way that an apparatus may have, with its share.
        """
        return self._shown_of(trial, looked, self._trial_likelihood.counting(trial))

    @cachedmethod(attrgetter("_seen"), key=lambda _, trial, looked, counting: (trial.arrangement, looked, counting))
    def _shown_of(
        self, trial: Trial, looked: frozenset[Key], counting: tuple[str, ...]
    ) -> tuple[Grid, list[tuple[float, dict[Key, Rows]]]]:
        pressed = self._dictionary.lamps(trial.arrangement)
        before = self._dictionary.lamps(trial.arrangement.before_press()) if counting else pressed
        two, rows = pressed.two.crossed(before.two, len(before.rows)) if counting else (pressed.two, np.arange(len(pressed.rows)))
        first, second = (rows // len(before.rows), rows % len(before.rows)) if counting else (rows, rows)
        ways = lamp_states(pressed.rows[first], before.rows[second], counting, self._setup.kind)
        told = [(share, {key: state for key, state in states.items() if key in looked}) for share, states in ways]
        two, chosen = _merged(two, np.concatenate([state for _, states in told for state in states.values()]).T)
        return two, [(share, {key: state[:, chosen] for key, state in states.items()}) for share, states in told]

    def _of_box(self, trial: Trial, nodes: Mapping[str, str]) -> Sight:
        pairs = [pair.split("-") for pair, _ in trial.lights]
        table = self._dictionary.ohms(trial.arrangement, [Port.between(nodes[a], nodes[b]) for a, b in pairs])
        lit = 1.0 - Gap(*BOX_GAP).chance_open(table.rows)
        two, chosen = _merged(table.two, lit)
        chance = np.ones((len(chosen), len(chosen)))
        for row, (_, allowed) in zip(lit[chosen].T, trial.lights, strict=True):
            states = np.stack([1 - row, row])
            chance *= agreement(allowed, states[:, :, None], states[:, None, :])
        return Sight(two, (1 - MISREAD) * chance + MISREAD * 3.0 ** -len(pairs))

    def _of_meter(self, trial: Trial) -> Sight:
        """Return what a meter's reading says: a severity counts as spread over its step, each reading for itself."""
        assert trial.meter is not None and trial.reads is not None  # noqa: S101, PT018 — asked by the caller
        nodes = [self._setup.places[place] for place in trial.meter]
        table = self._dictionary.ohms(trial.arrangement, [Port.between(nodes[0], nodes[1])])
        return Sight(table.two, self._trial_likelihood.meter.of_two_looks(trial, trial.meter, trial.reads, table.rows[:, 0]))


def _between(report: Report, ways: Sequence[tuple[float, Mapping[Key, Rows]]]) -> NDArray[np.float32]:
    """Return the chance of a report where two looks are at rows u and v, shape (rows, rows), over the ways of an apparatus."""
    (share, states), *others = ways
    total = report.between(states) if not others else np.float32(share) * report.between(states)
    for share, states in others:
        total = total + np.float32(share) * report.between(states)
    return total


def _merged(two: Grid, rows: Rows) -> tuple[Grid, NDArray[np.intp]]:
    """Return a table with rows that show the same made one, and the row that stands for each; row 0 stays first."""
    first, number = equal_rows(np.rint(rows / STEP).astype(np.int32))
    return two.renumbered(number.astype(np.int32)), first
