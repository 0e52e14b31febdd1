"""An arrangement in; out, the fault dictionary: the lamps under every failure at every severity.

Solved once per arrangement for all failures together (Bandler & Salama 1985 call the table a fault dictionary), and cached for
the life of the set-up.
"""

from __future__ import annotations

from operator import attrgetter
from typing import TYPE_CHECKING

import numpy as np
from cachetools import LRUCache, cachedmethod

from foible.apparatus import TERMINALS, lamp_chances, load_profile
from foible.circuit import Shape, port_resistances
from foible.diagnosis.shown.effects import edits
from foible.trials import arranged

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from foible.apparatus import Profile
    from foible.circuit import Port
    from foible.diagnosis.shown.hypotheses import Hypotheses
    from foible.kit import Setup
    from foible.trials import Arrangement

__all__ = ["Dictionary"]

ARRANGEMENTS = 512
"""Arrangements whose lamps stay in memory, some 60 kB each: those of a catalogue several times over."""
SHAPES = 512
"""Graphs of networks, by terminals and contacts, whose order of elimination stays in memory."""


class Dictionary:
    """Lamp probabilities by arrangement, worked out when first asked for."""

    def __init__(self, setup: Setup, profile: Profile, hypotheses: Hypotheses) -> None:
        self._setup = setup
        self._profile = profile
        self._count = len(hypotheses.columns) + 1
        self._lamps: LRUCache[object, NDArray[np.float64]] = LRUCache(ARRANGEMENTS)
        self._shapes: LRUCache[object, Shape] = LRUCache(SHAPES)
        self._profiles = {
            column: load_profile(failure.profile, setup.overlays)
            for column, (failure, _) in enumerate(hypotheses.columns, start=1)
            if failure.profile
        }
        """Columns in which the apparatus judges by another profile."""
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
        return self._cached_lamps(arrangement)

    @cachedmethod(attrgetter("_lamps"))
    def _cached_lamps(self, arrangement: Arrangement) -> NDArray[np.float64]:
        return self.solve(arrangement)

    def solve(self, arrangement: Arrangement) -> NDArray[np.float64]:
        """Work out `lamps` without the cache."""
        shape, mesh = self._reduced(arrangement, TERMINALS)
        lamps = lamp_chances(self._profile, shape, mesh)
        for column, profile in self._profiles.items():
            lamps[column] = lamp_chances(profile, shape, mesh[:, column : column + 1])[0]
        return lamps

    def ohms(self, arrangement: Arrangement, ports: Sequence[Port]) -> NDArray[np.float64]:
        """Return what an ohmmeter between any nodes would see, shape (ports, columns) [Ω]."""
        terminals = tuple(dict.fromkeys(node for port in ports for node in (*port.sources, *port.sinks)))
        shape, mesh = self._reduced(arrangement, terminals)
        return port_resistances(shape, mesh, ports)

    def _reduced(self, arrangement: Arrangement, terminals: tuple[str, ...]) -> tuple[Shape, NDArray[np.float64]]:
        """Reduce the networks of all columns in an arrangement to a mesh between terminals, shape (pairs, columns) [S]."""
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
        shape = self._shape(terminals, tuple((b.a, b.b) for b in made.contacts))
        return shape, shape.conductances(1.0 / np.concatenate([table, joints, contacts]))

    @cachedmethod(attrgetter("_shapes"))
    def _shape(self, terminals: tuple[str, ...], contacts: tuple[tuple[str, str], ...]) -> Shape:
        return Shape((*((b.a, b.b) for b in self._setup.network.branches), *self._joints, *contacts), terminals)


def _triples(
    entries: list[tuple[int, int, float]],
) -> tuple[NDArray[np.intp], NDArray[np.intp], NDArray[np.float64]]:
    rows, columns, values = zip(*entries, strict=True) if entries else ((), (), ())
    return np.array(rows, dtype=np.intp), np.array(columns, dtype=np.intp), np.array(values, dtype=np.float64)
