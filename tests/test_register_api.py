"""The register for programs: what the pages do, as JSON; two at one thing, a file tried and taken in, and who may."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from argon2 import PasswordHasher

from client import FromHere, TestClient
from foible.records import CaseStore, Database
from foible.services.cases import Cases
from foible.services.reasoning import Reasoning
from foible.services.register.people import People
from foible.services.register.secrets import Secrets
from foible.web import Settings, create_app

if TYPE_CHECKING:
    from collections.abc import Iterator

PAGE = (Path(__file__).parents[1] / "docs" / "json.md").read_text(encoding="utf-8")
WORDS = set(re.findall(r"`(\w+)(?:\[\])?`", PAGE))
PIN, OTHER = "480261", "771904"


class Api:
    """The register's API, as a program asks it."""

    def __init__(self, client: TestClient) -> None:
        self.client = client

    def __call__(self, address: str, status: int = 200, /, **body: Any) -> Any:  # noqa: ANN401 — JSON
        """Return the answer to a body, or to no body at all; every key of it is described in docs/json.md."""
        path = f"/api/register/{address}"
        answer = self.client.post(path, json=body) if body else self.client.get(path)
        assert answer.status_code == status, answer.text
        return answer.json()

    def send(self, address: str, raw: str, status: int, **query: Any) -> Any:  # noqa: ANN401 — JSON
        """Return the answer to a file."""
        answer = self.client.post(f"/api/register/{address}", content=raw.encode(), params=query)
        assert answer.status_code == status, answer.text
        return answer.json()


@pytest.fixture(scope="module")
def api(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Api]:
    """Return the API over an empty register, and take its people's PINs for what they are quickly."""
    store = CaseStore(
        Database(f"sqlite:///{tmp_path_factory.mktemp('api') / 'records.db'}"), clock=lambda: datetime(2026, 11, 28, tzinfo=UTC)
    )
    app = create_app(Cases(Reasoning(), store), Settings(hosts=("testserver",)))
    app.state.people = People(app.state.register, Secrets(PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)))
    with TestClient(FromHere(app)) as client:
        yield Api(client)
    store.database.dispose()


def described(*values: dict[str, Any]) -> None:
    keys = {key for value in values for key in value}
    assert keys <= WORDS, keys - WORDS


def test_an_item_is_changed_lent_given_back_and_measured(api: Api) -> None:
    item = api("items", 201, kind="weapon", weapon="foil", name="practice foil", made_by={"blade": "Lanternfield"}, token="it-1")
    at = f"items/{item['code']}"
    changed = api(at, name="practice foil 3", version=item["version"])
    assert (changed["name"], changed["made_by"]) == ("practice foil 3", {"blade": "Lanternfield"}), "what is left out stays"
    person = api("people", 201, name="Rowan Kestrel", token="p-01")
    loan = api(f"{at}/loan", 201, to_id=person["id"], until="2026-12-05", version=changed["version"], token="loan-1")
    assert api(f"{at}/loan", 201, to_id=person["id"], version=changed["version"], token="loan-1") == loan, "sent twice"
    assert api(f"{at}/loan", 422, to_id=person["id"], version=9, token="loan-2")["error"]["seen"].endswith("is lent")
    assert api(f"{at}/back", back_state="tip sticks", failed=True)["state"] == "failed"
    reading = api(f"{at}/readings", 201, quantity="the weapon's circuit, contact to contact", value=1.25, token="r-01")
    assert (reading["passed"], reading["unit"]) == (True, "Ω")
    whole = api(at)
    assert whole["loans"][0]["back_state"] == "tip sticks"
    described(whole, whole["loans"][0], whole["readings"][0])
    unknown = api(f"{at}/loan", 422, to_id=4711, version=whole["version"], token="loan-3")["error"]
    assert unknown["seen"] == "there is no person called “4711”"
    assert api(at, 422, owner_id=4711, version=whole["version"])["error"] == unknown
    assert api(at, 422, nmae="practice foil", version=whole["version"])["error"]["seen"].startswith("body.nmae: Extra"), "a slip"
    assert api("items/zzzzz", 404, name="nothing", version=1)["error"]["status"] == 404


def test_of_two_who_change_one_thing_both_are_told_to_the_second_and_neither_is_lost(api: Api) -> None:
    item = api("items", 201, kind="cord", weapon="foil", name="blue", token="it-2")
    at, seen = f"items/{item['code']}", item["version"]
    api(at, name="blue tape", check_due="2026-12-01", version=seen)
    clash = api(at, 409, name="red tape", check_due="2027-01-01", version=seen)["error"]["clash"]
    assert clash["now"] == {"name": "blue tape", "check_due": "2026-12-01"}
    assert clash["wanted"] == {"name": "red tape", "check_due": "2027-01-01"}
    assert api(at, name="red tape", version=clash["version"])["name"] == "red tape"
    part = api("parts", 201, name="plug pin", count=4, least=10, token="pt-1")
    api(f"parts/{part['code']}/in", count=3, token="in-1")
    clash = api(f"parts/{part['code']}/count", 409, count=4, version=part["version"], token="ct-1")["error"]["clash"]
    assert (clash["now"], clash["wanted"]) == ({"count": 7}, {"count": 4})


