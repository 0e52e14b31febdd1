"""What can be answered, and how: the test box, dark lamps, readings as people write them, with and without scripts."""

from __future__ import annotations

import re
from itertools import pairwise
from typing import TYPE_CHECKING
from urllib.parse import quote

import pytest
from casework import CasePage
from hands import Finger, Mouse
from playwright.sync_api import expect

if TYPE_CHECKING:
    from collections.abc import Callable

    from playwright.sync_api import BrowserContext, Page, Route
    from served import Served

pytestmark = pytest.mark.slow

BOX = (
    "put the left cord in the test box, bridge the B and C pins of its weapon plug, and tug and twist the wire at the weapon plug"
)
METERED = "hold the meter to the B and C contacts of the left foil's socket, point up"


def opened(page: Page, server: Served, weapon: str = "foil", **place: object) -> str:
    """Open a case and return its address."""
    made = page.request.post(f"{server.url}/api/cases", data={"weapon": weapon, "title": "Answers (invented)"}).json()
    if place:
        page.request.put(f"{server.url}/api/cases/{made['id']}/place", data={"place": "bench", **place})
    return f"{server.url}/cases/{made['id']}"


def meter_trial(page: Page, server: Served) -> str:
    """Return the address of a case that asks for a reading."""
    at = opened(page, server, item="left weapon", tools=["meter"])
    return f"{at}?say={quote(METERED)}"


def test_the_test_box_is_answered_lamp_by_lamp(phone: Page, server: Served) -> None:
    at = opened(phone, server, item="left cord", tools=["box"])
    phone.goto(f"{at}?say={quote(BOX)}")
    case = CasePage(phone, Finger())
    lines = phone.get_by_role("button", name=re.compile("^lines "))
    expect(lines).to_have_count(3)
    lamp = case.lamp("lines B-C")
    for _ in range(2):
        lamp.tap()
    expect(lamp).to_have_accessible_name("lines B-C: flickers")
    case.button("this is what lit").tap()
    expect(case.said.last).to_contain_text("B-C flickers")


def test_a_test_box_of_one_s_own_is_noted_too(desktop: Page, server: Served) -> None:
    at = opened(desktop, server)
    desktop.goto(f"{at}/own")
    desktop.get_by_text("Looked at or measured").click()
    desktop.get_by_label("In the test box").select_option("left cord")
    desktop.get_by_role("button", name=re.compile("^lines A-B")).click()
    desktop.get_by_label("the lamps were watched").uncheck()
    desktop.get_by_role("button", name="save").click()
    expect(CasePage(desktop, Mouse()).said.last).to_contain_text("A-B lit")


def test_an_orange_lamp_is_said_to_be_dark_and_counts_as_there_from_then_on(phone: Page, server: Served) -> None:
    """An épée apparatus may do without it (FIE Material Rules, Annex B, B(e)4), so untouched it says nothing at first."""
    phone.goto(opened(phone, server, "épée"))
    case = CasePage(phone, Finger())
    orange = case.lamp("left orange lamp")
    expect(orange).to_have_accessible_name("left orange lamp: not checked")
    for _ in range(4):
        orange.tap()
    expect(orange).to_have_accessible_name("left orange lamp: dark")
    case.button("nothing lit").tap()
    expect(case.said).to_have_count(1)
    expect(case.lamp("right orange lamp")).to_have_accessible_name("right orange lamp: dark")
    body = phone.request.get(phone.url.replace("/cases/", "/api/cases/")).json()
    assert body["entries"][-1]["trial"]["saw"] == ["left nothing", "left no orange", "right nothing"]


def test_a_dark_yellow_lamp_is_noted_as_dark(phone: Page, server: Served) -> None:
    phone.goto(opened(phone, server))
    case = CasePage(phone, Finger())
    case.lamp("left white lamp").tap()
    case.button("this is what lit").tap()
    expect(case.said).to_have_count(1)
    body = phone.request.get(phone.url.replace("/cases/", "/api/cases/")).json()
    assert "left no yellow" in body["entries"][-1]["trial"]["saw"]


@pytest.mark.parametrize(
    ("written", "shown"),
    [("1,6", "1.6 Ω"), ("OL", "open"), ("1k", "1 kΩ"), (">20", "over 20 Ω"), ("jumps between 1 and 5", "1 to 5 Ω")],
)
def test_a_reading_is_taken_as_people_write_it(written: str, shown: str, desktop: Page, server: Served) -> None:
    desktop.goto(meter_trial(desktop, server))
    case = CasePage(desktop, Mouse())
    desktop.get_by_label("What does the meter read?").fill(written)
    case.button("save").click()
    expect(case.said.last.get_by_text(shown, exact=True)).to_be_visible()


