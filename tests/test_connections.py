"""Connections that say nothing, stop half-way or are too many are closed, and others are answered meanwhile."""

from __future__ import annotations

import asyncio
import errno
import logging
import socket
import sys
import threading
import time
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack, closing, suppress
from http.client import HTTPConnection
from typing import TYPE_CHECKING

import pytest
import uvicorn
from starlette.responses import PlainTextResponse

from foible.web.connections import SPARE, FewWords, Limited, Limits, Listener, more_handles
from foible.web.encryption import protocol
from foible.web.security import forwarded, is_here
from foible.web.serve import BACKLOG, SHARES_PORTS, _listening

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from starlette.types import Receive, Scope, Send

PATIENCE_S = 60
"""Beyond what anything takes, only so that what never comes is said to be missing [s]."""
EACH = 5
LIMITS = Limits(100, EACH)
SOON_S = 0.3


async def app(scope: Scope, receive: Receive, send: Send) -> None:
    """Answer once the whole request is there."""
    while (await receive()).get("more_body"):
        pass
    await PlainTextResponse("much" * 8_000_000 if scope["path"] == "/much" else "here")(scope, receive, send)


@pytest.fixture(scope="module")
def port() -> Iterator[int]:
    """Serve with short deadlines, and five connections for each address."""
    short: type[Limited] = type("Short", (protocol(LIMITS),), {"header_s": SOON_S, "body_s": SOON_S, "read_s": SOON_S})
    server = uvicorn.Server(uvicorn.Config(app, http=short, lifespan="off", log_level="error", timeout_graceful_shutdown=1))
    listener = _listening("127.0.0.1", 0)
    any_address = socket.create_server(("0.0.0.0", 0))  # noqa: S104 — for 127.0.0.2 and on, which are this machine too
    thread = threading.Thread(target=server.run, args=([listener, any_address],))
    thread.start()
    yield any_address.getsockname()[1]
    server.should_exit = True
    thread.join()


def connected(port: int, source: str) -> socket.socket:
    return socket.create_connection(("127.0.0.1", port), PATIENCE_S, source_address=(source, 0))


def answered(port: int, source: str) -> bool:
    with closing(HTTPConnection("127.0.0.1", port, PATIENCE_S, source_address=(source, 0))) as connection:
        connection.request("GET", "/")
        return connection.getresponse().read() == b"here"


def ended(connection: socket.socket) -> bool:
    """Wait until the other side closes a connection; False where it sends something first."""
    try:
        return not connection.recv(100)
    except ConnectionResetError:
        return True


@pytest.mark.parametrize(
    "half", [b"", b"GET / HT", b"GET / HTTP/1.1\r\nHost: a\r\n", b"POST / HTTP/1.1\r\nHost: a\r\nContent-Length: 10\r\n\r\nhalf"]
)
def test_a_request_that_stops_half_way_is_not_waited_for(port: int, half: bytes) -> None:
    with connected(port, "127.0.0.1") as connection:
        connection.sendall(half)
        assert ended(connection)


def test_a_request_that_comes_in_drops_is_not_waited_for_either(port: int) -> None:
    with connected(port, "127.0.0.1") as connection, suppress(ConnectionError):
        for _ in range(PATIENCE_S * 50):
            connection.sendall(b"G")
            time.sleep(0.02)  # the drops
        pytest.fail("it was waited for")
    assert answered(port, "127.0.0.1")


def test_a_connection_may_rest_between_two_requests(port: int) -> None:
    with closing(HTTPConnection("127.0.0.1", port, PATIENCE_S)) as connection:
        for _ in range(2):
            connection.request("GET", "/")
            assert connection.getresponse().read() == b"here"
            same = connection.sock
            time.sleep(2 * SOON_S)  # the rest itself
        assert connection.sock is same


