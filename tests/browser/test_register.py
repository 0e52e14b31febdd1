"""The register's pages in a browser: no rule of accessibility broken, found as one types, by keys alone, and two at one item."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest
from hands import Keys
from playwright.sync_api import expect
from survey import COLOURS, DESKTOP, PHONE, violations

if TYPE_CHECKING:
    from playwright.sync_api import Page
    from served import Served

pytestmark = pytest.mark.slow

PAGES = ("", "/items/new", "/items/{code}", "/jobs/1", "/people", "/import", "/labels")
"""Pages of the register as they are with everything unfolded."""


def code_of(page: Page, server: Served) -> str:
    """Return the code of an item of the demo's."""
    code: str = page.request.get(f"{server.url}/api/register/items?words=foil+weapon").json()[0]["code"]
    return code


def test_a_page_of_the_register_violates_no_rule_of_accessibility_at_any_size_and_in_any_light(
    desktop: Page, server: Served
) -> None:
    code = code_of(desktop, server)
    for path in PAGES:
        desktop.set_viewport_size(PHONE)
        desktop.emulate_media(color_scheme="light")
        desktop.goto(f"{server.url}/register{path.format(code=code)}")
        desktop.evaluate("document.querySelectorAll('details').forEach(each => each.open = true)")
        assert not violations(desktop), path
        assert desktop.evaluate("document.documentElement.scrollWidth") == PHONE["width"], path
        desktop.set_viewport_size(DESKTOP)
        assert not violations(desktop, rules=COLOURS), path
        desktop.emulate_media(color_scheme="dark")  # what is no matter of colour is the same in every light
        assert not violations(desktop, rules=COLOURS), path


def test_an_item_is_found_as_one_types_and_opened_by_keys(desktop: Page, server: Served) -> None:
    desktop.goto(f"{server.url}/register")
    box = desktop.get_by_role("searchbox")
    box.press_sequentially("foil")
    found = desktop.locator("#found")
    expect(found.get_by_role("listitem").first).to_be_visible()
    box.press_sequentially(" nosuchword")
    expect(found).to_contain_text("Nothing is found by “foil nosuchword”")
    box.fill(code := code_of(desktop, server))
    expect(found.get_by_role("listitem")).to_have_count(1)
    Keys().touch(found.get_by_role("link").first)
    expect(desktop).to_have_url(re.compile(f"/register/items/{code}$"))


def test_two_at_one_item_see_both_in_the_browser(desktop: Page, server: Served) -> None:
    code = code_of(desktop, server)
    desktop.goto(f"{server.url}/register/items/{code}/edit")
    other = desktop.context.new_page()
    other.goto(desktop.url)
    for page, name in ((other, "by the door"), (desktop, "on the rack")):
        page.get_by_label("Name or mark on it").fill(name)
        page.get_by_role("button", name="save").click()
    expect(desktop.get_by_role("alert")).to_contain_text("Nothing of yours is lost")
    expect(desktop.get_by_role("row", name=re.compile("by the door.*on the rack"))).to_be_visible()
    expect(desktop.get_by_label("Name or mark on it")).to_have_value("on the rack")


def test_an_import_is_tried_before_anything_is_saved(desktop: Page, server: Served) -> None:
    desktop.goto(f"{server.url}/register/import")
    desktop.get_by_label("or paste the table").fill("kind,weapon,name\nreel,,tried in a browser\nunicorn,,no such kind\n")
    desktop.get_by_role("button", name="try it").click()
    expect(desktop.get_by_role("alert")).to_contain_text("1 problem; nothing was saved.")
    expect(desktop.get_by_text("unicorn").first).to_be_visible()
    found = desktop.request.get(f"{server.url}/api/register/items?words=tried+browser").json()
    assert found == []
