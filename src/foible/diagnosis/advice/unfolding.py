"""A starting point in; out, where good advice leads, through everything that each trial can show.

At the piste with a phone, advice weighs seconds. On a card a trial also takes up room, so `STEP_S` makes weak ones dearer; and a
card goes on to its budget, for who reads it cannot ask for more. The result is far too big to print; `cuts` chooses as much of it
as a card has room for.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property
from math import ceil
from typing import TYPE_CHECKING

import numpy as np

from foible.diagnosis.advice.lookahead import Chooser
from foible.diagnosis.advice.permitted import UNSAFE, blades, rests, uses
from foible.diagnosis.advice.starting_point import OTHERS
from foible.diagnosis.shown.hypotheses import UNKNOWN

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    from foible.diagnosis.advice.starting_point import StartingPoint

    Floats = NDArray[np.float64]

__all__ = ["DECIDED", "Option", "State", "Unfolding"]

DECIDED = 0.8
"""An end whose first aim is less probable than this leaves the fault undecided; judgement, no source."""
NAMED = 3
"""The most aims that an end names."""
WORTH_NAMING = 0.15
"""Aims after the first that are less probable than this are not named; judgement, no source."""
MOSTLY = 0.8
"""From this share of what an exchange would put right, what takes seconds is named in its place; judgement, no source."""
ENOUGH = 0.97
"""Where the first aim is this probable, nothing more is tried; judgement, no source."""
STEP_S = 20.0
"""What a step of a card costs in choosing, beyond its time: room, and somebody's patience [s]; judgement, no source."""
ALIKE = 0.15
"""Outcomes before one next trial are listed together where no aim's probability differs by more than this; judgement."""
LISTED = 0.03
"""Outcomes of a trial less probable than this are not listed one by one; judgement, no source."""
TWICE = 2
"""How often the same trial is made at most, or done until it shows; judgement, no source."""
COLUMN = 42
"""Letters in a line of a column of the card."""
HEAD, TAIL = 0.5, 0.5
"""Room between steps, and of the line that an end does not fill [lines]."""
TIME, GOES_ADD = 8, 17
"""Letters of how long a trial takes, and of how often it is made."""
WIDE, WIDE_STEPS = 0.25, 2
"""Where this share of a complaint's cases leads in fewer than so many steps, the second-best trial is followed up as well."""
LEAST_BITS = 0.005
"""A trial expected to tell less than this is not made [bit]."""


@dataclass(eq=False)
class State:
    """A state of knowledge: the weights of the states of a starting point, not scaled, and what was done to come here."""

    weight: Floats
    of_aims: Floats
    """Weight by aim."""
    names: tuple[int, ...]
    """The aims that an end here would name: one where it is decided."""
    cured: float
    """Weight that acting on the first of them puts right, not scaled."""
    made: tuple[int, ...]
    seconds: float
    trials: tuple[int, ...] = ()
    """What may be tried here, the best first; empty where nothing is worth it, or where hardly any case leads."""
    outcomes: tuple[int, ...] = ()
    """Those of the trial before that are listed as leading here."""
    rest: tuple[int, ...] = ()
    """Those that lead here as anything else."""
    told: float = 0.0
    """Room of the outcomes that lead here [lines]."""
    label: float = 0.0
    """Room of what an end here says [lines]."""
    options: list[Option] = field(default_factory=list)
    """What follows each of these trials."""

    @cached_property
    def chance(self) -> float:
        """Of coming here from the root."""
        return float(self.of_aims.sum())

    @property
    def share(self) -> Floats:
        """Probability of each aim here."""
        return np.asarray(self.of_aims / self.of_aims.sum())

    @property
    def decided(self) -> bool:
        """Whether the first aim is probable enough to act on."""
        return self.cured >= DECIDED * self.chance


@dataclass(frozen=True, slots=True)
class Option:
    """A trial that may be made in a state, and what follows."""

    trial: int
    asks: float
    """Room of what it asks for [lines]."""
    groups: list[list[State]]
    """What it leads to, grouped as it is listed where nothing more is tried."""


