"""A thumb on the pages of a case: what can be touched, each touch counted, and the page waited for."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from playwright.sync_api import expect

from foible.output.lamp_words import lamp_words

if TYPE_CHECKING:
    from collections.abc import Sequence

    from playwright.sync_api import Locator, Page

    from foible.kit import Weapon

__all__ = ["Thumb"]

TOUCHES = {"": 1, "flickers": 2, "sometimes": 3}
"""How often a lamp is touched until it shows what was seen."""
KEYED = re.compile(r"open|over | to |.")
"""What one key of a reading's own keys writes."""


class Thumb:
    """What can be done on a page with one thumb. `taps` counts every touch."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.taps = 0

    def tap(self, thing: Locator) -> None:
        """Touch a thing."""
        self.taps += 1
        thing.tap()

    def button(self, name: str | re.Pattern[str]) -> Locator:
        """Return a button by its name."""
        return self.page.get_by_role("button", name=name, exact=True)

    def changes(self, thing: Locator) -> None:
        """Touch a thing that changes the case, and wait until the page shows it."""
        board = self.page.locator("#board")
        before = board.get_attribute("data-version") or ""
        self.tap(thing)
        expect(board).not_to_have_attribute("data-version", before)

    @property
    def asked(self) -> str:
        """The heading of the card."""
        return self.page.locator("#ask-title").inner_text()

    @property
    def say(self) -> str:
        """The sentence of the trial that is asked for."""
        return self.page.locator("form[data-answer]").get_attribute("data-answer") or ""

    # --- answers --------------------------------------------------------------------------------------------------

    def saw(self, phrases: Sequence[str], weapon: Weapon) -> None:
        """Say what lit, by one button where there is one that says so, else lamp by lamp; the page says what stayed dark."""
        phrases = [phrase for phrase in phrases if {"no", "nothing"}.isdisjoint(phrase.split())] or ["nothing"]
        words = ", ".join(lamp_words(phrases, weapon))
        quick = self.button(words)
        if quick.count():
            self.changes(quick)
            return
        for phrase in phrases:
            if phrase == "nothing":
                continue
            side, kind, *manner = phrase.split(" ", 2)
            lamp = next(each.word for each in weapon.lamps if kind in (each.kind, each.word))
            for _ in range(TOUCHES[manner[0] if manner else ""]):
                self.tap(self.page.locator(f"[data-lamp={side}_{lamp}]"))
        self.changes(self.page.locator("[data-done]"))

    def lit(self, pairs: Sequence[str]) -> None:
        """Say what lit on a test box."""
        for phrase in pairs:
            if phrase == "nothing":
                continue
            pair, _, manner = phrase.partition(" ")
            for _ in range(TOUCHES[manner]):
                self.tap(self.page.locator(f"[data-lamp='box_{pair}']"))
        self.changes(self.page.locator("[data-done]"))

    def found(self, signs: Sequence[str]) -> None:
        """Say what the eye or a gauge found: the first of the signs that the page has a button for."""
        for sign in signs:
            if self.button(sign).count():
                self.changes(self.button(sign))
                return
        seen = self.page.locator(".signs button").all_inner_texts()
        message = f"“{', '.join(signs)}” cannot be answered to “{self.asked}”: {', '.join(seen)}"
        raise AssertionError(message)

    def reads(self, reading: str) -> None:
        """Type a meter reading on the page's own keys."""
        if reading == "open":
            self.changes(self.page.locator(".quick button, .keys [data-key=open]").locator("visible=true").first)
            return
        for key in KEYED.findall(reading):
            self.tap(self.page.locator(f".keys [data-key='{key}']"))
        self.changes(self.page.locator(".reading .chief"))
