"""The page of a case, as its user sees it: what is asked, what can be touched, what stands there."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from playwright.sync_api import Page, expect

from foible.trials import report_key

if TYPE_CHECKING:
    from hands import Hand
    from playwright.sync_api import Locator
    from truth import Truth

    from foible.trials import Idea

__all__ = ["DEMO_SAYS", "SHOWN_FIRST", "CasePage"]

DEMO_SAYS = "It goes white, and I never hit anything"
"""What the demo's fencer complains of."""
SHOWN_FIRST = re.compile(r"^\s*(Now|Or act now):")
"""How the band begins that says what to do."""


class CasePage:
    """The page of a case and the hand that works it."""

    def __init__(self, page: Page, hand: Hand) -> None:
        self.page = page
        self.hand = hand

    def begin(self, weapon: str, side: str, says: str) -> None:
        """Open a case from the start page."""
        self.hand.touch(self.page.get_by_role("link", name=f"{weapon} new case"))
        self.hand.touch(self.page.get_by_role("button", name=f"{side} fencer: {says}", exact=True))
        expect(self.said).to_have_count(1)

    def begin_at_once(self, url: str) -> None:
        """Open a case of the demo's complaint without the pages on the way to it."""
        body = {"weapon": "foil", "complaint": DEMO_SAYS, "side": "left"}
        answer = self.page.request.post(f"{url}/api/cases", data=body)
        assert answer.ok, answer.text()
        self.page.goto(f"{url}/cases/{answer.json()['id']}")
        expect(self.said).to_have_count(1)

    @property
    def asked(self) -> Locator:
        """The heading that asks for a trial."""
        return self.page.get_by_role("main").get_by_role("heading", level=2).first

    @property
    def suspects(self) -> Locator:
        """The named suspects."""
        return self.page.get_by_role("region", name="Suspects").get_by_role("list").first.get_by_role("listitem")

    @property
    def said(self) -> Locator:
        """Everything that was noted in the case."""
        return self.page.get_by_role("region", name="So far").get_by_role("listitem")

    @property
    def band(self) -> Locator:
        """What to do now, where that is better than to try on."""
        return self.page.get_by_role("main").get_by_role("paragraph").filter(has_text=SHOWN_FIRST)

    def lamp(self, name: str) -> Locator:
        """Return a lamp by its name, however it is lit."""
        return self.page.get_by_role("button", name=re.compile(f"^{name}:"))

    def button(self, name: str) -> Locator:
        """Return a button by its name."""
        return self.page.get_by_role("button", name=name, exact=True)

    def nothing_lit(self) -> None:
        """Say that no lamp lit, and wait until it stands there."""
        before = self.said.count()
        self.hand.touch(self.button("nothing lit"))
        expect(self.said).to_have_count(before + 1)

    def answer(self, idea: Idea, truth: Truth) -> None:
        """Do what is asked with the kit as it truly is, and say what came of it."""
        before = self.said.count()
        if report_key(idea) == "saw":
            lit = truth.lit(idea)
            for name in lit:
                self.hand.touch(self.lamp(name))
            self.hand.touch(self.button("this is what lit" if lit else "nothing lit"))
        else:
            self.hand.touch(self.button(truth.found(idea)))
        expect(self.said).to_have_count(before + 1)
