"""The JSON API: requests made up from its own OpenAPI description, and what a program relies on."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any
from uuid import uuid4

import pytest
import schemathesis
from hypothesis import HealthCheck, settings
from schemathesis.config import SchemathesisConfig
from schemathesis.specs.openapi.checks import allow_header_conformance, negative_data_rejection, positive_data_acceptance

from client import FromHere, TestClient
from foible.kit import weapon_names
from foible.records import CaseStore, Database
from foible.services.cases import Cases
from foible.services.photos import Album
from foible.web import Settings, create_app
from usual import REASONING

if TYPE_CHECKING:
    from collections.abc import Iterator


PUBLISHED = Path(__file__).parent.parent / "examples" / "published" / "foil-valid-white-opponent-cord-a-line.toml"
SAYS = "It goes white, and I never hit anything"
EXAMPLES = 15
"""Made-up requests of each kind to each operation."""
NOT_CHECKED = [
    positive_data_acceptance,  # a name of the right shape is refused where the kit has no such thing
    allow_header_conformance,  # the framework names the methods of one route where several share an address
]


FOLDER = TemporaryDirectory()
STORE = CaseStore(Database(f"sqlite:///{FOLDER.name}/records.db"), clock=lambda: datetime.now(UTC))
CASES = Cases(REASONING, STORE, Album(Path(FOLDER.name) / "photos"))
APP = FromHere(create_app(CASES, Settings(hosts=("testserver",))))
"""Here, not in a fixture: the operations are collected from its description."""


@pytest.fixture(scope="module", autouse=True)
def _cleared_away() -> Iterator[None]:
    yield
    STORE.database.dispose()
    FOLDER.cleanup()


@pytest.fixture(scope="module")
def client() -> Iterator[TestClient]:
    with TestClient(APP) as made:
        yield made


def opened(client: TestClient, **more: object) -> dict[str, Any]:
    """Open a case of the demo's complaint."""
    answer = client.post("/api/cases", json={"weapon": "foil", "complaint": SAYS, "side": "left", **more})
    assert answer.status_code == 201
    body: dict[str, Any] = answer.json()
    return body


# --- made-up requests -------------------------------------------------------------------------------------------------


@schemathesis.serializer("application/toml")
def sent(_: object, value: object) -> bytes:
    """Return the body of a request that sends a case file itself."""
    return str(value).encode(errors="replace")


DESCRIPTION = "/api/openapi.json"
ONLY_SENSE = SchemathesisConfig.from_dict({"generation": {"mode": "positive"}, "phases": {"coverage": {"enabled": False}}})
"""Makes up requests that the description allows, and no others; edges of lengths say nothing where names are put in."""
anything = schemathesis.openapi.from_asgi(DESCRIPTION, APP)
sense = schemathesis.openapi.from_asgi(DESCRIPTION, APP, config=ONLY_SENSE)
bounded = settings(max_examples=EXAMPLES, derandomize=True, deadline=None, suppress_health_check=list(HealthCheck))


@pytest.mark.slow
@anything.parametrize()
@bounded
def test_every_answer_is_one_that_the_description_names(case: schemathesis.Case[Any]) -> None:
    case.call_and_validate(excluded_checks=NOT_CHECKED)


def known_things(client: TestClient) -> dict[str, Any]:
    """Return values that the kit and the records have, by the names of fields."""
    return {
        "name": opened(client)["id"],
        "weapon": "foil",
        "number": 1,
        "say": "leave the whole strip at rest",
        "failure": ["left cord B wire, middle: broken in the middle"],
        "complaint": SAYS,
        "report": ["left white"],
        "item": "left cord",
        "tools": ["spare", "meter"],
        "facts": ["no metal piste"],
        "known_good": ["right cord"],
        "exchanged": ["right cord"],
        "mended": ["left cord: push the plug home"],
        "trials": [{"saw": "left white"}],
        "trial": {"press": "left", "saw": "left white"},
        "ending": "no fault found",
        "title": "White",
        "piste": "3",
        "fencer": "N. N. (invented)",
        "passed": True,
        "token": uuid4().hex,
        "fitted": {"left": {"socket": "bayonet"}},
        "start": "2026-10-01",
        "since": "2026-10-03",
        "until": "2026-10-03",
        "zone": "Europe/Paris",
    }


