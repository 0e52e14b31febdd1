"""Readings near a limit, counted, in; out, laws of the items that may have given them, fitted, with their evidence.

What `foible.control.learnt` averages: the smooth law with each of its bends, without a spike and with each of them, for one u. It
says which laws, and why. All in units of u about the limit.
"""

from __future__ import annotations

import math
from functools import lru_cache
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from scipy import special

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from foible.control.priors import Floats
    from foible.control.repeats import Scatter

__all__ = [
    "BENDS",
    "BEYOND",
    "CELLS",
    "REACH",
    "SPIKES",
    "Bins",
    "Fit",
    "Models",
    "Seen",
    "Tried",
    "bins_of",
    "counted",
    "fitted",
    "models_of",
]

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
CELLS = (np.arange(-BEYOND * PER, BEYOND * PER) + 0.5) / PER
EDGES = np.arange(-REACH * PER, REACH * PER + 1) / PER
MEAN_EDGES = np.arange(-(REACH + 1) * PER, (REACH + 1) * PER + 1) / PER
"""A mean can lie further out than the first of its readings."""
SPIKES = np.array([(place, width) for place in PLACES for width in WIDTHS])
"""Place and width of each, shape (S, 2)."""


class Seen(NamedTuple):
    """Items whose first reading was near the limit, counted; in units of u about the limit."""

    counts: Floats
    """In the bins of those read once, then of the means of those read twice, and so on, shape (bins,)."""
    edges: tuple[Floats, ...]
    spreads: tuple[float, ...]
    """The standard uncertainty of a mean beside that of one reading, of those read once, twice and so on."""

    @property
    def window(self) -> int:
        """How many of the bins are of first readings."""
        return len(self.edges[0]) - 1


class Bins(NamedTuple):
    """What an item is read as, for one u."""

    caught: Floats
    """The chance that an item of a cell is read in a bin, shape (bins, cells)."""
    spiked: Floats
    """The chance that an item of a spike is read in a bin, shape (1 + S, bins); the first is no spike, and none is."""


class Models(NamedTuple):
    """M models of one bend and where their fit starts; a model is no spike (0) or one of them (from 1 on)."""

    thought: Floats
    basis: Floats
    """Tilt and bend as independent standard normal parameters, shape (cells, `KEPT`)."""
    which: NDArray[np.intp]
    at: Floats
    """Parameters, shape (M, `KEPT` + 1); the last is of the share of the spike."""

    def only(self, keep: NDArray[np.bool_]) -> Models:
        """Return some of them."""
        return self._replace(which=self.which[keep], at=self.at[keep])


class Tried(NamedTuple):
    """M models with some parameters: the density of their cells, the share of their spike, and the chance of each bin."""

    cells: Floats
    share: Floats
    smooth: Floats
    bins: Floats
    likelihood: Floats
    """Logarithm of the penalised likelihood, shape (M,)."""


class Fit(NamedTuple):
    """Models at the top of their penalised likelihood."""

    models: Models
    tried: Tried
    window: int
    evidence: Floats
    """Its logarithm, shape (M,)."""


@lru_cache(maxsize=len(BENDS))
def _basis(bend: float) -> Floats:
    near, far = (pick(np.abs(CELLS)[:, None], np.abs(CELLS)) for pick in (np.minimum, np.maximum))
    one_side = np.sign(CELLS)[:, None] == np.sign(CELLS)
    covariance = TILT**2 * np.outer(CELLS, CELLS) + bend**2 * one_side * near**2 * (3 * far - near) / 6
    values, vectors = np.linalg.eigh(covariance)
    return np.asarray(vectors[:, -KEPT:] * np.sqrt(values[-KEPT:]))


@lru_cache(maxsize=1)
def _log_prior() -> Floats:
    """Return the logarithms of how likely no spike and each of them is, shape (1 + S,)."""
    at_limit = np.abs(SPIKES[:, 0]) < 1 / PER / 2
    likely = np.where(at_limit, AT_THE_LIMIT / at_limit.sum(), (1 - AT_THE_LIMIT) / (~at_limit).sum())
    return np.asarray(np.log(np.concatenate([[1 - A_SPIKE], A_SPIKE * likely])))


def models_of(bend: float, thought: Floats) -> Models:
    """Return all models of a bend, not fitted yet; `thought`: ln g₀ of the cells."""
    return Models(thought, _basis(bend), np.arange(1 + len(SPIKES)), np.zeros((1 + len(SPIKES), KEPT + 1)))


