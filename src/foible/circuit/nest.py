"""A network in; out, every single change and every pair of changes to it, all reduced to the terminals together.

A network of many branches falls into groups that are joined at few nodes. What a group does to the rest is the mesh between
those nodes, and most changes inside a group come to one of a few meshes: every open wire of a series path is the same mesh. So
the groups are reduced one by one, equal meshes count as one from then on, and the few that differ are combined upwards, two
groups at a time, up to the terminals (nested dissection, George 1973, over sets of states instead of one). Nothing is left out:
each of the n (n − 1) / 2 pairs of changes ends in the mesh that a solve of its own would give, to a relative 1e-5.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from operator import attrgetter
from typing import TYPE_CHECKING

import numpy as np
from cachetools import LRUCache, cachedmethod

from foible.circuit.grid import Grid
from foible.circuit.regions import region_tree
from foible.circuit.rows import equal_rows
from foible.circuit.starmesh import CHUNK, Shape
from foible.circuit.state_table import StateTable

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Contacts = tuple[tuple[str, str, float], ...]
    Classes = NDArray[np.int32]
    from foible.circuit.regions import Change, Region

    Siemens = NDArray[np.float32]

__all__ = ["Nest", "Outcomes"]

LEAST_SIEMENS = 1e-12
"""Conductances below this count as zero [S]."""
STATES = 192
"""States of regions that stay in memory, the latest used; about a dozen make a network, and a region's take up to 3 MB."""
SHAPES = 512
"""Graphs of regions whose order of elimination stays in memory."""
_DROPPED = 23 - 17
"""Bits of the mantissa that are not compared: meshes whose conductances agree in 17 bits, one part in 10⁵, are one."""
_HALF = 1 << (_DROPPED - 1)


@dataclass(frozen=True)
class Outcomes:
    """Every state of a network that one or two changes can bring about, told apart by the mesh between its terminals.

    `mesh`: conductances, shape (pairs of terminals, states) [S]; state 0 is the network unchanged. `states`: the state of every
    pair of changes.
    """

    shape: Shape
    mesh: Siemens
    states: Grid


@dataclass(frozen=True)
class _States:
    """The states of a region: `mesh` between its boundary nodes, and the state of each pair of changes in it."""

    boundary: tuple[str, ...]
    mesh: Siemens
    changed: Grid


