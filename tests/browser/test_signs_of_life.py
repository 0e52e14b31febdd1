"""A tap shows something at once, whatever the network; what it said is kept, waits, and arrives in order and once."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest
from casework import CasePage
from hands import Finger, Mouse
from playwright.sync_api import expect

if TYPE_CHECKING:
    from playwright.sync_api import Locator, Page, Route
    from served import Served

pytestmark = pytest.mark.slow

EVERYTHING = re.compile("/cases/|/new/|/$")
FRAMES = """thing => new Promise(done => {
  thing.click();
  requestAnimationFrame(() => requestAnimationFrame(() => done([
    thing.classList.contains("tapped"),
    getComputedStyle(document.querySelector(".top"), "::after").animationName,
  ])));
})"""
"""Taps a thing; two frames later, tells whether it shows that, and what moves at the top of the page."""


class Network:
    """What lies between a page and the server: requests go through, are held, get lost, or lose their reply."""

    def __init__(self, page: Page) -> None:
        self.held: list[Route] = []
        self.how = "through"
        self.posted: list[str] = []
        page.route(EVERYTHING, self._take)

    def _take(self, route: Route) -> None:
        if route.request.method == "POST":
            self.posted.append(f"{self.how}: {route.request.url.rsplit('/', 1)[-1]}")
        if self.how == "held":
            self.held.append(route)
        elif self.how == "lost" or (self.how == "dead" and route.request.method == "GET"):
            route.abort()
        elif self.how == "dead":
            route.fetch(max_redirects=0)  # it arrives, and nobody hears of it
            route.abort()
        else:
            route.continue_()

    def let_through(self) -> None:
        """Let everything through that was held, and all that comes."""
        self.how = "through"
        for route in self.held:
            route.continue_()
        self.held.clear()


@pytest.fixture
def case(phone: Page, server: Served) -> CasePage:
    opened = CasePage(phone, Finger())
    opened.begin_at_once(server.url)
    return opened


def proving(page: Page, server: Served) -> CasePage:
    """Open a case of which something was exchanged, with a proof of several lines."""
    made = page.request.post(f"{server.url}/api/cases", data={"weapon": "foil", "title": "White at rest (invented)"}).json()
    at = f"{server.url}/api/cases/{made['id']}"
    for number, trial in enumerate(({"saw": "left white"}, {"bridged": "left weapon plug B-C", "saw": "nothing"})):
        page.request.post(f"{at}/trials", data={"trial": trial, "token": f"t{number}"})
    page.request.post(f"{at}/acts", data={"exchanged": ["left weapon"], "token": "act"})
    page.goto(f"{server.url}/cases/{made['id']}")
    return CasePage(page, Finger())


def waiting(page: Page) -> Locator:
    """Return the bar that says what waits for the network."""
    return page.get_by_role("status").filter(has_text=re.compile(r"\d answers? waits? for the network"))


def test_every_kind_of_tap_shows_something_two_frames_later_while_the_network_is_silent(phone: Page, server: Served) -> None:
    """Two frames are 33 ms on a screen of 60 Hz; what the network does cannot matter, as it does nothing."""
    case = CasePage(phone, Finger())
    case.begin_at_once(server.url)
    at, network = phone.url, Network(phone)
    phone.add_init_script("localStorage.clear()")  # or the next page would send what this one could not
    taps = {
        "nothing lit": case.button("nothing lit"),
        "skip": case.button("can’t do that now"),
        "undo": phone.get_by_role("button", name=re.compile("^undo")),
        "act": phone.locator(".deeds button").first,
        "end": case.button("no fault found"),
        "about": case.button("save").first,
        "place": case.button("save").last,
        "close": case.button("close case"),
        "suspect": case.suspects.first.get_by_role("link"),
        "another trial": phone.get_by_role("link", name="another trial"),
    }
    for name, thing in taps.items():
        phone.evaluate("document.querySelectorAll('details').forEach(each => each.open = true)")
        network.how = "held"
        assert thing.evaluate(FRAMES) == [True, "busy"], name
        network.how, network.held = "through", []
        phone.goto(at)
    phone.goto(f"{server.url}/new/sabre")
    network.how = "held"
    assert phone.get_by_role("button", name=re.compile("^left fencer:")).first.evaluate(FRAMES) == [True, "busy"]


def test_an_answer_whose_request_and_then_whose_reply_is_lost_arrives_once(case: CasePage) -> None:
    page, network = case.page, Network(case.page)
    network.how = "lost"
    case.lamp("left white lamp").tap()
    case.button("this is what lit").tap()
    expect(waiting(page)).to_contain_text("1 answer waits for the network.")
    expect(page.locator("[data-answer] .told")).to_contain_text("kept on this device")
    expect(page.locator("[data-answer] .told")).to_be_in_viewport()
    expect(case.page.get_by_role("button", name="waiting …")).to_be_disabled()
    expect(case.lamp("right white lamp")).to_be_disabled()
    expect(page.get_by_role("button", name=re.compile("^undo"))).to_be_disabled()
    network.how = "dead"
    sent = len(network.posted)
    case.button("try now").tap()
    page.wait_for_function("() => outbox.tries > 1 && !outbox.sending")
    assert "dead: answer" in network.posted[sent:]
    network.how = "through"
    case.button("try now").tap()
    expect(case.said).to_have_count(2)
    expect(case.said.last).to_contain_text("left white")
    expect(waiting(page)).to_have_count(0)
    page.reload()
    expect(case.said).to_have_count(2)
    expect(page.locator(".lamp[data-state]")).to_have_count(0)


def test_two_answers_wait_and_arrive_in_order(phone: Page, server: Served) -> None:
    case, network = proving(phone, server), Network(phone)
    passing = phone.get_by_role("button", name=re.compile("^passed, line"))
    lines = passing.count()
    assert lines > 1
    before = case.said.count()
    network.how = "lost"
    passing.nth(0).tap()
    expect(waiting(phone)).to_contain_text("1 answer waits")
    passing.nth(1).tap()
    expect(waiting(phone)).to_contain_text("2 answers wait for the network.")
    expect(passing.nth(1)).to_be_disabled()
    said = [words.split("\n")[0] for words in waiting(phone).get_by_role("listitem").all_inner_texts()]
    network.how = "through"
    case.button("try now").tap()
    expect(phone.locator(".proving > li.passed")).to_have_count(2)
    expect(waiting(phone)).to_have_count(0)
    expect(case.said).to_have_count(before + 2)
    for words, line in zip(said, case.said.all_inner_texts()[before:], strict=True):
        assert words.split(":")[0].split(",")[0].lower() in line.lower()


def test_what_waits_is_withdrawn_and_the_question_takes_another_answer(case: CasePage) -> None:
    page, network = case.page, Network(case.page)
    network.how = "lost"
    case.button("nothing lit").tap()
    expect(waiting(page)).to_contain_text("nothing lit")
    page.get_by_role("button", name=re.compile("^withdraw")).tap()
    expect(waiting(page)).to_have_count(0)
    network.how = "through"
    case.lamp("left white lamp").tap()
    case.button("this is what lit").tap()
    expect(case.said).to_have_count(2)
    expect(case.said.last).to_contain_text("left white")


def test_what_waits_is_sent_by_the_next_page_of_the_device(case: CasePage) -> None:
    page, network = case.page, Network(case.page)
    network.how = "lost"
    page.get_by_text("Put right already, or stop here?").tap()
    case.button("no fault found").tap()
    expect(waiting(page)).to_be_visible()
    network.how = "through"
    page.reload()
    expect(case.asked).to_have_text("No fault found")


def test_a_link_does_not_lead_off_the_page_while_the_server_is_silent(case: CasePage) -> None:
    page, network = case.page, Network(case.page)
    network.how = "lost"
    case.button("nothing lit").tap()
    expect(waiting(page)).to_be_visible()
    at = page.url
    case.suspects.first.get_by_role("link").tap()
    expect(page.get_by_text("Nothing is lost: try again in a moment.")).to_be_in_viewport()
    assert page.url == at
    network.how = "through"
    case.suspects.first.get_by_role("link").tap()
    page.wait_for_url(re.compile("/suspects/"))


def test_a_page_whose_answer_is_kept_and_whose_board_is_lost_follows_later(case: CasePage) -> None:
    """The old question takes no second answer in the meantime."""
    page, network = case.page, Network(case.page)
    asked = case.asked.inner_text()

    def go_dead(route: Route) -> None:
        network.how = "dead"
        route.continue_()

    page.route("**/answer", go_dead)
    case.button("nothing lit").tap()
    expect(page.get_by_text("What was said is saved, and this page will follow")).to_be_in_viewport()
    expect(case.asked).to_have_text(asked)
    expect(page.get_by_role("button", name="saved …")).to_be_disabled()
    network.how = "through"
    expect(case.said).to_have_count(2)


def test_a_refusal_stands_beside_the_button_that_was_pressed(phone: Page, server: Served) -> None:
    case = CasePage(phone, Finger())
    case.begin_at_once(server.url)
    phone.get_by_role("link", name="something else happened").tap()
    phone.get_by_text("Looked at or measured").tap()
    phone.get_by_label("Reading (Ω)").fill("abc")
    button = case.button("save")
    button.tap()
    told = phone.get_by_role("status").filter(has_text="Nothing was saved, and nothing is lost.")
    expect(told).to_be_in_viewport()
    pressed, words = button.bounding_box(), told.bounding_box()
    assert pressed
    assert words
    assert abs(words["y"] - pressed["y"] - pressed["height"]) < 40
    expect(button).to_be_enabled()


def test_a_new_case_that_found_no_server_says_so_and_opens_once_when_it_is_back(phone: Page, server: Served) -> None:
    phone.goto(f"{server.url}/new/foil")
    network = Network(phone)
    network.how = "dead"
    complaint = phone.get_by_role("button", name=re.compile("^right fencer:")).nth(3)
    complaint.tap()
    expect(phone.get_by_text("Nothing is lost: try again in a moment.")).to_be_in_viewport()
    network.how = "through"
    total = int(phone.request.get(f"{server.url}/api/cases").headers["x-total-count"])
    complaint.tap()
    phone.wait_for_url(re.compile("/cases/"))
    assert int(phone.request.get(f"{server.url}/api/cases").headers["x-total-count"]) == total


def test_every_form_of_a_case_works_without_scripts(browser_without_scripts: Page, server: Served) -> None:
    page = browser_without_scripts
    case = CasePage(page, Mouse())
    case.begin_at_once(server.url)
    page.get_by_text("title, piste, fencer").click()
    page.get_by_label("Piste", exact=True).fill("4")
    case.button("save").first.click()
    expect(page.get_by_text("piste 4")).to_be_visible()
    asked = case.asked.inner_text()
    case.button("can’t do that now").click()
    expect(case.asked).not_to_have_text(asked)
    page.get_by_role("button", name=re.compile("^undo")).click()
    expect(case.asked).to_have_text(asked)
    page.get_by_text(re.compile("^At the piste, at hand")).click()
    page.get_by_role("radio", name=re.compile("on the bench")).check()
    case.button("save").last.click()
    expect(page.get_by_text(re.compile("^On the bench, at hand"))).to_be_visible()
    page.get_by_role("link", name="something else happened").click()
    page.get_by_label("Who hit").select_option("left")
    page.get_by_role("combobox", name="white").first.select_option("steady")
    case.button("save").click()
    expect(case.said.last).to_contain_text("left white")
    page.get_by_role("link", name="another trial").click()
    expect(page.get_by_label("Show only trials with")).to_be_hidden()
