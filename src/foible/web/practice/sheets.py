"""Worksheets, made in a thread of their own: one takes some seconds, and nobody else waits for it."""

from __future__ import annotations

import threading
from concurrent.futures import Future
from dataclasses import dataclass
from threading import Lock
from typing import TYPE_CHECKING

from cachetools import LRUCache

from foible.output.worksheet_pdf import worksheet_pdf
from foible.services.practice.worksheets import exercises_by_hand, worksheet

if TYPE_CHECKING:
    from foible.practice import Level
    from foible.services.reasoning import Reasoning

__all__ = ["AskedSheet", "SheetTable"]

SHEETS = 16
"""Worksheets that stay in memory."""


@dataclass(frozen=True, slots=True)
class AskedSheet:
    """What a worksheet is to hold."""

    weapon: str
    level: Level
    count: int
    seed: int
    made: tuple[str, ...]
    """Faults made by hand, by what stands in their addresses; then nothing but the weapon counts beside them."""
    base: str
    """What stands before the addresses on it."""


class SheetTable:
    """Makes worksheets, one after the other."""

    def __init__(self, reasoning: Reasoning) -> None:
        self._reasoning = reasoning
        self._sheets: LRUCache[AskedSheet, Future[bytes]] = LRUCache(SHEETS)
        self._asking, self._drawing = Lock(), Lock()

    def ask(self, asked: AskedSheet) -> Future[bytes]:
        """Return a worksheet as PDF, finished or still in the making. One that failed is made again when next asked for."""
        with self._asking:
            known = self._sheets.get(asked)
            if known is None or (known.done() and known.exception()):
                known = self._sheets[asked] = Future()
                threading.Thread(target=self._draw_up, args=(known, asked), daemon=True).start()  # ends with the program
            return known

    def _draw_up(self, into: Future[bytes], asked: AskedSheet) -> None:
        with self._drawing:
            try:
                if asked.made:
                    sheet = exercises_by_hand(self._reasoning, asked.weapon, asked.made)
                else:
                    sheet = worksheet(self._reasoning, asked.weapon, asked.level, asked.count, asked.seed)
                into.set_result(worksheet_pdf(sheet, lambda path: asked.base + path))
            except Exception as error:  # noqa: BLE001 — whoever asked is told
                into.set_exception(error)
