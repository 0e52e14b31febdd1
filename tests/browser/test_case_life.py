"""From the complaint to “fence on”: what was done is one tap, its proof is ticked line by line, and the case is closed."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING
from urllib.parse import urlsplit

import pytest
from casework import CasePage
from hands import Finger, Hand, Keys, Mouse
from playwright.sync_api import expect

if TYPE_CHECKING:
    from collections.abc import Callable

    from playwright.sync_api import BrowserContext, Page
    from served import Served

pytestmark = pytest.mark.slow


def foil_at_fault(page: Page, server: Served, hand: Hand) -> CasePage:
    """Open a case of a steady white that goes as soon as the foil's plug is bridged."""
    ask = page.request
    made = ask.post(f"{server.url}/api/cases", data={"weapon": "foil", "title": "White at rest (invented)"}).json()
    for number, trial in enumerate(({"saw": "left white"}, {"bridged": "left weapon plug B-C", "saw": "nothing"})):
        ask.post(f"{server.url}/api/cases/{made['id']}/trials", data={"trial": trial, "token": f"t{number}"})
    page.goto(f"{server.url}/cases/{made['id']}")
    return CasePage(page, hand)


def exchange(case: CasePage) -> None:
    """Say that the foil was exchanged."""
    button = case.button("left weapon: exchanged it")
    if not button.is_visible():
        case.hand.touch(case.page.get_by_text("Put right already, or stop here?"))
    case.hand.touch(button)
    expect(case.asked).to_have_text("Now prove it")


@pytest.mark.parametrize("hand", [Mouse, Finger, Keys])
def test_a_case_goes_from_the_act_to_fence_on(hand: type[Hand], devices: Callable[..., BrowserContext], server: Served) -> None:
    case = foil_at_fault(devices(phone=hand is Finger).new_page(), server, hand())
    exchange(case)
    lines = case.page.locator(".proving > li")
    assert 1 <= lines.count() <= 5
    passing = case.page.get_by_role("button", name=re.compile("^passed, line"))
    for left in range(lines.count(), 0, -1):
        expect(passing).to_have_count(left)
        case.hand.touch(passing.first)
    case.hand.touch(case.button("close: exchanged and fencing"))
    expect(case.asked).to_have_text("Exchanged and fencing: left weapon")
    path = urlsplit(case.page.url).path
    case.page.goto(server.url)
    case.page.get_by_text(re.compile("^Closed cases")).click()
    expect(case.page.locator(f"a[href='{path}']")).to_contain_text("exchanged and fencing: left weapon")
    case.page.locator(f"a[href='{path}']").click()
    case.hand.touch(case.button("reopen case"))
    expect(case.asked).to_have_text(re.compile("^Proved"))


def test_no_button_passes_all_lines_at_once(phone: Page, server: Served) -> None:
    case = foil_at_fault(phone, server, Finger())
    exchange(case)
    passing = phone.get_by_role("button", name=re.compile("pass"))
    assert passing.count() == phone.locator(".proving > li").count()
    passing.last.tap()
    expect(phone.locator(".proving > li.passed")).to_have_count(1)


def test_a_failed_line_asks_what_was_seen_and_the_case_goes_on_from_there(phone: Page, server: Served) -> None:
    case = foil_at_fault(phone, server, Finger())
    exchange(case)
    phone.get_by_label("failed, line 1").tap()
    expect(case.asked).to_have_text("Leave the whole strip at rest")
    expect(phone.get_by_text("what did it do instead?")).to_be_visible()
    case.lamp("left white lamp").tap()
    case.button("this is what lit").tap()
    expect(case.asked).not_to_have_text(re.compile("prove|whole strip at rest"))
    expect(case.suspects.first).not_to_contain_text("left weapon")


def test_undo_takes_a_tick_back_and_then_the_act(phone: Page, server: Served) -> None:
    case = foil_at_fault(phone, server, Finger())
    exchange(case)
    phone.get_by_label("passed, line 1").tap()
    expect(phone.locator(".proving > li.passed")).to_have_count(1)
    phone.get_by_role("button", name=re.compile("^undo")).tap()
    expect(phone.locator(".proving > li.passed")).to_have_count(0)
    phone.get_by_role("button", name=re.compile("^undo")).tap()
    expect(phone.locator(".proving")).to_have_count(0)


