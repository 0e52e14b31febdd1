"""How much of what can fail the trials at hand show, and how far they tell it apart, in the terms of IEEE Std 1522.

A failure here is one mode of one part at one severity, steady or coming and going often or seldom, weighted by its rate.

- Two failures are *told apart* by a trial if the total variation distance between their distributions over its outcomes,
  1 − Σ_o min(P(o | f), P(o | g)), is at least 0.5: one go of it tells them apart at least as often as not.
- A failure is *detected* if some trial that the tools at hand allow tells it from sound kit.
- It is *isolated to one item* (part, repair) if it is detected and every failure of every other item (part, repair) is told
  from it, one by some trial, another perhaps by another. It is isolated to at most n items if it is told from all failures
  but those of n items, its own among them.

FFD, the fraction of faults detected, and FFI(n), the fraction of faults isolated to an ambiguity group of at most n, are shares
of all failures by rate, so that FFI(1) ≤ FFI(2) ≤ FFI(3) ≤ FFD. Dividing FFI by FFD gives the share of the detected ones, as some
write it. (IEEE Std 1522 from memory: the names and the weighting by rate. The bound of 0.5 is judgement, no source.)

All trials of the catalogue count, those at the piste and those of every item's bench. A trial on the bench is about its own
item and what both sides share, the tools among it: failures of other items show there what sound kit shows. An item that is seen
on its bench to have nothing wrong is thereby cleared. Failures that come and go count under the trial that provokes them most.
Making a trial again would tell more, and so would making a repair and looking again; neither is counted.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from foible.diagnosis.advice.outcomes import OutcomeTables
from foible.diagnosis.shown.hypotheses import Activity
from foible.diagnosis.shown.presence import UNKNOWN_AT
from foible.errors import UnknownNameError
from foible.kit import SIDES, other
from foible.situation import TOOLS

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from numpy.typing import NDArray

    from foible.diagnosis.reasoner import Reasoner
    from foible.kit import Failure
    from foible.trials import Idea

    Bools = NDArray[np.bool_]
    Floats = NDArray[np.float64]
    Positions = NDArray[np.intp]

__all__ = [
    "AT_HAND",
    "EYE",
    "STANDARD_SETS",
    "AmbiguityGroup",
    "Figures",
    "Separation",
    "Testability",
    "ambiguity_groups",
    "figures",
    "group_sizes",
    "told_apart",
]

TOLD = 0.5
"""Total variation distance from which a trial tells two failures apart; judgement, no source."""
SIZES = (1, 2, 3)
"""Sizes of ambiguity groups that the figures are given for."""
EYE = "eye"
"""Looking at and feeling a place: a tool that everybody has, kept apart so that lamps can be judged by themselves."""
AT_HAND = (EYE, *TOOLS)
"""All that a set of tools can hold; lamps are always there."""
STANDARD_SETS: Mapping[str, tuple[str, ...]] = {
    "lamps only": (),
    "lamps and eye": (EYE,),
    "with a test box": (EYE, "box"),
    "with a meter": (EYE, "meter"),
    "with spares": (EYE, "spare"),
    "with box, meter and spares": (EYE, "box", "meter", "spare"),
    "everything": AT_HAND,
}
"""Sets of tools worth comparing, by name: eye added to lamps, one tool added to both, and then more."""
FINE = 1e-6
"""Probabilities that differ by less count as equal, so that rounding errors make no difference."""


@dataclass(frozen=True, slots=True)
class Figures:
    """Shares of some failures by rate, each between 0 and 1."""

    share: float
    """Which share of all failures these are."""
    detected: float
    """FFD."""
    to_item: tuple[float, ...]
    """FFI to at most 1, 2 and 3 items (`SIZES`)."""
    to_part: tuple[float, ...]
    to_repair: tuple[float, ...]


@dataclass(frozen=True)
class AmbiguityGroup:
    """Failures of which no two are told apart by what is at hand."""

    failures: tuple[Failure, ...]
    """The one that contributes most first. Those of the right side stand here only where they are not told from the left's."""
    share: float
    """Share of all failures that are one of these, at the severities at which they are in this group."""

    @property
    def names(self) -> tuple[str, ...]:
        """Each as “part: mode”."""
        return tuple(failure.id for failure in self.failures)

    @property
    def items(self) -> tuple[str, ...]:
        """The items that they belong to."""
        return tuple(dict.fromkeys(failure.item for failure in self.failures))

    @property
    def parts(self) -> tuple[str, ...]:
        """The parts that they belong to."""
        return tuple(dict.fromkeys(failure.part for failure in self.failures))

    @property
    def repairs(self) -> tuple[str, ...]:
        """The repairs that they ask for, as “item: repair”."""
        return tuple(dict.fromkeys(_repair(failure) for failure in self.failures))

    @property
    def same_repair(self) -> bool:
        """Whether it does not matter which of them it is: one repair mends them all."""
        return len(self.repairs) == 1