@pytest.mark.slow
@sense.parametrize()
@bounded
def test_every_answer_about_things_that_there_are_is_one_that_the_description_names(
    case: schemathesis.Case[Any], client: TestClient
) -> None:
    """Names are put in that the kit and the records have, so that requests come as far as the reasoning."""
    known = known_things(client)
    if "/photos" in case.path:
        photo = (Path(__file__).parents[1] / "docs" / "pictures" / "browser" / "case-phone.png").read_bytes()
        client.post(f"/api/cases/{known['name']}/photos?token=photo", content=photo, headers={"Content-Type": "image/png"})
        known["number"] = 2  # behind the complaint
    if case.path.endswith("/proof"):
        act = {"exchanged": ["left cord"], "token": "act"}
        known["line"] = client.post(f"/api/cases/{known['name']}/acts", json=act).json()["proof"]["lines"][0]["say"]
    for given in (case.path_parameters, case.query, case.body):
        if isinstance(given, dict):
            given.update({key: known[key] for key in given if key in known})
            if case.path.endswith("/acts"):
                given.setdefault("exchanged", known["exchanged"])
    if case.media_type == "application/toml":
        case.body = PUBLISHED.read_text(encoding="utf-8")
    not_checked = [*NOT_CHECKED]
    if (case.media_type or "").startswith("image/"):
        case.body = photo
        not_checked.append(negative_data_rejection)  # it takes bytes for something that no description allows
    answer = case.call_and_validate(excluded_checks=not_checked)
    assert answer.status_code < 300, answer.text


# --- errors -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("method", "path", "body", "status"),
    [
        ("GET", "/api/nothing-here", None, 404),
        ("GET", "/api/cases/nosuch", None, 404),
        ("POST", "/api/cases/nosuch/answers", b'{"say": "x", "report": ["nothing"], "token": "1"}', 404),
        ("GET", "/api/weapons/rapier/trials", None, 404),
        ("GET", "/api/weapons/rapier/complaints", None, 404),
        ("GET", "/api/weapons/rapier/lamps?say=x", None, 404),
        ("PATCH", "/api/cases", None, 405),
        ("GET", "/api/diagnoses", None, 405),
        ("POST", "/api/cases", b'{"weapon": "lance"}', 422),
        ("POST", "/api/cases", b'{"weapon": "foil", "colour": "red"}', 422),
        ("POST", "/api/cases", b"not JSON", 422),
        ("POST", "/api/diagnoses", b'{"trials": [{"saw": "left purple"}]}', 422),
        ("GET", "/api/cases/nosuch?top=0", None, 422),
        ("POST", "/api/cases", b"x" * 70_000, 413),
    ],
)
def test_every_error_has_the_one_shape(method: str, path: str, body: bytes | None, status: int, client: TestClient) -> None:
    answer = client.request(method, path, content=body, headers={"Content-Type": "application/json"})
    assert answer.status_code == status
    assert answer.headers["content-type"] == "application/json"
    assert answer.json().keys() == {"error"}
    error = answer.json()["error"]
    assert error.keys() == {"status", "seen", "remedy", "problems"}
    assert error["status"] == status
    assert error["seen"]
    assert error["remedy"]
    assert all(problem.keys() == {"where", "seen", "remedy"} for problem in error["problems"])


@pytest.mark.parametrize(
    ("method", "path", "body", "status"),
    [
        ("GET", "/new/rapier", None, 404),
        ("POST", "/new/rapier", None, 404),
        ("GET", "/card/rapier", None, 404),
        ("GET", "/what-if/rapier", None, 404),
        ("GET", "/api/weapons/rapier/trials", None, 404),
        ("POST", "/api/cases", {"weapon": "rapier"}, 422),
        ("POST", "/api/cases", {"weapon": "rapier", "complaint": SAYS, "side": "left"}, 422),
        ("POST", "/api/diagnoses", {"weapon": "rapier", "trials": []}, 422),
    ],
)
def test_a_weapon_that_there_is_not_is_refused_with_those_there_are(
    method: str, path: str, body: dict[str, object] | None, status: int, client: TestClient
) -> None:
    if method == "POST" and body is None:
        form = client.get("/new/foil").text
        csrf = form.split('name="csrf" value="')[1].split('"')[0]
        answer = client.post(path, data={"csrf": csrf, "title": "No hits"}, headers={"Origin": "http://testserver"})
    else:
        answer = client.request(method, path, json=body)
    assert answer.status_code == status
    assert "rapier" in answer.text
    assert all(name in answer.text for name in weapon_names())


