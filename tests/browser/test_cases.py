"""Cases worked through in the browser, as an armourer does it."""

from __future__ import annotations

import re
from html import unescape
from typing import TYPE_CHECKING
from urllib.parse import urlsplit

import pytest
from casework import DEMO_SAYS, CasePage
from hands import Finger, Hand, Keys, Mouse
from playwright.sync_api import expect
from truth import Truth

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from playwright.sync_api import BrowserContext, Page
    from served import Served

    from pages import Places

pytestmark = pytest.mark.slow

ENOUGH = 8
"""Answers after which an armourer would have given up on a clean break."""
BREAKS = {
    "foil": ("My white lamp is on all the time", "left", "left cord B wire, middle: broken in the middle"),
    "épée": ("I hit and nothing lit", "right", "right cord A wire, middle: broken in the middle"),
    "sabre": ("My cuts give no light", "left", "right cord A wire, middle: broken in the middle"),
}
"""(complaint, side that complains, what is truly wrong); invented."""


NAMES = re.compile(
    r"(?<=/cases/)\w+|(?<=suspects/)[^?]+|(?<=items/).+|(?<=trial=)\d+|(?<=say=).+|(?<=card/|/new/)\w+|(?<=what-if/)\w+"
    r"|(?<=circuit/).+|(?<=jobs/)\d+|(?<=parts/).+|(?<=people/)\d+|(?<=/strip/)\w+/[\w-]+/[\w-]+|(?<=did=).+"
    r"|(?<=lessons/).+|(?<=drills/).+|(?<=screen/).+|(?<=exercise/).+|(?<=trainer/).+|(?<=worksheets).+|(?<=groups/).+"
    r"|(?<=/rules\?).+|(?<=/difference\?).+|(?<=/meter\?).+|(?<=/shims\?).+|(?<=/budget\?).+"
    r"|(?<=sheets/kept/)\d+|(?<=control/sheets/)(?!kept)[^?]+\??.*|(?<=control/maps/).+|(?<=control/morning).+"
    r"|(?<=/control/)\d+|(?<=fencers/)\d+|(?<=fencers\?).+|(?<=rejects/)\d+(?:\?.+)?|(?<=stations/).+"
)
"""What tells two addresses of one kind apart."""


@pytest.fixture
def case(desktop: Page, server: Served) -> CasePage:
    """Open a fresh case of the demo's complaint, on a desktop."""
    opened = CasePage(desktop, Mouse())
    opened.begin_at_once(server.url)
    return opened


@pytest.mark.parametrize(("weapon", "hand"), [("foil", Mouse), ("foil", Finger), ("épée", Keys), ("sabre", Finger)])
def test_a_case_leads_from_the_complaint_to_the_item_at_fault(
    weapon: str, hand: type[Hand], devices: Callable[..., BrowserContext], server: Served
) -> None:
    says, side, failure = BREAKS[weapon]
    truth = Truth(weapon, failure)
    page = devices(phone=hand is Finger).new_page()
    page.goto(server.url)
    case = CasePage(page, hand())
    case.begin(weapon, side, says)
    for _ in range(ENOUGH):
        if case.band.count():
            break
        case.answer(truth.asked(case.asked.inner_text()), truth)
    expect(case.band).to_contain_text(truth.item)
    expect(case.suspects.first).to_contain_text(truth.item)
    for item in truth.exchanged:
        expect(page.get_by_text(re.compile(rf"^Still fitted: .*{item}"))).to_be_visible()


def test_the_first_suspect_is_named_within_six_taps(phone: Page, server: Served) -> None:
    phone.goto(server.url)
    case = CasePage(phone, Finger())
    case.begin("foil", "left", DEMO_SAYS)
    expect(case.suspects.first).to_contain_text("left")
    assert case.hand.count <= 6


def test_the_demo_s_cases_are_found_and_open_where_they_were_left(desktop: Page, server: Served) -> None:
    desktop.goto(server.url)
    desktop.get_by_role("searchbox").fill("Lanternfield piste 1")  # other tests' cases stand before it by now
    desktop.get_by_role("button", name="Find a case").click()
    desktop.get_by_role("link", name="Lanternfield Autumn Open (invented), piste 1").click()
    case = CasePage(desktop, Mouse())
    expect(case.said).to_have_count(1)
    expect(case.suspects.first).to_contain_text("right")