@dataclass(frozen=True)
class Testability:
    """What a set of tools can tell about a weapon's strip set-up."""

    __test__ = False  # the name is the field's, and no collection of tests

    weapon: str
    tools: tuple[str, ...]
    """What is at hand besides lamps, out of `AT_HAND`."""
    overall: Figures
    """Of all failures."""
    split: Mapping[Activity, Figures]
    """Of those that are steady, come and go often, and come and go seldom."""
    groups: tuple[AmbiguityGroup, ...] = field(repr=False)
    """Groups of more than one failure, the largest share first. A failure may be in several, at one severity in one of them."""
    undetected: tuple[tuple[Failure, float], ...] = field(repr=False)
    """Failures that are not detected at some severity or when they come and go, with the share that this is, largest first."""


def told_apart(table: Floats) -> Bools:
    """Return which of K columns a trial tells apart, shape (K, K), from the chance of its outcomes, shape (outcomes, K)."""
    same = np.minimum(table[:, :, None], table[:, None, :]).sum(axis=0)
    return np.asarray(1 - same >= TOLD - FINE)


def group_sizes(told: Bools, kind: Positions, label: Positions) -> Positions:
    """Return among how many labels each hypothesis is left, its own among them, shape (N,).

    `told`: which of K kinds are told apart, shape (K, K); `kind`: of each hypothesis, shape (N,), that of sound kit first;
    `label`: the item (or part, or repair) of each as a number from 0, shape (N,); that of sound kit is not used.
    """
    bears = np.zeros((len(told), int(label[1:].max()) + 1), dtype=np.float32)
    bears[kind[1:], label[1:]] = 1.0
    left = (~told).astype(np.float32) @ bears > 0
    return np.asarray(left.sum(axis=1)[kind], dtype=np.intp)


def figures(weight: Floats, detected: Bools, sizes: Sequence[Positions]) -> Figures:
    """Return the figures of some failures.

    `weight`: share of each hypothesis among all failures, zero for those not in question; `detected`; `sizes`: by item, part and
    repair, as `group_sizes` gives them; shape (N,) each.
    """
    total = float(weight.sum())
    shares = [tuple(float(weight[detected & (size <= most)].sum()) / total for most in SIZES) for size in sizes]
    return Figures(total, float(weight[detected].sum()) / total, *shares)


def ambiguity_groups(told: Bools, weight: Floats, sound: int = 0) -> list[Positions]:
    """Share the detected kinds out among groups of which no two kinds are told apart.

    The kind with most weight opens a group; the others follow by falling weight where they are told from none that is in it.
    Kinds without weight open none, but may be in several. `told`: shape (K, K); `weight`: of each kind, shape (K,); `sound`: that
    of sound kit. Not being told apart is not transitive, so that other ways to share them out would do as well.
    """
    order = np.argsort(-np.round(weight, 12), kind="stable")
    order = order[told[sound][order]]
    free = weight > 0
    groups = []
    for opener in order.tolist():
        if not free[opener]:
            continue
        members, left = [], order[~told[opener, order] & (free | (weight <= 0))[order]]
        while len(left):
            members.append(int(left[0]))
            left = left[1:][~told[left[0], left[1:]]]
        free[members] = False
        groups.append(np.array(members, dtype=np.intp))
    return groups


