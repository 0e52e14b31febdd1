"""How the start page and an answer fare with many cases: 10 of them, then 10,000 with 50,000 entries, in one server.

`python -m benchmarks.archive` opens ten cases through the server, measures, multiplies their rows in the database itself, and
measures again: the start page at fixed moments, and meanwhile devices that answer what they are asked, each with a case of its
own. `--data` (or FOIBLE_BENCHMARK_DATABASE) names the database, SQLite in a temporary folder where it is left out; another one,
such as one of PostgreSQL, has to be empty, and is emptied in the end.
"""

from __future__ import annotations

import argparse
import asyncio
import gzip
import os
import re
import tempfile
import time
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from html import unescape
from pathlib import Path
from typing import TYPE_CHECKING, Any

import httpx
from sqlalchemy import Integer, MetaData, create_engine, func, insert, select, text
from sqlalchemy.engine import make_url

from benchmarks.client import WEAPONS, Line, Phone, Stream, milliseconds, p95
from benchmarks.server import HERE, served

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from sqlalchemy import Connection

FEW, ENTRIES_EACH = 10, 5
OPEN = 10
"""One case out of so many is open; the others are closed."""
BATCH = 500
"""Cases that are copied at once."""
DEVICES = 6
PAUSE_S = 1.0
"""Between two answers of a device [s]."""
EVERY_S = 0.2
"""Between two requests for the start page [s]."""
MOST_WAITING = 2
"""Devices that ask for the start page; none asks again before it has got it."""
LEAST_ANSWERS = 4
"""Answers of each device, however long they take."""
MOST_ANSWERS = 50
"""Answers to one case; then a device takes the next one."""
WARMING_S = 20.0
START_MS, ANSWER_MS, PAGE_KB = 100.0, 150.0, 60.0
DRAINING_S = 120.0
"""How long what was asked last may take [s]."""


@dataclass
class Desk:
    """A device that answers trial after trial."""

    phone: Phone
    word: str
    say: str
    """What the fencer complains of."""
    taken: list[float] = field(default_factory=list)
    """How long each answer took until it was acknowledged [s]."""
    case: str = ""
    given: int = 0

    async def begin(self) -> None:
        """Open a case."""
        self.case = await self.phone.send(f"/new/{self.word}", say=self.say, side="left")
        self.given = 1

    async def work(self, going: Callable[[], bool], *, pause_s: float = PAUSE_S) -> None:
        """Answer as long as `going` says so."""
        line = await self.phone.line()
        while going():
            if not self.case or self.given >= MOST_ANSWERS:
                await self.begin()
            await self.answer(line)
            await asyncio.sleep(pause_s)
        line.close()

    async def answer(self, line: Line) -> None:
        """Answer what the page of the case asks, or else another trial: nothing lit, all is fine."""
        page = gzip.decompress(await line.ask(self.case)).decode()
        asked = re.search(r'name="say" value="([^"]*)"', page)
        if asked is None:
            others = gzip.decompress(await line.ask(f"{self.case}/trials")).decode()
            other = re.search(r'href="(/cases/[^"?]*\?say=[^"]*)"', others)
            page = gzip.decompress(await line.ask(unescape(other[1]))).decode() if other else page
            asked = re.search(r'name="say" value="([^"]*)"', page)
        if asked is None:
            await self.begin()
            return
        found = re.search(r'name="found" value="([^"]*)"', page)
        fields = {"csrf": self.phone.csrf, "token": f"given-{self.given}", "say": unescape(asked[1])}
        start = time.perf_counter()
        await line.ask(f"{self.case}/answer", fields | ({"found": unescape(found[1])} if found else {}))
        self.taken.append(time.perf_counter() - start)
        self.given += 1


@dataclass(frozen=True)
class Measured:
    """What came out with some number of cases."""

    cases: int
    entries: int
    start: list[float]
    answers: list[float]
    weight: int
    """Of the start page [byte], unpacked."""
    line_weight: int
    """The same as it is sent [byte]."""


