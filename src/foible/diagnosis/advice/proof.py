"""A repair in; out, the few lines after which the mended item is certain enough.

A repair may have failed, and the suspect may have been the wrong one. The first line makes the test again that failed, the second
the gauges that the rulebook has for what was mended; what else is needed follows, five lines in all. Every trial should come out
as it most often does with sound kit; each such outcome takes weight off whatever would have shown otherwise. Among the sets of
further trials that leave no more doubt than allowed, the one that takes least time is found by uniform-cost search (Dijkstra
1959), so it is the shortest there is among the trials considered; where that search would be too long, the proof is built step by
step from whatever removes most doubt for its time.
"""

from __future__ import annotations

from collections import Counter
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

__all__ = ["MOST_LINES", "Line", "Proof", "proof"]

REPAIR_FAILS = 0.1
"""Chance that a repair made by the usual steps does not work; judgement, no source."""
LOOKED_AT = 16
"""Trials that are considered for a proof: those that remove most doubt for their time."""
REPEATED = 3
"""How many times at most a trial is made: a fault that comes and goes may hide once."""
MOST_SETS = 8_000
"""Sets of trials that are weighed before a proof is built step by step instead."""
WORTH_A_LINE = 0.8
"""A further line is made where it leaves less than this of the doubt; judgement, no source."""
MOST_LINES = 5
"""The most lines of a proof: nobody at a strip makes more; judgement, no source."""


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a proof: a trial, perhaps several times, or the gauges of one set, with what it must show."""

    say: str
    shows: str
    times: int
    seconds: float
    ideas: tuple[Idea, ...]


@dataclass(frozen=True)
class Proof:
    """Lines to go through after a repair, each with what it must show."""

    lines: tuple[Line, ...]
    before: float
    """Probability that all is well once the repair is made."""
    after: float
    """The same once every line has shown what it must."""

    @property
    def seconds(self) -> float:
        """What it takes [s]."""
        return sum(line.seconds for line in self.lines)


# long: line by line, as the module says
def proof(  # noqa: PLR0913 — a repair, and what is at hand to prove it
    adviser: Adviser,
    weight: Floats,
    mended: Collection[int],
    tools: Collection[str],
    *,
    sure: float,
    again: tuple[Experiment, int] | None = None,
    gauges: Sequence[str] = (),
) -> Proof:
    """Return the shortest proof.

    `weight`: of each kind of hypothesis before the repair, shape (K,); `mended`: the kinds that the repair puts right; `again`:
    the trial that failed, under every kind, and how many times it is made; `gauges`: those that the rulebook has for what was
    mended, such as “left 500 g weight”. Where the trials at hand cannot make it as sure as asked, the proof that makes it most
    certain is returned.
    """
    sound = adviser.starts_of(SOUND)
    state = _repaired(weight, mended, sound)
    before = float(state[sound] / state.sum())
    lines = []
    if again is not None:
        experiment, times = again
        chance, number = _passing(experiment, sound)
        lines.append(_line([experiment.idea], experiment.outcomes[number].words, times))
        state = state * chance**times
    passing = {
        i: _passing(experiment, sound)
        for i, experiment in enumerate(adviser.experiments)
        if set(experiment.idea.needs) <= set(tools) and not experiment.idea.repair and not experiment.idea.trial.swapped
    }
    ruled = [i for i in passing if gauges and " ".join(adviser.ideas[i].trial.gauge or ()) in gauges]
    if ruled and not (again and again[0].idea.trial.gauge and len(ruled) == 1):
        lines.append(_line([adviser.ideas[i] for i in ruled], "passes", 1))
        for i in ruled:
            state = state * passing[i][0]
    passing = {i: entry for i, entry in passing.items() if i not in ruled}
    useful = _useful(state, sound, {i: chance for i, (chance, _) in passing.items()}, adviser.model.cost)
    tests = [_Test(i, float(adviser.model.cost[i]), passing[i][0], 1 if adviser.ideas[i].once_only else REPEATED) for i in useful]
    gathered, place, tests = _gathered(state, sound, tests)
    chosen, left = _search(gathered, place, tests, sure, MOST_LINES - len(lines))
    lines += [
        _line([adviser.ideas[i]], adviser.experiments[i].outcomes[passing[i][1]].words, times)
        for i, times in Counter(chosen).items()
    ]
    return Proof(tuple(lines), before, float(left[place] / left.sum()))


def _repaired(weight: Floats, mended: Collection[int], sound: int) -> Floats:
    """Return the weights once a repair is made, adding up to 1: most of what it puts right is sound then."""
    share = weight / weight.sum()
    hit = np.zeros(len(share), dtype=bool)
    hit[list(mended)] = True
    state = np.where(hit, REPAIR_FAILS * share, share)
    state[sound] += (1 - REPAIR_FAILS) * float(share[hit].sum())
    return np.asarray(state)


def _line(ideas: Sequence[Idea], shows: str, times: int) -> Line:
    seconds = times * sum(idea.seconds for idea in ideas)
    return Line("; ".join(idea.say for idea in ideas), shows, times, seconds, tuple(ideas))


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


def _search(state: Floats, sound: int, tests: Sequence[_Test], sure: float, most: int) -> tuple[tuple[int, ...], Floats]:
    """Return the cheapest multiset of trials, `most` of them different, that leaves no more doubt than asked, and the weights."""
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
            if places.count(place) < tests[place].most and len({*places, place}) <= most:
                heappush(queue, (cost + tests[place].cost, (*places, place), after))
    if best[1][sound] / best[1].sum() >= sure:
        return best
    return _step_by_step(state, sound, tests, sure, most)


def _step_by_step(state: Floats, sound: int, tests: Sequence[_Test], sure: float, most: int) -> tuple[tuple[int, ...], Floats]:
    """Return a proof built from whatever removes most doubt for its time, until certain enough or nothing helps."""
    chosen: list[int] = []
    made = [0] * len(tests)
    while state[sound] / state.sum() < sure:
        doubt = 1 - float(state[sound] / state.sum())
        worth = []
        for place, test in enumerate(tests):
            after = state * test.chance
            left = 1 - float(after[sound] / after.sum())
            full = made[place] >= test.most or (not made[place] and sum(map(bool, made)) >= most)
            worth.append(-1.0 if full else float(np.log(doubt / max(left, 1e-12)) / test.cost))
        best = int(np.argmax(worth)) if worth else 0
        if not worth or worth[best] <= 0:
            break
        after = state * tests[best].chance
        if not made[best] and 1 - after[sound] / after.sum() > WORTH_A_LINE * doubt:
            break
        made[best] += 1
        chosen.append(tests[best].number)
        state = state * tests[best].chance
    return tuple(chosen), state
