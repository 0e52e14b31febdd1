"""Every way of stopping leaves one whole file: the database alone, copied elsewhere, holds every answer that was acknowledged."""

from __future__ import annotations

import json
import os
import pty
import shutil
import signal
import socket
import sqlite3
import subprocess
import sys
import time
from contextlib import closing, suppress
from http.client import HTTPConnection
from typing import TYPE_CHECKING

import pytest

from command import uncounted

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="needs signals and a terminal")

SERVE = """
import signal, sys
if hasattr(signal, "SIGHUP"):  # whoever runs the tests may have it ignored
    signal.signal(signal.SIGHUP, signal.SIG_DFL)
from foible.web import serve
serve.warm = lambda reasoning: None
port, data, workers = sys.argv[1:]
serve.serve_until_stopped(serve.ServeOptions(port=int(port), data=data, workers=int(workers), browse=False))
"""
"""Foible as it is served, but for the warming up."""
ANSWERS = 20
ALONE = {1: "alone", 2: "two processes"}
PATIENCE_S = 60


def ctrl_c(server: subprocess.Popen[bytes], terminal: int) -> None:
    del server
    os.write(terminal, b"\x03")


def terminate(server: subprocess.Popen[bytes], terminal: int) -> None:
    del terminal
    server.terminate()


def close_terminal(server: subprocess.Popen[bytes], terminal: int) -> None:
    del server
    os.close(terminal)


WAYS: dict[str, Callable[[subprocess.Popen[bytes], int], None]] = {
    "Ctrl-C": ctrl_c,
    "SIGTERM": terminate,
    "the terminal closed": close_terminal,
    "killed, started again and stopped": terminate,
}


def started(data: Path, port: int, workers: int) -> tuple[subprocess.Popen[bytes], int]:
    """Start Foible in a terminal of its own, as its foreground job, and wait until it answers."""
    terminal, theirs = pty.openpty()
    command = [sys.executable, "-c", SERVE, str(port), str(data), str(workers)]
    server = subprocess.Popen(  # noqa: S603 — our own words
        command,
        stdin=theirs,
        stdout=theirs,
        stderr=theirs,
        env=uncounted(),
        start_new_session=True,
        preexec_fn=own_terminal,  # noqa: PLW1509 — no threads yet
    )
    os.close(theirs)
    until = time.monotonic() + PATIENCE_S
    while not answers(port):
        assert server.poll() is None, os.read(terminal, 10_000).decode()
        assert time.monotonic() < until
        time.sleep(0.05)
    return server, terminal


def own_terminal() -> None:
    """Make standard input the terminal that controls this session."""
    import fcntl  # noqa: PLC0415 — there is none on every system
    import termios  # noqa: PLC0415 — as above

    fcntl.ioctl(0, termios.TIOCSCTTY, 0)


def answers(port: int) -> bool:
    with closing(HTTPConnection("127.0.0.1", port, timeout=PATIENCE_S)) as connection, suppress(OSError):
        connection.request("GET", "/help")
        return connection.getresponse().status == 200
    return False


def acknowledged(port: int, number: int) -> str:
    """Register an item and return its code, on a connection of its own, so that every process gets some.

    It is written as an answer of a case is, in one transaction, and nothing has to be worked out for it first.
    """
    with closing(HTTPConnection("127.0.0.1", port, timeout=PATIENCE_S)) as connection:
        told = {"kind": "body cord", "weapon": "foil", "token": f"item-{number}"}
        connection.request("POST", "/api/register/items", json.dumps(told), {"Content-Type": "application/json"})
        response = connection.getresponse()
        answer = response.read().decode()
        assert response.status == 201, answer
        return str(json.loads(answer)["code"])


def marked(way: str, workers: int) -> tuple[pytest.MarkDecorator, ...]:
    """Leave one way alone, and one with two processes, among the quick tests."""
    return () if (way, workers) in {("the terminal closed", 1), ("SIGTERM", 2)} else (pytest.mark.slow,)


@pytest.mark.parametrize(
    ("way", "workers"),
    [pytest.param(way, workers, marks=marked(way, workers), id=f"{way}, {ALONE[workers]}") for way in WAYS for workers in ALONE],
)
def test_the_one_file_holds_every_answer(tmp_path: Path, way: str, workers: int) -> None:
    data, port = tmp_path / "records.db", free_port()
    server, terminal = started(data, port, workers)
    try:
        kept = {acknowledged(port, number) for number in range(ANSWERS)}
        if way.startswith("killed"):
            os.killpg(server.pid, signal.SIGKILL)
            server.wait()
            os.close(terminal)
            server, terminal = started(data, port, workers)
        WAYS[way](server, terminal)
        assert server.wait(PATIENCE_S) == 0
    finally:
        with suppress(ProcessLookupError):
            os.killpg(server.pid, signal.SIGKILL)
        server.wait()
        with suppress(OSError):
            os.close(terminal)
    assert not (tmp_path / "records.db-wal").exists()
    shutil.copy(data, tmp_path / "copy.db")
    with closing(sqlite3.connect(tmp_path / "copy.db")) as copy:
        assert {code for (code,) in copy.execute("SELECT code FROM items")} == kept
        assert copy.execute("PRAGMA integrity_check").fetchall() == [("ok",)]


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])