class Separation:
    """Which failures each kind of trial tells apart, for one weapon with the usual kit; worked out once for all sets of tools.

    `ideas` is the catalogue. Trials of the left side are worked out, and those of the right taken as their mirror image; raises
    ValueError where the kit has no such symmetry. The N hypotheses are those of the reasoner without what is not in the model:
    position 0 is sound kit. A failure of the left counts twice, one of the right not at all.
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
        first, kind = _alike(np.stack([shown for _, shown, _ in made], axis=1, dtype=np.int16))
        rows: dict[frozenset[str], NDArray[np.uint8]] = {}
        for needs, shown, apart in made:
            packed = np.packbits(apart[:, shown[first]], axis=1)[shown[first]]
            rows[needs] = rows[needs] | packed if needs in rows else packed
        return kind, rows

    def _classes(self, ideas: Sequence[Idea]) -> Iterator[tuple[Idea, Positions, Bools]]:
        """Yield each trial with the class of what each hypothesis shows, and which classes it tells apart.

        Trials of the right side are left out, and those that tell nothing apart.
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
            first, classes = _alike(np.round(table.T / FINE).astype(np.int32))
            apart = told_apart(table[:, first])
            if apart.any():
                shown = np.full(len(self._known), classes[0])
                shown[at] = classes
                yield idea, shown, apart

    def _mirror(self) -> Positions:
        """Return the position of each hypothesis with left and right exchanged, shape (N,).

        What both sides share has sided parts too, such as the inputs of the apparatus.
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

    # --- what tools tell ------------------------------------------------------------------------------------------

    def separated(self, tools: Sequence[str]) -> tuple[Bools, Positions]:
        """Return which kinds some tools tell apart, shape (K, K), and the kind of each hypothesis, shape (N,).

        Raises UnknownNameError for a tool that is not in `AT_HAND`.
        """
        for tool in tools:
            if tool not in AT_HAND:
                raise UnknownNameError(what="tool", name=tool, known=AT_HAND)
        at_hand = [rows for needs, rows in self._rows.items() if needs <= set(tools)]
        packed = np.bitwise_or.reduce(at_hand, axis=0)
        first, kind = _alike(packed)
        told = np.unpackbits(packed[first], axis=1, count=len(packed))[:, first].astype(np.bool_)
        return told, kind[self._kind]

    def testability(self, tools: Sequence[str]) -> Testability:
        """Return what some tools can tell. Raises UnknownNameError for a tool that is not in `AT_HAND`."""
        told, kind = self.separated(tools)
        detected = told[kind[0]][kind]
        sizes = [group_sizes(told, kind, label) for label in self._labels()]
        by_activity = {activity: np.where(self._activity == activity, self._weight, 0.0) for activity in Activity}
        hidden = self._shares(np.flatnonzero(~detected))
        return Testability(
            weapon=self.setup.weapon,
            tools=tuple(tool for tool in AT_HAND if tool in tools),
            overall=figures(self._weight, detected, sizes),
            split={activity: figures(weight, detected, sizes) for activity, weight in by_activity.items() if weight.any()},
            groups=self._groups(told, kind),
            undetected=tuple((failure, share) for failure, share in self._named(hidden) if share > 0),
        )

    def apart(
        self, first: str, second: str, tools: Sequence[str], *, ohms: float = np.inf, activity: Activity = Activity.STEADY
    ) -> bool:
        """Return whether some tools tell two failures, each named “part: mode”, apart at one severity [Ω].

        Raises UnknownNameError for a failure that is not in the kit, ValueError for one that does not come so.
        """
        told, kind = self.separated(tools)
        return bool(told[kind[self._position(first, ohms, activity)], kind[self._position(second, ohms, activity)]])

    def _position(self, name: str, ohms: float, activity: Activity) -> int:
        """Return the position of a failure at a severity [Ω]."""
        hypotheses = self._reasoner.hypotheses
        number = [failure.id for failure in hypotheses.failures].index(self.setup.failures[name].id)
        alike = (self._failure == number) & (self._activity == activity) & (hypotheses.ohms[self._known] == ohms)
        if not alike.any():
            msg = f"“{name}” does not come at {ohms:g} Ω, {activity.name.lower()}"
            raise ValueError(msg)
        return int(np.flatnonzero(alike)[0])

    def _labels(self) -> Iterator[Positions]:
        """Yield the item, the part and the repair of each hypothesis as numbers, shape (N,)."""
        failures = self._reasoner.hypotheses.failures
        for names in (
            [failure.item for failure in failures],
            [failure.part for failure in failures],
            [_repair(failure) for failure in failures],
        ):
            number = {name: i for i, name in enumerate(dict.fromkeys(names))}
            yield np.array([number[name] for name in names], dtype=np.intp)[self._failure]

    def _groups(self, told: Bools, kind: Positions) -> tuple[AmbiguityGroup, ...]:
        """Return the groups of more than one failure; groups of the same failures at other severities are taken together."""
        weight = np.bincount(kind, weights=self._weight, minlength=len(told)).astype(np.float64)
        of_kind = np.split(np.argsort(kind, kind="stable"), np.cumsum(np.bincount(kind))[:-1])
        shares: dict[frozenset[int], dict[int, float]] = {}
        for members in ambiguity_groups(told, weight, int(kind[0])):
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


def _repair(failure: Failure) -> str:
    return f"{failure.item}: {failure.repair or failure.mode}"


def _alike(rows: NDArray[np.integer]) -> tuple[Positions, Positions]:
    """Return the positions of the rows that differ, as they first come, and for each row which of them it equals."""
    number: dict[bytes, int] = {}
    kind = np.array([number.setdefault(row.tobytes(), len(number)) for row in rows], dtype=np.intp)
    return np.unique(kind, return_index=True)[1].astype(np.intp), kind
