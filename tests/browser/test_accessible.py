"""Every page with assistive technology, on a small screen, in the dark, and under a thumb."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING
from urllib.parse import urlsplit

import pytest
from casework import DEMO_SAYS, CasePage
from fastapi.routing import APIRoute
from hands import Keys
from playwright.sync_api import expect
from survey import PHONE, violations
from truth import Truth

from foible.web.application import SURFACES
from pages import NAMES, visit

if TYPE_CHECKING:
    from collections.abc import Callable

    from playwright.sync_api import Page
    from served import Served
    from survey import Survey

    from pages import Places

pytestmark = pytest.mark.slow

THUMB = 44
"""Least height of what is touched in a case [px]: WCAG 2.2, success criterion 2.5.5 (AAA)."""
LEAST = 24
"""Least height and width of what is touched anywhere [px]: WCAG 2.2, success criterion 2.5.8 (AA)."""
NO_PAGES = {"/cases/{name}/changes", "/cases/{name}/file", "/cases/{name}/photos/{number}", "/drawing.css", "/health"}
"""Addresses that answer with something else than a page."""
FAILURE = "left cord B wire, middle: broken in the middle"
IN_A_CASE = tuple(name for name in NAMES if name.startswith("a case") and name != "a case on paper")
every_page = pytest.mark.parametrize("name", NAMES)


@every_page
def test_a_page_violates_no_rule_of_accessibility_at_any_size_and_in_any_light(name: str, look: Callable[[str], Survey]) -> None:
    found = look(name).findings
    assert len(found) == 4
    assert not {how: finding for how, finding in found.items() if finding}


def test_every_address_that_is_a_page_is_among_the_pages_looked_at(places: Places) -> None:
    routes = [route for module in SURFACES for route in module.router.routes if isinstance(route, APIRoute)]
    paths = {route.path for route in routes if "GET" in (route.methods or ()) and not route.path.startswith("/api/")} - NO_PAGES
    looked_at = [urlsplit(path).path for path in places.paths.values()]
    assert len(paths) > 10
    assert not [path for path in paths if not any(re.fullmatch(re.sub(r"{\w+}", "[^/]+", path), each) for each in looked_at)]


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
    """A thin thing in a drawing may be touched where it is drawn, as long as its name can be (WCAG 2.2, 2.5.8, “equivalent”)."""
    targets = [target for target in look(name).targets if not target.in_words]
    large = {target.leads for target in targets if min(target.width, target.height) >= LEAST}
    small = [target for target in targets if min(target.width, target.height) < LEAST]
    assert not [target for target in small if not (target.drawn and target.leads in large)]


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


def test_a_whole_life_of_a_case_is_done_by_keys_alone(desktop: Page, server: Served) -> None:
    """From the start page to the reopened case; after every answer the focus stands where the hand goes on, not nowhere."""
    truth, case = Truth("foil", FAILURE), CasePage(desktop, Keys())
    passing = desktop.get_by_role("button", name=re.compile("^passed, line"))

    def focused() -> bool:
        return bool(desktop.evaluate("document.getElementById('board').contains(document.activeElement)"))

    desktop.goto(server.url)
    case.begin("foil", "left", DEMO_SAYS)
    for _ in range(8):
        if case.band.count():
            break
        case.answer(truth.asked(case.asked.inner_text()), truth)
        assert focused()
    case.hand.touch(desktop.locator(".act .deeds button").first)
    expect(case.asked).to_have_text(re.compile("^(Now prove it|Proved)"))
    assert focused()
    for left in range(passing.count(), 0, -1):
        expect(passing).to_have_count(left)
        case.hand.touch(passing.first)
    case.hand.touch(desktop.get_by_role("button", name=re.compile("^close: ")))
    expect(case.asked).to_have_text(re.compile(f"^Exchanged and fencing: .*{truth.item}"))
    case.hand.touch(case.button("reopen case"))
    case.hand.touch(desktop.get_by_role("button", name=re.compile("^undo")))
    expect(desktop.get_by_text("(taken back)").first).to_be_visible()


def test_what_a_colour_says_is_said_in_words_and_shapes_too(phone: Page, places: Places) -> None:
    """WCAG 2.2, success criterion 1.4.1."""
    visit(phone, places, "a case with lamps touched")
    touched = phone.locator(".lamp[data-state]:not([data-state=''])")
    edges = {
        lamp.locator(".state").inner_text(): lamp.locator(".glass").evaluate("each => getComputedStyle(each).borderStyle")
        for lamp in touched.all()
    }
    assert len({*edges.values()}) == len(edges) == 4
    visit(phone, places, "what if")
    rows = phone.locator("tr:has(.dot)").all()
    assert rows
    for row in rows:
        lit = row.locator(".dot.lit").count() == 1
        assert (row.locator("td").nth(1).inner_text() != "dark") is lit
