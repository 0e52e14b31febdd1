"""Mixtures of Gamma distributions: what is believed of a rate after Poisson counts, the spread between rates itself unknown."""

from __future__ import annotations

from dataclasses import dataclass
from math import lgamma
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["GammaMixture", "log_gamma"]

LOG_GRID = np.linspace(np.log(1e-9), np.log(1e4), 3000)
"""Where distributions are tabulated, evenly by the logarithm of the rate; a step is 1 %."""


@dataclass(frozen=True)
class GammaMixture:
    """F rates, each a mixture of the same C components: Gamma distributions with their own `shape` and inverse scale `per`.

    `weight`: of the components, shape (C,), adds up to 1. `shape`, `per`: shape (C, F). The mean of a component is shape / per.
    """

    weight: NDArray[np.float64]
    shape: NDArray[np.float64]
    per: NDArray[np.float64]

    @property
    def mean(self) -> NDArray[np.float64]:
        """The mean of each rate, shape (F,)."""
        return np.asarray(self.weight @ (self.shape / self.per))

    def quantile(self, *chances: float) -> NDArray[np.float64]:
        """Return the rates that are not exceeded with some chances, shape (chances, F).

        Read from a table in steps of 1 %, so it is right to about that much, between 10⁻⁹ and 10⁴.
        """
        below = self._table()
        return np.stack([
            np.exp([np.interp(chance, column, LOG_GRID) for column in below.T]) for chance in chances
        ])  # fmt: skip

    def chance_above(self, rate: float) -> NDArray[np.float64]:
        """Return the probability that each rate exceeds `rate`, shape (F,)."""
        return np.array([1 - np.interp(np.log(rate), LOG_GRID, column) for column in self._table().T])

    def _table(self) -> NDArray[np.float64]:
        """Return the distribution function on `LOG_GRID`, shape (grid, F)."""
        density = np.zeros((len(LOG_GRID), self.shape.shape[1]))
        for weight, shape, per in zip(self.weight, self.shape, self.per, strict=True):
            if weight > 0:
                logs = shape * np.log(per) - log_gamma(shape) + LOG_GRID[:, None] * shape - np.exp(LOG_GRID)[:, None] * per
                density += weight * np.exp(logs)
        below = np.cumsum((density[1:] + density[:-1]) / 2, axis=0)
        return np.vstack([np.zeros(below.shape[1]), below / np.maximum(below[-1], 1e-300)])


def log_gamma(values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the logarithm of the gamma function of each value."""
    found = np.array([lgamma(value) for value in values.ravel().tolist()])
    return found.reshape(values.shape)
