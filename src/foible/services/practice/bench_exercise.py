"""A failure in; out, an exercise on real kit: how it is staged and undone, which trials will show it, and what should light."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from foible.diagnosis import Activity, StagedFault
from foible.practice import staged
from foible.practice.bench import Refusal, StagedWay, staged_way
from foible.services.practice.worksheets import narrowed_down

if TYPE_CHECKING:
    from foible.kit import Failure, Setup
    from foible.practice import Hidden
    from foible.services.practice.worksheets import Clue, Narrowed
    from foible.services.reasoning import Reasoning

__all__ = ["UNTOLD", "BenchExercise", "Stageable", "bench_exercise", "staged_fault", "ways_of"]

UNTOLD = "Nobody has said yet how it can be staged without harm."
"""Why something is not staged of which the file says nothing, such as a failure of a kit folder."""


@dataclass(frozen=True)
class Stageable:
    """A failure of the kit with how it is staged, or why it is not."""

    failure: Failure
    way: StagedWay | None
    why: str
    """Why it is not; empty where it is."""


@dataclass(frozen=True)
class BenchExercise:
    """An exercise on real kit."""

    failure: Failure
    way: StagedWay
    hidden: Hidden
    clues: tuple[Clue, ...]
    """The trials that the program advises, with what they should show."""
    narrowed: Narrowed


def ways_of(setup: Setup) -> tuple[Stageable, ...]:
    """Return every failure of a set-up, with how it is staged or why it is not."""
    return tuple(_stageable(setup, failure) for failure in setup.failures.values())


def bench_exercise(reasoning: Reasoning, weapon: str, name: str) -> BenchExercise | Stageable:
    """Return the exercise about a failure, or the failure with why there is none. Raises UnknownNameError."""
    setup = reasoning.setup(weapon)
    known = _stageable(setup, setup.failures[name])
    if known.way is None:
        return known
    hidden = staged(setup, [staged_fault(known.failure, known.way)], 1)
    clues, narrowed = narrowed_down(reasoning, hidden)
    return BenchExercise(known.failure, known.way, hidden, clues, narrowed)


def staged_fault(failure: Failure, way: StagedWay) -> StagedFault:
    """Return a failure as bad as a way of staging it makes it: open, a short, or the step nearest to its resistance."""
    steps = [ohms for ohms, _ in failure.ladder] or [math.nan]
    if way.ohms is None:
        ohms = max(steps) if failure.raises else min(steps)
    else:
        aim = max(way.ohms, min(steps))
        ohms = min(steps, key=lambda step: abs(math.log(step / aim)))
    return StagedFault(failure, ohms, Activity.STEADY)


def _stageable(setup: Setup, failure: Failure) -> Stageable:
    way = staged_way(setup, failure)
    if isinstance(way, StagedWay):
        return Stageable(failure, way, "")
    return Stageable(failure, None, way.why if isinstance(way, Refusal) else UNTOLD)
