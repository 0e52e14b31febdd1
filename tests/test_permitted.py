"""Every role against every page of the register: who may look, work and manage, and who comes in at all."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import pytest
from argon2 import PasswordHasher
from fastapi.routing import APIRoute

from client import FromHere, TestClient
from foible.records import CaseStore, Database
from foible.records.people import NewPerson, Role
from foible.records.trail import NOBODY, TrailQuery, TrailStore
from foible.services.cases import Cases
from foible.services.reasoning import Reasoning
from foible.services.register.people import People
from foible.services.register.secrets import Secrets
from foible.web import Settings, create_app
from foible.web.application import CONTROL, PRACTICE, REGISTER, SURFACES, TAUGHT
from foible.web.guesses import Guesses
from foible.web.register.permitted import NEEDS

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path
    from types import ModuleType

    from fastapi import FastAPI

PINS = {"mira": "480261", "ivo": "771904", "ada": "650318"}
ROLES = {"mira": Role.MANAGE, "ivo": Role.WORK, "ada": Role.LOOK}
"""Invented people of the invented Lanternfield club."""
OURS = ("/register", "/api/register", "/control", "/api/control", "/i/", "/sign-", "/practice/groups")
FOR_EVERYBODY = ("/control/budget", "/control/shims", "/control/meter")
"""Pages beside the control table that keep nothing and show no record."""
ELSEWHERE = "192.0.2.7"


class Sometime:
    """A clock of the guesses that never holds up whoever signs in rightly."""

    def __call__(self) -> float:
        return 0.0


@pytest.fixture(scope="module")
def app(tmp_path_factory: pytest.TempPathFactory) -> Iterator[FastAPI]:
    """Return an application in which three people sign in, one of each role."""
    yield from application(tmp_path_factory.mktemp("permitted"), people=True)


@pytest.fixture
def empty(tmp_path: Path) -> Iterator[FastAPI]:
    """Return an application in which nobody signs in yet."""
    yield from application(tmp_path, people=False)


def application(folder: Path, *, people: bool) -> Iterator[FastAPI]:
    store = CaseStore(Database(f"sqlite:///{folder / 'records.db'}"), clock=lambda: datetime.now(UTC))
    app = create_app(Cases(Reasoning(), store), replace(Settings(hosts=("testserver",)), guesses=Guesses(Sometime())))
    cheap = Secrets(PasswordHasher(time_cost=1, memory_cost=8, parallelism=1))
    app.state.people = People(app.state.register, cheap, refused_after_s=0)
    if people:
        for login, role in ROLES.items():
            app.state.people.add(
                NewPerson(login.title(), login=login, role=role, contact=f"{login}@lanternfield.example"), PINS[login], by=NOBODY
            )
    yield app
    store.database.dispose()


def device(app: FastAPI, login: str | None = None) -> TestClient:
    """Return a device at this machine, on which somebody has signed in or nobody."""
    client = TestClient(FromHere(app), follow_redirects=False)
    if login:
        assert posted(client, "/sign-in", login=login, secret=PINS[login]).status_code == 303
    return client


def posted(client: TestClient, action: str, *, page: str = "/sign-in", **fields: str):  # type: ignore[no-untyped-def] # noqa: ANN201 — httpx's
    found = re.search(r'name="csrf" value="([^"]+)"', client.get(page).text)
    return client.post(action, data={"csrf": found.group(1) if found else "", **fields})


def routes(*modules: ModuleType) -> dict[str, APIRoute]:
    """Return the routes of modules by method and path, those of routers that they include among them."""
    found: dict[str, APIRoute] = {}
    routers = [module.router for module in modules]
    while routers:
        for route in routers.pop().routes:
            if isinstance(route, APIRoute):
                found |= {f"{method} {route.path}": route for method in route.methods or ()}
            elif inner := getattr(route, "original_router", None):  # newer FastAPI does not copy the routes of what is included
                routers.append(inner)
    return found


def test_every_page_of_the_register_is_in_the_table() -> None:
    register, others = routes(*REGISTER, *CONTROL, *TAUGHT), routes(*SURFACES, *PRACTICE)
    assert len(register) > 30
    assert register.keys() <= NEEDS.keys(), "say in foible.web.register.permitted which role a page takes"
    assert all(route.path.startswith(OURS) for route in register.values())
    assert len(others) > 40
    assert not [name for name, route in others.items() if route.path.startswith(OURS) and route.path not in FOR_EVERYBODY], (
        "a page of the register belongs to REGISTER"
    )


def test_nothing_is_changed_by_looking_and_what_matters_most_takes_a_manager() -> None:
    """Of the issue: people, erasure, import, and switching what is learned take `manage`; other changes `work`."""
    changing = {name: role for name, role in NEEDS.items() if name.startswith("POST") and "/sign-" not in name}
    assert Role.LOOK not in changing.values()
    for word in ("people", "erase", "import", "learned", "export"):
        assert {role for name, role in (NEEDS if word == "export" else changing).items() if word in name} == {Role.MANAGE}, word


def test_whoever_may_more_may_everything_that_others_may() -> None:
    assert [[role.covers(other) for other in Role] for role in Role] == [
        [True, False, False],
        [True, True, False],
        [True, True, True],
    ]


@pytest.mark.parametrize("login", [None, *ROLES])
def test_every_role_against_every_route(app: FastAPI, login: str | None) -> None:
    """What is refused is refused before anything is looked up: by 403, or on the way to a page by the page to sign in."""
    client = device(app, login)
    found = re.search(r'name="csrf" value="([^"]+)"', client.get("/sign-in").text)
    assert found
    role = ROLES[login] if login else None
    for name, route in routes(*REGISTER, *CONTROL, *TAUGHT).items():
        if "/sign-" in route.path:
            continue
        method = name.partition(" ")[0]
        path = re.sub(r"\{[^}]+\}", "999", route.path)
        answer = client.request(method, path, data={"csrf": found.group(1), "version": "1"} if method == "POST" else None)
        to_sign_in = answer.status_code == 303 and answer.headers["location"].startswith("/sign-in")
        needed = NEEDS[name]
        allowed = needed is Role.LOOK or (role is not None and role.covers(needed))
        refused = answer.status_code == 403 or to_sign_in
        assert refused is not allowed, f"{login} {name}: {answer.status_code}"
        assert answer.status_code < 500, f"{login} {name}"


def test_cases_and_practice_ask_nobody_to_sign_in(app: FastAPI) -> None:
    client = device(app)
    for path in (
        "/",
        "/new/foil",
        "/help",
        "/api/cases",
        "/practice",
        "/practice/drills",
        "/practice/progress",
        "/practice/join",
    ):
        assert client.get(path).status_code == 200, path


def test_how_to_reach_somebody_is_for_those_who_work_here(app: FastAPI) -> None:
    mira = app.state.people.found("mira")[0].id
    for login, shown in ((None, False), ("ada", False), ("ivo", True), ("mira", True)):
        client = device(app, login)
        for path in (f"/register/people/{mira}", "/register/people", "/api/register/people"):
            told = "mira@lanternfield.example" in client.get(path).text
            assert told is (shown and path != "/register/people"), (login, path)


def test_as_long_as_nobody_signs_in_everybody_may_and_the_first_is_made_here(empty: FastAPI) -> None:
    here, phone = device(empty), TestClient(FromHere(empty, ELSEWHERE), follow_redirects=False)
    empty.state.settings = replace(empty.state.settings)
    first = {"name": "Mira", "login": "mira", "role": "manage", "secret": PINS["mira"], "token": "t1"}
    assert posted(here, "/register/people", name="Ferry Lane", kind="club", token="t0").status_code == 303
    assert phone.get("/register").headers["location"] == "/join", "who has not joined sees nothing at all"
    assert posted(here, "/register/people", **{**first, "role": "work"}).status_code == 422
    assert posted(here, "/register/people", **first).status_code == 303
    assert here.get("/register/export").status_code != 303, "whoever made themselves manager has signed in by that"
    assert device(empty).get("/register/items/new").headers["location"] == "/sign-in?to=/register/items/new"


def test_a_device_elsewhere_does_not_make_itself_manager(empty: FastAPI, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("foible.web.security.may_ask", lambda *_: True)  # it has joined
    phone = TestClient(FromHere(empty, ELSEWHERE), follow_redirects=False)
    fields = {"name": "Mallory", "login": "mallory", "role": "manage", "secret": "480261", "token": "t2"}
    refused = posted(phone, "/register/people", **fields)
    assert refused.status_code == 403
    assert "made on the machine that runs Foible" in refused.text
    assert empty.state.people.is_open()


def test_what_somebody_changes_is_noted_under_their_id(app: FastAPI) -> None:
    client = device(app, "mira")
    assert posted(client, "/register/people", name="Noted Nowhere", token="t3").status_code == 303
    noted = TrailStore(app.state.register.database).stretch(TrailQuery(kind="person"), limit=1)[0]
    assert noted.by.person_id == app.state.people.found("mira")[0].id
    page = client.get("/register/trail?kind=person").text
    assert "made by Mira" in page
    assert "Noted Nowhere" in page, "the name is looked up as it is today"
    assert client.get("/api/register/trail").json()[0]["what"]["name"] == "nothing → …", "and not kept"


def test_signing_out_and_another_secret_end_what_a_device_may(app: FastAPI) -> None:
    people, first, second = app.state.people, device(app, "ivo"), device(app, "ivo")
    assert first.get("/register/items/new").status_code == 200
    kept = dict(first.cookies)
    assert posted(first, "/sign-out").status_code == 303
    assert first.get("/register/items/new").status_code == 303
    copied = TestClient(FromHere(app), follow_redirects=False, cookies=kept)
    assert copied.get("/register/items/new").status_code == 303, "a cookie that was copied before opens nothing either"
    assert second.get("/register/items/new").status_code == 200, "another device stays signed in"
    ivo = people.found("ivo")[0]
    people.revise(ivo.id, {}, "crate lantern oar", version=None, by=NOBODY)
    assert second.get("/register/items/new").status_code == 303, "elsewhere they have to sign in again"
    people.revise(ivo.id, {}, PINS["ivo"], version=None, by=NOBODY)


@pytest.mark.parametrize(
    "to",
    [
        "https://elsewhere.example/",
        "//elsewhere.example",
        "/\\elsewhere.example",
        "javascript:alert(1)",
        "/registered",
        "/register\r\nX: y",
    ],
)
def test_signing_in_leads_to_no_other_site(app: FastAPI, to: str) -> None:
    assert (
        posted(TestClient(FromHere(app), follow_redirects=False), "/sign-in", login="mira", secret=PINS["mira"], to=to).headers[
            "location"
        ]
        == "/register"
    )


def test_signing_in_leads_back_to_where_one_was(app: FastAPI) -> None:
    answer = posted(
        TestClient(FromHere(app), follow_redirects=False), "/sign-in", login="mira", secret=PINS["mira"], to="/register/items/new"
    )
    assert answer.headers["location"] == "/register/items/new"


def test_an_address_that_guesses_waits_whatever_logins_it_tries(empty: FastAPI) -> None:
    client = TestClient(FromHere(empty), follow_redirects=False)
    answers = [posted(client, "/sign-in", login=f"nobody{number}", secret="480261").status_code for number in range(6)]
    assert answers == [403] * 5 + [429]


def test_names_are_shown_as_text(app: FastAPI) -> None:
    client, name = device(app, "mira"), "<script>alert(1)</script>' OR 1=1 --"
    made = posted(client, "/register/people", name=name, club="{{ 7 * 7 }}", token="t4")
    page = client.get(made.headers["location"]).text
    assert "<script>alert(1)</script>" not in page
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in page
    assert "{{ 7 * 7 }}" in page
    assert client.get("/register/people", params={"words": "' OR 1=1 --"}).text.count("<li><a") == 1
    assert client.get("/register/trail", params={"kind": "x' OR 1=1"}).text.count("<li>") == 0


def test_erasing_asks_whether_one_is_sure(app: FastAPI) -> None:
    client = device(app, "mira")
    page = posted(client, "/register/people", name="Gone Tomorrow", token="t5").headers["location"]
    assert posted(client, f"{page}/erase").status_code == 422
    assert "Gone Tomorrow" in client.get(page).text
    assert "stands in no other text" in posted(client, f"{page}/erase", sure="yes").text
    assert "Gone Tomorrow" not in client.get(page).text + client.get("/register/people").text


def test_a_clash_about_a_person_shows_both_and_keeps_the_entries(app: FastAPI) -> None:
    client = device(app, "mira")
    page = posted(client, "/register/people", name="Rowan", token="t6").headers["location"]
    assert posted(client, page, name="Rowan", club="Ferry Lane", version="1").status_code == 303
    clash = posted(client, page, name="Rowan", club="Millrace", version="1")
    assert clash.status_code == 409
    assert "Ferry Lane" in clash.text
    assert 'value="Millrace"' in clash.text
    assert 'name="version" value="2"' in clash.text


@pytest.mark.parametrize(
    ("action", "fields"),
    [("/register/items", {"what": "cord|foil", "name": "Practice cord"}), ("/register/parts", {"name": "Clip", "count": "2"})],
)
def test_a_price_takes_a_manager_wherever_it_is_given(app: FastAPI, action: str, fields: dict[str, str]) -> None:
    worker = device(app, "ivo")
    assert posted(worker, action, **fields, price="12").status_code == 403
    assert posted(worker, action, **fields).status_code == 303
    assert posted(device(app, "mira"), action, **fields, price="12").status_code == 303
