"""The fault dictionary: for an arrangement, the lamps under every failure at every severity.

Solved once per arrangement for all failures together (Bandler & Salama 1985 call the table a fault dictionary), kept for the
life of the set-up.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from foible.apparatus import TERMINALS, foil_lamps
from foible.circuit import Shape
from foible.diagnosis.effects import edits
from foible.trials import arranged

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from foible.apparatus import Profile
    from foible.diagnosis.hypotheses import Hypotheses
    from foible.kit import Setup
    from foible.trials import Arrangement

__all__ = ["Dictionary"]


class Dictionary:
    """Lamp probabilities by arrangement, worked out when first asked for."""

    def __init__(self, setup: Setup, profile: Profile, hypotheses: Hypotheses) -> None:
        self._setup = setup
        self._profile = profile
        self._count = len(hypotheses.columns) + 1
        self._known: dict[Arrangement, NDArray[np.float64]] = {}
        self._shapes: dict[tuple[tuple[str, str], ...], Shape] = {}
        self._collect(hypotheses)

    def _collect(self, hypotheses: Hypotheses) -> None:
        """Lay the edits of all columns out as index arrays."""
        index = self._setup.network.index
        raised, held, joined = [], [], []
        joints: dict[tuple[str, str], int] = {}
        for column, (failure, ohms) in enumerate(hypotheses.columns, start=1):
            made = edits(self._setup, failure, ohms)
            raised += [(index(name), column, value) for name, value in made.raised]
            held += [(index(name), column, value) for name, value in made.held]
            joined += [(joints.setdefault(pair, len(joints)), column, value) for pair, value in made.joined]
        self._raised, self._held, self._joined = _triples(raised), _triples(held), _triples(joined)
        self._joints = tuple(joints)

    def lamps(self, arrangement: Arrangement) -> NDArray[np.float64]:
        """Return the probability of each lamp, shape (columns, sides, lamps)."""
        if arrangement not in self._known:
            self._known[arrangement] = self.solve(arrangement)
        return self._known[arrangement]

    def solve(self, arrangement: Arrangement) -> NDArray[np.float64]:
        """Work `lamps` out anew."""
        made = arranged(self._setup, arrangement)
        sound = self._setup.network
        ohms = np.array([np.inf if b.name in made.opened else b.ohms for b in sound.branches])
        table = np.repeat(ohms[:, None], self._count, axis=1)
        rows, columns, values = self._raised
        table[rows, columns] += values
        rows, columns, values = self._held
        table[rows, columns] = values
        joints = np.full((len(self._joints), self._count), np.inf)
        rows, columns, values = self._joined
        joints[rows, columns] = values
        contacts = np.repeat(np.array([b.ohms for b in made.contacts])[:, None], self._count, axis=1)
        ends = (*((b.a, b.b) for b in sound.branches), *self._joints, *((b.a, b.b) for b in made.contacts))
        shape = self._shapes.setdefault(ends[len(sound.branches) :], Shape(ends, TERMINALS))
        mesh = shape.conductances(1.0 / np.concatenate([table, joints, contacts]))
        return foil_lamps(self._profile, shape, mesh)


def _triples(
    entries: list[tuple[int, int, float]],
) -> tuple[NDArray[np.intp], NDArray[np.intp], NDArray[np.float64]]:
    rows, columns, values = zip(*entries, strict=True) if entries else ((), (), ())
    return np.array(rows, dtype=np.intp), np.array(columns, dtype=np.intp), np.array(values, dtype=np.float64)
