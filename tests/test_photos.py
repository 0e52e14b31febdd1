"""Photos of a case: what their files say of place and time is gone, what is no photo is refused, and no name leads anywhere."""

from __future__ import annotations

import re
import struct
import zlib
from datetime import UTC, datetime
from io import BytesIO
from typing import TYPE_CHECKING

import pytest
from PIL import ExifTags, Image, PngImagePlugin

from client import FromHere, TestClient
from foible.errors import InputError
from foible.records import CaseStore, Database, EntryKind, NewCase
from foible.records.migrating import go_back
from foible.services.cases import Cases
from foible.services.opening import photo_folder
from foible.services.photos import MOST_PHOTOS, Album, attach
from foible.services.pictures import MOST_BYTES, cleaned
from foible.web import Settings, create_app
from usual import REASONING

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

RED, BLUE = (200, 30, 30), (30, 30, 200)
SAYS = b"51.4769N 0.0005W"
"""A place, hidden in every corner of a file that can hold words."""


def photo(kind: str = "JPEG", size: tuple[int, int] = (400, 200), **more: object) -> bytes:
    """Return a picture whose left half is red and whose right half is blue."""
    made = Image.new("RGB", size, RED)
    made.paste(BLUE, (size[0] // 2, 0, *size))
    out = BytesIO()
    made.save(out, kind, **more)
    return out.getvalue()


def noted() -> Image.Exif:
    """Return place and time, and a quarter turn (orientation 6), as EXIF (CIPA DC-008)."""
    exif = Image.Exif()
    exif[ExifTags.Base.Orientation] = 6
    exif[ExifTags.Base.DateTime] = "2026:10:03 09:00:00"
    exif[ExifTags.IFD.GPSInfo] = {ExifTags.GPS.GPSLatitude: (51.0, 28.0, 37.0), ExifTags.GPS.GPSMapDatum: SAYS.decode()}
    return exif


def placed() -> bytes:
    """Return a JPEG with its place in EXIF, in XMP, in a comment and in its colour profile."""
    return photo(exif=noted(), comment=SAYS, xmp=b"<x:xmpmeta>" + SAYS + b"</x:xmpmeta>", icc_profile=SAYS)


def in_png() -> bytes:
    words = PngImagePlugin.PngInfo()
    words.add_text("Comment", SAYS.decode())
    words.add_itxt("XML:com.adobe.xmp", SAYS.decode())
    return photo("PNG", pnginfo=words)


def bomb(width: int, height: int) -> bytes:
    """Return a PNG (W3C, PNG third edition, 5) of a few hundred bytes that claims so many pixels."""

    def chunk(kind: bytes, content: bytes) -> bytes:
        return struct.pack(">I", len(content)) + kind + content + struct.pack(">I", zlib.crc32(kind + content))

    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(b"\0" * 1000)) + chunk(b"IEND", b"")


@pytest.fixture
def cases(tmp_path: Path, clock: Callable[[], datetime]) -> Iterator[Cases]:
    store = CaseStore(Database(f"sqlite:///{tmp_path / 'r.db'}"), clock=clock)
    yield Cases(REASONING, store, Album(tmp_path / "photos"))
    store.database.dispose()


@pytest.fixture
def client(cases: Cases) -> Iterator[TestClient]:
    with TestClient(FromHere(create_app(cases, Settings())), base_url="http://localhost", follow_redirects=False) as made:
        yield made


def files(cases: Cases) -> list[str]:
    assert cases.album
    return sorted(path.name for path in cases.album.folder.glob("*")) if cases.album.folder.exists() else []


@pytest.mark.parametrize(
    "raw",
    [placed(), in_png(), photo("WEBP", exif=noted()), photo(exif=b"Exif\0\0" + SAYS)],
    ids=["jpeg", "png", "webp", "broken"],
)
def test_nothing_is_kept_of_a_file_but_what_can_be_seen(raw: bytes) -> None:
    assert SAYS in raw
    made = cleaned(raw)
    for content in (made.large, made.small):
        assert SAYS not in content
        assert b"Exif" not in content
        with Image.open(BytesIO(content)) as opened:
            assert opened.format == "JPEG"
            assert not opened.getexif()
            assert {*opened.info} <= {"jfif", "jfif_version", "jfif_unit", "jfif_density"}


def test_a_photo_is_turned_upright_and_sized_down() -> None:
    """Orientation 6 is a quarter turn to the right (CIPA DC-008, 4.6.4): what was left is on top."""
    with Image.open(BytesIO(cleaned(placed()).large)) as upright:
        assert upright.size == (200, 400)
        top, foot = upright.getpixel((100, 50)), upright.getpixel((100, 350))
        assert isinstance(top, tuple)
        assert isinstance(foot, tuple)
        assert top[0] > top[2]
        assert foot[0] < foot[2]
    made = cleaned(photo(size=(4000, 1000)))
    assert Image.open(BytesIO(made.large)).size == (1600, 400)
    assert Image.open(BytesIO(made.small)).size == (320, 80)


def test_what_is_transparent_becomes_white() -> None:
    out = BytesIO()
    Image.new("RGBA", (20, 20), (0, 0, 0, 0)).save(out, "PNG")
    assert Image.open(BytesIO(cleaned(out.getvalue()).large)).getpixel((10, 10)) == (255, 255, 255)


@pytest.mark.parametrize("size", [(9000, 9000), (30_000, 30_000), (2**31 - 1, 2**31 - 1)])
def test_a_small_file_that_claims_to_be_huge_is_refused_before_it_is_decoded(size: tuple[int, int]) -> None:
    assert len(bomb(*size)) < 1000
    with pytest.raises(InputError, match="more than 64 million pixels — send a smaller one"):
        cleaned(bomb(*size))


@pytest.mark.parametrize(
    ("raw", "why"),
    [
        (b"", "not a photo"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'><script>alert(1)</script></svg>", "not a photo — send a JPEG, PNG or WebP"),
        (photo("GIF"), "not a photo"),
        (photo("TIFF"), "not a photo"),
        (photo("PDF"), "not a photo"),
        (photo()[:-400], "cannot be read to its end"),
        (bomb(50, 50), "cannot be read to its end"),
        (b"x" * (MOST_BYTES + 1), "15 MB — send at most 15 MB"),
    ],
    ids=["empty", "svg", "gif", "tiff", "pdf", "cut", "lies", "heavy"],
)
def test_what_is_no_photo_is_refused_and_leaves_nothing(raw: bytes, why: str, cases: Cases) -> None:
    name = cases.open("foil").id
    with pytest.raises(InputError, match=re.escape(why)):
        attach(cases, name, raw, token="a")
    assert cases.store.case(name).entries == ()
    assert files(cases) == []


def test_a_photo_is_an_entry_of_its_case_and_kept_once(cases: Cases) -> None:
    name = cases.open("foil").id
    first = attach(cases, name, photo(), token="a")
    again = attach(cases, name, photo(size=(10, 10)), token="a")
    assert first == again
    (entry,) = first.entries
    assert (entry.kind, entry.say) == (EntryKind.PHOTO, "photo")
    assert files(cases) == [f"{entry.photo}-small.jpg", f"{entry.photo}.jpg"]
    assert cases.standing(name).case.trials == (), "nothing is reasoned from it"
    assert all(path.stat().st_mode & 0o077 == 0 for path in [cases.album.folder, *cases.album.folder.iterdir()])  # type: ignore[union-attr]


def test_a_photo_that_is_taken_back_is_gone(cases: Cases, client: TestClient) -> None:
    name = cases.open("foil").id
    attach(cases, name, photo(), token="a")
    assert client.get(f"/cases/{name}/photos/1").status_code == 200
    cases.take_back(name, 1)
    assert files(cases) == []
    assert client.get(f"/cases/{name}/photos/1").status_code == 404
    assert client.get(f"/api/cases/{name}").json()["entries"][0]["photo"] is None


def test_a_case_takes_so_many_photos_and_no_more(cases: Cases) -> None:
    name = cases.open("foil").id
    for number in range(MOST_PHOTOS):
        attach(cases, name, photo(size=(4, 2)), token=f"p{number}")
    with pytest.raises(InputError, match="20 photos already — take one back first"):
        attach(cases, name, photo(size=(4, 2)), token="more")


def test_a_photo_whose_entry_is_refused_leaves_no_file(cases: Cases, monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(*_: object) -> None:
        raise InputError(seen="the disk is full", remedy="tidy up")

    name = cases.open("foil").id
    monkeypatch.setattr(cases.store, "add", fail)
    with pytest.raises(InputError, match="the disk is full"):
        attach(cases, name, photo(), token="a")
    assert files(cases) == []


def form(client: TestClient) -> dict[str, str]:
    """Return what every form of this session carries."""
    found = re.search(r'name="csrf" value="([^"]+)"', client.get("/new/foil").text)
    assert found
    return {"csrf": found[1], "token": "abcd"}


@pytest.mark.parametrize("name", ["../../../etc/passwd", "..\\..\\r.db", "/etc/passwd", "a\0.php", "x.svg", "<script>.html", ""])
def test_the_name_that_a_photo_is_sent_with_is_nothing_here(name: str, cases: Cases, client: TestClient, tmp_path: Path) -> None:
    before = {*tmp_path.rglob("*")}
    case = cases.open("foil").id
    sent = {"photo": (name or "photo", photo(), "text/html")}
    assert client.post(f"/cases/{case}/photos", data=form(client), files=sent).status_code == 303
    (entry,) = cases.store.case(case).entries
    new = {path.name for path in {*tmp_path.rglob("*")} - before if not path.name.startswith("r.db")}
    assert new == {"photos", f"{entry.photo}.jpg", f"{entry.photo}-small.jpg"}
    answer = client.get(f"/cases/{case}/photos/1?size=small")
    assert answer.headers["content-type"] == "image/jpeg"
    assert answer.headers["x-content-type-options"] == "nosniff"
    assert answer.headers["content-security-policy"].startswith("default-src 'none'")
    assert answer.content[:3] == b"\xff\xd8\xff"


@pytest.mark.parametrize("number", ["0", "2", "%2e%2e", "..%2f..%2fr.db", "1.jpg", "1%00"])
def test_an_address_leads_to_photos_of_its_case_and_to_nothing_else(number: str, cases: Cases, client: TestClient) -> None:
    case, other = cases.open("foil").id, cases.open("foil").id
    attach(cases, case, photo(), token="a")
    assert client.get(f"/cases/{case}/photos/{number}").status_code in {404, 422}
    assert client.get(f"/cases/{other}/photos/1").status_code == 404


def test_a_form_without_its_token_or_from_elsewhere_attaches_nothing(cases: Cases, client: TestClient) -> None:
    case = cases.open("foil").id
    sent = {"photo": ("a.jpg", photo(), "image/jpeg")}
    assert client.post(f"/cases/{case}/photos", data={**form(client), "csrf": "guessed"}, files=sent).status_code == 403
    headers = {"Origin": "http://192.0.2.9"}
    assert client.post(f"/cases/{case}/photos", data=form(client), files=sent, headers=headers).status_code == 403
    assert client.post(f"/cases/{case}/photos", data=form(client)).status_code == 422
    assert client.post(f"/api/cases/{case}/photos?token=a", content=b"x" * (MOST_BYTES + 70_000)).status_code == 413
    assert client.post(f"/api/cases/{case}/trials", content=b"x" * 70_000).status_code == 413
    assert cases.store.case(case).entries == ()


def test_a_program_attaches_a_photo_and_gets_it_back(cases: Cases, client: TestClient) -> None:
    case = cases.open("foil").id
    answer = client.post(f"/api/cases/{case}/photos?token=a", content=photo(), headers={"Content-Type": "image/jpeg"})
    assert answer.status_code == 201
    address = answer.json()["entries"][0]["photo"]
    with Image.open(BytesIO(client.get(address).content)) as shown:
        assert shown.size == (400, 200)
    assert f'src="/cases/{case}/photos/1?size=small"' in client.get(f"/cases/{case}/print").text
    assert "Left out: 1 photo." in client.get(f"/cases/{case}/file").text


def test_a_photo_is_kept_on_both_kinds_of_database_and_left_behind_on_the_way_back(
    database_url: str, tmp_path: Path, clock: Callable[[], datetime]
) -> None:
    store = CaseStore(Database(database_url), clock=clock)
    cases = Cases(REASONING, store, Album(tmp_path / "photos"))
    kept = attach(cases, store.open(NewCase("foil", "White")).id, photo(), token="a")
    assert store.case(kept.id).entries[0].photo == kept.entries[0].photo
    go_back(store.database._engine, "0005")
    store.database.dispose()
    again = CaseStore(Database(database_url), clock=clock)
    assert again.case(kept.id).entries == ()
    again.database.dispose()


def test_photos_lie_beside_the_database_or_where_a_setting_says(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.delenv("FOIBLE_PHOTOS", raising=False)
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    assert photo_folder("sqlite:////records/register.db").as_posix() == "/records/register.db.photos"
    assert photo_folder("postgresql://club@192.0.2.1/foible") == tmp_path / "foible" / "photos"
    assert photo_folder("sqlite:////r.db", str(tmp_path / "mine")) == tmp_path / "mine"
    monkeypatch.setenv("FOIBLE_PHOTOS", str(tmp_path / "set"))
    assert photo_folder("sqlite:////r.db") == tmp_path / "set"


def test_the_clock_of_a_photo_is_that_of_the_records(cases: Cases) -> None:
    name = cases.open("foil").id
    assert attach(cases, name, placed(), token="a").entries[0].at == datetime(2026, 10, 3, 9, 0, 2, tzinfo=UTC)
