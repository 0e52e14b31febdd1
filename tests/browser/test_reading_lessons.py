"""The first lesson on a phone by touch, as somebody new would take it; another one by keys in the dark; both looked at by axe."""

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

THUMB = 44
"""Least height of an answer [px]: WCAG 2.2, success criterion 2.5.5 (AAA)."""


def test_the_first_lesson_is_gone_through_by_touch(phone: Page, server: Served) -> None:
    phone.goto(f"{server.url}/practice")
    phone.get_by_role("link", name="lessons", exact=True).tap()
    expect(phone.get_by_role("heading", level=1, name="Lessons")).to_be_visible()
    assert not violations(phone)
    phone.locator("section[aria-labelledby=of-foil] .shelf a").first.tap()
    onward, verdict = phone.locator("nav.turn a[rel=next]"), phone.locator("#answered")
    asked = 0
    for number in range(1, 7):
        expect(phone.locator(".crumbs")).to_contain_text(f"{number} of 6")
        assert phone.evaluate("document.documentElement.scrollWidth") == PHONE["width"]
        if options := phone.locator("form.answer .option").count():
            asked += 1
            heights = phone.locator("form.answer .option").evaluate_all(
                "all => all.map(each => each.getBoundingClientRect().height)"
            )
            assert min(heights) >= THUMB
            if phone.locator(".picture a[href*=touched]").count() == options:
                phone.locator(".picture").scroll_into_view_if_needed()
                press = phone.locator(".picture .fd-doing").first.bounding_box()
                assert press is not None
                phone.touchscreen.tap(press["x"] + press["width"] / 2, press["y"] + press["height"])  # the tip, beneath the arrow
                expect(verdict).to_contain_text("Right.")
            elif phone.get_by_role("checkbox").count():
                phone.get_by_role("checkbox").first.tap()
                phone.get_by_role("button", name="answer", exact=True).tap()
                expect(verdict).to_contain_text("Not right.")
            else:
                phone.locator("form.answer .option").first.tap()
                expect(verdict).to_contain_text(re.compile("Right\\.|Not right\\."))
            expect(verdict).to_contain_text("loop of lines B and C")
            if asked == 1:
                assert not violations(phone)
        if number < 6:
            onward.tap()
    expect(onward).to_contain_text("next lesson")
    assert asked == 3
    assert not violations(phone)


def test_a_lesson_is_gone_through_by_keys_in_the_dark(desktop: Page, server: Served) -> None:
    desktop.emulate_media(color_scheme="dark")
    desktop.goto(f"{server.url}/practice/lessons/epee/epee-meter")
    assert not violations(desktop, rules=COLOURS)
    desktop.keyboard.press("ArrowRight")
    desktop.wait_for_url("**/to-earth")
    desktop.keyboard.press("ArrowRight")
    desktop.wait_for_url("**/at-rest")
    assert not violations(desktop, rules=COLOURS)
    desktop.keyboard.press("1")
    expect(desktop.locator("#answered")).to_contain_text("A good wire reads low")
    assert not violations(desktop, rules=COLOURS)
    desktop.keyboard.press("ArrowRight")
    desktop.wait_for_url("**/which-keep")
    desktop.keyboard.press("1")
    desktop.keyboard.press("2")
    expect(desktop.get_by_role("checkbox", checked=True)).to_have_count(2)
    desktop.get_by_role("button", name="answer", exact=True).press("Enter")
    expect(desktop.locator("#answered")).to_contain_text("Right.")
