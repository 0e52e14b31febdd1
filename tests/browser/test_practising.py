"""Drills by touch on a phone, by keys on a laptop in the dark, and without scripts; every page of them looked at by axe."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import expect
from survey import COLOURS, PHONE, violations

if TYPE_CHECKING:
    from playwright.sync_api import Page
    from served import Served

pytestmark = pytest.mark.slow

PAGES = ("/practice/drills", "/practice/progress", "/practice/join", "/practice/groups")
THUMB = 44
"""Least height of an answer [px]: WCAG 2.2, success criterion 2.5.5 (AAA)."""


def sound(page: Page, *, in_the_dark: bool = False) -> None:
    """Refuse a page that breaks a rule of accessibility, or that is wider than the screen."""
    assert not violations(page, rules=COLOURS if in_the_dark else ())
    assert page.evaluate("document.documentElement.scrollWidth") <= (page.viewport_size or PHONE)["width"]


def test_a_drill_by_touch_and_what_is_known_afterwards(phone: Page, server: Served) -> None:
    phone.goto(f"{server.url}/practice/drills")
    phone.get_by_text("All the same, without lessons").first.tap()
    phone.get_by_role("link", name="The loop", exact=True).first.tap()
    answers = phone.locator("[data-press]")
    expect(answers).to_have_count(4)
    heights = answers.evaluate_all("all => all.map(each => each.getBoundingClientRect().height)")
    assert all(height >= THUMB for height in heights)
    sound(phone)
    answers.nth(1).tap()
    expect(phone.get_by_text(re.compile("Right\\.|Not so\\."))).to_be_visible()
    expect(phone.get_by_role("heading", name="Why")).to_be_visible()
    expect(phone.locator("main svg")).to_be_visible()
    expect(phone.locator(".right-one")).to_have_count(1)
    sound(phone)
    phone.get_by_role("link", name="next").tap()
    phone.wait_for_url("**/2")
    answers.first.tap()
    phone.get_by_role("link", name="stop here").tap()
    expect(phone.get_by_role("heading", level=1)).to_contain_text("of 2 right")
    sound(phone)
    for path in PAGES:
        phone.goto(server.url + path)
        sound(phone)
    phone.goto(f"{server.url}/practice/groups")
    phone.locator(".idea-list a").first.tap()
    expect(phone.get_by_role("heading", name="Who is stuck where")).to_be_visible()
    phone.get_by_text("Set a series").tap()
    sound(phone)
    phone.locator("a[href^='/practice/join/']").first.tap()
    phone.get_by_label("Name").fill("Isolde")
    sound(phone)
    phone.get_by_role("button", name="join").tap()
    expect(phone.get_by_text("You are Isolde there.")).to_be_visible()
    sound(phone)


def test_a_drill_by_keys_in_the_dark(desktop: Page, server: Served) -> None:
    desktop.emulate_media(color_scheme="dark")
    desktop.goto(f"{server.url}/practice/drills/sabre/intermittents/keys/1")
    sound(desktop, in_the_dark=True)
    desktop.keyboard.press("3")
    desktop.wait_for_url("**/keys/1/3")
    sound(desktop, in_the_dark=True)
    desktop.keyboard.press("1")
    desktop.wait_for_url("**/keys/2")
    expect(desktop.get_by_text(re.compile(r"\d+ s of the minute left"))).to_be_visible()
    for path in PAGES[:2]:
        desktop.goto(server.url + path)
        sound(desktop, in_the_dark=True)


def test_a_drill_without_scripts(browser_without_scripts: Page, server: Served) -> None:
    page = browser_without_scripts
    page.goto(f"{server.url}/practice/drills/epee/mechanics/plain/1")
    page.locator("[data-press]").nth(2).click()
    expect(page.get_by_role("link", name="next")).to_be_visible()
    expect(page.locator(".right-one")).to_have_count(1)
