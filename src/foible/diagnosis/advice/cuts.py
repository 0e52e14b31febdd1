"""The unfolded advice in; out, for each number of leaves, the cut that names the right aim most often.

A cut keeps some trials and makes leaves of what is behind the others. With P the chance of coming somewhere,

    right = Σ_leaves max_g P(leaf, g)        time = Σ_leaves P(leaf) t_leaf        [1, s]

are sums over trials, so the best cut with k leaves of a state follows from those of the states behind it (dynamic programming
over the tree). A longer budget or more leaves only add cuts to choose from: neither ever lowers `right`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from foible.diagnosis.advice.unfolding import State

__all__ = ["Cut", "best_cuts", "worth"]

EVEN = 6
"""Decimals of a share that count when cuts are compared; further ones are rounding noise."""


@dataclass(frozen=True, slots=True)
class Cut:
    """A way to cut what follows a state, or several, with its result."""

    right: float
    seconds: float
    below: tuple[Cut, ...] | None = None
    """The cuts of the ways on; None where the state is a leaf."""


_NOTHING = Cut(0.0, 0.0, ())
Cuts = list[Cut | None]
"""The best cut for each count of leaves."""


def worth(cut: Cut) -> tuple[float, float]:
    """Return what cuts are compared by: right more often, and then in less time."""
    return round(cut.right, EVEN), -cut.seconds


def best_cuts(state: State, most: int) -> Cuts:
    """Return the best cut of a state for each count of leaves up to `most`."""
    best: Cuts = [None, Cut(state.first_share, 0.0), *[None] * (most - 1)]
    if not state.groups:
        return best
    behind: Cuts = [_NOTHING, *[None] * most]
    for group in state.groups:
        behind = _joined(behind, _of_group(group, most))
    if state.rest is not None:
        behind = _joined(behind, [None, Cut(state.rest.first_share, 0.0, ())])
    cost = state.chance * (state.groups[0][0].seconds - state.seconds)
    return [*best[:2], *(cut and Cut(cut.right, cut.seconds + cost, cut.below) for cut in behind[2:])]


def _of_group(group: Sequence[State], most: int) -> Cuts:
    """Return the best cuts of states that would be listed together as leaves: all those cut off there make one leaf."""
    none: Cuts = [_NOTHING, *[None] * most]  # with none of them cut short so far
    some: Cuts = [None] * (most + 1)  # with one at least, its leaf not counted
    for state in group:
        cuts = [cut and Cut(cut.right, cut.seconds, (cut,)) for cut in best_cuts(state, most)]
        short, long = cuts[1:2], [None, None, *cuts[2:]]
        some = _better(_better(_joined(some, short), _joined(none, short)), _joined(some, long))
        none = _joined(none, long)
    return _better(none, [None, *some[:-1]])


def _joined(first: Cuts, second: Cuts) -> Cuts:
    """Return the best cuts of two sets of states side by side, as many leaves at most as `first` has places for."""
    best: Cuts = [None] * len(first)
    for i, left in enumerate(first):
        for j, right in enumerate(second[: len(first) - i]):
            if left is None or right is None:
                continue
            both = Cut(left.right + right.right, left.seconds + right.seconds, (*(left.below or ()), *(right.below or ())))
            held = best[i + j]
            if held is None or worth(both) > worth(held):
                best[i + j] = both
    return best


def _better(first: Cuts, second: Cuts) -> Cuts:
    """Return the better cut for each count."""
    pairs = zip(first, second, strict=True)
    return [max((cut for cut in pair if cut), key=worth, default=None) for pair in pairs]