def test_an_answer_that_nobody_reads_is_not_waited_for(port: int) -> None:
    with connected(port, "127.0.0.1") as connection:
        connection.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4_096)
        connection.sendall(b"GET /much HTTP/1.1\r\nHost: a\r\n\r\n")
        until = time.monotonic() + PATIENCE_S
        while LIMITS._open["127.0.0.1"]:
            assert time.monotonic() < until, "it was waited for"
            time.sleep(0.02)  # between two looks
    assert answered(port, "127.0.0.1")


@pytest.mark.skipif(not SHARES_PORTS, reason="needs a system where 127.0.0.2 is this machine")
def test_addresses_with_too_many_connections_keep_nobody_else_out() -> None:
    """Four addresses with more connections than are taken; a fifth and this machine are answered."""
    limits = Limits(100, EACH)
    taken = {f"127.0.0.{number}": sum(limits.enter(f"127.0.0.{number}") for _ in range(20)) for number in range(2, 6)}
    assert set(taken.values()) == {EACH}
    assert limits.enter("127.0.0.6")
    assert limits.enter("127.0.0.1")


@pytest.mark.skipif(not SHARES_PORTS, reason="needs a system where 127.0.0.2 is this machine")
def test_what_is_over_the_limit_is_closed_at_once(port: int) -> None:
    with ExitStack() as several:
        many = [several.enter_context(connected(port, "127.0.0.2")) for _ in range(EACH + 3)]
        assert answered(port, "127.0.0.3")
        assert answered(port, "127.0.0.1")
        assert all(map(ended, many))
    assert answered(port, "127.0.0.2")


def test_however_many_addresses_there_are_this_machine_gets_in() -> None:
    limits = Limits(100, EACH)
    assert sum(limits.enter(f"192.0.2.{number}") for number in range(200)) == 50
    assert sum(limits.enter("127.0.0.1") for _ in range(200)) == 50
    limits.leave("192.0.2.0")
    assert limits.enter("192.0.2.201")


def test_the_same_complaint_is_logged_once_a_minute_with_its_count() -> None:
    now = 0.0
    few = FewWords(lambda: now)
    written = []
    for second in range(121):
        now = float(second)
        for _ in range(1_000):
            record = logging.LogRecord("asyncio", logging.ERROR, "", 0, "no handles left", (), None)
            if few.filter(record):
                written.append(record.getMessage())
    assert len(written) == 3
    assert written[1] == "no handles left (and 59999 times since it was said last)"


def complaint(words: str, error: Exception | None = None) -> logging.LogRecord:
    exc_info = (type(error), error, error.__traceback__) if error else None
    return logging.LogRecord("asyncio", logging.ERROR, "", 0, words, (), exc_info)


def raised(work: Callable[[], object]) -> Exception:
    """Return the error of some work, with its trace."""
    try:
        work()
    except Exception as error:  # noqa: BLE001 — whichever it is
        return error
    pytest.fail("it raised nothing")


def test_complaints_are_the_same_whatever_socket_they_name_and_other_errors_are_others() -> None:
    few = FewWords(lambda: 0.0)
    assert few.filter(complaint("Fatal error on transport\nprotocol: <Limited object at 0x7f01>\ntransport: fd=7"))
    assert not few.filter(complaint("Fatal error on transport\nprotocol: <Limited object at 0x7f99>\ntransport: fd=8"))
    assert few.filter(complaint("Task 7 was destroyed"))
    assert not few.filter(complaint("Task 12 was destroyed"))
    here, there = lambda: int("a"), lambda: {"b": 1}["a"]
    work: list[Callable[[], object]] = [
        here,
        there,
        lambda: int("a"),  # the same, elsewhere
    ]
    errors = [raised(each) for each in (*work, work[0])]
    assert [few.filter(complaint("Exception in ASGI application\n", error)) for error in errors] == [True, True, True, False]


