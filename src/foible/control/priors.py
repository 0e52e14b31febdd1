"""What is known of an item before it is measured, as a distribution; out, what a reading leaves of it on either side of a limit.

The reading r of a true value y follows the normal law N(r; y, u²). A prior g₀ makes of it

    evidence = ∫ g₀(y) N(r; y, u²) dy,    share inside [low, high] = ∫ₗₒᵥᵥʰⁱᵍʰ g₀(y) N(r; y, u²) dy / evidence

(JCGM 106:2012, 6.2 and 7.2.1). Each prior does so by closed form where there is one, and else by Gauss–Legendre on panels.
All values of one prior are in one unit: that of the limit. Everything is vectorised over the readings.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeAlias

import numpy as np
from scipy import special

from foible.errors import InputError

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats: TypeAlias = NDArray[np.float64]

__all__ = ["FlatPrior", "GammaPrior", "LognormalPrior", "NormalPrior", "Prior", "within"]

NODES = 24
"""Points of a panel: the integrand is smooth there, and sixteen agree with adaptive quadrature to nine digits."""
REACH = 9.0
"""How far from a reading anything can matter [standard uncertainties]: the normal law leaves 10⁻¹⁹ beyond."""
CHANCES = np.array([1e-12, 1e-8, 1e-5, 1e-3, 0.01, 0.05, 0.25, 0.5, 0.75, 0.95, 0.99, 1 - 1e-5, 1 - 1e-12])
"""Quantiles of a prior at which panels end, so that a narrow prior is not stepped over."""
LEAST = float(np.finfo(np.float64).tiny)
"""Stands in for 0 where a logarithm is taken."""


class Prior(ABC):
    """What is known of an item before it is measured."""

    @abstractmethod
    def weigh(self, readings: Floats, uncertainty: Floats, low: float, high: float) -> tuple[Floats, Floats]:
        """Return the logarithm of the evidence of each reading, and the share of what it leaves that lies in [low, high].

        `readings` and `uncertainty` have one shape, and so have both results. A flat prior's evidence is that of g₀ = 1.
        """

    @abstractmethod
    def log_density(self, values: Floats) -> Floats:
        """Return ln g₀ at some values, −∞ where there can be none."""


@dataclass(frozen=True)
class FlatPrior(Prior):
    """Nothing is known: g₀ = 1. The share is Φ((high − r)/u) − Φ((low − r)/u) (JCGM 106:2012, 7.3 and 7.4)."""

    def weigh(self, readings: Floats, uncertainty: Floats, low: float, high: float) -> tuple[Floats, Floats]:
        """Return no logarithm of evidence, and the share inside."""
        return np.zeros_like(readings), within((low - readings) / uncertainty, (high - readings) / uncertainty)

    def log_density(self, values: Floats) -> Floats:
        """Return 0 everywhere."""
        return np.zeros_like(values)


@dataclass(frozen=True)
class NormalPrior(Prior):
    """N(mean m, spread s): a reading leaves N(y, v²), y = (r s² + m u²) / (s² + u²), 1/v² = 1/s² + 1/u² (JCGM 106:2012, A.4)."""

    mean: float
    spread: float

    def __post_init__(self) -> None:
        _positive("spread of the prior", self.spread)

    def weigh(self, readings: Floats, uncertainty: Floats, low: float, high: float) -> tuple[Floats, Floats]:
        """Return both by closed form."""
        both = self.spread**2 + uncertainty**2
        centre = (readings * self.spread**2 + self.mean * uncertainty**2) / both
        left = self.spread * uncertainty / np.sqrt(both)
        evidence = -((readings - self.mean) ** 2) / (2 * both) - np.log(2 * np.pi * both) / 2
        return evidence, within((low - centre) / left, (high - centre) / left)

    def log_density(self, values: Floats) -> Floats:
        """Return ln g₀ at some values."""
        return np.asarray(-(((values - self.mean) / self.spread) ** 2) / 2 - np.log(self.spread) - np.log(2 * np.pi) / 2)


class _ByPanels(Prior):
    """A prior without a closed form, above zero: subclasses give its logarithm there and its quantiles."""

    @abstractmethod
    def _log_above_zero(self, values: Floats) -> Floats:
        """Return ln g₀ at values above 0."""

    def log_density(self, values: Floats) -> Floats:
        """Return ln g₀ at some values, −∞ at 0 and below."""
        return np.where(values > 0, self._log_above_zero(np.maximum(values, LEAST)), -np.inf)

    @abstractmethod
    def quantiles(self, chances: Floats) -> Floats:
        """Return the values that are not exceeded with some chances."""

    def weigh(self, readings: Floats, uncertainty: Floats, low: float, high: float) -> tuple[Floats, Floats]:
        """Return both by quadrature."""
        known = self.quantiles(CHANCES)
        flat, spread = readings.ravel(), uncertainty.ravel()
        offsets = np.array([-REACH, -4.0, -2.0, 0.0, 2.0, 4.0, REACH])
        near = flat[:, None] + offsets * spread[:, None]
        ends = np.concatenate([near, np.broadcast_to(np.array([low, high, *known]), (len(flat), 2 + len(known)))], axis=1)
        first, last = _reach(near, known)
        ends = np.sort(np.clip(ends, first[:, None], last[:, None]), axis=1)
        points, weights = np.polynomial.legendre.leggauss(NODES)
        half = np.diff(ends, axis=1)[:, :, None] / 2
        values = (ends[:, :-1, None] + half) + half * points
        logs = (
            self.log_density(np.maximum(values, np.finfo(float).tiny))
            - ((flat[:, None, None] - values) / spread[:, None, None]) ** 2 / 2
        )
        top = logs.max(axis=(1, 2))
        masses = (np.exp(logs - top[:, None, None]) * weights * half).sum(axis=2)
        middle = (ends[:, :-1] + ends[:, 1:]) / 2
        total = masses.sum(axis=1)
        share = np.where((middle >= low) & (middle <= high), masses, 0.0).sum(axis=1) / total
        evidence = top + np.log(total) - np.log(spread) - np.log(2 * np.pi) / 2
        return evidence.reshape(readings.shape), share.reshape(readings.shape)


@dataclass(frozen=True)
class LognormalPrior(_ByPanels):
    """ln y is N(ln median, spread²), for what cannot be below zero, such as a resistance."""

    median: float
    spread: float

    def __post_init__(self) -> None:
        _positive("median of the prior", self.median)
        _positive("spread of the prior", self.spread)

    def _log_above_zero(self, values: Floats) -> Floats:
        logs = np.log(values)
        scaled = (logs - np.log(self.median)) / self.spread
        return np.asarray(-(scaled**2) / 2 - logs - np.log(self.spread) - np.log(2 * np.pi) / 2)

    def quantiles(self, chances: Floats) -> Floats:
        """Return the values that are not exceeded with some chances."""
        return np.asarray(self.median * np.exp(self.spread * special.ndtri(chances)))


@dataclass(frozen=True)
class GammaPrior(_ByPanels):
    """Gamma with a shape and a scale (mean shape × scale), for what cannot be below zero."""

    shape: float
    scale: float

    def __post_init__(self) -> None:
        _positive("shape of the prior", self.shape)
        _positive("scale of the prior", self.scale)

    def _log_above_zero(self, values: Floats) -> Floats:
        normed = special.gammaln(self.shape) + self.shape * np.log(self.scale)
        return np.asarray((self.shape - 1) * np.log(values) - values / self.scale - normed)

    def quantiles(self, chances: Floats) -> Floats:
        """Return the values that are not exceeded with some chances."""
        return np.asarray(self.scale * special.gammaincinv(self.shape, chances))


def within(low: Floats, high: Floats) -> Floats:
    """Return Φ(high) − Φ(low), in the tail where neither difference cancels."""
    mirrored = low > 0
    return np.asarray(
        special.ndtr(np.where(mirrored, -low, high)) - special.ndtr(np.where(mirrored, -high, low)), dtype=np.float64
    )


def _reach(near: Floats, known: Floats) -> tuple[Floats, Floats]:
    """Return from where to where to integrate: what both the reading and the prior leave possible, or all between them."""
    first = np.maximum(near[:, 0], known[0])
    last = np.minimum(near[:, -1], known[-1])
    apart = first >= last
    if apart.any():
        first = np.where(apart, np.minimum(near[:, 0], known[0]).clip(0), first)
        last = np.where(apart, np.maximum(near[:, -1], known[-1]), last)
    return first, last


def _positive(what: str, value: float) -> None:
    if not (np.isfinite(value) and value > 0):
        raise InputError(seen=f"a {what} of {value:g}", remedy="give a number above zero")
