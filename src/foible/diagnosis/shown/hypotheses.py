"""A set-up in; out, everything that may be wrong with it, as arrays.

No failure, every single failure at every severity, steady or coming and going, and something that this model does not know.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum
from functools import cached_property
from math import prod
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from foible.kit import Failure, Setup

__all__ = ["NO_RATES", "PRIOR_SOUND", "PRIOR_TWO", "SOUND", "UNKNOWN", "Activity", "Hypotheses", "Rates", "all_hypotheses"]

PRIOR_SOUND = 0.03
"""Chance that nothing is wrong with kit that somebody complains about; judgement, no source."""
PRIOR_UNKNOWN = 0.01
"""Chance of something that this model does not know; judgement, no source."""
PRIOR_TWO = 0.04
"""Chance of two failures at once; judgement, no source: 2 of the 90 published cases are so, and odd ones get published."""


class Activity(IntEnum):
    """How a failure behaves over time."""

    STEADY = 0
    OFTEN = 1
    """Comes and goes, and is seen in most trials."""
    SELDOM = 2
    """Comes and goes, and hides unless provoked."""


SHOWN_OHMS = 15.0
"""What is less in series lights no lamp differently [Ω]: FIE Material Rules, August 2026, Annex B leaves 100 Ω and more."""
SHARE_OFTEN = 0.5
"""Share of the intermittent failures that show often rather than seldom; judgement, no source."""

SOUND = "nothing wrong"
UNKNOWN = "something this model does not know"


@dataclass(frozen=True)
class Rates:
    """By how much a club's own rates differ from the kit files': a multiplier above 0 for each failure, 1 where none is given."""

    of: tuple[tuple[str, float], ...] = ()
    """Failures by their `id`, with their multipliers; only their relation to one another matters."""
    sound: float = 1.0
    """The multiplier of the odds that nothing is wrong."""

    def __bool__(self) -> bool:
        return bool(self.of) or self.sound != 1.0


NO_RATES = Rates()


@dataclass(frozen=True)
class Hypotheses:
    """N hypotheses, sorted so that those about one part stand together.

    Position 0 is “nothing wrong”, position 1 “something this model does not know”.
    `column`: which electrical column (0 sound, then one per failure and severity), shape (N,).
    `failure`: position in `failures`, −1 for the first two, shape (N,). `ohms`: severity, shape (N,) [Ω].
    `activity`: an `Activity` each, shape (N,). `prior`: adds up to 1, shape (N,).
    """

    failures: tuple[Failure, ...]
    columns: tuple[tuple[Failure, float], ...]
    """What the electrical columns from 1 on are: failure and severity [Ω]."""
    column: NDArray[np.intp]
    failure: NDArray[np.intp]
    ohms: NDArray[np.float64]
    activity: NDArray[np.intp]
    prior: NDArray[np.float64]

    def __len__(self) -> int:
        return len(self.column)

    @cached_property
    def step_edges(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Least and greatest severity that each hypothesis' step of its ladder stands for, shape (N,) each [Ω].

        The edges are the geometric means between neighbouring steps; the first step reaches down to a twentieth of itself.
        """
        low, high = np.ones(len(self)), np.ones(len(self))
        for i in range(2, len(self)):
            ladder = sorted(step for step, _ in self.failures[int(self.failure[i])].ladder)
            at = ladder.index(float(self.ohms[i]))
            finite = [step for step in ladder if np.isfinite(step)]
            if not np.isfinite(self.ohms[i]):
                continue
            low[i] = (ladder[at - 1] * ladder[at]) ** 0.5 if at else ladder[at] / 20
            high[i] = (ladder[at] * ladder[at + 1]) ** 0.5 if at + 1 < len(finite) else ladder[at] * 3
        return low, high

    @cached_property
    def let_go(self) -> NDArray[np.intp]:
        """Column of each hypothesis' failure where it lets go altogether, shape (N,); its own where it never does."""
        open_at = {id(failure): at for at, (failure, ohms) in enumerate(self.columns, 1) if failure.raises and np.isinf(ohms)}
        own = zip(self.failure.tolist(), self.column.tolist(), strict=True)
        return np.array([open_at.get(id(self.failures[f]), column) if f >= 0 else column for f, column in own], dtype=np.intp)

    @cached_property
    def lets_go(self) -> NDArray[np.bool_]:
        """Which failures can let go altogether, shape (N,)."""
        opens = np.array([False, *(bool(failure.raises) and np.isinf(ohms) for failure, ohms in self.columns)])
        return np.asarray(opens[self.let_go])

    @cached_property
    def part_starts(self) -> NDArray[np.intp]:
        """First position of each run of hypotheses about one part, shape (parts + 2,)."""
        return _starts([self._part(i) for i in self.failure.tolist()])

    @cached_property
    def part_names(self) -> tuple[str, ...]:
        """The part of each run of `part_starts`; the first two are `SOUND` and `UNKNOWN`."""
        return (SOUND, UNKNOWN, *(self._part(int(self.failure[start])) for start in self.part_starts[2:]))

    @cached_property
    def part_items(self) -> tuple[str, ...]:
        """The item of each run of `part_starts`."""
        return (
            SOUND,
            UNKNOWN,
            *(self.failures[int(self.failure[start])].item for start in self.part_starts[2:]),
        )

    @cached_property
    def runs(self) -> dict[str, slice]:
        """Positions of the hypotheses about each part; `SOUND` and `UNKNOWN` are runs of one."""
        ends = [*self.part_starts[1:].tolist(), len(self)]
        return {
            name: slice(start, end) for name, start, end in zip(self.part_names, self.part_starts.tolist(), ends, strict=True)
        }

    def _part(self, failure: int) -> str:
        return self.failures[failure].part if failure >= 0 else ""


