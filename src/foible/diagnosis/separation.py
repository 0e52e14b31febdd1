"""The trials of a catalogue in; out which failures a set of tools can tell apart, in the terms of `testability`."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from foible.circuit import equal_rows
from foible.diagnosis.advice.outcomes import OutcomeTables
from foible.diagnosis.shown.hypotheses import Activity
from foible.diagnosis.shown.presence import UNKNOWN_AT
from foible.diagnosis.testability import (
    AT_HAND,
    EYE,
    FINE,
    AmbiguityGroup,
    Testability,
    ambiguity_groups,
    figures,
    group_sizes,
    told_apart,
)
from foible.errors import UnknownNameError
from foible.kit import SIDES, other

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from numpy.typing import NDArray

    from foible.diagnosis.reasoner import Reasoner
    from foible.kit import Failure
    from foible.trials import Idea

    Bools = NDArray[np.bool_]
    Positions = NDArray[np.intp]

__all__ = ["Separation"]


class Separation:
    """Which failures each kind of trial tells apart, for one weapon with the usual kit; worked out once for all sets of tools.

    `ideas` is the catalogue. Only trials on the left are worked out; those on the right are their mirror image. Raises
    ValueError where the kit has no such symmetry. The N hypotheses are those of the reasoner without the unknown cause:
    position 0 is sound kit. A failure on the left counts twice, one on the right not at all.
    """

    def __init__(self, reasoner: Reasoner, ideas: Sequence[Idea]) -> None:
        self.setup = reasoner.setup
        self._reasoner = reasoner
        hypotheses = reasoner.hypotheses
        self._known = np.flatnonzero(np.arange(len(hypotheses)) != UNKNOWN_AT)
        self._failure = hypotheses.failure[self._known]
        self._activity = hypotheses.activity[self._known]
        self._rate = hypotheses.prior[self._known] * (self._failure >= 0)
        counts = np.array([{SIDES[0]: 2.0, SIDES[1]: 0.0}.get(self._side(failure), 1.0) for failure in hypotheses.failures])
        weight = self._rate * counts[self._failure]
        self._weight = weight / weight.sum()
        self._kind, self._rows = self._separated(ideas)

    def _side(self, failure: Failure) -> str:
        return self.setup.items[failure.item].side or ""

    # --- what trials show -----------------------------------------------------------------------------------------

    def _separated(self, ideas: Sequence[Idea]) -> tuple[Positions, Mapping[frozenset[str], NDArray[np.uint8]]]:
        """Return the kind of each hypothesis, shape (N,), and which kinds the trials with the same needs tell apart.

        Hypotheses that show the same in all trials are of one kind. The rows of the (K, K) tables are packed into bits.
        """
        mirror = self._mirror()
        made: list[tuple[frozenset[str], Positions, Bools]] = []
        for idea, shown, apart in self._classes(ideas):
            needs = frozenset((*idea.needs, EYE) if idea.trial.examine else idea.needs)
            made.append((needs, shown, apart))
            if idea.side is not None:
                made.append((needs, shown[mirror], apart))
        first, kind = equal_rows(np.stack([shown for _, shown, _ in made], axis=1, dtype=np.int16))
        rows: dict[frozenset[str], NDArray[np.uint8]] = {}
        for needs, shown, apart in made:
            packed = np.packbits(apart[:, shown[first]], axis=1)[shown[first]]
            rows[needs] = rows[needs] | packed if needs in rows else packed
        return kind, rows

    def _classes(self, ideas: Sequence[Idea]) -> Iterator[tuple[Idea, Positions, Bools]]:
        """Yield each trial with the class of what each hypothesis shows, and which classes it tells apart.

        Trials on the right are left out, and those that tell nothing apart.
        """
        reasoner = self._reasoner
        outcome_tables = OutcomeTables(reasoner.setup, reasoner.hypotheses, reasoner.dictionary, reasoner.trial_likelihood)
        items = [failure.item for failure in reasoner.hypotheses.failures]
        shared = [not self._side(failure) for failure in reasoner.hypotheses.failures]
        for idea in ideas:
            if idea.side == SIDES[1]:
                continue
            asked = np.array([idea.item in (None, item) or both for item, both in zip(items, shared, strict=True)])
            at = np.flatnonzero(asked[self._failure] | (self._failure < 0))
            table = outcome_tables.experiment(idea, self._known[at], self._rate[at]).chance.astype(np.float64)
            first, classes = equal_rows(np.round(table.T / FINE).astype(np.int32))
            apart = told_apart(table[:, first])
            if apart.any():
                shown = np.full(len(self._known), classes[0])
                shown[at] = classes
                yield idea, shown, apart

    def _mirror(self) -> Positions:
        """Return the position of each hypothesis with left and right swapped, shape (N,).

        What both sides share also has parts for each side, such as the inputs of the apparatus.
        """
        hypotheses = self._reasoner.hypotheses
        steps = zip(self._failure.tolist(), hypotheses.ohms[self._known].tolist(), self._activity.tolist(), strict=True)
        keys = [(hypotheses.failures[number], ohms, activity) for number, ohms, activity in steps][1:]
        position = {(f.part, f.mode, ohms, activity): i for i, (f, ohms, activity) in enumerate(keys, start=1)}
        facing = [(_facing(f.part), f.mode, ohms, activity) for f, ohms, activity in keys]
        if missing := [key for key in facing if key not in position]:
            part, mode, ohms, _ = missing[0]
            msg = f"the two sides differ: there is no “{part}: {mode}” at {ohms:g} Ω"
            raise ValueError(msg)
        return np.array([0, *(position[key] for key in facing)], dtype=np.intp)

    # --- what tools tell apart ------------------------------------------------------------------------------------

    def separated(self, tools: Sequence[str]) -> tuple[Bools, Positions]:
        """Return which kinds some tools tell apart, shape (K, K), and the kind of each hypothesis, shape (N,).

        Raises UnknownNameError for a tool that is not in `AT_HAND`.
        """
        for tool in tools:
            if tool not in AT_HAND:
                raise UnknownNameError(what="tool", name=tool, known=AT_HAND)
        at_hand = [rows for needs, rows in self._rows.items() if needs <= set(tools)]
        packed = np.bitwise_or.reduce(at_hand, axis=0)
        first, kind = equal_rows(packed)
        apart = np.unpackbits(packed[first], axis=1, count=len(packed))[:, first].astype(np.bool_)
        return apart, kind[self._kind]

    def testability(self, tools: Sequence[str]) -> Testability:
        """Return what some tools can tell. Raises UnknownNameError for a tool that is not in `AT_HAND`."""
        apart, kind = self.separated(tools)
        detected = apart[kind[0]][kind]
        sizes = [group_sizes(apart, kind, label) for label in self._labels()]
        by_activity = {activity: np.where(self._activity == activity, self._weight, 0.0) for activity in Activity}
        hidden = self._shares(np.flatnonzero(~detected))
        return Testability(
            weapon=self.setup.weapon,
            tools=tuple(tool for tool in AT_HAND if tool in tools),
            overall=figures(self._weight, detected, sizes),
            split={activity: figures(weight, detected, sizes) for activity, weight in by_activity.items() if weight.any()},
            groups=self._groups(apart, kind),
            undetected=tuple((failure, share) for failure, share in self._named(hidden) if share > 0),
        )

    def apart(
        self, first: str, second: str, tools: Sequence[str], *, ohms: float = np.inf, activity: Activity = Activity.STEADY
    ) -> bool:
        """Return whether some tools tell two failures, each named “part: mode”, apart at one severity [Ω].

        Raises UnknownNameError for a failure that is not in the kit, ValueError for one that does not occur like that.
        """
        apart, kind = self.separated(tools)
        return bool(apart[kind[self._position(first, ohms, activity)], kind[self._position(second, ohms, activity)]])

    def _position(self, name: str, ohms: float, activity: Activity) -> int:
        """Return the position of a failure at a severity [Ω]."""
        hypotheses = self._reasoner.hypotheses
        number = [failure.id for failure in hypotheses.failures].index(self.setup.failures[name].id)
        alike = (self._failure == number) & (self._activity == activity) & (hypotheses.ohms[self._known] == ohms)
        if not alike.any():
            msg = f"“{name}” does not occur at {ohms:g} Ω, {activity.name.lower()}"
            raise ValueError(msg)
        return int(np.flatnonzero(alike)[0])

    def _labels(self) -> Iterator[Positions]:
        """Yield the item, the part and the repair of each hypothesis as numbers, shape (N,)."""
        failures = self._reasoner.hypotheses.failures
        for names in (
            [failure.item for failure in failures],
            [failure.part for failure in failures],
            [failure.job for failure in failures],
        ):
            number = {name: i for i, name in enumerate(dict.fromkeys(names))}
            yield np.array([number[name] for name in names], dtype=np.intp)[self._failure]

    def _groups(self, apart: Bools, kind: Positions) -> tuple[AmbiguityGroup, ...]:
        """Return the groups of more than one failure; groups of the same failures at other severities are taken together."""
        weight = np.bincount(kind, weights=self._weight, minlength=len(apart)).astype(np.float64)
        of_kind = np.split(np.argsort(kind, kind="stable"), np.cumsum(np.bincount(kind))[:-1])
        shares: dict[frozenset[int], dict[int, float]] = {}
        for members in ambiguity_groups(apart, weight, int(kind[0])):
            group = self._shares(np.concatenate([of_kind[member] for member in members]))
            known = shares.setdefault(frozenset(group), dict.fromkeys(group, 0.0))
            for failure, share in group.items():
                known[failure] += share
        made = [AmbiguityGroup(tuple(f for f, _ in self._named(by)), sum(by.values())) for by in shares.values() if len(by) > 1]
        return tuple(sorted(made, key=lambda group: (-round(group.share, 9), group.names)))

    def _shares(self, chosen: Positions) -> dict[int, float]:
        """Return the share of all failures that each failure has in some hypotheses, by its position."""
        shares: dict[int, float] = {}
        for failure, share in zip(self._failure[chosen].tolist(), self._weight[chosen].tolist(), strict=True):
            if failure >= 0:
                shares[failure] = shares.get(failure, 0.0) + share
        return shares

    def _named(self, shares: Mapping[int, float]) -> list[tuple[Failure, float]]:
        """Return failures with their shares, the largest first."""
        failures = self._reasoner.hypotheses.failures
        return [(failures[i], shares[i]) for i in sorted(shares, key=lambda i: (-round(shares[i], 9), i))]


def _facing(part: str) -> str:
    """Return the part on the other side."""
    return " ".join(other(word) if word in SIDES else word for word in part.split(" "))
