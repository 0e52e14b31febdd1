"""What the bench lets in, what it lets out, and how much it sends."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest
from inside import STRANGER, WORDS, TestClient, asked, token_in
from playwright.sync_api import expect

from foible.web import Settings
from foible.web.guesses import FREE, Guesses
from foible.web.settings import Passphrase
from pages import NAMES

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from playwright.sync_api import Page, Route
    from served import Served
    from survey import Survey

    from pages import Places

pytestmark = pytest.mark.slow

HEAVIEST = 250_000
"""Bytes that a page may send with all that it loads; judgement, no source: some seconds on a poor network in a sports hall."""
REFUSALS = {
    "what a meter cannot tell": "(status of|Code) 422",
    "a case where an answer was refused": "(status of|Code) 422",
    "a case that waits for the network": "net::ERR_FAILED",
    "a file that was refused": "(status of|Code) 422",
    "an error": "(status of|Code) 404",
}
"""Pages on which something was refused or lost, which a browser's console tells."""
JSON = {"Content-Type": "application/json"}
every_page = pytest.mark.parametrize("name", NAMES)


@every_page
def test_a_page_asks_nobody_but_its_own_server(name: str, look: Callable[[str], Survey], places: Places) -> None:
    addresses = [address for address, _ in look(name).loaded]
    assert len(addresses) > 3
    assert not [address for address in addresses if not address.startswith(f"{places.url}/")]


@every_page
def test_a_page_has_nothing_to_complain_of_on_its_console(name: str, look: Callable[[str], Survey]) -> None:
    expected = REFUSALS.get(name)
    assert not [words for words in look(name).console if not (expected and re.search(expected, words))]


@every_page
def test_a_page_lets_in_no_script_or_style_but_our_files(name: str, look: Callable[[str], Survey]) -> None:
    policy = dict(part.strip().split(" ", 1) for part in look(name).headers["content-security-policy"].split(";"))
    assert policy["default-src"] == "'none'"
    assert policy["script-src"] == policy["style-src"] == policy["form-action"] == "'self'"
    assert policy["frame-ancestors"] == policy["base-uri"] == "'none'"
    assert "unsafe" not in str(policy)


@every_page
def test_a_page_is_light(name: str, look: Callable[[str], Survey]) -> None:
    loaded = look(name).loaded
    assert all(size > 0 for address, size in loaded if address.endswith((".js", ".css"))), loaded
    assert 1000 < sum(size for _, size in loaded) <= HEAVIEST


# --- from this machine ------------------------------------------------------------------------------------------------


@pytest.fixture
def here(tmp_path: Path) -> Iterator[TestClient]:
    """Ask from the machine itself; nothing is shared."""
    with asked(tmp_path, Settings()) as client:
        yield client


def token(client: TestClient, path: str = "/new/foil") -> str:
    """Return the token of this session's forms."""
    return token_in(client.get(path).text)


def titles(client: TestClient) -> list[str]:
    """Return the titles of all cases."""
    return [str(case["title"]) for case in client.get("/api/cases").json()]


def test_cookies_are_kept_from_scripts_and_from_other_sites(here: TestClient) -> None:
    cookie = here.get("/").headers["set-cookie"].lower()
    assert "httponly" in cookie
    assert "samesite=strict" in cookie


def test_a_form_with_its_token_is_taken(here: TestClient) -> None:
    answer = here.post("/new/foil", data={"title": "mine", "csrf": token(here)}, headers={"Origin": "http://localhost"})
    assert answer.status_code == 303
    assert titles(here) == ["mine"]


@pytest.mark.parametrize("given", [{}, {"csrf": ""}, {"csrf": "guessed"}])
def test_a_form_without_the_token_of_its_session_is_refused(given: dict[str, str], here: TestClient) -> None:
    token(here)
    assert here.post("/new/foil", data={"title": "theirs", **given}).status_code == 403
    assert titles(here) == []


@pytest.mark.parametrize(
    "headers",
    [
        {"Origin": "http://192.0.2.9"},
        {"Origin": "null"},
        {"Origin": "https://localhost"},
        {"Origin": "http://localhost:8080"},
        {"Sec-Fetch-Site": "cross-site"},
        {"Sec-Fetch-Site": "same-site"},
    ],
    ids=str,
)
def test_what_comes_from_another_page_is_refused_even_with_a_token(headers: dict[str, str], here: TestClient) -> None:
    form = {"title": "theirs", "csrf": token(here)}
    assert here.post("/new/foil", data=form, headers=headers).status_code == 403
    answer = here.post("/api/cases", json={"weapon": "foil"}, headers=headers)
    assert answer.status_code == answer.json()["error"]["status"] == 403
    assert titles(here) == []


def test_a_foreign_page_in_a_browser_cannot_send_a_form(desktop: Page, server: Served) -> None:
    """The foreign page is made up by the browser's own router: nothing leaves this machine."""
    form = f'<form method="post" action="{server.url}/new/foil"><input name="title" value="theirs"><button>go</button></form>'

    def foreign(route: Route) -> None:
        route.fulfill(body=form, content_type="text/html")

    desktop.route("http://foreign.example/", foreign)
    desktop.goto("http://foreign.example/")
    with desktop.expect_response(f"{server.url}/new/foil") as answer:
        desktop.get_by_role("button", name="go").click()
    assert answer.value.status == 403
    desktop.goto(server.url)
    expect(desktop.get_by_role("link", name="theirs")).to_have_count(0)


@pytest.mark.parametrize("host", ["foreign.example", "localhost.foreign.example", "192.0.2.9", ""])
def test_a_host_name_that_is_not_ours_is_refused(host: str, here: TestClient) -> None:
    assert here.get("/", headers={"Host": host}).status_code == 421
    assert here.get("/api/cases", headers={"Host": host}).status_code == 421


