"""All single changes and all pairs of changes of one network, reduced to its terminals together.

A network of many branches falls into groups that hang together by few nodes. What a group does to the rest is the mesh between
those nodes, and most changes inside a group come to one of a few meshes: every open wire of a series path is the same mesh. So
the groups are reduced one by one, equal meshes are told apart no further, and the few that differ are combined upwards, two
groups at a time, up to the terminals (nested dissection, George 1973, over sets of states instead of one). Nothing is left out:
each of the n (n − 1) / 2 pairs of changes ends in the mesh that a solve of its own would give, to a relative 1e-5.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from itertools import combinations, pairwise
from operator import attrgetter
from typing import TYPE_CHECKING

import numpy as np
from cachetools import LRUCache, cachedmethod

from foible.circuit.grid import Grid
from foible.circuit.rows import equal_rows
from foible.circuit.starmesh import CHUNK, Shape

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Contacts = tuple[tuple[str, str, float], ...]
    Classes = NDArray[np.int32]
    Siemens = NDArray[np.float32]

__all__ = ["Change", "Nest", "Outcomes"]

LEAST_SIEMENS = 1e-12
"""Conductances below this are told apart no further [S]."""
STATES = 192
"""States of regions that stay in memory, the latest used; about a dozen make a network, and a region's take up to 3 MB."""
SHAPES = 512
"""Graphs of regions whose order of elimination stays in memory."""
_DROPPED = 23 - 17
"""Bits of the mantissa that are not compared: meshes whose conductances agree in 17 bits, one part in 10⁵, are one."""
_HALF = 1 << (_DROPPED - 1)


@dataclass(frozen=True, slots=True)
class Change:
    """What one change does: branches that get a resistance in series, are held at one, or get one across [Ω]."""

    raised: tuple[tuple[int, float], ...] = ()
    held: tuple[tuple[int, float], ...] = ()
    joined: tuple[tuple[int, float], ...] = ()

    @property
    def branches(self) -> set[int]:
        """The branches that it touches."""
        return {branch for branch, _ in (*self.raised, *self.held, *self.joined)}


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
class _Region:
    """A group of branches, or two regions with the branches between them."""

    children: tuple[_Region, ...]
    branches: tuple[int, ...]
    changes: tuple[int, ...]
    """The changes whose branches are the region's own."""
    nodes: frozenset[str]

    @cached_property
    def all_changes(self) -> tuple[int, ...]:
        """The changes of the region and those inside it, in the order of the state tables."""
        return (*(c for child in self.children for c in child.all_changes), *self.changes)

    @cached_property
    def all_branches(self) -> tuple[int, ...]:
        return (*(b for child in self.children for b in child.all_branches), *self.branches)


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
        self._root = _tree(self._ends, tuple(groups), self._changes, frozenset(terminals))
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

    def _states(self, region: _Region, ohms: tuple[float, ...], contacts: Contacts, outside: frozenset[str]) -> _States:
        """Return the states of a region; `outside` are the nodes that the rest of the network, or a terminal, has."""
        own, passed = self._dealt(region, contacts)
        if region is self._root:  # whoever asks caches what the whole network comes to; it is large
            return self._solved(region, ohms, own, passed, outside)
        key = (id(region), region.nodes & outside, tuple(ohms[b] for b in region.all_branches), own, tuple(passed))
        if key not in self._cached:
            self._cached[key] = self._solved(region, ohms, own, passed, outside)
        return self._cached[key]

    def _solved(
        self, region: _Region, ohms: tuple[float, ...], own: Contacts, passed: Sequence[Contacts], outside: frozenset[str]
    ) -> _States:
        """Work the states of a region out from those of its children; it has the contacts `own`, each child its `passed` ones."""
        inner = frozenset(node for a, b, _ in own for node in (a, b))
        own_nodes = frozenset(node for b in region.branches for node in self._ends[b]) | inner
        parts = []
        for child, theirs in zip(region.children, passed, strict=True):
            siblings = frozenset().union(*(other.nodes for other in region.children if other is not child))
            parts.append(self._states(child, ohms, theirs, outside | own_nodes | siblings))
        boundary = frozenset(self._terminals) if region is self._root else region.nodes & outside
        return self._combined(region, parts, ohms, own, boundary)

    @staticmethod
    def _dealt(region: _Region, contacts: Contacts) -> tuple[Contacts, list[Contacts]]:
        """Deal contacts out: each goes to the child that has both its nodes, or stays."""
        passed: list[Contacts] = []
        left = contacts
        for child in region.children:
            theirs = tuple(c for c in left if c[0] in child.nodes and c[1] in child.nodes)
            passed.append(theirs)
            left = tuple(c for c in left if c not in theirs)
        return left, passed

    def _combined(
        self,
        region: _Region,
        parts: list[_States],
        ohms: tuple[float, ...],
        contacts: Contacts,
        boundary_nodes: frozenset[str],
    ) -> _States:
        boundary = tuple(sorted(boundary_nodes))
        table = _Table([part.changed for part in parts], len(region.changes))
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
                    np.take(row, of[columns], out=into, mode="clip")  # “clip” is the fast way; no state lies outside
            mesh[:, columns] = shape.conductances(siemens)
        if region is self._root:  # nothing is combined any further
            return _States(boundary, mesh, table.read(np.arange(table.count, dtype=np.int32)))
        first, state = _told_apart(mesh)
        return _States(boundary, mesh[:, first], table.read(state).merged())

    @cachedmethod(attrgetter("_shapes"))
    def _shape(self, ends: tuple[tuple[str, str], ...], boundary: tuple[str, ...]) -> Shape:
        return Shape(ends, boundary)

    def _own(self, region: _Region, ohms: tuple[float, ...], table: _Table) -> Siemens:
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


