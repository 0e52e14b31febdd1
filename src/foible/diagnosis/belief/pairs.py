"""Two failures at once: what a trial says about pairs in, the weight of every pair out.

Pairs are exact: any two failures of different parts, at all steps of their severities, steady or coming and going each by
itself. What keeps this cheap is that few failures differ in what has been tried so far. Hypotheses that no trial has told apart
yet, whatever their partner, are one kind, and weights are stored for pairs of kinds. Kinds whose pairs have next to no weight
left are dropped, and what they could still have weighed is counted in `PairBelief.left_out`.

With the failures present in both looks of a trial, in one or in none with chances b, o, n each, and A(x, y) the chance of the
report where the two looks are at the circuit with x and with y,

    L = b₁b₂ A(12,12) + b₁o₂ A(12,1) + o₁b₂ A(12,2) + o₁o₂ ½ (A(12,0) + A(1,2))
      + b₁n₂ A(1,1) + o₁n₂ A(1,0) + n₁b₂ A(2,2) + n₁o₂ A(2,0) + n₁n₂ A(0,0).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from foible.circuit import equal_rows
from foible.diagnosis.belief.loops import by_part, pair_likelihoods
from foible.diagnosis.shown.hypotheses import PRIOR_TWO

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from foible.circuit import Grid
    from foible.diagnosis.shown.hypotheses import Hypotheses

    Table = NDArray[np.float32]
    Kinds = NDArray[np.intp]

__all__ = ["PairBelief", "PairEvidence", "PairState", "Pairs", "Sight"]

FIRST = 2
"""Position of the first failure among the hypotheses; “nothing wrong” and “not in this model” pair with nothing."""
DROPPED = 1e-7
"""Share of the weight of all pairs that may be dropped at one trial."""
WORTH_DROPPING = 0.1
"""Dropping a smaller share of the kinds than this is not worth rebuilding the tables."""
SMALL = 1e-6
"""A table without a larger entry is scaled up, to stay well within single precision."""
_SCATTER = np.random.default_rng(1995).random(256)
"""Gives ways and columns an order: an arbitrary one, but another would change the last digits of sums in single precision."""


@dataclass(frozen=True)
class Sight:
    """What one tool, or the lamps, can show of every pair, and how well that agrees with what was reported.

    `two`: row of every pair of columns, column 0 sound. `agreement`: the chance of the report where two looks are at rows u and
    v, shape (rows, rows).
    """

    two: Grid
    agreement: NDArray[np.floating]


@dataclass(frozen=True)
class PairEvidence:
    """Everything that a trial says about pairs: sights, the chances that each failure is there, and findings by hand or gauge.

    `findings`: (chance of the finding with each failure alone, shape (N,); with sound kit; whether both parts must agree to it).
    """

    sights: tuple[Sight, ...]
    regimes: tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]
    findings: tuple[tuple[NDArray[np.float64], float, bool], ...] = ()
    times: int = 1


@dataclass(frozen=True)
class PairBelief:
    """The pairs after some trials. Weights are prior times likelihood, on the scale of the single hypotheses.

    `parts`: weight of each pair of parts, shape (parts, parts), symmetric, in the order of `Hypotheses.part_names`.
    `hypotheses`: weight of the pairs that each hypothesis has a share in, shape (N,). `left_out`: the most that dropped pairs
    can weigh.
    """

    parts: NDArray[np.float64]
    hypotheses: NDArray[np.float64]
    left_out: float

    @property
    def total(self) -> float:
        """The weight of all pairs."""
        return float(self.parts.sum()) / 2


@dataclass(frozen=True)
class PairState:
    """After some trials: the kind of each failure (−1 dropped), the likelihood of each pair of kinds, its scale's logarithm."""

    kind: Kinds
    likelihood: Table
    scale: float
    left_out: float = 0.0

    @property
    def size(self) -> int:
        """Bytes of its tables."""
        return int(self.kind.nbytes + self.likelihood.nbytes)


