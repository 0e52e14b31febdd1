"""What a picture shows besides the kit: suspicion, the path of the current, a trial and lamps, as one plain value."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping

    from foible.trials import Trial

__all__ = ["NO_MARKS", "Marks", "no_link", "percent", "strength"]

LEAST = 0.01
"""Anything suspected less than this is unmarked."""
STEPS = (0.05, 0.15, 0.35, 0.6)
"""Suspicion from which a thing is marked one step more strongly; judgement, no source."""
NEARLY_SURE = 0.995


@dataclass(frozen=True, slots=True)
class Marks:
    """What is marked on a picture. Names that the set-up does not have are ignored."""

    suspicion: Mapping[str, float] = field(default_factory=dict)
    """Probability by item id and by part id."""
    way: tuple[str, ...] = ()
    """Branches that carry the current, in the order in which it passes them."""
    cuts: tuple[str, ...] = ()
    """Branches where it is cut."""
    trial: Trial | None = None
    """What is done."""
    chosen: str | None = None
    """The item or part in question."""
    hidden: Collection[str] = ()
    """Items that are left out of the strip."""
    failed: Mapping[str, str] = field(default_factory=dict)
    """What is taken to have failed, by item id and by part id: nobody suspects it, so no figure stands beside it."""
    named: Collection[str] = ()
    """The parts whose names stand on the picture of an item or a part, beside the chosen one; empty for all that have room."""
    lamps: Mapping[str, Mapping[str, float]] = field(default_factory=dict)
    """Chance that a lamp lights, by side and then by lamp: “white”, “coloured”, “yellow”."""

    def suspected(self, name: str) -> float | None:
        """Return the suspicion of an item or part; None where it is too small to mark."""
        chance = self.suspicion.get(name, 0.0)
        return chance if chance >= LEAST else None


NO_MARKS = Marks()
"""A picture of the kit and nothing else."""


def no_link(_: str) -> str | None:
    """Return no address, whatever the name."""
    return None


def percent(chance: float) -> str:
    """Return a probability as a reader sees it, with a no-break space."""
    return ">99\u00a0%" if NEARLY_SURE <= chance < 1 else f"{chance * 100:.0f}\u00a0%"


def strength(chance: float) -> int:
    """Return how strongly a suspicion is marked, from 1 to 5."""
    return 1 + sum(chance >= step for step in STEPS)
