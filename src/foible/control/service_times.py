"""How long items take at a stage of the table: what was measured in, draws of what it may truly be out.

A measured time runs from when a post could have begun an item, at the end of the one before or when it was handed in if that
was later, to when it was done with it (`cycle_times`). So handing over and a word with the fencer count, and waiting for somebody
to come does not.

Each draw weighs the measured times of a kind of item anew (the Bayesian bootstrap: Rubin, Annals of Statistics 9, 1981), so that
no law of service times is assumed; the draws differ by as much as the mean is not known. Before there are times, `planned` ones
stand in, worth `PLANNED_WORTH` items of each kind, at the pace that the measured kinds have against their plan. Posts differ: the
factor f of each is drawn to 1 by how little is known of it, f ~ N(1, `POSTS_DIFFER`²) against r | f ~ N(f, cv²/n).

A gap too long to be an item is an absence. Absences come at a rate of their own, Gamma–Poisson, for every post alike.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.intp]

__all__ = ["Pace", "Served", "cycle_times", "drawn_pace", "longest_item"]

PLANNED_WORTH = 5.0
"""Items of each kind. Judgement: an hour into the day the plan no longer counts."""
PLANNED_VARIATION = 0.7
"""Standard deviation of an item's time over its mean, as planned. Judgement."""
POSTS_DIFFER = 0.15
"""Standard deviation of the factor by which posts are slower or quicker than each other. Judgement."""
DAY_DRIFTS = 0.02
"""By how much the rest of the day may be slower or quicker than what is past. Judgement."""
LEAST_AWAY = 480.0
"""[s] No item takes longer. Judgement."""
FAR_FROM_USUAL = 8.0
"""Nor so many times as long as the median."""
AWAY_EVERY, AWAY_WORTH = 16 * 3600.0, 3.0
"""[s] A post is away once in two shifts without anybody having planned it; worth so many absences. Judgement."""
AWAY_FOR, AWAY_FOR_WORTH = 900.0, 5.0
"""[s] And for so long on the mean; worth so many absences. Judgement."""


@dataclass(frozen=True)
class Served:
    """What was measured at one stage: `kind` and `post` as places, `seconds` [s] from one item to the next; shape (n,) each."""

    kind: Ints
    post: Ints
    seconds: Floats


@dataclass(frozen=True)
class Pace:
    """R draws of how quick a stage is.

    `mean` [s] and `variance` [s²] of an item by kind, shape (R, K); a factor for each `post`, shape (R, P); absences of a post
    for each second at work, `away` [1/s], and the mean length of one, `away_for` [s], shape (R,).
    """

    mean: Floats
    variance: Floats
    post: Floats
    away: Floats
    away_for: Floats


def cycle_times(ready: Floats, ended: Floats, post: Ints) -> Floats:
    """Return how long each item took [s], shape (n,): from when it was ready and its post done with the last, to when it `ended`.

    The first item of a post counts from when it was ready, so it may seem long where the post had not opened yet.
    """
    order = np.lexsort((ended, post))
    before = np.full(len(ended), -np.inf)
    same = post[order[1:]] == post[order[:-1]]
    before[order[1:][same]] = ended[order[:-1][same]]
    return np.asarray(ended - np.maximum(ready, before))


def longest_item(seconds: Floats) -> float:
    """Return from how many seconds on a gap is an absence [s]."""
    return max(LEAST_AWAY, FAR_FROM_USUAL * float(np.median(seconds))) if len(seconds) else LEAST_AWAY


def drawn_pace(served: Served, planned: Floats, posts: int, rng: np.random.Generator, draws: int) -> Pace:
    """Return draws of a stage's pace; `planned`: mean seconds of each kind [s], shape (K,), above 0."""
    away = served.seconds > longest_item(served.seconds)
    usual = float(np.median(served.seconds)) if len(served.seconds) else 0.0
    seconds = np.where(away, usual, served.seconds)
    mean, square = _weighed(served.kind, seconds, planned, rng, draws)
    variance = np.maximum(square - mean**2, (0.05 * mean) ** 2)
    drift = np.exp(DAY_DRIFTS * rng.standard_normal((draws, 1)))
    at_work = float(seconds.sum())
    rate = rng.gamma(AWAY_WORTH + away.sum(), 1 / (AWAY_WORTH * AWAY_EVERY + at_work), draws)
    length = float((served.seconds - seconds)[away].sum())
    worth = AWAY_FOR_WORTH + float(away.sum())
    away_for = (AWAY_FOR_WORTH * AWAY_FOR + length) / rng.gamma(worth, 1.0, draws)
    factor = _factors(Served(served.kind, served.post, seconds), mean, variance, posts, rng)
    return Pace(mean * drift, variance * drift**2, factor, rate, away_for)


def _weighed(kind: Ints, seconds: Floats, planned: Floats, rng: np.random.Generator, draws: int) -> tuple[Floats, Floats]:
    """Return draws of mean and mean square of each kind's times, shape (R, K) each."""
    own = np.eye(len(planned))[kind]
    weight = rng.standard_exponential((draws, len(seconds)), dtype=np.float32)
    sums = weight @ np.hstack([own, own * seconds[:, None], own * seconds[:, None] ** 2]).astype(np.float32)
    count, total, squares = (each.astype(float) for each in np.split(sums, 3, axis=1))
    pace = (PLANNED_WORTH * planned.mean() + seconds.sum()) / (PLANNED_WORTH * planned.mean() + planned[kind].sum())
    worth = rng.gamma(PLANNED_WORTH, size=(draws, len(planned)))
    guess = pace * planned * np.exp(0.2 * rng.standard_normal((draws, len(planned))))
    mean = (total + worth * guess) / (count + worth)
    square = (squares + worth * guess**2 * (1 + PLANNED_VARIATION**2)) / (count + worth)
    return mean, square


def _factors(served: Served, mean: Floats, variance: Floats, posts: int, rng: np.random.Generator) -> Floats:
    """Return draws of each post's factor, shape (R, P)."""
    usual = mean.mean(axis=0)
    expected = np.bincount(served.post, weights=usual[served.kind], minlength=posts)[:posts]
    took = np.bincount(served.post, weights=served.seconds, minlength=posts)[:posts]
    scatter = np.bincount(served.post, weights=variance.mean(axis=0)[served.kind], minlength=posts)[:posts]
    seen = expected > 0
    ratio = np.where(seen, took / np.where(seen, expected, 1), 1.0)
    own = np.where(seen, scatter / np.where(seen, expected, 1) ** 2, np.inf)
    trust = POSTS_DIFFER**2 / (POSTS_DIFFER**2 + own)
    spread = POSTS_DIFFER * np.sqrt(1 - trust)
    drawn = 1 + trust * (ratio - 1) + spread * rng.standard_normal((len(mean), posts))
    if seen.any():
        # The kinds were measured at these very posts: what they share is in the means already.
        drawn = np.where(seen, drawn - (drawn @ expected / expected.sum() - 1)[:, None], drawn)
    return np.asarray(np.maximum(drawn, 0.3))
