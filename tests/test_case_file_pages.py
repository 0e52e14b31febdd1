"""Case files and marked lines in the browser and the API. All cases, and what was renamed, are invented."""

from __future__ import annotations

import re
import tomllib
from datetime import UTC, datetime
from html import unescape
from typing import TYPE_CHECKING

import pytest

from client import FromHere, TestClient
from foible.records import CaseStore, Database, EntryKind, NewCase, NewEntry
from foible.services.cases import Cases
from foible.services.reasoning import Reasoning
from foible.trials import CaseTable
from foible.web import Settings, create_app

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from httpx import Response

NAMES = (
    '[[former]]\nwhat = "item"\nwas = "{side} lead"\nis = "{side} cord"\n'
    '[[former]]\nwhat = "weapon"\nwas = "floret"\nis = "foil"\n'
)
HIT = '[[trial]]\npress = "left"\non = "right lamé front"\nsaw = "left white"\n'
FILE = f'title = "It goes white"\nweapon = "foil"\nknown_good = ["right lamé"]\nsource = "Lanternfield, invented"\n\n{HIT}'
OLD = f'title = "It goes white"\nweapon = "foil"\nknown_good = ["right lead"]\n\n{HIT}'
WRONG = f'title = "<b>Odd</b>"\nweapon = "foil"\n\n{HIT}saw_it = "x"\n\n[[trial]]\nexamine = ["left grommet"]\nfound = ["fine"]\n'
CUT = '[[trial]]\ncut = "right"\non = "left lamé front"\n'
TUG = f'{CUT}move = ["tug left cord clip"]\n'
CORD = (
    f'weapon = "sabre"\ncomplaint = "Good cuts on me give no light"\n\n{CUT}saw = "right nothing"\nhearsay = 0.2\n'
    f'{CUT}saw = "right coloured"\n'
    f'{TUG}saw = "right coloured sometimes"\n{TUG}swapped = "left cord"\nsaw = "right coloured"\n'
)


@pytest.fixture(scope="module")
def cases(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Cases]:
    folder = tmp_path_factory.mktemp("files")
    (folder / "names.toml").write_text(NAMES, encoding="utf-8")
    store = CaseStore(Database(f"sqlite:///{folder / 'records.db'}"), clock=lambda: datetime(2026, 10, 3, tzinfo=UTC))
    yield Cases(Reasoning(overlays=(folder,)), store)
    store.database.dispose()


@pytest.fixture(scope="module")
def client(cases: Cases) -> Iterator[TestClient]:
    with TestClient(FromHere(create_app(cases, Settings())), base_url="http://localhost", follow_redirects=False) as made:
        yield made


def sent(client: TestClient, text: str = "", file: str | None = None) -> Response:
    """Send the form of the page, as a browser does."""
    csrf = re.findall(r'name="csrf" value="([^"]*)"', client.get("/case-file").text)[0]
    files: Mapping[str, tuple[str, bytes]] = {"file": ("", b"") if file is None else ("old.toml", file.encode())}
    headers = {"Origin": "http://localhost"}
    answer: Response = client.post("/case-file", data={"csrf": csrf, "text": text}, files=files, headers=headers)
    return answer


def with_lines(cases: Cases, *trials: Mapping[str, object], weapon: str = "foil") -> str:
    """Keep a case as an earlier Foible may have done, and return its name."""
    entries = [NewEntry(EntryKind.TRIAL, f"t{n}", say=f"trial {n}", trial=trial, names=0) for n, trial in enumerate(trials)]
    return cases.store.open(NewCase(weapon, "An old case", tools=("spare",)), entries).id


class TestPages:
    def test_the_page_says_why_an_item_is_named_that_is_exchanged_already(self, client: TestClient) -> None:
        """It came with the tug, not without, and not with another cord: that one stays in, and the tug proves it."""
        page = client.get(sent(client, text=CORD).headers["location"]).text
        assert "leave the left cord exchanged, or put it right" in unescape(re.sub("<[^>]*>", "", page))
        assert "The fault came when it was moved, and not with a good one in its place." in page

    @pytest.mark.parametrize("how", ["text", "file"])
    def test_a_file_that_is_sent_or_pasted_becomes_a_case_and_comes_back_from_it(self, client: TestClient, how: str) -> None:
        answer = sent(client, **{how: FILE})
        assert answer.status_code == 303
        page = answer.headers["location"]
        saved = client.get(f"{page}/file")
        assert re.fullmatch(r'attachment; filename="case-\w+\.toml"', saved.headers["content-disposition"])
        back = CaseTable.model_validate(tomllib.loads(saved.text))
        assert back.model_copy(update={"names": None}) == CaseTable.model_validate(tomllib.loads(FILE))
        assert f'href="{page}/file"' in client.get(page).text

    def test_a_file_with_slips_is_shown_again_with_all_of_them_and_nothing_is_kept(
        self, client: TestClient, cases: Cases
    ) -> None:
        before = cases.store.count()
        answer = sent(client, WRONG)
        assert answer.status_code == 422
        said = unescape(answer.text)
        assert "line 8" in said or ":8" in said
        assert all(words in said for words in ("saw_it", "left grommet"))
        assert unescape(re.findall(r"<textarea[^>]*>(.*?)</textarea>", answer.text, re.DOTALL)[0]).strip() == WRONG.strip()
        assert "<b>Odd</b>" not in answer.text
        assert cases.store.count() == before

    def test_former_names_are_told_before_the_case_is_shown(self, client: TestClient) -> None:
        answer = sent(client, OLD)
        assert answer.status_code == 200
        assert "“right lead” is now called “right cord”" in unescape(answer.text)
        (page,) = re.findall(r'href="(/cases/\w+)"', answer.text)
        assert client.get(page).status_code == 200

    def test_a_line_that_the_kit_cannot_read_is_marked_on_the_board_and_on_paper(self, client: TestClient, cases: Cases) -> None:
        name = with_lines(cases, {"examine": ["left grommet"], "found": ["fine"]}, {"press": "left", "saw": ["left white"]})
        for page in (f"/cases/{name}", f"/cases/{name}/print"):
            said = unescape(client.get(page).text)
            assert "this line names “left grommet”, which the kit no longer has" in said
            assert "left out of the reasoning" in said
        assert "left weapon" in client.get(f"/cases/{name}").text

    def test_a_case_of_a_weapon_that_the_kit_does_not_have_can_be_looked_at_and_saved(
        self, client: TestClient, cases: Cases
    ) -> None:
        name = with_lines(cases, {"press": "left", "saw": ["left white"]}, weapon="rapier")
        said = unescape(client.get(f"/cases/{name}").text)
        assert "there is no weapon called “rapier”" in said.lower()
        assert "trial 0" in said
        assert tomllib.loads(client.get(f"/cases/{name}/file").text)["weapon"] == "rapier"


