"""The likelihood of each trial in, the probability of every hypothesis, part, item and pair out."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from foible.diagnosis.shown.hypotheses import PRIOR_TWO

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from foible.diagnosis.belief.pairs import Pairs, PairState
    from foible.diagnosis.shown.hypotheses import Hypotheses

__all__ = ["Belief", "Share", "believe"]

BESIDE = 10.0
"""Of two parts of which one is suspected so many times as much, the other is there by chance; judgement, no source."""


@dataclass(frozen=True, slots=True)
class Share:
    """A name with its probability."""

    name: str
    probability: float


@dataclass(frozen=True)
class Belief:
    """Posterior probabilities of single failures and of pairs, together adding up to 1.

    `probability`: of each hypothesis alone, shape (N,). `pairs`: of each pair of parts, shape (parts, parts), symmetric, in the
    order of `Hypotheses.part_names`. `with_partner`: of each hypothesis together with any other, shape (N,).
    `left_out`: the most that the pairs left out can amount to.
    """

    hypotheses: Hypotheses
    probability: NDArray[np.float64]
    pairs: NDArray[np.float64]
    with_partner: NDArray[np.float64]
    left_out: float = 0.0

    @cached_property
    def two(self) -> float:
        """Probability of two failures at once."""
        return float(self.pairs.sum()) / 2

    @cached_property
    def failed(self) -> NDArray[np.float64]:
        """Probability that each part has failed, alone or with another, shape (parts,); these add up to 1 and `two`."""
        return np.asarray(np.add.reduceat(self.probability, self.hypotheses.part_starts) + self.pairs.sum(axis=1))

    def failed_part(self, part: str) -> float:
        """Return the probability that a part has failed, alone or with another."""
        return min(1.0, float((self.probability + self.with_partner)[self.run_of(part)].sum()))

    def failed_item(self, item: str) -> float:
        """Return the probability that something of an item has failed, alone or with another."""
        own = np.array([name == item for name in self.hypotheses.part_items])
        return min(1.0, float(self.failed[own].sum()))

    @cached_property
    def attributed(self) -> NDArray[np.float64]:
        """Probability of each hypothesis, every pair divided between its two by how suspected each part is; shape (N,).

        Adds up to 1: what to look for first when there may be two failures.
        """
        return self._divided(self.failed)

    def seen_to_first(self, gone: NDArray[np.bool_]) -> NDArray[np.float64]:
        """Return what is left to see to, shape (N,): of a pair in two items what is wrong with the one that is suspected more.

        Two failures that are both certain are no doubt between two: one is seen to, then the other. So the pair counts for
        the first alone, unless one of its parts is suspected so little (`BESIDE`) that it is there by chance. Of a pair of which
        one was put right the other is left. `gone`: which hypotheses were put right, shape (N,); a part is gone where all
        hypotheses about it are. Adds up to 1 while nothing is gone.
        """
        away = np.logical_and.reduceat(gone, self.hypotheses.part_starts)
        suspected = np.where(away, 0.0, self.failed)
        _, item = np.unique(self.hypotheses.part_items, return_inverse=True)
        of_item = np.where(away, 0.0, np.bincount(item, weights=suspected)[item])
        first, second = of_item[:, None], of_item[None]
        meant = np.minimum(suspected[:, None], suspected) * BESIDE >= np.maximum(suspected[:, None], suspected)
        return self._divided(suspected, np.where(meant & (first != second), first > second, np.nan))

    def two_left(self, gone: NDArray[np.bool_]) -> float:
        """Return the probability that two failures are left, once some hypotheses were put right; `gone` as above."""
        stays = ~np.logical_and.reduceat(gone, self.hypotheses.part_starts)
        return float(self.pairs[np.ix_(stays, stays)].sum()) / 2

    def _divided(self, suspected: NDArray[np.float64], first: NDArray[np.float64] | None = None) -> NDArray[np.float64]:
        """Return the probability of each hypothesis, every pair divided by how suspected each part is, shape (parts,).

        `first`: 1 where the first of a pair has it whole, 0 where the second has, NaN where they share it; shape (parts, parts).
        """
        failed = np.maximum(suspected, 1e-300)
        total = self.pairs.sum(axis=1)
        shares = failed[:, None] / (failed[:, None] + failed)
        if first is not None:
            shares = np.where(np.isnan(first), shares, first)
        own = (self.pairs * shares).sum(axis=1)
        share = np.divide(own, total, out=np.zeros_like(own), where=total > 0)
        ends = np.append(self.hypotheses.part_starts[1:], len(self.probability))
        return np.asarray(self.probability + self.with_partner * np.repeat(share, ends - self.hypotheses.part_starts))

    def by_part(self) -> list[Share]:
        """Return all parts (and `SOUND`, `UNKNOWN`) with their shares of the suspicion, the largest first.

        Each pair counts once, divided as in `attributed`, so that the shares add up to 1. Ties stay in the order of the kit.
        """
        return _ranked(self.hypotheses.part_names, np.add.reduceat(self.attributed, self.hypotheses.part_starts))

    def by_item(self) -> list[Share]:
        """Return the same for items: the shares of their parts together."""
        totals: dict[str, float] = {}
        shares = np.add.reduceat(self.attributed, self.hypotheses.part_starts)
        for item, share in zip(self.hypotheses.part_items, shares.tolist(), strict=True):
            totals[item] = totals.get(item, 0.0) + share
        return _ranked(tuple(totals), np.array(list(totals.values())))

    def by_pair(self, count: int) -> list[tuple[str, str, float]]:
        """Return the `count` most probable pairs of parts."""
        upper = np.triu(self.pairs)
        names = self.hypotheses.part_names
        order = np.argsort(-upper, axis=None, kind="stable")[:count]
        places = zip(*np.unravel_index(order, upper.shape), strict=True)
        return [(names[i], names[j], float(upper[i, j])) for i, j in places if upper[i, j] > 0]

    def run_of(self, part: str) -> slice:
        """Return the positions of the hypotheses about a part."""
        return self.hypotheses.runs[part]

    def best_of(self, part: str) -> int:
        """Return the position of the most probable hypothesis about a part."""
        run = self.run_of(part)
        return int(run.start) + int(np.argmax((self.probability + self.with_partner)[run]))


def believe(
    hypotheses: Hypotheses, likelihoods: Sequence[NDArray[np.float64]], pairs: tuple[Pairs, PairState] | None = None
) -> Belief:
    """Return the posterior: prior times the likelihood of every trial, shape (N,) each, normalised.

    `pairs` and their state after the same trials; without them, two failures at once are left out.
    """
    logs = np.log(hypotheses.prior)
    for likelihood in likelihoods:
        logs = logs + np.log(np.maximum(likelihood, 1e-300))
    scale = float(logs.max())
    weight = np.exp(logs - scale)
    parts = len(hypotheses.part_starts)
    if pairs is None:
        return Belief(hypotheses, weight / weight.sum(), np.zeros((parts, parts)), np.zeros(len(hypotheses)))
    weight *= 1 - PRIOR_TWO
    two = pairs[0].belief(pairs[1], scale)
    total = float(weight.sum()) + two.total
    return Belief(hypotheses, weight / total, two.parts / total, two.hypotheses / total, two.left_out / total)


def _ranked(names: Sequence[str], values: NDArray[np.float64]) -> list[Share]:
    order = np.argsort(-values, kind="stable")
    return [Share(names[i], float(values[i])) for i in order.tolist()]
