"""Run every part of the fault runs, or one: `python -m benchmarks.faults [PART]`."""

from __future__ import annotations

import argparse
import sys
import time
from datetime import UTC, datetime
from importlib import import_module
from importlib.util import find_spec
from typing import TYPE_CHECKING

from benchmarks.faults.page import keep

if TYPE_CHECKING:
    from benchmarks.faults.row import Row

PARTS = tuple(
    part
    for part in ("killed", "full", "locked", "damaged", "files", "made_up", "connections", "guessing")
    if find_spec(f"benchmarks.faults.{part}")
)


def main() -> None:
    """Run what is asked for; end with 1 where anything was lost."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("part", nargs="?", choices=PARTS, help="one part alone")
    parser.add_argument("--short", action="store_true", help="few rounds; nothing is written to docs/reliability.md")
    given = parser.parse_args()
    lost = 0
    for part in [given.part] if given.part else PARTS:
        start = time.perf_counter()
        rows: list[Row] = import_module(f"benchmarks.faults.{part}").run(short=given.short)
        seconds = time.perf_counter() - start
        for row in rows:
            print(f"{row.promise}\n    {row.tried}\n    lost: {row.lost}", flush=True)
            for told in row.told:
                print(f"    {told}", flush=True)
        lost += sum(row.lost for row in rows)
        if not given.short:
            keep(part, rows, day=f"{datetime.now(UTC):%Y-%m-%d}", seconds=seconds)
    print(f"lost in all: {lost}")
    sys.exit(1 if lost else 0)


if __name__ == "__main__":
    main()
