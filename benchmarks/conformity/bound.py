"""How well somebody would do who knew everything of a day with a spike but where the spike is.

    python -m benchmarks.conformity.bound [DAYS]

knows true u, the law of the other items, that a quarter of all is of a spike, and how wide that is; each place within 2 u of the
limit is as likely to it as any other. It learns after each third more, from both readings, by Bayes' theorem on a grid of places:
no approximation is left but the grid. What it misses, nothing could have told it at the time.
"""

from __future__ import annotations

import sys
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
from scipy import special, stats

from benchmarks.conformity.__main__ import DAYS, FACTORS, calibration_error
from benchmarks.conformity.worlds import ITEMS, LIMIT, STATED_U, THOUGHT, WORLDS, Day, drawn
from foible.control.learnt import due

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

SHARE, WIDTH = 0.25, 0.01
"""Of the spike [Ω], as `worlds` draws it."""
PLACES = LIMIT + STATED_U * np.linspace(-2, 2, 41)
SPIKED = tuple(world for world in WORLDS if world.startswith("a quarter"))


def main(days: int) -> None:
    """Print the calibration error of each world with a spike, over the whole day and its second half."""
    blocks = sorted({*(due(count) for count in range(ITEMS)), ITEMS})
    for world in SPIKED:
        for factor in FACTORS:
            told, right, late = [], [], []
            for seed in range(days):
                day = drawn(world, factor, seed)
                told.append(_told(day, STATED_U * factor, blocks))
                right.append(day.true[day.near] <= LIMIT)
                late.append(np.flatnonzero(day.near) >= ITEMS // 2)
            every, came, second = np.concatenate(told), np.concatenate(right), np.concatenate(late)
            half = calibration_error(every[second], came[second])
            print(f"{world}, × {factor:g}: {calibration_error(every, came):.3f}; its second half: {half:.3f}", flush=True)


def _told(day: Day, u: float, blocks: list[int]) -> Floats:
    """Return the probabilities of a day's readings near the limit."""
    likely = np.log(_likelihoods(day.first, u)[0])
    likely[day.near] = np.log(_likelihoods((day.first + day.second)[day.near] / 2, u / np.sqrt(2))[0])
    evidence, conforming = _likelihoods(day.first, u)
    told = np.empty(ITEMS)
    for first, last in pairwise(blocks):
        known = special.softmax(likely[:first].sum(axis=0))
        told[first:last] = conforming[first:last] @ known / (evidence[first:last] @ known)
    return told[day.near]


def _likelihoods(readings: Floats, u: float) -> tuple[Floats, Floats]:
    """Return how likely each reading is with the spike at each place, and that part of it of which the item conforms."""
    logs, share = THOUGHT.weigh(readings, np.full_like(readings, u), -np.inf, LIMIT)
    usual, both = np.exp(logs)[:, None], np.hypot(u, WIDTH)
    spike = stats.norm.pdf(readings[:, None], PLACES, both)
    centre = (readings[:, None] * WIDTH**2 + PLACES * u**2) / both**2
    kept = spike * special.ndtr((LIMIT - centre) / (WIDTH * u / both))
    return (1 - SHARE) * usual + SHARE * spike, (1 - SHARE) * usual * share[:, None] + SHARE * kept


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else DAYS)
