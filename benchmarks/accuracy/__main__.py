"""`python -m benchmarks.accuracy` simulates faults, diagnoses them by the program's own advice, and writes docs/accuracy.md.

The same seed gives the same figures. `--render` only writes the page and the pictures anew from the figures kept beside it.
"""

from __future__ import annotations

import argparse
import json
from concurrent.futures import ProcessPoolExecutor, as_completed
from pathlib import Path
from typing import Any

from benchmarks.accuracy.measure import bench, piste, small_sets, whole_program
from benchmarks.accuracy.page import FIGURES, write

WEAPONS = ("foil", "épée", "sabre")
DOCS = Path(__file__).parents[2] / "docs"


def measured(count: int, seed: int) -> dict[str, Any]:
    """Run everything, two weapons at a time, and return the figures."""
    jobs: dict[Any, tuple[str, str]] = {}
    found: dict[str, Any] = {"count": count, "seed": seed}
    with ProcessPoolExecutor(2) as pool:
        for weapon in WEAPONS:
            jobs[pool.submit(small_sets, weapon, max(count // 33, 4), seed)] = ("small sets", weapon)
            jobs[pool.submit(piste, weapon, count, seed)] = ("piste", weapon)
            jobs[pool.submit(bench, weapon, count, seed)] = ("bench", weapon)
            jobs[pool.submit(whole_program, weapon, max(count // 40, 4), seed)] = ("whole program", weapon)
        for job in as_completed(jobs):
            kind, weapon = jobs[job]
            found.setdefault(kind, {})[weapon] = job.result()
            print(f"{kind}, {weapon}: done", flush=True)
    return {
        key: {weapon: value[weapon] for weapon in WEAPONS} if isinstance(value, dict) else value
        for key, value in sorted(found.items())
    }


def main() -> None:
    """Measure, keep the figures, write the page."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument(
        "--faults",
        type=int,
        default=2000,
        help="cases for each weapon at the piste in the model's own world; others are shares of it",
    )
    parser.add_argument("--seed", type=int, default=2026)
    parser.add_argument("--render", action="store_true", help="write the page from the figures kept")
    given = parser.parse_args()
    kept = DOCS / FIGURES
    if not given.render:
        kept.write_text(json.dumps(measured(given.faults, given.seed), ensure_ascii=False, indent=1) + "\n", encoding="utf-8")
    write(json.loads(kept.read_text(encoding="utf-8")), DOCS)


if __name__ == "__main__":
    main()
