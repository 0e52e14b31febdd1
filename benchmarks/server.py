"""A server of its own for a measurement or a picture: started, waited for, stopped."""

from __future__ import annotations

import socket
import subprocess
import sys
import tempfile
import time
from contextlib import contextmanager
from typing import TYPE_CHECKING
from urllib.error import URLError
from urllib.request import urlopen

if TYPE_CHECKING:
    from collections.abc import Iterator

__all__ = ["CHROMIUM", "served"]

CHROMIUM = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking"]
"""What keeps Chromium to the pages that it is given."""
PATIENCE_S = 20.0
"""How long a server may take until it answers [s]."""


@contextmanager
def served(*options: str, warming_s: float = 0.0) -> Iterator[str]:
    """Yield the address of a server on a database of its own.

    `options` are those of `foible serve`; `warming_s` is how long it is left alone to work out beforehand what it can [s].
    """
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    with tempfile.TemporaryDirectory() as folder:
        command = [sys.executable, "-m", "foible", "serve", "--no-browse", "--port", str(port), "--data", f"{folder}/records.db"]
        server = subprocess.Popen([*command, *options], stdout=subprocess.DEVNULL)  # noqa: S603 — our own command
        try:
            address = f"http://127.0.0.1:{port}"
            _wait(address)
            time.sleep(warming_s)
            yield address
        finally:
            server.terminate()
            server.wait(10)


def _wait(address: str) -> None:
    until = time.monotonic() + PATIENCE_S
    while True:
        try:
            urlopen(f"{address}/help").close()  # noqa: S310 — our own server
        except URLError:
            if time.monotonic() > until:
                raise
            time.sleep(0.2)
        else:
            return