def test_more_than_anybody_has_to_say_is_refused(here: TestClient) -> None:
    assert here.post("/api/cases", content=b"x" * 70_000, headers=JSON).status_code == 413
    assert here.post("/api/cases", content=iter([b"x" * 10, b"y" * 70_000]), headers=JSON).status_code == 413  # in pieces


def test_words_that_look_like_a_page_are_shown_as_words(here: TestClient) -> None:
    answer = here.post("/new/foil", data={"title": "<script>alert(1)</script>", "csrf": token(here)})
    for path in (answer.headers["location"], "/"):
        shown = here.get(path).text
        assert "<script>alert" not in shown
        assert "&lt;script&gt;alert" in shown


def test_the_door_stays_shut_where_nothing_is_shared(tmp_path: Path) -> None:
    with asked(tmp_path, Settings(), address=STRANGER) as client:
        assert client.get("/").headers["location"] == "/join"
        assert client.post("/join", data={"passphrase": "", "csrf": token(client, "/join")}).status_code == 403
        assert client.get("/").headers["location"] == "/join"


# --- from other machines ----------------------------------------------------------------------------------------------


@pytest.fixture
def sharing() -> Settings:
    """Share the server."""
    return Settings(passphrase=Passphrase.of(WORDS), join="http://localhost/join#crate%20lantern%20oar")


@pytest.fixture
def stranger(sharing: Settings, tmp_path: Path) -> Iterator[TestClient]:
    """Ask from a stranger's machine."""
    with asked(tmp_path, sharing, address=STRANGER) as client:
        yield client


def knock(client: TestClient, words: str) -> tuple[int, dict[str, str]]:
    """Give a passphrase; return the status and the headers of the answer."""
    answer = client.post("/join", data={"passphrase": words, "csrf": token(client, "/join")})
    return answer.status_code, dict(answer.headers)


@pytest.mark.parametrize("path", ["/", "/new/foil", "/cases/nosuch", "/cases/nosuch/changes", "/share", "/help", "/api"])
def test_a_stranger_is_sent_to_the_door(path: str, stranger: TestClient) -> None:
    answer = stranger.get(path)
    if path == "/api":
        assert answer.status_code == 401
    else:
        assert (answer.status_code, answer.headers["location"]) == (303, "/join")


def test_a_stranger_s_program_is_told_how_to_join(stranger: TestClient) -> None:
    for answer in (stranger.get("/api/cases"), stranger.post("/api/cases", json={"weapon": "foil"})):
        assert answer.status_code == answer.json()["error"]["status"] == 401
        assert "/join" in answer.json()["error"]["remedy"]


def test_the_right_passphrase_lets_in_however_it_is_typed(stranger: TestClient) -> None:
    assert knock(stranger, "  Crate lantern  OAR ")[0] == 303
    assert stranger.get("/").status_code == 200
    assert stranger.get("/api/cases").status_code == 200


def test_a_wrong_passphrase_does_not_let_in(stranger: TestClient) -> None:
    assert knock(stranger, "crate lantern")[0] == 403
    assert stranger.get("/").status_code == 303


def test_a_cookie_made_elsewhere_does_not_let_in(sharing: Settings, tmp_path: Path) -> None:
    own = tmp_path / "own"
    own.mkdir()
    with asked(own, Settings(passphrase=sharing.passphrase), address=STRANGER) as client:
        assert knock(client, WORDS)[0] == 303
        cookie = client.cookies["foible"]
    with asked(tmp_path, sharing, address=STRANGER) as client:
        assert client.get("/", headers={"Cookie": f"foible={cookie}"}).status_code == 303


@pytest.fixture
def now(stranger: TestClient) -> list[float]:
    """Return the time by the clock that guesses are counted by, to be put on [s]."""
    now = [0.0]
    state = stranger.app.state  # type: ignore[attr-defined]
    state.settings = replace(state.settings, guesses=Guesses(clock=lambda: now[0]))
    return now


def slowed(client: TestClient) -> int:
    """Guess until one has to wait, and return how long [s]; the first guesses are free."""
    for _ in range(20):
        status, headers = knock(client, "wrong")
        if status == 429:
            return int(headers["retry-after"])
        assert status == 403
    pytest.fail("nobody had to wait")


def test_while_guessing_is_slowed_even_the_right_one_waits(stranger: TestClient, now: list[float]) -> None:
    wait = slowed(stranger)
    assert knock(stranger, WORDS)[0] == 429
    assert stranger.get("/").status_code == 303
    now[0] += wait
    assert knock(stranger, WORDS)[0] == 303
    assert stranger.get("/").status_code == 200


def test_after_the_first_guesses_there_is_one_a_minute(stranger: TestClient, now: list[float]) -> None:
    assert [knock(stranger, "wrong")[0] for _ in range(FREE)] == [403] * FREE
    for _ in range(3):
        assert slowed(stranger) == 60
        now[0] += 60
        assert knock(stranger, "wrong")[0] == 403
    now[0] += 60
    assert knock(stranger, WORDS)[0] == 303


def test_the_passphrase_is_shown_on_the_machine_itself_and_to_nobody_who_joined(sharing: Settings, tmp_path: Path) -> None:
    with asked(tmp_path, sharing) as client:
        assert WORDS in client.get("/share").text
    with asked(tmp_path, sharing, address=STRANGER) as client:
        assert knock(client, WORDS)[0] == 303
        answer = client.get("/share")
        assert answer.status_code == 403
        assert WORDS not in answer.text
        assert "crate" not in client.get("/").text
