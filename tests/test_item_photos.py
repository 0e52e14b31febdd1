"""Photos of items: kept as those of cases are, noted in the trail, removed for good, and found where their owner is erased."""

from __future__ import annotations

import re
from io import BytesIO
from typing import TYPE_CHECKING

import pytest
from PIL import Image

from client import FromHere, TestClient, hidden, send
from foible.records.copies import back_up
from foible.records.people import NewPerson
from foible.records.register import photos_of
from foible.records.trail import NOBODY
from foible.services.opening import open_cases
from foible.services.photos import MOST_PHOTOS
from foible.services.pictures import MOST_BYTES
from foible.services.register.photos import add_item_photo
from foible.web.application import create_app
from foible.web.settings import Settings
from test_photos import SAYS, bomb, photo, placed
from test_register_pages import code_of

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from httpx import Response

    from foible.services.cases import Cases


@pytest.fixture(scope="module")
def cases(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Cases]:
    made = open_cases(f"sqlite:///{tmp_path_factory.mktemp('item-photos') / 'records.db'}")
    yield made
    made.store.database.dispose()


@pytest.fixture(scope="module")
def client(cases: Cases) -> Iterator[TestClient]:
    with TestClient(FromHere(create_app(cases, Settings(secret="a", hosts=("testserver",))))) as made:
        yield made


def added(client: TestClient, code: str, raw: bytes, name: str = "shot.jpg") -> Response:
    page = client.get(f"/register/items/{code}").text
    fields = {"csrf": hidden(page, "csrf"), "token": hidden(page, "token")}
    answer: Response = client.post(f"/register/items/{code}/photos", data=fields, files={"photo": (name, raw, "text/html")})
    return answer


@pytest.fixture
def code(client: TestClient) -> str:
    return code_of(send(client, "/register/items/new", "/register/items", what="cord|foil"))


def files(cases: Cases) -> list[str]:
    assert cases.album
    return sorted(path.name for path in cases.album.folder.glob("*"))


def test_a_photo_is_added_shown_noted_and_removed(client: TestClient, cases: Cases, code: str) -> None:
    before = files(cases)
    page = added(client, code, placed(), "../../x.svg")
    assert page.url.path == f"/register/items/{code}"
    source = re.search(rf'src="(/register/items/{code}/photos/\d+)\?size=small"', page.text)
    assert source
    shown = client.get(source[1])
    assert shown.headers["content-type"] == "image/jpeg"
    assert shown.headers["x-content-type-options"] == "nosniff"
    assert SAYS not in shown.content, "place and time are gone"
    with Image.open(BytesIO(shown.content)) as opened:
        assert (opened.size, dict(opened.getexif())) == ((200, 400), {})
    assert len(files(cases)) == len(before) + 2
    assert all(re.fullmatch(r"[0-9a-f]{32}(-small)?\.jpg", each) for each in files(cases))
    gone = client.post(f"{source[1]}/remove", data={"csrf": hidden(page.text, "csrf")})
    assert "photos of-item" not in gone.text
    assert client.get(source[1]).status_code == 404
    assert files(cases) == before
    trail = client.get("/register/trail?kind=item").text
    assert "photo added" in trail
    assert "photo removed" in trail


@pytest.mark.parametrize(
    "raw",
    [b"<svg xmlns='http://www.w3.org/2000/svg'><script>alert(1)</script></svg>", b"<html></html>", photo()[:-400],
     bomb(30_000, 30_000), photo("GIF"), b""],
    ids=["svg", "html", "cut", "bomb", "gif", "empty"],
)  # fmt: skip
def test_what_is_no_photo_is_refused_and_leaves_nothing(client: TestClient, cases: Cases, code: str, raw: bytes) -> None:
    before = files(cases)
    assert added(client, code, raw).status_code == 422
    assert files(cases) == before
    assert "photos of-item" not in client.get(f"/register/items/{code}").text


