"""Fifty devices at work at once: how long an answer takes until it is kept, and until its page is redrawn; what is lost.

`python -m benchmarks.load` starts the server on a database of its own and lets fifty devices, each with a case of its own, make
the trials that are offered and answer them: a draw from what each lamp does with a fault of their own. Between two answers a
device takes the time that the trial takes (as the catalogue has it) and a little to look and to touch. Then all fifty answer at
one moment. Times are of this machine in this run; the peer is a page without reasoning, asked for at the same time.
"""

from __future__ import annotations

import argparse
import asyncio
import gzip
import re
import time
from dataclasses import dataclass, field
from html import unescape
from typing import TYPE_CHECKING

import httpx
import numpy as np

from benchmarks.client import WEAPONS, Line, Phone
from benchmarks.server import served
from foible.apparatus import load_profile
from foible.diagnosis import exchange_named, explain_lamps
from foible.kit import SIDES, Failure, Setup, load_setup
from foible.trials import Idea, load_catalogue, load_complaints, report_key

if TYPE_CHECKING:
    from collections.abc import AsyncIterator, Sequence

LOOKING_S = (1.5, 4.0)
"""What it takes to look at the lamps and touch them, from and to [s]; judgement, no source."""
EXCHANGING_S = 20.0
"""What an exchange takes, less than the kit says [s]; judgement, no source."""
LIT = 0.5
AT_HAND = {"spare"}
"""What a case at the piste has at hand, where nothing else is said."""
WARMING_S = 20.0
"""Until every process of the server has worked out beforehand what it can [s]; the devices' answers take as long again."""


@dataclass
class Kit:
    """One weapon's set-up, for all devices that have it."""

    setup: Setup
    ideas: dict[str, Idea]
    shown: dict[tuple[str, str], dict[str, str]] = field(default_factory=dict)

    def answer(self, say: str, failure: Failure) -> dict[str, str]:
        """Return the fields of the form that a trial would be answered by."""
        key = (say, failure.id)
        if key not in self.shown:
            self.shown[key] = self._answer(self.read(say), failure)
        return self.shown[key]

    def knows(self, say: str) -> bool:
        """Return whether a trial can be answered: it is one of the strip, with or without an exchange before it."""
        return say in self.ideas or exchange_named(self.setup, say, self.ideas) is not None

    def read(self, say: str) -> Idea:
        """Return the trial that a sentence asks for. Raises KeyError."""
        return exchange_named(self.setup, say, self.ideas) or self.ideas[say]

    def seconds(self, say: str) -> float:
        """Return how long a trial takes [s]; an exchange as long as `EXCHANGING_S`, so that the load is no lighter for it."""
        idea = self.read(say)
        slower = sum((self.setup.items[item].exchange_s or 0.0) - EXCHANGING_S for item in idea.trial.swapped)
        return idea.seconds - slower

    def _answer(self, idea: Idea, failure: Failure) -> dict[str, str]:
        match report_key(idea):
            case "found":
                looked = {failure.part, failure.item} & set(idea.trial.examine)
                return {"found": next(iter(failure.signs)) if looked and failure.signs else "fine"}
            case "saw":
                there = [] if failure.item in idea.trial.swapped else [(failure, failure.ladder[-1][0])]
                shown = explain_lamps(self.setup, load_profile(self.setup.profile), idea.trial.arrangement, there)
                names = {
                    "white": "white",
                    "coloured": "coloured",
                    "yellow": "orange" if self.setup.weapon == "épée" else "yellow",
                }
                return {f"{side}_{names[lamp]}": "steady" for side in SIDES for lamp, p in shown[side].lamps.items() if p > LIT}
            case key:
                msg = f"a trial at the piste is not answered by “{key}”"
                raise ValueError(msg)


@dataclass
class Device:
    """One phone with one case."""

    kit: Kit
    failure: Failure
    rng: np.random.Generator
    line: Line = field(init=False)
    case: str = ""
    say: str = ""
    """The trial that is offered; empty where nothing tells more."""
    csrf: str = ""
    sent: int = 0
    taken: list[float] = field(default_factory=list)
    """How long each answer took until it was kept and acknowledged [s]."""
    times: list[float] = field(default_factory=list)
    """How long each answer took until the page was redrawn [s]."""

    def prepare(self) -> None:
        """Work out beforehand what every trial at the piste would show, so that the devices take no time from the server."""
        for idea in self.kit.ideas.values():
            if set(idea.needs) <= AT_HAND:
                self.kit.answer(idea.say, self.failure)

    async def begin(self, base: str, word: str) -> None:
        """Open a case from a complaint."""
        complaints = load_complaints(self.kit.setup, SIDES[0])
        phone = await Phone.met(base)
        say = complaints[int(self.rng.integers(len(complaints)))].say
        self.case = await phone.send(f"/new/{word}", say=say, side=SIDES[int(self.rng.integers(2))])
        self.csrf, self.line = phone.csrf, await phone.line()
        self._look(await self.line.ask(self.case))

    async def answer(self) -> None:
        """Answer the trial that is offered, and note how long it took until the page was redrawn."""
        say = self.say or next(iter(self.kit.ideas))  # where nothing tells more, the strip at rest again
        fields = {"csrf": self.csrf, "token": f"answer-{self.sent}", "say": say, **self.kit.answer(say, self.failure)}
        start = time.perf_counter()
        await self.line.ask(f"{self.case}/answer", fields)
        self.taken.append(time.perf_counter() - start)
        self.sent += 1
        drawn = await self.line.ask(self.case)
        self.times.append(time.perf_counter() - start)
        self._look(drawn)

    def _look(self, page: bytes) -> None:
        found = re.search(r'name="say" value="([^"]*)"', gzip.decompress(page).decode())
        say = unescape(found[1]) if found else ""
        self.say = say if self.kit.knows(say) else ""

    def pause(self) -> float:
        """Return how long the next trial takes until it is answered [s]."""
        seconds = self.kit.seconds(self.say) if self.say else 3.0
        return min(seconds, 30.0) + float(self.rng.uniform(*LOOKING_S))


