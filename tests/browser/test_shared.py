"""Two devices on one case, forms sent twice, and a server that dies in the middle."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

import pytest
from casework import CasePage
from hands import Mouse
from playwright.sync_api import expect
from served import PATIENCE_S, Served

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from playwright.sync_api import APIResponse, Browser, BrowserContext, Page, Route

    Devices = Callable[..., BrowserContext]

pytestmark = pytest.mark.slow

ANSWERED = "Another device has answered in this case. Your answer is still here."
EARS = """
window.heard = 0;
const Real = EventSource;
window.EventSource = class extends Real {
  constructor(...given) {
    super(...given);
    this.addEventListener("message", event => { window.heard = Number(event.data); });
  }
};
"""
"""Keeps the latest version of the case that a page was told of."""
LINE = re.compile(r"/changes$")
"""The line over which a device hears of changes."""


def opened(page: Page, url: str) -> CasePage:
    """Open a new case of the demo's complaint."""
    case = CasePage(page, Mouse())
    with page.expect_response(LINE):
        case.begin_at_once(url)
    return case


def joined(page: Page, case: CasePage) -> CasePage:
    """Look at the same case on another device, and listen to its changes."""
    with page.expect_response(LINE):
        page.goto(case.page.url)
    return CasePage(page, Mouse())


@pytest.fixture
def two(devices: Devices, server: Served) -> tuple[CasePage, CasePage]:
    """Open one case on two devices."""
    first = opened(devices().new_page(), server.url)
    return first, joined(devices(phone=True).new_page(), first)


def test_an_answer_on_one_device_shows_on_the_other_without_a_reload(two: tuple[CasePage, CasePage]) -> None:
    first, second = two
    second.page.evaluate("window.neverReloaded = true")
    first.nothing_lit()
    expect(second.said).to_have_count(2)
    expect(second.said.last).to_contain_text("(another device)")
    expect(second.asked).to_have_text(first.asked.inner_text())
    assert second.suspects.all_inner_texts() == first.suspects.all_inner_texts()
    assert second.page.evaluate("window.neverReloaded") is True


def test_answers_of_two_devices_at_the_same_moment_are_both_kept(two: tuple[CasePage, CasePage]) -> None:
    first, second = two
    for device in two:
        device.lamp("left white lamp").click()
    with first.page.expect_response("**/answer") as one, second.page.expect_response("**/answer") as other:
        for device in two:
            device.button("this is what lit").click()
    assert one.value.ok
    assert other.value.ok
    for device in two:
        device.page.reload()
        expect(device.said).to_have_count(3)


def test_both_devices_show_both_answers_when_their_answers_cross(two: tuple[CasePage, CasePage]) -> None:
    """The second device answers after the first one's answer was noted and before its page is back."""
    first, second = two
    first.page.add_init_script(EARS)
    with first.page.expect_response(LINE):
        first.page.reload()
    held: list[tuple[Route, APIResponse]] = []
    first.page.route("**/answer", lambda route: held.append((route, route.fetch())))
    with first.page.expect_request("**/answer"):
        first.button("nothing lit").click()
    expect(second.said).to_have_count(2)
    second.nothing_lit()
    first.page.wait_for_function("window.heard >= 3")
    first.page.evaluate("new Promise(done => setTimeout(done, 600))")  # the page takes a quarter of a second to act on news
    for route, response in held:
        route.fulfill(response=response)
    expect(second.said).to_have_count(3)
    expect(first.said).to_have_count(3)


def test_a_change_while_the_page_is_loading_is_not_missed(two: tuple[CasePage, CasePage], devices: Devices) -> None:
    """An answer comes in after a third device has its page and before it listens."""
    first, _ = two
    late = devices().new_page()
    held: list[Route] = []
    late.route(LINE, lambda route: held.append(route))  # noqa: PLW0108 — the route wants a function of Python
    with late.expect_request(LINE):
        late.goto(first.page.url)
    first.nothing_lit()
    for route in held:
        route.continue_()
    expect(CasePage(late, Mouse()).said).to_have_count(2)


def test_lamps_that_were_touched_stay_when_the_other_device_answers(two: tuple[CasePage, CasePage]) -> None:
    first, second = two
    asked = first.asked.inner_text()
    first.lamp("left white lamp").click()
    second.nothing_lit()
    expect(first.page.get_by_role("status").filter(has_text=ANSWERED)).to_be_visible()
    expect(first.asked).to_have_text(asked)
    expect(first.lamp("left white lamp")).to_have_accessible_name("left white lamp: lit")
    first.button("this is what lit").click()
    for device in two:
        expect(device.said).to_have_count(3)
        expect(device.said.last).to_contain_text("left white")


def test_the_other_device_s_answer_is_shown_on_request(two: tuple[CasePage, CasePage]) -> None:
    first, second = two
    first.page.get_by_role("checkbox", name="not watched").first.check()
    second.nothing_lit()
    first.button("reload").click()
    expect(first.said).to_have_count(2)
    expect(first.page.get_by_text(ANSWERED)).to_have_count(0)
    expect(first.asked).to_have_text(second.asked.inner_text())


