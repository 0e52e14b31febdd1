"""The pages of what a register teaches and of a season: looked at, asked otherwise, switched, printed."""

from __future__ import annotations

import io
import re
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

import pytest
from pypdf import PdfReader

from client import FromHere, TestClient
from foible.services.opening import open_cases
from foible.web.application import create_app
from foible.web.settings import Settings
from register_rows import Rows

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

WIRE = "cord B wire at the weapon plug: broken where it leaves the plug"
CLIP = "cord clip bite: come off, or never put on"


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    """Twelve cords with forty jobs this season, two of them bad; three parts in stock, of which one is used up fast."""
    path: Path = tmp_path_factory.mktemp("learned") / "register.db"
    cases = open_cases(f"sqlite:///{path}")
    rows = Rows(cases.store.database, datetime.now(UTC))
    cords = [rows.item("cord", "foil", name=f"<b>cord {n}</b>", price=2000, days=900) for n in range(12)]
    for number in range(40):
        cord = cords[number % 2 if number % 4 else number % 12]
        rows.job(cord, [WIRE if number % 3 else CLIP], days=1 + number, minutes=30, cost=300)
    rows.part("plug pin", 1, 40)
    rows.part("clip", 5, 0)
    with TestClient(FromHere(create_app(cases, Settings(hosts=("testserver",))))) as made:
        yield made
    cases.store.database.dispose()


def test_what_the_register_teaches_is_shown_openly(client: TestClient) -> None:
    page = client.get("/register/learned").text
    assert "× as often as usual" in page
    assert WIRE in page
    assert "<b>cord" not in page
    assert "&lt;b&gt;cord 1&lt;/b&gt;" in page
    told = client.get("/api/register/learned?weapon=foil").json()
    first = next(line for line in told["failures"] if line["name"] == WIRE)
    assert first["low"] < first["times"] < first["high"]
    assert told["counts"] is True
    assert client.get("/register/learned?weapon=lance").status_code == 404


def test_it_is_switched_off_and_a_later_hand_is_told_of_an_earlier_one(client: TestClient) -> None:
    def switched(learns: str, version: str) -> int:
        page = client.get("/register/learned").text
        token = re.search(r'name="csrf" value="([^"]+)"', page)
        assert token
        form = {"csrf": token[1], "version": version, "learns": learns}
        return int(client.post("/register/learned", data=form, follow_redirects=False).status_code)

    assert switched("off", "0") == 303
    assert "does not learn" in client.get("/register/learned").text
    assert switched("on", "0") == 409
    assert switched("on", "1") == 303
    assert client.get("/api/register/learned").json()["counts"] is True
    assert client.post("/register/learned", data={"learns": "off", "version": "2"}).status_code == 403


def test_a_case_is_shown_with_and_without(client: TestClient) -> None:
    opened = client.post("/api/cases", json={"weapon": "foil", "title": "a cord that comes back"})
    page = client.get(f"/register/learned/cases/{opened.json()['id']}").text
    shares = re.search(r"cord B wire at the weapon plug</th><td>(\d+)\D+(\d+)", page)
    assert shares
    assert int(shares[1]) > int(shares[2])
    assert "This very item" not in page
    assert client.get("/register/learned/cases/nobody").status_code == 404


def test_a_case_about_an_item_shows_its_own_history(client: TestClient) -> None:
    name = client.post("/api/cases", json={"weapon": "foil", "title": "t0001: a cord that comes back"}).json()["id"]
    client.put(f"/api/cases/{name}/place", json={"place": "bench", "item": "left cord", "tools": []})
    page = client.get(f"/register/learned/cases/{name}").text
    assert "This very item" in page
    factor = re.search(rf"{re.escape(WIRE)}<br><span class=\"range\">this item</span></th>\s*<td><span>([\d.]+) ×", page)
    assert factor
    assert float(factor[1]) > 1


def test_an_item_has_its_own_history(client: TestClient) -> None:
    page = client.get("/register/learned/items/T0001").text
    assert "against others of its kind" in page
    assert WIRE in page
    assert client.get("/register/learned/items/zzzzz").status_code == 404


def test_a_season_says_what_failed_what_to_order_and_what_to_retire(client: TestClient) -> None:
    since = (datetime.now(UTC) - timedelta(days=20)).date()
    told = client.get(f"/api/register/season?start={since}").json()
    assert told["causes"][0]["name"] == WIRE
    assert told["causes"][-1]["together"] == pytest.approx(1)
    pins = next(order for order in told["orders"] if order["part"]["name"] == "plug pin")
    assert pins["order"] == pins["enough"] - 1 > 30
    worst = told["verdicts"][0]
    assert worst["choice"]["word"] == "retire"
    assert worst["jobs"] > 10
    page = client.get(f"/register/season?start={since}&fencers=40&days=2").text
    assert "retire it" in page
    assert "For 40 fencers over 2 days" in page
    assert "&lt;b&gt;cord" in page
    assert client.get("/api/register/season?level=2").status_code == 422
    assert client.get("/register/season?start=0001-01-01").status_code == 422


def test_the_report_of_a_season_can_be_read(client: TestClient) -> None:
    answer = client.get("/register/season.pdf")
    assert answer.headers["content-type"] == "application/pdf"
    text = "\n".join(page.extract_text() for page in PdfReader(io.BytesIO(answer.content)).pages)
    for head in ("What failed", "Parts to order", "To take along", "Mend or retire", "Care by the calendar"):
        assert head in text
    assert "plug pin" in text


def test_an_empty_register_has_its_pages_too(tmp_path: Path) -> None:
    cases = open_cases(f"sqlite:///{tmp_path / 'empty.db'}")
    with TestClient(FromHere(create_app(cases, Settings(hosts=("testserver",))))) as empty:
        assert "No job has found anything" in empty.get("/register/learned").text
        assert "No job of this season" in empty.get("/register/season").text
        assert empty.get("/register/season.pdf").content.startswith(b"%PDF")
    cases.store.database.dispose()
