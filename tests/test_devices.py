"""Devices that have joined: listed, named, sent away one by one; out means out for every process, and after a restart too."""

from __future__ import annotations

import asyncio
import re
import shutil
import socket
import time
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

import pytest
from fastapi import FastAPI
from itsdangerous import TimestampSigner

from client import FromHere, TestClient
from foible.cli.devices import devices as list_devices
from foible.errors import InputError
from foible.records import CaseStore, Database
from foible.services.cases import Cases
from foible.services.reasoning import Reasoning
from foible.web import Settings, create_app
from foible.web.devices import MOST, STAYS, Devices, kind_of
from foible.web.hub import Hub
from foible.web.security import may_ask
from foible.web.serve import ServeOptions, _serve
from foible.web.settings import Passphrase

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

WORDS = "crate lantern oar"
STRANGER, PROXY = "192.0.2.7", "192.0.2.1"
NET_S = 60
"""Beyond what anything takes, only so that what never comes is said to be missing [s]."""
PHONE = "Mozilla/5.0 (Linux; Android 10; K) AppleWebKit/537.36 (KHTML, like Gecko) Mobile Safari/537.36"
LAPTOP = "Mozilla/5.0 (X11; Linux x86_64; rv:140.0) Gecko/20100101"


def process(folder: Path, words: str = WORDS, proxy: str | None = None) -> TestClient:
    """Return a client at this machine of a server's process on the records in a folder, as each start makes one."""
    store = CaseStore(Database(f"sqlite:///{folder / 'records.db'}"), clock=lambda: datetime.now(UTC))
    settings = Settings(
        passphrase=Passphrase.of(words, b"salt"), join=f"http://localhost/join#{words}", secret="kept", proxy=proxy
    )
    settings = replace(settings, devices=Devices.opened(folder / "records.db.devices", settings.ticket))
    app = create_app(Cases(Reasoning(), store), settings)
    return TestClient(FromHere(app), base_url="http://localhost", follow_redirects=False)


def at(address: str, server: TestClient, **headers: str) -> TestClient:
    """Return a device at an address, with cookies of its own."""
    app = FromHere(served_by(server), address)
    return TestClient(app, base_url="http://localhost", follow_redirects=False, headers=headers)


def served_by(server: TestClient) -> FastAPI:
    assert isinstance(server.app, FromHere)
    assert isinstance(server.app.app, FastAPI)
    return server.app.app


def posted(client: TestClient, page: str, path: str, **fields: str) -> int:
    """Send a form of a page, and return the status of the answer."""
    found = re.search(r'name="csrf" value="([^"]+)"', client.get(page).text)
    return int(client.post(path, data={"csrf": found.group(1) if found else "", **fields}).status_code)


def joined(server: TestClient, agent: str = PHONE, address: str = STRANGER) -> TestClient:
    device = at(address, server, **{"user-agent": agent})
    assert posted(device, "/join", "/join", passphrase=WORDS) == 303
    assert device.get("/").status_code == 200
    return device


def listed(client: TestClient, page: str = "/devices") -> list[str]:
    return re.findall(r"<li>.*?<b>(.*?)</b>", client.get(page).text, re.DOTALL)


def away_addresses(client: TestClient) -> list[str]:
    return re.findall(r'action="(/devices/\w+/away)"', client.get("/share").text)


@pytest.fixture
def server(tmp_path: Path) -> Iterator[TestClient]:
    client = process(tmp_path)
    yield client
    disposed(client)


def disposed(server: TestClient) -> None:
    served_by(server).state.cases.store.database.dispose()


@contextmanager
def another(folder: Path, words: str = WORDS, proxy: str | None = None) -> Iterator[TestClient]:
    client = process(folder, words, proxy)
    yield client
    disposed(client)


def test_a_device_sent_away_is_refused_at_its_next_request_and_no_other_is(server: TestClient) -> None:
    phone, laptop = joined(server), joined(server, LAPTOP)
    assert sorted(listed(server, "/share")) == ["laptop", "phone"]
    (laptop_id,) = {path.split("/")[2] for path in away_addresses(server)} - {_id(server, "phone")}
    assert posted(server, "/share", f"/devices/{laptop_id}/away") == 303
    assert (laptop.get("/").status_code, laptop.get("/").headers["location"]) == (303, "/join")
    assert laptop.get("/api/cases").status_code == 401
    assert laptop.post("/api/cases", json={"weapon": "foil"}).status_code == 401
    assert phone.get("/api/cases").status_code == 200
    assert listed(server, "/share") == ["phone"]
    assert posted(server, "/share", f"/devices/{laptop_id}/away") == 404