def test_a_thumb_has_keys_of_its_own_for_a_reading(phone: Page, server: Served) -> None:
    phone.goto(meter_trial(phone, server))
    case, reading = CasePage(phone, Finger()), phone.get_by_label("What does the meter read?")
    assert reading.get_attribute("inputmode") == "none", "the phone's own keyboard stays down"
    for key in ("2", ". point", "5", "⌫ delete", "4", "to", "1", "2"):
        case.button(key).tap()
    expect(reading).to_have_value("2.4 to 12")
    case.button("save").tap()
    expect(case.said.last).to_contain_text("2.4 to 12 Ω")
    phone.goto(meter_trial(phone, server))
    case.button("type it instead").tap()
    assert reading.get_attribute("inputmode") == "text"
    expect(case.button("over")).to_be_hidden()


def test_touched_lamps_outlive_a_reload_and_a_look_at_a_suspect(phone: Page, server: Served) -> None:
    case = CasePage(phone, Finger())
    case.begin_at_once(server.url)
    white = case.lamp("left white lamp")
    white.tap()
    white.tap()
    phone.get_by_label("not watched").last.check()
    phone.reload()
    expect(white).to_have_accessible_name("left white lamp: flickers")
    expect(phone.get_by_label("not watched").last).to_be_checked()
    case.suspects.first.get_by_role("link").tap()
    phone.get_by_role("link", name="back to the case").tap()
    expect(white).to_have_accessible_name("left white lamp: flickers")
    case.button("this is what lit").tap()
    expect(case.said).to_have_count(2)
    phone.reload()
    expect(phone.locator(".lamp[data-state]")).to_have_count(0)


def test_lamps_are_answered_without_scripts(browser_without_scripts: Page, server: Served) -> None:
    page = browser_without_scripts
    case = CasePage(page, Mouse())
    case.begin_at_once(server.url)
    expect(page.locator(".lamp").first).to_be_hidden()
    page.get_by_role("combobox", name="white").first.select_option("flickers")
    page.get_by_role("button", name="save what was seen").click()
    expect(case.said).to_have_count(2)
    expect(case.said.last).to_contain_text("left white flickers")


@pytest.mark.parametrize("weapon", ["foil", "épée", "sabre"])
def test_lamps_do_not_overlap_on_the_smallest_phone(weapon: str, devices: Callable[..., BrowserContext], server: Served) -> None:
    page = devices(phone=True).new_page()
    page.set_viewport_size({"width": 320, "height": 568})
    page.goto(opened(page, server, weapon))
    lamps = [lamp.bounding_box() for lamp in page.locator(".lamp").all()]
    assert len(lamps) >= 4
    for one, other in pairwise(lamps):
        assert one
        assert other
        assert one["x"] + one["width"] <= other["x"] + 0.5 or one["y"] + one["height"] <= other["y"]
    assert page.evaluate("document.documentElement.scrollWidth") == 320


def test_what_takes_long_shows_a_sign_of_life_and_takes_no_second_answer(desktop: Page, server: Served) -> None:
    case = CasePage(desktop, Mouse())
    case.begin_at_once(server.url)
    held: list[Route] = []
    desktop.route("**/skip", lambda route: held.append(route))  # noqa: PLW0108 — the page wants a function of Python
    case.button("can’t do that now").click()
    expect(case.button("nothing lit")).to_be_disabled()
    assert desktop.evaluate("getComputedStyle(document.querySelector('.top'), '::after').animationName") == "busy"
    held[0].continue_()
    expect(desktop.get_by_text("skipped:")).to_have_count(1)
    expect(case.button("nothing lit")).to_be_enabled()


def test_nothing_is_held_up_by_what_loads_beside_the_question(desktop: Page, server: Served) -> None:
    held: list[Route] = []
    desktop.route("**/suspects/**", lambda route: held.append(route))  # noqa: PLW0108 — the page wants a function of Python
    case = CasePage(desktop, Mouse())
    case.begin_at_once(server.url)
    desktop.locator(".more").scroll_into_view_if_needed()
    expect(desktop.locator(".more.htmx-request")).to_have_count(1)
    assert case.button("nothing lit").is_enabled()
    held[0].continue_()
    expect(desktop.locator(".suspects .reason")).to_contain_text("If so")
