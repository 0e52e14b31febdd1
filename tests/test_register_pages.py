"""The register's pages, as an armourer uses them on a club evening: every page, every form, and two at one card."""

from __future__ import annotations

import re
from html import escape
from typing import TYPE_CHECKING

import pytest

from client import FromHere, TestClient, hidden, send
from foible.kit import load_setup
from foible.records import PersonRow
from foible.records.people import NewPerson
from foible.records.trail import NOBODY
from foible.services.opening import open_cases
from foible.web.application import create_app
from foible.web.settings import Settings

if TYPE_CHECKING:
    from collections.abc import Iterator

    from httpx import Response


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    cases = open_cases(f"sqlite:///{tmp_path_factory.mktemp('register') / 'records.db'}")
    app = create_app(cases, Settings(secret="a", hosts=("testserver",)))
    with TestClient(FromHere(app)) as made:
        yield made


def code_of(page: Response) -> str:
    assert page.status_code == 200, page.text
    found = re.search(r"<code>(\w+)</code>", page.text)
    assert found
    return found[1]


def test_a_foil_goes_from_the_box_to_mended_and_back(client: TestClient) -> None:
    card = send(
        client, "/register/items/new", "/register/items", what="weapon|foil", name="club 7", complaint="white", bench="yes"
    )
    code, job = code_of(card), card.url.path
    assert job.startswith("/register/jobs/")
    assert code in client.get("/register").text
    assert client.get("/register/queue", params={"kind": "weapon", "owner": "club"}).text.count(code) == 1
    failure = "weapon pressure spring: weak or set"
    options = re.findall(r"<option>(weapon [^<]*)", card.text)
    failure = failure if failure in options else options[0].replace("&#39;", "'")
    fields = {"found": failure, "usual": "yes", "minutes": "12,5", "proof": "lifts the weight", "comes_to": "done"}
    done = send(client, job, job, measure="the weapon's circuit, contact to contact|", value="1.1", **fields)
    assert done.status_code == 200
    for words in ("<b>done</b>", "12.5 min", "within the limit (m.5.4.a)", "lifts the weight", "<b>found</b>", "<b>repair</b>"):
        assert words in done.text, words
    back = send(client, job, job, comes_to="handed back")
    assert "handed back" in back.text
    assert "In use" in client.get(f"/register/items/{code}").text
    assert code in client.get("/register/found", params={"words": failure.split(":")[0]}).text


def test_a_whole_code_or_a_label_leads_to_the_item(client: TestClient) -> None:
    code = code_of(send(client, "/register/items/new", "/register/items", what="cord|épée", name="blue tape"))
    assert client.get("/register", params={"words": f" {code.upper()} "}).url.path == f"/register/items/{code}"
    assert client.get(f"/i/{code}").url.path == f"/register/items/{code}"
    assert client.get("/i/c0000").status_code == 404
    found = client.get("/register/found", params={"words": "blu epee"}).text
    assert code in found
    assert "<html" not in found
    assert "Nothing is found" in client.get("/register/found", params={"words": "<script>zz"}).text


def test_two_at_one_item_see_both_and_lose_neither(client: TestClient) -> None:
    code = code_of(send(client, "/register/items/new", "/register/items", what="reel|", name="reel 1"))
    page = client.get(f"/register/items/{code}/edit").text
    seen = {name: hidden(page, name) for name in ("csrf", "token", "version")}
    client.post(f"/register/items/{code}", data=seen | {"name": "left reel", "state": "in use"})
    clash = client.post(f"/register/items/{code}", data=seen | {"name": "reel by the door", "price": "80", "state": "in use"})
    assert clash.status_code == 409
    assert "left reel" in clash.text
    assert 'value="reel by the door"' in clash.text
    assert hidden(clash.text, "version") != seen["version"]
    again = {name: hidden(clash.text, name) for name in ("csrf", "version")} | {"name": "reel by the door", "state": "in use"}
    assert "reel by the door" in client.post(f"/register/items/{code}", data=again).text


