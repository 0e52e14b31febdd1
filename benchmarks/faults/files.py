"""Mutated case and kit files: refused soon and in few words, or taken in with little more than an ordinary file takes.

Each file is given to the command in a copy of a process that has Foible loaded, as loading takes longer than everything else.
Time and memory are compared with the same command on what the file was made from. Those that took most, and every thirtieth,
are given to a truly fresh process as well, which tells what a user sees.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

import numpy as np

from benchmarks.faults.forked import Ran, forked, fresh, loaded
from benchmarks.faults.mutants import CASES, KIT, KIT_FOLDER, PUBLISHED, Mutant, mutant
from benchmarks.faults.row import Row

if TYPE_CHECKING:
    from collections.abc import Callable

__all__ = ["run"]

SEED = 2026
COUNTS = {"case": 1_350, "kit": 700}
SHORT = {"case": 6, "kit": 4}
EVERY = 30
MOST_S, MOST_KB = 2.0, 200_000
"""A file that is refused, in a fresh process."""
MORE_S, MORE_KB = 1.0, 50_000
"""A file that is taken in, beyond what an ordinary one takes."""
MOST_TOLD = 100_000
"""What is written, to both streams together [byte]."""
WEAPON = re.compile(rb'(?m)^weapon = "([^"]*)"')
ORDINARY = {
    "foil": PUBLISHED / "foil-valid-white-opponent-cord-a-line.toml",
    "épée": PUBLISHED / "epee-dead-spool.toml",
    "sabre": PUBLISHED / "sabre-cuff-or-mask-over-limit.toml",
}
"""An ordinary case of each weapon."""
TEST = "tests/test_faults.py::test_a_short_form_of_each_part_loses_nothing"


@dataclass
class Tally:
    """What came of the files of one kind; times count where they are `timed`, in the whole run: no test asserts a time."""

    timed: bool
    refused: int = 0
    taken: int = 0
    longest: dict[str, float] = field(default_factory=dict)
    wrong: list[str] = field(default_factory=list)

    def note(self, what: str, value: float, most: float, of: Mutant) -> None:
        """Keep the most that there was of something, and what was too much."""
        self.longest[what] = max(self.longest.get(what, 0.0), value)
        if value > most:
            self.wrong.append(f"{of}: {what} {value:.2f}, {most} at most")


class Usual:
    """What the same command takes on an ordinary file: what the mutant was made from, and a published case of its weapon."""

    def __init__(self, given: Callable[[Mutant], list[str]], folder: Path) -> None:
        self._given, self._folder = given, folder
        self._known: dict[tuple[Path, str], Ran] = {}

    def __call__(self, made: Mutant) -> tuple[float, int]:
        """Return the time and the memory [s, kB], of the dearer of the two."""
        weapon = WEAPON.search(made.data)
        word = weapon[1].decode(errors="replace") if weapon else "foil"
        ran = [self._ran(each, made) for each in (made.source, ORDINARY.get(word, made.source))]
        return max(each.seconds for each in ran), max(each.kilobytes for each in ran)

    def _ran(self, source: Path, made: Mutant) -> Ran:
        plain = Mutant(made.number, source, (), (self._folder / source).read_bytes())
        arguments = self._given(plain)
        key = (source, arguments[0])
        if key not in self._known:
            self._known[key] = forked(arguments)
        return self._known[key]


def run(*, short: bool = False) -> list[Row]:
    """Give the command every file, and return what came of it."""
    loaded()
    rows = []
    for kind, count in (SHORT if short else COUNTS).items():
        with TemporaryDirectory() as name:
            folder = Path(name)
            given = partial(_case_given if kind == "case" else _kit_given, folder)
            rows.append(_row(kind, count, _tried(kind, count, given, every=EVERY if not short else 8)))
    return rows


def _row(kind: str, count: int, tally: Tally) -> Row:
    most = tally.longest
    tried = (
        f"{count:,} files (seed {SEED}): {tally.refused:,} refused, in fresh processes in {most.get('fresh s', 0.0):.1f} s and "
        f"{most.get('fresh kB', 0.0) / 1000:.0f} MB at most; {tally.taken:,} taken in, {max(most.get('more s', 0.0), 0.0):.1f} s "
        f"and {max(most.get('more kB', 0.0), 0.0) / 1000:.0f} MB more than an ordinary file at most; "
        f"{most.get('told', 0.0) / 1000:.0f} kB told at most"
    )
    promise = f"a {kind} file that is long, deep, damaged or senseless is refused soon and in few words, or costs little more"
    return Row(promise, TEST, tried, len(tally.wrong), tuple(tally.wrong))


def _tried(kind: str, count: int, given: Callable[[Mutant], list[str]], every: int) -> Tally:
    tally = Tally(timed=count >= EVERY)
    sources, folder = (CASES, Path()) if kind == "case" else (KIT, KIT_FOLDER)
    usual = Usual(given, folder)
    costly: list[tuple[float, int]] = []

    def made_as(number: int) -> Mutant:
        return mutant(sources, number, np.random.default_rng([SEED, len(kind), number]), folder)

    for source in ORDINARY.values() if kind == "case" and count >= EVERY else ():
        forked(["diagnose", str(source)])  # what is compiled and kept on the disk is there from now on
    for number in range(count):
        made = made_as(number)
        ran = forked(given(made))
        _judge_words(ran, made, tally)
        if ran.status:
            tally.refused += 1
            costly.append((ran.seconds + ran.kilobytes / 1e6, number))
            continue
        tally.taken += 1
        plain_s, plain_kb = usual(made)
        tally.note("more s", ran.seconds - plain_s, MORE_S if tally.timed else math.inf, made)
        tally.note("more kB", ran.kilobytes - plain_kb, MORE_KB, made)
    costly.sort(key=lambda each: -each[0])
    for _, number in [*costly[: max(count // every // 2, 1)], *costly[::every]]:
        made = made_as(number)
        ran = fresh(given(made))
        _judge_words(ran, made, tally)
        tally.note("fresh s", ran.seconds, MOST_S if tally.timed else math.inf, made)
        tally.note("fresh kB", ran.kilobytes, MOST_KB, made)
    return tally


def _judge_words(ran: Ran, made: Mutant, tally: Tally) -> None:
    tally.note("told", len(ran.told.encode()), MOST_TOLD, made)
    if ran.broke:
        tally.wrong.append(f"{made}: ended with {ran.status}: {ran.told[-300:]}")
    if ran.status and not ran.told.strip():
        tally.wrong.append(f"{made}: refused without a word")
    if any(char < " " and char not in "\n\t" for char in ran.told):
        tally.wrong.append(f"{made}: an escape reaches the terminal")


def _case_given(folder: Path, made: Mutant) -> list[str]:
    """Return the command that takes a case file into records of its own; every tenth is diagnosed."""
    path = folder / "case.toml"
    path.write_bytes(made.data)
    if made.number % 10 == 0:
        return ["diagnose", str(path)]
    for old in folder.glob("records.db*"):
        old.unlink()
    return ["cases", "take", str(path), "--data", str(folder / "records.db")]


def _kit_given(folder: Path, made: Mutant) -> list[str]:
    """Return the command that reads a kit folder which holds the file in the place of Foible's own."""
    for old in (folder / "kit").rglob("*.toml"):
        old.unlink()
    path = folder / "kit" / made.source
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(made.data)
    weapon = next((word for word in ("epee", "sabre") if word in made.source.name), "foil")
    return ["kit", "--weapon", weapon, "--kit", str(folder / "kit")]
