"""An adviser and a belief in; out, where its advice leads, through everything that each trial can show.

The result is far too big to print; `cuts` chooses as much of it as a card has room for.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Sequence

    from numpy.typing import NDArray

    from foible.diagnosis.advice.adviser import Adviser

    Floats = NDArray[np.float64]

__all__ = ["State", "Unfolding"]

ALIKE = 0.12
"""Outcomes are listed together where no aim's probability differs by more than this; judgement, no source."""
LISTED = 0.02
"""Outcomes of a trial less probable than this are not listed one by one; judgement, no source."""
NO_WORDS = "something else"
"""The name that an experiment gives to merged outcomes; a card has its own way for them."""


@dataclass(eq=False)
class State:
    """A state of knowledge: the weights of the hypotheses, not scaled, and what was done to come here."""

    weight: Floats
    of_aims: Floats
    """Weight by aim."""
    first: int
    """The aim to act on, where nothing more is tried."""
    first_share: float
    """Weight that acting on it puts right, not scaled."""
    made: tuple[int, ...]
    seconds: float
    trial: int | None = None
    """What the adviser tries here; None where it would act, or where hardly any case leads."""
    outcomes: tuple[int, ...] = ()
    """Those of the trial before that lead here."""
    groups: list[list[State]] = field(default_factory=list)
    """What follows the trial, grouped as it is listed where nothing more is tried; empty where time has run out."""
    rest: State | None = None
    """Every other outcome of the trial."""

    @property
    def chance(self) -> float:
        """Of coming here from the root."""
        return float(self.of_aims.sum())

    @property
    def share(self) -> Floats:
        """Probability of each aim here."""
        return np.asarray(self.of_aims / self.of_aims.sum())


class Unfolding:
    """Follows the adviser's advice as far as the budget lets it."""

    def __init__(self, adviser: Adviser, tools: Collection[str], budget_s: float, least_chance: float) -> None:
        self._adviser = adviser
        self._model = adviser.model
        self._budget_s, self._least_chance = budget_s, least_chance
        self._at_hand = [i for i, idea in enumerate(adviser.ideas) if set(idea.needs) <= set(tools)]
        self._number = {id(idea): i for i, idea in enumerate(adviser.ideas)}

    def unfold(self, weight: Floats, made: tuple[int, ...] = (), seconds: float = 0.0, outcomes: tuple[int, ...] = ()) -> State:
        """Return a state and all that follows."""
        state = self._bare(weight, made, seconds, outcomes)
        waiting = [state]
        while waiting:
            waiting += self._follow(waiting.pop())
        return state

    def _bare(self, weight: Floats, made: tuple[int, ...], seconds: float, outcomes: tuple[int, ...]) -> State:
        state = self._state(weight, made, seconds, outcomes=outcomes)
        if state.chance >= self._least_chance:
            state.trial = self._next(weight, made)
        return state

    def _next(self, weight: Floats, made: tuple[int, ...]) -> int | None:
        """Return the trial that the adviser makes, or None where it acts. What has been acted on is not acted on again."""
        acted = self._acted(made)
        mends = self._model.mends
        ideas = self._adviser.ideas
        allowed = [
            t
            for t in self._at_hand
            if not (t in made and ideas[t].once_only) and not (mends is not None and int(mends[t]) in acted)
        ]
        decision = self._adviser.decide_by_weights(weight, allowed, acted)
        return None if decision.enough else self._number[id(decision.advice[0].idea)]

    def _acted(self, made: tuple[int, ...]) -> frozenset[int]:
        mends = self._model.mends
        return frozenset(int(mends[t]) for t in made if mends is not None and mends[t] >= 0)

    def _follow(self, state: State) -> list[State]:
        """Make the trial of a state, where the budget allows it, and return the states that follow."""
        if state.trial is None:
            return []
        idea = self._adviser.ideas[state.trial]
        seconds = state.seconds + idea.seconds
        if seconds > self._budget_s:
            return []
        made = (*state.made, state.trial)
        behind = self._adviser.after(self._acted(state.made)).model.tables[state.trial] * state.weight
        chance = behind.sum(axis=1) / state.chance
        words = [outcome.words for outcome in self._adviser.experiments[state.trial].outcomes]
        listed = [o for o in range(len(words)) if chance[o] >= LISTED and words[o] != NO_WORDS]
        rest = [o for o in range(len(words)) if o not in listed]
        apart = [self._bare(behind[o], made, seconds, (o,)) for o in sorted(listed, key=lambda o: -chance[o])]
        ways = [self._together(group) for group in _alike(apart, lambda way: way.trial)]
        state.groups = _alike(ways, lambda _: None)
        if rest and chance[rest].sum() > 0:
            weight = behind[rest].sum(axis=0)
            state.rest = self._state(weight, made, seconds, outcomes=tuple(rest))
        return ways

    def _together(self, group: Sequence[State]) -> State:
        """Return one state for several in which the same is tried next."""
        first = group[0]
        weight = np.sum([state.weight for state in group], axis=0)
        outcomes = tuple(o for state in group for o in state.outcomes)
        return self._state(weight, first.made, first.seconds, first.trial, outcomes)

    def _state(
        self, weight: Floats, made: tuple[int, ...], seconds: float, trial: int | None = None, outcomes: tuple[int, ...] = ()
    ) -> State:
        of_aims = self._model.grouped(weight)
        first = self._model.named(of_aims)
        return State(weight, of_aims, first, float(self._model.cured(of_aims)[first]), made, seconds, trial, outcomes)


def _alike(states: Sequence[State], by: Callable[[State], object]) -> list[list[State]]:
    """Group states that agree in `by`, have the same first aim and similar probabilities."""
    groups: list[list[State]] = []
    for state in states:
        for group in groups:
            head = group[0]
            same = by(head) == by(state) and head.first == state.first
            if same and np.abs(head.share - state.share).max() <= ALIKE:
                group.append(state)
                break
        else:
            groups.append([state])
    return groups
