"""A report of lamps in; out, how likely two looks at them are to be reported like that.

A trial is taken as two looks at every group of lamps. Two looks that agree are a steady lamp, two that differ are a lamp that
comes and goes, so that “white flickers” and “white” are outcomes of one model, and all outcomes of a group have probabilities
that add up to 1. People misread one side at a time.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product
from typing import TYPE_CHECKING

import numpy as np

from foible.apparatus import Lamp
from foible.kit import SIDES
from foible.trials import LIT_BEFORE, STATE, Group, groups_of, looks_of

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Mapping, Sequence

    from numpy.typing import NDArray

    from foible.kit import Weapon
    from foible.trials import Look, Trial

    Key = tuple[str, Group]
    Chances = NDArray[np.float64]
    States = Mapping[Key, Chances]

__all__ = ["MISREAD", "Report", "agreement", "coarse_outcomes", "lamp_states", "misread_of", "steady_or_changing"]

MISREAD = 0.02
"""Chance that a report of one side's lamps, or of a test box, has nothing to do with the circuit; judgement, no source."""
TOLD_MISREAD = 0.001
"""The same of a complaint that some failure or other is behind: what is told wrongly is mostly told of sound kit, of which the
complaint's file says how often; judgement, no source."""


def misread_of(trial: Trial) -> float:
    """Return the chance that what a trial reports has nothing to do with the circuit, where something is wrong with the kit."""
    if trial.sure:
        return 0.0
    return TOLD_MISREAD if trial.hearsay else MISREAD


@dataclass(frozen=True)
class Report:
    """For each side and group that was looked at, the pairs of looks that agree with what was said."""

    allowed: Mapping[Key, frozenset[Look]]
    misread: float = MISREAD

    @property
    def sides(self) -> tuple[str, ...]:
        """The sides that are reported on."""
        return tuple(dict.fromkeys(side for side, _ in self.allowed))

    def blind(self, side: str) -> float:
        """Return the chance of the report of a side under no model at all."""
        shares = [share_of_outcomes(group, seen) for (own, group), seen in self.allowed.items() if own == side]
        return float(np.prod(shares))

    def chance(self, first: States, second: States) -> Chances:
        """Return the chance of the report where two looks have the state probabilities `first` and `second`.

        Arrays of shape (states, …) that broadcast against each other.
        """
        total: Chances = np.ones(1)
        for side in self.sides:
            told: Chances = np.ones(1)
            for key, allowed in self.allowed.items():
                if key[0] == side:
                    told = told * agreement(allowed, first[key], second[key])
            total = total * ((1 - self.misread) * told + self.misread * self.blind(side))
        return total

    def between(self, states: States) -> NDArray[np.float32]:
        """Return the chance of the report where two looks are at rows u and v, shape (rows, rows).

        `states`: state probabilities of every row, shape (states, rows). As `chance`, in single precision and by matrix products.
        """
        total: NDArray[np.float32] = np.ones((1, 1), dtype=np.float32)
        for side in self.sides:
            told: NDArray[np.float32] = np.ones((1, 1), dtype=np.float32)
            for key, allowed in self.allowed.items():
                if key[0] == side:
                    rows = states[key].astype(np.float32)
                    told = np.asarray(told * (rows.T @ _pairing(allowed, len(rows)) @ rows), dtype=np.float32)
            clear, blind = np.float32(1 - self.misread), np.float32(self.misread * self.blind(side))
            total = np.asarray(total * (clear * told + blind), dtype=np.float32)
        return total


def _pairing(allowed: Iterable[Look], count: int) -> NDArray[np.float32]:
    """Return which states of two looks, in either order, agree with allowed pairs, shape (count, count)."""
    table = np.zeros((count, count), dtype=np.float32)
    for a, b in allowed:
        table[a, b] = table[b, a] = 1.0
    return table


def lamp_states(lamps: Chances, before: Chances, counts: Iterable[str], kind: Weapon) -> list[tuple[float, States]]:
    """Return the probability of the states of each group, shape (states, N), for the ways of an apparatus, with shares.

    `lamps` and `before` the press: probabilities of lamps, shape (N, sides, lamps); `counts`: sides for which it matters that a
    hit lamp was lit before; `kind`: the weapon whose lamps are reported. Where white and coloured can be lit together, one
    apparatus keeps coloured dark while white is lit, and another does not: it is the same one in both looks of a trial.
    """
    block = _block(kind)
    ways = [(1.0, False)] if not kind.together else [(share, way) for share, way in ((block, True), (1 - block, False)) if share]
    return [(share, _states(lamps, before, frozenset(counts), kind, blocks=way)) for share, way in ways]