def counted(items: Sequence[Sequence[float]], known: Scatter, limit: float) -> Seen:
    """Return items with their readings, those that first read near the limit, by how often they were read."""
    u, reach = known.random, REACH * known.random
    near = [readings for readings in items if readings and abs(readings[0] - limit) < reach]
    means: dict[int, list[float]] = {1: []}
    for readings in near:
        means.setdefault(len(readings), []).append((math.fsum(readings) / len(readings) - limit) / u)
    edges = tuple(EDGES if times == 1 else MEAN_EDGES for times in means)
    counts = [np.histogram(np.clip(each, ends[0], ends[-1]), ends)[0] for each, ends in zip(means.values(), edges, strict=True)]
    return Seen(np.concatenate(counts).astype(np.float64), edges, tuple(1 / math.sqrt(times) for times in means))


def bins_of(seen: Seen, times: float) -> Bins:
    """Return what items are read as where u is so many times what it is thought to be."""
    caught, spiked = [], []
    for edges, spread in zip(seen.edges, seen.spreads, strict=True):
        caught.append(np.diff(special.ndtr((edges[:, None] - CELLS) / (spread * times)), axis=0))
        both = np.hypot(spread * times, SPIKES[:, 1:])
        spiked.append(np.diff(special.ndtr((edges - SPIKES[:, :1]) / both), axis=1))
    chances = np.concatenate(spiked, axis=1)
    return Bins(np.concatenate(caught), np.vstack([np.zeros(chances.shape[1]), chances]))


def fitted(models: Models, seen: Seen, bins: Bins) -> Fit:
    """Return all models at the top of their penalised likelihood."""
    models = models._replace(at=models.at.copy())
    now = _tried(models, seen, bins)
    moving = np.ones(len(models.which), dtype=bool)
    for _ in range(STEPS):
        if not moving.any():
            break
        some, tried = models.only(moving), Tried(*(each[moving] for each in now))
        uphill, curvature = _slopes(some, tried, seen, bins)
        step = np.linalg.solve(curvature, uphill[:, :, None])[:, :, 0]
        for _ in range(HALVINGS):
            then = _tried(some._replace(at=some.at + step), seen, bins)
            worse = then.likelihood < tried.likelihood - SETTLED / 10
            if not worse.any():
                break
            step = np.where(worse[:, None], step / 3, step)
        else:
            step = np.where(worse[:, None], 0.0, step)
            then = _tried(some._replace(at=some.at + step), seen, bins)
        models.at[moving] += step
        for whole, part in zip(now, then, strict=True):
            whole[moving] = part
        moving[moving] = then.likelihood - tried.likelihood >= SETTLED
    curvature = _slopes(models, now, seen, bins)[1]
    evidence = now.likelihood + _log_prior()[models.which] - np.linalg.slogdet(curvature)[1] / 2
    return Fit(models, now, seen.window, evidence)


def _tried(models: Models, seen: Seen, bins: Bins) -> Tried:
    logs = models.thought + models.at[:, :KEPT] @ models.basis.T
    cells = np.exp(logs - logs.max(axis=1, keepdims=True))
    cells /= cells.sum(axis=1, keepdims=True)
    share = np.where(models.which > 0, special.expit(SHARE[0] + SHARE[1] * models.at[:, KEPT]), 0.0)
    smooth = cells @ bins.caught.T
    chances = (1 - share)[:, None] * smooth + share[:, None] * bins.spiked[models.which]
    inside = chances[:, : seen.window].sum(axis=1)
    likelihood = np.log(np.maximum(chances, 1e-300)) @ seen.counts - seen.counts.sum() * np.log(inside)
    return Tried(cells, share, smooth, chances, likelihood - (models.at**2).sum(axis=1) / 2)


def _slopes(models: Models, tried: Tried, seen: Seen, bins: Bins) -> tuple[Floats, Floats]:
    """Return the slope of the logarithm of the penalised likelihood, and its expected curvature (Fisher), of each model."""
    turned = models.basis.T - (tried.cells @ models.basis)[:, :, None]
    bends = (tried.cells[:, None, :] * turned) @ bins.caught.T * (1 - tried.share)[:, None, None]
    spike = (bins.spiked[models.which] - tried.smooth) * (tried.share * (1 - tried.share) * SHARE[1])[:, None]
    grown = np.concatenate([bends, spike[:, None, :]], axis=1)
    window = slice(0, seen.window)
    inside = grown[:, :, window].sum(axis=2) / tried.bins[:, window].sum(axis=1)[:, None]
    slopes = grown / np.maximum(tried.bins, 1e-300)[:, None, :] - inside[:, :, None]
    expected, first = np.empty_like(tried.bins), 0
    for edges in seen.edges:
        part = slice(first, first + len(edges) - 1)
        expected[:, part] = tried.bins[:, part] / tried.bins[:, part].sum(axis=1, keepdims=True) * seen.counts[part].sum()
        first = part.stop
    curvature = (slopes * expected[:, None, :]) @ slopes.swapaxes(1, 2) + np.eye(KEPT + 1)
    return slopes @ seen.counts - models.at, curvature
