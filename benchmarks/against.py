"""The benchmarks `updates` and `load` here and in another checkout by turns, and the ratios of their times.

`python -m benchmarks.against PATH` runs both checkouts' own benchmarks with this Python, one after the other, some rounds of
each, and prints for every time the best of its rounds and the ratio: whatever else the machine does only ever adds to a time. How
far the ratios of single rounds lie apart stands beside it, and the row that SciPy alone is timed in says what to make of them.
"""

from __future__ import annotations

import argparse
import re
import subprocess
import sys
from collections import defaultdict
from dataclasses import dataclass
from pathlib import Path

from benchmarks.server import HERE, environment

LIMIT = 1.1
"""What the times may have grown by."""
ROUNDS = {"updates": 7, "load": 3}
SECONDS = 60.0
"""How long the devices of one run of `load` work [s]."""
MOST_S = 600.0
"""How long one run may take [s]."""
LEAST_MS = 10.0
"""Shorter times are printed too coarsely for their ratio to mean anything: the tables give whole milliseconds."""
TO_MS = {"ms": 1.0, "s": 1e3}


@dataclass(frozen=True)
class Row:
    """One time of a benchmark's table: its label, and which of several in the row."""

    label: str
    column: int


def times(table: str) -> dict[Row, float]:
    """Return the times of a table [ms]; rows that are no times are left out."""
    found = {}
    for line in table.splitlines():
        label, _, value = line.rstrip().rpartition("  ")
        if timed := re.fullmatch(r"([\d., ()]+) (ms|s)", value.strip()):
            for column, number in enumerate(re.findall(r"\d+(?:\.\d+)?", timed[1])):
                found[Row(label.strip(), column)] = float(number) * TO_MS[timed[2]]
    return found


def run(name: str, checkout: Path) -> dict[Row, float]:
    """Run a benchmark of a checkout and return its times [ms]."""
    options = ["--seconds", str(SECONDS)] if name == "load" else []
    told = subprocess.run(  # noqa: S603 — our own command
        [sys.executable, "-m", f"benchmarks.{name}", *options],
        check=True,
        stdout=subprocess.PIPE,
        text=True,
        env=environment(checkout),
        cwd=checkout,
        timeout=MOST_S,
    ).stdout
    if lost := re.search(r"answers lost +([1-9]\d*)", told):
        print(f"{checkout}: {lost[0]}")
    return times(told)


def compared(name: str, other: Path, rounds: int) -> bool:
    """Run a benchmark by turns, print the times of both checkouts, and return whether none has grown beyond the limit."""
    before: defaultdict[Row, list[float]] = defaultdict(list)
    now: defaultdict[Row, list[float]] = defaultdict(list)
    for number in range(rounds):
        turns = [(other, before), (HERE, now)]
        for checkout, found in turns if number % 2 == 0 else reversed(turns):
            for row, took in run(name, checkout).items():
                found[row].append(took)
    print(f"{name}, best of {rounds} rounds{'':<45}{'before [ms]':>12}{'now [ms]':>12}{'ratio':>8}{'rounds':>14}")
    grown = []
    for row in now:
        if row not in before:
            print(f"{_named(row):<68}{'not measured before':>46}")
            continue
        ratio = min(now[row]) / max(min(before[row]), 1e-9)
        single = [b / max(a, 1e-9) for a, b in zip(before[row], now[row], strict=True)]
        short = min(before[row]) < LEAST_MS
        mark = "" if ratio <= LIMIT else " (short)" if short else " *"
        if mark == " *":
            grown.append(row)
        spread = f"{min(single):.2f}–{max(single):.2f}"
        print(f"{_named(row):<68}{min(before[row]):>12.1f}{min(now[row]):>12.1f}{ratio:>8.2f}{spread:>14}{mark}")
    for row in before:
        if row not in now:
            print(f"{_named(row):<68}{'not measured now':>46}")
    print(f"{name}: {len(grown)} times of {len(now)} have grown beyond {LIMIT} × (*)\n")
    return not grown


def _named(row: Row) -> str:
    return row.label[:63] + (f" [{row.column + 1}]" if row.column else "")


def main() -> None:
    """Run both benchmarks in both checkouts."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("other", type=Path, help="a checkout of the state before")
    parser.add_argument("--only", choices=tuple(ROUNDS), help="one benchmark alone")
    parser.add_argument("--rounds", type=int, help="left out, 7 of updates and 3 of load")
    given = parser.parse_args()
    names = [given.only] if given.only else list(ROUNDS)
    kept_up = [compared(name, given.other.resolve(), given.rounds or ROUNDS[name]) for name in names]
    if not all(kept_up):
        sys.exit("something has become slower")


if __name__ == "__main__":
    main()