def _id(server: TestClient, name: str) -> str:
    return str(next(each.id for each in served_by(server).state.settings.devices.all() if each.name == name))


def test_a_device_stays_out_in_every_process_and_after_a_restart(server: TestClient, tmp_path: Path) -> None:
    phone, kept = joined(server), joined(server, LAPTOP)
    with another(tmp_path) as second:
        elsewhere = at(STRANGER, second, cookie=f"foible={phone.cookies['foible']}")
        assert elsewhere.get("/api/cases").status_code == 200
        assert posted(second, "/share", f"/devices/{_id(second, 'phone')}/away") == 303
        assert elsewhere.get("/api/cases").status_code == phone.get("/api/cases").status_code == 401
    with another(tmp_path) as restarted:
        assert at(STRANGER, restarted, cookie=f"foible={phone.cookies['foible']}").get("/api/cases").status_code == 401
        assert at(STRANGER, restarted, cookie=f"foible={kept.cookies['foible']}").get("/api/cases").status_code == 200


def test_a_page_that_stays_open_on_it_hears_no_more(server: TestClient) -> None:
    async def told() -> list[str]:
        hub, inside = Hub(), [True, False]
        line = hub.changes("case", 1, lambda: inside.pop(0))
        heard = [await anext(line)]
        for version in (2, 3):
            hub.tell("case", version)
            heard += [await asyncio.wait_for(anext(line, "the end"), NET_S)]
        return heard

    with ThreadPoolExecutor(1) as aside:  # the browser tests may have left a loop running in this thread
        assert aside.submit(asyncio.run, told()).result() == ["data: 1\n\n", "data: 2\n\n", "the end"]
    phone = joined(server)
    scope = {"type": "http", "client": (STRANGER, 1), "headers": [], "session": {"joined": _id(server, "phone")}}
    settings = served_by(server).state.settings
    scope["session"] |= {"in": settings.ticket}  # type: ignore[operator]
    assert may_ask(scope, settings)
    assert posted(phone, "/devices", "/devices/leave") == 303
    assert not may_ask(scope, settings)


def test_a_device_leaves_by_itself_and_joins_again(server: TestClient) -> None:
    phone = joined(server)
    cookie = phone.cookies["foible"]
    assert posted(phone, "/devices", "/devices/leave") == 303
    assert phone.get("/").headers["location"] == "/join"
    assert at(STRANGER, server, cookie=f"foible={cookie}").get("/").status_code == 303, "nor does a cookie that was kept"
    assert listed(server, "/share") == []
    assert posted(phone, "/join", "/join", passphrase=WORDS) == 303
    assert listed(phone) == ["phone"]


def test_a_device_has_the_name_that_it_gives_itself(server: TestClient) -> None:
    phone, other = joined(server), joined(server)
    assert sorted(listed(server)) == ["phone", "phone 2"]
    name = "Zoë’s “<b>” phone 🤺"
    assert posted(phone, "/devices", "/devices/name", called=f"  {name} ") == 303
    assert sorted(listed(other)) == ["Zoë’s “&lt;b&gt;” phone 🤺", "phone 2"]
    assert posted(phone, "/devices", "/devices/name", called="x" * 41) == 422
    assert posted(phone, "/devices", "/devices/name", called="\x1b[31m") == 422
    assert posted(phone, "/devices", "/devices/name", called=" ") == 303
    assert sorted(listed(server)) == ["Zoë’s “&lt;b&gt;” phone 🤺", "phone 2"]
    assert posted(phone, "/devices", "/devices/name", called="🤺" * 40) == 303
    assert "🤺" * 40 in listed(server)


def test_the_code_to_join_fills_its_place(server: TestClient) -> None:
    """Without a viewBox the drawing of the code does not grow with its place (SVG 2, 8.2), and no camera reads it."""
    code = re.search(r"<svg[^>]*>", server.get("/share").text)
    assert code
    assert "viewBox=" in code.group()
    assert not re.search(r"(width|height)=", code.group())


