"""Belief over the hypotheses after some trials."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from foible.diagnosis.hypotheses import Hypotheses

__all__ = ["Belief", "Share", "believe"]


@dataclass(frozen=True, slots=True)
class Share:
    """A name with the probability that falls to it."""

    name: str
    probability: float


@dataclass(frozen=True)
class Belief:
    """Posterior probabilities, shape (N,), adding up to 1."""

    hypotheses: Hypotheses
    probability: NDArray[np.float64]

    def by_part(self) -> list[Share]:
        """Return all parts (and `SOUND`, `UNKNOWN`) by falling probability; ties stay in the order of the kit."""
        sums = np.add.reduceat(self.probability, self.hypotheses.part_starts)
        return _ranked(self.hypotheses.part_names, sums)

    def by_item(self) -> list[Share]:
        """Return all items (and `SOUND`, `UNKNOWN`) by falling probability."""
        sums = np.add.reduceat(self.probability, self.hypotheses.part_starts)
        totals: dict[str, float] = {}
        for item, value in zip(self.hypotheses.part_items, sums.tolist(), strict=True):
            totals[item] = totals.get(item, 0.0) + value
        return _ranked(tuple(totals), np.array(list(totals.values())))

    def run_of(self, part: str) -> slice:
        """Return the positions of the hypotheses about a part."""
        return self.hypotheses.runs[part]

    def best_of(self, part: str) -> int:
        """Return the position of the most probable hypothesis about a part."""
        run = self.run_of(part)
        return int(run.start) + int(np.argmax(self.probability[run]))


def believe(hypotheses: Hypotheses, likelihoods: Sequence[NDArray[np.float64]]) -> Belief:
    """Return the posterior: prior times the likelihood of every trial, shape (N,) each, normalised."""
    logs = np.log(hypotheses.prior)
    for likelihood in likelihoods:
        logs = logs + np.log(np.maximum(likelihood, 1e-300))
    weight = np.exp(logs - logs.max())
    return Belief(hypotheses, weight / weight.sum())


def _ranked(names: Sequence[str], values: NDArray[np.float64]) -> list[Share]:
    order = np.argsort(-values, kind="stable")
    return [Share(names[i], float(values[i])) for i in order.tolist()]
