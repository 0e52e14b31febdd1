"""Fifty devices at work at once: how long an answer takes until it is kept, and until its page is redrawn; what is lost.

`python -m benchmarks.load` starts the server on a database of its own and lets fifty devices, each with a case of its own, make
the trials that are offered and answer them: a draw from what each lamp does with a fault of their own. Between two answers a
device takes the time that the trial takes (as the catalogue has it) and a little to look and to touch. Then all fifty answer at
one moment. Times are of this machine in this run; the peer is a page without reasoning, asked for at the same time.
"""

from __future__ import annotations

import argparse
import asyncio
import re
import secrets
import time
from dataclasses import dataclass, field
from html import unescape

import httpx
import numpy as np

from benchmarks.server import served
from foible.apparatus import load_profile
from foible.diagnosis import explain
from foible.kit import SIDES, Failure, Setup, load_setup
from foible.trials import Idea, load_catalogue, load_complaints, report_key

WEAPONS = {"foil": "foil", "epee": "épée", "sabre": "sabre"}
LOOKING_S = (1.5, 4.0)
"""What it takes to look at the lamps and touch them, from and to [s]; judgement, no source."""
LIT = 0.5
KEPT_OPEN = httpx.Limits(max_connections=2, keepalive_expiry=300)
"""As browsers do: lines stay open between two requests."""
WARMING_S = 40.0
"""Until every process of the server has worked out beforehand what it can [s]."""


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
            self.shown[key] = self._answer(self.ideas[say], failure)
        return self.shown[key]

    def _answer(self, idea: Idea, failure: Failure) -> dict[str, str]:
        match report_key(idea):
            case "found":
                looked = {failure.part, failure.item} & set(idea.trial.examine)
                return {"found": next(iter(failure.signs)) if looked and failure.signs else "fine"}
            case "saw":
                there = [] if failure.item in idea.trial.swapped else [(failure, failure.ladder[-1][0])]
                shown = explain(self.setup, load_profile(self.setup.profile), idea.trial.arrangement, there)
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

    client: httpx.AsyncClient
    kit: Kit
    failure: Failure
    rng: np.random.Generator
    case: str = ""
    page: str = ""
    csrf: str = ""
    sent: int = 0
    taken: list[float] = field(default_factory=list)
    """How long each answer took until it was kept and acknowledged [s]."""
    times: list[float] = field(default_factory=list)
    """How long each answer took until the page was redrawn [s]."""

    async def begin(self, word: str) -> None:
        """Open a case from a complaint."""
        complaints = load_complaints(self.kit.setup, SIDES[0])
        new = (await self.client.get(f"/new/{word}")).text
        say = complaints[int(self.rng.integers(len(complaints)))].say
        side = SIDES[int(self.rng.integers(2))]
        self.csrf = re.findall(r'name="csrf" value="([^"]*)"', new)[0]
        opened = await self.client.post(
            f"/new/{word}", data={"csrf": self.csrf, "token": secrets.token_hex(8), "say": say, "side": side}
        )
        self.case = opened.headers["location"]
        self.page = (await self.client.get(self.case)).text

    async def answer(self) -> None:
        """Answer the trial that is offered, and note how long it took until the page was redrawn."""
        found = re.search(r'name="say" value="([^"]*)"', self.page)
        say = unescape(found[1]) if found else next(iter(self.kit.ideas))  # where nothing tells more, the strip at rest again
        fields = self.kit.answer(say, self.failure)
        start = time.perf_counter()
        answered = await self.client.post(
            f"{self.case}/answer",
            data={"csrf": self.csrf, "token": f"answer-{self.sent}", "say": say, **fields},
            headers={"HX-Request": "true"},
        )
        self.taken.append(time.perf_counter() - start)
        answered.raise_for_status()
        self.sent += 1
        drawn = await self.client.get(self.case, headers={"HX-Request": "true"})
        self.times.append(time.perf_counter() - start)
        drawn.raise_for_status()
        self.page = drawn.text

    def pause(self) -> float:
        """Return how long the next trial takes until it is answered [s]."""
        found = re.search(r'name="say" value="([^"]*)"', self.page)
        seconds = self.kit.ideas[unescape(found[1])].seconds if found else 3.0
        return min(seconds, 30.0) + float(self.rng.uniform(*LOOKING_S))


async def run(base: str, devices: int, seconds: float, seed: int) -> None:
    """Let devices work for some seconds, then all at one moment; print what it took."""
    kits = {}
    for word, weapon in WEAPONS.items():
        setup = load_setup(weapon)
        kits[word] = Kit(setup, {idea.say: idea for idea in load_catalogue(setup) if idea.item is None})
    async with httpx.AsyncClient(base_url=base, timeout=60) as plain:
        made = []
        for number in range(devices):
            word = list(WEAPONS)[number % 3]
            rng = np.random.default_rng([seed, number])
            known = [f for f in kits[word].setup.failures.values() if f.raises and kits[word].setup.items[f.item].side]
            client = httpx.AsyncClient(base_url=base, timeout=60, limits=KEPT_OPEN)
            device = Device(client, kits[word], known[int(rng.integers(len(known)))], rng)
            await device.begin(word)
            made.append(device)
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
        paced = [t for device in made for t in device.times]
        taken = [t for device in made for t in device.taken]
        start = time.perf_counter()
        await asyncio.gather(*(device.answer() for device in made))
        burst = time.perf_counter() - start
        at_once = [device.taken[-1] for device in made]
        lost = 0
        for device in made:
            kept = (await device.client.get(f"/api{device.case}")).json()
            lost += 1 + device.sent - sum(entry["kind"] == "trial" for entry in kept["entries"])
            await device.client.aclose()
    _print(devices, seconds, taken, paced, peer, at_once, burst, lost)


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
