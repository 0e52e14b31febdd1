"""Invented laws of items near a limit, and a day at the table: what each item is, and what it reads, twice.

All are of one wire of a body cord, ≤ 1 Ω, read with a standard uncertainty of 0.05 Ω. A day is 300 fencers with three cords each
(m.38.1), each cord's worst wire. Before it begins, one wire is read ten times.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from foible.control.priors import LognormalPrior

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

__all__ = ["ITEMS", "LIMIT", "STATED_U", "THOUGHT", "WORLDS", "Day", "drawn"]

LIMIT, STATED_U, ITEMS = 1.0, 0.05, 900
SPECIMEN, TIMES = 0.5, 10
"""What is read in the morning, taken off and put on each time [Ω], and how often."""
THOUGHT = LognormalPrior(0.75, 0.25)
"""What is thought of the items beforehand: the law of the first world, and wrong in all others."""


class Day(NamedTuple):
    """What the items of a day are and what they read, the first and the second time; and ten readings of one, that morning."""

    true: Floats
    first: Floats
    second: Floats
    morning: Floats

    @property
    def near(self) -> NDArray[np.bool_]:
        """Which readings are within 2 u of the limit; these items are read a second time."""
        return np.abs(self.first - LIMIT) <= 2 * STATED_U


def _usual(rng: np.random.Generator, count: int) -> Floats:
    return rng.lognormal(np.log(THOUGHT.median), THOUGHT.spread, count)


def _either(rng: np.random.Generator, share: float, first: Floats, second: Floats) -> Floats:
    return np.where(rng.random(len(first)) < share, first, second)


WORLDS: Mapping[str, Callable[[np.random.Generator, int], Floats]] = {
    "as thought": _usual,
    "two kinds of cord": lambda rng, n: _either(rng, 0.6, rng.normal(0.6, 0.1, n), rng.normal(1.15, 0.12, n)),
    "skewed": lambda rng, n: 0.45 + rng.gamma(1.5, 0.2, n),
    "uniform": lambda rng, n: rng.uniform(0.4, 1.3, n),
    "one careful maker": lambda rng, n: rng.normal(0.9, 0.06, n),
    "a quarter made to the limit": lambda rng, n: _either(rng, 0.25, rng.normal(1.0, 0.01, n), _usual(rng, n)),
    "a quarter just over it": lambda rng, n: _either(rng, 0.25, rng.normal(1.03, 0.01, n), _usual(rng, n)),
}
"""How items are drawn [Ω]."""


def drawn(world: str, factor: float, seed: int) -> Day:
    """Return a day in which the true uncertainty is `factor` times the stated one."""
    rng = np.random.default_rng([seed, round(100 * factor), list(WORLDS).index(world)])
    true = WORLDS[world](rng, ITEMS)
    first, second = (true + rng.normal(0, STATED_U * factor, ITEMS) for _ in range(2))
    return Day(true, first, second, SPECIMEN + rng.normal(0, STATED_U * factor, TIMES))
