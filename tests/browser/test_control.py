"""The control table in a browser: a new user's way to the first printed form by touch, keys alone, no network, accessibility."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest
from hands import Finger
from playwright.sync_api import expect
from survey import COLOURS, DESKTOP, PHONE, violations

if TYPE_CHECKING:
    from playwright.sync_api import Page
    from served import Served

pytestmark = pytest.mark.slow

PAGES = (
    "",
    "/1",
    "/1/fencers",
    "/1/fencers/1",
    "/1/room",
    "/1/rejects",
    "/1/rejects/1",
    "/1/tally",
    "/1/setup",
    "/1/import",
    "/season",
)
"""Pages of the control table as the demo has them, with everything unfolded."""
NARROW = {"width": 320, "height": 640}
TAPS = 9
"""From no competition to the first form on its way to the printer: 2 minutes are 13 seconds a tap, typing included."""


def asked(page: Page, server: Served) -> str:
    """Return the address of an item of the demo that waits for two people to agree."""
    (item,) = page.request.get(f"{server.url}/api/control/1").json()["to_settle"]
    return f"/1/items/{item}"


def opened(page: Page, server: Served, name: str, kind: str, weapon: str) -> str:
    """Return the address of an item of a competition of its own, made for a test."""
    api, headers = f"{server.url}/api/control", {"Content-Type": "application/json"}

    def told(path: str, **data: object) -> dict[str, int]:
        answer = page.request.post(f"{api}{path}", data=data, headers=headers)
        assert answer.ok, answer.text()
        found: dict[str, int] = answer.json()
        return found

    at = told("", name=f"{name} (invented)", day="2026-10-03", token=name)["id"]
    fencer = told(f"/{at}/fencers", name=f"{name} Invented", token=name)["id"]
    item = told(f"/{at}/fencers/{fencer}/items", kind=kind, weapon=weapon, token=name)["id"]
    return f"{server.url}/control/{at}/items/{item}"


def test_a_page_of_the_table_violates_no_rule_of_accessibility_and_fits_every_screen(desktop: Page, server: Served) -> None:
    for path in (*PAGES, asked(desktop, server)):
        desktop.emulate_media(color_scheme="light")
        for size in (NARROW, PHONE):
            desktop.set_viewport_size(size)  # type: ignore[arg-type]
            desktop.goto(f"{server.url}/control{path}")
            desktop.evaluate("document.querySelectorAll('details').forEach(each => each.open = true)")
            assert desktop.evaluate("document.documentElement.scrollWidth") == size["width"], path
        assert not violations(desktop), path
        desktop.set_viewport_size(DESKTOP)
        assert not violations(desktop, rules=COLOURS), path
        desktop.emulate_media(color_scheme="dark")
        assert not violations(desktop, rules=COLOURS), path


def test_a_new_user_comes_from_an_empty_competition_to_a_printed_form_within_nine_taps(phone: Page, server: Served) -> None:
    finger = Finger()
    phone.goto(f"{server.url}/control")
    finger.touch(phone.get_by_label("Name", exact=True))
    phone.get_by_label("Name", exact=True).fill("First Open (invented)")
    finger.touch(phone.get_by_role("button", name="Open the table"))
    finger.touch(phone.get_by_label("Name", exact=True))
    phone.get_by_label("Name", exact=True).fill("Wren Invented")
    phone.get_by_label("Hands in").select_option(label="sabre body cord")
    finger.count += 2  # the taps on the list, which the phone opens in its own way, and on a line of it
    finger.touch(phone.get_by_role("button", name="Enter the fencer"))
    line = phone.get_by_role("textbox", name=re.compile("line A"))
    finger.touch(line)
    line.fill("0.6")
    expect(phone.get_by_role("button", name="save only what is entered")).not_to_have_class("chief")
    line.fill("1.6")
    finger.touch(phone.get_by_role("button", name="it fails: write its form"))
    expect(phone.get_by_role("heading", level=1)).to_have_text("Rejected: sabre body cord")
    expect(phone.get_by_text("≤ 1 Ω (m.29.1.c)")).to_be_visible()
    form = phone.get_by_role("link", name="print the form")
    assert phone.request.get(f"{server.url}{form.get_attribute('href')}").headers["content-type"] == "application/pdf"
    finger.count += 1  # the tap on “print the form”, which opens the browser's own window
    assert finger.count <= TAPS


def test_a_sound_item_takes_two_taps_beside_its_readings(phone: Page, server: Served) -> None:
    item = opened(phone, server, "Sound", "lamé", "foil")
    phone.goto(item.partition("/items/")[0])
    phone.get_by_role("button", name="everything").click()
    finger = Finger()
    expect(phone.get_by_role("heading", level=1)).to_contain_text("Foil lamé")
    for field in phone.locator("[data-reading]").all():
        field.fill("0.8")
    finger.touch(phone.get_by_role("button", name="all else is checked and good: next"))
    expect(phone.locator(".about")).to_contain_text("passed")
    finger.touch(phone.get_by_role("button", name="marked: next item"))
    expect(phone.get_by_role("heading", level=1)).to_contain_text("Nothing waits")
    assert finger.count <= 3


def test_keys_alone_enter_readings_and_a_figure_past_its_limit_shows_at_once(desktop: Page, server: Served) -> None:
    desktop.goto(opened(desktop, server, "Keys", "cord", "foil"))
    first = desktop.locator("[data-reading]").first
    expect(first).to_be_focused()
    desktop.keyboard.type("1.7")
    expect(first).to_have_class(re.compile("past"))
    desktop.keyboard.press("Enter")
    desktop.keyboard.type("0.4")
    desktop.keyboard.press("Enter")
    desktop.keyboard.type("0.4")
    desktop.keyboard.press("Enter")
    expect(desktop.get_by_role("heading", level=1)).to_contain_text("Rejected")


def test_what_was_found_waits_on_the_device_for_the_network(phone: Page, server: Served) -> None:
    phone.goto(opened(phone, server, "Offline", "mask cord", "foil"))
    phone.route("**/items/*", lambda route: route.abort() if route.request.method == "POST" else route.continue_())
    phone.locator("[data-reading]").first.fill("0.4")
    phone.get_by_role("button", name="all else is checked and good").click()
    expect(phone.get_by_text("1 answer waits for the network.")).to_be_visible()
    phone.unroute("**/items/*")
    phone.get_by_role("button", name="try now").click()
    expect(phone.locator(".about")).to_contain_text("passed")
