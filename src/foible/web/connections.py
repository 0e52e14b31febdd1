"""Connections that say nothing, or too slowly, or are too many: closed before they keep anybody else out."""

from __future__ import annotations

import errno
import logging
import re
import socket
import time
from collections import Counter
from contextlib import suppress
from typing import TYPE_CHECKING, Any, ClassVar

import h11
from uvicorn.protocols.http.h11_impl import H11Protocol
from uvicorn.protocols.utils import get_remote_addr

if TYPE_CHECKING:
    import asyncio
    from collections.abc import Callable

__all__ = ["OWN", "FewWords", "Limited", "Limits", "Listener", "more_handles"]

HEADER_S = 10.0
"""How long a request's header may take [s]."""
BODY_S = 60.0
"""How long its body may take [s]; a photo over a poor network needs a while."""
READ_S = 60.0
"""How long the other side may leave an answer unread that is too long to be buffered [s]."""
EACH = 64
"""Connections of one address, to each process."""
HANDLES = (16_384, 10_240, 4_096)
"""File handles that are asked for, one for each connection; fewer where a system does not give so many."""
SPARE = 128
"""Handles that stay for files, the database and other devices' next connections."""
OWN = {"127.0.0.1", "::1"}
"""This machine itself."""
PENDING = 1_024
"""Connections that the system queues until they are taken, where it allows as many."""
EXHAUSTED = (errno.EMFILE, errno.ENFILE, errno.ENOBUFS, errno.ENOMEM)
"""Why no connection can be taken at the moment: neither handles nor memory."""
PAUSE_S = 0.9
"""How long none is tried then [s]; a little less than the second after which asyncio looks again."""
AGAIN_S = 60.0
"""How often the same complaint is written to the log [s]."""


