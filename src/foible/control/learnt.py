"""Readings near a limit in; out, a prior of the items that were measured: empirical Bayes, shrunk to what was thought before.

Which items come is seldom what was thought, and the probability of conformity near a limit hangs on it: on how steeply the
density of items falls there, and on whether many were made just to the limit. Both show in the readings. In units of u about the
limit, x = (y − limit)/u, the prior of an item is

    g(x) = (1 − w) · exp(θ(x)) + w · N(x; m, s²),    θ(x) = ln g₀(x) + tilt + bend

with g₀ the prior of beforehand. The tilt, in each u, has a standard deviation of 1; the bend is an integrated Wiener process (as
in a smoothing spline). With few readings g₀ stands, with many the readings decide. The second term is a spike, which a smooth law
cannot follow: none, or one of several places m and widths s. Each is fitted by Fisher scoring of the penalised likelihood, and
all are averaged by their evidence (Laplace). Readings further than `REACH` from the limit are left out: what happens elsewhere
does not matter. The smooth part is Efron's deconvolution (Biometrika 103, 2016, 1–20) with another penalty; averaging by evidence
is that of Gelman et al., Bayesian Data Analysis, 3rd ed., 7.4 and 13.3. All constants are judgement, and `benchmarks.conformity`
shows what comes of them.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from scipy import special

from foible.control.priors import FlatPrior, Prior, within

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from foible.control.priors import Floats

__all__ = ["LearntPrior", "learnt_prior"]

REACH = 6
"""How far from the limit readings are used [u]."""
BEYOND = 8
"""How far from it true values are thought of [u]."""
PER = 4
"""Cells and bins in one u."""
TILT, BENDS = 1.0, (0.2, 0.8)
"""Standard deviation of the tilt [1/u], and how rough the bend can be [u⁻³ᐟ²], each as likely beforehand."""
KEPT = 9
"""Parameters that are left of tilt and bend: the principal ones."""
PLACES, WIDTHS = np.arange(-2.0, 2.01, 0.25), (0.05, 0.3)
"""Where a spike can be, and how wide it can be [u]."""
AT_THE_LIMIT = 1 / 3
"""How likely a spike is at the limit itself: things are made, cut and filed until they just pass."""
A_SPIKE = 0.5
"""How likely it is that there is a spike at all."""
SHARE = (-2.0, 1.5)
"""Mean and standard deviation of ln(w / (1 − w)): half of the spikes hold 5 to 27 % of the items nearby."""
STEPS, HALVINGS, SETTLED = 15, 6, 1e-3
"""How often a fit is improved, a step shortened, and by how much less a logarithm of evidence has to grow for the fit to end."""


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

    def weigh(self, readings: Floats, uncertainty: Floats, low: float, high: float) -> tuple[Floats, Floats]:
        """Return the logarithm of the evidence of each reading, and the share of what it leaves that lies in [low, high]."""
        r, u = readings[..., None], uncertainty[..., None]
        grid = np.log(np.maximum(self.weights, 1e-300)) + _log_normal(r - self.cells, u)
        both = np.sqrt(u**2 + self.widths**2)
        spikes = np.log(np.maximum(self.shares, 1e-300)) + _log_normal(r - self.places, both)
        top = np.maximum(grid.max(axis=-1), spikes.max(axis=-1))
        grid, spikes = np.exp(grid - top[..., None]), np.exp(spikes - top[..., None])
        centre = (r * self.widths**2 + self.places * u**2) / both**2
        left = self.widths * u / both
        inside = (self.cells >= low) & (self.cells <= high)
        kept = grid[..., inside].sum(axis=-1) + (spikes * within((low - centre) / left, (high - centre) / left)).sum(axis=-1)
        total = grid.sum(axis=-1) + spikes.sum(axis=-1)
        return top + np.log(total), kept / total

    def log_density(self, values: Floats) -> Floats:
        """Return ln g at some values, −∞ further from the limit than it reaches."""
        step = self.cells[1] - self.cells[0]
        place = np.round((values - self.cells[0]) / step).astype(np.intp)
        there = (place >= 0) & (place < len(self.cells))
        smooth = np.where(there, self.weights[np.clip(place, 0, len(self.cells) - 1)] / step, 0.0)
        spikes = self.shares * np.exp(_log_normal(values[..., None] - self.places, self.widths))
        with np.errstate(divide="ignore"):
            return np.asarray(np.where(there, np.log(smooth + spikes.sum(axis=-1)), -np.inf))


def learnt_prior(readings: ArrayLike, uncertainty: float, limit: float, before: Prior | None = None) -> LearntPrior:
    """Return the prior of items near a limit, learnt from readings of different items, one each; all in one unit.

    `uncertainty`: the standard uncertainty of a reading; of several instruments, the root mean square. `before`: what was thought
    of the items beforehand, nothing by default; where it allows no value on the reading's side of the limit, none is learnt.
    """
    seen = (np.asarray(readings, dtype=np.float64).ravel() - limit) / uncertainty
    shape = _geometry(BENDS[0])
    with np.errstate(divide="ignore"):
        thought = (before or FlatPrior()).log_density(limit + uncertainty * shape.cells)
    thought = np.maximum(thought - thought.max(), -50.0) if np.isfinite(thought.max()) else np.zeros_like(thought)
    counts = np.histogram(seen, shape.edges)[0].astype(np.float64)
    fits = [_fitted(_geometry(bend), thought, counts) for bend in BENDS]
    best = max(float(evidence.max()) for _, evidence in fits)
    weights, shares = np.zeros(len(shape.cells)), np.zeros(len(shape.spikes))
    for fit, evidence in fits:
        by = np.exp(evidence - best) / fit.bins.sum(axis=1)
        weights += ((by * (1 - fit.share))[:, None] * fit.cells).sum(axis=0)
        shares += (by * fit.share)[1:]
    whole = weights.sum() + shares.sum()
    return LearntPrior(
        cells=limit + uncertainty * shape.cells,
        weights=weights / whole,
        places=limit + uncertainty * shape.spikes[:, 0],
        widths=uncertainty * shape.spikes[:, 1],
        shares=shares / whole,
    )


class _Geometry(NamedTuple):
    """What does not depend on the readings; in units of u about the limit."""

    cells: Floats
    edges: Floats
    basis: Floats
    """Tilt and bend as independent standard normal parameters, shape (cells, `KEPT`)."""
    caught: Floats
    """The chance that an item of a cell is read in a bin, shape (bins, cells)."""
    spikes: Floats
    """Place and width of each, shape (S, 2)."""
    spiked: Floats
    """The chance that an item of a spike is read in a bin, shape (1 + S, bins); the first is no spike, and none is."""
    log_prior: Floats
    """Of no spike and each of them, shape (1 + S,)."""


class _Fit(NamedTuple):
    """M models: the density of their cells, the share of their spike, and the chance of each bin."""

    cells: Floats
    share: Floats
    smooth: Floats
    bins: Floats


@lru_cache(maxsize=len(BENDS))
def _geometry(bend: float) -> _Geometry:
    cells = (np.arange(-BEYOND * PER, BEYOND * PER) + 0.5) / PER
    edges = np.arange(-REACH * PER, REACH * PER + 1) / PER
    near, far = (pick(np.abs(cells)[:, None], np.abs(cells)) for pick in (np.minimum, np.maximum))
    one_side = np.sign(cells)[:, None] == np.sign(cells)
    covariance = TILT**2 * np.outer(cells, cells) + bend**2 * one_side * near**2 * (3 * far - near) / 6
    values, vectors = np.linalg.eigh(covariance)
    spikes = np.array([(place, width) for place in PLACES for width in WIDTHS])
    at_limit = np.abs(spikes[:, 0]) < 1 / PER / 2
    likely = np.where(at_limit, AT_THE_LIMIT / at_limit.sum(), (1 - AT_THE_LIMIT) / (~at_limit).sum())
    spiked = np.diff(special.ndtr((edges - spikes[:, :1]) / np.sqrt(1 + spikes[:, 1:] ** 2)), axis=1)
    return _Geometry(
        cells,
        edges,
        basis=vectors[:, -KEPT:] * np.sqrt(values[-KEPT:]),
        caught=np.diff(special.ndtr(edges[:, None] - cells), axis=0),
        spikes=spikes,
        spiked=np.vstack([np.zeros(len(edges) - 1), spiked]),
        log_prior=np.log(np.concatenate([[1 - A_SPIKE], A_SPIKE * likely])),
    )


def _fitted(shape: _Geometry, thought: Floats, counts: Floats) -> tuple[_Fit, Floats]:
    """Return all models at the top of their penalised likelihood, and the logarithms of their evidence, shape (1 + S,)."""
    at = np.zeros((len(shape.spiked), KEPT + 1))
    fit, now = _tried(shape, thought, counts, at)
    curvature = np.broadcast_to(np.eye(KEPT + 1), (len(at), KEPT + 1, KEPT + 1))
    for _ in range(STEPS):
        slopes = _slopes(shape, fit)
        curvature = counts.sum() * np.matmul((slopes * _chances(fit)[:, :, None]).swapaxes(1, 2), slopes) + np.eye(KEPT + 1)
        uphill = np.matmul(slopes.swapaxes(1, 2), counts) - at
        step = np.linalg.solve(curvature, uphill[:, :, None])[:, :, 0]
        for _ in range(HALVINGS):
            fit, then = _tried(shape, thought, counts, at + step)
            worse = then < now - SETTLED / 10
            if not worse.any():
                break
            step = np.where(worse[:, None], step / 3, step)
        else:
            step = np.where(worse[:, None], 0.0, step)
            fit, then = _tried(shape, thought, counts, at + step)
        at, gained, now = at + step, float((then - now).max()), then
        if gained < SETTLED:
            break
    return fit, now + shape.log_prior - np.linalg.slogdet(curvature)[1] / 2


def _tried(shape: _Geometry, thought: Floats, counts: Floats, at: Floats) -> tuple[_Fit, Floats]:
    """Return models with some parameters, and the logarithms of their penalised likelihood."""
    logs = thought + at[:, :KEPT] @ shape.basis.T
    cells = np.exp(logs - logs.max(axis=1, keepdims=True))
    cells /= cells.sum(axis=1, keepdims=True)
    share = special.expit(SHARE[0] + SHARE[1] * at[:, KEPT])
    share[0] = 0.0
    smooth = cells @ shape.caught.T
    bins = (1 - share)[:, None] * smooth + share[:, None] * shape.spiked
    likelihood = np.log(np.maximum(bins, 1e-300)) @ counts - counts.sum() * np.log(bins.sum(axis=1))
    return _Fit(cells, share, smooth, bins), np.asarray(likelihood - (at**2).sum(axis=1) / 2)


def _chances(fit: _Fit) -> Floats:
    return np.asarray(fit.bins / fit.bins.sum(axis=1, keepdims=True))


def _slopes(shape: _Geometry, fit: _Fit) -> Floats:
    """Return by how much the logarithm of the chance of each bin grows with each parameter, shape (models, bins, parameters)."""
    turned = shape.basis - (fit.cells @ shape.basis)[:, None, :]
    bends = np.matmul(shape.caught, fit.cells[:, :, None] * turned) * (1 - fit.share)[:, None, None]
    spike = (shape.spiked - fit.smooth) * (fit.share * (1 - fit.share) * SHARE[1])[:, None]
    grown = np.concatenate([bends, spike[:, :, None]], axis=2)
    whole = fit.bins.sum(axis=1)[:, None, None]
    return np.asarray(grown / np.maximum(fit.bins, 1e-300)[:, :, None] - grown.sum(axis=1, keepdims=True) / whole)


def _log_normal(away: Floats, spread: Floats) -> Floats:
    return np.asarray(-((away / spread) ** 2) / 2 - np.log(spread) - np.log(2 * np.pi) / 2)
