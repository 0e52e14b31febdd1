"""The application without a server: asked from this machine, or from a stranger's."""

from __future__ import annotations

import warnings
from contextlib import contextmanager
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from starlette.exceptions import StarletteDeprecationWarning

from foible.records import CaseStore, Database
from foible.services.cases import Cases
from foible.services.reasoning import Reasoning
from foible.web import create_app

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from foible.web import Settings

with warnings.catch_warnings():
    # Starlette's client warns when it is imported that it will want another HTTP library one day.
    warnings.simplefilter("ignore", StarletteDeprecationWarning)
    from starlette.testclient import TestClient

__all__ = ["HERE", "STRANGER", "TestClient", "asked"]

HERE = "127.0.0.1"
STRANGER = "192.0.2.7"
"""An address of TEST-NET-1, which RFC 5737 keeps for examples."""


@contextmanager
def asked(folder: Path, settings: Settings, *, address: str = HERE) -> Iterator[TestClient]:
    """Yield a client at an address of an application with empty records."""
    store = CaseStore(Database(f"sqlite:///{folder / 'records.db'}"), clock=lambda: datetime.now(UTC))
    app = create_app(Cases(Reasoning(), store), settings)
    with TestClient(app, base_url="http://localhost", client=(address, 50_000), follow_redirects=False) as client:
        yield client
    store.database.dispose()