class Limits:
    """Counts the connections to this process, by address. `exempt` is a proxy that everybody comes through."""

    def __init__(self, most: int, each: int = EACH, exempt: str | None = None) -> None:
        self.most, self.each, self.exempt = most, each, exempt
        self._open: Counter[str] = Counter()

    def enter(self, address: str) -> bool:
        """Return whether another connection of an address is taken; then it counts. This machine itself always gets a share."""
        all_open, own = self._open.total(), sum(self._open[name] for name in OWN)
        if address in OWN or address == self.exempt:
            taken = all_open < self.most and (own < self.most // 2 or address == self.exempt)
        else:
            taken = all_open - own < self.most // 2 and self._open[address] < self.each
        if taken:
            self._open[address] += 1
        return taken

    def leave(self, address: str) -> None:
        """Count a connection no longer."""
        self._open[address] -= 1
        if not self._open[address]:
            del self._open[address]


class Limited(H11Protocol):
    """uvicorn's protocol with deadlines, and with the limits of this process."""

    limits: ClassVar[Limits]
    header_s: ClassVar[float] = HEADER_S
    body_s: ClassVar[float] = BODY_S
    read_s: ClassVar[float] = READ_S
    _begun = False
    _counted: str | None = None
    _waits_for: Any = None
    _deadline: asyncio.TimerHandle | None = None
    _unread: asyncio.TimerHandle | None = None
    _asked = False

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Take a connection, or close it at once where there are too many."""
        if self._enter(transport):
            self._begin(transport)

    def _enter(self, transport: asyncio.Transport) -> bool:
        """Count a connection, and return True; or close it."""
        client = get_remote_addr(transport)
        address = client[0] if client else ""
        if self.limits.enter(address):
            self._counted = address
            return True
        transport.abort()
        return False

    def _begin(self, transport: asyncio.Transport) -> None:
        """Speak HTTP from here on."""
        self._begun = True
        super().connection_made(transport)
        self._set_deadline()

    def data_received(self, data: bytes) -> None:
        """Pass on what came, and wait for what is to come next."""
        super().data_received(data)
        self._set_deadline()

    def on_response_complete(self) -> None:
        """Let the connection rest until the next request."""
        super().on_response_complete()
        self._set_deadline()

    def pause_writing(self) -> None:
        """Wait for the other side to read what it asked for."""
        super().pause_writing()
        self._unread = self.loop.call_later(self.read_s, self.transport.abort)

    def resume_writing(self) -> None:
        """Go on writing."""
        super().resume_writing()
        self._has_read()

    def _has_read(self) -> None:
        if self._unread is not None:
            self._unread.cancel()
            self._unread = None

    def connection_lost(self, exc: Exception | None) -> None:
        """Count the connection no longer."""
        if self._begun:
            super().connection_lost(exc)
        self._leave()

    def _leave(self) -> None:
        self._clear()
        self._has_read()
        if self._counted is not None:
            self.limits.leave(self._counted)
            self._counted = None

    def _set_deadline(self) -> None:
        """Begin to wait for what is to come next; more of the same does not put its deadline off."""
        state = self.conn.their_state
        self._asked = self._asked or state is not h11.IDLE
        begun = not self._asked or bool(self.conn.trailing_data[0])  # between two requests a connection may rest
        awaited = {h11.IDLE: self.header_s if begun else None, h11.SEND_BODY: self.body_s}.get(state)
        if awaited is None:
            self._clear()
        elif self._waits_for is not state:
            self._clear()
            self._waits_for = state
            self._deadline = self.loop.call_later(awaited, self.transport.abort)

    def _clear(self) -> None:
        self._waits_for = None
        if self._deadline is not None:
            self._deadline.cancel()
            self._deadline = None


class Listener(socket.socket):
    """A socket to listen on that has many pending connections queued, and rests after a failed `accept`.

    asyncio means to look again after a second, but first tries as often as there may be pending connections, with a complaint
    and another timer for each try (CPython 3.11, `BaseSelectorEventLoop._accept_connection`).
    """

    _rests_until = 0.0

    def listen(self, backlog: int = PENDING) -> None:
        """Listen; `backlog` is how many are taken at a time, and the system queues more: one too many waits for a second."""
        super().listen(max(backlog, PENDING))

    def accept(self) -> tuple[socket.socket, Any]:
        """Return the next connection. Raises OSError, and BlockingIOError as if there were none while it rests."""
        if time.monotonic() < self._rests_until:
            raise BlockingIOError
        try:
            return super().accept()
        except OSError as error:
            if error.errno in EXHAUSTED:
                self._rests_until = time.monotonic() + PAUSE_S
            raise


def more_handles() -> int:
    """Raise the number of file handles as far as is allowed, and return how many connections that makes room for."""
    try:
        import resource  # noqa: PLC0415 — not on every system
    except ImportError:
        return 500
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    for wanted in HANDLES:
        allowed = wanted if hard == resource.RLIM_INFINITY else min(wanted, hard)
        if soft >= allowed:
            break
        with suppress(ValueError, OSError):  # a system may have another limit still, of which it does not tell
            resource.setrlimit(resource.RLIMIT_NOFILE, (allowed, hard))
            soft = allowed
            break
    return soft - SPARE


class FewWords(logging.Filter):
    """Lets the same complaint through once a minute, with how often it came in between.

    Two are the same whose first lines differ in numbers at most (asyncio's name a socket or a task on further lines), and whose
    errors came from the same place.
    """

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        super().__init__()
        self._clock = clock
        self._said: dict[tuple[str, str], tuple[float, int]] = {}

    def filter(self, record: logging.LogRecord) -> bool:
        """Return whether a record is written."""
        what = _kind(record)
        now = self._clock()
        then, left_out = self._said.get(what, (-AGAIN_S, 0))
        if now - then < AGAIN_S:
            self._said[what] = (then, left_out + 1)
            return False
        if len(self._said) > 1_000:  # noqa: PLR2004 — complaints come in a handful of kinds
            self._said.clear()
        self._said[what] = (now, 0)
        if left_out:
            record.msg = f"{record.msg} (and {left_out} times since it was said last)"
        return True


def _kind(record: logging.LogRecord) -> tuple[str, str]:
    """Return what a complaint is about, and where its error came from."""
    first = str(record.msg).partition("\n")[0][:200]
    error = record.exc_info[1] if record.exc_info else None
    trace = error.__traceback__ if error else None
    while trace and trace.tb_next:
        trace = trace.tb_next
    place = f"{trace.tb_frame.f_code.co_filename}:{trace.tb_lineno}" if trace else ""
    return re.sub(r"0x[0-9a-f]+|\d+", "", first), f"{type(error).__name__} {place}"
