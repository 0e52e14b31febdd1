"""Where things stand on the page of a case: what is asked and what is suspected at first sight, and nothing over anything."""

from __future__ import annotations

from typing import TYPE_CHECKING
from urllib.parse import quote

import pytest
from casework import CasePage
from hands import Finger
from playwright.sync_api import expect
from survey import PHONE

if TYPE_CHECKING:
    from collections.abc import Callable

    from playwright.sync_api import BrowserContext, Locator, Page
    from served import Served

pytestmark = pytest.mark.slow

FIRST_LOOK = 1.5 * PHONE["height"]
"""A screen and a half of a phone [px]: one swipe of the thumb; judgement, no source."""
TOLD: tuple[dict[str, object], ...] = (
    {"saw": "left white"},
    {"saw": "left white", "swapped": "left cord", "times": 3},
    {"saw": "nothing", "swapped": ["left cord", "left weapon"], "times": 5},
)
"""A white that stays with another cord and goes with another foil: time to act (invented)."""
SECTIONS = ".ask, .board > .care, .suspects, .picture, .said"


@pytest.fixture
def acting(server: Served, devices: Callable[..., BrowserContext]) -> str:
    """Open a case in which it is time to act, with lamps to be answered; return its address."""
    ask = devices().request
    made = ask.post(f"{server.url}/api/cases", data={"weapon": "foil", "title": "Where things stand (invented)"}).json()
    for number, trial in enumerate(TOLD):
        told = ask.post(f"{server.url}/api/cases/{made['id']}/trials", data={"trial": trial, "token": f"t{number}"}).json()
    assert told["diagnosis"]["act"]["words"]
    return f"{server.url}/cases/{made['id']}?say={quote('leave the whole strip at rest')}"


def bottom(thing: Locator) -> float:
    """Return where a thing ends, from the top of the page [px]."""
    box = thing.bounding_box()
    assert box is not None
    return box["y"] + box["height"]


def test_a_phone_shows_question_answer_act_undo_and_three_suspects_at_first_look(phone: Page, acting: str) -> None:
    phone.goto(acting)
    case = CasePage(phone, Finger())
    shown = [
        case.band,
        case.asked,
        case.button("nothing lit"),
        phone.get_by_role("button", name="undo"),
        *case.suspects.all()[:3],
    ]
    assert len(shown) == 7
    for thing in shown:
        assert bottom(thing) <= FIRST_LOOK
    assert bottom(phone.get_by_role("button", name="undo")) <= bottom(case.asked) + 400, "undo stands beside the question"


def test_the_picture_is_one_tap_away_on_a_phone(phone: Page, acting: str) -> None:
    phone.goto(acting)
    picture = phone.locator(".picture .fd-strip")
    expect(picture).to_be_hidden()
    phone.get_by_text("picture of the strip").tap()
    expect(picture).to_be_visible()


@pytest.mark.parametrize("width", [320, 390, 700, 1024, 1280, 1600])
def test_no_part_of_the_page_lies_over_another_wherever_it_is_scrolled_to(
    width: int, devices: Callable[..., BrowserContext], acting: str
) -> None:
    page = devices().new_page()
    page.set_viewport_size({"width": width, "height": 800})
    page.goto(acting)
    page.evaluate("document.querySelectorAll('details').forEach(each => each.open = true)")
    for share in (0, 0.5, 1):
        page.evaluate("share => scrollTo(0, share * document.body.scrollHeight)", share)
        boxes = [box for each in page.locator(SECTIONS).all() if (box := each.bounding_box())]
        assert len(boxes) == 5
        for number, one in enumerate(boxes):
            for other in boxes[number + 1 :]:
                apart = (
                    one["x"] + one["width"] <= other["x"] + 1
                    or other["x"] + other["width"] <= one["x"] + 1
                    or one["y"] + one["height"] <= other["y"] + 1
                    or other["y"] + other["height"] <= one["y"] + 1
                )
                assert apart, (one, other)
    assert page.evaluate("document.documentElement.scrollWidth") <= width


def test_a_laptop_shows_question_suspects_and_picture_side_by_side(desktop: Page, acting: str) -> None:
    desktop.goto(acting)
    for thing in (".ask h2", ".suspects h2", ".picture .fd-strip"):
        expect(desktop.locator(thing).first).to_be_in_viewport()
    expect(desktop.locator(".suspects .reason")).to_contain_text("If so")
