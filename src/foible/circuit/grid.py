"""A table with a number for every pair of things in; the same table out, storing things that never differ only once."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Self

import numpy as np

from foible.circuit.rows import equal_rows, first_of_each

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Numbers = NDArray[np.int32]

__all__ = ["Grid"]


@dataclass(frozen=True)
class Grid:
    """A whole number for every pair of n things; a thing paired with itself has the number that it has alone.

    `kind`: kind of each thing, shape (n,); `cells`: number of each pair of kinds, shape (kinds, kinds), symmetric.
    """

    kind: NDArray[np.intp]
    cells: Numbers

    @classmethod
    def of(cls, numbers: Numbers) -> Self:
        """Return the grid of a whole table, shape (n, n), symmetric."""
        return cls(np.arange(len(numbers)), numbers).merged()

    def __len__(self) -> int:
        """Return how many things there are."""
        return len(self.kind)

    def between(self, first: NDArray[np.intp], second: NDArray[np.intp]) -> Numbers:
        """Return the numbers of all pairs of a thing of `first` with one of `second`, shape (len(first), len(second))."""
        return self.cells.take(self.kind[first], axis=0).take(self.kind[second], axis=1)

    def table(self) -> Numbers:
        """Return the numbers of all pairs, shape (n, n)."""
        return self.cells[self.kind][:, self.kind]

    def merged(self) -> Self:
        """Return the same grid with kinds merged that have the same number with every partner."""
        first, kind = equal_rows(self.cells)
        return type(self)(kind[self.kind], self.cells[first][:, first])

    def renumbered(self, number: Numbers) -> Self:
        """Return the grid with other numbers, shape (numbers,) by the present one."""
        return type(self)(self.kind, number.take(self.cells)).merged()  # `take` is twice as fast as an index

    def crossed(self, other: Self, count: int) -> tuple[Self, NDArray[np.intp]]:
        """Return two grids of the same things combined into one, and for each of its numbers `own · count + other`.

        `count` is more than any number of the other grid.
        """
        first, kind = first_of_each(self.kind * len(other.cells) + other.kind)
        both = self.between(first, first).astype(np.int64) * count + other.between(first, first)
        seen = np.zeros(int(both.max(initial=0)) + 1, dtype=bool)
        seen[both] = True
        known = np.flatnonzero(seen)
        number = np.zeros(len(seen), dtype=np.int32)
        number[known] = np.arange(len(known), dtype=np.int32)
        return type(self)(kind, number[both]), known
