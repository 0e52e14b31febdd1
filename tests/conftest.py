"""What several files of tests start from: databases of both kinds, and a clock."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

import pytest

from postgres import Server, programs

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path


@pytest.hookimpl(tryfirst=True)  # before xdist reads the groups
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Say which tests stay together where they run on several cores, and begin with what takes longest.

    Tests of one file share what the file sets up; those in the browser share one server and one browser. Counting lines doubles
    the time of a test: the quick tests alone, and the command wherever it is started, must reach what is asked for.
    """
    groups = {item: "browser" if item.path.parent.name == "browser" else item.path.stem for item in items}
    slow = {group for item, group in groups.items() if item.get_closest_marker("slow")}
    for item, group in groups.items():
        item.add_marker(pytest.mark.xdist_group(group))
        if item.get_closest_marker("slow"):
            item.add_marker(pytest.mark.no_cover)
    items.sort(key=lambda item: (groups[item] != "browser", groups[item] not in slow))


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
