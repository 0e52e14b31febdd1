"""`python -m benchmarks.speed.draw` prints the cases that are kept; it was run on commit 682c21f, its `src` on PYTHONPATH.

Faults are drawn as often as that program takes them to occur, and complaints as `benchmarks.accuracy.cases` has it.
"""

from __future__ import annotations

import argparse
from dataclasses import replace
from itertools import islice
from typing import TYPE_CHECKING

import numpy as np

from benchmarks.accuracy.cases import complained, faults_drawn, told
from benchmarks.accuracy.networks import Networks
from benchmarks.speed.kept import SEED, Before, line
from foible.apparatus import load_profile
from foible.diagnosis.shown.hypotheses import PRIOR_TWO, all_hypotheses
from foible.kit import load_setup
from foible.trials import read_seen

if TYPE_CHECKING:
    from benchmarks.accuracy.cases import Told
    from foible.trials import Trial

WEAPONS = ("foil", "épée", "sabre")
PER_CASE = 20
"""Faults drawn for each case wanted."""


def main() -> None:
    """Print so many cases of each weapon."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cases", type=int, default=520, help="of each weapon")
    given = parser.parse_args()
    for weapon in WEAPONS:
        print("\n".join(_drawn(weapon, given.cases)))


def _drawn(weapon: str, count: int) -> list[str]:
    """Return `count` cases of a weapon as lines of the file."""
    setup, rng = load_setup(weapon), np.random.default_rng([SEED, len(weapon)])
    faults = faults_drawn(setup, all_hypotheses(setup), count * PER_CASE, rng, two=PRIOR_TWO)
    networks = Networks(setup, load_profile(setup.profile), faults, SEED)
    entries = [entry._replace(unsaid=_unsaid(entry)) for entry in told(setup)]
    made = complained(
        networks, range(len(faults)), entries, lambda case: tuple(Before(setup, fault) for fault in case), rng, along=0.0
    )
    return [line(weapon, entry.complaint.say, faults[place]) for place, entry, _, _ in islice(made, count)]


def _unsaid(entry: Told) -> tuple[Trial, ...]:
    """Return what goes without saying, which that program did not know.

    A fencer whose cuts to the mask give no light has seen others light.
    """
    if entry.trial.arrangement.on != "right mask mesh":
        return ()
    on_cloth = replace(entry.trial.arrangement, on="right lamé front")
    return (replace(entry.trial, arrangement=on_cloth, seen=read_seen(["left coloured"])),)


if __name__ == "__main__":
    main()
