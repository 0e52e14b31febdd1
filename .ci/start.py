"""Start the program in the browser as it was installed beside this Python, ask it for its first page, and stop it again."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
import time
from contextlib import suppress
from http.client import HTTPConnection
from pathlib import Path
from tempfile import TemporaryDirectory

PATIENCE_S = 120


def main() -> None:
    """Exit with 0 where the first page came and the server stopped when it was asked to."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    with TemporaryDirectory() as folder:
        command = [str(Path(sys.executable).with_name("foible")), "serve", "--no-browse", "--data", f"{folder}/records.db"]
        command += ["--port", str(port)]
        server = subprocess.Popen(command, start_new_session=True)  # noqa: S603 — our own program
        try:
            page = _first_page(port, server)
            server.terminate()
            server.wait(PATIENCE_S)
        finally:
            with suppress(ProcessLookupError):
                os.killpg(server.pid, signal.SIGKILL)
            server.wait()
    if "Foible" not in page:
        sys.exit(f"The first page does not look like Foible's:\n{page}")


def _first_page(port: int, server: subprocess.Popen[bytes]) -> str:
    """Return the first page, as soon as there is one."""
    until = time.monotonic() + PATIENCE_S
    while server.poll() is None and time.monotonic() < until:
        connection = HTTPConnection("127.0.0.1", port, timeout=PATIENCE_S)
        try:
            connection.request("GET", "/")
            answer = connection.getresponse()
            page = answer.read().decode()
        except ConnectionError:
            time.sleep(0.1)
            continue
        finally:
            connection.close()
        if answer.status == 200:  # noqa: PLR2004 — HTTP: OK
            return page
        sys.exit(f"The first page was answered with {answer.status}:\n{page}")
    sys.exit("The server does not answer." if server.poll() is None else f"The server ended with {server.returncode}.")


if __name__ == "__main__":
    main()
