"""`python -m benchmarks.rehearsal FILE` plays a rehearsals file against the program's own advice and judges every step."""

from __future__ import annotations

import argparse
import sys
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

from benchmarks.rehearsal.play import Run, play
from benchmarks.rehearsal.report import page, run_text, totals
from benchmarks.rehearsal.scenario import Scenario, scenarios
from foible.services.reasoning import Reasoning

OWN = Path(__file__).with_name("rehearsals.toml")
PROCESSES = 2


def _played(given: tuple[str, tuple[Scenario, ...], int]) -> dict[str, list[Run]]:
    """Play every scenario of a weapon; one weapon's reasoner serves them all."""
    _, chosen, seeds = given
    reasoning = Reasoning()
    return {scenario.id: [play(scenario, seed, reasoning) for seed in range(seeds)] for scenario in chosen}


def main() -> None:
    """Play, print every step, and the totals."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("file", type=Path, nargs="?", default=OWN)
    parser.add_argument("--seeds", type=int, default=10)
    parser.add_argument("--only", default="", help="play scenarios whose id holds this")
    parser.add_argument("--page", type=Path, help="write the page of docs/ as well")
    given = parser.parse_args()
    chosen = [scenario for scenario in scenarios(given.file) if given.only in scenario.id]
    by_weapon: dict[str, tuple[Scenario, ...]] = {}
    for scenario in chosen:
        by_weapon[scenario.weapon] = (*by_weapon.get(scenario.weapon, ()), scenario)
    with ProcessPoolExecutor(PROCESSES) as pool:
        jobs = [(weapon, some, given.seeds) for weapon, some in by_weapon.items()]
        runs = {name: each for played in pool.map(_played, jobs) for name, each in played.items()}
    for scenario in chosen:
        own = runs[scenario.id]
        print(f"\n{scenario.id} ({scenario.kind}): passed {sum(run.judged.passed for run in own)} of {len(own)}")
        for text, count in Counter(run_text(scenario, run) for run in own).most_common():
            print(f"  {count} ×" + text)
    print(totals(chosen, runs))
    if given.page:
        given.page.write_text(page(chosen, runs, given.seeds, given.file.stem), encoding="utf-8")
    sys.stdout.flush()


if __name__ == "__main__":
    main()
