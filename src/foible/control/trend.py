"""Figures in an order in; out, whether they rise, and by how much a step, with an interval.

All of it goes by ranks, so that one odd figure does no harm. The slope is the median of the slopes of all pairs with its
interval by ranks (Theil 1950; Sen 1968); that there is a trend at all is judged by Kendall's τ (Kendall 1938), exactly for
few figures.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy import stats

if TYPE_CHECKING:
    from collections.abc import Sequence

__all__ = ["Trend", "trend_of"]

LEAST = 4
"""Figures below which nothing is said."""
CHANCE = 0.9
"""Of the interval."""


@dataclass(frozen=True)
class Trend:
    """How figures change from step to step."""

    slope: float
    """Change for each step [unit of the figures/step]."""
    low: float
    high: float
    """Ends of its 90 % interval."""
    tau: float
    """Kendall's τ: 1 where every later figure is higher, −1 where every one is lower."""
    by_chance: float
    """Probability of a τ so far from 0 where there is no trend."""

    @property
    def rises(self) -> bool:
        """Whether the whole interval lies above nothing."""
        return self.low > 0


def trend_of(steps: Sequence[float], figures: Sequence[float]) -> Trend | None:
    """Return the trend of figures over steps; None for fewer than four, or where all stand at one step."""
    x, y = np.asarray(steps, dtype=np.float64), np.asarray(figures, dtype=np.float64)
    if len(x) < LEAST or np.ptp(x) == 0:
        return None
    slope, _, low, high = stats.theilslopes(y, x, CHANCE)
    ranked = stats.kendalltau(x, y)
    alike = np.isnan(ranked.statistic)  # of figures that are all the same
    tau, by_chance = (0.0, 1.0) if alike else (float(ranked.statistic), float(ranked.pvalue))
    return Trend(float(slope), float(low), float(high), tau, by_chance)
