"""The application without a server: asked from this machine, or from a stranger's."""

from __future__ import annotations

import re
import ssl
import warnings
from contextlib import contextmanager
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from foible.records import CaseStore, Database
from foible.services.cases import Cases
from foible.services.reasoning import Reasoning
from foible.web import Settings, create_app
from foible.web.certificates import Certificate
from foible.web.settings import Passphrase

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

with warnings.catch_warnings():
    # Starlette's client warns when it is imported that it will want another HTTP library one day.
    warnings.filterwarnings("ignore", message="Using `httpx` with")
    from starlette.testclient import TestClient

__all__ = ["HERE", "STRANGER", "WORDS", "TestClient", "asked", "shared_pages", "token_in"]

WORDS = "crate lantern oar"
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


def shared_pages(folder: Path) -> dict[str, str]:
    """Return the pages of a server that others have joined, by their addresses."""
    settings = Settings(
        passphrase=Passphrase.of(WORDS),
        join="https://192.0.2.1:8711/join#crate%20lantern%20oar",
        certificate=Certificate(ssl.create_default_context(), ":".join(f"{byte:02X}" for byte in range(32)), (), own=True),
    )
    with asked(folder, settings, address=STRANGER) as client:
        form = {"csrf": token_in(client.get("/join").text), "passphrase": WORDS}
        assert client.post("/join", data=form).status_code == 303
        settings.devices.join("phone")
        settings.devices.rename(settings.devices.join("laptop"), "Anna’s laptop by the door of hall two")
        joined = client.get("/devices").text
    with asked(folder, settings) as client:
        return {"/share": client.get("/share").text, "/devices": joined}


def token_in(page: str) -> str:
    """Return the token that the forms of a page carry."""
    found = re.search(r'name="csrf" value="([^"]+)"', page)
    assert found
    return found.group(1)
