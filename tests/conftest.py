"""What several files of tests start from: databases of both kinds, and a clock."""

from __future__ import annotations

import gc
import sqlite3
from contextlib import closing
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

import pytest
from argon2 import PasswordHasher

from foible.records import Database, database
from foible.records.migrating import migrate
from foible.services.register.secrets import Secrets
from postgres import Server, programs
from together import BROWSER, Together, group_of

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from sqlalchemy.engine import Engine
    from xdist.remote import Producer  # type: ignore[import-untyped]


RAN: dict[str, set[str]] = {}
"""The processes that have run tests of each group."""


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Begin with what takes longest, and count no lines where it is slow.

    Counting lines doubles the time of a test: the quick tests alone, and the command wherever it is started, must reach what is
    asked for.
    """
    slow = {group_of(item.nodeid) for item in items if item.get_closest_marker("slow")}
    for item in items:
        if item.get_closest_marker("slow"):
            item.add_marker(pytest.mark.no_cover)
    items.sort(key=lambda item: (group_of(item.nodeid) != BROWSER, group_of(item.nodeid) not in slow))


def pytest_collection_finish() -> None:
    """Leave what is there by now out of the search for garbage: thousands of tests, and the modules that they are in."""
    gc.collect()
    gc.freeze()


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: Producer) -> Together:
    """Hand out the tests in groups, whatever the command line says."""
    return Together(config, log)


def pytest_runtest_logreport(report: pytest.TestReport) -> None:
    """Note which process ran a test."""
    RAN.setdefault(group_of(report.nodeid), set()).add(getattr(report, "worker_id", ""))


def pytest_sessionfinish() -> None:
    """Refuse a run in which what belongs together ran apart: it passes, and takes half as long again."""
    torn = sorted(group for group, processes in RAN.items() if len(processes) > 1)
    if torn:
        pytest.exit(
            f"tests that share a set-up ran in several processes: {', '.join(torn)} — see tests/together.py", returncode=1
        )


@pytest.fixture(scope="session", autouse=True)
def _beginnings(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Make empty databases from one that is made already, and hash at little cost: each takes a third of a second else.

    The steps that make the tables, and the cost of a hash, have tests of their own, which call them by themselves.
    """
    made = tmp_path_factory.mktemp("made") / "empty.db"
    Database(f"sqlite:///{made}").dispose()

    def quickly(engine: Engine) -> None:
        if engine.dialect.name == "sqlite":
            with engine.connect() as connection, closing(sqlite3.connect(made)) as tables:
                driver = connection.connection.driver_connection
                if isinstance(driver, sqlite3.Connection) and not driver.execute("SELECT 1 FROM sqlite_master").fetchone():
                    tables.backup(driver)
        migrate(engine)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(database, "migrate", quickly)
        patch.setattr(Secrets.__init__, "__defaults__", (PasswordHasher(time_cost=1, memory_cost=8, parallelism=1),))
        yield


@pytest.fixture(scope="session")
def postgresql() -> Iterator[Server]:
    """Start a PostgreSQL server, once for all tests."""
    found = programs()
    if found is None:
        pytest.skip("no PostgreSQL server here: install the distribution's package postgresql")
    with Server(found) as server:
        yield server


@pytest.fixture(params=["sqlite", "postgresql"])
def database_url(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """Yield the URL of an empty database of each kind."""
    if request.param == "sqlite":
        yield f"sqlite:///{tmp_path / 'records.db'}"
        return
    with request.getfixturevalue("postgresql").database() as url:
        yield url


@pytest.fixture
def clock() -> Callable[[], datetime]:
    """Return a clock that goes on by a second each time it is looked at."""
    now = datetime(2026, 10, 3, 9, 0, tzinfo=UTC)

    def look() -> datetime:
        nonlocal now
        now += timedelta(seconds=1)
        return now

    return look
