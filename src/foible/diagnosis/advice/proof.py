"""A repair in; out, the shortest set of trials after which the mended item is certain enough.

A repair may have failed, and the suspect may have been the wrong one. Every trial of the proof should come out as it most often
does with sound kit; each such outcome takes weight off whatever would have shown otherwise. Among the sets of trials that leave
no more doubt than allowed, the one that takes least time is found by uniform-cost search (Dijkstra 1959), so it is the shortest
there is among the trials considered; where that search would be too long, the proof is built step by step from whatever removes
most doubt for its time.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from heapq import heappop, heappush
from typing import TYPE_CHECKING

import numpy as np

from foible.diagnosis.shown.hypotheses import SOUND

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence

    from numpy.typing import NDArray

    from foible.diagnosis.advice.adviser import Adviser
    from foible.diagnosis.advice.outcomes import Experiment
    from foible.trials import Idea

    Floats = NDArray[np.float64]

__all__ = ["Proof", "proof"]

REPAIR_FAILS = 0.1
"""Chance that a repair made by the usual steps does not work; judgement, no source."""
LOOKED_AT = 16
"""Trials that are considered for a proof: those that remove most doubt for their time."""
REPEATED = 3
"""How many times at most a trial is made: a fault that comes and goes may hide once."""
MOST_SETS = 8_000
"""Sets of trials that are weighed before a proof is built step by step instead."""
LONGEST = 15
"""The most trials in a proof."""


@dataclass(frozen=True)
class Proof:
    """Trials to make after a repair, each with what it must show."""

    trials: tuple[tuple[Idea, str], ...]
    seconds: float
    before: float
    """Probability that all is well once the repair is made."""
    after: float
    """The same once every trial has shown what it must."""


def proof(adviser: Adviser, weight: Floats, mended: Collection[int], tools: Collection[str], *, sure: float) -> Proof:
    """Return the shortest proof.

    `weight`: of each kind of hypothesis before the repair, shape (K,); `mended`: the kinds that the repair puts right. Where the
    trials at hand cannot make it as sure as asked, the proof that makes it most certain is returned.
    """
    share = weight / weight.sum()
    hit = np.zeros(len(share), dtype=bool)
    hit[list(mended)] = True
    sound = adviser.starts_of(SOUND)
    state = np.where(hit, REPAIR_FAILS * share, share)
    state[sound] += (1 - REPAIR_FAILS) * float(share[hit].sum())
    passing = {
        i: _passing(experiment, sound)
        for i, experiment in enumerate(adviser.experiments)
        if set(experiment.idea.needs) <= set(tools) and not experiment.idea.repair and not experiment.idea.trial.swapped
    }
    useful = _useful(state, sound, {i: chance for i, (chance, _) in passing.items()}, adviser.model.cost)
    tests = [_Test(i, float(adviser.model.cost[i]), passing[i][0], 1 if adviser.ideas[i].once_only else REPEATED) for i in useful]
    gathered, place, tests = _gathered(state, sound, tests)
    chosen, left = _search(gathered, place, tests, sure)
    made = tuple((adviser.ideas[i], adviser.experiments[i].outcomes[passing[i][1]].words) for i in chosen)
    seconds = float(sum(adviser.model.cost[i] for i in chosen))
    return Proof(made, seconds, float(state[sound] / state.sum()), float(left[place] / left.sum()))


def _passing(experiment: Experiment, sound: int) -> tuple[Floats, int]:
    """Return the chance of the outcome that sound kit shows most often, under every kind, and its number."""
    number = int(np.argmax(experiment.chance[:, sound]))
    return experiment.chance[number].astype(np.float64), number


def _useful(state: Floats, sound: int, chances: dict[int, Floats], cost: Floats) -> list[int]:
    """Return the trials that remove most doubt for their time."""

    def worth(i: int) -> float:
        doubt = 1 - float(state[sound] / state.sum())
        after = state * chances[i]
        left = 1 - float(after[sound] / after.sum())
        return float(np.log(doubt / max(left, 1e-12)) / cost[i])

    return sorted((i for i in chances if worth(i) > 0), key=worth, reverse=True)[:LOOKED_AT]


@dataclass(frozen=True)
class _Test:
    """A trial that could be part of a proof: its number, cost [s], chance of passing under every kind, how often at most."""

    number: int
    cost: float
    chance: Floats
    most: int


def _gathered(state: Floats, sound: int, tests: Sequence[_Test]) -> tuple[Floats, int, list[_Test]]:
    """Return the weights, the place of sound kit and the tests, with faults merged that pass every test alike."""
    alone = np.arange(len(state)) == sound  # a fault that passes like sound kit is still a fault
    (_, *chances), kind = np.unique(np.stack([alone, *(test.chance for test in tests)]), axis=1, return_inverse=True)
    weights = np.bincount(kind.ravel(), weights=state).astype(np.float64)
    return weights, int(kind.ravel()[sound]), [replace(test, chance=chance) for test, chance in zip(tests, chances, strict=True)]


def _search(state: Floats, sound: int, tests: Sequence[_Test], sure: float) -> tuple[tuple[int, ...], Floats]:
    """Return the cheapest multiset of trials that leaves no more doubt than asked, and the weights after it."""
    queue: list[tuple[float, tuple[int, ...], Floats]] = [(0.0, (), state)]
    best: tuple[tuple[int, ...], Floats] = ((), state)
    surest = state[sound] / state.sum()
    for _ in range(MOST_SETS):
        if not queue or surest >= sure:
            break
        cost, places, before = heappop(queue)
        after = before * tests[places[-1]].chance if places else before
        if (now := after[sound] / after.sum()) > surest:
            best, surest = (tuple(tests[place].number for place in places), after), now
        for place in range(places[-1] if places else 0, len(tests)):
            if places.count(place) < tests[place].most:
                heappush(queue, (cost + tests[place].cost, (*places, place), after))
    if best[1][sound] / best[1].sum() >= sure:
        return best
    return _step_by_step(state, sound, tests, sure)


def _step_by_step(state: Floats, sound: int, tests: Sequence[_Test], sure: float) -> tuple[tuple[int, ...], Floats]:
    """Return a proof built from whatever removes most doubt for its time, until certain enough or nothing helps."""
    chosen: list[int] = []
    made = [0] * len(tests)
    while state[sound] / state.sum() < sure and len(chosen) < LONGEST:
        doubt = 1 - float(state[sound] / state.sum())
        worth = []
        for place, test in enumerate(tests):
            after = state * test.chance
            left = 1 - float(after[sound] / after.sum())
            worth.append(-1.0 if made[place] >= test.most else float(np.log(doubt / max(left, 1e-12)) / test.cost))
        best = int(np.argmax(worth))
        if worth[best] <= 0:
            break
        made[best] += 1
        chosen.append(tests[best].number)
        state = state * tests[best].chance
    return tuple(chosen), state
