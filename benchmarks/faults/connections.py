"""Connections that say nothing: 2,500 of them from four addresses, while a fifth address and this machine ask for a page.

Foible serves with two processes that may have 1,024 file handles until they ask for more, as a shell gives them. Half of the
connections send nothing, half of them half a header; then the same with TLS, and again with clients that open anew, each second,
what was closed. All addresses are of this machine's own loopback network (127.0.0.0/8), which Linux answers as a whole.
"""

from __future__ import annotations

import os
import resource
import signal
import socket
import ssl
import subprocess
import sys
import threading
import time
from contextlib import ExitStack, closing, contextmanager, suppress
from dataclasses import dataclass, field
from http.client import HTTPConnection, HTTPException, HTTPSConnection
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

import numpy as np

from benchmarks.faults.processes import PATIENCE_S, children, free_port, wait_until
from benchmarks.faults.row import Row
from benchmarks.server import environment

if TYPE_CHECKING:
    from collections.abc import Iterator

__all__ = ["Sharing", "run", "sharing"]

MANY, SHORT = 2_500, 400
"""Connections."""
STRANGERS = tuple(f"127.0.0.{number}" for number in range(2, 6))
ASKING = ("127.0.0.6", "127.0.0.1")
"""A fifth address, and this machine."""
ASKS_S, SHORT_ASKS_S = 8.0, 2.0
"""How long they ask [s]."""
SOON_S = 0.3
"""How soon they are to be answered [s] on a machine that has no other work."""
CALM_S = 2.0
"""How long each of them asks before anything is opened [s]."""
LEFT_S = 30.0
"""After how long no handle may be left [s]."""
MOST_LINES = 100
HALF = b"GET / HTTP/1.1\r\nHost: local"
TEST = "tests/test_connections.py::test_addresses_with_too_many_connections_keep_nobody_else_out"
TLS_TEST = "tests/test_certificates.py::test_a_handshake_that_stops_half_way_counts_and_is_not_waited_for"
SERVE = """
import resource, sys
from pathlib import Path
from foible.web import serve
from foible.web.guesses import Guesses
import time
port, data, tls, pace = sys.argv[1:]
resource.setrlimit(resource.RLIMIT_NOFILE, (1_024, resource.getrlimit(resource.RLIMIT_NOFILE)[1]))
begun = time.monotonic()
Guesses.__init__.__defaults__ = (lambda: begun + float(pace) * (time.monotonic() - begun),)
serve.warm = lambda reasoning: None
serve.serve_until_stopped(serve.ServeOptions(
    port=int(port), data=data, share=True, passphrase="crate lantern oar", workers=2, browse=False, copies=0, tls=tls == "tls",
))
"""
"""Foible as it is shared, but for the warming up; its clock of guesses may go faster."""


@dataclass(frozen=True)
class Sharing:
    """A server that others may join."""

    port: int
    process: int
    log: Path
    trusted: Path | None
    """Its certificate, where it has one."""

    def line(self, source: str, *, timeout_s: float = PATIENCE_S) -> HTTPConnection:
        """Return a new connection to it, from an address."""
        at = (source, 0)
        if self.trusted is None:
            return HTTPConnection("127.0.0.1", self.port, timeout=timeout_s, source_address=at)
        context = ssl.create_default_context(cafile=str(self.trusted))
        return HTTPSConnection("127.0.0.1", self.port, timeout=timeout_s, source_address=at, context=context)

    def handles(self) -> int:
        """Return how many file handles its processes have."""
        return sum(len(list(Path(f"/proc/{each}/fd").iterdir())) for each in (self.process, *children(self.process)))

    def answers(self) -> bool:
        """Return whether it answers this machine."""
        with suppress(OSError, HTTPException), closing(self.line("127.0.0.1")) as line:
            line.request("GET", "/help")
            return line.getresponse().status == 200  # noqa: PLR2004 — HTTP: OK
        return False


@contextmanager
def sharing(*, tls: bool = False, pace: float = 1.0) -> Iterator[Sharing]:
    """Yield a server on records of its own; `pace` is how much faster its clock of guesses goes."""
    with TemporaryDirectory() as folder:
        port = free_port()
        log, data = Path(folder) / "log", Path(folder) / "records.db"
        command = [sys.executable, "-c", SERVE, str(port), str(data), "tls" if tls else "plain", str(pace)]
        with log.open("wb") as written:
            server = subprocess.Popen(  # noqa: S603 — our own words
                command, stdout=subprocess.DEVNULL, stderr=written, env=environment(), start_new_session=True
            )
        made = Sharing(port, server.pid, log, Path(f"{data}.tls.pem") if tls else None)
        try:
            wait_until(lambda: server.poll() is not None or made.answers(), "the server does not answer")
            if server.poll() is not None:
                raise RuntimeError(log.read_text(encoding="utf-8"))
            yield made
        finally:
            with suppress(ProcessLookupError):
                os.killpg(server.pid, signal.SIGKILL)
            server.wait()


