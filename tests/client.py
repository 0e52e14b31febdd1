"""A client of the application in the test's own process."""

from __future__ import annotations

import re
import warnings
from typing import TYPE_CHECKING

with warnings.catch_warnings():
    # Starlette's client warns when it is imported that it will want another HTTP library one day.
    warnings.filterwarnings("ignore", message="Using `httpx` with")
    from starlette.testclient import TestClient

if TYPE_CHECKING:
    from httpx import Response
    from starlette.types import ASGIApp, Receive, Scope, Send

__all__ = ["FromHere", "TestClient", "hidden", "send"]

HIDDEN = re.compile(r'type="hidden" name="(csrf|token|version|began|what|owner|weapon)" value="([^"]*)"')


class FromHere:
    """An application, asked from this very machine or from another address.

    The client of the oldest Starlette that we allow has no argument for that.
    """

    def __init__(self, app: ASGIApp, address: str = "127.0.0.1") -> None:
        self.app, self._address = app, address

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one request."""
        await self.app({**scope, "client": (self._address, 50_000)} if scope["type"] == "http" else scope, receive, send)


def hidden(page: str, name: str) -> str:
    """Return what stands first under a name in a page."""
    found = re.search(rf'name="{name}" value="([^"]*)"', page)
    assert found, name
    return found[1]


def send(client: TestClient, page: str, action: str, /, **fields: object) -> Response:
    """Send a form of a page, with what is hidden in it; of several forms the first gives a value."""
    given = dict(reversed(HIDDEN.findall(client.get(page).text)))
    answer: Response = client.post(action, data=given | fields)
    return answer
