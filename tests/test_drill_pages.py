"""Drills and progress, asked as a browser does: one answer counts, the minute is that of answering, who is whom where."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import pytest
from argon2 import PasswordHasher
from typer.testing import CliRunner

from client import FromHere, TestClient
from foible.cli.main import command
from foible.records import CaseStore, Database
from foible.records.people import NewPerson, Role
from foible.records.trail import NOBODY
from foible.services.cases import Cases
from foible.services.practice.drills import MINUTE_S, drill_of
from foible.services.register.people import People
from foible.services.register.secrets import Secrets
from foible.web import Settings, create_app
from usual import REASONING

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from fastapi import FastAPI
    from httpx import Response

RUN = "/practice/drills/foil/loop/abc"


@pytest.fixture
def app(tmp_path: Path) -> Iterator[FastAPI]:
    store = CaseStore(Database(f"sqlite:///{tmp_path / 'records.db'}"), clock=lambda: datetime.now(UTC))
    yield create_app(Cases(REASONING, store), Settings(hosts=("testserver",)))
    store.database.dispose()


def device(app: FastAPI) -> TestClient:
    return TestClient(FromHere(app))


def posted(client: TestClient, page: str, action: str | None = None, **fields: str) -> Response:
    found = re.search(r'name="csrf" value="([^"]+)"', client.get(page).text)
    answer: Response = client.post(action or page, data={"csrf": found.group(1) if found else "", **fields})
    return answer


def right(number: int) -> int:
    return drill_of(REASONING, "foil", "loop", "abc", number).right + 1


def answer(client: TestClient, number: int, *, rightly: bool) -> Response:
    chosen = right(number) if rightly else right(number) % 4 + 1
    return posted(client, f"{RUN}/{number}", chosen=str(chosen))


def reviews(app: FastAPI, client: TestClient) -> int:
    """Return how many results are kept of whoever uses a device."""
    link = re.search(r"/practice/me/([\w-]+)", client.get("/practice/progress").text)
    return sum(card.memory.reviews for card in app.state.progress.cards(link.group(1))) if link else 0


def test_the_first_answer_counts_with_the_reason_at_once(app: FastAPI) -> None:
    client = device(app)
    page = answer(client, 1, rightly=False)
    assert page.url.path.startswith(f"{RUN}/1/")
    assert "Not so." in page.text
    assert "<svg" in page.text
    assert client.get(f"{RUN}/1/{right(1)}").text.count("✓ Right.") == 1, "looking at it is free"
    answer(client, 1, rightly=True)
    assert reviews(app, client) == 1, "and answering once more changes nothing"
    answer(client, 2, rightly=True)
    assert reviews(app, client) == 2
    assert "1 of 2 right" in client.get(f"{RUN}/count").text
    assert answer(device(app), 1, rightly=True).status_code == 200, "somebody else has the same drills"
    assert reviews(app, client) == 2


def test_the_minute_is_the_time_of_answering(app: FastAPI, monkeypatch: pytest.MonkeyPatch) -> None:
    now = 1000.0
    monkeypatch.setattr("foible.web.practice.drill_pages.time.time", lambda: now)
    client = device(app)
    for number, seconds in ((1, 20.0), (2, MINUTE_S - 21)):
        client.get(f"{RUN}/{number}")
        now += seconds
        page = answer(client, number, rightly=True)
        assert "the minute is over" not in page.text
        now += 300  # reading the reason
    client.get(f"{RUN}/3")
    now += 2
    assert "the minute is over" in answer(client, 3, rightly=True).text
    assert "3 of 3 right" in client.get(f"{RUN}/count").text
    assert "In 61 s of answering" in client.get(f"{RUN}/count").text


@pytest.mark.parametrize(
    ("path", "status"),
    [
        ("/practice/drills/foil/luck", 404),
        ("/practice/drills/spear/loop", 404),
        ("/practice/drills/foil/luck/abc/1", 404),
        (f"{RUN}/0", 422),
        (f"{RUN}/41", 422),
        (f"{RUN}/1/5", 422),
        ("/practice/drills/foil/loop/a-b/1", 422),
        ("/practice/groups/nosuch", 404),
        ("/practice/join/nosuch", 404),
        ("/practice/me/x", 422),
    ],
)
def test_an_address_that_there_is_not_says_so(app: FastAPI, path: str, status: int) -> None:
    assert device(app).get(path).status_code == status


def test_an_answer_from_another_site_is_refused(app: FastAPI) -> None:
    client = device(app)
    client.get(f"{RUN}/1")
    assert client.post(f"{RUN}/1", data={"chosen": "1"}).status_code == 403
    assert posted(client, f"{RUN}/1", chosen="5").status_code == 422
    assert reviews(app, client) == 0


def test_a_link_takes_what_was_learnt_to_another_device(app: FastAPI) -> None:
    first, second = device(app), device(app)
    answer(first, 1, rightly=True)
    link = re.search(r"/practice/me/[\w-]+", first.get("/practice/progress").text)
    assert link
    assert reviews(app, second) == 0
    assert posted(second, link.group()).url.path == "/practice/progress"
    answer(second, 2, rightly=True)
    assert reviews(app, first) == reviews(app, second) == 2
    assert posted(second, link.group(), link.group()[:-4] + "abcd").status_code == 422


def test_whoever_signs_in_is_the_same_learner_everywhere_and_nobody_afterwards(app: FastAPI) -> None:
    app.state.people = People(app.state.register, Secrets(PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)))
    first, second = device(app), device(app)
    answer(first, 1, rightly=True)
    app.state.people.add(NewPerson("Mira", login="mira", role=Role.MANAGE), "480261", by=NOBODY)
    for client in (first, second):
        posted(client, "/sign-in", login="mira", secret="480261")
        assert "1 wrong" not in client.get("/practice/progress").text
    known = [re.search(r"<td[^>]*>new to you", client.get("/practice/progress").text) for client in (first, second)]
    assert all(known), "what was learnt before signing in is theirs, on both devices"
    posted(second, "/sign-in", "/sign-out")
    assert "new to you" not in second.get("/practice/progress").text, "whoever comes next begins anew"


def test_drills_and_progress_in_the_terminal(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))

    def foible(*words: str, types: str = "") -> str:
        done = CliRunner().invoke(command, ["practise", *words], input=types)
        assert done.exit_code == 0, done.output
        return done.output

    told = foible("drill", "--weapon", "foil", "--idea", "loop", "--seed", "abc", "--count", "3", types=f"seven\n{right(1)}\n")
    assert "“seven” is no choice" in told
    assert "Right." in told
    assert "1 of 1 right. (--seed abc brings the same ones.)" in told
    shown = foible("progress", "--weapon", "foil")
    assert re.search(r"foil +The loop +new to you", shown)
    assert "Next: foible practise drill --weapon foil --idea target" in shown
