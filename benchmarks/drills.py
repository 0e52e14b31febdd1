"""How long a drill takes to be made, warm, beside one network worked out by itself in the same run.

`python -m benchmarks.drills` makes drills of every kind about every idea at every weapon, twice: what is made first fills the
tables of what each trial shows under every fault; the second time is what somebody in the middle of a run waits for.
"""

from __future__ import annotations

import argparse
import time
from random import Random
from statistics import median

from benchmarks.client import p95
from foible.apparatus import load_profile
from foible.diagnosis import explain_lamps
from foible.kit import all_weapons, load_setup
from foible.practice.drills import drilled_ideas, one_drill, pool_of

PROMISED_MS = 100.0
"""What a drill may take, warm [ms]."""


def drills(weapon: str, each: int, seed: str) -> list[float]:
    """Return how long every drill of a weapon took [s]."""
    setup, used, taken = load_setup(weapon), set[tuple[str, ...]](), []
    for idea in drilled_ideas(weapon):
        for kind in pool_of(setup, idea).kinds:
            for number in range(each):
                rng = Random(f"{seed} {idea} {kind} {number}")  # noqa: S311 — nothing here is a secret
                began = time.perf_counter()
                made = one_drill(setup, idea, kind, rng, but=used)
                taken.append(time.perf_counter() - began)
                assert made is not None, (weapon, idea, kind)
                used.add(made.alike)
    return taken


def one_network(weapon: str, count: int) -> list[float]:
    """Return how long the lamps of one fault at rest take to be explained [s], the peer."""
    setup, taken = load_setup(weapon), []
    profile, rng = load_profile(setup.profile), Random(weapon)  # noqa: S311 — nothing here is a secret
    pool = pool_of(setup, "loop")
    for _ in range(count):
        failure, idea = rng.choice(pool.failures), rng.choice(pool.trials)
        began = time.perf_counter()
        explain_lamps(setup, profile, idea.trial.arrangement, [(failure, failure.usual_ohms)])
        taken.append(time.perf_counter() - began)
    return taken


def main() -> None:
    """Print times at the median and at the 95th percentile, and the ratio to the peer."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--each", type=int, default=8, help="drills of each kind, idea and weapon")
    each = parser.parse_args().each
    print("| weapon | drills | first, p95 [ms] | warm, median [ms] | warm, p95 [ms] | one network [ms] | warm p95 / network |")
    print("| --- | --- | --- | --- | --- | --- | --- |")
    for weapon in (known.name for known in all_weapons()):
        cold, warm = drills(weapon, each, "first"), drills(weapon, each, "second")
        peer = median(one_network(weapon, 50)) * 1000
        row = (weapon, len(warm), p95(cold), median(warm) * 1000, p95(warm), peer, p95(warm) / peer)
        print("| " + " | ".join(f"{value:.1f}" if isinstance(value, float) else str(value) for value in row) + " |")
        if p95(warm) > PROMISED_MS:
            print(f"| | more than the {PROMISED_MS:g} ms that are promised |")


if __name__ == "__main__":
    main()
