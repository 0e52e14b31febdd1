"""Which devices are looking at which case, so that each hears when it changes."""

from __future__ import annotations

import asyncio
from functools import partial
from typing import TYPE_CHECKING

from foible.errors import KeepingError

if TYPE_CHECKING:
    from collections.abc import AsyncIterator, Callable, Collection, Mapping

    from foible.web.priority import AnswerPriority

__all__ = ["Hub"]

BREATH_S = 15.0
"""How often a comment is sent on a silent connection, so that it stays open [s]."""
LOOK_S = 0.3
"""How often the records are checked for changes by other processes, while anybody looks at a case [s]."""


class Hub:
    """Connections to the devices that look at a case. `tell` may be called from any thread."""

    def __init__(self) -> None:
        self._lines: dict[str, set[asyncio.Queue[int]]] = {}
        self._sent: dict[str, int] = {}
        self._loop: asyncio.AbstractEventLoop | None = None
        self._closed = False

    def tell(self, case: str, version: int) -> None:
        """Notify everybody who is looking at a case that it has changed."""
        if self._loop and not self._loop.is_closed():
            self._loop.call_soon_threadsafe(self._pass_on, case, version)

    def _pass_on(self, case: str, version: int) -> None:
        self._sent[case] = version
        for line in self._lines.get(case, ()):
            line.put_nowait(version)

    async def watch(self, versions: Callable[[Collection[str]], Mapping[str, int]], turns: AnswerPriority) -> None:
        """Look for changes that other processes have made, until the hub is closed."""
        while not self._closed:
            await asyncio.sleep(LOOK_S)
            if not self._lines:
                continue
            try:
                found = await turns.look(partial(versions, list(self._lines)))
            except KeepingError:
                continue  # the records are out of reach: whoever answers sees that, and the next check may succeed
            for case, version in found.items():
                if version > self._sent.get(case, version - 1):
                    self._pass_on(case, version)

    def close(self) -> None:
        """Close all connections, so that the server can stop."""
        self._closed = True
        for case in list(self._lines):
            self.tell(case, -1)

    async def changes(self, case: str, version: int, still_in: Callable[[], bool] = lambda: True) -> AsyncIterator[str]:
        """Yield a server-sent event (WHATWG HTML, 9.2) at once and whenever the case changes, to a device that is still in."""
        self._loop = asyncio.get_running_loop()
        line: asyncio.Queue[int] = asyncio.Queue()
        self._lines.setdefault(case, set()).add(line)
        self._sent.setdefault(case, version)
        try:
            yield f"data: {version}\n\n"
            while not self._closed:
                try:
                    newest = await asyncio.wait_for(line.get(), BREATH_S)
                except TimeoutError:
                    newest = None
                if not still_in():
                    return
                if newest is None:
                    yield ": still here\n\n"
                elif newest >= 0:
                    yield f"data: {newest}\n\n"
        finally:
            self._lines[case].discard(line)
            if not self._lines[case]:
                del self._lines[case], self._sent[case]
