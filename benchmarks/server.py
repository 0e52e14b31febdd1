"""A server of its own for a measurement or a picture, of this checkout or of another one: started, waited for, stopped."""

from __future__ import annotations

import os
import socket
import subprocess
import sys
import tempfile
import time
from contextlib import contextmanager
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.error import URLError
from urllib.request import urlopen

if TYPE_CHECKING:
    from collections.abc import Iterator

__all__ = ["CHROMIUM", "HERE", "environment", "served"]

CHROMIUM = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking"]
"""What keeps Chromium to the pages that it is given."""
HERE = Path(__file__).resolve().parents[1]
"""The checkout that this file belongs to."""
COMMANDS = ("serve", "bench")
"""What the command that serves is called: here, and in earlier checkouts."""
PATIENCE_S = 60.0
"""How long a server may take until it answers [s]; the very first start on a machine compiles."""
ENDING_S = 10.0
"""How long a server may take to stop before it is killed [s]."""


def environment(checkout: Path = HERE) -> dict[str, str]:
    """Return the environment in which this Python runs the code of a checkout."""
    return {**os.environ, "PYTHONPATH": f"{checkout / 'src'}{os.pathsep}{checkout}", "OPENBLAS_NUM_THREADS": "1"}


@contextmanager
def served(*options: str, warming_s: float = 0.0, data: str | None = None, checkout: Path = HERE) -> Iterator[str]:
    """Yield the address of a server, on a database of its own where `data` names none.

    `options` are those of the command that serves; `warming_s` is how long it is left alone to work out beforehand what it can
    [s]; `data` is a file or the URL of a database.
    """
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    with tempfile.TemporaryDirectory() as folder:
        kept = data or f"{folder}/cases.db"
        command = [sys.executable, "-m", "foible", _command(checkout), "--no-browse", "--port", str(port), "--data", kept]
        server = subprocess.Popen([*command, *options], stdout=subprocess.DEVNULL, env=environment(checkout), cwd=checkout)  # noqa: S603 — our own command
        try:
            address = f"http://127.0.0.1:{port}"
            _wait(address, server)
            time.sleep(warming_s)
            yield address
        finally:
            server.terminate()
            try:
                server.wait(ENDING_S)
            except subprocess.TimeoutExpired:
                server.kill()
                server.wait()


@lru_cache
def _command(checkout: Path) -> str:
    for name in COMMANDS:
        asked = [sys.executable, "-m", "foible", name, "--help"]
        found = subprocess.run(asked, check=False, capture_output=True, env=environment(checkout), cwd=checkout)  # noqa: S603 — our own command
        if not found.returncode:
            return name
    msg = f"{checkout}: `foible` there has none of the commands {', '.join(COMMANDS)}"
    raise SystemExit(msg)


def _wait(address: str, server: subprocess.Popen[bytes]) -> None:
    until = time.monotonic() + PATIENCE_S
    while True:
        try:
            urlopen(f"{address}/help").close()  # noqa: S310 — our own server
        except URLError:
            if time.monotonic() > until or server.poll() is not None:
                raise
            time.sleep(0.2)
        else:
            return
