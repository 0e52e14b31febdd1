"""What a case is called, where it is, whose kit it is; and what a device remembers for its next case."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING
from urllib.parse import quote

import pytest
from casework import DEMO_SAYS, CasePage
from hands import Mouse
from playwright.sync_api import expect

if TYPE_CHECKING:
    from collections.abc import Callable

    from playwright.sync_api import Browser, BrowserContext, Page
    from served import Served

pytestmark = pytest.mark.slow


def test_title_piste_and_fencer_are_said_at_the_start_and_changed_later(desktop: Page, server: Served) -> None:
    case = CasePage(desktop, Mouse())
    desktop.goto(f"{server.url}/new/foil")
    desktop.get_by_text("piste, fencer").click()
    desktop.get_by_label("Piste", exact=True).fill("7")
    desktop.get_by_label("Fencer", exact=True).fill("No. 12 (invented)")
    desktop.get_by_role("button", name=f"left fencer: {DEMO_SAYS}", exact=True).click()
    expect(case.said).to_have_count(1)
    desktop.get_by_text("piste 7 · No. 12 (invented)").click()
    desktop.get_by_label("Title", exact=True).fill("White on the red piste (invented)")
    desktop.get_by_label("Piste", exact=True).fill("red")
    desktop.get_by_label("Left socket").select_option(label="bayonet socket")
    case.button("save").first.click()
    expect(desktop.get_by_role("heading", level=1)).to_have_text("White on the red piste (invented)")
    desktop.get_by_text("piste red · No. 12 (invented)").click()
    expect(desktop.get_by_label("Left socket")).to_have_value("left socket bayonet")
    expect(desktop.get_by_label("Right socket")).to_have_value("right socket two-pin")
    desktop.goto(server.url)
    desktop.get_by_role("searchbox").fill("no. 12 red")
    desktop.get_by_role("button", name="Find a case").click()
    expect(desktop.get_by_role("link", name="White on the red piste (invented)")).to_contain_text("piste red")


def test_days_in_a_search_are_those_of_the_device_that_asks(browser: Browser, server: Served) -> None:
    context = browser.new_context(timezone_id="Asia/Tokyo")
    page = context.new_page()
    page.goto(server.url)
    page.get_by_role("searchbox").fill("Lanternfield")
    page.get_by_role("button", name="Find a case").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("found")
    assert "zone=Asia%2FTokyo" in page.url
    context.close()


def test_enter_in_a_field_of_a_new_case_is_no_complaint(desktop: Page, server: Served) -> None:
    desktop.goto(f"{server.url}/new/foil")
    desktop.get_by_label("Something else, or not known yet").fill("It hums (invented)")
    desktop.keyboard.press("Enter")
    expect(desktop.get_by_role("heading", level=1)).to_have_text("It hums (invented)")
    expect(CasePage(desktop, Mouse()).said).to_have_count(0)


def test_a_device_remembers_place_tools_and_weapon_for_its_next_case(
    devices: Callable[..., BrowserContext], server: Served
) -> None:
    page = devices().new_page()
    case = CasePage(page, Mouse())
    page.goto(f"{server.url}/new/epee")
    expect(page.get_by_role("radio", name="at the piste")).to_be_checked()
    page.get_by_text("on the bench", exact=True).click()
    page.get_by_label("What lies there?").select_option("body cord")
    page.get_by_text("what is at hand").click()
    page.get_by_role("checkbox", name="test box").uncheck()
    case.button("nothing is said: start testing").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Body cord on the bench")
    expect(page.get_by_text(re.compile("^On the bench, at hand: meter, test weight"))).to_be_visible()
    page.goto(server.url)
    expect(page.locator(".start.other")).to_have_count(2)
    page.goto(f"{server.url}/new/epee")
    expect(page.get_by_role("radio", name="on the bench")).to_be_checked()
    expect(page.get_by_label("What lies there?")).to_have_value("left cord")
    case.button("nothing is said: start testing").click()
    expect(page.get_by_text(re.compile("^On the bench, at hand: meter, test weight"))).to_be_visible()
    page.goto(f"{server.url}/new/epee")
    page.get_by_text("at the piste", exact=True).click()
    case.button("start without a complaint").last.click()
    expect(page.get_by_text("At the piste, at hand: spare weapons and cords")).to_be_visible()
    page.goto(f"{page.url}?say={quote('exchange the left cord for a known-good one and press the point')}")
    case.button("no spare here").click()  # what is not at hand is said when it is asked for
    expect(page.get_by_text("At the piste, at hand: nothing")).to_be_visible()
