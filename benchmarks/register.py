"""How the register fares with 200,000 items and 2 million lines of job cards: search as one types, item page, queue.

`python -m benchmarks.register` makes the rows in the database itself, serves them and asks for pages one after the other; then
it imports 10,000 rows. `--data` (or FOIBLE_BENCHMARK_DATABASE) names the database, SQLite in a temporary folder where it is left
out; another one, such as one of PostgreSQL, has to be empty and keeps what was made.
"""

from __future__ import annotations

import argparse
import os
import random
import tempfile
import time
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import httpx
from sqlalchemy import create_engine, text

from benchmarks.client import milliseconds, p95
from benchmarks.server import served
from foible.records import Database
from foible.records.trail import Who
from foible.services.transfer.taking import Transfer

if TYPE_CHECKING:
    from collections.abc import Callable

ITEMS, LINES_EACH = 200_000, 10
PEOPLE, JOBS_EACH = 2000, 2
QUEUE = 100
"""One job out of so many still waits."""
ASKED = 100
PAGE_MS, IMPORT_S = 100.0, 20.0
"""What is promised: pages at the 95th percentile, and an import of `IMPORTED` rows."""
IMPORTED = 10_000
COUNT = "WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n WHERE i < {0}) "
WORDS = ("'w' || i", "'foil'", "'weapon'", "'number' || (i % 1000)", "'barrel' || (i % 50)")
STATE = f"CASE WHEN i % {QUEUE} = 0 THEN 'waiting' ELSE 'handed back' END"
FOUND = "weapon barrel thread: loose or cracked"
ROWS = (
    (PEOPLE, "people (id, kind, name, version, changed, words)", "i, 'person', 'Fencer ' || i, 1, '2026-01-01', 'fencer ' || i"),
    (
        ITEMS,
        "items (id, code, kind, weapon, name, owner_id, state, version, opened, changed)",
        f"i, 'w' || i, 'weapon', 'foil', 'number' || (i % 1000), 1 + i % {PEOPLE}, 'in use', 1, '2025-01-01', '2026-01-01'",
    ),
    *((ITEMS, "item_words (word, item_id)", f"{word}, i") for word in WORDS),
    (
        ITEMS * JOBS_EACH,
        "jobs (id, item_id, kind, complaint, state, promised, opened, changed, version)",
        f"i, 1 + i % {ITEMS}, 'mend', 'white', {STATE}, '2026-01-01', '2025-06-01', '2026-01-01', 1",
    ),
    (
        ITEMS * LINES_EACH,
        "job_lines (id, job_id, number, kind, ref, at)",
        f"i, 1 + i % {ITEMS * JOBS_EACH}, i / {ITEMS * JOBS_EACH} + 1, 'found', '{FOUND}', '2025-06-02'",
    ),
)
"""How many rows, of which table and columns, and the values of row i."""


def main() -> None:
    """Make the rows, ask for the pages, import, and print what it took."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--data", default=os.environ.get("FOIBLE_BENCHMARK_DATABASE"))
    with tempfile.TemporaryDirectory() as folder:
        url = options.parse_args().data or f"sqlite:///{folder}/records.db"
        began = time.perf_counter()
        made(url)
        print(
            f"{ITEMS:,} items and {ITEMS * LINES_EACH:,} lines made in {time.perf_counter() - began:.0f} s, {url.split(':')[0]}"
        )
        with served(data=url, warming_s=20.0) as address:
            kept = asked(address)
        took = imported(url)
        print(f"{'import of ' + format(IMPORTED, ',') + ' rows':34}{took:>8.1f} s, of {IMPORT_S:g}")
    if not kept or took > IMPORT_S:
        msg = "not kept"
        raise SystemExit(msg)


def made(url: str) -> None:
    """Fill an empty database."""
    Database(url).dispose()
    engine = create_engine(url)
    for count, table, values in ROWS:
        with engine.begin() as connection:
            connection.execute(text(f"INSERT INTO {table} {COUNT.format(count)}SELECT {values} FROM n"))  # noqa: S608 — words of our own
    with engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
        connection.execute(text("ANALYZE"))
    engine.dispose()


def asked(address: str) -> bool:
    """Ask for pages, print how long they took, and return whether what is promised was kept."""
    rng = random.Random(1)  # noqa: S311 — which pages are asked for is no secret
    typed = [
        word[:length] for word in ("number77", "barrel12", "w199999", "fencer 12", "foil number5") for length in (2, 3, 5, 8, 12)
    ]
    pages: dict[str, Callable[[], str]] = {
        "search, letter by letter": lambda: f"/register/found?words={rng.choice(typed)}",
        "item page": lambda: f"/register/items/w{rng.randrange(1, ITEMS)}",
        "queue": lambda: "/register/queue",
    }
    kept = True
    print(f"{'page [ms]':30}{'median':>10}{'95 %':>10}{'longest':>10}")
    with httpx.Client(base_url=address) as client:
        for name, page in pages.items():
            times = []
            for _ in range(ASKED):
                began = time.perf_counter()
                client.get(page()).raise_for_status()
                times.append(time.perf_counter() - began)
            print(f"{name:30}{milliseconds(times)}")
            kept = kept and p95(times) <= PAGE_MS
    return kept


def imported(url: str) -> float:
    """Return how long it takes to try and to import a spreadsheet [s]."""
    rows = "\n".join(f"body cord,foil,Fencer {1 + number % PEOPLE},cord {number},2025-09-01,19.50" for number in range(IMPORTED))
    database = Database(url)
    transfer = Transfer(database, clock=lambda: datetime.now(UTC))
    began = time.perf_counter()
    plan = transfer.tried(f"kind,weapon,owner,name,bought,price\n{rows}\n".encode(), name="kit.csv")
    transfer.take(plan, by=Who())
    took = time.perf_counter() - began
    database.dispose()
    return took


if __name__ == "__main__":
    main()
