"""Branch conductances of many networks of one shape in, the mesh between their terminals out, by star–mesh elimination.

A node with branches of conductance g₁ … g_k to its neighbours can be removed and replaced by branches

    g_ij = g_i · g_j / (g₁ + … + g_k)                                                            [S]

between every pair of neighbours, without any change for the rest (Rosen 1924). Removing all nodes but the terminals leaves
the response matrix of the terminals. Only sums, products and quotients of non-negative numbers occur, no differences, so
every result keeps nearly full relative accuracy however far apart the conductances lie (the argument of Grassmann, Taksar
and Heyman 1985): an open branch is exactly 0 S, a bridge of the graph may open, terminals may fall apart.

The order of elimination depends on the shape alone. It is worked out once per shape (`Shape`), then run over arrays of
conductances with one column per network, so that Python's own time is spread over thousands of networks.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from heapq import heapify, heappop, heappush
from itertools import combinations
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from foible.circuit.network import Network

    Siemens = NDArray[Any]  # single or double precision

__all__ = ["CHUNK", "Shape"]

CHUNK = 8192
"""Networks per sweep: a column of this many single-precision numbers stays in a core's first-level cache."""

Pair = tuple[int, int]


@dataclass(frozen=True)
class _Step:
    """Remove one node: `arms` are slots of its branches, `mesh` says which pair of arms feeds which slot."""

    arms: tuple[int, ...]
    mesh: tuple[tuple[int, int, int, bool], ...]
    """(arm position, arm position, slot to write, whether the slot already holds a branch)."""


@dataclass(frozen=True)
class Shape:
    """The graph of a family of networks and the nodes to keep, compiled for elimination.

    `ends` are the two node names of every branch, `terminals` the nodes that stay.
    """

    ends: tuple[tuple[str, str], ...]
    terminals: tuple[str, ...]

    def __post_init__(self) -> None:
        twice = sorted({name for name in self.terminals if self.terminals.count(name) > 1})
        if twice:
            msg = f"repeated terminals: {', '.join(twice)}"
            raise ValueError(msg)

    @classmethod
    def of(cls, network: Network, terminals: Sequence[str]) -> Shape:
        """Return the shape of one network."""
        return cls(tuple((b.a, b.b) for b in network.branches), tuple(terminals))

    @cached_property
    def _plan(self) -> tuple[tuple[_Step, ...], dict[Pair, int], tuple[tuple[int, ...], ...], int]:
        return _compile(self.ends, self.terminals)

    @cached_property
    def pairs(self) -> tuple[Pair, ...]:
        """Pairs of terminal positions (i < j) that `conductances` returns, in its row order."""
        count = len(self.terminals)
        return tuple((i, j) for i in range(count) for j in range(i + 1, count))

    def conductances(self, siemens: Siemens) -> Siemens:
        """Reduce every network to a mesh between its terminals.

        `siemens`: shape (branches, networks) [S], zero for an open branch, in double or single precision.
        Returns shape (pairs, networks) [S], of the same precision: the conductance of the mesh branch between each pair of
        terminals.
        """
        branches, count = siemens.shape
        if branches != len(self.ends):
            msg = f"{branches} rows of conductances for a shape of {len(self.ends)} branches"
            raise ValueError(msg)
        out = np.empty((len(self.pairs), count), dtype=siemens.dtype)
        for start in range(0, count, CHUNK):
            part = slice(start, start + CHUNK)
            self._sweep(siemens[:, part], out[:, part])
        return out

    def _sweep(self, siemens: Siemens, out: Siemens) -> None:
        steps, final, sources, slots = self._plan
        work: list[Siemens | None] = [None] * slots
        for slot, rows in enumerate(sources):
            work[slot] = siemens[list(rows)].sum(axis=0) if len(rows) > 1 else siemens[rows[0]]
        for step in steps:
            arms = [_filled(work[arm]) for arm in step.arms]
            if step.mesh:
                _replace(step, arms, work)
            for spent in step.arms:
                work[spent] = None
        for row, pair in enumerate(self.pairs):
            slot_of_pair = final.get(pair)
            out[row] = 0.0 if slot_of_pair is None else _filled(work[slot_of_pair])


def _replace(step: _Step, arms: list[Siemens], work: list[Siemens | None]) -> None:
    """Write the mesh that stands for a removed node."""
    total = arms[0] + np.finfo(arms[0].dtype).tiny  # an isolated node divides 0 by something [S]
    for arm in arms[1:]:
        total = total + arm
    shares = [arm / total for arm in arms[:-1]]
    for i, j, slot, held in step.mesh:
        new = shares[i] * arms[j]
        work[slot] = new + _filled(work[slot]) if held else new


def _filled(values: Siemens | None) -> Siemens:
    if values is None:
        msg = "elimination read a branch that it had not written"
        raise AssertionError(msg)
    return values


def _compile(
    ends: Sequence[tuple[str, str]], terminals: Sequence[str]
) -> tuple[tuple[_Step, ...], dict[Pair, int], tuple[tuple[int, ...], ...], int]:
    """Work out the order of elimination: always the node with the fewest neighbours left (minimum degree)."""
    rows, near = _neighbours(ends, terminals)
    slot_of = {pair: slot for slot, pair in enumerate(rows)}
    queue = [(len(near[node]), node) for node in range(len(terminals), len(near))]
    heapify(queue)
    gone: set[int] = set()
    steps = []
    while queue:
        degree, node = heappop(queue)
        if node in gone or degree != len(near[node]):
            continue  # the node has been queued again since, with the degree it now has
        gone.add(node)
        around = sorted(near[node])
        mesh = []
        for i in around:
            near[i].discard(node)
        for (p, i), (q, j) in combinations(enumerate(around), 2):
            held = j in near[i]
            if not held:
                slot_of[i, j] = len(slot_of)
                near[i].add(j)
                near[j].add(i)
            mesh.append((p, q, slot_of[i, j], held))
        steps.append(_Step(tuple(slot_of[_pair(node, other)] for other in around), tuple(mesh)))
        for other in around:
            if other >= len(terminals):
                heappush(queue, (len(near[other]), other))
    final = {(i, j): slot_of[i, j] for i in range(len(terminals)) for j in near[i] if i < j}
    return tuple(steps), final, tuple(tuple(r) for r in rows.values()), len(slot_of)


def _neighbours(ends: Sequence[tuple[str, str]], terminals: Sequence[str]) -> tuple[dict[Pair, list[int]], list[set[int]]]:
    """Return the rows of conductances between each pair of nodes, and each node's neighbours. Terminals come first."""
    number = {name: i for i, name in enumerate(dict.fromkeys([*terminals, *(node for pair in ends for node in pair)]))}
    rows: dict[Pair, list[int]] = {}
    for row, (a, b) in enumerate(ends):
        if a != b:
            rows.setdefault(_pair(number[a], number[b]), []).append(row)
    near: list[set[int]] = [set() for _ in number]
    for i, j in rows:
        near[i].add(j)
        near[j].add(i)
    return rows, near


def _pair(i: int, j: int) -> Pair:
    return (i, j) if i < j else (j, i)