class Nest:
    """The groups of one network and the changes in them, compiled. `ends` are the nodes of every branch, `groups` its group."""

    def __init__(
        self, ends: Sequence[tuple[str, str]], groups: Sequence[str], changes: Sequence[Change], terminals: Sequence[str]
    ) -> None:
        self._ends = tuple(ends)
        self._changes = tuple(changes)
        self._terminals = tuple(terminals)
        self._root = region_tree(self._ends, tuple(groups), self._changes, frozenset(terminals))
        self._cached: LRUCache[object, _States] = LRUCache(STATES)
        self._shapes: LRUCache[object, Shape] = LRUCache(SHAPES)

    def outcomes(self, ohms: Sequence[float], contacts: Sequence[tuple[str, str, float]] = ()) -> Outcomes:
        """Return what all single changes and pairs come to.

        `ohms`: resistance of every branch [Ω], infinite where open; `contacts`: further branches as (node, node, ohms [Ω]),
        which no change touches.
        """
        states = self._states(self._root, tuple(ohms), tuple(contacts), frozenset(self._terminals))
        order = np.argsort(np.array(self._root.all_changes, dtype=np.intp))
        shape = Shape((), states.boundary)
        return Outcomes(shape, states.mesh, Grid(states.changed.kind[order], states.changed.cells))

    # --- states of a region ---------------------------------------------------------------------------------------

    def _states(self, region: Region, ohms: tuple[float, ...], contacts: Contacts, outside: frozenset[str]) -> _States:
        """Return the states of a region; `outside` are the nodes that the rest of the network shares with it, and terminals."""
        own, passed = self._dealt(region, contacts)
        if region is self._root:  # not cached here: the result for the whole network is large, and the caller caches it
            return self._solved(region, ohms, own, passed, outside)
        key = (id(region), region.nodes & outside, tuple(ohms[b] for b in region.all_branches), own, tuple(passed))
        if key not in self._cached:
            self._cached[key] = self._solved(region, ohms, own, passed, outside)
        return self._cached[key]

    def _solved(
        self, region: Region, ohms: tuple[float, ...], own: Contacts, passed: Sequence[Contacts], outside: frozenset[str]
    ) -> _States:
        """Work out a region's states from its children's; `own` are its own contacts, `passed` those of each child."""
        inner = frozenset(node for a, b, _ in own for node in (a, b))
        own_nodes = frozenset(node for b in region.branches for node in self._ends[b]) | inner
        parts = []
        for child, theirs in zip(region.children, passed, strict=True):
            siblings = frozenset().union(*(other.nodes for other in region.children if other is not child))
            parts.append(self._states(child, ohms, theirs, outside | own_nodes | siblings))
        boundary = frozenset(self._terminals) if region is self._root else region.nodes & outside
        return self._combined(region, parts, ohms, own, boundary)

    @staticmethod
    def _dealt(region: Region, contacts: Contacts) -> tuple[Contacts, list[Contacts]]:
        """Share out the contacts: each goes to the child that has both its nodes, or stays here."""
        passed: list[Contacts] = []
        left = contacts
        for child in region.children:
            theirs = tuple(c for c in left if c[0] in child.nodes and c[1] in child.nodes)
            passed.append(theirs)
            left = tuple(c for c in left if c not in theirs)
        return left, passed

    def _combined(
        self,
        region: Region,
        parts: list[_States],
        ohms: tuple[float, ...],
        contacts: Contacts,
        boundary_nodes: frozenset[str],
    ) -> _States:
        boundary = tuple(sorted(boundary_nodes))
        table = StateTable([part.changed for part in parts], len(region.changes))
        ends: list[tuple[str, str]] = []
        rows: list[tuple[Siemens, Classes | None]] = []
        for number, part in enumerate(parts):
            state = table.child_state(number)
            for row, pair in zip(part.mesh, combinations(part.boundary, 2), strict=True):
                rows.append((row, state))
                ends.append(pair)
        rows += [(row, None) for row in self._own(region, ohms, table)]
        ends += [self._ends[b] for b in region.branches]
        rows += [(np.full(table.count, 1 / contact[2], dtype=np.float32), None) for contact in contacts]
        ends += [(a, b) for a, b, _ in contacts]
        live = [number for number, (row, _) in enumerate(rows) if row.any()]
        shape = self._shape(tuple(ends[i] for i in live), boundary)
        mesh = np.zeros((len(shape.pairs), table.count), dtype=np.float32)
        chosen = [rows[i] for i in live]
        for start in range(0, table.count if live else 0, CHUNK):
            columns = slice(start, start + CHUNK)
            siemens = np.empty((len(chosen), len(range(table.count)[columns])), dtype=np.float32)
            for into, (row, of) in zip(siemens, chosen, strict=True):
                if of is None:
                    into[:] = row[columns]
                else:
                    np.take(row, of[columns], out=into, mode="clip")  # “clip” is faster, and no state is out of range
            mesh[:, columns] = shape.conductances(siemens)
        if region is self._root:  # nothing is combined any further
            return _States(boundary, mesh, table.read(np.arange(table.count, dtype=np.int32)))
        first, state = _told_apart(mesh)
        return _States(boundary, mesh[:, first], table.read(state).merged())

    @cachedmethod(attrgetter("_shapes"))
    def _shape(self, ends: tuple[tuple[str, str], ...], boundary: tuple[str, ...]) -> Shape:
        return Shape(ends, boundary)

    def _own(self, region: Region, ohms: tuple[float, ...], table: StateTable) -> Siemens:
        """Return the conductances of a region's own branches in every row of its table, shape (branches, rows) [S]."""
        base = np.array([ohms[b] for b in region.branches])
        siemens = np.repeat((1 / base).astype(np.float32)[:, None], table.count, axis=1)
        made = [(number, self._changes[index]) for number, index in enumerate(region.changes)]
        for row, branch in enumerate(region.branches):
            touching = [(number, change) for number, change in made if branch in change.branches]
            if not touching:
                continue
            series, held = np.full(table.count, base[row]), np.full(table.count, np.nan)
            across = np.zeros(table.count)
            for number, change in touching:
                columns = table.with_own(number)
                series[columns] += sum(value for other, value in change.raised if other == branch)
                across[columns] += sum(1 / value for other, value in change.joined if other == branch)
                if branch in dict(change.held):
                    held[columns] = dict(change.held)[branch]
            siemens[row] = 1 / np.where(np.isnan(held), series, held) + across
        return siemens


def _told_apart(mesh: Siemens) -> tuple[NDArray[np.intp], Classes]:
    """Return the first column of a mesh that is of each state, and the state of every column, equal ones having one.

    Column 0 is state 0.
    """
    bits = np.where(mesh < LEAST_SIEMENS, np.float32(0), mesh).view(np.int32)
    first, state = equal_rows(((bits + _HALF) >> _DROPPED).T)
    return first, state.astype(np.int32)
