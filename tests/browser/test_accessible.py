"""Every page with assistive technology, on a small screen, in the dark, and under a thumb."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from survey import PHONE, violations

from pages import NAMES, visit

if TYPE_CHECKING:
    from collections.abc import Callable

    from playwright.sync_api import Page
    from survey import Survey

    from pages import Places

pytestmark = pytest.mark.slow

THUMB = 44
"""Least height of what is touched in a case [px]: WCAG 2.2, success criterion 2.5.5 (AAA)."""
LEAST = 24
"""Least height and width of what is touched anywhere [px]: WCAG 2.2, success criterion 2.5.8 (AA)."""
IN_A_CASE = tuple(name for name in NAMES if name.startswith("a case") and name != "a case on paper")
every_page = pytest.mark.parametrize("name", NAMES)


@every_page
def test_a_page_violates_no_rule_of_accessibility_on_a_phone_by_day(name: str, look: Callable[[str], Survey]) -> None:
    assert not look(name).phone


@every_page
def test_a_page_violates_no_rule_of_accessibility_on_a_desktop_in_the_dark(name: str, look: Callable[[str], Survey]) -> None:
    assert not look(name).dark_desktop


@every_page
def test_a_page_is_no_wider_than_a_phone(name: str, look: Callable[[str], Survey]) -> None:
    assert look(name).width == PHONE["width"]


@pytest.mark.parametrize("name", IN_A_CASE)
def test_a_thumb_hits_every_button_of_a_case(name: str, look: Callable[[str], Survey]) -> None:
    targets = [target for target in look(name).targets if not target.in_words and not target.drawn]
    assert len(targets) > 2
    assert not [target for target in targets if target.height < THUMB]


@every_page
def test_nothing_that_can_be_touched_is_tiny(name: str, look: Callable[[str], Survey]) -> None:
    targets = [target for target in look(name).targets if not target.in_words]
    assert not [target for target in targets if min(target.width, target.height) < LEAST]


@pytest.mark.parametrize("name", ["a case at the piste", "a new foil case", "the field card"])
def test_who_speaks_to_a_page_says_what_stands_on_its_buttons(name: str, phone: Page, places: Places) -> None:
    """WCAG 2.2, success criterion 2.5.3: the name of a button contains the words on it, hidden ones left out."""
    visit(phone, places, name)
    buttons = phone.evaluate(
        """() => [...document.querySelectorAll("button, a.button")].map(each => {
            const bare = each.cloneNode(true);
            bare.querySelectorAll("[aria-hidden=true]").forEach(one => one.remove());
            return [bare.textContent.trim().toLowerCase(), (each.ariaLabel ?? bare.textContent).toLowerCase()];
        })"""
    )
    assert len(buttons) > 1
    assert not [(words, called) for words, called in buttons if words not in called]


def test_axe_finds_what_is_wrong_under_our_content_security_policy(desktop: Page, places: Places) -> None:
    visit(desktop, places, "help")
    desktop.evaluate("document.querySelector('h1').outerHTML = '<img src=\"/static/mark.svg\">'")
    assert "image-alt" in [rule for rule, _ in violations(desktop)]


def test_axe_finds_words_too_faint_for_the_dark(desktop: Page, places: Places) -> None:
    desktop.emulate_media(color_scheme="dark")
    visit(desktop, places, "help")
    desktop.evaluate("document.querySelector('h1').style.color = '#2a2a2a'")
    assert [rule for rule, _ in violations(desktop, rules=("color-contrast",))] == ["color-contrast"]
