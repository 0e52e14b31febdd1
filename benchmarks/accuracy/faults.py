"""What is wrong with simulated kit: failures of the kit files by their names, and faults that no kit file knows."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from foible.diagnosis.shown.effects import Edits, edits
from foible.diagnosis.shown.hypotheses import Activity

if TYPE_CHECKING:
    from numpy.random import Generator

    from foible.kit import Failure, Setup

__all__ = ["Fault", "listed", "unlisted"]

UNLISTED_OHMS = (150.0, 500.0, 2000.0, np.inf)
"""What is raised by a fault that no kit file knows [Ω]; judgement, no source."""
UNLISTED_JOIN_OHMS = (0.1, 1000.0)
"""Between what a join lies that no kit file knows [Ω], evenly by its logarithm; judgement, no source."""
UNLISTED_MOVING = (0.6, 0.2, 0.2)
"""Shares of such faults that are steady, come and go often, or seldom; judgement, no source."""


@dataclass(frozen=True)
class Fault:
    """One thing that is wrong."""

    item: str
    part: str
    """A part that moves with it."""
    changes: Edits
    activity: Activity
    failure: Failure | None = None
    """None where no kit file knows it."""
    ohms: float = float("nan")

    @property
    def name(self) -> str:
        """The failure by its name, or what an unlisted one does."""
        if self.failure is not None:
            return self.failure.id
        raised = ", ".join(f"{name} +{ohms:g} Ω" for name, ohms in self.changes.raised)
        joined = ", ".join(f"{a} = {b} {ohms:.3g} Ω" for (a, b), ohms in self.changes.joined)
        return f"unlisted, {self.item}: {raised or joined}"


def listed(setup: Setup, failure: Failure, ohms: float, activity: Activity) -> Fault:
    """Return a failure of the kit files at a severity [Ω]."""
    return Fault(failure.item, failure.part, edits(setup, failure, ohms), activity, failure, ohms)


def unlisted(setup: Setup, item: str, rng: Generator) -> Fault | None:
    """Return a fault of an item that no kit file lists: places raised, or two points joined; None where it has no wiring.

    Half of them raise a resistance, half join two points that belong to the item.
    """
    branches = [b for b in setup.network.branches if b.name in setup.parts and setup.parts[b.name].item == item]
    if not branches:
        return None
    known = {frozenset(f.raises) for f in setup.failures.values()}
    joined = {frozenset(pair) for f in setup.failures.values() for pair in f.joins}
    alone = [(b.name,) for b in branches if frozenset({b.name}) not in known]
    twos = [(a.name, b.name) for i, a in enumerate(branches) for b in branches[:i] if frozenset({a.name, b.name}) not in known]
    nodes = sorted({node for b in branches for node in (b.a, b.b)})
    across = [(a, b) for i, a in enumerate(nodes) for b in nodes[:i] if frozenset({a, b}) not in joined]
    direct = {frozenset({b.a, b.b}) for b in branches}
    across = [pair for pair in across if frozenset(pair) not in direct]
    raising = [*alone, *twos]
    activity = Activity(int(rng.choice(3, p=UNLISTED_MOVING)))
    if raising and (not across or rng.random() < 0.5):  # noqa: PLR2004 — half of them
        names = raising[int(rng.integers(len(raising)))]
        ohms = float(rng.choice(UNLISTED_OHMS))
        return Fault(item, names[0], Edits(tuple((name, ohms) for name in names), (), ()), activity)
    if not across:
        return None
    pair = across[int(rng.integers(len(across)))]
    low, high = np.log(UNLISTED_JOIN_OHMS)
    made = Edits((), (), ((pair, float(np.exp(rng.uniform(low, high)))),))
    part = next(b.name for b in branches if pair[0] in {b.a, b.b})
    return Fault(item, part, made, activity)
