"""Unfolded advice in; out, the cut of it that is worth most for the room that it takes on paper.

A cut keeps some trials and makes ends of what is behind the others. With P the chance of coming to an end,

    worth = Σ_ends P (max_g P(g | end) + DECIDEDLY · [decided] − HASTE · seconds)        room = Σ_steps lines        [1, lines]

are sums over steps, so at a price for a line the best cut of a state follows from those of the states behind it, and the best
cuts of several complaints need not know of one another: a line goes where it gains most. Whatever is best at some price is best
among all cuts that take no more room than it does (Everett 1963, *Generalized Lagrange multiplier method*).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from foible.diagnosis.advice.unfolding import Option, State

__all__ = ["ONWARD", "Cut", "best_cut", "fitting_cuts", "worth_here"]

DECIDEDLY = 0.5
"""What it is worth that an end is decided, next to being right; judgement, no source."""
HASTE = 1e-5
"""What a second is worth, next to being right; judgement, no source."""
ONWARD = 0.6
"""Room of an arrow to another step, and of the line that it does not fill [lines]."""
HALVINGS = 26
"""Steps in which the price of a line is found."""
DEAREST = 1.0
"""A price at which no line is worth printing."""


@dataclass(frozen=True, slots=True)
class Cut:
    """A way to cut what follows a state, with its result."""

    worth: float
    room: float
    below: tuple[Cut, ...] | None = None
    """The cuts of the ways on, group by group; None where the state is an end."""
    option: int = 0
    """Which of the state's trials is kept."""


def worth_here(state: State) -> float:
    """Return what a state is worth as an end."""
    decidedly = DECIDEDLY * state.chance if state.decided else 0.0
    return state.cured + decidedly - HASTE * state.chance * state.seconds


def best_cut(state: State, price: float, *, root: bool = False) -> Cut:
    """Return the cut of a state with the most worth less `price` for each line; a `root` is no end where there is a trial."""
    end = Cut(worth_here(state), 0.0)
    kept = [_kept(option, number, price) for number, option in enumerate(state.options)]
    best = max(kept, key=lambda cut: cut.worth - price * cut.room, default=end)
    return best if root or best.worth - end.worth > price * best.room else end


def _kept(option: Option, number: int, price: float) -> Cut:
    """Return the best cut that keeps a trial."""
    worth, room, below = 0.0, option.asks, []
    for group in option.groups:
        cuts, label = _of_group(group, price)
        worth += sum(cut.worth for cut in cuts)
        room += label + sum(cut.room + _row(way, cut) for way, cut in zip(group, cuts, strict=True))
        below += cuts
    return Cut(worth, room, tuple(below), number)


def _row(way: State, cut: Cut) -> float:
    """Return the room that a way takes in its list, beyond what an end says."""
    return way.told + (0.0 if cut.below is None else ONWARD)


def _of_group(group: Sequence[State], price: float) -> tuple[list[Cut], float]:
    """Return the best cuts of states that are listed together as ends, and the room of what that one end says."""
    ends = [Cut(worth_here(way), 0.0) for way in group]
    longer = [best_cut(way, price) for way in group]
    gains = [
        -1.0 if long.below is None else long.worth - end.worth - price * (long.room + ONWARD)
        for end, long in zip(ends, longer, strict=True)
    ]
    label = group[0].label
    worthy = [gain > 0 for gain in gains]
    if all(worthy) or (all(long.below is not None for long in longer) and sum(g for g in gains if g < 0) + price * label > 0):
        return longer, 0.0
    return [long if good else end for end, long, good in zip(ends, longer, worthy, strict=True)], label


def fitting_cuts(states: Sequence[State], shares: Sequence[float], room: float) -> list[Cut]:
    """Return the best cuts of several states that together take no more than `room` [lines]; `shares` are how common they are."""
    low, high = 0.0, DEAREST
    best: list[Cut] = []
    for _ in range(HALVINGS):
        price = high if not best else (low + high) / 2
        cuts = [best_cut(state, price / share, root=True) for state, share in zip(states, shares, strict=True)]
        if not best or sum(cut.room for cut in cuts) <= room:
            high, best = price, cuts
        else:
            low = price
    return best
