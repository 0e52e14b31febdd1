"""Pictures in a browser, with its own lettering: nothing lies on anything, and *what if* needs no more than a touch or a key."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import expect

from foible.drawing import STYLE, Marks, how_svg, item_svg, part_svg, strip_svg
from foible.kit import load_setup
from foible.trials import load_catalogue

if TYPE_CHECKING:
    from playwright.sync_api import Page
    from served import Served

pytestmark = pytest.mark.slow

OVER = """() => [...document.querySelectorAll("svg")].flatMap((svg) => {
  const view = svg.viewBox.baseVal, found = [];
  const texts = [...svg.querySelectorAll("text")].map((text) => [text.textContent, text.getBBox()]);
  const ink = (box) => [box.y + 0.15 * box.height, box.y + 0.82 * box.height];
  texts.forEach(([words, box], place) => {
    if (box.x < view.x - 0.5 || box.x + box.width > view.x + view.width + 0.5) found.push(`${words} beyond the edge`);
    texts.slice(0, place).forEach(([other, second]) => {
      const across = Math.min(box.x + box.width, second.x + second.width) - Math.max(box.x, second.x);
      const down = Math.min(ink(box)[1], ink(second)[1]) - Math.max(ink(box)[0], ink(second)[0]);
      if (across > 0.5 && down > 0.5) found.push(`${svg.ariaLabel}: ${words} over ${other}`);
    });
  });
  return found;
})"""
"""What is written over something else, from where capitals begin to where letters end, as the browser has set it."""
FAILURE = "dirty or corroded"


@pytest.mark.parametrize("weapon", ["foil", "épée", "sabre"])
def test_lettering_stays_apart_as_the_browser_sets_it(browser_without_scripts: Page, weapon: str) -> None:
    setup = load_setup(weapon)
    every = dict.fromkeys((*setup.items, *setup.parts), 0.345)
    lamps = {side: dict.fromkeys(("white", "coloured", "yellow"), 0.5) for side in ("left", "right")}
    pictures = [
        strip_svg(setup, Marks(every, lamps=lamps)),
        *(item_svg(setup, item, Marks(every)) for item in setup.items),
        *(part_svg(setup, part, Marks(every, chosen=part)) for part in setup.parts if not part.startswith("right")),
        *(how_svg(setup, idea.trial) for idea in load_catalogue(setup)[:60]),
    ]
    page = browser_without_scripts
    page.set_viewport_size({"width": 390, "height": 844})
    for face in ("system-ui, sans-serif", "serif"):
        page.set_content(f"<style>body {{ font-family: {face}; width: 358px; }} {STYLE}</style>" + "".join(pictures))
        assert page.evaluate(OVER) == []


def test_what_if_begins_with_touching_the_picture_and_needs_no_script(browser_without_scripts: Page, server: Served) -> None:
    page = browser_without_scripts
    page.goto(f"{server.url}/what-if/foil")
    page.get_by_role("link", name="left weapon", exact=True).locator("text").click()
    page.get_by_role("link", name="left weapon point seat").locator("text").click()
    page.get_by_role("link", name=FAILURE).click()
    expect(page.get_by_role("heading", level=1)).to_contain_text(FAILURE)
    strip = page.locator(".fd-strip")
    expect(strip).to_contain_text("cut here")
    assert "%" not in (strip.text_content() or ""), "what is supposed is not suspected"
    expect(page.get_by_role("row", name="left white lights dark")).to_be_visible()


def test_what_if_can_be_walked_with_the_keyboard(desktop: Page, server: Served) -> None:
    desktop.goto(f"{server.url}/what-if/foil?item=left+weapon")
    names = desktop.locator(".picture a:not([tabindex])")
    names.first.focus()
    for _ in range(names.count() - 1):
        desktop.keyboard.press("Tab")
    assert desktop.evaluate("document.activeElement.getAttribute('aria-label')") == names.last.get_attribute("aria-label")
    desktop.get_by_role("link", name="left weapon point crimp").focus()
    desktop.keyboard.press("Enter")
    expect(desktop.get_by_role("link", name="head loose on its stem")).to_be_visible()


def test_a_part_is_touched_where_it_is_drawn(phone: Page, server: Served) -> None:
    phone.goto(f"{server.url}/what-if/foil?item=left+weapon")
    spring = phone.locator('.picture a[tabindex="-1"][href*="pressure+spring"] circle').bounding_box()
    assert spring is not None
    phone.touchscreen.tap(spring["x"] + spring["width"] / 2, spring["y"] + spring["height"] / 2)
    phone.wait_for_url("**part=left+weapon+pressure+spring**")
