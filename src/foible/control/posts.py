"""A stage of the table with its posts, simulated: when bags are ready and what they take in, when they are done out.

Bags are taken in the order in which they become ready, each by the post that can begin it first (Kiefer & Wolfowitz, Transactions
of the AMS 78, 1955, for posts that differ and are closed at times). All draws are simulated at once, a step for each bag.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.intp]

__all__ = ["Closed", "Work", "done_with"]


@dataclass(frozen=True)
class Closed:
    """Post `post` is closed from `start` to `end` [s]; for each draw its own, shape (R,), or alike. It may end never."""

    post: int
    start: float | Floats
    end: float | Floats


@dataclass(frozen=True)
class Work:
    """What J bags take at a stage in R draws [s]: `seconds` at a post of factor 1, and `away`, added whatever the post; (R, J).

    A bag of no seconds is nothing for this stage, and passes at once.
    """

    seconds: Floats
    away: Floats


def done_with(ready: Floats, work: Work, factor: Floats, closed: Sequence[Closed] = (), start: float = 0.0) -> Floats:
    """Return when each bag is done [s], shape (R, J); infinite where no post is left to do it.

    `ready`: when bags are ready [s], shape (R, J). `factor`: of each post, shape (R, P); with an infinite one it is not there.
    `start`: no post begins before it [s]. A bag that was begun before a post closes is finished after, or, if it closes for
    good, before it leaves.
    """
    order = np.argsort(ready, axis=1, kind="stable")
    steps = zip(*(np.take_along_axis(each, order, axis=1).T for each in (ready, work.seconds, work.away)), strict=True)
    there = np.isfinite(factor.T)
    rows, factors, free = np.arange(len(ready)), np.where(there, factor.T, 1.0), np.where(there, start, np.inf)
    done = np.empty(ready.shape[::-1])
    for place, (came, seconds, away) in enumerate(steps):
        begins = np.maximum(free, came)
        for gap in closed:
            own = begins[gap.post]
            begins[gap.post] = np.where((own >= gap.start) & (own < gap.end), gap.end, own)
        post = (begins + 1e-9 * free).argmin(axis=0)  # of those that wait for work, the one that has waited longest
        begun = begins[post, rows]
        ended = begun + seconds * factors[post, rows] + away
        for gap in closed:
            through = (post == gap.post) & (begun < gap.start) & (ended > gap.start) & np.isfinite(gap.end)
            ended = np.where(through, ended + np.where(np.isfinite(gap.end), gap.end, 0) - gap.start, ended)
        here = seconds > 0
        free[post, rows] = np.where(here, ended, free[post, rows])
        done[place] = np.where(here, ended, came)
    found = np.empty_like(ready)
    np.put_along_axis(found, order, done.T, axis=1)
    return found