@pytest.mark.parametrize("part", ["suspects/left grommet", "items/left grommet"])
def test_a_part_of_a_case_that_there_is_not_is_an_address_that_leads_nowhere(part: str, client: TestClient) -> None:
    case = client.post("/api/cases", json={"weapon": "foil", "complaint": SAYS, "side": "left"}).json()
    answer = client.get(f"/cases/{case['id']}/{part}")
    assert answer.status_code == 404
    assert "left grommet" in answer.text


@pytest.mark.parametrize("body", [b"\xff", b"{", b"[]", b"null", b'{"weapon": "\xff"}', b""])
def test_a_body_that_cannot_be_read_is_refused_as_the_description_says(body: bytes, client: TestClient) -> None:
    answer = client.post("/api/cases", content=body, headers={"Content-Type": "application/json"})
    assert answer.status_code in {400, 422}
    assert str(answer.status_code) in client.get(DESCRIPTION).json()["paths"]["/api/cases"]["post"]["responses"]


def test_all_that_is_wrong_with_a_trial_is_told_at_once(client: TestClient) -> None:
    trial = {"press": "middle", "on": "the moon", "saw": "left purple"}
    answer = client.post(f"/api/cases/{opened(client)['id']}/trials", json={"trial": trial, "token": "1"})
    assert answer.status_code == 422
    told = " ".join(problem["seen"] for problem in answer.json()["error"]["problems"])
    assert all(wrong in told for wrong in ("middle", "the moon", "purple"))


# --- cases ------------------------------------------------------------------------------------------------------------


def test_an_answer_is_noted_once_for_each_token(client: TestClient) -> None:
    case = opened(client)
    answer = {"say": case["diagnosis"]["next"][0]["say"], "report": ["left white"]}
    told = [client.post(f"/api/cases/{case['id']}/answers", json={**answer, "token": token}) for token in ("a", "a", "b")]
    assert [each.status_code for each in told] == [200, 200, 200]
    assert [len(each.json()["entries"]) for each in told] == [2, 2, 3]
    assert [each.json()["version"] for each in told] == [2, 2, 3]
    assert told[0].json()["diagnosis"] == told[1].json()["diagnosis"]


def test_what_is_taken_back_stays_in_the_record_and_counts_no_more(client: TestClient) -> None:
    case = opened(client)
    path = f"/api/cases/{case['id']}"
    say = case["diagnosis"]["next"][0]["say"]
    answered = client.post(f"{path}/answers", json={"say": say, "report": ["nothing"], "token": "a"}).json()
    assert answered["diagnosis"]["suspects"] != case["diagnosis"]["suspects"]
    back = client.delete(f"{path}/entries/2").json()
    assert [entry["taken_back"] for entry in back["entries"]] == [False, True]
    assert back["entries"][1]["say"] == say
    assert back["diagnosis"]["suspects"] == case["diagnosis"]["suspects"]
    assert client.delete(f"{path}/entries/2").json()["version"] == back["version"]  # once is enough
    assert client.delete(f"{path}/entries/3").status_code == 404


def test_what_was_exchanged_is_proved_by_what_failed_and_then_done(client: TestClient) -> None:
    """A steady white, and quiet as soon as the foil's plug is bridged: the foil. Exchanged, it is to be quiet at rest."""
    path = f"/api/cases/{opened(client)['id']}"
    for number, trial in enumerate(({"saw": ["left white"]}, {"bridged": ["left weapon plug B-C"], "saw": ["nothing"]})):
        case = client.post(f"{path}/trials", json={"trial": trial, "token": f"t{number}"}).json()
    assert case["diagnosis"]["act"]["on"] == "left weapon"
    assert not case["diagnosis"]["act"]["done"]
    acted = client.post(f"{path}/acts", json={"exchanged": ["left weapon"], "token": "a"}).json()
    proof = acted["diagnosis"]["next"][0]
    assert proof["proves"]
    assert not acted["diagnosis"]["act"]["now"]
    assert acted["diagnosis"]["suspects"] == case["diagnosis"]["suspects"]  # nothing was learnt yet
    done = client.post(f"{path}/answers", json={"say": proof["say"], "report": ["nothing"], "token": "b"}).json()
    assert done["entries"][-1]["trial"]["swapped"] == ["left weapon"]
    assert done["diagnosis"]["act"]["done"]
    assert "fence on" in done["diagnosis"]["act"]["words"]
    refused = client.post(f"{path}/acts", json={"exchanged": ["left moon"], "token": "c"})
    assert refused.status_code == 422
    assert client.post(f"{path}/acts", json={"token": "d"}).status_code == 422