@pytest.mark.skipif(sys.platform == "win32", reason="needs limits of file handles")
def test_handles_are_raised_as_far_as_the_system_lets_us(monkeypatch: pytest.MonkeyPatch) -> None:
    import resource  # noqa: PLC0415 — not on every system

    def limited(soft: int, hard: int, most: int) -> tuple[int, list[int]]:
        """Return for how many connections there is room, and what was asked for, on a system with these limits."""
        asked = []

        def set_limit(_: int, limits: tuple[int, int]) -> None:
            asked.append(limits[0])
            if limits[0] > most:
                raise ValueError

        monkeypatch.setattr(resource, "getrlimit", lambda _: (soft, hard))
        monkeypatch.setattr(resource, "setrlimit", set_limit)
        return more_handles(), asked

    assert limited(1_024, 20_000, 20_000) == (16_384 - SPARE, [16_384])
    assert limited(1_024, 4_096, 4_096) == (4_096 - SPARE, [4_096])
    assert limited(256, resource.RLIM_INFINITY, 10_240) == (10_240 - SPARE, [16_384, 10_240]), "as macOS has it, from memory"
    assert limited(50_000, 50_000, 50_000) == (50_000 - SPARE, [])
    assert limited(1_024, 1_024, 0) == (1_024 - SPARE, [])
    assert limited(1_024, 20_000, 0) == (1_024 - SPARE, [16_384, 10_240, 4_096])


class Exhausted(socket.socket):
    """A socket to listen on for a process without a free handle, as the system says it (accept(2): EMFILE)."""

    tries = 0

    def accept(self) -> tuple[socket.socket, object]:
        type(self).tries += 1
        raise OSError(errno.EMFILE, "Too many open files")


def tries_of_a_failed_accept(kind: type[Exhausted], caplog: pytest.LogCaptureFixture) -> tuple[int, int]:
    """Return how often asyncio tries in two seconds to take a pending connection, and how many lines it logs."""

    async def exhausted() -> tuple[int, int]:
        with kind() as listener:
            listener.bind(("127.0.0.1", 0))
            listener.listen(BACKLOG)
            server = await asyncio.start_server(lambda *_: None, sock=listener, backlog=BACKLOG)
            with socket.create_connection(listener.getsockname()):
                await asyncio.sleep(2.0)
            found = kind.tries, len(caplog.records)
            server.close()
            return found

    kind.tries = 0
    caplog.clear()
    few = FewWords()
    logging.getLogger("asyncio").addFilter(few)
    try:
        with ThreadPoolExecutor(1) as aside:  # the browser tests may have left a loop running in this thread
            return aside.submit(asyncio.run, exhausted()).result()
    finally:
        logging.getLogger("asyncio").removeFilter(few)


def test_without_a_free_handle_it_rests_and_says_so_once(caplog: pytest.LogCaptureFixture) -> None:
    """Without the rest asyncio of CPython 3.11 tries a hundred times a second, and sets as many timers that try again."""

    class Resting(Listener, Exhausted):
        """`accept` rests, then tries the one that fails."""

    tries, lines = tries_of_a_failed_accept(Resting, caplog)
    assert 1 <= tries <= 4
    assert lines == 1


def test_behind_a_proxy_nobody_is_at_this_machine_and_only_the_proxy_is_believed() -> None:
    def scope(client: str, *headers: tuple[bytes, bytes]) -> Scope:
        return {"type": "http", "client": (client, 1), "scheme": "http", "headers": list(headers)}

    told = (b"x-forwarded-for", b"198.51.100.9, 192.0.2.7"), (b"x-forwarded-proto", b"https")
    through = forwarded(scope("127.0.0.1", *told), "127.0.0.1")
    assert (through["client"][0], through["scheme"]) == ("192.0.2.7", "https")
    past = forwarded(scope("192.0.2.66", *told), "127.0.0.1")
    assert (past["client"][0], past["scheme"]) == ("192.0.2.66", "http")
    assert not any(map(is_here, (through, past, forwarded(scope("127.0.0.1"), "127.0.0.1"))))
    assert is_here(scope("127.0.0.1"))
    assert not is_here(scope("127.0.0.1", told[0])), "a proxy that nobody has named makes no stranger one of us"
