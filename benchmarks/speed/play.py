"""`python -m benchmarks.speed.play WEAPON` plays the kept cases with whatever program is on PYTHONPATH and prints its figures."""

from __future__ import annotations

import json
import sys

import numpy as np

from benchmarks.accuracy.play import Played, play
from benchmarks.accuracy.program import Program
from benchmarks.speed.kept import SEED, kept_cases, networked

MISREAD = 0.02
"""Chance that the lamps of a side are misread; both programs' own figure."""


def played(weapon: str, most: int | None = None) -> list[Played]:
    """Return how the kept cases of a weapon went, at most so many of them."""
    program = Program(weapon)
    kept = [case for case in kept_cases() if case.weapon == weapon][:most]
    return list(play(program, networked(program.setup, kept), SEED, misread=MISREAD, proving=False))


def main() -> None:
    """Play, and print the figures."""
    weapon, *most = sys.argv[1:]
    runs = played(weapon, int(most[0]) if most else None)
    figures = {
        "cases": len(runs),
        "right": float(np.mean([run.right for run in runs])),
        "trials": float(np.mean([run.trials for run in runs])),
        "trial_s": float(np.mean([run.seconds for run in runs])),
        "seconds": float(np.mean([run.seconds + run.acted for run in runs])),
    }
    print(json.dumps(figures))


if __name__ == "__main__":
    main()
