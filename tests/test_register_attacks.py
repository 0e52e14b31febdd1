"""Hostile words in every field of the register, by every route that there is: nothing comes alive, nothing breaks.

Which routes there are and which fields they take is read from the application, so that a new one falls in by itself.
"""

from __future__ import annotations

import csv
import re
import typing
from io import BytesIO, StringIO
from typing import TYPE_CHECKING, Any
from zipfile import ZipFile

import pytest
from fastapi.routing import APIRoute
from pydantic import BaseModel

from client import FromHere, TestClient
from foible.records.people import NewPerson
from foible.records.trail import NOBODY
from foible.services.opening import open_cases
from foible.web.application import REGISTER, create_app
from foible.web.settings import Settings

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from httpx import Response

SCRIPT = "\"'><script>alert(1)</script>"
WORDS = (
    f"{SCRIPT}<img src=x onerror=alert(2)>",
    "'; DROP TABLE items; -- {{ 7 * 7 }}{% raise %}${7*7}",
    '=HYPERLINK("http://elsewhere.example","x")',
    "@SUM(1+1)*cmd|' /C calc'!A0",
    "evil 😀 ｆｕｌｌ עברית",
)  # fmt: skip
"""Words that somebody may give anything as a name. Each is kept as it is, and means nothing but itself."""
FIGURES = (
    "-1",
    "2147483647",
    "99999999999",
    "9" * 150,
    "1e999999999",
    "1e400",
    "nan",
    "0001-01-01",
    "9999-12-31",
    "²",
    "a\0b",
    "\u202eevil",
    "../../etc/passwd",
)
"""What may stand where a number, a day, a code or a choice is asked for."""
ALIVE = re.compile(r"<script>alert|<img src=x|onerror=alert\(2\)>(?!&)|\b49\b.{0,3}\$\{")
EACH = 2
"""Figures that each field meets."""
HEAVY = {
    "/register/learned/cases/{name}",
    "/register/season.pdf",
    "/register/season",
    "/api/register/season",
    "/register/from-case/{name}",
}
"""Routes that reason or draw; their figures are typed, or chosen from what there is."""
DOORS = {"/sign-in", "/sign-in/secret", "/sign-out"}


class Attacked:
    """A register in which everything is called something hostile, and where its pages are."""

    def __init__(self, client: TestClient, app: Any) -> None:  # noqa: ANN401 — the application
        self.client, self.app = client, app
        token = re.search(r'name="csrf" value="([^"]+)"', client.get("/sign-in").text)
        assert token
        self.csrf = token[1]
        self.made: list[dict[str, str]] = []
        self.count = 0
        self._seen: dict[str, Response] = {}

    def send(self, path: str, **fields: object) -> Response:
        """Send a form."""
        self.count += 1
        sent: Response = self.client.post(path, data={"csrf": self.csrf, "token": f"form-{self.count}"} | fields)
        return sent

    def leads_to(self, path: str, **fields: object) -> str:
        """Send a form that is taken; return the last step of the address that it leads to."""
        answer = self.send(path, **fields)
        assert answer.status_code == 303, answer.text
        return str(answer.headers["location"]).rpartition("/")[2]

    def fill(self, words: str) -> None:
        """Call one of everything by these words, in every field that takes some."""
        person = self.leads_to("/register/people", name=words, club=words, contact=words)
        job = self.leads_to(
            "/register/items", what="weapon|foil", name=words, notes=words, complaint=words, owner=person, bench="yes"
        )
        code = self.client.get(f"/api/register/jobs/{job}").json()["item_id"]
        item = next(each for each in self.client.get("/api/register/items").json() if each["id"] == code)["code"]
        self.leads_to(f"/register/jobs/{job}", note=words, proof=words, comes_to="handed back", version="1")
        version = self.client.get(f"/api/register/items/{item}").json()["version"]
        self.leads_to(f"/register/items/{item}/loan", to=person, version=str(version))
        self.leads_to(f"/register/items/{item}/back", found=words)
        self.leads_to("/register/jobs", item=item, complaint=words)
        part = self.leads_to("/register/parts", name=words, made_by=words[:60], bin=words[:20], supplier=words, least="3")
        case = self.leads_to(f"/register/items/{item}/case")
        self.made.append({"code": item, "number": job, "person": person, "part": part, "name": case})

    def pages(self) -> dict[str, Response]:
        """Return every page and answer about everything that was made, by its address; each is asked for once."""
        if not self._seen:
            self._seen = {address: self.client.get(address) for address in self._addresses()}
        return self._seen

    def _addresses(self) -> Iterator[str]:
        for route in routes("GET"):
            for made in self.made if "{" in route.path and route.path not in HEAVY else self.made[:1]:
                if "{ref}" not in route.path and "/photos/" not in route.path:  # no file waits, no photo is there
                    yield address(route.path, made)


