"""The best of all orders of a few tests, by dynamic programming over subsets; arrays in, places out.

V(S, h) is what an item that has passed the tests S, tool h in hand, still takes on the mean [s]:

    V(S, h) = min over i ∉ S with what i waits for ⊆ S of  [h ≠ tool i] · pick-up + c_i + (1 − p_i) · V(S ∪ {i}, tool i)

(Held & Karp, "A dynamic programming approach to sequencing problems", J. SIAM 10, 1962, for expected instead of certain cost.)
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

__all__ = ["MOST", "best_sequence"]

MOST = 20
"""Tests; a million subsets."""


def best_sequence(
    *, seconds: Sequence[float], fails: Sequence[float], tool: Sequence[int], pick_up: Sequence[float], after: Sequence[int]
) -> list[int]:
    """Return the places of n tests in their best order.

    `seconds` [s], `fails`, `tool` (a place in `pick_up` [s]), `after` (a bit for each test that comes before): shape (n,).
    Nothing is in hand at first. Raises ValueError for more than `MOST` tests.
    """
    count = len(seconds)
    if count > MOST:
        msg = f"{count} tests have too many orders to look through; give at most {MOST}"
        raise ValueError(msg)
    value = _values(seconds, fails, tool, pick_up, after)
    order: list[int] = []
    passed, hand = 0, -1
    while len(order) < count:
        ready = [i for i in range(count) if not passed >> i & 1 and after[i] & passed == after[i]]
        taken = {
            i: seconds[i] + (pick_up[tool[i]] if tool[i] != hand else 0.0) + (1 - fails[i]) * value[passed | 1 << i, tool[i]]
            for i in ready
        }
        order.append(min(ready, key=lambda i: taken[i]))
        passed, hand = passed | 1 << order[-1], tool[order[-1]]
    return order


def _values(
    seconds: Sequence[float], fails: Sequence[float], tool: Sequence[int], pick_up: Sequence[float], after: Sequence[int]
) -> NDArray[np.float64]:
    """Return V for each subset and tool in hand, shape (2ⁿ, tools); infinite for subsets that cannot come about."""
    count = len(seconds)
    subsets = np.arange(1 << count)
    size = np.zeros(1 << count, dtype=int)
    for i in range(count):
        size += subsets >> i & 1
    value = np.full((1 << count, len(pick_up)), np.inf)
    value[-1] = 0.0
    tools = np.arange(len(pick_up))
    for passed in range(count - 1, -1, -1):
        layer = subsets[size == passed]
        for i in range(count):
            own = layer[((layer >> i & 1) == 0) & ((layer & after[i]) == after[i])]
            takes = seconds[i] + (1 - fails[i]) * value[own | 1 << i, tool[i]]
            taken = np.where(tools == tool[i], 0.0, pick_up[tool[i]])
            value[own] = np.minimum(value[own], takes[:, None] + taken)
    return value