def test_joining_again_makes_no_second_device(server: TestClient) -> None:
    phone = joined(server)
    assert posted(phone, "/join", "/join", passphrase=WORDS) == 303
    assert listed(server) == ["phone"]


def test_only_this_machine_sends_others_away(server: TestClient, tmp_path: Path) -> None:
    phone, other = joined(server), joined(server, LAPTOP)
    assert "/away" not in phone.get("/devices").text
    assert posted(phone, "/devices", f"/devices/{_id(server, 'laptop')}/away") == 403
    assert at(STRANGER, server).get("/devices").headers["location"] == "/join"
    assert other.get("/").status_code == 200
    with another(tmp_path, proxy=PROXY) as behind:
        assert posted(behind, "/join", f"/devices/{_id(server, 'laptop')}/away") == 303, "nobody is at this machine"
        assert other.get("/").status_code == 200


def test_a_start_that_fails_leaves_the_devices_of_the_running_server_alone(server: TestClient, tmp_path: Path) -> None:
    """A second `foible serve --share` by mistake has another passphrase, and finds the port in use."""
    phone = joined(server)
    with socket.socket() as running:
        running.bind(("0.0.0.0", 0))  # noqa: S104 — as a server that others may join
        running.listen()
        options = ServeOptions(running.getsockname()[1], share=True, tls=True, browse=False, copies=0)
        with pytest.raises(InputError, match="cannot be used"):
            _serve(options, f"sqlite:///{tmp_path / 'records.db'}")
    assert phone.get("/api/cases").status_code == 200
    assert not (tmp_path / "records.db.tls.pem").exists()


def test_a_folder_that_is_gone_is_made_anew_and_one_that_cannot_be_is_told(server: TestClient, tmp_path: Path) -> None:
    phone, folder = joined(server), tmp_path / "records.db.devices"
    shutil.rmtree(folder)
    assert phone.get("/api/cases").status_code == 401
    assert posted(phone, "/join", "/join", passphrase=WORDS) == 303
    shutil.rmtree(folder)
    folder.write_text("a file in its place")
    assert posted(phone, "/join", "/join", passphrase=WORDS) == 503
    assert phone.get("/api/cases").status_code == 401


def test_with_another_passphrase_all_have_to_join_again(server: TestClient, tmp_path: Path) -> None:
    phone = joined(server)
    with another(tmp_path, "anvil ferry walnut") as other:
        assert at(STRANGER, other, cookie=f"foible={phone.cookies['foible']}").get("/").status_code == 303
        assert listed(other, "/share") == []


def test_a_clock_put_back_ends_nobodys_session_and_time_forgets_who_stayed_away(tmp_path: Path) -> None:
    now = datetime(2026, 10, 3, 12, tzinfo=UTC)
    devices = Devices(tmp_path, "one", clock=lambda: now)
    phone = devices.join("phone")
    now -= timedelta(days=4_000)
    assert devices.welcome(phone)
    assert devices.join("laptop")
    assert devices.one(phone)
    seen = devices.one(phone)
    assert seen
    assert (seen.joined.year, seen.seen) == (2026, now)
    now += STAYS + timedelta(minutes=1)
    tablet = devices.join("tablet")
    assert [each.id for each in devices.all()] == [tablet]
    assert not devices.welcome(phone)


