"""Readings that were taken again in; out, the uncertainty of one reading, and of a mean of several.

What an uncertainty stands for is half guess until the same item has been read twice. The part u_r of it that changes from reading
to reading shows in such pairs: with ν₀ degrees of freedom behind the stated figure (JCGM 100:2008, G.4.2) and nᵢ readings of
item i,

    u_r'² = (ν₀ u_r² + Σᵢ Σⱼ (rᵢⱼ − r̄ᵢ)²) / ν,    ν = ν₀ + Σᵢ (nᵢ − 1)

This is the conjugate update of a variance (Gelman et al., Bayesian Data Analysis, 3rd ed., 2.6) and, without a stated figure, the
pooled standard deviation of JCGM 100:2008, 4.2. The part that stays the same for all readings does not show: it takes a standard.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from foible.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

__all__ = ["STATED", "Scatter", "learnt_scatter"]

STATED = 8.0
"""Degrees of freedom of a figure that is good to a quarter: ½ · 4² (JCGM 100:2008, G.4.2, equation G.3)."""


@dataclass(frozen=True)
class Scatter:
    """The standard uncertainty of one reading: what changes between readings and what does not, with degrees of freedom each."""

    random: float
    fixed: float = 0.0
    random_freedom: float = STATED
    fixed_freedom: float = STATED

    def __post_init__(self) -> None:
        if not (self.random > 0 and self.fixed >= 0 and math.isfinite(self.random) and math.isfinite(self.fixed)):
            raise InputError(
                seen=f"a scatter of {self.random:g} and {self.fixed:g}", remedy="give standard uncertainties above zero"
            )

    def uncertainty(self, readings: int = 1) -> float:
        """Return the standard uncertainty of the mean of so many readings of one item."""
        return math.hypot(self.random / math.sqrt(readings), self.fixed)

    def freedom(self, readings: int = 1) -> float:
        """Return its effective degrees of freedom (Welch–Satterthwaite; JCGM 100:2008, G.4.1)."""
        random = self.random**4 / readings**2 / self.random_freedom
        return float(self.uncertainty(readings) ** 4 / (random + self.fixed**4 / self.fixed_freedom))


def learnt_scatter(stated: Scatter, repeated: Iterable[Sequence[float]]) -> Scatter:
    """Return the scatter after some items were read more than once, each with its readings; once tells nothing."""
    squares, freedom = stated.random_freedom * stated.random**2, stated.random_freedom
    for readings in repeated:
        if readings:
            mean = math.fsum(readings) / len(readings)
            squares += math.fsum((reading - mean) ** 2 for reading in readings)
            freedom += len(readings) - 1
    return Scatter(math.sqrt(squares / freedom), stated.fixed, freedom, stated.fixed_freedom)
