"""The rulebook in the browser: found as one types, unfolded, and another edition chosen."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import expect

if TYPE_CHECKING:
    from playwright.sync_api import Page
    from served import Served

pytestmark = pytest.mark.slow


def test_what_is_typed_is_found_unfolds_and_stays_when_the_edition_changes(phone: Page, server: Served) -> None:
    """FIE Material Rules, August 2026, m.23.3; USA Fencing Rules, November 2025, m.23.4: the curve of a sabre's blade."""
    phone.goto(server.url)
    phone.get_by_role("link", name="rulebook").click()
    phone.get_by_role("searchbox").press_sequentially("curve sabre")
    found = phone.locator("#found summary")
    expect(found.first).to_contain_text("< 4 cm")
    expect(found.first).to_contain_text("m.23.3")
    found.first.click()
    more = phone.locator(".rule-more").first
    expect(more).to_contain_text("Slip in the text:")
    expect(more).to_contain_text("curve of the blade: < 4 cm (m.23.4)")
    phone.get_by_label("Edition").select_option("usa-2025")
    expect(found.first).to_contain_text("m.23.4")
    assert "words=curve" in phone.url
    phone.reload()
    expect(found.first).to_contain_text("m.23.4")
    expect(phone.get_by_role("searchbox")).to_have_value("curve sabre")
