"""`python -m benchmarks.accuracy` simulates faults, diagnoses them with the whole program, and writes docs/accuracy.md.

The same seed gives the same figures. `--render` only writes the page and the picture anew from the figures kept beside it;
`--wrong W` prints the cases of a weapon in a world that ended wrongly, trial by trial.
"""

from __future__ import annotations

import argparse
import json
import time
from concurrent.futures import ProcessPoolExecutor, as_completed
from pathlib import Path
from typing import Any

from benchmarks.accuracy.measure import in_world, played
from benchmarks.accuracy.page import FIGURES, keep, write
from benchmarks.accuracy.small_sets import small_sets
from benchmarks.accuracy.world import WORLDS

WEAPONS = ("foil", "épée", "sabre")
DOCS = Path(__file__).parents[2] / "docs"
SETS = 60
PROCESSES = 2


def measured(count: int, seed: int) -> dict[str, Any]:
    """Run everything, two worlds at a time, and return the figures."""
    started = time.perf_counter()
    worlds: dict[str, dict[str, Any]] = {weapon: {} for weapon in WEAPONS}
    with ProcessPoolExecutor(PROCESSES) as pool:
        jobs = {pool.submit(in_world, w, world.name, count, seed): (w, world.name) for w in WEAPONS for world in WORLDS}
        sets = {weapon: pool.submit(small_sets, weapon, SETS, seed) for weapon in WEAPONS}
        for job in as_completed(jobs):
            weapon, world = jobs[job]
            worlds[weapon][world] = job.result()
            print(f"{time.perf_counter() - started:6.0f} s  {weapon}, {world}: right {job.result()['right']:.1%}", flush=True)
        best = {weapon: job.result() for weapon, job in sets.items()}
    return {
        "count": count,
        "seed": seed,
        "minutes": round((time.perf_counter() - started) / 60),
        "worlds": {weapon: {world.name: found[world.name] for world in WORLDS} for weapon, found in worlds.items()},
        "small sets": best,
        "earlier": {},
    }


def main() -> None:
    """Measure, keep the figures, write the page."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cases", type=int, default=400, help="for each weapon and world")
    parser.add_argument("--seed", type=int, default=2026)
    parser.add_argument("--render", action="store_true", help="write the page from the figures kept")
    parser.add_argument("--wrong", nargs=2, metavar=("WEAPON", "WORLD"), help="print what ended wrongly, and write nothing")
    given = parser.parse_args()
    if given.wrong:
        for run in played(given.wrong[0], given.wrong[1], given.cases, given.seed):
            if not run.right:
                print("\n    ".join(run.story), end="\n\n")
        return
    kept = DOCS / FIGURES
    if not given.render:
        keep(measured(given.cases, given.seed), DOCS)
    write(json.loads(kept.read_text(encoding="utf-8")), DOCS)


if __name__ == "__main__":
    main()
