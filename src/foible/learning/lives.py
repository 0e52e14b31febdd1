"""How long things last: ages at which they failed, or had not failed yet, in; out, the product-limit estimate and a Weibull life.

A life may be watched from an age on (an item that was already in use when the register began): it counts as at risk from then.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, gamma, inf, log, sqrt
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

__all__ = ["Life", "Survival", "Weibull", "fitted_weibull", "product_limit"]

FEWEST = 3
"""Failures below which no Weibull life is fitted."""
Z90 = 1.6448536269514722
"""The standard normal quantile of 95 %: of an interval of 90 %."""
SHAPES = (0.05, 20.0)
"""Between what the shape of a Weibull life is looked for."""


@dataclass(frozen=True, slots=True)
class Life:
    """One life: watched `since` an age `until` another [any unit of time], at which it `failed` or had not yet."""

    until: float
    failed: bool
    since: float = 0.0


@dataclass(frozen=True)
class Survival:
    """The product-limit estimate (Kaplan and Meier, JASA 53, 1958): at each age of a failure the share that survives it.

    `low`, `high`: its interval of 90 %, by Greenwood's variance of log(−log S) (Kalbfleisch and Prentice). Shape (ages,) each.
    """

    age: Floats
    at_risk: Floats
    failed: Floats
    share: Floats
    low: Floats
    high: Floats

    def at(self, age: float) -> float:
        """Return the share that survives an age."""
        passed = int(np.searchsorted(self.age, age, side="right"))
        return float(self.share[passed - 1]) if passed else 1.0

    @property
    def median(self) -> float | None:
        """The age that half survive; None where more than half did as far as was watched."""
        below = np.flatnonzero(self.share <= 0.5 + 1e-12)
        return float(self.age[below[0]]) if len(below) else None


@dataclass(frozen=True, slots=True)
class Weibull:
    """A Weibull life, S(t) = exp(−(t / scale)^shape), fitted by maximum likelihood, with intervals of 90 %."""

    shape: float
    scale: float
    shape_range: tuple[float, float]
    median_range: tuple[float, float]
    failures: int

    def at(self, age: float) -> float:
        """Return the share that survives an age."""
        return exp(-((age / self.scale) ** self.shape))

    @property
    def median(self) -> float:
        """The age that half survive."""
        return float(self.scale * log(2) ** (1 / self.shape))

    @property
    def mean(self) -> float:
        """The expected life."""
        return self.scale * gamma(1 + 1 / self.shape)

    def still(self, age: float, more: float) -> float:
        """Return the chance that what has reached an age lasts that much more."""
        return exp((age / self.scale) ** self.shape - ((age + more) / self.scale) ** self.shape)


def product_limit(lives: Sequence[Life]) -> Survival:
    """Return the product-limit estimate. Of equal ages failures come first: who is watched until then was at risk."""
    since, until, failed = _arrays(lives)
    age = np.unique(until[failed])
    at_risk = _from_on(until, age) - _from_on(since, age)  # whoever is watched from an age on is not at risk at that age
    deaths = np.unique(until[failed], return_counts=True)[1].astype(np.float64)
    share: Floats = np.cumprod(1 - deaths / np.maximum(at_risk, 1), dtype=np.float64)
    rest = np.where(at_risk > deaths, at_risk * (at_risk - deaths), inf)
    variance = np.cumsum(np.where(np.isfinite(rest), deaths / rest, 0.0))
    inner = (share > 0) & (share < 1)
    logs = np.log(np.where(inner, share, 0.5))
    wide = Z90 * np.sqrt(variance) / np.abs(logs)
    low = np.where(inner, np.exp(logs * np.exp(wide)), 0.0)
    high = np.where(inner, np.exp(logs * np.exp(-wide)), _last_high(share, logs, wide, inner))
    return Survival(age, at_risk, deaths, share, low, high)


def _from_on(values: Floats, ages: Floats) -> Floats:
    """Return how many values are at least each age."""
    return len(values) - np.searchsorted(np.sort(values), ages, side="left").astype(np.float64)


def _last_high(share: Floats, logs: Floats, wide: Floats, inner: NDArray[np.bool_]) -> float:
    """Return the upper bound where nothing survives: that of the step before."""
    before = np.flatnonzero(inner)
    return float(np.exp(logs[before[-1]] * np.exp(-wide[before[-1]]))) if len(before) and len(share) else 1.0


def fitted_weibull(lives: Sequence[Life]) -> Weibull | None:
    """Return the Weibull life that fits best; None with fewer than three failures, or where the ages leave its shape open.

    At the maximum scale^shape = Σ (until^shape − since^shape) / failures, which leaves one equation for the shape. Intervals by
    the observed information of log shape and log scale.
    """
    since, until, failed = _arrays([life for life in lives if life.until > max(life.since, 0.0)])
    count = int(failed.sum())
    if count < FEWEST or len(np.unique(until[failed])) < 2:  # noqa: PLR2004 — one age says nothing of a spread
        return None
    unit = float(until.max())
    since, until = since / unit, until / unit
    deaths = np.log(until[failed])

    def slope(shape: float) -> float:
        early = np.where(since > 0, since, 1.0)
        total = float((until**shape - np.where(since > 0, early**shape, 0.0)).sum())
        moved = float((until**shape * np.log(until) - np.where(since > 0, early**shape * np.log(early), 0.0)).sum())
        return count / shape + float(deaths.sum()) - count * moved / total

    shape = _root(slope, *SHAPES)
    if shape is None:
        return None
    scale = float(((until**shape - since**shape).sum() / count) ** (1 / shape))
    spread = np.linalg.inv(_information(np.log(shape), np.log(scale), since, until, failed))
    if not (np.isfinite(spread).all() and spread[0, 0] > 0):
        return None
    half = log(log(2)) / shape
    gradient = np.array([-half, 1.0])  # of log median = log scale + log(log 2) / shape, by log shape and log scale
    at = log(scale) + half + log(unit)
    wide, shaped = Z90 * sqrt(float(gradient @ spread @ gradient)), Z90 * sqrt(float(spread[0, 0]))
    return Weibull(
        shape,
        scale * unit,
        (shape * exp(-shaped), shape * exp(shaped)),
        (exp(at - wide), exp(at + wide)),
        count,
    )


def _information(a: float, b: float, since: Floats, until: Floats, failed: NDArray[np.bool_]) -> Floats:
    """Return the observed information of log shape `a` and log scale `b`, by central differences, shape (2, 2)."""

    def value(at: Floats) -> float:
        shape, scale = np.exp(at)
        hazard = failed.sum() * (at[0] - shape * at[1]) + (shape - 1) * np.log(until[failed]).sum()
        return float(hazard - ((until / scale) ** shape - (since / scale) ** shape).sum())

    here, step, found = np.array([a, b]), 1e-3, np.zeros((2, 2))
    for i in range(2):
        for j in range(2):
            one, two = step * np.eye(2)[i], step * np.eye(2)[j]
            found[i, j] = -(
                value(here + one + two) - value(here + one - two) - value(here - one + two) + value(here - one - two)
            ) / (4 * step**2)
    return found


def _root(slope: Callable[[float], float], low: float, high: float) -> float | None:
    """Return where a falling function is 0, by halving; None where it is not between the ends."""
    if slope(low) < 0 or slope(high) > 0:
        return None
    for _ in range(80):
        middle = (low + high) / 2
        low, high = (middle, high) if slope(middle) > 0 else (low, middle)
    return (low + high) / 2


def _arrays(lives: Sequence[Life]) -> tuple[Floats, Floats, NDArray[np.bool_]]:
    since = np.array([life.since for life in lives], dtype=float)
    return since, np.array([life.until for life in lives], dtype=float), np.array([life.failed for life in lives], dtype=bool)
