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
from foible.trials import LIT_BEFORE, STATE, Group, looks_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from numpy.typing import NDArray

    from foible.trials import Look

    Key = tuple[str, Group]
    Chances = NDArray[np.float64]
    States = Mapping[Key, Chances]

__all__ = ["MISREAD", "Report", "agreement", "coarse_outcomes", "lamp_states", "steady_or_changing"]

MISREAD = 0.02
"""Chance that a report of one side's lamps, or of a test box, has nothing to do with the circuit; judgement, no source."""


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


def lamp_states(lamps: Chances, before: Chances, counts: Iterable[str]) -> dict[Key, Chances]:
    """Return the probability of the states of each group, shape (states, N).

    `lamps` and `before` the press: probabilities of lamps, shape (N, sides, lamps); `counts`: sides for which it matters that a
    hit lamp was lit before.
    """
    states: dict[Key, Chances] = {}
    counting = frozenset(counts)
    for number, side in enumerate(SIDES):
        white, coloured, yellow = (lamps[:, number, lamp] for lamp in (Lamp.WHITE, Lamp.COLOURED, Lamp.YELLOW))
        lit = before[:, number, [Lamp.WHITE, Lamp.COLOURED]].sum(axis=1)
        already = lit if side in counting else np.zeros_like(lit)
        states[side, Group.HIT] = np.stack([*((1 - already) * p for p in (1 - white - coloured, white, coloured)), already])
        states[side, Group.YELLOW] = np.stack([1 - yellow, yellow])
    return states


def loosely(looks: Iterable[Look]) -> frozenset[Look]:
    """Return looks at hit lamps in which a white one may also have been lit before the press: where nobody could tell."""
    white = STATE[Lamp.WHITE]
    ways = {white: (white, LIT_BEFORE)}
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