def test_two_at_one_job_card_see_both(client: TestClient) -> None:
    card = send(client, "/register/items/new", "/register/items", what="floor cable|", bench="yes")
    seen = {name: hidden(card.text, name) for name in ("csrf", "token", "version")}
    send(client, card.url.path, card.url.path, minutes="5")
    clash = client.post(card.url.path, data=seen | {"minutes": "9", "note": "mine"})
    assert clash.status_code == 409
    assert 'value="mine"' in clash.text


def test_creep_is_shown_with_the_date_and_how_sure_it_is(client: TestClient) -> None:
    code = code_of(send(client, "/register/items/new", "/register/items", what="cord|foil"))
    for value in ("0.4", "0.5", "0.55", "0.7"):
        page = send(
            client, f"/register/items/{code}", f"/register/items/{code}/readings", what="one wire of a body cord|B", value=value
        )
    assert page.status_code == 200
    assert "line B" in page.text
    assert 'class="rg-plot"' in page.text
    assert "its limit" in page.text
    wrong = send(
        client, f"/register/items/{code}", f"/register/items/{code}/readings", what="one wire of a body cord|B", value="x"
    )
    assert (wrong.status_code, "rite a number" in wrong.text) == (422, True)


def test_parts_are_registered_used_counted_and_clash(client: TestClient) -> None:
    part = send(client, "/register/parts", "/register/parts", name="wires", price="1.20", least="3", count="4", bin="A3")
    address = part.url.path
    assert "<b>4</b> in A3" in part.text
    assert "<b>9</b>" in send(client, address, f"{address}/in", count="5").text
    page = client.get(address).text
    stale = {name: hidden(page, name) for name in ("csrf", "version")}
    assert "<b>2</b>" in send(client, address, f"{address}/count", count="2").text
    clash = client.post(f"{address}/count", data=stale | {"count": "8", "token": "other-one"})
    assert (clash.status_code, 'value="8"' in clash.text) == (409, True)
    assert "wires" in client.get("/register/parts", params={"short": "yes"}).text.lower()
    assert client.get(f"/i/{address.rsplit('/', 1)[1]}").url.path == address


def test_an_item_is_lent_and_given_back(client: TestClient) -> None:
    def lender(session: object) -> None:
        session.add(PersonRow(name="Quill (invented)", version=1, changed=client.app.app.state.register.clock()))  # type: ignore[attr-defined]

    client.app.app.state.register.database.write(lender, what="a person")  # type: ignore[attr-defined]
    code = code_of(send(client, "/register/items/new", "/register/items", what="glove|"))
    lent = send(client, f"/register/items/{code}", f"/register/items/{code}/loan", to="1", until="2020-01-02")
    assert "to Quill (invented) until 2 Jan 2020" in lent.text
    assert "due back on 2 Jan 2020" in client.get("/register").text
    back = send(client, f"/register/items/{code}", f"/register/items/{code}/back", found="torn", failed="yes")
    assert "Failed" in back.text
    assert "torn" in back.text


def test_an_item_goes_to_a_case_of_its_own_and_back_to_the_workshop_with_the_evidence(client: TestClient) -> None:
    code = code_of(send(client, "/register/items/new", "/register/items", what="cord|foil", fitted="socket=bayonet"))
    case = send(client, f"/register/items/{code}", f"/register/items/{code}/case")
    assert (case.status_code, code in case.text) == (200, True)
    kept = client.app.app.state.cases.store.case(case.url.path.rsplit("/", 1)[1])  # type: ignore[attr-defined]
    assert (kept.item, kept.fitted) == ("left cord", {"left": {"socket": "bayonet"}}), "it is reasoned with its own fittings"
    page = f"/register/from-case/{kept.id}"
    assert f'value="{code}" checked' in client.get(page).text, "the case knows which item it is about"
    card = send(client, page, page, thing="left cord", code=code)
    assert f"From case {kept.id}" in card.text
    assert code_of(card) == code
    reel = code_of(send(client, "/register/items/new", "/register/items", what="reel|"))
    assert send(client, page, page, thing="left cord", typed=reel).status_code == 422, "a reel is no cord"
    new = send(client, page, page, thing="left cord")
    assert code_of(new) != code, "one that was not registered yet is now"
    assert "socket bayonet" in client.get(f"/register/items/{code_of(new)}").text


