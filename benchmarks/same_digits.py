"""Whether the accuracy study comes out the same, digit for digit, here and in another checkout.

`python -m benchmarks.same_digits PATH` runs the study of each weapon in both checkouts with the same seed, two runs at a time,
and compares every number with all its digits. What is done is kept under `--keep`, by what the code of a checkout is, so that a
run that was broken off goes on where it stopped; `--weapon` and `--part` do one piece only.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import math
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from benchmarks.accuracy.world import WORLDS
from benchmarks.server import HERE, environment

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

WEAPONS = ("foil", "épée", "sabre")
PARTS = tuple(world.name for world in WORLDS)
"""The parts of the study: its worlds."""
RUN = """
import json, sys
from benchmarks.accuracy.measure import in_world
world, weapon, count, seed = sys.argv[1:]
print(json.dumps(in_world(weapon, world, int(count), int(seed)), ensure_ascii=False))
"""
MOST_S = 3600.0
"""How long one piece may take [s]."""
SHOWN = 5
"""Differences that are printed for a piece."""


@dataclass(frozen=True)
class Piece:
    """One part of the study for one weapon."""

    part: str
    weapon: str
    cases: int
    seed: int

    def run(self, checkout: Path, keep: Path) -> dict[str, Any]:
        """Return the figures of a checkout, and keep them; those kept already are read."""
        kept = keep / f"{state(checkout)}-{self.part}-{self.weapon}-{self.cases}-{self.seed}.json"
        if not kept.exists():
            start = time.perf_counter()
            asked = [sys.executable, "-c", RUN, self.part, self.weapon, str(self.cases), str(self.seed)]
            told = subprocess.run(  # noqa: S603 — our own command
                asked, check=True, stdout=subprocess.PIPE, env=environment(checkout), cwd=checkout, timeout=MOST_S
            ).stdout
            kept.with_suffix(".new").write_bytes(told)
            kept.with_suffix(".new").rename(kept)
            print(f"{checkout}: {self.part}, {self.weapon}: {time.perf_counter() - start:.0f} s", flush=True)
        figures: dict[str, Any] = json.loads(kept.read_text(encoding="utf-8"))
        return figures


def state(checkout: Path) -> str:
    """Return a word for the code of a checkout: it changes whenever anything does that the study could depend on."""
    digest = hashlib.sha256()
    for folder in ("src", "benchmarks/accuracy"):
        for path in sorted((checkout / folder).rglob("*")):
            if path.suffix in (".py", ".toml"):
                digest.update(str(path.relative_to(checkout)).encode() + b"\0" + path.read_bytes())
    return digest.hexdigest()[:12]


def numbers(figures: object, way: tuple[str, ...] = ()) -> Iterator[tuple[tuple[str, ...], float]]:
    """Yield every number of nested figures with the way to it."""
    if isinstance(figures, dict):
        for key, value in figures.items():
            yield from numbers(value, (*way, str(key)))
    elif isinstance(figures, list):
        for i, value in enumerate(figures):
            yield from numbers(value, (*way, str(i)))
    elif isinstance(figures, int | float):
        yield way, float(figures)


def compare(piece: Piece, before: object, now: object) -> bool:
    """Print how many numbers agree, and the first that do not; return whether all do."""
    first, second = dict(numbers(before)), dict(numbers(now))
    ways = list(dict.fromkeys((*first, *second)))
    gone = [way for way in ways if way not in first or way not in second]
    same = [way for way in ways if way not in gone and _same(first[way], second[way])]
    print(f"{piece.part + ', ' + piece.weapon:<24}{len(same):>6} of {len(ways)} numbers agree in every digit")
    for way in [way for way in ways if way not in same][:SHOWN]:
        print(f"    {' / '.join(way)}: {first.get(way, 'none')!r} before, {second.get(way, 'none')!r} now")
    return len(same) == len(ways)


def _same(a: float, b: float) -> bool:
    return a == b or (math.isnan(a) and math.isnan(b))


def main() -> None:
    """Run what has not been run, and compare."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("other", type=Path, help="a checkout of the state before")
    parser.add_argument("--cases", type=int, default=100, help="for each weapon and world")
    parser.add_argument("--seed", type=int, default=2026)
    parser.add_argument("--weapon", action="append", choices=WEAPONS, help="left out, all three; may be given again")
    parser.add_argument("--part", action="append", choices=PARTS, help="left out, the whole study; may be given again")
    parser.add_argument("--keep", type=Path, default=HERE / ".benchmarks" / "same_digits", help="where figures are kept")
    parser.add_argument("--at-once", type=int, default=2, help="runs at a time")
    given = parser.parse_args()
    given.keep.mkdir(parents=True, exist_ok=True)
    pieces = [Piece(part, weapon, given.cases, given.seed) for part in given.part or PARTS for weapon in given.weapon or WEAPONS]
    alike = [compare(piece, *both) for piece, both in ran(pieces, given)]
    if not all(alike):
        sys.exit("the study does not come out the same")


def ran(pieces: Sequence[Piece], given: argparse.Namespace) -> Iterator[tuple[Piece, tuple[Any, Any]]]:
    """Run pieces in both checkouts, some at a time, and yield each with its figures, before and now."""
    with ThreadPoolExecutor(given.at_once) as pool:
        jobs = [[pool.submit(piece.run, checkout, given.keep) for checkout in (given.other.resolve(), HERE)] for piece in pieces]
        try:
            for piece, (before, now) in zip(pieces, jobs, strict=True):
                yield piece, (before.result(), now.result())
        finally:
            pool.shutdown(cancel_futures=True)


if __name__ == "__main__":
    main()