async def desks(base: str) -> list[Desk]:
    """Return devices, two for each weapon."""
    made = []
    async with httpx.AsyncClient(base_url=base, timeout=60) as client:
        for number in range(DEVICES):
            word = list(WEAPONS)[number % len(WEAPONS)]
            says = (await client.get(f"/api/weapons/{WEAPONS[word]}/complaints")).raise_for_status().json()
            made.append(Desk(await Phone.met(base), word, says[number % len(says)]))
    return made


async def fill(base: str) -> None:
    """Open the first cases, each with as many entries."""
    at_work = await desks(base)
    for number in range(FEW):
        desk = at_work[number % len(at_work)]
        await desk.begin()
        await desk.work(lambda desk=desk: desk.given < ENTRIES_EACH, pause_s=0.0)  # type: ignore[misc]


async def measure(base: str, seconds: float, count: tuple[int, int]) -> Measured:
    """Ask for the start page while devices answer."""
    at_work = await desks(base)
    home = Stream(await Phone.met(base), "/", EVERY_S, most=MOST_WAITING)
    end = time.perf_counter() + seconds

    def going() -> bool:
        return time.perf_counter() < end or any(len(desk.taken) < LEAST_ANSWERS for desk in at_work)

    async with asyncio.timeout(seconds + DRAINING_S):
        await asyncio.gather(home.run(going), *(desk.work(going) for desk in at_work))
    answers = [took for desk in at_work for took in desk.taken]
    return Measured(*count, home.times, answers, len(gzip.decompress(home.body)), len(home.body))


# --- the rows themselves ----------------------------------------------------------------------------------------------


@contextmanager
def opened(url: str) -> Iterator[tuple[Connection, MetaData]]:
    """Yield a transaction in a database, and the tables that it has."""
    engine = create_engine(url)
    tables = MetaData()
    tables.reflect(engine)
    with engine.begin() as connection:
        yield connection, tables
    engine.dispose()


def counted(url: str) -> tuple[int, int]:
    """Return how many cases and entries there are; none where there is no such table yet."""
    with opened(url) as (connection, tables):
        there = [tables.tables[name] for name in ("cases", "entries") if name in tables.tables]
        counts = [connection.scalar(select(func.count()).select_from(table)) or 0 for table in there]
    return (counts[0], counts[1]) if counts else (0, 0)


@dataclass(frozen=True)
class Rows:
    """The rows of one table whose rows belong to cases, without their own keys."""

    table: str
    column: str
    """The column that names the case."""
    by_case: dict[str, list[dict[str, Any]]]


def taken(url: str) -> tuple[list[dict[str, Any]], list[Rows]]:
    """Return the rows of all cases, and the rows that belong to them."""
    belonging = []
    with opened(url) as (connection, tables):
        heads = [dict(row) for row in connection.execute(select(tables.tables["cases"])).mappings()]
        for table in tables.sorted_tables:
            own = {key.name for key in table.primary_key if isinstance(key.type, Integer)}
            for column in table.columns:
                if any(key.column.table.name == "cases" for key in column.foreign_keys):
                    rows = Rows(table.name, column.name, {})
                    for row in connection.execute(select(table)).mappings():
                        rows.by_case.setdefault(row[column.name], []).append({k: v for k, v in row.items() if k not in own})
                    belonging.append(rows)
    return heads, belonging


def multiply(url: str, heads: list[dict[str, Any]], belonging: list[Rows], cases: int) -> None:
    """Copy cases, with what belongs to them, until there are so many; each copy is an hour older than the one before."""
    with opened(url) as (connection, tables):
        numbers = range(len(heads), cases)
        for batch in (numbers[i : i + BATCH] for i in range(0, len(numbers), BATCH)):
            connection.execute(insert(tables.tables["cases"]), [_copied(heads[n % len(heads)], n) for n in batch])
            for rows in belonging:
                made = [
                    {**_copied(row, n), rows.column: _name(n)}
                    for n in batch
                    for row in rows.by_case.get(heads[n % len(heads)]["id"], [])
                ]
                if made:
                    connection.execute(insert(tables.tables[rows.table]), made)
        if connection.dialect.name == "postgresql":
            connection.execute(text("ANALYZE"))  # as the server does by itself a little later


