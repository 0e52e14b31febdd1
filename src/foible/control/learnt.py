"""Readings near a limit in; out, a prior of the items that were measured: empirical Bayes, shrunk to what was thought before.

Which items come is seldom what was thought, and the probability of conformity near a limit hangs on it: on how steeply the
density of items falls there, and on whether many were made just to the limit. Both show in the readings. In units of u about the
limit, x = (y − limit)/u, the prior of an item is

    g(x) = (1 − w) · exp(θ(x)) + w · N(x; m, s²),    θ(x) = ln g₀(x) + tilt + bend

with g₀ the prior of beforehand. The tilt, in each u, has a standard deviation of 1; the bend is an integrated Wiener process (as
in a smoothing spline). With few readings g₀ stands, with many the readings decide. The second term is a spike, which a smooth law
cannot follow: none, or one of several places m and widths s. Each is fitted by Fisher scoring of the penalised likelihood, and
all are averaged by their evidence (Laplace). Readings further than `REACH` from the limit are left out: what happens elsewhere
does not matter.

An item that was read n times counts with all of it: given its true value, its readings are as likely as their mean, N(x, u²/n),
times what their differences say of u alone. Items close to the limit are read again, and those are the ones that matter. u
itself is in doubt, and law and u are in doubt **together**: an item is read again because it first read close, some do so by
chance, and the differences of such pairs alone make u look too small (by 6 %, with a quarter of the items just over the limit
and true u × 1.25). So the law is learnt for several u, and these too are averaged by their evidence.

u is what changes from reading to reading. What all readings are off by alike, such as a zero, shows in none of this: the law
that is learnt is off by it too, and it counts when a probability is told.

The smooth part is Efron's deconvolution (Biometrika 103, 2016, 1–20) with another penalty. Averaging by evidence is that of
Gelman et al., Bayesian Data Analysis, 3rd ed., 7.4 and 13.3; that the decision to read again needs no model of its own is 8.1
there. All constants are judgement, and `benchmarks.conformity` shows what comes of them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from foible.control.law_fits import BENDS, CELLS, SPIKES, bins_of, counted, fitted, models_of
from foible.control.priors import FlatPrior, Prior, within
from foible.control.repeats import learnt_scatter

if TYPE_CHECKING:
    from collections.abc import Sequence

    from foible.control.conformity import Tolerance
    from foible.control.law_fits import Fit, Models
    from foible.control.priors import Floats
    from foible.control.repeats import Scatter

__all__ = ["Learnt", "LearntPrior", "due", "learnt"]

DOUBTS, LEAST_DOUBT = 5, 0.05
"""How many u are thought of, and how far apart at least [ratio − 1]; else by a standard deviation of what is known of u."""
SURELY = 10.0
"""Below which logarithm of evidence, beside the best, a model or a u is left out."""
FIRST, GROWTH = 10, 4 / 3
"""After how many items is learnt, and then each time there are so many times as many."""


@dataclass(frozen=True, eq=False)
class LearntPrior(Prior):
    """What readings have taught of items near a limit: cells of a grid, and spikes, with their weights."""

    cells: Floats
    """The middles of the cells, shape (K,)."""
    weights: Floats
    """How much of the prior is in each, shape (K,)."""
    places: Floats
    """Where spikes are, shape (S,)."""
    widths: Floats
    shares: Floats
    """How much of the prior is in each."""
    shift: float = 0.0
    """Standard uncertainty of what all readings are off by alike: these are the items as they were read, all off by it."""

    def weigh(self, readings: Floats, uncertainty: Floats, low: float, high: float) -> tuple[Floats, Floats]:
        """Return the logarithm of the evidence of each reading, and the share of what it leaves that lies in [low, high]."""
        r, u = readings[..., None], uncertainty[..., None]
        grid = np.log(np.maximum(self.weights, 1e-300)) + _log_normal(r - self.cells, u)
        both = np.sqrt(u**2 + self.widths**2)
        spikes = np.log(np.maximum(self.shares, 1e-300)) + _log_normal(r - self.places, both)
        top = np.maximum(grid.max(axis=-1), spikes.max(axis=-1))
        grid, spikes = np.exp(grid - top[..., None]), np.exp(spikes - top[..., None])
        centre = (r * self.widths**2 + self.places * u**2) / both**2
        left = np.hypot(self.widths * u / both, self.shift)
        kept = (grid * self._inside(low, high)).sum(axis=-1)
        kept += (spikes * within((low - centre) / left, (high - centre) / left)).sum(axis=-1)
        total = grid.sum(axis=-1) + spikes.sum(axis=-1)
        return top + np.log(total), kept / total

    def _inside(self, low: float, high: float) -> Floats:
        """Return the chance that an item of each cell truly lies in [low, high]."""
        if self.shift:
            return within((low - self.cells) / self.shift, (high - self.cells) / self.shift)
        return np.asarray((self.cells >= low) & (self.cells <= high), dtype=np.float64)

    def log_density(self, values: Floats) -> Floats:
        """Return ln g at some values, −∞ further from the limit than it reaches."""
        step = self.cells[1] - self.cells[0]
        place = np.round((values - self.cells[0]) / step).astype(np.intp)
        there = (place >= 0) & (place < len(self.cells))
        smooth = np.where(there, self.weights[np.clip(place, 0, len(self.cells) - 1)] / step, 0.0)
        spikes = self.shares * np.exp(_log_normal(values[..., None] - self.places, self.widths))
        with np.errstate(divide="ignore"):
            return np.asarray(np.where(there, np.log(smooth + spikes.sum(axis=-1)), -np.inf))


@dataclass(frozen=True, eq=False)
class Learnt:
    """What readings have taught of the items near a limit and of u: for each u that there may be, a prior, and its weight."""

    uncertainties: Floats
    """Of one reading, without what is the same all day, shape (K,)."""
    priors: tuple[LearntPrior, ...]
    weights: Floats
    """How likely each is, shape (K,)."""

    @property
    def uncertainty(self) -> float:
        """What changes of a reading from one to the next, as a standard uncertainty: the root of the mean square."""
        return math.sqrt(float(self.weights @ self.uncertainties**2))

    def probability(self, readings: Floats, tolerance: Tolerance) -> Floats:
        """Return the probability that each item conforms that was read once, in the shape of the readings."""
        each = [
            prior.weigh(readings, np.full_like(readings, u), tolerance.low, tolerance.high)
            for u, prior in zip(self.uncertainties, self.priors, strict=True)
        ]
        evidence = np.stack([logs for logs, _ in each])
        shares = np.stack([share for _, share in each])
        likely = np.exp(evidence - evidence.max(axis=0)) * self.weights.reshape(-1, *[1] * readings.ndim)
        return np.asarray((likely * shares).sum(axis=0) / likely.sum(axis=0))


def due(count: int) -> int:
    """Return after how many items, of those so far, it was last worth learning anew: each time they are a third more."""
    if count < FIRST:
        return 0
    steps = math.floor(math.log(count / FIRST) / math.log(GROWTH) + 1e-9)
    return math.ceil(FIRST * GROWTH**steps - 1e-9)


def learnt(items: Sequence[Sequence[float]], scatter: Scatter, limit: float, before: Prior | None = None) -> Learnt:
    """Return what the readings of some items have taught; all in one unit, each item with its readings in their order.

    `scatter`: what is known of it without these items. `before`: what was thought of the items beforehand, nothing by default;
    where it allows no value near the limit, nothing either.
    """
    known = learnt_scatter(scatter, items)
    u, freedom = known.random, known.random_freedom
    seen = counted(items, known, limit)
    steps = (np.arange(DOUBTS) - DOUBTS // 2) * max(1 / math.sqrt(2 * freedom), LEAST_DOUBT)
    likely = freedom * (0.5 - steps - np.exp(-2 * steps) / 2)
    order = sorted(np.flatnonzero(likely > -SURELY), key=lambda place: abs(steps[place]))
    kept: list[Models] = []
    found = []
    for place in order:
        bins = bins_of(seen, math.exp(steps[place]))
        fits = [
            fitted(models, seen, bins) for models in (kept or [models_of(bend, _thought(before, limit, u)) for bend in BENDS])
        ]
        if not kept:
            top = max(float(fit.evidence.max()) for fit in fits)
            kept = [fit.models.only(fit.evidence > top - SURELY) for fit in fits if fit.evidence.max() > top - SURELY]
        found.append((u * math.exp(steps[place]), likely[place], fits))
    tops = [max(float(fit.evidence.max()) for fit in fits) + chance for _, chance, fits in found]
    best = max(tops)
    found = [each for each, top in zip(found, tops, strict=True) if top > best - SURELY]
    priors, weights = zip(*(_averaged(fits, limit, u, best - chance, known.fixed) for _, chance, fits in found), strict=True)
    return Learnt(np.array([each for each, _, _ in found]), priors, np.array(weights) / math.fsum(weights))


def _thought(before: Prior | None, limit: float, u: float) -> Floats:
    with np.errstate(divide="ignore"):
        thought = (before or FlatPrior()).log_density(limit + u * CELLS)
    return np.maximum(thought - thought.max(), -50.0) if np.isfinite(thought.max()) else np.zeros_like(thought)


def _averaged(fits: Sequence[Fit], limit: float, u: float, best: float, fixed: float) -> tuple[LearntPrior, float]:
    """Return the prior of models, averaged by their evidence beside the best, and how much of all it is."""
    weights, shares = np.zeros(len(CELLS)), np.zeros(1 + len(SPIKES))
    for models, tried, window, evidence in fits:
        by = np.exp(evidence - best) / tried.bins[:, :window].sum(axis=1)
        weights += ((by * (1 - tried.share))[:, None] * tried.cells).sum(axis=0)
        shares[models.which] += by * tried.share
    whole = float(weights.sum() + shares.sum())
    cells, places = limit + u * CELLS, limit + u * SPIKES[:, 0]
    return LearntPrior(cells, weights / whole, places, u * SPIKES[:, 1], shares[1:] / whole, fixed), whole


def _log_normal(away: Floats, spread: Floats) -> Floats:
    return np.asarray(-((away / spread) ** 2) / 2 - np.log(spread) - np.log(2 * np.pi) / 2)
