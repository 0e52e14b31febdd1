"""Diagnosing simulated faults: by the program's advice, and by plainer ways to choose."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

import numpy as np

from foible.diagnosis.shown.hypotheses import SOUND

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from benchmarks.accuracy.world import Case, Simulation
    from foible.diagnosis.advice.adviser import Adviser

    Floats = NDArray[np.float64]

__all__ = ["Advised", "Chosen", "Fixed", "Played", "Telling", "best_order", "play"]

MOST_TRIALS = 40
"""A run ends here at the latest."""
Chosen = int | None
"""A trial by number, or None to stop."""


@dataclass(frozen=True)
class History:
    """What was complained of and what was tried since, as trials and outcomes by number."""

    complaint: tuple[int, int]
    made: tuple[tuple[int, int], ...] = ()


@dataclass(frozen=True)
class Played:
    """How one simulated case went: what was named, whether rightly, with what stated probability, and what it took."""

    right: bool
    stated: float
    trials: int
    seconds: float
    sound: bool
    steps: tuple[tuple[float, bool], ...]
    """After each trial the stated probability of the first name, and whether it was right."""
    lost: float
    """What naming wrongly costs [s]."""


class Policy(Protocol):
    """Chooses the next trial from the weights of the hypotheses and what was done so far."""

    def next(self, weight: Floats, history: History) -> Chosen:
        """Return the trial to make, or None to stop."""


class Advised:
    """The program's own advice; the same history asks for it once only."""

    def __init__(self, adviser: Adviser, allowed: Sequence[int]) -> None:
        self._adviser, self._allowed = adviser, list(allowed)
        self._number = {idea.say: i for i, idea in enumerate(adviser.ideas)}
        self._known: dict[History, Chosen] = {}

    def next(self, weight: Floats, history: History) -> Chosen:
        """Return the trial that the program offers first, or None where it says to act."""
        if history not in self._known:
            decision = self._adviser.decide_by_weights(
                weight, _open(self._adviser, self._allowed, history), _acted(self._adviser, history)
            )
            self._known[history] = None if decision.enough else self._number[decision.advice[0].idea.say]
        return self._known[history]


class Telling:
    """The trial of the most bits per second, until the program's own rule to stop is met by looking one trial ahead."""

    def __init__(self, adviser: Adviser, allowed: Sequence[int], sure: float) -> None:
        self._adviser, self._allowed, self._sure = adviser, list(allowed), sure
        self._known: dict[History, Chosen] = {}

    def next(self, weight: Floats, history: History) -> Chosen:
        """Return the trial that says most per second, or None from the stated certainty on."""
        if history not in self._known:
            share = self._adviser.model.grouped(weight / weight.sum())
            allowed = _open(self._adviser, self._allowed, history)
            bits = self._adviser.after(_acted(self._adviser, history)).bits(weight, allowed)
            rate = bits / self._adviser.model.priced(share, allowed)
            best = int(np.argmax(rate))
            done = share.max() >= self._sure or bits[best] < 1e-3  # noqa: PLR2004 — tells nothing more
            self._known[history] = None if done else allowed[best]
        return self._known[history]


class Fixed:
    """Always the same order, stopped as soon as one name is certain enough."""

    def __init__(self, adviser: Adviser, order: Sequence[int], sure: float) -> None:
        self._adviser, self._order, self._sure = adviser, list(order), sure

    def next(self, weight: Floats, history: History) -> Chosen:
        """Return the next of the order, or None from the stated certainty on or at its end."""
        share = self._adviser.model.grouped(weight / weight.sum())
        return None if share.max() >= self._sure or len(history.made) >= len(self._order) else self._order[len(history.made)]


def _acted(adviser: Adviser, history: History) -> frozenset[int]:
    """Return the aims acted on so far: what is exchanged or mended stays so."""
    mends = adviser.model.mends
    return frozenset(int(mends[trial]) for trial, _ in history.made if mends is not None and mends[trial] >= 0)


def _open(adviser: Adviser, allowed: Sequence[int], history: History) -> list[int]:
    """Return the trials that can be made: a second look at the same place sees the same."""
    made = {trial for trial, _ in history.made}
    acted = _acted(adviser, history)
    mends = adviser.model.mends
    return [
        t
        for t in allowed
        if not (t in made and adviser.ideas[t].once_only) and not (mends is not None and int(mends[t]) in acted)
    ]


