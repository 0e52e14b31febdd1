"""What can be tried, what could be named and what each costs: the tables that looking ahead works on."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

__all__ = ["DecisionModel"]


@dataclass(frozen=True)
class DecisionModel:
    """What can be tried and what should be named.

    `tables`: for each trial the probability of its outcomes in each state, shape (outcomes, K), columns adding up to 1.
    `cost`: of each trial [s]; `group`: of each state, shape (K,), rising; `naming`: what acting on each group costs, shape
    (G,) [s]; `wrong`: what naming a wrong group costs besides, for all or by the group named, shape (G,) [s]. A trial that acts
    on a group and looks whether that helped has it in `mends`, shape (trials,), −1 for the others: what acting costs is lost
    only where it was the wrong group, and so is what `lost` says of the trial, shape (trials,) [s]: whoever acts tries it once
    in any case.
    """

    tables: tuple[NDArray[np.float32], ...]
    cost: Floats
    group: NDArray[np.intp]
    naming: Floats
    wrong: Floats | float
    mends: NDArray[np.intp] | None = None
    lost: Floats | None = None
    covered: tuple[tuple[int, tuple[int, ...]], ...] = ()
    """Groups whose act puts others right as well, with these others."""

    @cached_property
    def starts(self) -> NDArray[np.intp]:
        """First state of each group, shape (G,)."""
        return np.searchsorted(self.group, np.arange(len(self.naming))).astype(np.intp)

    @cached_property
    def by_state(self) -> NDArray[np.float32]:
        """The outcomes of all trials side by side, a row for each state, shape (K, R)."""
        return np.ascontiguousarray(np.concatenate(self.tables).T, dtype=np.float32)

    @cached_property
    def first(self) -> NDArray[np.intp]:
        """First column of each trial in `by_state`, and the count of all."""
        return np.cumsum([0, *(len(table) for table in self.tables)]).astype(np.intp)

    def only(self, trials: Sequence[int], states: Sequence[int]) -> DecisionModel:
        """Return the model with some of the trials, and of the states with all their groups."""
        chosen, left = list(trials), list(states)
        tables = tuple(self.tables[t].take(left, axis=1) for t in chosen)
        mends = None if self.mends is None else self.mends[chosen]
        lost = None if self.lost is None else self.lost[chosen]
        return replace(self, tables=tables, cost=self.cost[chosen], group=self.group[left], mends=mends, lost=lost)

    def healed(self, groups: Collection[int], sound: int) -> DecisionModel:
        """Return the model once some groups have been acted on: their states show what state `sound` shows, in every trial."""
        if not self.tables:
            return self
        table = self.by_state.copy()
        table[np.isin(self.group, list(groups))] = table[sound]
        return self.showing(table)

    def showing(self, table: NDArray[np.float32]) -> DecisionModel:
        """Return the model with other chances of the outcomes, laid out as `by_state`, shape (K, R)."""
        made = replace(self, tables=tuple(part.T for part in np.split(table, self.first[1:-1], axis=1)))
        vars(made)["by_state"] = table  # so that megabytes need not be assembled again
        return made

    def further(
        self, tables: Sequence[NDArray[np.float32]], cost: Sequence[float], mends: Sequence[int], lost: Sequence[float]
    ) -> DecisionModel:
        """Return the model with further trials behind its own; `tables`, `cost` and `mends` as the model's."""
        all_mends = np.concatenate([np.full(len(self.tables), -1) if self.mends is None else self.mends, mends]).astype(np.intp)
        made = replace(
            self,
            tables=(*self.tables, *tables),
            cost=np.concatenate([self.cost, cost]).astype(np.float64),
            mends=all_mends,
            lost=np.concatenate([np.zeros(len(self.tables)) if self.lost is None else self.lost, lost]).astype(np.float64),
        )
        vars(made)["by_state"] = np.concatenate([self.by_state, *(table.T for table in tables)], axis=1).astype(np.float32)
        return made

    def dearer(self, extra: Floats) -> DecisionModel:
        """Return the model with each trial costing more; shape (trials,) [s]."""
        made = replace(self, cost=self.cost + extra)
        vars(made)["by_state"] = self.by_state
        return made

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
            lost = self.naming[aim] + (0.0 if self.lost is None else self.lost[chosen])
            costs = costs + np.where(aim >= 0, lost * (total - of_groups[..., aim]), 0.0)
        return np.asarray(costs)

    def stopping(self, of_groups: Floats) -> Floats:
        """Return weight times the cost of naming the best group, shape (…, G) to (…,)."""
        return np.asarray(self.losses(of_groups).min(axis=-1))

    def losses(self, of_groups: Floats) -> Floats:
        """Return weight times the cost of naming each group, shape (…, G) [s]."""
        loss = self.naming + self.wrong
        losses = loss * (of_groups.sum(axis=-1, keepdims=True) - of_groups)
        for group, others in self.covered:
            for each in others:
                losses[..., group] -= loss[each] * of_groups[..., each]
        return np.asarray(losses)

    def cured(self, of_groups: Floats) -> Floats:
        """Return the weight that acting on each group puts right, shape (G,)."""
        cured = of_groups.copy()
        for group, others in self.covered:
            cured[group] += of_groups[list(others)].sum()
        return cured

    def named(self, of_groups: Floats) -> int:
        """Return the group to name."""
        return int(np.argmin(self.losses(of_groups)))
