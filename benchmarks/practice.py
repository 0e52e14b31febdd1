"""How long a trial on the practice strip takes to be answered, and the talk after ten: `python -m benchmarks.practice`.

Somebody who practises makes ten trials at random, thinks between two of them, and asks for the talk. Times are of whole pages,
fetched from a server of their own in this run; the peer is the help page, which reasons about nothing.
"""

from __future__ import annotations

import random
import re
import time
from statistics import median
from typing import TYPE_CHECKING
from urllib.request import urlopen

from benchmarks.cpu import load_average
from benchmarks.server import served

if TYPE_CHECKING:
    from collections.abc import Sequence

WARMING_S = 60.0
"""Until the server has worked out ahead of time what it can [s]."""
THINKS_S = 5.0
"""How long somebody thinks before each trial; judgement, no source [s]."""
TRIALS, ATTEMPTS = 10, 2
WEAPONS = ("foil", "epee", "sabre")
TRIAL = re.compile(r"did=([\w-]*t\d+)(?=[&\"'#])")


def main() -> None:
    """Print the median and the longest time of trials and talks, beside the peer's."""
    chance = random.Random(2026)  # noqa: S311 — nothing secret
    print(load_average())
    with served(warming_s=WARMING_S) as base:
        peer = median(_took(f"{base}/help")[0] for _ in range(20))
        print(f"help (the peer): {peer:.0f} ms")
        for weapon in WEAPONS:
            trials: list[float] = []
            talks: list[float] = []
            for number in range(1, ATTEMPTS + 1):
                made, talk = _attempt(f"{base}/practice/strip/{weapon}/steady/{number}", chance)
                trials += made
                talks.append(talk)
            print(f"{weapon}: a trial {_told(trials, peer)}; the talk {_told(talks, peer)}")
    print(load_average())


def _attempt(strip: str, chance: random.Random) -> tuple[list[float], float]:
    """Return the times of ten trials and of the talk after them [ms]."""
    did, times = "", []
    _, page = _took(strip)
    for _ in range(TRIALS):
        time.sleep(THINKS_S)
        did = chance.choice(sorted({each for each in TRIAL.findall(page) if each != did}))
        took, page = _took(f"{strip}?did={did}")
        times.append(took)
    time.sleep(THINKS_S)
    return times, _took(f"{strip}/talk?did={did}")[0]


def _took(address: str) -> tuple[float, str]:
    start = time.perf_counter()
    with urlopen(address) as answer:  # noqa: S310 — our own server
        page = answer.read().decode()
    return 1000 * (time.perf_counter() - start), page


def _told(times: Sequence[float], peer: float) -> str:
    return (
        f"median {median(times):.0f} ms ({median(times) / peer:.1f} times the peer), longest {max(times):.0f} ms of {len(times)}"
    )


if __name__ == "__main__":
    main()