def address(path: str, made: dict[str, str]) -> str:
    """Return the address of a route about what was made; what there is none of has the number 1."""
    given = (
        made | ({"number": made["person"]} if "/people/" in path else {}) | ({"code": made["part"]} if "/parts/" in path else {})
    )
    return "/".join(given.get(step[1:-1], "1") if step.startswith("{") else step for step in path.split("/"))


def routes(method: str) -> list[APIRoute]:
    """Return the routes of the register that take a method, but for signing in."""
    found: dict[str, APIRoute] = {}
    routers = [module.router for module in REGISTER]
    while routers:
        for route in routers.pop().routes:
            if isinstance(route, APIRoute) and method in (route.methods or ()) and route.path not in DOORS:
                found[route.path] = route
            elif inner := getattr(route, "original_router", None):
                routers.append(inner)
    return list(found.values())


def fields_of(route: APIRoute) -> dict[str, Any]:
    """Return the fields that a route takes in its body or its query, each with its type."""
    found: dict[str, Any] = {}
    taken = route.dependant.body_params if "POST" in (route.methods or ()) else route.dependant.query_params
    for each in taken:
        kind = each.field_info.annotation
        if isinstance(kind, type) and issubclass(kind, BaseModel):
            found |= {name: field.annotation for name, field in kind.model_fields.items()}
        else:
            found[each.alias] = kind
    return found


@pytest.fixture(scope="module")
def attacked(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Attacked]:
    folder: Path = tmp_path_factory.mktemp("attacked")
    cases = open_cases(f"sqlite:///{folder / 'records.db'}")
    app = create_app(cases, Settings(secret="a", hosts=("testserver",)))
    with TestClient(FromHere(app), follow_redirects=False, raise_server_exceptions=False) as client:
        made = Attacked(client, app)
        for words in WORDS:
            made.fill(words)
        yield made
    cases.store.database.dispose()


def test_what_is_hostile_is_shown_as_words_on_every_page(attacked: Attacked) -> None:
    shown = 0
    for where, answer in attacked.pages().items():
        assert answer.status_code in {200, 303} or where.endswith("/labels.pdf") or "/photos/" in where, (
            where,
            answer.status_code,
        )
        if answer.headers.get("content-type", "").startswith("text/html"):
            assert not ALIVE.search(answer.text), where
            shown += "&lt;script&gt;alert(1)" in answer.text
    assert shown > 10


def test_what_is_hostile_is_searched_for_as_words(attacked: Attacked) -> None:
    for words, made in zip(WORDS, attacked.made, strict=True):
        for path in ("/register/found", "/register", "/register/people"):
            answer = attacked.client.get(path, params={"words": words[:100]})
            assert answer.status_code == 200, (path, words)
            assert not ALIVE.search(answer.text), (path, words)
        assert f"/register/people/{made['person']}" in attacked.client.get("/register/people", params={"words": words}).text
    assert "/register/items/" in attacked.client.get("/register/found", params={"words": "drop table items"}).text
    for wild in ("%", "_", "\\", "*", "a' OR '1'='1"):
        assert "/register/items/w" not in attacked.client.get("/register/found", params={"words": wild + "zz"}).text


def test_nothing_comes_alive_in_a_spreadsheet(attacked: Attacked) -> None:
    """A cell that begins with =, +, -, @, a tabulator or a return is a formula to a spreadsheet (OWASP, “CSV Injection”)."""
    tables = [attacked.client.get("/register/order-list.csv").content.decode("utf-8-sig")]
    with ZipFile(BytesIO(attacked.client.get("/register/export.zip").content)) as file:
        assert not [name for name in file.namelist() if "/" in name or ".." in name]
        tables += [file.read(name).decode("utf-8-sig") for name in file.namelist() if name.endswith(".csv")]
    cells = [cell for table in tables for row in csv.reader(StringIO(table)) for cell in row]
    assert '\'=HYPERLINK("http://elsewhere.example","x")' in cells
    assert not [cell for cell in cells if cell[:1] in {*"=+@\t\r"} or (cell[:1] == "-" and not re.fullmatch(r"-[\d.]+", cell))]


