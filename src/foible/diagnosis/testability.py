"""Which failures are told apart in; the share that is detected, and isolated, out, in the terms of IEEE Std 1522.

A failure here is one mode of one part at one severity, steady or coming and going often or seldom, weighted by its rate.

- Two failures are *told apart* by a trial if the total variation distance between their distributions over its outcomes,
  1 − Σ_o min(P(o | f), P(o | g)), is at least 0.5: made once, it tells them apart at least as often as not.
- A failure is *detected* if some trial that the tools at hand allow tells it from sound kit.
- It is *isolated to one item* (part, repair) if it is detected and every failure of every other item (part, repair) is told
  from it, one by some trial, another perhaps by another. It is isolated to at most n items if it is told from all failures
  but those of n items, its own among them.

FFD, the fraction of faults detected, and FFI(n), the fraction of faults isolated to an ambiguity group of at most n, are shares
of all failures by rate, so that FFI(1) ≤ FFI(2) ≤ FFI(3) ≤ FFD. Dividing FFI by FFD gives the share of the detected ones, as some
write it. (IEEE Std 1522 from memory: the names and the weighting by rate. The bound of 0.5 is judgement, no source.)

All trials of the catalogue count, those at the piste and those of every item's bench. A trial on the bench is about its own
item and what both sides share, the tools among it: failures of other items show there what sound kit shows. An item that is found
on its bench to have nothing wrong is cleared by that. Failures that come and go count under the trial that provokes them most.
Repeating a trial would tell more, and so would making a repair and looking again; neither is counted.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from foible.situation import TOOLS

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from foible.diagnosis.shown.hypotheses import Activity
    from foible.kit import Failure

    Bools = NDArray[np.bool_]
    Floats = NDArray[np.float64]
    Positions = NDArray[np.intp]

__all__ = [
    "AT_HAND",
    "EYE",
    "FINE",
    "STANDARD_SETS",
    "AmbiguityGroup",
    "Figures",
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
"""Looking at and feeling a place: a tool that everybody has, counted separately so that lamps can be judged by themselves."""
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
    """Their share of all failures."""
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
    """The largest share first. Failures on the right are listed only where they cannot be told from those on the left."""
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
        return tuple(dict.fromkeys(failure.job for failure in self.failures))

    @property
    def same_repair(self) -> bool:
        """Whether one repair mends them all, so that it does not matter which of them it is."""
        return len(self.repairs) == 1


@dataclass(frozen=True)
class Testability:
    """What a set of tools can tell about a weapon's strip set-up."""

    __test__ = False  # the name is the field's, and no collection of tests

    weapon: str
    tools: tuple[str, ...]
    """The tools at hand besides lamps, out of `AT_HAND`."""
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


def group_sizes(apart: Bools, kind: Positions, label: Positions) -> Positions:
    """Return among how many labels each hypothesis is left, its own among them, shape (N,).

    `apart`: which of K kinds are told apart, shape (K, K); `kind`: of each hypothesis, shape (N,), that of sound kit first;
    `label`: the item (or part, or repair) of each as a number from 0, shape (N,); that of sound kit is not used.
    """
    bears = np.zeros((len(apart), int(label[1:].max()) + 1), dtype=np.float32)
    bears[kind[1:], label[1:]] = 1.0
    left = (~apart).astype(np.float32) @ bears > 0
    return np.asarray(left.sum(axis=1)[kind], dtype=np.intp)


def figures(weight: Floats, detected: Bools, sizes: Sequence[Positions]) -> Figures:
    """Return the figures of some failures.

    `weight`: share of each hypothesis among all failures, zero for those not in question; `detected`; `sizes`: by item, part and
    repair, as `group_sizes` gives them; shape (N,) each.
    """
    total = float(weight.sum())
    shares = [tuple(float(weight[detected & (size <= most)].sum()) / total for most in SIZES) for size in sizes]
    return Figures(total, float(weight[detected].sum()) / total, *shares)


def ambiguity_groups(apart: Bools, weight: Floats, sound: int = 0) -> list[Positions]:
    """Share the detected kinds out among groups of which no two kinds are told apart.

    The kind with most weight opens a group; the others follow by falling weight where they are told from none that is in it.
    Kinds without weight open none, but may be in several. `apart`: shape (K, K); `weight`: of each kind, shape (K,); `sound`:
    that of sound kit. Not being told apart is not transitive, so that other ways to share them out would do as well.
    """
    order = np.argsort(-np.round(weight, 12), kind="stable")
    order = order[apart[sound][order]]
    free = weight > 0
    groups = []
    for opener in order.tolist():
        if not free[opener]:
            continue
        members, left = [], order[~apart[opener, order] & (free | (weight <= 0))[order]]
        while len(left):
            members.append(int(left[0]))
            left = left[1:][~apart[left[0], left[1:]]]
        free[members] = False
        groups.append(np.array(members, dtype=np.intp))
    return groups
