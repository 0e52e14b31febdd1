"""Sessions that a clock put back does not end."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any, Literal

from itsdangerous import SignatureExpired, TimestampSigner
from starlette.middleware.sessions import SessionMiddleware

if TYPE_CHECKING:
    from starlette.types import ASGIApp

__all__ = ["Sessions"]


class _Patient(TimestampSigner):
    """Signs with the time; what was signed in the future, before the clock was put back, is new rather than too old."""

    def unsign(self, signed_value: str | bytes, max_age: int | None = None, return_timestamp: bool = False) -> Any:  # noqa: ANN401, FBT001, FBT002 — as its base class has it
        try:
            return super().unsign(signed_value, max_age=max_age, return_timestamp=return_timestamp)  # type: ignore[call-overload]
        except SignatureExpired as error:
            if error.date_signed is None or error.date_signed <= datetime.now(UTC):
                raise
        return super().unsign(signed_value, return_timestamp=return_timestamp)  # type: ignore[call-overload]


class Sessions(SessionMiddleware):
    """Sessions in a signed cookie."""

    def __init__(
        self, app: ASGIApp, *, secret_key: str, session_cookie: str, same_site: Literal["lax", "strict", "none"], max_age: int
    ) -> None:
        super().__init__(app, secret_key, session_cookie=session_cookie, same_site=same_site, max_age=max_age)
        self.signer = _Patient(secret_key)
