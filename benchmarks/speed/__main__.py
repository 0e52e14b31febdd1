"""Whether the program comes to the end of a case as fast as another checkout's, and as rightly.

`python -m benchmarks.speed PATH` has the programs of both checkouts play the kept cases, with the same faults, complaints and
luck, and prices both by the table of `benchmarks/seconds.py`. *To the end* is trials and doing what is named.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

from benchmarks.accuracy.page import FIGURES, keep, write
from benchmarks.server import HERE

WEAPONS = ("foil", "épée", "sabre")
DOCS = HERE / "docs"
MAY_LOSE = 0.01
"""How much of the share right may be lost."""
MOST_S = 3600.0
"""How long one program may take with one weapon [s]."""


def figures(checkout: Path, weapon: str, most: int | None) -> dict[str, Any]:
    """Return the figures of a checkout's program with the cases, and the players, of this one."""
    environment = {**os.environ, "PYTHONPATH": f"{checkout / 'src'}{os.pathsep}{HERE}", "OPENBLAS_NUM_THREADS": "1"}
    asked = [sys.executable, "-m", "benchmarks.speed.play", weapon, *([str(most)] if most else [])]
    told = subprocess.run(  # noqa: S603 — our own command
        asked, check=True, stdout=subprocess.PIPE, text=True, env=environment, cwd=HERE, timeout=MOST_S
    ).stdout
    found: dict[str, Any] = json.loads(told)
    return found


def main() -> None:
    """Play with both, print the figures side by side, and say whether the lines are kept."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("other", type=Path, help="a checkout of the state before")
    parser.add_argument("--cases", type=int, help="of each weapon at most; left out, all")
    parser.add_argument("--keep", action="store_true", help="write the figures onto docs/accuracy.md")
    given = parser.parse_args()
    print(f"{'':<16}{'cases':>6}{'right':>8}{'trials':>8}{'trials [s]':>12}{'to the end [s]':>16}")
    found: dict[str, dict[str, dict[str, Any]]] = {}
    for weapon in WEAPONS:
        for name, checkout in (("before", given.other.resolve()), ("now", HERE)):
            own = figures(checkout, weapon, given.cases)
            found.setdefault(weapon, {})[name] = own
            _print(f"{weapon}, {name}", own)
    whole = {name: _mean([both[name] for both in found.values()]) for name in ("before", "now")}
    for name, own in whole.items():
        _print(f"all, {name}", own)
    if given.keep:
        keep({"speed": {**found, "all": whole}}, DOCS)
        write(json.loads((DOCS / FIGURES).read_text(encoding="utf-8")), DOCS)
    slower = whole["now"]["seconds"] > whole["before"]["seconds"]
    worse = whole["now"]["right"] < whole["before"]["right"] - MAY_LOSE
    print(f"to the end: {'slower' if slower else 'no slower'} than before")
    print(f"right: {'less' if worse else 'no less'} than before − 1 point")
    if slower or worse:
        sys.exit(1)


def _print(label: str, own: dict[str, Any]) -> None:
    print(
        f"{label:<16}{own['cases']:>6}{own['right']:>8.1%}{own['trials']:>8.1f}{own['trial_s']:>12.0f}{own['seconds']:>16.0f}",
        flush=True,
    )


def _mean(each: list[dict[str, Any]]) -> dict[str, Any]:
    """Return the figures of all weapons together, each case counting once."""
    cases = sum(own["cases"] for own in each)
    shares = {key: sum(own[key] * own["cases"] for own in each) / cases for key in each[0] if key != "cases"}
    return {"cases": cases, **shares}


if __name__ == "__main__":
    main()
