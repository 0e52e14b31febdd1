"""A club evening as a new user would have it, on a phone: broken kit out of a box, labelled, mended and back, every tap counted.

One foil and one cord go all the way by touch, trials and all. The twelve others go by the same pages, with the same buttons of
the same forms, sent without a finger: a tap is counted for each. Their cases are left out: for them the taps that the first of
their kind took are counted again.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Literal

import pytest
from casework import CasePage
from hands import Finger
from playwright.sync_api import expect
from truth import Truth

if TYPE_CHECKING:
    from playwright.sync_api import APIRequestContext, APIResponse, Page
    from served import Served

pytestmark = pytest.mark.slow

BOX = (*["weapon|foil"] * 8, *["cord|foil"] * 6)
"""What is in it, as the form names it."""
BROKEN = {
    "weapon|foil": "left weapon blade tape: missing or worn through",
    "cord|foil": "left cord clip bite: come off, or never put on",
}
MOST_TAPS = 6
"""For an item, its label and its share of the way to the pages among them; trials and the lines of a proof are not counted."""
MOST_TRIALS = 8
BUTTON_OR_LINK: tuple[Literal["button"], Literal["link"]] = ("button", "link")
CHOICE = 2
"""Taps to choose from a list: one opens it."""


class Evening:
    """The evening that is under way; `hand` counts the taps, whoever makes them."""

    def __init__(self, page: Page, url: str) -> None:
        self.page, self.url, self.hand = page, url, Finger()
        self.case = CasePage(page, self.hand)
        self.codes: list[str] = []
        self.at_the_bench: dict[str, int] = {}
        """Taps from a card to the next one, by what it was."""

    def tap(self, name: str) -> None:
        """Touch a button or a link by what stands on it."""
        button, link = (self.page.get_by_role(role, name=name, exact=True) for role in BUTTON_OR_LINK)
        self.hand.touch(button.or_(link))

    def send(self, page: str, action: str, **fields: str) -> str:
        """Send a form of a page as its button does; return the address that it leads to, and count the button."""
        self.hand.count += 1
        answer = posted(self.page.request, f"{self.url}{page}", f"{self.url}{action}", **fields)
        assert answer.ok, answer.text()
        return answer.url.removeprefix(self.url)

    # --- out of the box -------------------------------------------------------------------------------------------

    def register(self, what: str, complaint: str) -> None:
        """Register something by touch; of its kind the first has to be chosen, and the words are typed where the cursor is."""
        chosen = self.page.get_by_label("What is it?")
        if chosen.input_value() != what:
            chosen.select_option(what)
            self.hand.count += CHOICE
        if self.codes:
            self.page.keyboard.type(complaint)
        before = self.page.url
        self.tap("to the bench, and the next one")
        self.page.wait_for_url(lambda address: address != before)
        self._note(self.page.url)

    def register_alike(self, what: str) -> None:
        """Register one more of the same."""
        self._note(self.send("/register/items/new", "/register/items", what=what, complaint="dead", bench="next"))

    def _note(self, address: str) -> None:
        self.codes.append(address.rpartition("after=")[2])

    # --- at the bench ---------------------------------------------------------------------------------------------

    def mend(self, what: str) -> None:
        """Find the fault of the item whose card is shown, mend it and prove it, by touch; and take the next job."""
        card, before = self.page.url, self.hand.count
        truth = Truth("foil", BROKEN[what])
        self.tap("find the fault")
        trials = self._tried(truth)
        self.hand.touch(self.page.locator(".act .deeds button").first)
        passing = self.page.get_by_role("button", name=re.compile("^passed, line"))
        expect(self.case.asked).to_have_text(re.compile("^(Now prove it|Proved)"))
        for left in range(passing.count(), 0, -1):
            expect(passing).to_have_count(left)
            passing.first.tap()
        self.tap("close: mended and proved")
        self.page.wait_for_url(card)
        failure = BROKEN[what].removeprefix("left ")
        expect(self.page.get_by_role("checkbox", name=re.compile(f"^{failure}"))).to_be_checked()
        assert trials <= MOST_TRIALS
        self.tap("mended, handed back: next job")
        self.page.wait_for_url(lambda address: address != card)
        self.at_the_bench[what] = self.hand.count - before
        done = self.page.request.get(card).text()
        if what != BOX[0]:
            assert "dead at the last touch" in done, "what was typed without touching the field"
        for words in ("<b>handed back</b>", f"<b>found</b> {failure}", "<b>repair</b>", "<b>proof</b>"):
            assert words in done, words

    def _tried(self, truth: Truth) -> int:
        uncounted = CasePage(self.page, Finger())
        band = self.page.locator(".act .deeds")
        for number in range(MOST_TRIALS + 1):
            expect(self.case.asked).to_be_visible()
            if band.count():
                return number
            say = self.page.locator("form[data-answer]").get_attribute("data-answer") or ""
            uncounted.answer(truth.asked(f"{say[:1].upper()}{say[1:]}"), truth)
        return MOST_TRIALS + 1

    def mend_alike(self, card: str, what: str) -> str:
        """Do the same for one more, and return the next card: its case would take the same taps again, so they are counted."""
        self.hand.count += self.at_the_bench[what] - 1
        code = re.search(r"<code>(\w+)</code>", self.page.request.get(f"{self.url}{card}").text())
        assert code
        assert code[1] in self.codes
        found = BROKEN[what].removeprefix("left ")
        return self.send(card, card, comes_to="handed back, next", usual="yes", found=found)


def posted(request: APIRequestContext, page: str, action: str, **fields: str) -> APIResponse:
    """Send a form with what is hidden in its page."""
    text = request.get(page).text()
    hidden = re.findall(r'type="hidden" name="(csrf|token|version)" value="([^"]*)"', text)
    return request.post(action, form=dict(hidden) | fields)


def test_eight_foils_and_six_cords_go_from_the_box_to_labelled_mended_and_back(phone: Page, server: Served) -> None:
    phone.goto(f"{server.url}/register")
    while posted(phone.request, f"{server.url}/register", f"{server.url}/register/queue/next").url.endswith(tuple("0123456789")):
        pass  # the demo's own jobs are in somebody else's hands
    evening = Evening(phone, server.url)
    evening.tap("new item")
    for place, what in enumerate(BOX):
        if place and what != BOX[place - 1]:
            phone.goto(f"{server.url}/register/items/new?what={BOX[place - 1]}&after={evening.codes[-1]}")
        if not place or what != BOX[place - 1]:
            evening.register(what, "dead at the last touch")
        else:
            evening.register_alike(what)
    assert len({*evening.codes}) == len(BOX)

    phone.goto(f"{server.url}/register/items/new?what={BOX[-1]}&after={evening.codes[-1]}")
    evening.tap("labels for today’s")
    expect(phone.get_by_label("Codes of items or parts")).to_be_empty()
    today = phone.get_by_label("or all items registered since").input_value()
    made = phone.request.get(f"{server.url}/register/labels.pdf?since={today}")
    evening.hand.count += 1  # make the PDF
    assert made.headers["content-type"] == "application/pdf"

    phone.goto(f"{server.url}/register")
    evening.tap("next job")
    phone.wait_for_url("**/jobs/*")
    evening.mend("weapon|foil")
    card = phone.url.removeprefix(server.url)
    for _ in range(7):
        card = evening.mend_alike(card, BOX[0])
    phone.goto(f"{server.url}{card}")
    evening.mend("cord|foil")
    card = phone.url.removeprefix(server.url)
    for _ in range(5):
        card = evening.mend_alike(card, BOX[-1])
    assert card == "/register/queue", "no job is left"
    for code in evening.codes:
        assert phone.request.get(f"{server.url}/api/register/items/{code}").json()["state"] == "in use"
    assert evening.hand.count <= MOST_TAPS * len(BOX), evening.hand.count
