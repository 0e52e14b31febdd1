"""In: how long a break or a contact lasts, or how far apart two hits are. Out: the chance that it counts.

Each time in a rule is a window: certainly not before its beginning, certainly from its end on, either in between, taken as
uniformly spread. The clauses stand beside the figures in the profile's file.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

__all__ = ["Window", "chance_both_register"]


@dataclass(frozen=True, slots=True)
class Window:
    """Certainly not before `begins` [ms], certainly from `ends` [ms] on."""

    begins: float
    ends: float
    what: str
    clause: str

    def chance(self, ms: float) -> float:
        """Return the probability that a duration of `ms` [ms] counts."""
        if self.ends == self.begins:
            return float(ms >= self.ends)
        return min(max((ms - self.begins) / (self.ends - self.begins), 0.0), 1.0)


def chance_both_register(
    block: Window, first: Mapping[str, float], second: Mapping[str, float], apart: float, lamp: str = "coloured"
) -> float:
    """Return the probability that both sides' lamps light when the second hit follows the first `apart` milliseconds later.

    `first` and `second` are the probabilities of each side's lamps in the two arrangements; `block` is the window after which
    the first hit shuts the second out.
    """
    return first[lamp] * second[lamp] * (1.0 - block.chance(apart))
