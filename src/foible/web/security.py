"""Who may come in, and what a page may do.

Three lines of defence against foreign pages: the cookie is same-site, a request that changes something must come from our own
origin, and a form carries a token of its session. The content-security policy allows only our own files.
"""

from __future__ import annotations

import hmac
import re
import secrets
from ipaddress import ip_address
from typing import TYPE_CHECKING
from urllib.parse import urlsplit

from fastapi import Request  # noqa: TC002 — FastAPI reads the annotations
from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import JSONResponse, PlainTextResponse, RedirectResponse

from foible.services.pictures import MOST_BYTES
from foible.services.transfer.delimited import LARGEST_TABLE
from foible.trials import LARGEST_CASE
from foible.web.failures import ForbiddenError, as_json

if TYPE_CHECKING:
    from starlette.types import ASGIApp, Message, Receive, Scope, Send

    from foible.web.settings import Settings

__all__ = ["Defences", "check_form", "device", "encrypted", "forwarded", "is_here", "may_ask", "session_token"]

POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; manifest-src 'self'; "
    "form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
HEADERS = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
}
SAFE = {"GET", "HEAD", "OPTIONS"}
LARGEST = 64_000
"""The largest request [byte]; the longest answer is a hundredth of it."""
FILES = {
    "/case-file": LARGEST_CASE,
    "/api/cases/file": LARGEST_CASE,
    "/register/import": LARGEST_TABLE,
    "/api/register/import": LARGEST_TABLE,
    "/api/register/import/trial": LARGEST_TABLE,
}
"""Where whole files are posted, and the largest that each takes [byte]."""
PHOTOS = re.compile(r"(/api)?/(cases|register/items)/[^/]+/photos")
"""Where photos are posted."""
OPEN_TO_ALL = ("/join", "/static/", "/drawing.css", "/health")
"""What a device sees before it has joined, and a watching program without joining."""


PROXIED = "foible.proxied"
"""Marks every request where Foible stands behind a proxy."""
FORWARDED = {b"x-forwarded-for", b"forwarded", b"x-real-ip", b"via"}
"""Headers that tell of a proxy, also of one that nobody has named (RFC 7239; the others by common practice)."""


def forwarded(scope: Scope, proxy: str) -> Scope:
    """Return a request as it reached the proxy: whose it is, and by which scheme; only that proxy is believed."""
    changed = {**scope, PROXIED: True}
    client = scope.get("client")
    if client is not None and client[0] == proxy:
        headers = Headers(scope=scope)
        address = headers.get("x-forwarded-for", "").rpartition(",")[2].strip()
        changed["client"] = (address or "unknown", 0)
        if headers.get("x-forwarded-proto") in ("http", "https"):
            changed["scheme"] = headers["x-forwarded-proto"]
    return changed


def encrypted(scope: Scope, proxy: str | None) -> bool:
    """Return whether a request came by TLS, here or as far as the proxy."""
    seen = forwarded(scope, proxy) if proxy and scope["type"] == "http" else scope
    return seen.get("scheme") == "https"


class Defences:
    """Middleware: refuses foreign hosts and origins and overlong requests; asks unknown devices to join; sets the headers."""

    def __init__(self, app: ASGIApp, settings: Settings) -> None:
        self._app = app
        self._settings = settings

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one request."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        if self._settings.proxy:
            scope = forwarded(scope, self._settings.proxy)

        async def guarded(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    headers.setdefault(name, value)
                if not scope["path"].startswith("/static/"):
                    headers.setdefault("Cache-Control", "no-store")
            await send(message)

        refusal = self._refusal(scope)
        if refusal is not None:
            await refusal(scope, receive, guarded)
            return
        await self._app(scope, receive, guarded)

    def _refusal(self, scope: Scope) -> ASGIApp | None:
        headers = Headers(scope=scope)
        path = scope["path"]
        host = _host(headers.get("host", ""))
        if host not in self._settings.hosts:
            return PlainTextResponse("This server does not serve that host name.\n", 421)
        length = headers.get("content-length", "0")
        beside = MOST_BYTES if PHOTOS.fullmatch(path) else FILES.get(path, 0)
        if not length.isdecimal() or int(length) > LARGEST + beside or "transfer-encoding" in headers:
            return _refused(
                path, 413, "the request is too long", f"send less than {(beside or LARGEST) // 1000:,} kB, with a Content-Length"
            )
        if scope["method"] not in SAFE and not _own_origin(headers, scope["scheme"]):
            return _refused(path, 403, "the request comes from another page", "open Foible's own page and try again there")
        if not path.startswith(OPEN_TO_ALL) and not may_ask(scope, self._settings):
            if path.startswith("/api"):
                return _refused(path, 401, "this device has not joined", "open /join in the browser and enter the passphrase")
            return RedirectResponse("/join", 303)
        return None


def may_ask(scope: Scope, settings: Settings) -> bool:
    """Return whether a request comes from this machine, or from a device that gave the passphrase and was not sent away since."""
    session = scope.get("session", {})
    return is_here(scope) or (session.get("in") == settings.ticket and settings.devices.welcome(session.get("joined")))


def _refused(path: str, status: int, seen: str, remedy: str) -> ASGIApp:
    if path.startswith("/api"):
        return JSONResponse(as_json(status, seen, remedy), status)
    return PlainTextResponse(f"{seen.capitalize()}: {remedy}.\n", status)


def _host(text: str) -> str:
    """Return a Host header without its port."""
    if text.startswith("["):
        return text[1:].partition("]")[0]
    return text.partition(":")[0].lower()


def _own_origin(headers: Headers, scheme: str) -> bool:
    """Return whether a request comes from our own page; a client other than a browser sends neither header."""
    site = headers.get("sec-fetch-site")
    if site is not None and site not in ("same-origin", "none"):
        return False
    origin = headers.get("origin")
    if origin is None:
        return True
    parts = urlsplit(origin)
    return parts.scheme == scheme and parts.netloc.lower() == headers.get("host", "").lower()


def is_here(scope: Scope) -> bool:
    """Return whether a request was made on this very machine; behind a proxy none counts as one."""
    if scope.get(PROXIED) or any(name in FORWARDED for name, _ in scope.get("headers", ())):
        return False
    client = scope.get("client")
    try:
        return client is None or ip_address(client[0]).is_loopback  # None: a socket of this machine's own
    except ValueError:
        return False


def session_token(request: Request) -> str:
    """Return the token that the forms of a session carry."""
    if "token" not in request.session:
        request.session["token"] = secrets.token_urlsafe(24)
    return str(request.session["token"])


def device(request: Request) -> str:
    """Return the name of a device: a few letters that distinguish it from others."""
    if "device" not in request.session:
        request.session["device"] = secrets.token_hex(3)
    return str(request.session["device"])


async def check_form(request: Request) -> None:
    """Refuse a form that does not carry the token of its session. Raises ForbiddenError."""
    form = await request.form()
    given, known = form.get("csrf"), request.session.get("token")
    if not isinstance(given, str) or not known or not hmac.compare_digest(given.encode(), str(known).encode()):
        await form.close()
        raise ForbiddenError(seen="this page belongs to an expired session", remedy="reload it and answer again")
