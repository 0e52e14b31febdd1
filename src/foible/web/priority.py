"""Whose turn it is: answers are taken in before anything is reasoned about."""

from __future__ import annotations

import asyncio
from contextlib import suppress
from typing import TYPE_CHECKING, TypeVar

from anyio import CapacityLimiter, to_thread

if TYPE_CHECKING:
    from collections.abc import Callable

__all__ = ["AnswerPriority"]

Made = TypeVar("Made")
QUICK = 1
"""Answers that are taken in at once; more only take the interpreter from one another."""
PATIENCE_S = 0.5
"""What is reasoned about waits so long at most, while answers come in [s]."""


class AnswerPriority:
    """A thread of its own for what takes hardly any reasoning, and a pause for what does. Made where the event loop runs."""

    def __init__(self) -> None:
        self._threads = CapacityLimiter(QUICK)
        self._taking = 0
        self._quiet = asyncio.Event()
        self._quiet.set()

    async def look(self, work: Callable[[], Made]) -> Made:
        """Do something that takes hardly any reasoning."""
        return await to_thread.run_sync(work, limiter=self._threads)

    async def take(self, work: Callable[[], Made]) -> Made:
        """Do so for an answer, which others wait for."""
        self._taking += 1
        self._quiet.clear()
        try:
            return await self.look(work)
        finally:
            self._taking -= 1
            if not self._taking:
                self._quiet.set()

    async def wait(self) -> None:
        """Let the answers go first that are there now."""
        with suppress(TimeoutError):
            await asyncio.wait_for(self._quiet.wait(), PATIENCE_S)
