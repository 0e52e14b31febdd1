"""How well each hypothesis explains a trial.

A trial is taken as two looks at every group of lamps. A failure shows in both looks, in one of them, or in none; a steady one in
both. Two looks that agree are a steady lamp, two that differ are a lamp that comes and goes, so that “white flickers” and
“white” are outcomes of one and the same model, and all outcomes of a group have probabilities that add up to 1.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from foible.apparatus import Lamp
from foible.diagnosis.hypotheses import Activity
from foible.kit import SIDES, WHOLE_SIDE
from foible.trials import LIT_BEFORE, STATE, Group, looks_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from numpy.typing import NDArray

    from foible.diagnosis.dictionary import Dictionary
    from foible.diagnosis.hypotheses import Hypotheses
    from foible.kit import Setup
    from foible.trials import Look, Trial

    States = dict[tuple[str, Group], tuple[NDArray[np.float64], NDArray[np.float64]]]
    Regimes = tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]

__all__ = ["UNKNOWN_AT", "Witness", "coarse_outcomes"]

IDLE = {Activity.STEADY: 1.0, Activity.OFTEN: 0.8, Activity.SELDOM: 0.15}
"""Chance that a failure shows in a trial that does nothing to provoke it; judgement, no source."""
STIRRED = {Activity.STEADY: 1.0, Activity.OFTEN: 0.9, Activity.SELDOM: 0.5}
"""The same while the fencer moves about as in a bout; judgement, no source."""
UNSTEADY = 0.7
"""Share of the showings of an intermittent failure that come and go within one trial; judgement, no source."""
MISREAD = 0.02
"""Chance that a report of lamps says nothing about the circuit; judgement, no source."""
FALSE_SIGN = 0.02
"""Chance that a sound part shows a given sign when examined; judgement, no source."""
SOUND_IS_FINE = 0.85
"""Chance that a sound part examined is found fine; judgement, no source."""


UNKNOWN_AT = 1
"""Position of “something this model does not know” among the hypotheses."""


class Witness:
    """Turns trials into likelihoods over the hypotheses."""

    def __init__(self, setup: Setup, hypotheses: Hypotheses, dictionary: Dictionary) -> None:
        self._setup = setup
        self._hypotheses = hypotheses
        self._dictionary = dictionary
        self._runs = {name: run for name, run in hypotheses.runs.items() if name in setup.parts}

    def likelihood(self, trial: Trial) -> NDArray[np.float64]:
        """Return the probability of what `trial` reports under every hypothesis, shape (N,)."""
        total = np.ones(len(self._hypotheses))
        if trial.seen is not None and trial.seen.looks:
            total = total * self._of_lamps(trial, trial.seen.looks)
        if trial.examine:
            total = total * self._of_signs(trial)
        return total

    # --- lamps ----------------------------------------------------------------------------------------------------

    def _of_lamps(self, trial: Trial, looks: Mapping[tuple[str, Group], frozenset[Look]]) -> NDArray[np.float64]:
        """Return the chance of the report. Repeats are independent given the hypothesis, a misreading spoils them all."""
        shown = self._states(trial)
        sums = [np.ones(len(self._hypotheses)) for _ in range(3)]
        blind = 1.0
        for (side, group), reported in looks.items():
            allowed = reported if self._before_counts(trial, side) else _plainly(reported)
            blind *= _share_of_outcomes(group, allowed)
            there, absent = shown[side, group]
            for i, (first, second) in enumerate(((there, there), (there, absent), (absent, absent))):
                sums[i] = sums[i] * _agreement(allowed, first, second)
        chance = _mixed(self.regimes(trial), sums)
        chance[UNKNOWN_AT] = self._some_failure(chance)
        chance = chance**trial.times
        return np.asarray((1 - MISREAD) * chance + MISREAD * blind)

    def outcomes(self, trial: Trial, side: str, chosen: NDArray[np.intp], prior: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the probability of every outcome that one side's lamps can show, shape (outcomes, len(chosen)).

        An outcome is one of `coarse_outcomes` for the hit lamps and one for the yellow lamp; `chosen` are the positions of the
        hypotheses to work it out for, `prior` the prior probability that each of them stands for, shape (len(chosen),).
        """
        regimes = [regime[chosen] for regime in self.regimes(trial)]
        shown = self._states(trial)
        tables = []
        for group in Group:
            there, absent = shown[side, group]
            there = there[:, chosen]
            tables.append([_steady_or_changing(*pair) for pair in ((there, there), (there, absent), (absent, absent))])
        rows = sum(
            (hit[:, None] * yellow[None] * weight for weight, hit, yellow in zip(regimes, *tables, strict=True)),
            np.zeros((len(coarse_outcomes(Group.HIT)), len(coarse_outcomes(Group.YELLOW)), len(chosen))),
        )
        table = rows.reshape(-1, len(chosen))
        known = prior * (chosen != UNKNOWN_AT)
        table[:, chosen == UNKNOWN_AT] = (table @ known / known.sum())[:, None]
        return np.asarray((1 - MISREAD) * table + MISREAD / len(table))

    def _states(self, trial: Trial) -> States:
        """Return the probability of the states of each group: with the failure there, (states, N), and absent, (states, 1)."""
        lamps = self._dictionary.lamps(trial.arrangement)
        before = self._dictionary.lamps(trial.arrangement.before_press())
        columns = self._hypotheses.column
        states: States = {}
        for number, side in enumerate(SIDES):
            white, coloured, yellow = (lamps[:, number, lamp] for lamp in (Lamp.WHITE, Lamp.COLOURED, Lamp.YELLOW))
            lit = before[:, number, [Lamp.WHITE, Lamp.COLOURED]].sum(axis=1)
            already = lit if self._before_counts(trial, side) else np.zeros_like(lit)
            hit = np.stack([*((1 - already) * p for p in (1 - white - coloured, white, coloured)), already])
            glow = np.stack([1 - yellow, yellow])
            states[side, Group.HIT] = (hit[:, columns], hit[:, :1])
            states[side, Group.YELLOW] = (glow[:, columns], glow[:, :1])
        return states

    def _before_counts(self, trial: Trial, side: str) -> bool:
        """Return whether it matters that a hit lamp was lit before the press.

        It does for the side that presses, unless the arrangement lights it with sound kit as well, as an unplugged weapon does.
        """
        if side != trial.arrangement.press:
            return False
        sound = self._dictionary.lamps(trial.arrangement.before_press())[0, SIDES.index(side)]
        return bool(sound[Lamp.WHITE] + sound[Lamp.COLOURED] < 0.5)  # noqa: PLR2004 — less likely than not

    # --- whether a failure is there --------------------------------------------------------------------------------

    def regimes(self, trial: Trial) -> Regimes:
        """Return the chance that the failure is there in both looks, in one, in none; shape (N,) each."""
        activity = self._hypotheses.activity
        shows = _by_activity(IDLE, activity)
        gone = np.zeros(len(self._hypotheses))
        for move in trial.moves:
            self._move(move, shows, gone)
        for part, run in self._runs.items():
            if part in trial.mended or self._setup.parts[part].item in trial.swapped:
                gone[run] = 1.0
        unsteady = np.where(activity == Activity.STEADY, 0.0, UNSTEADY)
        there = (1 - gone) * shows
        return there * (1 - unsteady), there * unsteady, 1 - there

    def _move(self, move: str, shows: NDArray[np.float64], gone: NDArray[np.float64]) -> None:
        """Take account of one movement: intermittent failures it provokes, failures it holds together."""
        verb, _, side = move.partition(" ")
        if verb == WHOLE_SIDE:
            stirred = _by_activity(STIRRED, self._hypotheses.activity)
            for part, run in self._runs.items():
                if self._setup.items[self._setup.parts[part].item].side == side:
                    np.maximum(shows[run], stirred[run], out=shows[run])
        for part, run in self._runs.items():
            provoked = self._setup.parts[part].moved_by.get(move, 0.0)
            np.maximum(shows[run], provoked, out=shows[run])
            np.maximum(gone[run], self._setup.parts[part].held_by.get(move, 0.0), out=gone[run])

    # --- examinations ---------------------------------------------------------------------------------------------

    def _of_signs(self, trial: Trial) -> NDArray[np.float64]:
        """Return the chance that the examination found what it did."""
        background = SOUND_IS_FINE if trial.found == ("fine",) else FALSE_SIGN * len(trial.found)
        chance = np.full(len(self._hypotheses), background)
        for part, run in self._runs.items():
            names = {part, self._setup.parts[part].item}
            if names & set(trial.examine) and not names & {*trial.mended, *trial.swapped}:
                chance[run] = [self._of_sign(int(i), trial.found, background) for i in self._hypotheses.failure[run]]
        chance[UNKNOWN_AT] = self._some_failure(chance)
        return chance

    def _some_failure(self, chance: NDArray[np.float64]) -> float:
        """Return the chance under something the model does not know: each trial comes out as with some failure or other.

        So it gains nothing from one trial, and gains on every known failure where trials fit together under none.
        """
        known = self._hypotheses.prior.copy()
        known[UNKNOWN_AT] = 0.0
        return float(known @ chance / known.sum())

    def _of_sign(self, failure: int, found: tuple[str, ...], background: float) -> float:
        """Return the chance of a finding at a part with this failure: its sign, or without a sign what a sound part shows."""
        signs = self._hypotheses.failures[failure].signs
        own = sum(signs.get(sign, 0.0) for sign in found)
        return own + (1 - sum(signs.values())) * background


