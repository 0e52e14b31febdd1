"""Where things stand on the page of a case: what is asked and what is suspected at first sight, and nothing over anything."""

from __future__ import annotations

import re
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
SECTIONS = ".ask, .care, .suspects, .picture, .said, .case-tools"


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


def test_the_picture_is_one_tap_away_on_a_phone_and_opens_above_the_suspects(phone: Page, acting: str) -> None:
    phone.goto(acting)
    picture = phone.locator(".picture .fd-strip")
    expect(picture).to_be_hidden()
    phone.get_by_text("picture of the strip").tap()
    expect(picture).to_be_visible()
    assert bottom(picture) < bottom(phone.get_by_role("heading", name="Suspects"))


@pytest.mark.parametrize("width", [320, 390, 640, 700, 1024, 1280, 2560])
def test_no_part_of_the_page_lies_over_another_wherever_it_is_scrolled_to(
    width: int, devices: Callable[..., BrowserContext], acting: str
) -> None:
    """640 px is a laptop's 1280 at a zoom of 200 %."""
    page = devices().new_page()
    page.set_viewport_size({"width": width, "height": 800})
    page.goto(acting)
    page.evaluate("document.querySelectorAll('details').forEach(each => each.open = true)")
    if width < 700:
        page.get_by_text("picture of the strip").click()
    for share in (0, 0.5, 1):
        page.evaluate("share => scrollTo(0, share * document.body.scrollHeight)", share)
        boxes = [box for each in page.locator(SECTIONS).all() if (box := each.bounding_box())]
        assert len(boxes) == 6
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


def test_a_laptop_shows_question_log_suspects_and_picture_side_by_side(desktop: Page, acting: str) -> None:
    desktop.goto(acting)
    for thing in (".ask h2", ".suspects h2", ".picture .drawn", ".said h2"):
        expect(desktop.locator(thing).first).to_be_in_viewport()
    expect(desktop.locator(".suspects .reason")).to_contain_text("If so")
    ends = [bottom(desktop.locator(each)) for each in (".care", ".picture", ".case-tools")]
    top = desktop.locator(".ask").bounding_box()
    assert top is not None
    assert min(ends) - top["y"] >= 0.5 * (max(ends) - top["y"]), "no column is left half empty"


def test_a_laptop_has_keys_for_everything_and_they_can_be_turned_off(desktop: Page, acting: str) -> None:
    desktop.goto(acting)
    case = CasePage(desktop, Finger())
    before = case.said.count()
    desktop.keyboard.press("1")
    expect(case.lamp("left white lamp")).to_have_accessible_name("left white lamp: lit")
    desktop.keyboard.press("s")
    expect(case.said).to_have_count(before + 1)
    expect(case.said.last).to_contain_text("left white lit")
    desktop.keyboard.press("u")
    expect(desktop.get_by_text("(taken back)")).to_be_visible()
    desktop.keyboard.press("d")
    expect(case.asked).to_have_text(re.compile("prove|Proved"))
    desktop.get_by_text("keys", exact=True).click()
    desktop.get_by_label("use these keys").uncheck()
    desktop.keyboard.press("t")
    desktop.get_by_label("use these keys").check()
    expect(case.asked).to_have_text(re.compile("prove|Proved"))
    desktop.keyboard.press("t")
    expect(desktop.get_by_role("heading", level=1)).to_have_text("Another trial")


def test_a_case_is_printed_without_what_can_be_touched(desktop: Page, acting: str) -> None:
    desktop.goto(acting)
    desktop.emulate_media(media="print")
    expect(desktop.get_by_role("button").filter(visible=True)).to_have_count(0)
    expect(desktop.get_by_role("heading", name="So far")).to_be_visible()
    expect(desktop.get_by_role("link", name="print", exact=True)).to_be_hidden()


def test_a_question_says_why_it_is_asked_now(phone: Page, acting: str) -> None:
    phone.goto(acting)
    expect(phone.locator(".why")).to_have_text("Once more, as what comes and goes may hide.")
