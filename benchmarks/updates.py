"""Times of what a user waits for: the first answer, an update after a further trial, the start of the command.

`python benchmarks/updates.py` prints a table. Times are of this machine in this run; the peer of the update is the solving of the
same trial's networks one by one with SciPy's sparse direct solver.
"""

from __future__ import annotations

import subprocess
import sys
import time
from dataclasses import replace
from itertools import count as counter
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from scipy.sparse import csr_matrix
from scipy.sparse.linalg import spsolve

from foible.apparatus import TERMINALS, load_profile
from foible.diagnosis import Reasoner
from foible.diagnosis.shown.effects import edits, failed_network
from foible.kit import load_setup
from foible.services.reasoning import Reasoning
from foible.trials import TrialTable, arranged, load_catalogue, read_trial

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from foible.circuit import Network

CASE = Path(__file__).parent.parent / "examples" / "published" / "foil-valid-white-opponent-cord-a-line.toml"
COMMAND = [sys.executable, "-m", "foible", "diagnose", str(CASE)]
SAMPLE = 40
"""Networks that the peer solves; its time is scaled to all of them."""


def best(work: Callable[[], object], repeats: int = 5) -> float:
    """Return the shortest of some runs [s]."""
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return min(times)


def direct(network: Network) -> float:
    """Solve one network by SciPy: the resistance from line B to line C of the left [Ω]; 1e-12 S to earth keeps it regular."""
    index = {node: i for i, node in enumerate(n for n in network.nodes if n != TERMINALS[2])}
    matrix = np.zeros((len(index), len(index)))
    for branch in network.branches:
        a, b = index.get(branch.a), index.get(branch.b)
        for i, j in ((a, b), (b, a)):
            if i is not None:
                matrix[i, i] += 1 / branch.ohms
                if j is not None:
                    matrix[i, j] -= 1 / branch.ohms
    matrix += 1e-12 * np.eye(len(index))
    current = np.zeros(len(index))
    current[index[TERMINALS[1]]] = 1
    return float(spsolve(csr_matrix(matrix), current)[index[TERMINALS[1]]])


METER = CASE.with_name("foil-meter-wire-side-unstable.toml")


LATER: dict[str, list[dict[str, object]]] = {
    "foil": [
        {"press": "left", "on": "right lamé front"},
        {"press": "right", "on": "left weapon guard"},
        {"unplugged": ("left weapon plug",)},
        {"press": "left", "on": "right lamé front", "touching": ("left weapon blade", "right lamé front")},
    ],
    "épée": [{"press": "left", "on": "right weapon guard"}, {"press": "right"}, {"unplugged": ("left reel plug",)}],
    "sabre": [
        {"cut": "left", "on": "right lamé front"},
        {"cut": "right", "on": "left lamé front"},
        {"unplugged": ("left weapon plug",)},
    ],
}
"""Trials that follow the first one, each in an arrangement not seen before."""


def weapons() -> list[tuple[str, str]]:
    """Return for each weapon the times of the first answer and of updates with all pairs, and of one with meter readings."""
    return [row for weapon in LATER for row in first_answers(weapon)] + meter_readings()


def first_answers(weapon: str) -> Iterator[tuple[str, str]]:
    """Yield the times of a weapon's first answers, each in an arrangement not seen before, and of the last one again."""
    setup = load_setup(weapon)
    trials = [read_trial(setup, TrialTable(saw=("left nothing",)))[0]]
    start = time.perf_counter()
    reasoner = Reasoner(setup, load_profile(setup.profile), ideas=load_catalogue(setup))
    reasoner.decide(reasoner.find(trials))
    reasoner.prepare()
    first = time.perf_counter() - start
    count = len(reasoner.hypotheses)
    pairs = count * (count - 1) // 2
    yield f"{weapon}: first update and choice, {count:,} hypotheses, {pairs:,} pairs", f"{first * 1e3:.0f} ms"
    for table in LATER[weapon]:
        trials.append(read_trial(setup, TrialTable.model_validate({**table, "saw": ("left nothing",)}))[0])
        start = time.perf_counter()
        finding = reasoner.find(trials)
        found = time.perf_counter() - start
        reasoner.decide(finding, made=trials)
        whole = time.perf_counter() - start
        label = f"{weapon}: trial {len(trials)}, new arrangement, with pairs (and choice)"
        yield label, f"{found * 1e3:.0f} ({whole * 1e3:.0f}) ms"
    again = best(lambda: reasoner.decide(reasoner.find(trials)))
    yield f"{weapon}: the same trials again", f"{again * 1e3:.0f} ms"


def meter_readings() -> list[tuple[str, str]]:
    """Return the times of an update with the readings of a meter, when they are new and when they come again."""
    case = Reasoning().case(METER)
    reasoner = Reasoner(case.setup, case.profile, ideas=load_catalogue(case.setup))
    reasoner.decide(reasoner.find(()))
    start = time.perf_counter()
    reasoner.decide(reasoner.find(case.trials))
    first = time.perf_counter() - start
    update = best(lambda: reasoner.decide(reasoner.find(case.trials)))
    label = f"update and choice after {len(case.trials)} meter readings"
    return [(f"{label}, new", f"{first * 1e3:.1f} ms"), (f"{label}, again", f"{update * 1e3:.1f} ms")]


def main() -> None:
    """Measure and print."""
    reasoning = Reasoning()
    case = reasoning.case(CASE)
    ideas = load_catalogue(case.setup)
    start = time.perf_counter()
    reasoner = Reasoner(case.setup, case.profile, ideas=ideas)
    reasoner.decide(reasoner.find(case.trials))
    first = time.perf_counter() - start
    number = counter()
    update = best(lambda: reasoner.find([replace(trial, note=str(next(number))) for trial in case.trials]))
    finding = reasoner.find(case.trials)
    choice = best(lambda: reasoner.decide(finding))
    fresh = case.trials[-1].arrangement
    unseen = best(lambda: Reasoner(case.setup, case.profile).dictionary.solve(fresh))
    base = arranged(case.setup, fresh).network(case.setup.network)
    columns = reasoner.hypotheses.columns
    chosen = [columns[i] for i in np.linspace(0, len(columns) - 1, SAMPLE).astype(int)]
    peer = best(lambda: [direct(failed_network(base, edits(case.setup, *entry))) for entry in chosen], repeats=1)
    command = best(lambda: subprocess.run(COMMAND, check=True, stdout=subprocess.DEVNULL), 3)  # noqa: S603 — our own command
    rows = [
        ("hypotheses", f"{len(reasoner.hypotheses):,}"),
        ("trials to choose from", str(len(ideas))),
        ("first update and choice", f"{first * 1e3:.0f} ms"),
        (f"update ({len(case.trials)} trials)", f"{update * 1e3:.1f} ms"),
        ("choice of the next trial", f"{choice * 1e3:.1f} ms"),
        ("update and choice", f"{(update + choice) * 1e3:.1f} ms"),
        (f"an arrangement not seen before ({len(columns):,} failed networks)", f"{unseen * 1e3:.1f} ms"),
        ("the same, one by one with SciPy", f"{peer * len(columns) / SAMPLE * 1e3:.0f} ms"),
        ("ratio", f"{peer * len(columns) / SAMPLE / unseen:.0f} ×"),
        ("start of the command to the end of its table", f"{command:.2f} s"),
        *weapons(),
    ]
    for label, value in rows:
        print(f"{label:<64} {value:>10}")


if __name__ == "__main__":
    main()
