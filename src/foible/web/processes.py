"""The same work in several processes, so that every core is used: one parent, and children that end with it."""

from __future__ import annotations

import os
import signal
import threading
import time
import traceback
from contextlib import suppress
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable

__all__ = ["share_out"]

BREATH_S = 0.3
"""Between the end of a process and the start of the next in its place, lest one that cannot work keeps the machine busy [s]."""


def share_out(work: Callable[[int], None], count: int) -> None:
    """Do `work`, given a number each, in `count` processes until this one is told to stop; one that dies is started again.

    The children hold one end of a pipe: when the parent goes, in whatever way, they read its end and go too.
    """
    ours, theirs = os.pipe()
    children: dict[int, int] = {}
    stopping = False

    def stop(*_: object) -> None:
        nonlocal stopping
        stopping = True
        for child in children:
            with suppress(ProcessLookupError):
                os.kill(child, signal.SIGTERM)

    def start(number: int) -> None:
        child = os.fork()
        if child:
            children[child] = number
            return
        signal.signal(signal.SIGTERM, signal.SIG_DFL)
        signal.signal(signal.SIGINT, signal.default_int_handler)
        os.close(theirs)
        threading.Thread(target=_end_with, args=(ours,), daemon=True).start()
        status = 1
        try:
            work(number)
            status = 0
        except Exception:  # noqa: BLE001 — said here, or nobody would hear of it
            traceback.print_exc()
        finally:
            os._exit(status)

    for number in range(count):
        start(number)
    signal.signal(signal.SIGTERM, stop)
    signal.signal(signal.SIGINT, stop)
    while children:
        with suppress(InterruptedError):
            ended, _ = os.wait()
            number = children.pop(ended)
            time.sleep(0.0 if stopping else BREATH_S)
            if not stopping:
                start(number)
    os.close(ours)
    os.close(theirs)


def _end_with(pipe: int) -> None:
    """End this process when the other end of a pipe is closed."""
    os.read(pipe, 1)
    os.kill(os.getpid(), signal.SIGTERM)