def test_a_photo_that_is_too_heavy_or_from_elsewhere_is_not_even_read(client: TestClient, code: str) -> None:
    assert added(client, code, b"x" * (MOST_BYTES + 70_000)).status_code == 413
    sent = {"photo": ("a.jpg", photo(), "image/jpeg")}
    assert client.post(f"/register/items/{code}/photos", data={"csrf": "guessed"}, files=sent).status_code == 403
    headers = {"Origin": "http://192.0.2.9"}
    assert client.post(f"/register/items/{code}/photos", files=sent, headers=headers).status_code == 403


def test_an_address_leads_to_photos_of_its_item_alone(client: TestClient, code: str) -> None:
    other = code_of(send(client, "/register/items/new", "/register/items", what="reel|"))
    found = re.search(r"/photos/(\d+)\?", added(client, code, photo()).text)
    assert found
    for path in (
        f"{other}/photos/{found[1]}",
        f"{code}/photos/999",
        f"{code}/photos/..%2f..",
        f"{code}/photos/0",
        "c0000/photos/1",
    ):
        assert client.get(f"/register/items/{path}").status_code in {404, 422}, path
    page = client.get(f"/register/items/{code}").text
    stranger = client.post(f"/register/items/{other}/photos/{found[1]}/remove", data={"csrf": hidden(page, "csrf")})
    assert stranger.status_code == 404
    assert client.get(f"/register/items/{code}/photos/{found[1]}").status_code == 200


def test_an_item_takes_so_many_and_the_same_form_twice_adds_one(client: TestClient, cases: Cases, code: str) -> None:
    assert cases.album
    store, small = client.app.app.state.register, photo(size=(4, 2))  # type: ignore[attr-defined]
    for number in (0, *range(MOST_PHOTOS)):
        add_item_photo(store, cases.album, code, small, token=f"{code}-{number}", by=NOBODY)
    before = files(cases)
    assert "20 photos already" in added(client, code, small).text
    assert files(cases) == before
    item = store.read(lambda session: photos_of(session, 1))
    assert len({each.name for each in item}) == len(item)


def test_photos_are_in_a_backup_and_named_where_their_owner_is_erased(client: TestClient, cases: Cases, tmp_path: Path) -> None:
    people = client.app.app.state.people  # type: ignore[attr-defined]
    owner = people.add(NewPerson("Odile Fennimore"), by=NOBODY)
    code = code_of(send(client, "/register/items/new", "/register/items", what="cord|foil", owner=str(owner.id)))
    added(client, code, photo())
    assert cases.album
    address = (
        cases.store.database.url if hasattr(cases.store.database, "url") else f"sqlite:///{cases.album.folder.with_suffix('')}"
    )
    copied = back_up(str(address), tmp_path / "copy.zip", photos=cases.album.folder)
    (kept,) = people.export(owner.id)["item_photos"]
    assert any(kept["photo"] in name for name in copied.photos)
    assert [(each.ref, each.field) for each in people.erase(owner.id, by=NOBODY)] == [(code, "photo")]


def test_a_program_adds_shows_and_removes_a_photo(client: TestClient, cases: Cases, code: str) -> None:
    at, before = f"/api/register/items/{code}/photos", files(cases)
    sent = client.post(f"{at}?token=photo-1", content=photo())
    assert sent.status_code == 201, sent.text
    assert client.post(f"{at}?token=photo-1", content=photo()).json() == sent.json(), "sent twice"
    shown = client.get(sent.json()["address"] + "?size=small")
    assert max(Image.open(BytesIO(shown.content)).size) <= 320
    assert client.post(f"{at}?token=photo-2", content=b"no photo").status_code == 422
    assert client.post(at, content=photo()).status_code == 422, "without a token"
    assert client.post(f"{at}/{sent.json()['number']}/remove").status_code == 204
    assert client.get(sent.json()["address"]).status_code == 404
    assert files(cases) == before
    assert client.post("/api/register/items/nosuch/photos?token=photo-3", content=photo()).status_code == 404
