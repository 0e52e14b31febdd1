"""The states of a region's children in; out, a row for each way of making up to two changes in the region."""

from __future__ import annotations

from itertools import combinations, pairwise
from typing import TYPE_CHECKING

import numpy as np

from foible.circuit.grid import Grid

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Classes = NDArray[np.int32]

__all__ = ["StateTable"]


class StateTable:
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
        """Return the state of each pair of changes, first the children's and then the region's own, from that of every row."""
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