def test_no_name_that_is_downloaded_is_one_that_somebody_gave(attacked: Attacked) -> None:
    named = 0
    for where, answer in attacked.pages().items():
        told = answer.headers.get("content-disposition", "")
        assert re.fullmatch(r'|(inline|attachment)(; filename="[\w.-]+")?', told), (where, told)
        named += bool(told)
    assert named > 5


@pytest.mark.parametrize("method", ["POST", "GET"])
def test_no_field_of_any_route_breaks_the_register(attacked: Attacked, method: str) -> None:
    """Whatever stands in a field alone, the others as they should be: refused with a reason, or taken as words.

    Each field meets some of the figures, each figure many fields; `EACH = len(FIGURES)` has every field meet all, in a minute.
    """
    tried = 0
    for route in routes(method):
        path = address(route.path, attacked.made[0])
        if path.endswith("/erase") or (method == "GET" and route.path in HEAVY):
            continue
        for field, kind in fields_of(route).items():
            for words in (WORDS[0], *(FIGURES[(tried + step) % len(FIGURES)] for step in range(EACH))):
                tried += 1
                answer = _tried(attacked, route, path, field, kind, words)
                assert answer.status_code < 500, (method, path, field, words)
                assert not ALIVE.search(answer.text) or "json" in answer.headers["content-type"], (method, path, field, words)
    assert tried > 50
    assert len(attacked.client.get("/api/register/items").json()) >= len(WORDS), "the table is still there"


def _tried(attacked: Attacked, route: APIRoute, path: str, field: str, kind: object, words: str) -> Response:  # noqa: PLR0913, PLR0917 — a field and its words
    """Send one field of a route with these words; the rest of a form as a page would have it."""
    if "GET" in (route.methods or ()):
        got: Response = attacked.client.get(path, params={field: words})
        return got
    usual: dict[str, Any] = {
        "what": "reel|", "name": "a", "item": attacked.made[0]["code"], "version": "1", "quantity": "", "to": "1", "kind": "",
        "value": "1", "count": "1",
    }  # fmt: skip
    many = typing.get_origin(kind) is list
    if route.path.startswith("/api"):
        body = {"kind": "reel", "item": usual["item"], "version": 1, "token": f"api-{attacked.count}"}
        sent: Response = attacked.client.post(path, json=body | {field: [words] if many else words})
        return sent
    given = {key: usual[key] for key in fields_of(route) if usual.get(key)}
    return attacked.send(path, **given | {field: words})


def test_a_code_in_an_address_leads_to_a_page_or_to_none(attacked: Attacked) -> None:
    for words in ("%2e%2e%2f%2e%2e%2fetc%2fpasswd", "%00", "%3Cscript%3Ealert(1)%3C%2Fscript%3E", "'%20OR%201=1", "9" * 300):
        for path in ("/i/", "/register/items/", "/register/jobs/", "/register/parts/", "/register/people/", "/register/import/"):
            answer = attacked.client.get(path + words)
            assert answer.status_code in {404, 422}, path + words
            assert not ALIVE.search(answer.text)


@pytest.mark.parametrize(
    "name", ["../../r.csv", "..\\..\\r.csv", "/etc/passwd", "<script>alert(1)</script>.csv", "a\0.csv", "=1+1"]
)
def test_the_name_of_an_import_is_shown_and_nothing_else(attacked: Attacked, name: str, tmp_path: Path) -> None:
    folder = attacked.app.state.cases.album.folder.parent
    before = {*folder.rglob("*")}
    hostile = f'kind,name\nreel,"{WORDS[0].replace(chr(34), chr(34) * 2)}"\n{SCRIPT.replace(",", "")},b\n'
    sent = {"file": (name, hostile.encode(), "text/csv")}
    answer = attacked.client.post("/register/import", data={"csrf": attacked.csrf}, files=sent)
    assert answer.status_code in {303, 422}
    page = attacked.client.get(answer.headers["location"]) if answer.status_code == 303 else answer
    assert page.status_code in {200, 422}
    assert not ALIVE.search(page.text)
    new = [path.name for path in {*folder.rglob("*")} - before if not path.name.startswith("records.db")]
    assert all(re.fullmatch(r"[\w.-]+", each) and "passwd" not in each and "script" not in each for each in new), new
    assert not [*tmp_path.iterdir()]


def test_a_person_erased_is_not_in_the_way_of_hostile_names(attacked: Attacked) -> None:
    people = attacked.app.state.people
    for words in WORDS:
        one = people.add(NewPerson(words), by=NOBODY)
        found = people.erase(one.id, by=NOBODY)
        assert {each.kind for each in found} >= {"item", "job"}, "and the texts in which it stands are found"
