"""Faults told by an outsider, walked through on a phone as a new user would, with every tap counted; and a row at the bench.

The rehearsals and what they show are those of benchmarks/rehearsal (common practice, no source, unless one is named there). The
limits on taps are what was asked for. `python -m benchmarks.walks` prints what was asked and said.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest
from benchmarks.rehearsal.__main__ import OWN
from benchmarks.rehearsal.scenario import scenarios
from benchmarks.walks.thumb import Thumb
from benchmarks.walks.walk import STEADY, WALKED, walked
from playwright.sync_api import expect

if TYPE_CHECKING:
    from collections.abc import Callable

    from playwright.sync_api import BrowserContext, Page
    from served import Served

pytestmark = pytest.mark.slow

SCENARIOS = {scenario.id: scenario for scenario in scenarios(OWN)}
SEED = 0
TO_ACT = {"steady": 8, "comes and goes": 14}
"""Taps from the start page to the act, at most."""
AFTER = 2
"""Taps from the act to the closed case, the act among them, besides one for each line of the proof."""


@pytest.mark.parametrize("name", WALKED)
def test_a_rehearsal_is_walked_to_its_end_in_few_taps(name: str, phone: Page, server: Served) -> None:
    walk = walked(phone, server.url, SCENARIOS[name], SEED)
    assert walk.ending, walk.steps
    assert walk.ending.startswith(("Exchanged and fencing", "Mended and proved", "No fault found")), walk.steps
    assert walk.to_act <= TO_ACT["steady" if name in STEADY else "comes and goes"], walk.steps
    assert walk.to_close <= AFTER, walk.steps
    assert walk.to_act <= walk.trials + 4, "an answer takes one tap, the way to the first question three"


def test_twenty_items_go_over_the_bench_in_a_row(phone: Page, server: Served) -> None:
    """From the end of one to the first question about the next it is one tap, and the place and the tools stay."""
    phone.goto(f"{server.url}/new/foil")
    thumb = Thumb(phone)
    thumb.tap(phone.get_by_text("on the bench", exact=True))
    thumb.tap(thumb.button("nothing is said: start testing"))
    cases = set()
    for _ in range(20):
        phone.locator("form[data-answer]").wait_for()
        expect(phone.get_by_role("heading", level=1)).to_have_text("Foil on the bench")
        cases.add(phone.url)
        thumb.tap(phone.get_by_text("Put right already, or stop here?"))
        thumb.tap(thumb.button("no fault found"))
        expect(phone.get_by_role("heading", level=2).first).to_have_text("No fault found")
        before = thumb.taps
        thumb.tap(thumb.button("next foil"))
        expect(phone.locator("#ask-title")).not_to_have_text("No fault found")
        assert thumb.taps - before <= 2
    assert len(cases) == 20
    expect(phone.get_by_text(re.compile("^On the bench, at hand: meter, test box"))).to_be_visible()


def test_the_next_item_may_be_another_kind(devices: Callable[..., BrowserContext], server: Served) -> None:
    page = devices(scripts=False).new_page()
    page.goto(f"{server.url}/new/epee")
    page.get_by_text("on the bench", exact=True).click()
    page.get_by_role("button", name="fails the 0.5 mm shim").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Épée on the bench")
    expect(page.get_by_role("region", name="So far").get_by_role("listitem")).to_contain_text(["0.5 mm shim"])
    for summary in page.locator(".act-later > summary").all():  # not there where the gauge alone is enough to act on
        summary.click()
    page.get_by_role("button", name=re.compile("^to the workshop")).click()
    page.get_by_text("the next item is something else").click()
    page.get_by_role("button", name="body cord").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Body cord on the bench")
    expect(page.locator("form[data-answer]")).to_be_visible()
