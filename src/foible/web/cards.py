"""Field cards, made in the background: one takes some seconds, and nobody else waits for it."""

from __future__ import annotations

import threading
from concurrent.futures import Future
from threading import Lock
from typing import TYPE_CHECKING

from cachetools import LRUCache

from foible.output import Card, card_of

if TYPE_CHECKING:
    from foible.services.reasoning import Reasoning

__all__ = ["CardTable"]

CARDS = 64
"""Cards that stay in memory."""

Key = tuple[str, tuple[str, ...], float, tuple[str, ...]]


class CardTable:
    """Makes field cards, one after the other."""

    def __init__(self, reasoning: Reasoning) -> None:
        self._reasoning = reasoning
        self._cards: LRUCache[Key, Future[Card]] = LRUCache(CARDS)
        self._asking, self._drawing = Lock(), Lock()

    def ask(self, weapon: str, tools: tuple[str, ...], minutes: float, facts: tuple[str, ...] = ()) -> Future[Card]:
        """Return the card of a weapon for tools, time and facts of the place, finished or still in the making."""
        key = (weapon, tools, minutes, facts)
        with self._asking:
            known = self._cards.get(key)
            if known is None:
                known = self._cards[key] = Future()
                threading.Thread(target=self._draw_up, args=(known, *key), daemon=True).start()  # ends with the program
            return known

    def _draw_up(self, into: Future[Card], weapon: str, tools: tuple[str, ...], minutes: float, facts: tuple[str, ...]) -> None:
        with self._drawing:
            try:
                plan = self._reasoning.card(weapon, tools, minutes, facts=facts)
                into.set_result(card_of(self._reasoning.setup(weapon), plan))
            except Exception as error:  # noqa: BLE001 — whoever asked is told
                into.set_exception(error)
