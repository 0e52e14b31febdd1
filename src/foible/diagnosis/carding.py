"""A reasoner and what fencers say in; out, the decision trees of a field card, a complaint each."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from foible.diagnosis.advice.starting_point import Opening, starting_point
from foible.diagnosis.advice.tree import ROOM, plan_of
from foible.diagnosis.shown.presence import NOTHING_LEARNT

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from foible.diagnosis.advice.adviser import Adviser
    from foible.diagnosis.advice.starting_point import StartingPoint
    from foible.diagnosis.advice.tree import Plan
    from foible.diagnosis.reasoner import Reasoner
    from foible.situation import Situation
    from foible.trials import Trial

    Floats = NDArray[np.float64]

__all__ = ["Complained", "build_plan", "shares_of", "start_after"]


@dataclass(frozen=True, slots=True)
class Complained:
    """Something that a fencer says."""

    say: str
    shown: Trial
    """The trial that it tells of, the fencer being on the left."""
    turned: Trial
    """The same, the fencer being on the right."""


def build_plan(
    reasoner: Reasoner, situation: Situation, budget_s: float, complaints: Sequence[Complained] = (), *, room: float = ROOM
) -> Plan:
    """Return the best decision trees that fit into `room` [lines], each path within `budget_s` [s].

    `complaints`: what fencers say; none on the bench.
    """
    if not complaints:
        return plan_of([start_after(reasoner, situation)], [1.0], situation, budget_s, room=room)
    shares = shares_of(reasoner, [each.shown for each in complaints])
    own: dict[Trial, int] = {}
    mirrored: dict[int, list[tuple[str, float]]] = {}
    for number, each in enumerate(complaints):
        twin = own.get(replace(each.turned, hearsay=0.0))
        if twin is None:
            own[replace(each.shown, hearsay=0.0)] = number
        else:
            mirrored.setdefault(twin, []).append((each.say, float(shares[number])))
    starts = [start_after(reasoner, situation, complaints[i].say, complaints[i].shown) for i in own.values()]
    others = [tuple(mirrored.get(i, ())) for i in own.values()]
    return plan_of(starts, [float(shares[i]) for i in own.values()], situation, budget_s, others, room=room)


def start_after(reasoner: Reasoner, situation: Situation, say: str = "", shown: Trial | None = None) -> StartingPoint:
    """Return what can be tried after a complaint; without one, before anything has been seen."""
    adviser = reasoner.adviser(situation.mode, situation.item)
    presence = reasoner.trial_likelihood.presence
    if shown is None:
        return starting_point(adviser, presence, situation, Opening(say, None, adviser.prior, NOTHING_LEARNT, {}))
    belief = reasoner.find((shown,)).belief
    broken = _broken(reasoner, adviser, belief.attributed)
    return starting_point(
        adviser, presence, situation, Opening(say, shown, adviser.weights(belief), reasoner.learnt((shown,)), broken)
    )


def _broken(reasoner: Reasoner, adviser: Adviser, attributed: Floats) -> dict[str, Floats]:
    """Return by weapon the share of each kind of hypothesis in which it is broken and out of use."""
    hypotheses = reasoner.hypotheses
    failures = hypotheses.failures
    whole = np.maximum(adviser.gathered(attributed), 1e-300)
    made = {}
    for item in sorted({failure.item for failure in failures if failure.out_of_use}):
        counts = np.array([*(failure.out_of_use and failure.item == item for failure in failures), False])
        made[item] = adviser.gathered(attributed * counts[hypotheses.failure]) / whole
    return made


def shares_of(reasoner: Reasoner, complaints: Sequence[Trial]) -> NDArray[np.float64]:
    """Return how common complaints are among all, shape (complaints,).

    A fault is complained of by what it shows most readily, as far as the kit's rates go, and to these come the complaints in
    which nothing is wrong. Nobody has counted what fencers say, so all being as common counts for half: judgement, no source.
    """
    prior = reasoner.hypotheses.prior.copy()
    prior[:2] = 0.0
    chance = np.stack([reasoner.trial_likelihood.likelihood(trial) for trial in complaints])
    shares = ((chance**2 / np.maximum(chance.sum(axis=0), 1e-300)) @ prior) / (1 - np.array([c.hearsay for c in complaints]))
    return np.asarray((shares / shares.sum() + 1 / len(complaints)) / 2)
