"""When the fencers who have not come yet will come: who came when in, draws of the rest out.

Nobody knows the law, so a family of shapes over the hours of handing in is weighed by who has come and by how many have not: time
as a share of the hours is Beta(a, b), a and b from `SHAPES`, all alike likely beforehand. Fencers come in groups, by club and by
coach, so the evidence counts for as many groups as there are, not for as many fencers: its logarithm is divided by the
dispersion D of the counts in `BIN` seconds, variance over mean, from the differences of neighbouring bins, so that the rush in
the morning is not taken for groups. The rest comes in groups of about D; in a share `RUSHES` of the draws some of it comes in a
rush, as after a train, which no shape tells beforehand.
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

__all__ = ["dispersion", "drawn_arrivals"]

SHAPES = (0.6, 0.8, 1.0, 1.4, 2.0, 3.0, 5.0)
BIN = 300.0
USUAL_DISPERSION, USUAL_WORTH = 4.0, 6.0
"""Fencers in a group, and how many bins that expectation is worth. Judgement."""
WITHIN_GROUP = 90.0
"""[s] The mean time that members of a group come behind each other. Judgement."""
LATE = 1200.0
"""[s] The mean time that is still waited for somebody once the hours are over. Judgement."""
RUSHES, RUSH = 0.35, 900.0
"""The share of draws in which a rush is still to come, and the standard deviation [s] of when its groups come. Judgement."""
STEPS = 400


def dispersion(came: Floats, opening: float, until: float) -> float:
    """Return the variance over the mean of how many came in `BIN` seconds, at least 1; `came`, `opening`, `until` [s]."""
    bins = int((until - opening) // BIN)
    if bins < 2 or not len(came):  # noqa: PLR2004 — a difference needs two
        return USUAL_DISPERSION
    counts = np.histogram(came, bins=bins, range=(opening, opening + bins * BIN))[0].astype(float)
    differ = float((np.diff(counts) ** 2).sum()) / 2
    expected = float((counts[1:] + counts[:-1]).sum()) / 2
    weight = USUAL_WORTH * max(float(counts.mean()), 0.5)
    return max(1.0, (differ + weight * USUAL_DISPERSION) / (expected + weight))


def drawn_arrivals(came: Floats, to_come: int, hours: tuple[float, float], rng: np.random.Generator, draws: int) -> Floats:
    """Return when those `to_come` will come, shape (R, to_come) [s from now]; `came` likewise, all before 0.

    `hours`: from when to when things are handed in [s from now].
    """
    opening, closing = hours
    if not to_come or closing <= 0:
        return rng.exponential(LATE, (draws, to_come))
    group = dispersion(came, opening, min(0.0, closing))
    shape = rng.choice(len(SHAPES) ** 2, size=draws, p=_weights(came, to_come, hours, group))
    groups = max(1, round(to_come / group))
    below, grid = _shapes()[1], np.linspace(0, 1, STEPS + 1)
    share = np.clip(-opening / (closing - opening), 0, 1)
    past = np.array([np.interp(share, grid, column) for column in below])[shape]
    level = past[:, None] + (1 - past[:, None]) * rng.random((draws, groups))
    when = np.stack([np.interp(own, below[number], grid) for own, number in zip(level, shape, strict=True)])
    times = opening + when * (closing - opening)
    times = np.where(_rush(rng, times.shape), _rushed(rng, times.shape, closing), times)
    member = rng.integers(groups, size=(draws, to_come))
    behind = rng.exponential(WITHIN_GROUP, (draws, to_come)) if group > 1 else 0.0
    return np.maximum(np.take_along_axis(times, member, axis=1), 0) + behind


def _rush(rng: np.random.Generator, shape: tuple[int, int]) -> NDArray[np.bool_]:
    """Return which groups come in a rush, shape (R, groups): none of most draws, any share of the others."""
    share = np.where(rng.random(shape[0]) < RUSHES, rng.random(shape[0]), 0.0)
    return np.asarray(rng.random(shape) < share[:, None])


def _rushed(rng: np.random.Generator, shape: tuple[int, int], closing: float) -> Floats:
    """Return when groups would come in the rush of their draw [s from now], some time before `closing`."""
    middle = closing * rng.random((shape[0], 1))
    return np.asarray(np.clip(middle + RUSH * rng.standard_normal(shape), 0, closing))


def _weights(came: Floats, to_come: int, hours: tuple[float, float], group: float) -> Floats:
    """Return how likely each shape is, by who came when and who has not come."""
    opening, closing = hours
    density, below = _shapes()
    place = np.clip((came - opening) / (closing - opening), 0, 1)
    now = np.clip(-opening / (closing - opening), 0, 1)
    logs = np.log(density[:, np.minimum((place * STEPS).astype(int), STEPS - 1)]).sum(axis=1)
    grid = np.linspace(0, 1, STEPS + 1)
    left = np.array([1 - np.interp(now, grid, column) for column in below])
    logs += to_come * np.log(np.maximum(left, 1e-9))
    weight = np.exp((logs - logs.max()) / group)
    return np.asarray(weight / weight.sum())


@lru_cache
def _shapes() -> tuple[Floats, Floats]:
    """Return density (shapes, STEPS) and distribution (shapes, STEPS + 1) of each shape over the hours, as shares."""
    middle = (np.arange(STEPS) + 0.5) / STEPS
    found = np.array([middle ** (a - 1) * (1 - middle) ** (b - 1) for a in SHAPES for b in SHAPES])
    found *= STEPS / found.sum(axis=1, keepdims=True)
    return found, np.hstack([np.zeros((len(found), 1)), np.cumsum(found, axis=1) / STEPS])
