"""How well each hypothesis explains a trial.

A trial is taken as two looks at every group of lamps. A failure shows in both looks, in one of them, or in none; a steady one in
both. Two looks that agree are a steady lamp, two that differ are a lamp that comes and goes, so that “white flickers” and
“white” are outcomes of one and the same model, and all outcomes of a group have probabilities that add up to 1.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from foible.apparatus import Gap, Lamp
from foible.circuit import Port
from foible.diagnosis.measuring import BOX_GAP
from foible.diagnosis.metering import Meter
from foible.diagnosis.presence import STRANGE, UNKNOWN_AT, Presence
from foible.kit import SIDES
from foible.trials import LIT_BEFORE, STATE, Group, looks_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from numpy.typing import NDArray

    from foible.diagnosis.dictionary import Dictionary
    from foible.diagnosis.hypotheses import Hypotheses
    from foible.kit import Setup
    from foible.trials import Look, Trial

    States = dict[tuple[str, Group], tuple[NDArray[np.float64], NDArray[np.float64]]]

__all__ = ["Witness", "coarse_outcomes"]

MISREAD = 0.02
"""Chance that a report of lamps says nothing about the circuit; judgement, no source."""
GAUGE_FALSE = 0.02
"""Chance that a gauge fails a weapon that has none of the failures it is made for; judgement, no source."""
FALSE_SIGN = 0.02
"""Chance that a sound part shows a given sign when examined; judgement, no source."""
SOUND_IS_FINE = 0.85
"""Chance that a sound part examined is found fine; judgement, no source."""


class Witness:
    """Turns trials into likelihoods over the hypotheses."""

    def __init__(self, setup: Setup, hypotheses: Hypotheses, dictionary: Dictionary) -> None:
        self._setup = setup
        self._hypotheses = hypotheses
        self._dictionary = dictionary
        self._presence = Presence(setup, hypotheses)
        self.meter = Meter(setup, hypotheses, dictionary, self._presence)

    def likelihood(self, trial: Trial) -> NDArray[np.float64]:
        """Return the probability of what `trial` reports under every hypothesis, shape (N,).

        Repeats are independent, misreadings of them too. What the model does not know may do anything in a trial, but does the
        same when it is repeated.
        """
        once = self._once(trial)
        chance = once**trial.times
        chance[UNKNOWN_AT] = once[UNKNOWN_AT]
        return chance

    def _once(self, trial: Trial) -> NDArray[np.float64]:
        total = np.ones(len(self._hypotheses))
        if trial.seen is not None and trial.seen.looks:
            total = total * self._of_lamps(trial, trial.seen.looks)
        if trial.examine:
            total = total * self._of_signs(trial)
        if trial.box:
            total = total * self._of_box(trial, self._setup.items[trial.box].box)
        if trial.gauge:
            total = total * self._of_gauge(trial, *trial.gauge)
        return total

    # --- tools ----------------------------------------------------------------------------------------------------

    def _of_box(self, trial: Trial, nodes: Mapping[str, str]) -> NDArray[np.float64]:
        """Return the chance of what the lamps of a test box show, one per pair of lines."""
        pairs = [pair.split("-") for pair, _ in trial.lights]
        ohms = self._dictionary.ohms(trial.arrangement, [Port.between(nodes[a], nodes[b]) for a, b in pairs])
        lit = 1.0 - Gap(*BOX_GAP).chance_open(ohms)
        sums = [np.ones(len(self._hypotheses)) for _ in range(3)]
        for row, (_, allowed) in zip(lit, trial.lights, strict=True):
            there = np.stack([1 - row, row])[:, self._hypotheses.column]
            absent = np.array([[1 - row[0]], [row[0]]])
            for i, (first, second) in enumerate(((there, there), (there, absent), (absent, absent))):
                sums[i] = sums[i] * _agreement(allowed, first, second)
        chance = _mixed(self._presence.regimes(trial), sums)
        blind = 3.0 ** -len(pairs)
        chance[UNKNOWN_AT] = self._presence.unknown(chance, blind)
        return np.asarray((1 - MISREAD) * chance + MISREAD * blind)

    def _of_gauge(self, trial: Trial, side: str, gauge: str) -> NDArray[np.float64]:
        """Return the chance that a gauge passes or fails the weapon of a side; a bad gauge fails sound weapons."""
        fails = np.full(len(self._hypotheses), GAUGE_FALSE)
        for part, run in self._presence.runs.items():
            item = self._setup.items[self._setup.parts[part].item]
            if item.side in (side, None) and not self._presence.healed(trial, part):
                gauges = [self._hypotheses.failures[int(i)].gauges for i in self._hypotheses.failure[run]]
                fails[run] = [entry.get(gauge, GAUGE_FALSE) for entry in gauges]
        chance = fails if trial.found == ("fails",) else 1 - fails
        chance[UNKNOWN_AT] = self._presence.unknown(chance, float(chance.min()))
        return chance

    # --- lamps ----------------------------------------------------------------------------------------------------

    def _of_lamps(self, trial: Trial, looks: Mapping[tuple[str, Group], frozenset[Look]]) -> NDArray[np.float64]:
        """Return the chance of the report of lamps."""
        shown = self._states(trial)
        sums = [np.ones(len(self._hypotheses)) for _ in range(3)]
        blind = 1.0
        for (side, group), reported in looks.items():
            allowed = reported if self._before_counts(trial, side) else _plainly(reported)
            blind *= _share_of_outcomes(group, allowed)
            there, absent = shown[side, group]
            for i, (first, second) in enumerate(((there, there), (there, absent), (absent, absent))):
                sums[i] = sums[i] * _agreement(allowed, first, second)
        chance = _mixed(self._presence.regimes(trial), sums)
        chance[UNKNOWN_AT] = self._presence.unknown(chance, blind)
        return np.asarray((1 - MISREAD) * chance + MISREAD * blind)

    def outcomes(self, trial: Trial, side: str, chosen: NDArray[np.intp], prior: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the probability of every outcome that one side's lamps can show, shape (outcomes, len(chosen)).

        An outcome is one of `coarse_outcomes` for the hit lamps and one for the yellow lamp; `chosen` are the positions of the
        hypotheses to work it out for, `prior` the prior probability that each of them stands for, shape (len(chosen),).
        """
        regimes = [regime[chosen] for regime in self._presence.regimes(trial)]
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
        some = table @ known / known.sum()
        table[:, chosen == UNKNOWN_AT] = ((1 - STRANGE) * some + STRANGE / len(table))[:, None]
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

    # --- examinations ---------------------------------------------------------------------------------------------

    def _of_signs(self, trial: Trial) -> NDArray[np.float64]:
        """Return the chance that the examination found what it did."""
        background = SOUND_IS_FINE if trial.found == ("fine",) else FALSE_SIGN * len(trial.found)
        chance = np.full(len(self._hypotheses), background)
        for part, run in self._presence.runs.items():
            names = {part, self._setup.parts[part].item}
            if names & set(trial.examine) and not names & {*trial.mended, *trial.swapped}:
                chance[run] = [self._of_sign(int(i), trial.found, background) for i in self._hypotheses.failure[run]]
        chance[UNKNOWN_AT] = self._presence.unknown(chance, float(chance.min()))
        return chance

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