def _plainly(reported: frozenset[Look]) -> frozenset[Look]:
    """Return looks with “white all along” read as white, where no press could have changed it."""
    white = STATE[Lamp.WHITE]
    first, second = ([white if look[i] == LIT_BEFORE else look[i] for look in reported] for i in (0, 1))
    return frozenset((min(a, b), max(a, b)) for a, b in zip(first, second, strict=True))


def coarse_outcomes(group: Group) -> tuple[str, ...]:
    """Return what a group is reported to do in one trial: each state steadily, or changing."""
    return (*group.states, "changing")


def _by_activity(chances: Mapping[Activity, float], activity: NDArray[np.intp]) -> NDArray[np.float64]:
    return np.array([chances[kind] for kind in Activity])[activity]


def _mixed(weights: Iterable[NDArray[np.float64]], values: Iterable[NDArray[np.float64]]) -> NDArray[np.float64]:
    terms = [weight * value for weight, value in zip(weights, values, strict=True)]
    return np.asarray(np.sum(terms, axis=0))


def _agreement(allowed: Iterable[Look], first: NDArray[np.float64], second: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the chance that two looks with state probabilities `first` and `second` give one of the allowed pairs."""
    total = np.zeros(first.shape[1])
    for a, b in allowed:
        total = total + first[a] * second[b]
        if a != b:
            total = total + first[b] * second[a]
    return total


def _steady_or_changing(first: NDArray[np.float64], second: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the chance of each coarse outcome of two looks, shape (states + 1, N)."""
    steady = first * second
    return np.concatenate([steady, 1 - steady.sum(axis=0, keepdims=True)])


def _share_of_outcomes(group: Group, allowed: frozenset[Look]) -> float:
    """Return the chance of a report under no model at all: all coarse outcomes alike, changing ones alike among themselves."""
    looks = looks_of(group)
    steady = sum(a == b for a, b in allowed)
    changing = (len(allowed) - steady) / sum(a != b for a, b in looks)
    return (steady + changing) / len(coarse_outcomes(group))
