"""Three ways to work Foible: by mouse, by finger, and by keyboard alone. Each counts what it does."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from playwright.sync_api import Locator

__all__ = ["Finger", "Hand", "Keys", "Mouse"]

FARTHEST = 150
"""Presses of the tabulator key after which something counts as out of reach."""


class Hand:
    """What can touch a thing on a page."""

    def __init__(self) -> None:
        self.count = 0

    def touch(self, thing: Locator) -> None:
        """Touch a thing."""
        self.count += 1
        self._touch(thing)

    def _touch(self, thing: Locator) -> None:
        raise NotImplementedError


class Mouse(Hand):
    """A click."""

    def _touch(self, thing: Locator) -> None:
        thing.click()


class Finger(Hand):
    """A tap."""

    def _touch(self, thing: Locator) -> None:
        thing.tap()


class Keys(Hand):
    """Tab until the thing has the focus, then Enter on a link and Space on a button."""

    def _touch(self, thing: Locator) -> None:
        thing.wait_for()
        keyboard = thing.page.keyboard
        for _ in range(FARTHEST):
            if thing.evaluate("each => each === document.activeElement"):
                break
            keyboard.press("Tab")
        else:
            pytest.fail(f"the tabulator key does not reach {thing}")
        keyboard.press("Enter" if thing.evaluate("each => each.matches('a, summary')") else "Space")