def test_what_is_not_there_is_said_to_be_so(client: TestClient) -> None:
    for address in ("/register/items/c0000", "/register/jobs/999999", "/register/parts/s0000", "/register/from-case/nocase"):
        assert client.get(address).status_code == 404, address
    assert client.post("/register/items", data={"what": "reel|"}).status_code == 403, "a form without the token of its session"


def test_the_api_registers_opens_records_and_tells_of_a_clash(client: TestClient) -> None:
    item = client.post("/api/register/items", json={"kind": "body cord", "weapon": "epee", "token": "api-1"}).json()
    assert (item["kind"], item["weapon"], item["version"]) == ("cord", "épée", 1)
    job = client.post("/api/register/jobs", json={"item": item["code"], "complaint": "dead", "token": "api-2"}).json()
    assert job["id"] in [each["id"] for each in client.get("/api/register/queue", params={"kind": "cord"}).json()]
    wire = {"quantity": "one wire of a body cord", "line": "A", "value": 0.3}
    work = {"version": job["version"], "measured": [wire], "minutes": 4, "sound": True, "state": "done", "token": "api-3"}
    done = client.post(f"/api/register/jobs/{job['id']}", json=work).json()
    assert (done["state"], done["sound"], done["minutes"]) == ("done", True, 4)
    clash = client.post(f"/api/register/jobs/{job['id']}", json=work | {"minutes": 9, "token": "api-4"})
    assert (clash.status_code, clash.json()["error"]["status"]) == (409, 409)
    whole = client.get(f"/api/register/items/{item['code']}").json()
    assert [each["value"] for each in whole["readings"]] == [0.3]
    assert client.get("/api/register/items/c0000").status_code == 404


def test_what_can_hurt_stands_on_the_card_before_anything_is_done(client: TestClient) -> None:
    """A broken blade: the cautions of the repair that is in the kit (`kit/data/repairs`), as on the page of a suspect."""
    card = send(client, "/register/items/new", "/register/items", what="weapon|épée", complaint="snapped", bench="yes")
    job = card.url.path
    assert 'class="cautions"' not in card.text, "nothing is known of what is to be done"
    found = send(client, job, job, found="weapon blade: broken")
    cautions = load_setup("épée").repairs["exchange the blade"].cautions
    assert cautions
    assert all(escape(caution) in found.text for caution in cautions)


def test_an_item_of_somebody_who_was_erased_does_not_become_the_club_s_by_a_change(client: TestClient) -> None:
    people = client.app.app.state.people  # type: ignore[attr-defined]
    owner = people.add(NewPerson("Odile Fennimore"), by=NOBODY)
    code = code_of(send(client, "/register/items/new", "/register/items", what="cord|foil", owner=str(owner.id)))
    people.erase(owner.id, by=NOBODY)
    form = client.get(f"/register/items/{code}/edit").text
    chosen = re.search(r'<select id="owner".*?<option value="(\d+)" selected', form, re.DOTALL)
    assert chosen
    assert chosen[1] == str(owner.id)


def test_a_search_for_common_words_says_among_how_many_it_was_made(client: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("first", "second", "third"):
        send(client, "/register/items/new", "/register/items", what="test box|", name=name)
    assert "common words" not in client.get("/register/found", params={"words": "test box"}).text
    monkeypatch.setattr("foible.records.register.words.LATEST", 2)
    monkeypatch.setattr("foible.records.register.words.FEW", 1)
    assert "common words" in client.get("/register/found", params={"words": "test box"}).text
    assert "common words" not in client.get("/register/found", params={"words": "nosuchword"}).text
