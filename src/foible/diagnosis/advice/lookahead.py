"""A belief and the price of each trial in; out, the trial to make next, or to stop, at the least expected cost to be done.

The world is in one of K states, which fall into G groups; the aim is to name the right group (the item to exchange, the repair
to make). A trial t costs c_t and shows outcome o with probability P(o | state). Under a belief b the cost to be done is

    J(b) = min( min_g (a_g + w) · (1 − b_g),  min_t (c_t + Σ_o P(o | b) J(b | o)) )                          [s]

where naming group g wrongly loses what acting on it costs, a_g, and w. (Acting on the right one has to be paid anyway.) Some acts
put other groups right as well, as a new cord does for a clip that is off: naming g in place of such an h loses only a_g − a_h.
`exact` solves this by dynamic programming, which only small sets allow. `Chooser` looks two trials ahead and takes for what is
left behind them the smaller of stopping there and the entropy that is left times what a bit costs. Where trials are repairs
that show with certainty whether they helped, and there is one failure, the best plan is to go by falling p/c (Heckerman, Breese &
Rommelse 1995); `repair_order` does that.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from foible.diagnosis.advice.model import DecisionModel

    Floats = NDArray[np.float64]

__all__ = ["Choice", "Chooser", "exact", "followed", "repair_order"]

NEGLIGIBLE = 1e-7
"""States less probable than this are ignored in choosing what to try next, where they are most of the states."""
NEAR = 1.02
"""Expected costs that differ by less than this ratio count as equal: they are estimates anyway."""
SETTLED = 1.05
"""How many times the cost of trying further acting now may come to before one tries further; judgement, no source."""
LEAST_BITS = 1e-3
"""A trial expected to tell less is not considered [bit]."""
WORTH = 1e-4
"""What follows outcomes less probable than this is not considered."""


@dataclass(frozen=True, slots=True)
class Choice:
    """A trial, or stopping, with what it leads to."""

    trial: int | None
    """None means stop and name the most likely group."""
    cost: float
    """Expected cost to be done [s]."""
    bits: float
    """Expected information about the group [bit]."""


class Chooser:
    """Chooses trials for a model.

    What remains after the trials considered is priced at `dearer` times the cost of a bit by the trial that is cheapest per bit
    now. `wide`, `deep`: how many trials are considered for the second step, and after how many first ones.
    """

    def __init__(self, model: DecisionModel, *, dearer: float = 1.2, wide: int = 24, deep: int = 8) -> None:
        self.model = model
        self._dearer = dearer
        self._wide, self._deep = wide, deep

    def choices(self, belief: NDArray[np.floating], allowed: Sequence[int] | None = None) -> list[Choice]:
        """Return stopping and the trials worth making, the cheapest first. `belief`: weight of each state, shape (K,)."""
        model, weight = self.model, (belief / belief.sum()).astype(np.float32)
        stop = Choice(None, float(model.stopping(model.grouped(weight))), 0.0)
        trials = np.arange(len(model.tables)) if allowed is None else np.asarray(allowed, dtype=np.intp)
        if not len(trials):
            return [stop]
        sight = self._sight(weight)
        here = sight.look(sight.weights(weight))
        trials = trials[here.bits[0, trials] >= LEAST_BITS]
        if not len(trials):
            return [stop]
        bits = here.bits[0, trials].astype(np.float64)
        rates = model.priced(model.grouped(weight), trials) / bits
        by_bits = np.argsort(rates, kind="stable")
        per_bit = self._dearer * float(rates[by_bits[0]])
        costs = here.costs(per_bit)[0, trials].astype(np.float64)
        order = list(dict.fromkeys([*by_bits[: self._deep // 2].tolist(), *np.argsort(costs, kind="stable").tolist()]))
        looked = order[: self._deep]
        behind = sight.two_steps(sight.weights(weight), trials[looked], trials[order[: self._wide]], per_bit)
        costs[looked] = here.price[0, trials[looked]] + behind
        made = [Choice(int(t), float(c), float(b)) for t, c, b in zip(trials, costs, bits, strict=True)]
        least = min(made[i].cost for i in looked)
        near = {i for i in looked if made[i].cost <= least * NEAR}  # of two that cost the same, the more informative goes first
        first = set(looked)
        ranked = sorted(range(len(made)), key=lambda i: (i not in first, i not in near, rates[i] if i in near else made[i].cost))
        best = [made[i] for i in ranked]
        return [stop, *best] if stop.cost <= best[0].cost * SETTLED else [*best, stop]

    def bits(self, belief: NDArray[np.floating], trials: Sequence[int] | NDArray[np.intp]) -> Floats:
        """Return the expected information of each trial about the group, shape (trials,) [bit]."""
        weight = (belief / belief.sum()).astype(np.float32)
        sight = self._sight(weight)
        return np.asarray(sight.look(sight.weights(weight)).bits[0, np.asarray(trials, dtype=np.intp)], dtype=np.float64)

    @cached_property
    def _whole(self) -> _Sight:
        """Every state considered."""
        return _Sight(self.model, self.model.by_state, self.model.first, np.arange(len(self.model.group)))

    def _sight(self, weight: NDArray[np.float32]) -> _Sight:
        """Return what there is to consider, without the ignored states where they are most of them."""
        likely = np.flatnonzero(weight > NEGLIGIBLE)
        if len(likely) >= len(weight) // 2:
            return self._whole
        return replace(self._whole, table=self._whole.table.take(likely, axis=0), states=likely)


@dataclass(frozen=True)
class _Sight:
    """The outcomes of some trials in some states.

    `table`: their probability, a row for each state and the trials side by side, shape (k, R), so that a few states are quickly
    taken out; `first`: first column of each trial, and the count of all; `states`: position of each state in the model.
    """

    model: DecisionModel
    table: NDArray[np.float32]
    first: NDArray[np.intp]
    states: NDArray[np.intp]

    @cached_property
    def starts(self) -> NDArray[np.intp]:
        """First state of each group, and the count of all, shape (G + 1,)."""
        return np.searchsorted(self.model.group[self.states], np.arange(len(self.model.naming) + 1)).astype(np.intp)

    def weights(self, weight: NDArray[np.float32]) -> NDArray[np.float32]:
        """Return the weight of all states, shape (K,), as one weighting of those looked at, shape (1, k)."""
        return weight[None, self.states]

    def only(self, trials: NDArray[np.intp]) -> _Sight:
        """Return the sight of some of the trials; costs are then to be had from `look` of these alone."""
        spans = [np.arange(self.first[t], self.first[t + 1]) for t in trials]
        first = np.cumsum([0, *(len(span) for span in spans)])
        mends = None if self.model.mends is None else self.model.mends[trials]
        lost = None if self.model.lost is None else self.model.lost[trials]
        model = replace(self.model, tables=(), cost=self.model.cost[trials], mends=mends, lost=lost)
        return replace(self, model=model, table=self.table.take(np.concatenate(spans), axis=1), first=first)

    def look(self, weights: NDArray[np.float32]) -> _Look:
        """Return what every trial leads to after each of B weightings, shape (B, k)."""
        model = self.model
        of_groups = np.empty((len(model.naming), len(weights)), dtype=np.float32)
        joint = np.empty((*of_groups.shape, self.table.shape[1]), dtype=np.float32)
        for group, (start, end) in enumerate(pairwise(self.starts.tolist())):
            of_groups[group] = weights[:, start:end].sum(axis=1)
            np.matmul(weights[:, start:end], self.table[start:end], out=joint[group])
        chance = joint.sum(axis=0)
        surprise = _plogp(chance) - _plogp(joint).sum(axis=0)
        loss = (model.naming + model.wrong).astype(np.float32)[:, None, None]
        before = _plogp(of_groups.sum(axis=0)) - _plogp(of_groups).sum(axis=0)
        spared = [(group, [loss[each] * joint[each] for each in others]) for group, others in model.covered]
        np.subtract(chance, joint, out=joint)
        joint *= loss
        for group, each in spared:
            joint[group] -= sum(each)
        shares = of_groups.T.astype(np.float64)
        price = model.priced(shares, np.arange(len(model.cost)))
        return _Look(self.first[:-1], before, model.stopping(shares), surprise, joint.min(axis=0), price)

    def two_steps(
        self, weights: NDArray[np.float32], trials: NDArray[np.intp], ahead: NDArray[np.intp], per_bit: float
    ) -> Floats:
        """Return the expected cost of what is left behind each of `trials`: the best of `ahead`, or stopping; (trials,) [s]."""
        behind = [self.table[:, self.first[t] : self.first[t + 1]].T * weights for t in trials]
        likely = [outcomes[outcomes.sum(axis=1) > WORTH] for outcomes in behind]
        look = self.only(ahead).look(np.concatenate(likely))
        onward = np.minimum(look.stopping, look.costs(per_bit).min(axis=1))
        of = np.repeat(np.arange(len(trials)), [len(outcomes) for outcomes in likely])
        return np.bincount(of, onward, minlength=len(trials)).astype(np.float64)


@dataclass(frozen=True)
class _Look:
    """What trials lead to after each of B weightings.

    `first`: first outcome of each trial; `before`: weight times entropy of the group, shape (B,) [bit]; `stopping`: weight times
    the cost of naming the best group now, shape (B,) [s]; `surprise` and `stop`: the same two behind each outcome, shape (B, R);
    `price`: weight times the cost of making each trial, shape (B, trials) [s].
    """

    first: NDArray[np.intp]
    before: NDArray[np.float32]
    stopping: Floats
    surprise: NDArray[np.float32]
    stop: NDArray[np.float32]
    price: Floats

    @property
    def bits(self) -> NDArray[np.float32]:
        """Weight times the expected information of each trial about the group, shape (B, trials) [bit]."""
        return np.maximum(self.before[:, None] - np.add.reduceat(self.surprise, self.first, axis=1), np.float32(0))

    def costs(self, per_bit: float) -> Floats:
        """Return weight times the expected cost to be done with each trial, shape (B, trials) [s]; a bit left costs `per_bit`."""
        left = np.minimum(self.stop, np.float32(per_bit) * self.surprise)
        return np.asarray(np.add.reduceat(left, self.first, axis=1) + self.price)


def exact(model: DecisionModel, belief: NDArray[np.floating], trials: frozenset[int] | None = None) -> float:
    """Return the least expected cost to be done, each trial being made once at most, by dynamic programming [s].

    The work grows with the factorial of the trials: for small sets.
    """
    left = frozenset(range(len(model.tables))) if trials is None else trials
    best = float(model.stopping(model.grouped(belief)))
    for trial in left:
        behind = model.tables[trial] * belief
        cost = float(model.priced(model.grouped(belief), [trial])[0])
        for outcome in behind:
            if cost >= best:
                break
            cost += exact(model, outcome, left - {trial}) if outcome.any() else 0.0
        best = min(best, cost)
    return best


def followed(chooser: Chooser, belief: NDArray[np.floating], trials: frozenset[int] | None = None) -> float:
    """Return the expected cost to be done when following `chooser`, each trial once at most [s]."""
    model = chooser.model
    left = frozenset(range(len(model.tables))) if trials is None else trials
    if belief.sum() < 1e-12:  # noqa: PLR2004 — nothing left to weigh
        return 0.0
    choice = chooser.choices(belief, sorted(left))[0]
    if choice.trial is None:
        return float(model.stopping(model.grouped(belief)))
    behind = model.tables[choice.trial] * belief
    cost = float(model.priced(model.grouped(belief), [choice.trial])[0])
    return cost + sum(followed(chooser, outcome, left - {choice.trial}) for outcome in behind)


def repair_order(chance: Sequence[float], cost: Sequence[float]) -> list[int]:
    """Return the order in which to make repairs that each show with certainty whether they helped: by falling chance over cost.

    Best for a single failure and costs that do not depend on what was done before (Heckerman, Breese & Rommelse 1995, who call
    it p/c; Kadane & Simon 1977 prove it).
    """
    return sorted(range(len(chance)), key=lambda i: -chance[i] / cost[i])


def _plogp(p: NDArray[np.float32]) -> NDArray[np.float32]:
    made = np.maximum(p, np.float32(1e-30))
    np.log2(made, out=made)
    made *= p
    return made
