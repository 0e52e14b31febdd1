"""A client of the application in the test's own process."""

from __future__ import annotations

import warnings
from typing import TYPE_CHECKING

with warnings.catch_warnings():
    # Starlette's client warns when it is imported that it will want another HTTP library one day.
    warnings.filterwarnings("ignore", message="Using `httpx` with")
    from starlette.testclient import TestClient

if TYPE_CHECKING:
    from starlette.types import ASGIApp, Receive, Scope, Send

__all__ = ["FromHere", "TestClient"]


class FromHere:
    """An application, asked from this very machine or from another address.

    The client of the oldest Starlette that we allow has no argument for that.
    """

    def __init__(self, app: ASGIApp, address: str = "127.0.0.1") -> None:
        self.app, self._address = app, address

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one request."""
        await self.app({**scope, "client": (self._address, 50_000)} if scope["type"] == "http" else scope, receive, send)
