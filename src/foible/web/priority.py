"""Whose turn it is: incoming answers are saved before anything is reasoned about, and reasoning is done one case at a time."""

from __future__ import annotations

import asyncio
from contextlib import suppress
from functools import cached_property
from typing import TYPE_CHECKING, TypeVar

from anyio import CapacityLimiter, to_thread

if TYPE_CHECKING:
    from collections.abc import Callable

__all__ = ["AnswerPriority"]

Made = TypeVar("Made")
QUICK, REASONED = 1, 1
"""Threads for incoming answers, and for reasoning; more would only compete for the interpreter."""
PATIENCE_S = 0.5
"""The longest that reasoning waits while answers come in [s]."""


class AnswerPriority:
    """A thread for work with hardly any reasoning, and another for reasoning, which lets the first go ahead.

    Neither is one of AnyIO's own threads: static files and pages without reasoning have those.
    """

    def __init__(self) -> None:
        self._taking = 0
        self._quiet = asyncio.Event()
        self._quiet.set()

    @cached_property
    def _quick(self) -> CapacityLimiter:
        return CapacityLimiter(QUICK)  # made at first use, where the event loop runs

    @cached_property
    def _reasoning(self) -> CapacityLimiter:
        return CapacityLimiter(REASONED)

    async def look(self, work: Callable[[], Made]) -> Made:
        """Do work with hardly any reasoning."""
        return await to_thread.run_sync(work, limiter=self._quick)

    async def take(self, work: Callable[[], Made]) -> Made:
        """Do the same for an answer, which reasoning waits for."""
        self._taking += 1
        self._quiet.clear()
        try:
            return await self.look(work)
        finally:
            self._taking -= 1
            if not self._taking:
                self._quiet.set()

    async def reason(self, work: Callable[[], Made]) -> Made:
        """Reason about something, after the answers waiting now and whatever else is being reasoned about."""
        await self._wait()
        return await to_thread.run_sync(work, limiter=self._reasoning)

    async def _wait(self) -> None:
        with suppress(TimeoutError):
            await asyncio.wait_for(self._quiet.wait(), PATIENCE_S)