@dataclass
class Silent:
    """Connections that say nothing, from four addresses."""

    port: int
    count: int
    opened: int = 0
    _held: list[socket.socket | None] = field(default_factory=list)

    def open(self) -> None:
        """Open all of them."""
        self._held = [self._one(number) for number in range(self.count)]

    def again(self, until: threading.Event) -> None:
        """Open anew whatever the server closes, once a second."""
        while not until.is_set():
            for number, each in enumerate(self._held):
                if each is None or _closed(each):
                    self._held[number] = self._one(number)
            until.wait(1.0)

    def close(self) -> None:
        """Close all that are left."""
        for each in filter(None, self._held):
            each.close()

    def _one(self, number: int) -> socket.socket | None:
        made = socket.socket()
        made.settimeout(5.0)
        try:
            made.bind((STRANGERS[number % len(STRANGERS)], 0))
            made.connect(("127.0.0.1", self.port))
            if number // len(STRANGERS) % 2:
                made.sendall(HALF)
        except OSError:
            made.close()
            return None
        self.opened += 1
        made.setblocking(False)  # noqa: FBT003 — as the socket has it
        return made


def _closed(connection: socket.socket) -> bool:
    try:
        ended = not connection.recv(100)
    except BlockingIOError:
        return False
    except OSError:
        ended = True
    if ended:
        connection.close()
    return ended


def run(*, short: bool = False) -> list[Row]:
    """Open so many connections, and return who was not answered in time, and what was left."""
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    wanted = MANY + 500
    if soft < wanted:
        resource.setrlimit(resource.RLIMIT_NOFILE, (wanted if hard == resource.RLIM_INFINITY else min(wanted, hard), hard))
    kinds = ((False, False),) if short else ((False, False), (True, False), (False, True))
    return [_kind(SHORT if short else MANY, tls=tls, again=again, short=short) for tls, again in kinds]


def _kind(count: int, *, tls: bool, again: bool, short: bool) -> Row:
    wrong: list[str] = []
    with sharing(tls=tls) as server, ExitStack() as at_the_end:
        silent = Silent(server.port, count)
        at_the_end.callback(silent.close)
        calm = [s for source in ASKING for s in _asked(server, source, CALM_S, wrong)]  # by the end both processes have answered
        before = server.handles()
        silent.open()
        opened, most = time.monotonic(), server.handles()
        until = threading.Event()
        opening = threading.Thread(target=silent.again, args=(until,))
        if again:
            opening.start()
        times = {source: _asked(server, source, SHORT_ASKS_S if short else ASKS_S, wrong) for source in ASKING}
        until.set()
        if again:
            opening.join()
            opened, most = time.monotonic(), max(most, server.handles())
        try:
            wait_until(lambda: server.handles() <= before, "handles are left", patience_s=opened + LEFT_S - time.monotonic())
        except TimeoutError:
            wrong.append(f"{server.handles() - before} handles are left {LEFT_S:g} s after the last was opened")
        left_s = time.monotonic() - opened
        lines = len(server.log.read_text(encoding="utf-8").splitlines())
    if not short:  # how long something takes is no matter for a test
        wrong += [
            f"{source} was answered after {s * 1000:.0f} ms" for source, all_s in times.items() for s in all_s if s > SOON_S
        ]
    wrong += [f"the log has {lines} lines"] if lines > MOST_LINES else []
    asked = "; ".join(
        f"{'this machine' if source == '127.0.0.1' else 'a fifth address'}: {len(all_s)} pages, p95 "
        f"{np.percentile(all_s, 95) * 1000:.0f} ms, slowest {max(all_s) * 1000:.0f} ms"
        for source, all_s in times.items()
        if all_s
    )
    asked += f" (without them: p95 {np.percentile(calm, 95) * 1000:.0f} ms, slowest {max(calm) * 1000:.0f} ms)"
    told = f"{silent.opened:,} connections opened; {asked}; {most - before} handles more, none {left_s:.0f} s after the last"
    which = ", to a server with TLS," if tls else ", opened anew each second," if again else ""
    promise = f"{count:,} connections that say nothing{which} from four addresses keep nobody out"
    return Row(promise, TLS_TEST if tls else TEST, f"{told}; {lines} lines in the log", len(wrong), tuple(wrong[:20]))


def _asked(server: Sharing, source: str, seconds: float, wrong: list[str]) -> list[float]:
    """Ask for a page ten times a second, on a new connection each time; return how long each took [s]."""
    taken, until = [], time.monotonic() + seconds
    while time.monotonic() < until:
        begun = time.perf_counter()
        try:
            with closing(server.line(source, timeout_s=10.0)) as line:
                line.request("GET", "/help")
                status = line.getresponse().status
        except (OSError, HTTPException) as error:
            wrong.append(f"{source} was not answered ({error})")
            continue
        taken.append(time.perf_counter() - begun)
        if status != 200:  # noqa: PLR2004 — HTTP: OK
            wrong.append(f"{source} was answered with {status}")
        time.sleep(0.1)
    return taken


if __name__ == "__main__":
    for row in run(short="--short" in sys.argv):
        print(f"{row.promise}\n    {row.tried}\n    lost: {row.lost}", *row.told, sep="\n    ")
