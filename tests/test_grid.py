"""Tables of pairs with like things made one, against the whole tables that they stand for."""

from __future__ import annotations

from typing import Literal

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from foible.circuit import Grid, equal_rows


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


# --- equal rows -------------------------------------------------------------------------------------------------------

WHOLE = st.integers(-(2**31), 2**31 - 1) | st.integers(-2, 2)
REAL = st.floats(allow_nan=False, width=32) | st.sampled_from([0.0, -0.0, 0.25, 0.5, 1.0, 1.5, 2.0])
TABLES = st.integers(1, 5).flatmap(
    lambda width: (
        st.tuples(
            st.sampled_from([np.int32, np.int64]),
            st.lists(st.lists(WHOLE, min_size=width, max_size=width), min_size=1, max_size=30),
        )
        | st.tuples(
            st.sampled_from([np.float32, np.float64]),
            st.lists(st.lists(REAL, min_size=width, max_size=width), min_size=1, max_size=30),
        )
    )
)


@given(table=TABLES, backwards=st.booleans())
def test_rows_have_the_same_number_when_all_their_entries_are_equal_and_numbers_follow_the_order(
    *, table: tuple[type[np.generic], list[list[float]]], backwards: bool
) -> None:
    rows = np.array(table[1], dtype=table[0])
    along = range(len(rows))[:: -1 if backwards else 1]
    first, number = equal_rows(rows, np.array(along) if backwards else None)
    seen = list(dict.fromkeys(tuple((rows[i] + 0).tolist()) for i in along))
    assert [tuple((rows[i] + 0).tolist()) for i in first] == seen
    assert [seen[i] for i in number] == [tuple((row + 0).tolist()) for row in rows]


@pytest.mark.parametrize("layout", ["C", "F"])
def test_wide_tables_are_read_alike_in_either_layout(layout: Literal["C", "F"]) -> None:
    rng = np.random.default_rng(3)
    different = rng.choice([0.0, 0.5, 1.0], size=(40, 200))
    rows = np.asarray(different[rng.integers(40, size=500)], order=layout)
    first, number = equal_rows(rows)
    assert np.array_equal(rows[first][number], rows)
    assert len(first) == len(np.unique(rows, axis=0))