def test_a_session_begun_before_the_clock_was_put_back_goes_on(server: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    """Signed an hour ahead of now, as it looks once the clock has been put back by one."""
    now = time.time()
    monkeypatch.setattr(TimestampSigner, "get_timestamp", lambda _: int(now + 3_600))
    phone = joined(server)
    monkeypatch.undo()
    assert phone.get("/api/cases").status_code == 200
    assert posted(phone, "/devices", "/devices/name", called="the same") == 303


def test_when_a_device_was_seen_is_noted_once_a_minute(tmp_path: Path) -> None:
    now = datetime(2026, 10, 3, 12, tzinfo=UTC)
    devices = Devices(tmp_path, clock=lambda: now)
    phone = devices.join("phone")
    seen = []
    for _ in range(13):
        assert devices.welcome(phone)
        seen.append(devices.all()[0].seen)
        now += timedelta(seconds=10)
    assert len(set(seen)) == 3


@pytest.mark.parametrize(
    "name", ["", "../r.db.key", "0" * 15, "0" * 16, "g" * 16, "0" * 16 + "\n", None, 7, ["0" * 16]], ids=repr
)
def test_nothing_else_is_a_device(tmp_path: Path, name: object) -> None:
    assert not Devices(tmp_path).welcome(name)


def test_a_file_that_is_no_device_lets_nobody_in_who_lists(tmp_path: Path) -> None:
    devices = Devices(tmp_path / "d", "one")
    (tmp_path / "d").mkdir()
    for number, left in enumerate((b"", b"{}", b"\xff", b'{"joined": 7}')):
        (tmp_path / "d" / f"{number:016}").write_bytes(left)
    phone = devices.join("phone")
    assert [each.id for each in devices.all()] == [phone] == [path.name for path in (tmp_path / "d").iterdir()]
    assert (tmp_path / "d" / phone).stat().st_mode & 0o077 == 0


def test_there_is_an_end_to_how_many_join(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert MOST >= 200
    monkeypatch.setattr("foible.web.devices.MOST", 3)
    devices = Devices(tmp_path)
    ids = {devices.join("phone") for _ in range(3)}
    with pytest.raises(InputError, match="3 devices have joined already — send some of them away"):
        devices.join("phone")
    assert devices.send_away(ids.pop())
    assert devices.join("phone")


def test_where_nothing_can_be_kept_devices_stay_until_the_end(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    devices = Devices.opened(tmp_path / "nowhere" / "devices", "one")
    assert "cannot be kept" in capsys.readouterr().err
    assert devices.welcome(devices.join("phone"))


def test_the_terminal_lists_devices_and_sends_them_away(
    server: TestClient, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    phone, laptop = joined(server), joined(server, LAPTOP)
    data = str(tmp_path / "records.db")
    list_devices(data=data)
    assert sorted(re.findall(r"^\w{6}  (\w+), joined", capsys.readouterr().out, re.MULTILINE)) == ["laptop", "phone"]
    with pytest.raises(InputError, match=r"there is no device called “tablet” — there is (laptop, phone|phone, laptop)"):
        list_devices(send_away=["tablet"], data=data)
    list_devices(send_away=["phone", _id(server, "laptop")[:6]], data=data)
    assert "No device has joined." in capsys.readouterr().out
    assert phone.get("/api/cases").status_code == laptop.get("/api/cases").status_code == 401


@pytest.mark.parametrize(
    ("agent", "kind"),
    [
        (PHONE, "phone"),
        ("Mozilla/5.0 (iPhone; CPU iPhone OS 18_5 like Mac OS X) Mobile/15E148", "phone"),
        ("Mozilla/5.0 (Linux; Android 10; K) AppleWebKit/537.36 Safari/537.36", "tablet"),
        ("Mozilla/5.0 (iPad; CPU OS 18_5 like Mac OS X)", "tablet"),
        (LAPTOP, "laptop"),
        ("Mozilla/5.0 (Macintosh; Intel Mac OS X 10_15_7)", "laptop"),
        ("Mozilla/5.0 (Windows NT 10.0; Win64; x64)", "laptop"),
        ("a program", "device"),
        ("", "device"),
    ],
)
def test_a_name_to_begin_with_tells_the_kind_of_device_and_no_more(agent: str, kind: str) -> None:
    """By the forms of the header that the browsers of 2026 send, from memory."""
    assert kind_of(agent) == kind


@pytest.mark.parametrize(("scheme", "proxied", "secure"), [("http", "", False), ("https", "", True), ("http", "https", True)])
def test_a_cookie_that_came_by_tls_goes_by_nothing_else(tmp_path: Path, scheme: str, proxied: str, *, secure: bool) -> None:
    with another(tmp_path, proxy=PROXY if proxied else None) as server:
        told = {"x-forwarded-proto": proxied, "x-forwarded-for": STRANGER} if proxied else {}
        client = TestClient(FromHere(served_by(server), PROXY), base_url=f"{scheme}://localhost", headers=told)
        cookie = client.get("/join").headers["set-cookie"]
    assert ("; secure" in cookie) is secure
    assert cookie.startswith("__Host-foible=" if secure else "foible=")
    assert "httponly; samesite=strict" in cookie
