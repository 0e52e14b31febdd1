"""One line of JSON for each request and each change, where `foible serve --log` asks for it.

A request is told by its route, not by its address, and a change by its case: nothing that anybody wrote gets into the log.
"""

from __future__ import annotations

import json
import logging
import os
import sys
import time
from datetime import UTC, datetime
from logging.handlers import WatchedFileHandler
from pathlib import Path
from typing import TYPE_CHECKING, Any

from foible.errors import InputError
from foible.records import CHANGES

if TYPE_CHECKING:
    from starlette.types import ASGIApp, Message, Receive, Scope, Send

__all__ = ["Logged", "Routed", "keep_log"]

REQUESTS = logging.getLogger("foible.requests")
NOTED = "foible.noted"
"""Where a request carries what the log says of it."""
UNANSWERED = 499
"""The status of a request whose client went away before the answer; common practice, no source."""

FAILED = 500


class Logged:
    """The outermost middleware: says of each request how it was answered, and how long that took."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one request."""
        if scope["type"] != "http" or not REQUESTS.isEnabledFor(logging.INFO):
            await self._app(scope, receive, send)
            return
        noted: dict[str, Any] = {"method": scope["method"], "route": None, "status": UNANSWERED}
        start = time.perf_counter()

        async def heard(message: Message) -> None:
            if message["type"] == "http.response.start":
                noted["status"] = message["status"]
            await send(message)

        try:
            await self._app({**scope, NOTED: noted}, receive, heard)
        except Exception:
            noted["status"] = FAILED  # the framework answers so, outside of this
            raise
        finally:
            noted["ms"] = round(1e3 * (time.perf_counter() - start), 1)
            REQUESTS.info("request", extra={"line": noted})


class Routed:
    """The innermost middleware: notes the route that a request took, and the letters that its device goes by."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one request."""
        try:
            await self._app(scope, receive, send)
        finally:
            if NOTED in scope:
                scope[NOTED]["route"] = getattr(scope.get("route"), "path", None) or scope.get("root_path") or None
                scope[NOTED]["device"] = scope.get("session", {}).get("device")


class _AsJson(logging.Formatter):
    """A record as one line of JSON."""

    def format(self, record: logging.LogRecord) -> str:
        at = datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds")
        return json.dumps({"at": at, "what": record.getMessage(), **record.__dict__["line"]}, ensure_ascii=False)


class _ToFile(WatchedFileHandler):
    """Appends to a file that others may move away or cut; one that cannot be written to keeps nobody from being answered."""

    def emit(self, record: logging.LogRecord) -> None:
        try:
            super().emit(record)
        except OSError:
            self.handleError(record)

    def handleError(self, record: logging.LogRecord) -> None:  # noqa: N802 — as its base class has it
        del record
        error = sys.exc_info()[1]
        logging.getLogger("uvicorn.error").warning("The log cannot be written (%s)", error)  # once a minute: see `FewWords`


def keep_log(place: str) -> logging.Handler:
    """Log requests and changes to a file, or to standard output where `place` is “-”. Raises InputError."""
    handler: logging.Handler = logging.StreamHandler(sys.stdout)
    if place != "-":
        path = Path(place).expanduser()
        try:
            os.close(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o600))
            handler = _ToFile(path, encoding="utf-8")
        except OSError as error:
            seen = f"the log {path} cannot be written ({error.strerror})"
            raise InputError(seen=seen, remedy="give another file with --log, or - for standard output") from error
    handler.setFormatter(_AsJson())
    for logger in (REQUESTS, CHANGES):
        logger.handlers = [handler]
        logger.propagate = False
        logger.setLevel(logging.INFO)
    return handler
