"""An arrangement in; out, the fault dictionary for pairs: what any two failures do together.

Every pair of columns of `Hypotheses` is solved, none is sampled or left out; `circuit.Nest` makes that cheap.
"""

from __future__ import annotations

from dataclasses import dataclass
from operator import attrgetter
from typing import TYPE_CHECKING

import numpy as np
from cachetools import LRUCache, cachedmethod

from foible.apparatus import TERMINALS, lamp_chances, load_profile
from foible.circuit import OPEN, Change, Grid, Nest, equal_rows, port_resistances
from foible.diagnosis.shown.effects import edits
from foible.trials import arranged

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from foible.apparatus import Profile
    from foible.circuit import Outcomes, Port
    from foible.diagnosis.shown.hypotheses import Hypotheses
    from foible.kit import Setup
    from foible.trials import Arrangement

__all__ = ["PairDictionary", "PairTable"]

STEP = 1e-3
"""Lamp probabilities are told apart in steps of this."""
TABLES = 96
"""Arrangements whose table stays in memory; one takes about 2 MB."""
NESTS = 12
"""Sets of terminals, such as the two places of a meter, whose compiled network stays in memory."""


@dataclass(frozen=True)
class PairTable:
    """What each single failure and each pair shows, as the number of a row.

    `rows`: what the rows are, such as lamp probabilities, shape (rows, …); row 0 is sound kit. `two`: the row of each pair of
    columns; column 0 is sound, so that its pairs are the single failures.
    """

    rows: NDArray[np.float64]
    two: Grid


class PairDictionary:
    """Lamps and resistances of all pairs, by arrangement, worked out when first asked for."""

    def __init__(self, setup: Setup, profile: Profile, hypotheses: Hypotheses) -> None:
        self._setup = setup
        self._profile = profile
        self._branches = [(b.name, b.a, b.b, b.ohms) for b in setup.network.branches]
        self._groups = _groups(setup)
        self._changes = self._collect(hypotheses)
        self._nests: LRUCache[object, Nest] = LRUCache(NESTS)
        self._tables: LRUCache[object, PairTable] = LRUCache(TABLES)
        self._profiles = {
            column: load_profile(failure.profile, setup.overlays)
            for column, (failure, _) in enumerate(hypotheses.columns)
            if failure.profile
        }

    def _collect(self, hypotheses: Hypotheses) -> list[Change]:
        """Return what each column changes; joints become branches that are open in sound kit."""
        joints: dict[tuple[str, tuple[str, str]], int] = {}
        changes = []
        index = self._setup.network.index
        for failure, ohms in hypotheses.columns:
            made = edits(self._setup, failure, ohms)
            for pair, _ in made.joined:
                if (failure.item, pair) not in joints:
                    joints[failure.item, pair] = len(self._branches)
                    self._branches.append((f"{failure.item}: {' = '.join(pair)}", *pair, OPEN))
                    self._groups.append(failure.item)
            changes.append(
                Change(
                    tuple((index(name), value) for name, value in made.raised),
                    tuple((index(name), value) for name, value in made.held),
                    tuple((joints[failure.item, pair], value) for pair, value in made.joined),
                )
            )
        return changes

    def lamps(self, arrangement: Arrangement) -> PairTable:
        """Return the lamp probabilities of all pairs; rows have the shape (sides, lamps)."""
        return self._solved(arrangement)

    def ohms(self, arrangement: Arrangement, ports: Sequence[Port]) -> PairTable:
        """Return what an ohmmeter between nodes would see under all pairs; rows have the shape (ports,) [Ω]."""
        terminals = tuple(dict.fromkeys(node for port in ports for node in (*port.sources, *port.sinks)))
        out = self._outcomes(arrangement, terminals)
        return _distinct(port_resistances(out.shape, out.mesh, ports).T, _with_sound(out.states))

    @cachedmethod(attrgetter("_tables"))
    def _solved(self, arrangement: Arrangement) -> PairTable:
        out = self._outcomes(arrangement, TERMINALS)
        lamps = [lamp_chances(self._profile, out.shape, out.mesh)]
        two = _with_sound(out.states, list(self._profiles))
        rows, count = two.cells.copy(), len(lamps[0])
        for column, profile in self._profiles.items():
            kind = two.kind[column + 1]
            lamps.append(lamp_chances(profile, out.shape, out.mesh[:, two.cells[kind]]))
            rows[kind] = rows[:, kind] = np.arange(count, count + len(rows), dtype=np.int32)
            count += len(rows)
        return _distinct(np.concatenate(lamps), Grid(two.kind, rows))

    def _outcomes(self, arrangement: Arrangement, terminals: tuple[str, ...]) -> Outcomes:
        made = arranged(self._setup, arrangement)
        ohms = [OPEN if name in made.opened else ohms for name, _, _, ohms in self._branches]
        return self._nest(terminals).outcomes(ohms, [(b.a, b.b, b.ohms) for b in made.contacts])

    @cachedmethod(attrgetter("_nests"))
    def _nest(self, terminals: tuple[str, ...]) -> Nest:
        return Nest([(a, b) for _, a, b, _ in self._branches], self._groups, self._changes, terminals)


def _groups(setup: Setup) -> list[str]:
    """Return the item that each branch belongs to; pins that join two items go to the first of them."""
    owner: dict[str, str] = {}
    for branch in setup.network.branches:
        if branch.name in setup.parts:
            owner.setdefault(branch.a, setup.parts[branch.name].item)
            owner.setdefault(branch.b, setup.parts[branch.name].item)
    return [
        setup.parts[b.name].item if b.name in setup.parts else owner.get(b.a) or owner.get(b.b) or b.name
        for b in setup.network.branches
    ]


def _with_sound(states: Grid, alone: Sequence[int] = ()) -> Grid:
    """Return the states of pairs with sound kit as thing 0 put in front, and the changes `alone` kinds of their own."""
    count, own = len(states.cells), np.array(alone, dtype=np.intp)
    kinds = np.concatenate([np.arange(count), states.kind[own]])
    cells = np.zeros((len(kinds) + 1, len(kinds) + 1), dtype=np.int32)
    cells[1:, 1:] = states.cells[kinds][:, kinds]
    cells[0, 1:] = cells[1:, 0] = cells.diagonal()[1:]
    kind = np.concatenate([[0], states.kind + 1])
    kind[own + 1] = count + 1 + np.arange(len(own))
    return Grid(kind, cells)


def _distinct(values: NDArray[np.float64], two: Grid) -> PairTable:
    """Return a table with rows that show the same made one; `values`: shape (states, …)."""
    flat = values.reshape(len(values), -1)
    rounded = np.rint(flat / STEP) if flat.max(initial=0) <= 1 else np.rint(np.log(np.minimum(flat, 1e12) + 1e-3) * 1e3)
    first, row = equal_rows(rounded.astype(np.int32))
    return PairTable(values[first], two.renumbered(row.astype(np.int32)))