def test_a_picked_trial_is_not_taken_away_when_the_other_device_answers(two: tuple[CasePage, CasePage]) -> None:
    first, second = two
    first.page.get_by_role("link", name="another trial").click()
    first.page.get_by_role("main").get_by_role("listitem").last.get_by_role("link").click()
    expect(first.page.get_by_text("your choice")).to_be_visible()
    picked = first.asked.inner_text()
    second.nothing_lit()
    expect(first.said.or_(first.page.get_by_text(ANSWERED)).nth(1)).to_be_visible()
    expect(first.asked).to_have_text(picked)


def test_the_same_form_sent_twice_is_noted_once(two: tuple[CasePage, CasePage]) -> None:
    first, _ = two
    form = first.page.locator("form", has=first.button("nothing lit"))
    fields = {str(field.get_attribute("name")): field.input_value() for field in form.locator("input[type=hidden]").all()}
    for _ in range(2):
        answer = first.page.request.post(str(form.evaluate("each => each.action")), form=dict(fields))
        assert answer.ok
    first.page.reload()
    expect(first.said).to_have_count(2)


def test_a_double_click_answers_once(two: tuple[CasePage, CasePage]) -> None:
    first, _ = two
    with first.page.expect_response("**/answer"):
        first.button("nothing lit").dblclick()
    expect(first.said).to_have_count(2)
    first.nothing_lit()
    expect(first.said).to_have_count(3)


@pytest.mark.parametrize("said", [{"right": "Some of my cuts give no light"}, {"title": "It hums (invented)"}])
def test_a_new_case_sent_twice_is_opened_once(said: dict[str, str], desktop: Page, server: Served) -> None:
    desktop.goto(f"{server.url}/new/sabre")
    form = desktop.locator("form").first
    fields = {str(field.get_attribute("name")): field.input_value() for field in form.locator("input[type=hidden]").all()}
    answers = [desktop.request.post(f"{server.url}/new/sabre", form={**fields, **said}) for _ in range(2)]
    assert all(answer.ok for answer in answers)
    assert answers[0].url == answers[1].url


def noted(case: CasePage) -> list[str]:
    """Return everything that was noted in a case, whoever it was that noted it."""
    return [words.replace(" (another device)", "") for words in case.said.all_inner_texts()]


@dataclass(frozen=True)
class Revived:
    """A case whose server was killed and started again, with what stood on its page before."""

    page: CasePage
    other: CasePage
    asked: str
    suspects: list[str]
    said: list[str]
    told: bool
    """Whether the page said that the server is not responding."""


@pytest.fixture(scope="module")
def revived(browser: Browser, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Revived]:
    """Kill the server while one device has touched a lamp and another looks on; start it again on the same database."""
    with Served(tmp_path_factory.mktemp("revived")) as served, browser.new_context() as one, browser.new_context() as other:
        served.start()
        first = opened(one.new_page(), served.url)
        first.nothing_lit()
        first.button("can’t do that now").click()
        expect(first.said).to_have_count(3)
        first.page.get_by_text("undo", exact=True).click()
        expect(first.page.get_by_text("(taken back)")).to_be_visible()
        second = joined(other.new_page(), first)
        stood = first.asked.inner_text(), first.suspects.all_inner_texts(), noted(first)
        first.lamp("left white lamp").click()
        served.kill()
        first.button("this is what lit").click()
        silent = first.page.get_by_role("status").filter(has_text="1 answer waits for the network.")
        silent.or_(first.said.nth(3)).wait_for()
        told = silent.is_visible()
        one.set_offline(offline=True)  # so that what was noted before can be looked at first
        served.start()
        yield Revived(first, second, *stood, told)
        other.request.get(second.page.url, timeout=4 * PATIENCE_S * 1000)  # what the pages have asked for is answered by then
        served.stop()  # while both pages still listen: open lines must not hold it up
        assert "Traceback" not in served.log


def test_a_page_whose_server_is_gone_says_so(revived: Revived) -> None:
    assert revived.told


def test_all_that_was_noted_before_a_kill_is_there_after_it(revived: Revived, devices: Devices) -> None:
    anew = CasePage(devices().new_page(), Mouse())
    anew.page.goto(revived.page.page.url)
    expect(anew.asked).to_have_text(revived.asked)
    assert anew.suspects.all_inner_texts() == revived.suspects
    assert noted(anew) == revived.said


def test_a_page_goes_on_answering_when_a_killed_server_is_back(revived: Revived) -> None:
    """What was answered meanwhile was kept on the device, and goes out by itself."""
    case = revived.page
    expect(case.lamp("left white lamp")).to_have_accessible_name("left white lamp: lit")
    case.page.context.set_offline(offline=False)
    expect(case.said).to_have_count(4)
    expect(case.said.last).to_contain_text("left white")
    expect(case.page.get_by_text("waits for the network")).to_have_count(0)
    case.nothing_lit()


def test_a_device_that_had_lost_the_server_hears_of_answers_again(revived: Revived, devices: Devices) -> None:
    anew = CasePage(devices().new_page(), Mouse())
    anew.page.goto(revived.page.page.url)
    anew.nothing_lit()
    expect(revived.other.said).to_have_count(anew.said.count())