def _copied(row: dict[str, Any], number: int) -> dict[str, Any]:
    """Return the copy of a row with this number."""
    made = {key: value - timedelta(hours=number) if isinstance(value, datetime) else value for key, value in row.items()}
    if "closed" in made:
        made |= {"id": _name(number), "title": f"{made['title']} ({number})"}
        made["closed"] = made["changed"] if number % OPEN else None
    if "token" in made:
        made["token"] = f"copy-{number}-{made.get('number', 0)}"
    return made


def _name(number: int) -> str:
    return f"z{number:05}"


def emptied(url: str) -> None:
    """Take all cases out again."""
    with opened(url) as (connection, tables):
        for table in reversed(tables.sorted_tables):
            if table.name != "alembic_version":
                connection.execute(table.delete())


# --- the table --------------------------------------------------------------------------------------------------------


def show(few: Measured, many: Measured) -> None:
    """Print both and their ratios."""
    print(f"{'[ms]':<52}{'median':>10}{'p95':>10}{'longest':>10}")
    for made in (few, many):
        print(f"with {made.cases:,} cases and {made.entries:,} entries")
        print(f"{f'  start page, {len(made.start)} times':<52}{milliseconds(made.start)}")
        print(f"{f'  an answer meanwhile, {len(made.answers)} of them':<52}{milliseconds(made.answers)}")
    for made in (few, many):
        print(f"start page with {made.cases:,} cases: {made.weight / 1e3:.1f} kB, as sent {made.line_weight / 1e3:.1f} kB")
    for label, some, all_, limit in [
        ("start page", few.start, many.start, START_MS),
        ("an answer", few.answers, many.answers, ANSWER_MS),
    ]:
        verdict = "met" if p95(all_) <= limit else "not met"
        print(f"{label}: p95 {p95(all_) / p95(some):.1f} × that with {few.cases} cases; at most {limit:.0f} ms is {verdict}")
    print(f"size of the start page: at most {PAGE_KB:.0f} kB is {'met' if many.weight <= 1e3 * PAGE_KB else 'not met'}")


def run(data: str, url: str, given: argparse.Namespace) -> None:
    """Start the server on a database and measure."""
    with served("--workers", str(given.workers), data=data, checkout=given.checkout.resolve(), warming_s=WARMING_S) as base:
        asyncio.run(fill(base))
        rows = taken(url)
        few = asyncio.run(measure(base, given.seconds, counted(url)))
        multiply(url, *rows, given.cases)
        many = asyncio.run(measure(base, given.seconds, counted(url)))
    print(f"database: {make_url(url).get_backend_name()}")
    show(few, many)


def main() -> None:
    """Choose the database and measure."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--data", default=os.environ.get("FOIBLE_BENCHMARK_DATABASE"), help="URL of an empty database")
    parser.add_argument("--checkout", type=Path, default=HERE, help="the checkout whose server is measured")
    parser.add_argument("--cases", type=int, default=10_000)
    parser.add_argument("--seconds", type=float, default=30.0, help="of measuring, with few cases and with many")
    parser.add_argument("--workers", type=int, default=1)
    given = parser.parse_args()
    if given.data is None:
        with tempfile.TemporaryDirectory() as folder:
            run(f"{folder}/cases.db", f"sqlite:///{folder}/cases.db", given)
        return
    if any(counted(given.data)):
        parser.error(f"{make_url(given.data).render_as_string()} has cases in it; give an empty database of its own")
    try:
        run(given.data, given.data, given)
    finally:
        emptied(given.data)


if __name__ == "__main__":
    main()