def test_undo_brings_the_suspects_back(case: CasePage) -> None:
    before, asked = case.suspects.all_inner_texts(), case.asked.inner_text()
    case.nothing_lit()
    assert case.suspects.all_inner_texts() != before
    case.page.get_by_text("undo", exact=True).click()
    expect(case.page.get_by_text("(taken back)")).to_be_visible()
    assert case.suspects.all_inner_texts() == before
    expect(case.asked).to_have_text(asked)


def test_an_answer_that_is_not_the_last_can_be_taken_back_too(case: CasePage) -> None:
    case.nothing_lit()
    alone = case.suspects.all_inner_texts()
    case.nothing_lit()
    case.page.get_by_text("take back", exact=True).nth(1).click()
    expect(case.page.get_by_text("(taken back)")).to_have_count(1)
    case.page.get_by_text("undo", exact=True).click()
    expect(case.page.get_by_text("(taken back)")).to_have_count(2)
    assert case.suspects.all_inner_texts() != alone
    expect(case.said).to_have_count(3)


def test_a_trial_that_cannot_be_made_now_is_replaced_by_another(case: CasePage) -> None:
    asked = [case.asked.inner_text()]
    for _ in range(3):
        case.button("can’t do that now").click()
        expect(case.asked).not_to_have_text(asked[-1])
        asked.append(case.asked.inner_text())
    assert len({*asked}) == len(asked)
    expect(case.page.get_by_text("skipped:")).to_have_count(3)


def test_another_trial_can_be_picked_from_all_of_them(case: CasePage) -> None:
    page = case.page
    page.get_by_role("link", name="another trial").click()
    shown = page.get_by_role("main").get_by_role("listitem")
    every = shown.all_inner_texts()
    page.get_by_label("Show only trials with").fill("reel")
    expect(shown).to_have_text([words for words in every if "reel" in words.lower()], use_inner_text=True)
    page.get_by_label("Show only trials with").fill("exchange right reel")
    words = shown.first.get_by_role("link").inner_text().splitlines()[0]
    shown.first.get_by_role("link").click()
    expect(case.asked).to_have_text(re.compile(f"^{re.escape(words)}$", re.IGNORECASE))
    case.nothing_lit()
    expect(case.said.last).to_contain_text(words)


def test_what_was_offered_comes_back_after_another_choice(case: CasePage) -> None:
    offered = case.asked.inner_text()
    case.page.get_by_role("link", name="another trial").click()
    case.page.get_by_role("main").get_by_role("listitem").last.get_by_role("link").click()
    expect(case.asked).not_to_have_text(offered)
    case.page.get_by_role("link", name="back to the suggestion").click()
    expect(case.asked).to_have_text(offered)


def test_something_else_that_happened_is_noted_as_a_trial_of_one_s_own(case: CasePage) -> None:
    page, before = case.page, case.suspects.all_inner_texts()
    page.get_by_role("link", name="something else happened").click()
    page.get_by_label("Who hit").select_option("left")
    page.get_by_label("On", exact=True).select_option("right lamé front")
    case.lamp("left white lamp").click()
    case.button("save").click()
    expect(case.said).to_have_count(2)
    expect(case.said.last).to_contain_text("on the front of the right lamé")
    expect(case.said.last).to_contain_text("left white")
    assert case.suspects.all_inner_texts() != before


def test_a_trial_of_one_s_own_that_says_nothing_is_refused_and_what_was_filled_in_stays(case: CasePage) -> None:
    page = case.page
    page.get_by_role("link", name="something else happened").click()
    page.get_by_label("Who hit").select_option("left")
    page.get_by_text("Looked at or measured").click()
    page.get_by_label("Reading (Ω)").fill("abc")
    page.get_by_label("Note").fill("after the third hit")
    case.button("save").click()
    expect(page.get_by_text("Nothing was saved, and nothing is lost.")).to_be_visible()
    expect(page.get_by_label("Who hit")).to_have_value("left")
    expect(page.get_by_label("Reading (Ω)")).to_have_value("abc")
    expect(page.get_by_label("Note")).to_have_value("after the third hit")


