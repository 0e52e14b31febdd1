"""What the fault runs ask of processes: a free port, whom a process has started, and whether something comes true in time."""

from __future__ import annotations

import socket
import time
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable

__all__ = ["PATIENCE_S", "children", "free_port", "wait_until"]

PATIENCE_S = 60.0
"""The longest that anything is waited for [s]."""


def free_port() -> int:
    """Return a port that is free on all addresses."""
    with socket.socket() as free:
        free.bind(("0.0.0.0", 0))  # noqa: S104 — nothing is served there yet
        return int(free.getsockname()[1])


def children(parent: int) -> list[int]:
    """Return the processes that one has started (proc(5)); Linux only."""
    told = Path(f"/proc/{parent}/task/{parent}/children").read_text(encoding="ascii")
    return [int(each) for each in told.split()]


def wait_until(holds: Callable[[], bool], otherwise: str, *, patience_s: float = PATIENCE_S) -> float:
    """Wait until a condition holds, and return for how long [s]. Raises TimeoutError with `otherwise`."""
    begun = time.monotonic()
    while not holds():
        if time.monotonic() - begun > patience_s:
            raise TimeoutError(otherwise)
        time.sleep(0.02)
    return time.monotonic() - begun