class TestApi:
    def test_a_file_that_is_sent_becomes_a_case_and_comes_back_from_it(self, client: TestClient) -> None:
        answer = client.post("/api/cases/file?token=once", content=FILE.encode(), headers={"Content-Type": "application/toml"})
        assert answer.status_code == 201
        case = answer.json()
        assert (case["known_good"], case["source"], case["notices"]) == (["right lamé"], "Lanternfield, invented", [])
        again = client.post("/api/cases/file?token=once", content=FILE.encode(), headers={"Content-Type": "application/toml"})
        assert again.json()["id"] == case["id"]
        saved = client.get(f"/api/cases/{case['id']}/file")
        assert saved.headers["content-type"].startswith("application/toml")
        assert tomllib.loads(saved.text)["trial"] == tomllib.loads(FILE)["trial"]

    def test_former_names_are_read_with_a_notice_wherever_a_name_is_sent(self, client: TestClient) -> None:
        def notices(answer: Response) -> list[tuple[str, str]]:
            assert answer.is_success, answer.text
            return [(each["was"], each["now"]) for each in answer.json()["notices"]]

        told = [("right lead", "right cord")]
        taken = client.post("/api/cases/file", content=OLD.encode(), headers={"Content-Type": "application/toml"})
        assert notices(taken) == told
        trial = {"press": "left", "on": "right lamé front", "swapped": ["right lead"], "saw": ["left white"]}
        own = {"trial": trial, "token": "own"}
        assert notices(client.post(f"/api/cases/{taken.json()['id']}/trials", json=own)) == told
        bench = {"place": "bench", "item": "right lead", "tools": ["meter"]}
        assert notices(client.put(f"/api/cases/{taken.json()['id']}/place", json=bench)) == told
        assert notices(client.post("/api/diagnoses", json={"weapon": "foil", "trials": [trial]})) == told
        assert notices(client.post("/api/diagnoses", json={"weapon": "foil", "trials": [], **bench})) == told

    @pytest.mark.parametrize(
        ("former", "today"),
        [
            ("/api/weapons/floret/complaints", "/api/weapons/foil/complaints"),
            ("/api/weapons/Floret/trials", "/api/weapons/foil/trials"),
            ("/api/cases?weapon=floret&limit=5", "/api/cases?limit=5&weapon=foil"),
            ("/?weapon=floret&words=left", "/?words=left&weapon=foil"),
            ("/new/floret", "/new/foil"),
            ("/what-if/floret?say=x", "/what-if/foil?say=x"),
            ("/card/floret", "/card/foil"),
        ],
    )
    def test_an_address_with_a_weapons_former_name_leads_on_and_says_so(
        self, client: TestClient, former: str, today: str
    ) -> None:
        answer = client.get(former)
        assert (answer.status_code, answer.headers["Location"]) == (308, today)
        assert "oret” is now called “foil”" in answer.text

    def test_a_case_opened_under_a_weapons_former_name_is_one_of_todays(self, client: TestClient) -> None:
        opened = client.post("/api/cases", json={"weapon": "floret", "title": "An old form"})
        assert opened.json()["weapon"] == "foil"
        assert [each["was"] for each in opened.json()["notices"]] == ["floret"]

    def test_a_line_that_cannot_be_read_is_listed_and_the_rest_reasoned_about(self, client: TestClient, cases: Cases) -> None:
        name = with_lines(cases, {"examine": ["left grommet"], "found": ["fine"]}, {"press": "left", "saw": ["left white"]})
        case = client.get(f"/api/cases/{name}").json()
        assert [(line["entry"], line["done"]) for line in case["unread"]] == [(1, "trial 0")]
        assert case["diagnosis"]["trials"] == 1
        unknown = client.get(f"/api/cases/{with_lines(cases, {'saw': ['left white']}, weapon='rapier')}").json()
        assert unknown["diagnosis"] is None
        assert len(unknown["unread"]) == 1

    def test_a_file_that_is_too_long_is_refused_before_it_is_read(self, client: TestClient) -> None:
        answer = client.post("/api/cases/file", content=b"#" * 1_100_000, headers={"Content-Type": "application/toml"})
        assert answer.status_code == 413
        assert "200 kB" in answer.json()["error"]["remedy"]