async def run(base: str, devices: int, seconds: float, seed: int) -> None:
    """Let devices work for some seconds, then all at one moment; print what it took."""
    async with httpx.AsyncClient(base_url=base, timeout=60) as plain:
        made = [device async for device in begun(base, devices, seed)]
        peer = await paced(plain, made, seconds)
        times = [t for device in made for t in device.times]
        taken = [t for device in made for t in device.taken]
        start = time.perf_counter()
        await asyncio.gather(*(device.answer() for device in made))
        burst = time.perf_counter() - start
        at_once = [device.taken[-1] for device in made]
        lost = 0
        for device in made:
            kept = (await plain.get(f"/api{device.case}")).json()
            lost += 1 + device.sent - sum(entry["kind"] == "trial" for entry in kept["entries"])
            device.line.close()
    _print(devices, seconds, taken, times, peer, at_once, burst, lost)


async def begun(base: str, devices: int, seed: int) -> AsyncIterator[Device]:
    """Yield devices, each with a failure of its own and a case begun, all weapons in turn."""
    kits = {}
    for word, weapon in WEAPONS.items():
        setup = load_setup(weapon)
        kits[word] = Kit(setup, {idea.say: idea for idea in load_catalogue(setup) if idea.item is None})
    for number in range(devices):
        word = list(WEAPONS)[number % 3]
        rng = np.random.default_rng([seed, number])
        known = [f for f in kits[word].setup.failures.values() if f.raises and kits[word].setup.items[f.item].side]
        device = Device(kits[word], known[int(rng.integers(len(known)))], rng)
        device.prepare()
        await device.begin(base, word)
        yield device


async def paced(plain: httpx.AsyncClient, made: Sequence[Device], seconds: float) -> list[float]:
    """Let devices work at their own pace for some seconds; return what a page without reasoning took meanwhile [s]."""
    peer: list[float] = []
    end = time.perf_counter() + seconds

    async def work(device: Device) -> None:
        await asyncio.sleep(float(device.rng.uniform(0, 8)))
        while time.perf_counter() < end:
            await device.answer()
            await asyncio.sleep(device.pause())

    async def watch() -> None:
        while time.perf_counter() < end:
            start = time.perf_counter()
            (await plain.get("/help")).raise_for_status()
            peer.append(time.perf_counter() - start)
            await asyncio.sleep(0.5)

    await asyncio.gather(watch(), *(work(device) for device in made))
    return peer


def _print(  # noqa: PLR0913, PLR0917 — one for each row of the table
    devices: int,
    seconds: float,
    taken: list[float],
    paced: list[float],
    peer: list[float],
    at_once: list[float],
    burst: float,
    lost: int,
) -> None:
    def quantiles(times: list[float]) -> str:
        return ", ".join(f"{1e3 * float(np.quantile(times, q)):.0f}" for q in (0.5, 0.95, 0.99)) + " ms"

    rows = [
        ("devices", f"{devices}"),
        ("answers", f"{len(paced)} in {seconds:.0f} s, {len(paced) / seconds:.1f} a second"),
        ("an answer, kept and acknowledged: median, p95, p99", quantiles(taken)),
        ("an answer, redrawn: median, p95, p99", quantiles(paced)),
        ("a page without reasoning meanwhile: median, p95, p99", quantiles(peer)),
        ("ratio of the p95 of keeping and that page", f"{np.quantile(taken, 0.95) / np.quantile(peer, 0.95):.1f} ×"),
        ("all devices at one moment, kept: median, p95, p99", quantiles(at_once)),
        ("all devices at one moment: the last redrawn after", f"{burst:.2f} s"),
        ("answers lost", f"{lost}"),
    ]
    for label, value in rows:
        print(f"{label:<56}{value:>30}")


def main() -> None:
    """Start a server and measure."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--devices", type=int, default=50)
    parser.add_argument("--seconds", type=float, default=90.0)
    parser.add_argument("--seed", type=int, default=2026)
    given = parser.parse_args()
    with served("--share", warming_s=WARMING_S) as base:
        asyncio.run(run(base, given.devices, given.seconds, given.seed))


if __name__ == "__main__":
    main()