class Pairs:
    """The weights of all pairs of one set-up. Each trial is one step on from the state before it; states do not change."""

    def __init__(self, hypotheses: Hypotheses) -> None:
        self._hypotheses = hypotheses
        self._prior = hypotheses.prior[FIRST:] / hypotheses.prior[FIRST:].sum()
        self._column = hypotheses.column[FIRST:]
        part = np.searchsorted(hypotheses.part_starts, np.arange(FIRST, len(hypotheses)), side="right") - 1
        self._part = part.astype(np.intp)
        self._count = len(hypotheses.part_starts)
        of_part = np.bincount(self._part, weights=self._prior, minlength=self._count)
        self._all = (1 - float(of_part @ of_part)) / 2
        """Weight of all pairs before they are made to add up to `PRIOR_TWO`."""
        count = len(self._prior)
        self.start = PairState(np.zeros(count, dtype=np.intp), np.ones((1, 1), dtype=np.float32), 0.0)

    def belief(self, state: PairState, scale: float = 0.0) -> PairBelief:
        """Return the weights in a state, divided by e^`scale`."""
        factor = PRIOR_TWO / self._all * np.exp(min(state.scale - scale, 700.0)) if self._all > 0 else 0.0
        parts, hypotheses = self._weighed(state)
        return PairBelief(parts * factor, hypotheses * factor, state.left_out * factor)

    # --- one trial ------------------------------------------------------------------------------------------------

    def after(self, before: PairState, pair_evidence: PairEvidence) -> PairState:
        """Return the state after one more trial."""
        alive = np.flatnonzero(before.kind >= 0)
        columns, column = _alike_columns(pair_evidence.sights, np.unique(self._column[alive]))
        way, ways = self._ways(pair_evidence, alive)
        found = [np.round(chance[FIRST:][alive], 12) for chance, _, _ in pair_evidence.findings]
        keys = np.stack([column[self._column[alive]], way, before.kind[alive], *found], axis=1)
        example, number = equal_rows(keys, np.lexsort(keys[:, 1::-1].T))
        kind = np.full(len(self._prior), -1, dtype=np.intp)
        kind[alive] = number
        old = before.kind[alive[example]]
        likelihood = before.likelihood
        for sight in pair_evidence.sights:
            rows, chances = sight.two.between(columns, columns), sight.agreement.astype(np.float32, copy=False)
            of = column[self._column[alive[example]]]
            likelihood = pair_likelihoods(likelihood, old, of, way[example], ways, rows, chances, pair_evidence.times)
            old = np.arange(len(example))
        if not pair_evidence.sights:
            likelihood = _chosen(likelihood, old)
        for (_, sound, both), chance in zip(pair_evidence.findings, found, strict=True):
            one = chance[example].astype(np.float32)
            likelihood *= (
                np.minimum(np.outer(one, one) / sound, 1) if both else np.maximum(one[:, None], one)
            ) ** pair_evidence.times
        top = float(likelihood.max(initial=0.0))
        scale = before.scale
        if 0 < top < SMALL:
            likelihood /= np.float32(top)
            scale += float(np.log(top))
        return self._pruned(PairState(kind, likelihood, scale, before.left_out * float(np.exp(before.scale - scale))))

    def _ways(self, pair_evidence: PairEvidence, alive: Kinds) -> tuple[Kinds, NDArray[np.float32]]:
        """Return for each failure alive which way it is present, shape (alive,), and the ways' b, o, n, shape (ways, 3)."""
        table = np.stack([np.round(regime[FIRST:][alive], 12) for regime in pair_evidence.regimes], axis=1)
        first, way = equal_rows(table, _scattered(table))
        return way, table[first].astype(np.float32)

    # --- weights --------------------------------------------------------------------------------------------------

    def _pruned(self, state: PairState) -> PairState:
        """Return a state without the kinds that have next to no weight left."""
        alive = np.flatnonzero(state.kind >= 0)
        weight = np.bincount(state.kind[alive], weights=self._prior[alive], minlength=len(state.likelihood))
        of_kind = weight * (state.likelihood @ weight.astype(np.float32))
        order = np.argsort(of_kind)
        lost = np.cumsum(of_kind[order])
        gone = order[lost <= DROPPED * max(float(of_kind.sum()), 1e-300)]
        if len(gone) < len(of_kind) * WORTH_DROPPING:
            return state
        stay = np.setdiff1d(np.arange(len(of_kind)), gone)
        number = np.full(len(of_kind) + 1, -1, dtype=np.intp)
        number[stay] = np.arange(len(stay))
        left_out = state.left_out + float(of_kind[gone].sum())
        return PairState(number[state.kind], _chosen(state.likelihood, stay), state.scale, left_out)

    def _weighed(self, state: PairState) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Return the weight of every pair of parts, shape (parts, parts), and of each hypothesis with any partner, shape (N,)."""
        alive = np.flatnonzero(state.kind >= 0)
        kinds = len(state.likelihood)
        _, example, cell = np.unique(self._part[alive] * kinds + state.kind[alive], return_index=True, return_inverse=True)
        weight = np.bincount(cell, weights=self._prior[alive]).astype(np.float32)
        present, first = np.unique(self._part[alive[example]], return_index=True)
        rows, pairs = by_part(state.likelihood, state.kind[alive[example]], weight, np.append(first, len(example)))
        pairs = pairs.astype(np.float64)
        np.fill_diagonal(pairs, 0.0)
        parts = np.zeros((self._count, self._count))
        parts[np.ix_(present, present)] = (pairs + pairs.T) / 2
        at = np.searchsorted(present, self._part[alive])
        partners = rows.sum(axis=0)[state.kind[alive]] - rows[at, state.kind[alive]]
        shares = np.zeros(len(self._hypotheses))
        shares[FIRST + alive] = self._prior[alive] * np.maximum(partners, 0.0)
        return parts, shares


def _chosen(table: Table, places: Kinds) -> Table:
    """Return the rows and columns of a table at some places; `take` is faster than an index."""
    return table.take(places, axis=0).take(places, axis=1)


def _alike_columns(sights: Sequence[Sight], columns: Kinds) -> tuple[Kinds, Kinds]:
    """Return a column of each kind that the sights tell apart, and by column which of these it is."""
    number = np.zeros(int(columns.max(initial=0)) + 1, dtype=np.intp)
    if not sights:
        return columns[:1], number
    seen = np.stack([sight.two.kind[columns] for sight in sights], axis=1)
    first, kind = equal_rows(seen, _scattered(seen))
    number[columns] = kind
    return columns[first], number


def _scattered(rows: NDArray[np.float64] | Kinds) -> Kinds:
    """Return the positions of rows in the order in which ways and columns are numbered."""
    return np.argsort(rows @ _SCATTER[: rows.shape[1]], kind="stable")
