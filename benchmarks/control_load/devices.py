"""Fencers and their kit made in a database, and devices that test it at stations as pages have it."""

from __future__ import annotations

import asyncio
import gzip
import re
import time
from dataclasses import dataclass, field
from datetime import UTC, datetime
from functools import partial
from html import unescape
from typing import TYPE_CHECKING

import httpx

from benchmarks.client import Phone
from foible.records import Database
from foible.records.control import NewHandedIn, StationDoes, items_at, open_station
from foible.records.people import NewPerson
from foible.records.register import RegisterStore
from foible.records.trail import Who
from foible.services.control.competition import open_competition, usual
from foible.services.control.handing import enter_fencer, take_in

if TYPE_CHECKING:
    from collections.abc import Iterable

    import numpy as np

    from benchmarks.client import Line
    from foible.records.register import Turn

__all__ = ["STATIONS", "Device", "made"]

HANDED_IN = (
    (("weapon", "foil"), ("weapon", "foil"), ("cord", "foil"), ("cord", "foil"), ("lamé", "foil"), ("mask", "foil")),
    (("weapon", "épée"), ("weapon", "épée"), ("weapon", "épée"), ("cord", "épée"), ("cord", "épée"), ("mask", "épée")),
    (("weapon", "sabre"), ("weapon", "sabre"), ("cord", "sabre"), ("lamé", "sabre"), ("mask", "sabre"), ("cuff", "sabre")),
)
"""What fencers hand in, one weapon after the other: six items each."""
STATIONS = (StationDoes.DIMENSIONS, StationDoes.ELECTRICS, StationDoes.ELECTRICS, StationDoes.MARKS)
"""Four stations; six devices stand at them, two at each of electrics."""
AT_STATION = (0, 1, 1, 2, 2, 3)
LOST = (ConnectionError, asyncio.IncompleteReadError, httpx.HTTPError, OSError)
"""What a device sees of a process that was killed."""
AGAIN_S = 0.3
"""How long a device waits until it sends again what nobody acknowledged [s]."""


def made(url: str, fencers: int) -> list[int]:
    """Make a competition with its stations, fencers and items; return the ids of the stations."""
    database = Database(url)
    store = RegisterStore(database, clock=lambda: datetime.now(UTC))
    competition = store.write(
        lambda turn: open_competition(turn, usual("Load (invented)", datetime.now(UTC).date())), by=Who(), what="the load"
    )
    stations = []
    for team, does in enumerate(STATIONS, start=1):
        opened = partial(open_station, competition=competition.id, does=does, team=team)
        stations.append(store.write(opened, by=Who(), what="a station"))
    for start in range(0, fencers, 50):
        store.write(
            partial(_fencers, competition=competition.id, numbers=range(start, min(start + 50, fencers))),
            by=Who(),
            what="the fencers",
        )
    assert len(store.read(lambda session: items_at(session, competition.id))) == 6 * fencers
    database.dispose()
    return [station.id for station in stations]


def _fencers(turn: Turn, competition: int, numbers: Iterable[int]) -> None:
    for number in numbers:
        entrant = enter_fencer(turn, competition, NewPerson(f"Fencer {number}", club=f"Club {number % 25}"))
        for kind, weapon in HANDED_IN[number % len(HANDED_IN)]:
            take_in(turn, entrant.id, NewHandedIn(kind, weapon))


@dataclass
class Device:
    """One phone or tablet at a station."""

    number: int
    base: str
    station: int
    does: StationDoes
    items: list[int]
    """What it goes through."""
    pause_s: float
    rng: np.random.Generator
    kept_s: list[float] = field(default_factory=list)
    """How long each form took until it was kept and acknowledged [s]."""
    page_s: list[float] = field(default_factory=list)
    tokens: list[tuple[str, int]] = field(default_factory=list)
    """Forms that were acknowledged, with how many entries each brought."""
    again: int = 0
    """How often a form was sent again because nobody acknowledged it."""

    async def work(self) -> None:
        """Go through the items: open the page, test, send, until everything is kept."""
        self.phone = await self.met()
        self.line = await self.opened()
        for place, item in enumerate(self.items):
            page = await self.page(item)
            tests = [unescape(each) for each in re.findall(r'name="test" value="([^"]*)"', page)]
            if not tests:
                continue
            token = f"load-{self.number}-{place}"
            await self.sent(item, self.form(page, tests, token))
            self.tokens.append((token, len(tests)))
            await asyncio.sleep(float(self.rng.exponential(self.pause_s)))
        self.line.close()

    def form(self, page: str, tests: list[str], token: str) -> list[tuple[str, str]]:
        """Return the fields of a form in which everything is sound."""

        def hidden(name: str) -> str:
            found = re.search(rf'name="{name}" value="([^"]*)"', page)
            assert found, page[:300]
            return found[1]

        fields = [(name, hidden(name)) for name in ("version", "began")]
        fields += [("csrf", self.phone.csrf), ("token", token), ("station", str(self.station)), ("comes_to", "rest is good")]
        typed = set(re.findall(r'name="test" value="([^"]*)">(?:(?!</li>).)*data-reading', page, re.DOTALL))
        for test in tests:
            figure = self._figure(page, test) if test in {unescape(each) for each in typed} else ""
            fields += [("test", test), ("reading", figure), ("note", "")]
            if not figure:
                fields.append(("good", test))
        return fields

    def _figure(self, page: str, test: str) -> str:
        """Return a figure well inside its limits; a device reads them on its page."""
        found = re.search(rf'name="test" value="{re.escape(test)}">(?:(?!</li>).)*?data-upper="([\d.]+)"', page, re.DOTALL)
        return f"{0.6 * float(found[1]):.2f}" if found else "1"

    async def sent(self, item: int, fields: list[tuple[str, str]]) -> None:
        """Send a form until it is acknowledged, always with the same token."""
        while True:
            start = time.perf_counter()
            try:
                await self.line.ask(f"/control/1/items/{item}", fields)
            except LOST:
                self.again += 1
                await asyncio.sleep(AGAIN_S)
                self.line = await self.opened()
                continue
            self.kept_s.append(time.perf_counter() - start)
            return

    async def page(self, item: int) -> str:
        """Return the page of an item at this station."""
        while True:
            start = time.perf_counter()
            try:
                page = await self.line.ask(f"/control/1/items/{item}?station={self.station}")
            except LOST:
                await asyncio.sleep(AGAIN_S)
                self.line = await self.opened()
                continue
            self.page_s.append(time.perf_counter() - start)
            return gzip.decompress(page).decode() if page[:2] == b"\x1f\x8b" else page.decode()

    async def met(self) -> Phone:
        """Return this device once it has loaded a page."""
        while True:
            try:
                return await Phone.met(self.base)
            except LOST:
                await asyncio.sleep(AGAIN_S)

    async def opened(self) -> Line:
        """Return a connection, as soon as somebody answers."""
        while True:
            try:
                return await self.phone.line()
            except LOST:
                await asyncio.sleep(AGAIN_S)
