"""Tables of pairs with like things made one, against the whole tables that they stand for."""

from __future__ import annotations

import numpy as np
import pytest

from foible.circuit import Grid


def random_table(rng: np.random.Generator, things: int) -> np.ndarray[tuple[int, int], np.dtype[np.int32]]:
    """Return a symmetric table in which several things are alike with every partner."""
    kind = rng.integers(max(1, things // 2), size=things)
    cells = rng.integers(4, size=(things, things)).astype(np.int32)
    cells = np.minimum(cells, cells.T)
    return np.asarray(cells[np.ix_(kind, kind)])


@pytest.mark.parametrize("seed", range(20))
def test_a_grid_stands_for_its_whole_table(seed: int) -> None:
    rng = np.random.default_rng([7, seed])
    things = int(rng.integers(1, 30))
    whole, other = random_table(rng, things), random_table(rng, things)
    grid = Grid.of(whole)
    assert len(grid) == things
    assert np.array_equal(grid.table(), whole)
    assert len(grid.cells) == len(np.unique(whole, axis=0))
    some, more = rng.integers(things, size=3), rng.integers(things, size=4)
    assert np.array_equal(grid.between(some, more), whole[np.ix_(some, more)])
    number = np.array([0, 1, 1, 0], dtype=np.int32)
    renumbered = grid.renumbered(number)
    assert np.array_equal(renumbered.table(), number[whole])
    assert len(renumbered.cells) == len(np.unique(number[whole], axis=0))
    crossed, both = grid.crossed(Grid.of(other), 5)
    assert np.array_equal(both[crossed.table()], whole * 5 + other)
