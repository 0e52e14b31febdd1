"""A bench in a process of its own, as a user starts it, and the browser that looks at it."""

from __future__ import annotations

import os
import shutil
import signal
import socket
import subprocess
import sys
import time
from contextlib import suppress
from http.client import HTTPConnection
from typing import TYPE_CHECKING, Self

from command import uncounted

if TYPE_CHECKING:
    from pathlib import Path

__all__ = ["FLAGS", "PATIENCE_S", "Served", "chromium"]

NAMES = ("chromium-headless-shell", "chromium", "chromium-browser", "google-chrome")
"""What it is called by distributions, the one that has no windows to open first: it takes a third of the time for a page."""
PATIENCE_S = 30
"""How long anything may take: the reasoning warms up beside the first requests [s]."""
FLAGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
"""What keeps Chromium to the pages that it is given."""


def chromium() -> str | None:
    """Return the Chromium to test with: FOIBLE_CHROMIUM, or what is installed."""
    named = os.environ.get("FOIBLE_CHROMIUM")
    return named or next(filter(None, map(shutil.which, NAMES)), None)


class Served:
    """Foible served on a port and a database of its own, started from the command line; the `with` block ends it."""

    def __init__(self, folder: Path) -> None:
        self.data = folder / "register.db"
        self._log = folder / "server.log"
        self.port = _free_port()
        self.url = f"http://127.0.0.1:{self.port}"
        self._process: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        """Start the server and wait until it answers."""
        how = ("serve", "--demo", "--no-browse", "--data", str(self.data), "--port", str(self.port))
        with self._log.open("ab") as log:
            self._process = subprocess.Popen(  # noqa: S603 — our own program, with words of our own
                [sys.executable, "-m", "foible", *how],
                stdout=log,
                stderr=subprocess.STDOUT,
                env=uncounted() | {"OPENBLAS_NUM_THREADS": "1"},
                start_new_session=True,  # a process group of its own, so that all of it can be ended
            )
        while not self._answers():
            assert self._process.poll() is None, self.log
            time.sleep(0.05)  # between two looks at whether the condition holds

    def _answers(self) -> bool:
        connection = HTTPConnection("127.0.0.1", self.port)
        try:
            connection.request("GET", "/help")
            return connection.getresponse().status == 200
        except ConnectionError:
            return False
        finally:
            connection.close()

    def stop(self) -> None:
        """Ask the server to stop, as Ctrl-C does, and wait until it has."""
        assert self._process
        self._process.terminate()
        self._process.wait()

    def kill(self) -> None:
        """End the server and whatever it has started at once, as a flat battery does."""
        assert self._process
        with suppress(ProcessLookupError):
            os.killpg(self._process.pid, signal.SIGKILL)
        self._process.wait()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        if self._process:
            self.kill()

    @property
    def log(self) -> str:
        """What the server has written so far."""
        return self._log.read_text()


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])