def test_a_skipped_trial_is_not_offered_again(client: TestClient) -> None:
    case = opened(client)
    say = case["diagnosis"]["next"][0]["say"]
    told = client.post(f"/api/cases/{case['id']}/skips", json={"say": say, "token": "a"}).json()
    assert say not in [trial["say"] for trial in told["diagnosis"]["next"]]
    assert told["diagnosis"]["suspects"] == case["diagnosis"]["suspects"]


def test_a_case_on_the_bench_is_offered_trials_of_its_item(client: TestClient) -> None:
    path = f"/api/cases/{opened(client)['id']}"
    moved = client.put(f"{path}/place", json={"place": "bench", "item": "left weapon", "tools": ["meter"]})
    assert moved.json()["diagnosis"]["place"] == "bench"
    assert {suspect["item"] for suspect in moved.json()["diagnosis"]["suspects"]} == {"left weapon"}
    assert client.get(path).json()["diagnosis"] == moved.json()["diagnosis"]


def test_cases_are_listed_with_the_latest_changed_first(client: TestClient) -> None:
    ids = [opened(client)["id"] for _ in range(2)]
    assert [case["id"] for case in client.get("/api/cases").json()[:2]] == ids[::-1]


# --- reasoning without keeping ----------------------------------------------------------------------------------------


def test_a_published_case_has_the_same_suspects_as_from_the_reasoning(client: TestClient) -> None:
    """The case names its own source; what is expected of it stands in the file."""
    case = CASES.reasoning.case(PUBLISHED)
    trials = [
        {"press": "left", "on": "right lamé front", "saw": "left white"},
        {"press": "left", "on": "right cord clip", "saw": "left white"},
        {"press": "left", "on": "right cord A pin of the reel plug", "saw": ["left coloured"]},
    ]
    before = client.get("/api/cases").json()
    told = client.post("/api/diagnoses", json={"weapon": "foil", "trials": trials}, params={"top": 10})
    assert told.status_code == 200
    expected = CASES.reasoning.diagnose(case)
    assert [suspect["part"] for suspect in told.json()["suspects"]] == [s.part for s in expected.finding.suspects[:10]]
    assert [suspect["probability"] for suspect in told.json()["suspects"]] == pytest.approx(
        [suspect.probability for suspect in expected.finding.suspects[:10]], abs=1e-5
    )
    assert case.expected
    assert told.json()["suspects"][0]["part"] in case.expected.parts
    assert [trial["say"] for trial in told.json()["next"]] == [advice.idea.say for advice in expected.advice[:10]]
    assert client.get("/api/cases").json() == before


def test_an_open_b_line_lights_white_at_rest_and_a_sound_strip_stays_dark(client: TestClient) -> None:
    """At foil the loop of lines B and C is closed at rest, and its opening is a hit.

    FIE Material Rules (Book 3), Annex B: the white lamp shows a hit that is not valid. The break is a clean one, as breaks
    mostly are.
    """
    rest = {"say": "leave the whole strip at rest"}
    sound = client.get("/api/weapons/foil/lamps", params=rest).json()
    broken = client.get(
        "/api/weapons/foil/lamps", params={**rest, "failure": "left cord B wire, middle: broken in the middle"}
    ).json()
    assert set(sound["left"]["lamps"].values()) == {0}
    assert broken["left"]["lamps"] == {"white": 1, "coloured": 0, "yellow": 0}
    assert set(broken["right"]["lamps"].values()) == {0}


@pytest.mark.parametrize("title", ["\x00", "\ud800", "🤺" * 60, " ", "'; drop table cases; --"], ids=ascii)
def test_a_title_of_odd_letters_is_kept_or_refused_and_does_no_harm(title: str, client: TestClient) -> None:
    body = json.dumps({"weapon": "foil", "title": title}).encode()
    answer = client.post("/api/cases", content=body, headers={"Content-Type": "application/json"})
    assert answer.status_code in {201, 422}
    assert client.get("/api/cases").status_code == 200


def test_what_can_be_asked_for_is_told(client: TestClient) -> None:
    assert SAYS in client.get("/api/weapons/foil/complaints").json()
    trials = client.get("/api/weapons/épée/trials").json()
    assert {"say", "seconds", "needs"} == trials[0].keys()
    case = client.post("/api/cases", json={"weapon": "épée"}).json()
    assert {trial["say"] for trial in case["diagnosis"]["next"]} <= {trial["say"] for trial in trials}
