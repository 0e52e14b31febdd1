"""A job card and the case opened from it, and jobs that are finished: what is filled in, what is said, what is refused."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest

from client import FromHere, TestClient, send
from foible.services.opening import open_cases
from foible.web.application import create_app
from foible.web.settings import Settings

if TYPE_CHECKING:
    from collections.abc import Iterator


FOUND = "weapon blade tape: missing or worn through"


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    cases = open_cases(f"sqlite:///{tmp_path_factory.mktemp('cards') / 'records.db'}")
    with TestClient(FromHere(create_app(cases, Settings(secret="a", hosts=("testserver",))))) as made:
        yield made


def card(client: TestClient, what: str = "weapon|foil") -> tuple[str, str]:
    """Bring something to the bench; return the address of its card, and its code."""
    made = send(client, "/register/items/new", "/register/items", what=what, complaint="dead", bench="yes")
    found = re.search(r"<code>(\w+)</code>", made.text)
    assert found
    return made.url.path, found[1]


def test_after_a_new_item_the_form_asks_for_the_next_of_its_kind(client: TestClient) -> None:
    page = send(client, "/register/items/new", "/register/items", what="cord|épée", bench="next")
    assert page.url.path == "/register/items/new"
    code = page.url.params["after"]
    assert '<option value="cord|épée" selected>' in page.text
    assert f"<code>{code}</code>" in page.text
    assert client.get(f"/api/register/items/{code}").json()["state"] == "at the bench"
    today = re.search(r'/register/labels\?since=([\d-]+)"', page.text)
    assert today
    assert client.get(f"/register/labels.pdf?since={today[1]}").headers["content-type"] == "application/pdf"


def test_a_case_from_a_card_leads_back_to_it_with_what_it_has_come_to(client: TestClient) -> None:
    address, code = card(client)
    case = send(client, address, f"/register/items/{code}/case", job=address.rpartition("/")[2]).url.path
    assert f'href="{case}"' in client.get(address).text
    send(client, case, f"{case}/acts", mended="left weapon: renew the blade tape")
    ended = send(client, case, f"{case}/ending", ending="put right, not proved")
    assert ended.url.path == address
    assert "put right, not proved" in ended.text
    job = client.get(f"/api/register{address.removeprefix('/register')}").json()
    assert (job["state"], job["lines"]) == ("in hand", []), "nothing is noted before somebody says so"
    assert job["evidence"]["repairs"] == ["renew the blade tape"]
    assert 'name="found" value="weapon' in ended.text
    assert not re.findall(r'name="found" value="[^"]*" checked', ended.text), "it was neither tried nor seen: whoever mends says"
    assert "<option selected>renew the blade tape</option>" in ended.text
    done = send(client, address, address, found=FOUND, usual="yes", comes_to="handed back, next")
    assert done.url.path != address
    assert "<b>handed back</b>" in client.get(address).text


def test_what_was_seen_and_mended_is_filled_in_as_found(client: TestClient) -> None:
    address, code = card(client)
    case = send(client, address, f"/register/items/{code}/case", job=address.rpartition("/")[2]).url.path
    trial = {"examine": ["left weapon blade tape"], "found": "worn"}
    seen = client.post(f"/api{case}/trials", json={"trial": trial, "token": "seen"})
    assert seen.is_success, seen.text
    send(client, case, f"{case}/acts", mended="left weapon: renew the blade tape")
    ended = send(client, case, f"{case}/ending", ending="put right, not proved")
    assert re.findall(r'name="found" value="([^"]*)" checked', ended.text) == [FOUND]


def test_a_case_is_opened_from_the_card_of_its_own_item_alone(client: TestClient) -> None:
    (address, _), (_, other) = card(client), card(client)
    assert send(client, address, f"/register/items/{other}/case", job=address.rpartition("/")[2]).status_code == 422


def test_a_job_that_is_done_is_taken_up_again_only_where_that_is_said(client: TestClient) -> None:
    address, code = card(client)
    assert "<b>done</b>" in send(client, address, address, found=FOUND, comes_to="done").text
    refused = send(client, address, address, comes_to="in hand")
    assert refused.status_code == 422
    assert "is done" in refused.text
    assert "take it up again" in client.get(address).text
    send(client, address, address, comes_to="handed back")
    assert client.get(f"/api/register/items/{code}").json()["state"] == "in use"
    again = send(client, address, address, comes_to="again")
    assert "<b>in hand</b>" in again.text
    assert client.get(f"/api/register/items/{code}").json()["state"] == "at the bench", "the item follows its job"
