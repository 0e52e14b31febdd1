"""Cases of one weapon in one world, played and boiled down to figures."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING, Any

import numpy as np

from benchmarks.accuracy.cases import drawn
from benchmarks.accuracy.play import play
from benchmarks.accuracy.program import Program
from benchmarks.accuracy.world import world_named
from foible.apparatus import load_profile

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from benchmarks.accuracy.play import Played

__all__ = ["BINS", "ece", "in_world", "played", "summary"]

BINS = 10
Bin = list[float]
"""The mean stated probability, the share that was right, and how many there were."""


@cache
def _program(weapon: str) -> Program:
    """Return the program for a weapon; what it says in one world it says in all."""
    return Program(weapon)


def in_world(weapon: str, world_name: str, count: int, seed: int) -> dict[str, Any]:
    """Return the figures of a weapon in a world."""
    return summary(played(weapon, world_name, count, seed))


def played(weapon: str, world_name: str, count: int, seed: int) -> list[Played]:
    """Return how the cases of a weapon in a world went."""
    program, world = _program(weapon), world_named(world_name)
    cases = drawn(program.setup, load_profile(program.setup.profile), world, count, seed)
    return list(play(program, cases, seed, misread=world.misread, piste=world.piste, expected=world.expecting))


def summary(runs: Sequence[Played]) -> dict[str, Any]:
    """Return the figures of some runs. Shares right are of real faults, calibration is of all cases and after every trial."""
    faults, sound = [run for run in runs if not run.sound], [run for run in runs if run.sound]
    steps = np.array([step for run in runs for step in run.steps], dtype=float).reshape(-1, 3)
    final, good = np.array([run.stated for run in runs]), np.array([run.right for run in runs], dtype=float)
    reliability = _binned(steps[:, 0], steps[:, 1])
    return {
        "cases": len(runs),
        "faults": len(faults),
        "right": _mean(run.right for run in faults),
        "right_at_once": _mean(run.at_once for run in faults),
        "nothing_of_fault": _mean(run.nothing for run in faults),
        "sound": len(sound),
        "left_alone": _mean(run.wasted == 0 for run in sound),
        "nothing_of_sound": _mean(run.nothing for run in sound),
        "trials": _mean(run.trials for run in runs),
        "seconds": _mean(run.seconds for run in runs),
        "to_the_end_s": _mean(run.seconds + run.acted for run in runs),
        "wasted": _mean(run.wasted for run in runs),
        "stated": float(final.mean()),
        "right_of_all": float(good.mean()),
        "ece": ece(reliability),
        "ece_halves": ece(_binned(steps[:, 0], steps[:, 2])),
        "ece_final": ece(_binned(final, good)),
        "brier": float(np.mean((steps[:, 0] - steps[:, 1]) ** 2)) if len(steps) else float("nan"),
        "reliability": reliability,
    }


def _mean(values: Iterable[float]) -> float:
    found = [float(value) for value in values]
    return float(np.mean(found)) if found else float("nan")


def _binned(stated: np.ndarray, right: np.ndarray) -> list[Bin]:
    bins = np.minimum((stated * BINS).astype(int), BINS - 1)
    return [
        [float(stated[bins == b].mean()), float(right[bins == b].mean()), int((bins == b).sum())]
        for b in range(BINS)
        if (bins == b).any()
    ]


def ece(reliability: Iterable[Bin]) -> float:
    """Return the expected calibration error: by how much stated and true shares differ, bin by bin."""
    bins = list(reliability)
    return sum(abs(stated - right) * count for stated, right, count in bins) / max(sum(count for *_, count in bins), 1)