def _starts(keys: Sequence[str]) -> NDArray[np.intp]:
    return np.array([0, 1, *(i for i in range(2, len(keys)) if i == 2 or keys[i] != keys[i - 1])], dtype=np.intp)  # noqa: PLR2004 — the first two stand alone


def _activities(intermittent: float) -> list[tuple[Activity, float]]:
    return [
        (Activity.STEADY, 1 - intermittent),
        (Activity.OFTEN, intermittent * SHARE_OFTEN),
        (Activity.SELDOM, intermittent * (1 - SHARE_OFTEN)),
    ]


def _steps(failure: Failure, *, whole: bool) -> list[tuple[float, float]]:
    """Return the severities of a failure with their shares [Ω]; for a `whole` strip only those that a lamp could show."""
    steps = [(ohms, share) for ohms, share in failure.ladder if not (whole and failure.raises and ohms < SHOWN_OHMS)]
    total = sum(share for _, share in steps)
    return [(ohms, share / total) for ohms, share in steps]


def all_hypotheses(setup: Setup, known_good: Sequence[str] = (), facts: Sequence[str] = (), own: Rates = NO_RATES) -> Hypotheses:
    """Return the hypotheses about `setup`; items and parts in `known_good` are not suspected.

    `facts` change the rates of failures, and so do a club's `own`, which leave the hypotheses the same but for their prior.
    """
    order, times = {part: i for i, part in enumerate(setup.parts)}, dict(own.of)
    rates = {f.id: f.rate * times.get(f.id, 1.0) * prod(f.when.get(fact, 1.0) for fact in facts) for f in setup.failures.values()}
    good = {*known_good}
    suspected = (f for f in setup.failures.values() if good.isdisjoint((f.item, f.part)) and rates[f.id] > 0)
    failures = tuple(sorted(suspected, key=lambda f: order[f.part]))
    whole = len({failure.item for failure in failures if not setup.items[failure.item].tool}) > 1
    columns: list[tuple[Failure, float]] = []
    rows: list[tuple[int, int, float, Activity, float]] = []
    for number, failure in enumerate(failures):
        for ohms, share in _steps(failure, whole=whole):
            columns.append((failure, ohms))
            rows += [
                (len(columns), number, ohms, activity, rates[failure.id] * share * part)
                for activity, part in _activities(failure.intermittent)
                if part > 0
            ]
    column, number_of, severity, activities, rate = zip(*rows, strict=True) if rows else ((), (), (), (), ())
    known = np.array(rate, dtype=np.float64)
    rest = 1 - PRIOR_SOUND - PRIOR_UNKNOWN
    prior = np.concatenate([[PRIOR_SOUND * own.sound, PRIOR_UNKNOWN], known / max(known.sum(), 1e-300) * rest])
    return Hypotheses(
        failures=failures,
        columns=tuple(columns),
        column=np.array([0, 0, *column], dtype=np.intp),
        failure=np.array([-1, -1, *number_of], dtype=np.intp),
        ohms=np.array([np.nan, np.nan, *severity]),
        activity=np.array([Activity.STEADY, Activity.STEADY, *activities], dtype=np.intp),
        prior=prior / prior.sum(),
    )
