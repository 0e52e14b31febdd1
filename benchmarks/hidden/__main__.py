"""All faults of the kit, hidden, and found by the program's own advice: how many, in how many trials, and which not.

    python -m benchmarks.hidden [--weapon foil] [--seeds 3] [--some 40] [--out FILE]

Each failure of the left side and of what both sides share is hidden, steady and, where the kit says that it may, coming and
going; and as many pairs. What shows neither at the piste nor on the bench, as a piste does to a weapon that does without, is no
case. The strip is the same from either side. `--some`: only so many of each, evenly spread.
"""

from __future__ import annotations

import argparse
import json
from collections import defaultdict
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from foible.diagnosis import Activity, StagedFault
from foible.kit import SIDES
from foible.practice import Hidden, Level, benched, hidden, judged, staged
from foible.services.practice.plans import following_advice
from foible.services.practice.reasoned import advised, situation_of
from foible.services.reasoning import Reasoning

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from foible.kit import Failure, Setup
    from foible.practice import Attempt

STEADY, MOVING, TWO = "steady", "comes and goes", "two"
MOST = 20
"""Trials."""
AMONG = 6
"""Suspects that are looked at for those that nothing tells apart."""


def main() -> None:
    """Print the share found by weapon and kind, and list what was missed."""
    options = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    options.add_argument("--weapon", action="append")
    options.add_argument("--seeds", type=int, default=3)
    options.add_argument("--some", type=int, default=0)
    options.add_argument("--out", type=Path)
    asked = options.parse_args()
    reasoning = Reasoning()
    rows: dict[str, dict[str, list[bool]]] = {}
    missed: list[str] = []
    for weapon in asked.weapon or [each.name for each in reasoning.weapons()]:
        rows[weapon] = defaultdict(list)
        for kind, found, name in _all(reasoning, reasoning.setup(weapon), asked.seeds, asked.some):
            rows[weapon][kind].append(found)
            if not found:
                missed.append(f"{weapon}, {kind}: {name}")
                print(missed[-1], flush=True)
        kinds = rows[weapon]
        print(weapon, {kind: f"{sum(found)} of {len(found)} ({np.mean(found):.1%})" for kind, found in kinds.items()}, flush=True)
    if asked.out:
        counts = {weapon: {kind: [sum(found), len(found)] for kind, found in kinds.items()} for weapon, kinds in rows.items()}
        asked.out.write_text(json.dumps({"seeds": asked.seeds, "found": counts, "missed": missed}, indent=1, ensure_ascii=False))


def _all(reasoning: Reasoning, setup: Setup, seeds: int, some: int) -> Iterator[tuple[str, bool, str]]:
    mine = [each for each in setup.failures.values() if setup.items[each.item].side in {SIDES[0], None} and each.rate > 0]
    kinds: dict[str, list[Failure]] = {
        STEADY: [each for each in mine if each.intermittent < 1],
        MOVING: [each for each in mine if each.intermittent > 0],
    }
    for kind, failures in kinds.items():
        for failure in _spread(failures, some):
            for seed in range(seeds):
                activity = Activity.STEADY if kind == STEADY else (Activity.OFTEN, Activity.SELDOM)[seed % 2]
                made = staged(setup, [StagedFault(failure, failure.usual_ohms, activity)], seed)
                if made.complaint or (kind == STEADY and failure.item in benched(setup)):
                    yield kind, _found(reasoning, made), f"{failure.id} ({made.complaint.say if made.complaint else 'bench'})"
    for seed in range(some or len(mine)):
        made = hidden(setup, Level.TWO, seed)
        yield TWO, _found(reasoning, made), " and ".join(fault.failure.id for fault in made.faults)


def _spread(failures: Sequence[Failure], some: int) -> Sequence[Failure]:
    return failures if not some else failures[:: max(1, len(failures) // some)]


def _found(reasoning: Reasoning, made: Hidden) -> bool:
    """Return whether what the advice names is right, or in a group with it that nothing at hand tells apart."""
    attempt = following_advice(reasoning, made, reasoning.ideas(made.setup), most=MOST)
    return judged(attempt).right or _alike(reasoning, attempt)


def _alike(reasoning: Reasoning, attempt: Attempt) -> bool:
    diagnosis = advised(reasoning, attempt)
    verdict = reasoning.at(situation_of(attempt.hidden)).verdict(diagnosis, AMONG)
    named = {naming.item for naming in attempt.namings}
    return any(
        attempt.hidden.parts & set(group.parts) and any(diagnosis.case.setup.parts[part].item in named for part in group.parts)
        for group in verdict.doubts.alike
    )


if __name__ == "__main__":
    main()
