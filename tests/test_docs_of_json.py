"""docs/json.md describes every address of the API, and every key that a case has."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from fastapi.routing import APIRoute

from client import FromHere, TestClient
from foible.records import CaseStore, Database
from foible.services.cases import Cases
from foible.web import Settings, api, create_app
from foible.web.application import CONTROL, REGISTER
from usual import REASONING

if TYPE_CHECKING:
    from collections.abc import Iterator

PAGE = (Path(__file__).parents[1] / "docs" / "json.md").read_text(encoding="utf-8")
_, API = PAGE.split("## The API")


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    """Yield a client from this machine."""
    url = f"sqlite:///{tmp_path_factory.mktemp('json') / 'records.db'}"
    store = CaseStore(Database(url), clock=lambda: datetime(2026, 10, 3, tzinfo=UTC))
    with TestClient(FromHere(create_app(Cases(REASONING, store), Settings())), base_url="http://localhost") as made:
        yield made
    store.database.dispose()


def test_every_address_of_the_api_is_described() -> None:
    there = {
        f"{method} {route.path}"
        for router in (api.router, *(module.router for module in (*REGISTER, *CONTROL)))
        for route in router.routes
        if isinstance(route, APIRoute) and route.path.startswith("/api")
        for method in route.methods or ()
    }
    described = re.findall(r"^\| `([A-Z]+ /api/\S+)`", API, re.MULTILINE)
    assert sorted(described) == sorted(there)


def test_every_key_of_a_case_is_described(client: TestClient) -> None:
    words = set(re.findall(r"`(\w+)(?:\[\])?`", PAGE))
    opened = client.post("/api/cases", json={"weapon": "foil", "title": "A white lamp (invented)"}).json()
    skipped = client.post(f"/api/cases/{opened['id']}/skips", json={"say": opened["diagnosis"]["next"][0]["say"], "token": "t"})
    case = skipped.json()
    (head,) = client.get("/api/cases").json()
    keys = {*case, *head, *case["entries"][0], *case["diagnosis"]}
    assert keys <= words, keys - words


@pytest.mark.parametrize(
    ("method", "address", "body", "status"),
    [
        ("GET", "/api/cases/nobody", None, 404),
        ("GET", "/api/weapons/rapier/trials", None, 404),
        ("GET", "/api/cases?weapon=rapier", None, 422),
        ("POST", "/api/diagnoses", {"weapon": "rapier", "trials": []}, 422),
    ],
)
def test_a_name_that_there_is_not_has_the_status_and_shape_that_the_page_tells(
    client: TestClient, method: str, address: str, body: dict[str, object] | None, status: int
) -> None:
    answer = client.request(method, address, json=body)
    assert answer.status_code == status
    assert set(answer.json()["error"]) == {"status", "seen", "remedy", "problems"}