def _block(kind: Weapon) -> float:
    lamp = kind.lamp("coloured")
    return lamp.blocked if lamp else 0.0


def _states(lamps: Chances, before: Chances, counts: frozenset[str], kind: Weapon, *, blocks: bool) -> dict[Key, Chances]:
    hit, earth = groups_of(kind)
    states: dict[Key, Chances] = {}
    for number, side in enumerate(SIDES):
        yellow = lamps[:, number, Lamp.YELLOW]
        none, white, coloured, both = _hits(lamps[:, number], kind, blocks=blocks)
        already = 1 - _hits(before[:, number], kind, blocks=blocks)[0] if side in counts else np.zeros_like(yellow)
        told = [*((1 - already) * chance for chance in (none, white, coloured)), already * (1 - both)]
        states[side, hit] = np.stack([*told, both] if kind.together else told)
        states[side, earth] = np.stack([1 - yellow, yellow])
    return states


def _hits(lamps: Chances, kind: Weapon, *, blocks: bool) -> tuple[Chances, Chances, Chances, Chances]:
    """Return the probability of no hit lamp, of white alone, coloured alone, and both; `lamps`: of one side, shape (N, lamps).

    Where both can be lit, white with the probability W leaves coloured C = T (1 − b W), T being that of a closed target.
    """
    white, coloured = lamps[:, Lamp.WHITE], lamps[:, Lamp.COLOURED]
    if not kind.together:
        coloured = np.minimum(coloured, 1 - white)
        return 1 - white - coloured, white, coloured, np.zeros_like(white)
    target = np.minimum(coloured / np.maximum(1 - _block(kind) * white, 1e-12), 1.0)
    both = np.zeros_like(white) if blocks else white * target
    alone = (1 - white) * target
    return 1 - white - alone, white - both, alone, both


def loosely(looks: Iterable[Look], lit: Collection[int] = (STATE[Lamp.WHITE],)) -> frozenset[Look]:
    """Return looks at hit lamps in which one in a state of `lit` may also have been lit before the press: nobody could tell."""
    ways = {state: (state, LIT_BEFORE) for state in lit}
    return frozenset(
        (min(first, second), max(first, second))
        for a, b in looks
        for first, second in product(ways.get(a, (a,)), ways.get(b, (b,)))
    )


def plainly(reported: frozenset[Look]) -> frozenset[Look]:
    """Return looks with “white all along” read as white, where no press could have changed it.

    A change between the two is then no change, so it cannot explain a report of something changing.
    """
    white = STATE[Lamp.WHITE]
    plain = {look: tuple(sorted(white if state == LIT_BEFORE else state for state in look)) for look in reported}
    return frozenset((a, b) for (first, second), (a, b) in plain.items() if first == second or a != b)


def coarse_outcomes(group: Group) -> tuple[str, ...]:
    """Return what a group is reported to do in one trial: each state steadily, or changing."""
    return (*group.states, "changing")


def agreement(allowed: Iterable[Look], first: Chances, second: Chances) -> Chances:
    """Return the chance that two looks with state probabilities `first` and `second` give one of the allowed pairs."""
    terms: list[Chances] = []
    for a, b in allowed:
        terms.append(first[a] * second[b])
        if a != b:
            terms.append(first[b] * second[a])
    return np.asarray(sum(terms[1:], terms[0]))


def steady_or_changing(first: Chances, second: Chances) -> Chances:
    """Return the chance of each coarse outcome of two looks, shape (states + 1, N)."""
    steady = first * second
    return np.concatenate([steady, 1 - steady.sum(axis=0, keepdims=True)])


def share_of_outcomes(group: Group, allowed: frozenset[Look]) -> float:
    """Return the chance of a report under no model at all: all coarse outcomes alike, changing ones alike among themselves."""
    looks: Sequence[Look] = looks_of(group)
    steady = sum(a == b for a, b in allowed)
    changing = (len(allowed) - steady) / sum(a != b for a, b in looks)
    return (steady + changing) / len(coarse_outcomes(group))