def test_a_meter_reading_that_is_none_is_refused_and_nothing_is_lost(case: CasePage) -> None:
    page = case.page
    page.get_by_text(re.compile("^At the piste, at hand")).click()
    page.get_by_role("radio", name=re.compile("on the bench")).check()
    page.get_by_role("checkbox", name="meter").check()
    case.button("save").click()
    expect(page.get_by_text(re.compile("^On the bench, at hand:.*meter"))).to_be_visible()
    page.get_by_role("link", name="another trial").click()
    page.get_by_label("Show only trials with").fill("hold the meter")
    page.get_by_role("main").get_by_role("listitem").filter(visible=True).first.get_by_role("link").click()
    reading = page.get_by_label("What does the meter read?")
    reading.fill("abc")
    case.button("save").click()
    expect(page.get_by_role("status").filter(has_text="“abc” is not a meter reading.")).to_be_visible()
    expect(reading).to_have_value("abc")
    expect(case.said).to_have_count(1)
    reading.fill("open")
    case.button("save").click()
    expect(case.said).to_have_count(2)
    expect(case.said.last).to_contain_text("open")
    expect(page.get_by_text("Nothing was saved, and nothing is lost.")).to_have_count(0)


def test_what_is_refused_is_told_each_time_and_read_aloud(case: CasePage) -> None:
    page = case.page
    page.get_by_role("link", name="something else happened").click()
    page.get_by_text("Looked at or measured").click()
    for wrong in ("abc", "xyz"):
        page.get_by_label("Reading (Ω)").fill(wrong)
        page.get_by_label("Meter from").select_option("left weapon guard")
        page.get_by_label("To", exact=True).select_option("left weapon blade")
        case.button("save").click()
        expect(page.get_by_role("status").filter(has_text=f"“{wrong}” is not a meter reading.")).to_be_visible()


def test_lamps_are_touched_through_all_that_they_can_show(case: CasePage) -> None:
    white, red = case.lamp("left white lamp"), case.lamp("left red lamp")
    for state in ("lit", "flickers", "sometimes", "all along", "dark"):
        white.click()
        expect(white).to_have_accessible_name(f"left white lamp: {state}")
    red.click()
    white.click()
    expect(red).to_have_accessible_name("left red lamp: dark")  # an apparatus shows white or coloured for one hit, never both


def test_a_closed_case_can_be_reopened(case: CasePage, server: Served) -> None:
    page, path = case.page, urlsplit(case.page.url).path
    case.button("close case").click()
    page.wait_for_url(server.url + "/")
    expect(page.locator(f"a[href='{path}']")).to_be_hidden()
    page.get_by_text(re.compile("^Closed cases")).click()
    page.locator(f"a[href='{path}']").click()
    case.button("reopen case").click()
    expect(case.button("close case")).to_be_visible()  # whoever goes on before the answer is there ends it
    page.goto(server.url)
    expect(page.locator(f"a[href='{path}']")).to_be_visible()


AT_MOST_MS = 120_000
"""A case on which nothing is worked out yet takes its time where other tests run beside it."""


def test_no_page_is_a_dead_end(devices: Callable[..., BrowserContext], server: Served, places: Places) -> None:
    """Follow every kind of link there is, from the start page on: each leads somewhere, and from there back to the cases."""
    ask = devices().request
    waiting, seen = ["/"], {"/"}
    while waiting:
        path = waiting.pop()
        answer = ask.get(server.url + path, timeout=AT_MOST_MS)
        assert answer.ok, path
        if "html" not in answer.headers["content-type"]:
            continue  # a file, which the page that leads to it stays open for
        text = answer.text()
        assert re.search(r'<header.*?<a [^>]*href="/"', text, re.DOTALL), path
        for address in map(unescape, re.findall(r'<a [^>]*href="(/[^"#]*)', text)):
            if address.startswith("/card/"):
                address = places.paths["the field card"]  # noqa: PLW2901 — one card is worked out already
            kind = NAMES.sub("…", address)
            if not address.endswith((".json", "/file", "/health")) and "/photos/" not in address and kind not in seen:
                seen.add(kind)
                waiting.append(address)
    assert {"/cases/…", "/cases/…/suspects/…", "/cases/…/items/…", "/cases/…/print", "/card/…", "/api", "/share"} <= seen


def test_a_case_that_is_saved_as_a_file_can_be_imported_elsewhere(case: CasePage, tmp_path: Path) -> None:
    page = case.page
    case.nothing_lit()
    with page.expect_download() as download:
        page.get_by_role("link", name="save as a case file").click()
    file = tmp_path / download.value.suggested_filename
    download.value.save_as(file)
    said = case.said.all_inner_texts()
    page.goto("/".join(page.url.split("/")[:3]))
    page.get_by_text("Import a case file").click()
    page.get_by_label("Case file (.toml, up to 200 kB)").set_input_files(file)
    page.get_by_role("button", name="import").click()
    expect(case.said).to_have_count(len(said))
    assert file.stem.removeprefix("case-") not in page.url
