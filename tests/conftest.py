"""What several files of tests start from: databases of both kinds."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from postgres import Server, programs

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path


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
