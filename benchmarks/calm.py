"""How long a style sheet and the start page take while boards are reasoned about that nobody has seen yet.

`python -m benchmarks.calm` opens cases, stops the server and starts it again, so that its caches are cold. Then several devices
open the cases' pages at once, and meanwhile a style sheet and the start page are asked for at fixed moments. The peer is the same
in the same server when it is idle. `--checkout` measures another checkout's server.
"""

from __future__ import annotations

import argparse
import asyncio
import re
import tempfile
import time
from pathlib import Path
from statistics import median

import httpx

from benchmarks.client import WEAPONS, Phone, Stream, milliseconds, p95
from benchmarks.server import HERE, served

DEVICES = 4
EVERY_S = 0.1
ITEMS = ("left weapon", "right cord", "left reel", "right floor cable")
"""What lies on the bench in some of the cases; each is a table of its own to be worked out."""
LIMIT_MS = 50.0
COMPILING_S = 600.0
"""How long the first pages may take, which compile where nothing has been compiled yet [s]."""
MOST_S = 120.0
"""How long all pages together may take [s]."""
IDLE_S = 5.0
SETTLING_S = 20.0
"""Until the server has worked out beforehand what it can [s]."""


async def opened(base: str) -> list[str]:
    """Open the cases, reason about one page of each weapon, so that all is compiled, and return the addresses of the others."""
    phone = await Phone.met(base)
    cases = []
    async with httpx.AsyncClient(base_url=base, headers={"Cookie": phone.cookie}, timeout=COMPILING_S) as client:
        for word, weapon in WEAPONS.items():
            says = (await client.get(f"/api/weapons/{weapon}/complaints")).raise_for_status().json()
            first = await phone.send(f"/new/{word}", say=says[0], side="right")
            (await client.get(first)).raise_for_status()
            for number, say in enumerate(says):
                case = await phone.send(f"/new/{word}", say=say, side="left")
                if number < len(ITEMS):
                    await phone.send(f"{case}/place", place="bench", item=ITEMS[number], tool="meter")
                cases.append(case)
    return cases


async def cold(base: str, cases: list[str]) -> tuple[Stream, Stream, list[float]]:
    """Return the times of the style sheet and of the start page while all pages of cases are opened, and theirs [s]."""
    phone = await Phone.met(base)
    sheet, start = await streams(phone)
    todo, boards = list(cases), []

    async def open_pages() -> None:
        line = await phone.line()
        while todo:
            case, begun = todo.pop(0), time.perf_counter()
            await line.ask(case)
            boards.append(time.perf_counter() - begun)
        line.close()

    async with asyncio.timeout(MOST_S):
        pages = asyncio.gather(*(open_pages() for _ in range(DEVICES)))
        await asyncio.gather(pages, *(stream.run(lambda: not pages.done()) for stream in (sheet, start)))
    return sheet, start, boards


async def idle(base: str) -> tuple[Stream, Stream]:
    """Return the times of the style sheet and of the start page when nobody asks for anything else."""
    sheet, start = await streams(await Phone.met(base))
    end = time.perf_counter() + IDLE_S
    await asyncio.gather(*(stream.run(lambda: time.perf_counter() < end) for stream in (sheet, start)))
    return sheet, start


async def streams(phone: Phone) -> tuple[Stream, Stream]:
    """Return requests for the style sheet that the start page names, and for the start page."""
    async with httpx.AsyncClient(base_url=phone.base, headers={"Cookie": phone.cookie}, timeout=60) as client:
        home = (await client.get("/")).raise_for_status().text
    address = re.findall(r'href="(/static/[^"]+\.css[^"]*)"', home)[0]
    return Stream(phone, address, EVERY_S), Stream(phone, "/", EVERY_S)


def main() -> None:
    """Start servers and measure."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--checkout", type=Path, default=HERE, help="the checkout whose server is measured")
    parser.add_argument("--workers", type=int, default=1)
    given = parser.parse_args()
    options = ["--workers", str(given.workers)]
    checkout = given.checkout.resolve()
    with tempfile.TemporaryDirectory() as folder:
        data = f"{folder}/cases.db"
        with served(*options, data=data, checkout=checkout) as base:
            cases = asyncio.run(opened(base))
        with served(*options, data=data, checkout=checkout) as base:
            sheet, start, boards = asyncio.run(cold(base, cases))
            time.sleep(SETTLING_S)
            quiet_sheet, quiet_start = asyncio.run(idle(base))
    print(f"{'[ms]':<44}{'median':>10}{'p95':>10}{'longest':>10}")
    for label, stream in [
        ("style sheet, boards reasoned about meanwhile", sheet),
        ("start page, boards reasoned about meanwhile", start),
        ("style sheet, idle", quiet_sheet),
        ("start page, idle", quiet_start),
    ]:
        print(f"{label:<44}{milliseconds(stream.times)}")
    for label, stream, quiet in [("style sheet", sheet, quiet_sheet), ("start page", start, quiet_start)]:
        ratio = p95(stream.times) / p95(quiet.times)
        verdict = "met" if p95(stream.times) <= LIMIT_MS else "not met"
        print(f"{label}: p95 {ratio:.1f} × that of an idle server; at most {LIMIT_MS:.0f} ms is {verdict}")
    print(
        f"{len(boards)} boards never seen before, {DEVICES} at once: median {median(boards):.2f} s, longest {max(boards):.2f} s"
    )


if __name__ == "__main__":
    main()
