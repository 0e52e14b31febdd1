"""A lock that another program holds on the records: for a moment, which is waited for, and for longer, which is told."""

from __future__ import annotations

import sqlite3
import threading
import time
from contextlib import closing
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np

from benchmarks.faults.row import Row
from benchmarks.faults.written import Written, there

__all__ = ["run"]

ROUNDS, SHORT = 60, 2
EVERY = 10
"""Each of so many rounds holds the lock for longer than is waited."""
LONGER_S = 6.5
SEED = 2026
TEST = "tests/test_faults.py::test_a_short_form_of_each_part_loses_nothing"


def run(*, short: bool = False) -> list[Row]:
    """Hold the lock so many times, and return what was lost."""
    rounds = SHORT if short else ROUNDS
    rng = np.random.default_rng(SEED)
    wrong: list[str] = []
    long = 0
    with TemporaryDirectory() as folder:
        written = Written(Path(folder) / "records.db")
        written.answer()
        for number in range(rounds):
            held_s = LONGER_S if number % EVERY == EVERY - 1 or (short and number) else float(rng.uniform(0.05, 1.0))
            long += held_s == LONGER_S
            wrong += [f"round {number}: {each}" for each in _round(written, held_s)]
        written.close()
        found, faults = there(written.path)
    wrong += faults
    wrong += [f"the answer {token} to {case} is gone" for case, token in written.kept - found]
    wrong += [f"the answer {token} to {case} was refused, and is there" for case, token in found - written.kept]
    promise = "a lock that another program holds for a moment is waited for; one that it keeps is told, and nothing is half done"
    tried = f"{rounds} rounds, {long} of them with the lock kept for {LONGER_S} s: {len(written.kept)} answers acknowledged, "
    return [Row(promise, TEST, f"{tried}{len(written.refused)} refused", len(wrong), tuple(wrong))]


def _round(written: Written, held_s: float) -> list[str]:
    holds, done = threading.Event(), threading.Event()
    holder = threading.Thread(target=_hold, args=(written.path, held_s, holds, done))
    holder.start()
    holds.wait()
    refused = len(written.refused)
    start = time.monotonic()
    kept = written.answer()
    took = time.monotonic() - start
    wrong = []
    if kept is (held_s == LONGER_S):
        wrong.append(
            f"the lock was held for {held_s:.1f} s, and after {took:.1f} s the answer was {'kept' if kept else 'refused'}"
        )
    if not kept and "another program has held the records" not in written.refused[refused]:
        wrong.append(f"the lock is called otherwise: {written.refused[refused]}")
    holder.join()
    if not written.answer():
        wrong.append(f"with the lock free again: {written.refused[-1]}")
    return wrong


def _hold(path: Path, held_s: float, holds: threading.Event, done: threading.Event) -> None:
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        holds.set()
        done.wait(held_s)
        other.execute("ROLLBACK")
