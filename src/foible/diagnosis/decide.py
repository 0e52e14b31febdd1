"""Which trial to make next, and when to stop: the least expected cost to be done.

The world is in one of K states, which fall into G groups; the aim is to name the right group (the item to exchange, the repair
to make). A trial t costs c_t and shows outcome o with probability P(o | state). Under a belief b the cost to be done is

    J(b) = min( min_g (a_g + w) · (1 − b_g),  min_t (c_t + Σ_o P(o | b) J(b | o)) )                          [s]

where naming group g wrongly loses what acting on it costs, a_g, and w. (Acting on the right one has to be paid anyway.)
`exact` solves this by dynamic programming, which only small sets allow. `Chooser` looks two trials ahead and takes for what is
left behind them the smaller of stopping there and the entropy that is left times what a bit costs. Where trials are repairs
that show for sure whether they helped, and one failure is there, the best plan is to go by falling p/c (Heckerman, Breese &
Rommelse 1995); `repair_order` does that.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

__all__ = ["Choice", "Chooser", "Problem", "exact", "followed", "repair_order"]

NEGLIGIBLE = 1e-7
"""States less probable than this have no say in what to try next, where they are most of the states."""
NEAR = 1.02
"""Expected costs that differ by less than this ratio are one: what lies behind them is an estimate."""
LEAST_BITS = 1e-3
"""A trial expected to say less is not looked at [bit]."""
WORTH = 1e-4
"""Outcomes less probable than this are not looked behind."""


@dataclass(frozen=True)
class Problem:
    """What can be tried and what is to be named.

    `tables`: for each trial the probability of its outcomes in each state, shape (outcomes, K), columns adding up to 1.
    `cost`: of each trial [s]; `group`: of each state, shape (K,), rising; `naming`: what acting on each group costs, shape
    (G,) [s]; `wrong`: what naming a wrong group costs besides [s]. A trial that acts on a group and looks whether that helped
    has it in `mends`, shape (trials,), −1 for the others: what acting costs is lost only where it was the wrong group.
    """

    tables: tuple[NDArray[np.float32], ...]
    cost: Floats
    group: NDArray[np.intp]
    naming: Floats
    wrong: float
    mends: NDArray[np.intp] | None = None

    @cached_property
    def starts(self) -> NDArray[np.intp]:
        """First state of each group, shape (G,)."""
        return np.searchsorted(self.group, np.arange(len(self.naming))).astype(np.intp)

    @cached_property
    def rows(self) -> NDArray[np.float32]:
        """All outcomes of all trials below each other, shape (R, K)."""
        return np.concatenate(self.tables).astype(np.float32, copy=False)

    @cached_property
    def first_row(self) -> NDArray[np.intp]:
        """First row of each trial, and the count of all."""
        return np.cumsum([0, *(len(table) for table in self.tables)]).astype(np.intp)

    def only(self, trials: Sequence[int], states: Sequence[int] | None = None) -> Problem:
        """Return the problem with some of the trials, and of the states with all their groups."""
        rows = self.rows if states is None else self.rows.take(list(states), axis=1)
        tables = np.split(rows, self.first_row[1:-1])
        chosen = list(trials)
        group = self.group if states is None else self.group[list(states)]
        mends = None if self.mends is None else self.mends[chosen]
        return replace(self, tables=tuple(tables[t] for t in chosen), cost=self.cost[chosen], group=group, mends=mends)

    def healed(self, groups: Collection[int], sound: int) -> Problem:
        """Return the problem once some groups have been acted on: their states show what state `sound` shows, in every trial."""
        gone = np.isin(self.group, list(groups))
        tables = tuple(np.where(gone, table[:, [sound]], table) for table in self.tables)
        return replace(self, tables=tables)

    def grouped(self, weights: NDArray[np.floating]) -> Floats:
        """Return weights of states summed by group, shape (…, K) to (…, G)."""
        padded = np.concatenate([weights, np.zeros((*weights.shape[:-1], 1), dtype=weights.dtype)], axis=-1)
        sums: Floats = np.add.reduceat(padded, self.starts, axis=-1).astype(np.float64)
        empty = np.diff(np.append(self.starts, len(self.group))) == 0
        sums[..., empty] = 0.0
        return sums

    def priced(self, of_groups: Floats, trials: Sequence[int] | NDArray[np.intp]) -> Floats:
        """Return weight times the cost of making each trial, shape (…, G) to (…, trials) [s]."""
        chosen = np.asarray(trials, dtype=np.intp)
        total = of_groups.sum(axis=-1, keepdims=True)
        costs = total * self.cost[chosen]
        if self.mends is not None:
            aim = self.mends[chosen]
            costs = costs + np.where(aim >= 0, self.naming[aim] * (total - of_groups[..., aim]), 0.0)
        return np.asarray(costs)

    def stopping(self, of_groups: Floats) -> Floats:
        """Return weight times the cost of naming the best group, shape (…, G) to (…,)."""
        wrong = of_groups.sum(axis=-1, keepdims=True) - of_groups
        return np.asarray(((self.naming + self.wrong) * wrong).min(axis=-1))

    def named(self, of_groups: Floats) -> int:
        """Return the group to name."""
        return int(np.argmin((self.naming + self.wrong) * (of_groups.sum() - of_groups)))


@dataclass(frozen=True, slots=True)
class Choice:
    """A trial, or stopping, with what it leads to."""

    trial: int | None
    """None is to stop and name the most likely group."""
    cost: float
    """Expected cost to be done [s]."""
    bits: float
    """Expected information about the group [bit]."""


class Chooser:
    """Chooses trials for a problem.

    What is left behind the trials looked at is priced at `dearer` times what a bit costs by the trial that is cheapest per bit
    now. `wide`, `deep`: how many trials are looked at for the second step, and from how many first ones.
    """

    def __init__(self, problem: Problem, *, dearer: float = 1.2, wide: int = 24, deep: int = 8) -> None:
        self.problem = problem
        self._dearer = dearer
        self._wide, self._deep = wide, deep

    def choices(self, belief: NDArray[np.floating], allowed: Sequence[int] | None = None) -> list[Choice]:
        """Return stopping and the trials worth making, the cheapest first. `belief`: weight of each state, shape (K,)."""
        weight = (belief / belief.sum()).astype(np.float32)
        likely = np.flatnonzero(weight > NEGLIGIBLE)
        if len(likely) < len(weight) // 2:  # most are ruled out: the rest is quickly reckoned with
            lean = self.problem.only(range(len(self.problem.tables)), likely.tolist())
            return Chooser(lean, dearer=self._dearer, wide=self._wide, deep=self._deep).choices(weight[likely], allowed)
        problem = self.problem
        trials = np.arange(len(problem.tables)) if allowed is None else np.asarray(allowed, dtype=np.intp)
        stop = Choice(None, float(problem.stopping(problem.grouped(weight))), 0.0)
        if not len(trials):
            return [stop]
        bits = self.bits(weight, trials)
        telling = bits >= LEAST_BITS
        if not telling.any():
            return [stop]
        trials, bits = trials[telling], bits[telling]
        rates = problem.priced(problem.grouped(weight), trials) / bits
        by_bits = np.argsort(rates, kind="stable")
        per_bit = self._dearer * float(rates[by_bits[0]])
        costs = self._one_step(weight[None], trials, per_bit)[0][0]
        order = np.argsort(costs, kind="stable")
        order = np.array(list(dict.fromkeys([*by_bits[: self._deep // 2].tolist(), *order.tolist()])))
        ahead = trials[order[: self._wide]]
        for i in order[: self._deep].tolist():
            costs[i] = self._two_steps(weight, int(trials[i]), ahead, per_bit)
        made = [Choice(int(t), float(c), float(b)) for t, c, b in zip(trials, costs, bits, strict=True)]
        looked = set(order[: self._deep].tolist())
        least = min(made[i].cost for i in looked)
        near = {i for i in looked if made[i].cost <= least * NEAR}  # of what comes to the same the more telling goes first
        ranked = sorted(range(len(made)), key=lambda i: (i not in looked, i not in near, rates[i] if i in near else made[i].cost))
        best = [made[i] for i in ranked]
        return [stop, *best] if stop.cost <= best[0].cost else [*best, stop]

    def bits(self, belief: NDArray[np.floating], trials: Sequence[int] | NDArray[np.intp]) -> Floats:
        """Return the expected information of each trial about the group, shape (trials,) [bit]."""
        weight = (belief / belief.sum()).astype(np.float32)
        bits: Floats = self._one_step(weight[None], np.asarray(trials, dtype=np.intp), 0.0)[1][0]
        return bits

    def _two_steps(self, weight: NDArray[np.float32], trial: int, ahead: NDArray[np.intp], per_bit: float) -> float:
        """Return the expected cost to be done of making `trial` and then the best of some others, or stopping."""
        problem = self.problem
        behind = problem.tables[trial] * weight
        chance = behind.sum(axis=1)
        likely = behind[chance > WORTH]
        stop = problem.stopping(problem.grouped(likely))
        onward, _ = self._one_step(likely, ahead, per_bit)
        cost = problem.priced(problem.grouped(weight), [trial])[0]
        return float(cost + np.minimum(stop, onward.min(axis=1)).sum())

    def _one_step(self, weights: NDArray[np.float32], trials: NDArray[np.intp], per_bit: float) -> tuple[Floats, Floats]:
        """Return for each of B weightings and each trial the weight times expected cost to be done, and the bits, (B, trials)."""
        problem = self.problem
        spans = [np.arange(problem.first_row[t], problem.first_row[t + 1]) for t in trials]
        rows = np.concatenate(spans)
        edges = np.append(problem.starts, len(problem.group))
        table = problem.rows[rows]
        joint = np.empty((len(problem.naming), len(weights), len(rows)), dtype=np.float32)
        for group, (start, end) in enumerate(pairwise(edges.tolist())):
            joint[group] = weights[:, start:end] @ table[:, start:end].T
        chance = joint.sum(axis=0)
        surprise = _plogp(chance) - _plogp(joint).sum(axis=0)  # weight times entropy of the group
        price = (problem.naming + problem.wrong).astype(np.float32)[:, None, None]
        stop = (price * (chance - joint)).min(axis=0)
        leaf = np.minimum(stop, per_bit * surprise)
        firsts = np.cumsum([0, *(len(span) for span in spans[:-1])])
        total = weights.sum(axis=1)
        of_groups = problem.grouped(weights)
        costs = np.add.reduceat(leaf, firsts, axis=1) + problem.priced(of_groups, trials)
        before = _plogp(total) - _plogp(of_groups).sum(axis=1)
        bits = before[:, None] - np.add.reduceat(surprise, firsts, axis=1)
        return costs.astype(np.float64), np.maximum(bits, 0.0).astype(np.float64)


def exact(problem: Problem, belief: NDArray[np.floating], trials: frozenset[int] | None = None) -> float:
    """Return the least expected cost to be done, each trial being made once at most, by dynamic programming [s].

    The work grows with the factorial of the trials: for small sets.
    """
    left = frozenset(range(len(problem.tables))) if trials is None else trials
    best = float(problem.stopping(problem.grouped(belief)))
    for trial in left:
        behind = problem.tables[trial] * belief
        cost = float(problem.priced(problem.grouped(belief), [trial])[0])
        for outcome in behind:
            if cost >= best:
                break
            cost += exact(problem, outcome, left - {trial}) if outcome.any() else 0.0
        best = min(best, cost)
    return best


def followed(chooser: Chooser, belief: NDArray[np.floating], trials: frozenset[int] | None = None) -> float:
    """Return the expected cost to be done of doing as `chooser` says, each trial once at most [s]."""
    problem = chooser.problem
    left = frozenset(range(len(problem.tables))) if trials is None else trials
    if belief.sum() < 1e-12:  # noqa: PLR2004 — nothing left to weigh
        return 0.0
    choice = chooser.choices(belief, sorted(left))[0]
    if choice.trial is None:
        return float(problem.stopping(problem.grouped(belief)))
    behind = problem.tables[choice.trial] * belief
    cost = float(problem.priced(problem.grouped(belief), [choice.trial])[0])
    return cost + sum(followed(chooser, outcome, left - {choice.trial}) for outcome in behind)


def repair_order(chance: Sequence[float], cost: Sequence[float]) -> list[int]:
    """Return the order in which to make repairs that each show for sure whether they helped: by falling chance over cost.

    Best for a single failure and costs that do not depend on what was done before (Heckerman, Breese & Rommelse 1995, who call
    it p/c; Kadane & Simon 1977 prove it).
    """
    return sorted(range(len(chance)), key=lambda i: -chance[i] / cost[i])


def _plogp(p: NDArray[np.floating]) -> NDArray[np.floating]:
    return np.asarray(p * np.log2(np.maximum(p, np.float32(1e-30))))
