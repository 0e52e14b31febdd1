"""The start page: calm with many cases, and a search that works without a script."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from html import unescape
from typing import TYPE_CHECKING

import pytest

from client import FromHere, TestClient
from foible.records import CaseStore, Database, NewCase
from foible.services.cases import Cases
from foible.services.reasoning import Reasoning
from foible.web import Settings, create_app

if TYPE_CHECKING:
    from collections.abc import Iterator

CASES = 130
"""Every tenth of them is open."""


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    """Yield a client from this machine, of a server with many invented cases; each changed an hour after the one before."""
    now = datetime(2026, 10, 1, tzinfo=UTC)
    store = CaseStore(Database(f"sqlite:///{tmp_path_factory.mktemp('start') / 'records.db'}"), clock=lambda: now)
    for number in range(CASES):
        now += timedelta(hours=1)
        weapon = ("foil", "épée", "sabre")[number % 3]
        case = store.open(NewCase(weapon, f"Piste {number}: the lamé <b>buzzes</b>"))
        if number % 10:
            store.close(case.id, closed=True)
    app = create_app(Cases(Reasoning(), store), Settings())
    with TestClient(FromHere(app), base_url="http://localhost") as made:
        yield made
    store.database.dispose()


def listed(text: str) -> list[int]:
    """Return the numbers of the cases on a page."""
    return [int(number) for number in re.findall(r"<b>Piste (\d+):", text)]


def followed(client: TestClient, address: str, rel: str) -> list[int]:
    """Return the cases of a page and of all that follow by its links to the next, or the previous, ones."""
    text = client.get(address).text
    link = re.search(rf'rel="{rel}" href="([^"]*)"', text)
    return listed(text) + (followed(client, unescape(link[1]), rel) if link else [])


def test_it_shows_the_latest_open_cases_and_a_few_of_those_put_away(client: TestClient) -> None:
    answer = client.get("/")
    assert listed(answer.text) == [*range(120, 20, -10), 129, 128, 127, 126, 125]
    assert len(answer.content) <= 60_000
    assert "<b>buzzes</b>" not in answer.text


@pytest.mark.parametrize(
    ("address", "found"),
    [
        ("/?words=LAME+117&weapon=&state=all&since=&until=", [117]),
        ("/?words=lame&state=open", [*range(120, -1, -10)]),
        ("/?weapon=epee&since=2026-10-02&until=2026-10-02&zone=Etc/UTC", [*range(46, 22, -3)]),
        ("/?weapon=epee&since=2026-10-02&until=2026-10-02&zone=Asia/Tokyo", [*range(37, 13, -3)]),
        ("/?words=", [*range(129, -1, -1)]),
        ("/?words=nowhere", []),
    ],
)
def test_the_form_finds_cases_and_older_leads_to_the_last_of_them(client: TestClient, address: str, found: list[int]) -> None:
    """Case 0 changed at 01:00 UTC on 1 October, so those of the second day are 23 to 46, and in Tokyo (+9 h) 14 to 37."""
    assert followed(client, address, "next") == found


def test_newer_leads_back_from_beyond_the_end(client: TestClient) -> None:
    assert set(followed(client, "/?words=lame&offset=5000", "prev")) == {*range(130)}


@pytest.mark.parametrize(
    ("address", "message"),
    [
        ("/?since=2026-02-30", "there is no such day as 2026-02-30"),
        ("/?since=yesterday", "since"),
        ("/?weapon=rapier", "there is no weapon called “rapier”"),
        ("/?state=lost", "state"),
        ("/?zone=Piste/3", "there is no time zone called “piste/3”"),
        ("/?zone=../../etc/passwd", "there is no time zone"),
        ("/?offset=-1", "offset"),
    ],
)
def test_what_cannot_be_looked_for_is_said(client: TestClient, address: str, message: str) -> None:
    answer = client.get(address)
    assert answer.status_code == 422
    assert message in unescape(answer.text).lower()


def test_the_api_takes_the_same_search_and_says_how_many_there_are(client: TestClient) -> None:
    answer = client.get("/api/cases?words=lame&weapon=foil&limit=3&offset=1")
    assert [case["title"].split(":")[0] for case in answer.json()] == ["Piste 126", "Piste 123", "Piste 120"]
    assert answer.headers["X-Total-Count"] == "44"
    assert client.get("/api/cases?limit=201").status_code == 422
