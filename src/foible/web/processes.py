"""The same work in several processes, so that every core is used: one parent, and children that end with it."""

from __future__ import annotations

import os
import signal
import threading
import time
import traceback
from contextlib import suppress
from typing import TYPE_CHECKING, NoReturn

from foible.web.stopping import heard, leave, stops

if TYPE_CHECKING:
    from collections.abc import Callable

__all__ = ["share_out"]

BREATH_S = 0.3
"""The pause before a process that ended is replaced, so that one that cannot work does not keep the machine busy [s]."""


def share_out(work: Callable[[int], None], count: int) -> None:
    """Do `work`, given a number each, in `count` processes until this one is told to stop; one that dies is started again.

    The children hold one end of a pipe: when the parent ends, in whatever way, they read end-of-file and end too.
    """
    children = _Children(work)
    heard(children.stop)
    for number in range(count):
        children.start(number)
    children.wait()


class _Children:
    """The processes that do the work, by process id, with the number of each."""

    def __init__(self, work: Callable[[int], None]) -> None:
        self._work = work
        self._stops = stops()
        self._theirs, self._ours = os.pipe()
        self._numbers: dict[int, int] = {}
        self._stopping = False

    def start(self, number: int) -> None:
        # Or one could come while the new child is not yet among those to stop.
        signal.pthread_sigmask(signal.SIG_BLOCK, self._stops)
        child = os.fork()
        if not child:
            self._be_child(number)
        self._numbers[child] = number
        if self._stopping:
            os.kill(child, signal.SIGTERM)
        signal.pthread_sigmask(signal.SIG_UNBLOCK, self._stops)

    def _be_child(self, number: int) -> NoReturn:
        heard(leave)
        signal.pthread_sigmask(signal.SIG_UNBLOCK, self._stops)
        os.close(self._ours)
        threading.Thread(target=_end_with, args=(self._theirs,), daemon=True).start()
        status = 1
        try:
            with suppress(SystemExit):
                self._work(number)
            status = 0
        except Exception:  # noqa: BLE001 — said here, or nobody would hear of it
            traceback.print_exc()
        finally:
            os._exit(status)

    def stop(self, *_: object) -> None:
        self._stopping = True
        for child in self._numbers:
            with suppress(ProcessLookupError):
                os.kill(child, signal.SIGTERM)

    def wait(self) -> None:
        """Start a child again whenever one ends, and return when all have ended after `stop`."""
        while self._numbers:
            with suppress(InterruptedError):
                ended, _ = os.wait()
                number = self._numbers.pop(ended)
                time.sleep(0.0 if self._stopping else BREATH_S)
                if not self._stopping:
                    self.start(number)
        os.close(self._theirs)
        os.close(self._ours)


def _end_with(pipe: int) -> None:
    """End this process when the other end of a pipe is closed."""
    os.read(pipe, 1)
    os.kill(os.getpid(), signal.SIGTERM)