def play(simulation: Simulation, cases: Sequence[Case], adviser: Adviser, policy: Policy, seed: int) -> list[Played]:
    """Diagnose cases by a policy, from the complaint on, which costs nothing."""
    model = adviser.model
    names = [aim.name for aim in adviser.aims]
    runs = []
    for entry in cases:
        case = entry.fault
        truths = _truths(simulation, adviser, case)
        rng = np.random.default_rng([seed, case])
        weight = entry.start / entry.start.sum()
        history = History((entry.trial, entry.outcome))
        seconds, steps = 0.0, []
        for _ in range(MOST_TRIALS):
            trial = policy.next(weight, history)
            if trial is None:
                break
            acted = _acted(adviser, history)
            gone = {adviser.aims[i].name for i in acted}
            healed = [adviser.names[i] in gone for i in simulation.faults[case].hypotheses]
            outcome = simulation.show(case, adviser.experiments[trial], rng, healed=healed)
            weight = weight * adviser.after(acted).model.tables[trial][outcome]
            weight = weight / weight.sum()
            mends = int(model.mends[trial]) if model.mends is not None else -1
            seconds += float(model.cost[trial])
            if mends >= 0 and names[mends] not in truths:
                seconds += float(model.naming[mends])
            history = History(history.complaint, (*history.made, (trial, outcome)))
            share = model.grouped(weight)
            first = int(np.argmax(share))
            steps.append((float(share[first]), names[first] in truths))
        share = model.grouped(weight / weight.sum())
        named = model.named(share)
        right = names[named] in truths
        lost = 0.0 if right else float(model.naming[named] + model.wrong)
        runs.append(Played(right, float(share[named]), len(steps), seconds, truths == {SOUND}, tuple(steps), lost))
    return runs


def _truths(simulation: Simulation, adviser: Adviser, case: int) -> set[str]:
    """Return the names that are right for a case: what was in fact wrong, either of two."""
    return {adviser.names[i] for i in simulation.faults[case].hypotheses} or {SOUND}


# long: building the order and improving it share what every case shows
def best_order(  # noqa: C901 — as above
    simulation: Simulation, cases: Sequence[Case], adviser: Adviser, allowed: Sequence[int], sure: float, length: int
) -> list[int]:
    """Return the best fixed order found: built trial by trial on other faults, then by exchanging neighbours while it helps."""
    model = adviser.model
    rng = np.random.default_rng(len(cases))
    shown = {t: [simulation.show(case.fault, adviser.experiments[t], rng) for case in cases] for t in allowed}
    start = np.stack([case.start for case in cases])
    start /= start.sum(axis=1, keepdims=True)

    def after(weights: Floats, trial: int) -> Floats:
        made: Floats = weights * model.tables[trial][shown[trial]]
        return np.asarray(made / made.sum(axis=1, keepdims=True))

    def entropy(weights: Floats) -> Floats:
        share = model.grouped(weights)
        return np.asarray(-(share * np.log2(np.maximum(share, 1e-30))).sum(axis=1))

    weights = start
    order: list[int] = []
    while len(order) < length:
        open_ = model.grouped(weights).max(axis=1) < sure
        if not open_.any():
            break
        now = float(entropy(weights[open_]).sum())
        gains = {}
        for t in allowed:
            if order.count(t) < 1 + (not adviser.ideas[t].once_only):
                made = weights[open_] * model.tables[t][np.array(shown[t])[open_]]
                gains[t] = (now - float(entropy(made / made.sum(axis=1, keepdims=True)).sum())) / adviser.ideas[t].seconds
        best = max(gains, key=lambda t: gains[t])
        order.append(best)
        weights = after(weights, best)

    def seconds(candidate: Sequence[int]) -> float:
        state = start.copy()
        running = np.ones(len(cases), dtype=bool)
        total = 0.0
        for t in candidate:
            running &= model.grouped(state).max(axis=1) < sure
            if not running.any():
                break
            total += adviser.ideas[t].seconds * running.sum()
            state[running] = (state * model.tables[t][shown[t]])[running]
            state /= state.sum(axis=1, keepdims=True)
        wrong = model.grouped(state).max(axis=1) < sure
        return float(total + model.wrong * wrong.sum())

    best_seconds = seconds(order)
    for i in range(len(order) - 1):
        swapped = [*order[:i], order[i + 1], order[i], *order[i + 2 :]]
        if (cost := seconds(swapped)) < best_seconds:
            order, best_seconds = swapped, cost
    return order