class Unfolding:
    """Follows good advice from a starting point as far as the budget lets it."""

    def __init__(self, origin: StartingPoint, budget_s: float, least_chance: float) -> None:
        self._origin = origin
        self._model = replace(origin.model, cost=origin.model.cost + STEP_S)
        vars(self._model)["by_state"] = origin.model.by_state
        self._budget_s, self._least_chance = budget_s, least_chance
        self._choosers: dict[frozenset[int], Chooser] = {}
        provoked = origin.shown is not None and not rests(origin.shown)
        self._idle = [provoked and rests(each.idea.trial) and not each.idea.trial.swapped for each in origin.tries]
        """Which trials look at the strip at rest though something had to be done to show the fault."""
        self._unknown = [aim.name for aim in origin.aims].index(UNKNOWN)

    def unfold(self) -> State:
        """Return the state before any trial, and all that follows."""
        state = self._bare(self._origin.start, (), 0.0)
        waiting = [state]
        while waiting:
            waiting += self._follow(waiting.pop())
        return state

    def shows(self, made: Sequence[int], trial: int) -> NDArray[np.float32]:
        """Return what a trial shows in each state after others, shape (outcomes, P)."""
        return self._after(self._acted(made)).model.tables[trial]

    def _bare(
        self, weight: Floats, made: tuple[int, ...], seconds: float, outcomes: tuple[int, ...] = (), rest: tuple[int, ...] = ()
    ) -> State:
        state = self._state(weight, made, seconds, outcomes, rest)
        if state.chance >= self._least_chance and state.cured < ENOUGH * state.chance:
            state.trials = self._next(state)
        self._measured(state)
        return state

    def _next(self, state: State) -> tuple[int, ...]:
        """Return the trials worth making, several where many cases lead. What has been acted on is not acted on again."""
        acted = self._acted(state.made)
        allowed = self._allowed(state, acted)
        choices = self._after(acted).choices(state.weight, allowed)
        worth = [choice.trial for choice in choices if choice.trial is not None and choice.bits >= LEAST_BITS]
        return tuple(worth[: 2 if state.chance >= WIDE and len(state.made) < WIDE_STEPS else 1])

    def _allowed(self, state: State, acted: frozenset[int]) -> list[int]:
        """Return the trials that may be made; where a weapon may be broken, looking at it comes before anything else."""
        tries, left = self._origin.tries, self._budget_s - state.seconds
        unsafe = self._unsafe(state)
        made = [tries[number].idea.say for number in state.made]
        allowed = []
        for number, each in enumerate(tries):
            trial = each.idea.trial
            tired = made.count(each.idea.say) >= (1 if each.idea.once_only else TWICE)
            unfit = uses(trial, unsafe - {*trial.swapped})
            if not (tired or self._idle[number] or unfit or each.acts in acted or each.seconds > left):
                allowed.append(number)
        looks = [number for number in allowed if not blades(unsafe).isdisjoint(tries[number].idea.trial.examine)]
        return looks or allowed

    def _unsafe(self, state: State) -> set[str]:
        """Return the weapons that may be broken and that nobody has looked at."""
        looked = {part for number in state.made for part in self._origin.tries[number].idea.trial.examine}
        return {
            item
            for item, share in self._origin.broken.items()
            if f"{item} blade" not in looked and float(share @ state.weight) >= UNSAFE * state.chance
        }

    def _acted(self, made: Sequence[int]) -> frozenset[int]:
        acts = {self._origin.tries[number].acts for number in made} - {-1}
        return frozenset(acts | {each for group, others in self._model.covered if group in acts for each in others})

    def _after(self, acted: frozenset[int]) -> Chooser:
        if acted not in self._choosers:
            model = self._model.healed(acted, self._origin.sound) if acted else self._model
            self._choosers[acted] = Chooser(model, wide=16, deep=6)
        return self._choosers[acted]

    def _follow(self, state: State) -> list[State]:
        """Make the trials of a state and return the states that follow."""
        state.options = [self._option(state, trial) for trial in state.trials]
        return [way for option in state.options for group in option.groups for way in group]

    def _option(self, state: State, trial: int) -> Option:
        each = self._origin.tries[trial]
        seconds, made = state.seconds + each.seconds, (*state.made, trial)
        behind = self.shows(state.made, trial) * state.weight
        chance = behind.sum(axis=1) / state.chance
        listed = [o for o, words in enumerate(each.outcomes) if chance[o] >= LISTED and words != OTHERS]
        rest = tuple(o for o in range(len(each.outcomes)) if o not in listed)
        apart = [self._bare(behind[o], made, seconds, (o,)) for o in sorted(listed, key=lambda o: -chance[o])]
        if rest and chance[list(rest)].sum() > 0:
            apart.append(self._bare(behind[list(rest)].sum(axis=0), made, seconds, (), rest))
        ways = [self._together(group) for group in _alike(apart, _same_way)]
        asks = HEAD + ceil((len(each.idea.say) + TIME + (GOES_ADD if each.goes > 1 else 0)) / COLUMN)
        return Option(trial, asks, _alike(ways, _same_end))

    def _together(self, group: Sequence[State]) -> State:
        """Return one state for several in which the same is tried next."""
        first = group[0]
        outcomes, rest = (tuple(o for state in group for o in of(state)) for of in (_outcomes, _rest))
        made = self._state(np.sum([state.weight for state in group], axis=0), first.made, first.seconds, outcomes, rest)
        made.trials = first.trials
        self._measured(made)
        return made

    def _measured(self, state: State) -> None:
        """Note how much room a state takes on paper."""
        tries = self._origin.tries
        if state.made:
            words = tries[state.made[-1]].outcomes
            told = [len(words[o]) + 2 for o in state.outcomes] + [len("anything else")] * bool(state.rest)
            state.told = sum(told) / COLUMN
        names = [len(self._origin.aims[i].name) + 5 for i in state.names]
        state.label = TAIL + (sum(names) + 11 * (len(names) > 1)) / COLUMN

    def _state(
        self, weight: Floats, made: tuple[int, ...], seconds: float, outcomes: tuple[int, ...] = (), rest: tuple[int, ...] = ()
    ) -> State:
        of_aims = self._model.grouped(weight)
        first = self._first(of_aims)
        cured = float(self._model.cured(of_aims)[first])
        return State(weight, of_aims, self._names(of_aims, first, cured), cured, made, seconds, outcomes=outcomes, rest=rest)

    def _first(self, of_aims: Floats) -> int:
        """Return the aim to act on: the one that puts most right, or in place of an exchange what mostly does and takes seconds.

        What the model does not know is no name to act on.
        """
        cured = self._model.cured(of_aims)
        cured[self._unknown] = -1.0
        first = int(cured.argmax())
        quick = [each for group, others in self._model.covered if group == first for each in others]
        best = max(quick, key=lambda each: of_aims[each], default=first)
        return best if of_aims[best] >= MOSTLY * cured[first] else first

    def _names(self, of_aims: Floats, first: int, cured: float) -> tuple[int, ...]:
        """Return the aims that an end names: those that are worth it, until they are probable enough together."""
        total = of_aims.sum()
        spared = {first, *(each for group, others in self._model.covered if group == first for each in others)}
        names = [first]
        for i in np.argsort(-of_aims, kind="stable").tolist():
            if cured >= DECIDED * total or len(names) == NAMED or of_aims[i] < WORTH_NAMING * total:
                break
            if i not in spared and i != self._unknown:
                names.append(i)
                cured += of_aims[i]
        return tuple(names)


def _outcomes(state: State) -> tuple[int, ...]:
    return state.outcomes


def _rest(state: State) -> tuple[int, ...]:
    return state.rest


def _same_end(first: State, second: State) -> bool:
    """Return whether states are listed together as ends; anything else goes with whatever has the same first name."""
    return first.names == second.names or (bool(second.rest) and first.names[0] == second.names[0])


def _same_way(first: State, second: State) -> bool:
    """Return whether outcomes lead to the same next trial and hardly differ otherwise."""
    return (
        first.trials[:1] == second.trials[:1]
        and first.names == second.names
        and np.abs(first.share - second.share).max() <= ALIKE
    )


def _alike(states: Sequence[State], same: Callable[[State, State], bool]) -> list[list[State]]:
    """Group states that are the same as the first of their group."""
    groups: list[list[State]] = []
    for state in states:
        group = next((group for group in groups if same(group[0], state)), None)
        if group is None:
            groups.append([state])
        else:
            group.append(state)
    return groups
