"""Sessions that a clock put back does not end."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

from itsdangerous import SignatureExpired, TimestampSigner
from starlette.middleware.sessions import SessionMiddleware

if TYPE_CHECKING:
    from collections.abc import Callable

    from starlette.types import ASGIApp, Receive, Scope, Send

__all__ = ["Sessions"]

NAME = "foible"
"""What the cookie is called."""


class _Patient(TimestampSigner):
    """Signs with the time; what was signed in the future, before the clock was put back, is new rather than too old."""

    def unsign(self, signed_value: str | bytes, max_age: int | None = None, return_timestamp: bool = False) -> Any:  # noqa: ANN401, FBT001, FBT002 — as its base class has it
        try:
            return super().unsign(signed_value, max_age=max_age, return_timestamp=return_timestamp)  # type: ignore[call-overload]
        except SignatureExpired as error:
            if error.date_signed is None or error.date_signed <= datetime.now(UTC):
                raise
        return super().unsign(signed_value, return_timestamp=return_timestamp)  # type: ignore[call-overload]


class Sessions:
    """Sessions in a signed cookie; a browser that has it over TLS sends it over nothing else.

    The two cookies have names of their own: a browser lets no page without TLS replace one that came with it, so a device could
    not join a server that is no longer encrypted (draft-ietf-httpbis-rfc6265bis, 5.7; so is the prefix).
    """

    def __init__(self, app: ASGIApp, *, secret_key: str, encrypted: Callable[[Scope], bool], max_age: int) -> None:
        self._encrypted = encrypted
        self._plain, self._secure = (
            SessionMiddleware(app, secret_key, name, same_site="strict", max_age=max_age, https_only=only)
            for name, only in ((NAME, False), (f"__Host-{NAME}", True))
        )
        for each in (self._plain, self._secure):
            each.signer = _Patient(secret_key)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one request."""
        sessions = self._secure if self._encrypted(scope) else self._plain
        await sessions(scope, receive, send)