class _Table:
    """All ways to have up to two changes in a region of some children and `own` changes, as rows numbered from 0 (none).

    A child's states are numbered by itself; only those that one change or a pair of changes of the child can bring about occur.
    """

    def __init__(self, children: list[Grid], own: int) -> None:
        self._children, self._own = children, own
        self._ones = [child.cells.diagonal() for child in children]
        self.single = [_occurring(one) for one in self._ones]
        self.double = [_occurring(child.cells) for child in children]
        count = 1
        self._at: dict[tuple[object, ...], int] = {}
        for key, size in self._blocks():
            self._at[key] = count
            count += size
        self.count = count
        self._pair_at = np.zeros((own, own), dtype=np.intp)
        """Number of each pair of own changes among such pairs."""
        first, second = np.triu_indices(own, 1)
        self._pair_at[first, second] = self._pair_at[second, first] = np.arange(len(first))

    def _blocks(self) -> list[tuple[tuple[object, ...], int]]:
        children = range(len(self._ones))
        blocks: list[tuple[tuple[object, ...], int]] = [(("one", x), len(self.single[x])) for x in children]
        blocks += [(("own",), self._own)]
        blocks += [(("two", x), len(self.double[x])) for x in children]
        blocks += [(("across", x, y), len(self.single[x]) * len(self.single[y])) for x, y in combinations(children, 2)]
        blocks += [(("mixed", x), len(self.single[x]) * self._own) for x in children]
        return [*blocks, (("own two",), self._own * (self._own - 1) // 2)]

    def child_state(self, x: int) -> NDArray[np.int32]:
        """Return the state of a child in every row."""
        state = np.zeros(self.count, dtype=np.int32)
        single, double = self.single[x], self.double[x]
        self._put(state, ("one", x), single)
        self._put(state, ("two", x), double)
        for y in range(len(self._ones)):
            if y > x:
                self._put(state, ("across", x, y), np.repeat(single, len(self.single[y])))
            elif y < x:
                self._put(state, ("across", y, x), np.tile(single, len(self.single[y])))
        self._put(state, ("mixed", x), np.repeat(single, self._own))
        return state

    def _put(self, state: NDArray[np.int32], key: tuple[object, ...], values: NDArray[np.int32]) -> None:
        state[self._at[key] : self._at[key] + len(values)] = values

    def with_own(self, number: int) -> NDArray[np.intp]:
        """Return the rows in which an own change is made."""
        rows = [np.array([self._at["own",] + number])]
        for x, single in enumerate(self.single):
            rows.append(self._at["mixed", x] + np.arange(len(single)) * self._own + number)
        rows.append(self._at["own two",] + self._pair_at[number][np.arange(self._own) != number])
        return np.concatenate(rows)

    def read(self, state: Classes) -> Grid:
        """Return the state of each pair of changes, the children's first and then the own, from the state of every row."""
        places = [_places(single)[one] for single, one in zip(self.single, self._ones, strict=True)]
        starts = np.cumsum([0, *(len(one) for one in self._ones)])
        total = int(starts[-1]) + self._own
        cells = np.empty((total, total), dtype=np.int32)
        runs = [slice(int(a), int(b)) for a, b in pairwise(starts)]
        last = slice(int(starts[-1]), total)
        for x, run in enumerate(runs):
            cells[run, run] = state[self._at["two", x] + _places(self.double[x])].take(self._children[x].cells)
            for y in range(x + 1, len(runs)):
                block = state.take(self._at["across", x, y] + places[x][:, None] * len(self.single[y]) + places[y])
                cells[run, runs[y]], cells[runs[y], run] = block, block.T
            block = state[self._at["mixed", x] + places[x][:, None] * self._own + np.arange(self._own)]
            cells[run, last], cells[last, run] = block, block.T
        pairs = state[np.minimum(self._at["own two",] + self._pair_at, len(state) - 1)]
        np.fill_diagonal(pairs, state[self._at["own",] + np.arange(self._own)])
        cells[last, last] = pairs
        kinds = [start + child.kind for start, child in zip(starts, self._children, strict=False)]
        return Grid(np.concatenate([*kinds, np.arange(last.start, total)]), cells)


def _occurring(states: Classes) -> NDArray[np.int32]:
    """Return the states that occur in a table, rising."""
    seen = np.zeros(int(states.max()) + 1 if states.size else 0, dtype=bool)
    seen[states] = True
    return np.flatnonzero(seen).astype(np.int32)


def _places(occurring: NDArray[np.int32]) -> NDArray[np.int32]:
    """Return where in `occurring` each state stands, as a table by state; states that do not occur stand at 0."""
    places = np.zeros(int(occurring[-1]) + 1 if len(occurring) else 0, dtype=np.int32)
    places[occurring] = np.arange(len(occurring), dtype=np.int32)
    return places


def _told_apart(mesh: Siemens) -> tuple[NDArray[np.intp], Classes]:
    """Return the first column of a mesh that is of each state, and the state of every column, equal ones having one.

    Column 0 is state 0.
    """
    bits = np.where(mesh < LEAST_SIEMENS, np.float32(0), mesh).view(np.int32)
    first, state = equal_rows(((bits + _HALF) >> _DROPPED).T)
    return first, state.astype(np.int32)


# --- the tree of regions ----------------------------------------------------------------------------------------------


def _tree(
    ends: tuple[tuple[str, str], ...], groups: tuple[str, ...], changes: tuple[Change, ...], terminals: frozenset[str]
) -> _Region:
    """Return all groups joined two at a time, always the two that leave the fewest nodes to the outside."""
    members: dict[str, list[int]] = {}
    for branch, group in enumerate(groups):
        members.setdefault(group, []).append(branch)
    inside: dict[str, list[int]] = {group: [] for group in members}
    for number, change in enumerate(changes):
        homes = {groups[branch] for branch in change.branches} or {groups[0]}
        if len(homes) > 1:
            msg = f"change {number} reaches into several groups: {', '.join(sorted(homes))}"
            raise ValueError(msg)
        inside[homes.pop()].append(number)
    regions = [
        _Region((), tuple(branches), tuple(inside[group]), frozenset(node for b in branches for node in ends[b]))
        for group, branches in members.items()
    ]
    while len(regions) > 1:
        pair = min(combinations(regions, 2), key=lambda pair: _boundary_left(pair, regions, terminals))
        regions = [region for region in regions if region not in pair]
        regions.append(_Region(pair, (), (), pair[0].nodes | pair[1].nodes))
    root = regions[0]
    largest = max(root.children, key=lambda child: len(child.all_changes), default=None)
    if largest is None or not largest.children:
        return root
    others = tuple(
        child for child in root.children if child is not largest
    )  # the last two steps in one: the tables are largest there
    return _Region((*largest.children, *others), largest.branches, largest.changes, root.nodes)


def _boundary_left(pair: tuple[_Region, _Region], regions: Sequence[_Region], terminals: frozenset[str]) -> tuple[int, int]:
    """Return how many nodes of two regions the rest still has, and how many changes they hold; strangers go last."""
    nodes = pair[0].nodes | pair[1].nodes
    rest = terminals.union(*(region.nodes for region in regions if region not in pair))
    strangers = not pair[0].nodes & pair[1].nodes
    return len(nodes & rest) + 1000 * strangers, len(pair[0].all_changes) + len(pair[1].all_changes)
