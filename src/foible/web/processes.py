"""The same work in several processes, so that every core is used: one parent, and children that end with it."""

from __future__ import annotations

import os
import signal
import threading
from contextlib import suppress
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable

__all__ = ["share_out"]


def share_out(work: Callable[[], None], count: int) -> None:
    """Do `work` in `count` processes until this one is told to stop; one that dies is started again.

    The children hold one end of a pipe: when the parent goes, in whatever way, they read its end and go too.
    """
    ours, theirs = os.pipe()
    children: set[int] = set()
    stopping = False

    def stop(*_: object) -> None:
        nonlocal stopping
        stopping = True
        for child in children:
            with suppress(ProcessLookupError):
                os.kill(child, signal.SIGTERM)

    def start() -> None:
        child = os.fork()
        if child:
            children.add(child)
            return
        signal.signal(signal.SIGTERM, signal.SIG_DFL)
        signal.signal(signal.SIGINT, signal.default_int_handler)
        os.close(theirs)
        threading.Thread(target=_end_with, args=(ours,), daemon=True).start()
        status = 1
        try:
            work()
            status = 0
        finally:
            os._exit(status)

    for _ in range(count):
        start()
    signal.signal(signal.SIGTERM, stop)
    signal.signal(signal.SIGINT, stop)
    while children:
        with suppress(InterruptedError):
            ended, _ = os.wait()
            children.discard(ended)
            if not stopping:
                start()
    os.close(ours)
    os.close(theirs)


def _end_with(pipe: int) -> None:
    """End this process when the other end of a pipe is closed."""
    os.read(pipe, 1)
    os.kill(os.getpid(), signal.SIGTERM)