def test_a_job_and_its_parts(api: Api) -> None:
    part = api("parts", 201, name="pressure spring", count=5, least=6, price=120, token="pt-2")
    item = api("items", 201, kind="weapon", weapon="foil", token="it-3")
    opened = api("jobs", 201, item=item["code"], complaint="white at every hit", token="jb-1")
    assert api("queue")[0]["item"]["code"] == item["code"]
    at = f"jobs/{opened['id']}"
    taken = api.client.post("/api/register/queue/next").json()
    assert (taken["id"], taken["state"]) == (opened["id"], "in hand")
    found = "weapon pressure spring: weak"
    done = api(at, found=[found], parts={part["code"]: 2}, state="done", version=taken["version"], token="wk-1")
    line = next(each for each in done["lines"] if each["kind"] == "part")
    assert api(f"parts/{part['code']}")["moves"][0]["change"] == -2
    assert [(each["order"], each["cost"]) for each in api("orders") if each["code"] == part["code"]] == [(3, 360)]
    back = api.client.post(f"/api/register/{at}/lines/{line['number']}/back").json()
    assert next(each for each in back["lines"] if each["id"] == line["id"])["taken_back"]
    counted = api(f"parts/{part['code']}")
    assert counted["count"] == 5
    assert api(f"parts/{part['code']}", bin="B4", version=counted["version"])["bin"] == "B4"
    described(back, line, counted, counted["moves"][0])
    assert api(at, 422, state="finished", version=done["version"], token="wk-2")["error"]["remedy"]


def test_a_file_is_tried_then_taken_in_whole_or_not_at_all(api: Api) -> None:
    good, bad = "Thing;Weapon;Called\ncord;foil;green\n", "Thing;Weapon;Called\ncord;foil;grey\nwheel;foil;\n"
    query = {"column": ["Thing=kind", "Called=name"]}
    tried = api.send("import/trial", bad, 200, **query)
    described(tried, tried["tables"][0], tried["problems"][0])
    assert tried["tables"][0]["columns"] == {"Thing": "kind", "Weapon": "weapon", "Called": "name"}
    assert [(each["table"], each["row"], each["column"]) for each in tried["problems"]] == [("items", 3, "kind")]
    refused = api.send("import", bad, 422, **query)["error"]
    assert refused["seen"] == "1 problem; nothing was saved"
    assert refused["problems"][0]["where"] == "items, row 3, kind"
    assert not api("items?words=grey")
    assert api.send("import", good, 201, **query)["adds"] == {"items": 1}
    assert api.send("import", good, 422, column="Thing")["error"]["remedy"] == "write HEADING=COLUMN"
    everything = api("export?contacts=false")
    assert "green" in [row.get("name") for row in everything["items"]]
    assert {"jobs", "lines", "parts", "loans", "people"} <= everything.keys()


def test_people_sign_in_manage_and_are_erased(api: Api) -> None:
    """Last: from here on whoever changes something has to sign in."""
    mira = api("people", 201, name="Mira Ashgrove", login="mira", role="manage", secret=PIN, token="p-02")
    ivo = api(
        "people", 201, name="Ivo Lark", contact="ivo@lanternfield.example", login="ivo", role="work", secret=OTHER, token="p-03"
    )
    described(mira)
    api("sign-in", login="ivo", secret=OTHER)
    assert "login" not in api("people?words=ivo")[0]
    assert api("people?words=ivo")[0]["contact"] == "ivo@lanternfield.example"
    assert api(f"people/{ivo['id']}/erase", 403, for_good=True)
    assert api("items", 403, kind="cord", weapon="foil", price=100, token="it-9"), "a price takes a manager"
    assert api("sign-in", 403, login="mira", secret="000000")["error"]["status"] == 403
    api("sign-in", login="mira", secret=PIN)
    assert api(f"people/{ivo['id']}", club="Ferry Lane", version=ivo["version"])["club"] == "Ferry Lane"
    clash = api(f"people/{ivo['id']}", 409, club="Millrace", secret="613572", version=ivo["version"])["error"]["clash"]
    assert (clash["now"], clash["wanted"]) == ({"club": "Ferry Lane"}, {"club": "Millrace"}), "a secret is never told"
    assert {each["did"] for each in api(f"people/{ivo['id']}")["trail"]} >= {"made", "changed"}
    assert api(f"people/{ivo['id']}/erase", 422, for_good=False)
    assert api(f"people/{ivo['id']}/erase", for_good=True) == []
    assert not api("people?words=ivo")
    described(api("trail")[0])
    api.client.post("/api/register/sign-out")
    assert api("people", 403, name="Nobody", token="p-04")["error"]["seen"] == "nobody has signed in on this device"