@pytest.mark.parametrize("kind", ["phone", "laptop", "phone without scripts"])
def test_a_case_can_end_with_nothing_put_right_and_be_reopened(
    kind: str, devices: Callable[..., BrowserContext], server: Served
) -> None:
    """Each ending is one tap behind “stop here”, says what it means for the kit, and is undone by one more."""
    page = devices(phone="phone" in kind, scripts="without" not in kind).new_page()
    case = foil_at_fault(page, server, Mouse() if kind == "laptop" else Finger())
    asked = case.asked.inner_text()
    for words in ("it does not happen now", "no fault found", "out of use: left weapon", "to the workshop: left weapon"):
        case.hand.touch(page.get_by_text("Put right already, or stop here?"))
        case.hand.touch(case.button(words))
        expect(case.asked).to_have_text(re.compile(words.removeprefix("it "), re.IGNORECASE))
        case.hand.touch(case.button("reopen case"))
        expect(case.asked).to_have_text(asked)


@pytest.mark.parametrize("kind", ["phone", "laptop"])
def test_a_repair_is_proved_and_the_case_closed_as_mended(
    kind: str, devices: Callable[..., BrowserContext], server: Served
) -> None:
    page = devices(phone=kind == "phone").new_page()
    case = foil_at_fault(page, server, Finger() if kind == "phone" else Mouse())
    case.hand.touch(page.get_by_text("Put right already, or stop here?"))
    case.hand.touch(page.get_by_role("button", name=re.compile("^mended it: ")))
    expect(case.asked).to_have_text("Now prove it")
    lines = page.locator(".proving > li").count()
    before = case.hand.count
    for left in range(lines, 0, -1):
        expect(page.get_by_role("button", name=re.compile("^passed, line"))).to_have_count(left)
        case.hand.touch(page.get_by_role("button", name=re.compile("^passed, line")).first)
    case.hand.touch(case.button("close: mended and proved"))
    expect(case.asked).to_have_text(re.compile("^Mended and proved: left weapon"))
    assert case.hand.count - before == lines + 1


def test_another_repair_than_the_likeliest_is_behind_a_choice(desktop: Page, server: Served) -> None:
    case = foil_at_fault(desktop, server, Mouse())
    desktop.get_by_text("Put right already, or stop here?").click()
    desktop.get_by_text("another item or repair").click()
    choice = desktop.get_by_label("mended", exact=True)
    second = choice.locator("option").nth(1).inner_text()
    choice.select_option(second)
    case.button("mended it").click()
    expect(case.asked).to_have_text("Now prove it")
    expect(desktop.get_by_text(f"{second}: done")).to_be_visible()


def test_all_of_it_works_without_scripts(browser_without_scripts: Page, server: Served) -> None:
    page = browser_without_scripts
    case = foil_at_fault(page, server, Mouse())
    exchange(case)
    passing = page.get_by_role("button", name=re.compile("^passed, line"))
    for left in range(page.locator(".proving > li").count(), 0, -1):
        expect(passing).to_have_count(left)
        passing.first.click()
    case.button("close: exchanged and fencing").click()
    expect(case.asked).to_have_text("Exchanged and fencing: left weapon")


@pytest.mark.parametrize("seen", ["left white", "left white flickers"])
def test_a_broken_blade_is_a_stop(seen: str, phone: Page, server: Served) -> None:
    """Whether the blade explains the white or not: nothing more is asked for with it, and what was seen needs no percentage."""
    ask = phone.request
    made = ask.post(f"{server.url}/api/cases", data={"weapon": "foil", "title": "White after a crash (invented)"}).json()
    look = {"examine": ["left weapon blade", "left cord clip bite"], "found": "broken"}
    for number, trial in enumerate(({"saw": seen}, look)):
        ask.post(f"{server.url}/api/cases/{made['id']}/trials", data={"trial": trial, "token": f"t{number}"})
    phone.goto(f"{server.url}/cases/{made['id']}")
    expect(phone.locator(".act.stop")).to_contain_text("Stop: take the left weapon out of use")
    expect(phone.get_by_role("button", name=re.compile("fault|happen"))).to_have_count(0)
    expect(phone.get_by_text("No trial you can make now")).to_have_count(0)
    expect(phone.locator("form[data-answer]")).to_have_count(0)
    expect(phone.locator(".act.stop .chance")).to_have_count(0)
    case = CasePage(phone, Finger())
    case.button("out of use: left weapon").tap()
    expect(case.asked).to_have_text("Out of use: left weapon")


def test_a_line_says_by_its_name_which_lamp_must_light(phone: Page, server: Served) -> None:
    case = foil_at_fault(phone, server, Finger())
    exchange(case)
    expect(phone.locator(".proving")).to_contain_text("nothing lit")
    expect(phone.locator(".proving")).not_to_contain_text("coloured")
