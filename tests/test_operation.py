"""Looking after a Foible: its log, the check for a watching program, the page of what is kept where, the files that start it."""

from __future__ import annotations

import json
import logging
import re
import sqlite3
import tomllib
from contextlib import closing
from datetime import UTC, datetime
from importlib.util import module_from_spec, spec_from_file_location
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from typer.testing import CliRunner

from client import FromHere, TestClient
from foible import __version__
from foible.cli.main import command
from foible.errors import InputError
from foible.records import CaseStore, Database, NewCase
from foible.services.cases import Cases
from foible.services.daily import DailyCopies
from foible.web import Settings, create_app
from foible.web.request_log import keep_log
from foible.web.settings import Passphrase
from usual import REASONING

if TYPE_CHECKING:
    from collections.abc import Iterator

ROOT = Path(__file__).parents[1]
SAID = "Ysabeau of Lanternfield says her guard smells of vinegar"
"""A sentence that nobody else would write; invented."""


@pytest.fixture
def cases(database_url: str) -> Iterator[Cases]:
    made = Cases(REASONING, CaseStore(Database(database_url), clock=lambda: datetime(2026, 10, 3, 9, tzinfo=UTC)))
    yield made
    made.store.database.dispose()


@pytest.fixture
def here(cases: Cases) -> Iterator[TestClient]:
    with TestClient(FromHere(create_app(cases, Settings(hosts=("testserver",))))) as made:
        yield made


@pytest.fixture
def stranger(cases: Cases) -> Iterator[TestClient]:
    settings = Settings(hosts=("testserver",), passphrase=Passphrase.of("seven candles in a boat"), join="http://h/join#seven")
    with TestClient(FromHere(create_app(cases, settings), "192.0.2.7")) as made:
        yield made


@pytest.fixture
def log(tmp_path: Path) -> Iterator[Path]:
    path = tmp_path / "foible.log"
    handler = keep_log(str(path))
    yield path
    handler.close()
    for name in ("foible.requests", "foible.changes"):
        logging.getLogger(name).handlers = []
        logging.getLogger(name).setLevel(logging.NOTSET)


def lines(path: Path) -> list[dict[str, Any]]:
    return [json.loads(line) for line in path.read_text(encoding="utf-8").splitlines()]


# --- the log ----------------------------------------------------------------------------------------------------------


def test_each_request_and_each_change_is_one_line_and_nothing_that_was_said(here: TestClient, log: Path, cases: Cases) -> None:
    form = here.get("/new/foil").text
    csrf = re.findall(r'name="csrf" value="([^"]*)"', form)[0]
    case = cases.store.open(NewCase("foil", SAID)).id
    about = {"csrf": csrf, "title": SAID, "fencer": "Ysabeau"}
    for _ in range(2):  # the second changes nothing
        assert here.post(f"/cases/{case}/about", data=about, follow_redirects=False).status_code == 303
    here.get(f"/?words={SAID}")
    here.get(f"/cases/{SAID}")
    written = lines(log)
    requests = [line for line in written if line["what"] == "request"]
    assert [(line["method"], line["route"], line["status"]) for line in requests] == [
        ("GET", "/new/{word}", 200),
        ("POST", "/cases/{name}/about", 303),
        ("POST", "/cases/{name}/about", 303),
        ("GET", "/", 200),
        ("GET", "/cases/{name}", 404),
    ]
    devices = {line["device"] for line in requests}
    assert all(re.fullmatch(r"[0-9a-f]{6}", device) for device in devices)
    assert all(0 < line["ms"] < 60_000 for line in requests)
    assert all(datetime.fromisoformat(line["at"]).tzinfo for line in written)
    changes = [line for line in written if line["what"] == "change"]
    assert [(line["case"], line["kind"]) for line in changes] == [(case, "opened"), (case, "described")]
    text = log.read_text(encoding="utf-8")
    assert not any(word in text for word in (*SAID.split()[:1], "vinegar", csrf, *here.cookies.values()))


def test_a_request_that_is_refused_is_logged_without_its_address(stranger: TestClient, log: Path) -> None:
    assert stranger.get(f"/cases/{SAID}", follow_redirects=False).status_code == 303
    assert [(line["route"], line["status"]) for line in lines(log)] == [(None, 303)]
    assert "vinegar" not in log.read_text(encoding="utf-8")


def test_a_fault_of_our_own_is_logged_as_one(cases: Cases, log: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: object, **__: object) -> None:
        raise RuntimeError(SAID)

    monkeypatch.setattr(CaseStore, "heads", broken)
    app = FromHere(create_app(cases, Settings(hosts=("testserver",))))
    with TestClient(app, raise_server_exceptions=False) as asked:
        assert asked.get("/").status_code == 500
    assert [(line["route"], line["status"]) for line in lines(log)] == [("/", 500)]
    assert "vinegar" not in log.read_text(encoding="utf-8")


def test_a_log_that_is_moved_away_is_begun_anew(here: TestClient, log: Path) -> None:
    here.get("/help")
    log.rename(log.with_suffix(".1"))
    here.get("/help")
    assert len(lines(log)) == len(lines(log.with_suffix(".1"))) == 1


def test_a_log_that_cannot_be_written_keeps_nobody_from_being_answered(here: TestClient, log: Path) -> None:
    log.unlink()
    log.mkdir()
    assert here.get("/help").status_code == 200


def test_a_log_in_a_place_that_there_is_not_is_refused_at_the_start(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"cannot be written.*--log"):
        keep_log(str(tmp_path / "nowhere" / "log"))


# --- health -----------------------------------------------------------------------------------------------------------


def test_a_watching_program_is_told_that_all_is_well_without_joining(stranger: TestClient) -> None:
    answer = stranger.get("/health")
    assert (answer.status_code, answer.json()) == (200, {"ok": True, "wrong": None})
    assert stranger.get("/this-foible", follow_redirects=False).headers["location"] == "/join"


def test_what_is_wrong_is_told_without_a_place_or_a_name(cases: Cases, monkeypatch: pytest.MonkeyPatch) -> None:
    told = []
    with TestClient(FromHere(create_app(cases, Settings(hosts=("testserver",))))) as asked:
        monkeypatch.setattr("shutil.disk_usage", lambda _: type("Usage", (), {"free": 1_000_000}))
        told.append(asked.get("/health"))
    monkeypatch.undo()
    with TestClient(FromHere(create_app(cases, Settings(hosts=("testserver",))))) as asked:
        monkeypatch.setattr(Database, "takes_changes", lambda _: False)
        told.append(asked.get("/health"))
    assert {answer.status_code for answer in told[1:]} == {503}
    assert told[1].json() == {"ok": False, "wrong": "the records cannot be written to"}
    if cases.store.database.path:
        assert (told[0].status_code, told[0].json()["wrong"]) == (503, "the disk is nearly full")


def test_a_lock_that_is_kept_is_not_healthy(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("foible.records.database.BUSY_MS", 100)
    database = Database(f"sqlite:///{tmp_path / 'records.db'}")
    assert database.takes_changes()
    with closing(sqlite3.connect(tmp_path / "records.db", isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        assert not database.takes_changes()
    assert database.takes_changes()
    database.dispose()


def test_records_that_are_taken_away_are_not_healthy(tmp_path: Path) -> None:
    path = tmp_path / "records.db"
    cases = Cases(REASONING, CaseStore(Database(f"sqlite:///{path}"), clock=lambda: datetime(2026, 10, 3, tzinfo=UTC)))
    path.rename(tmp_path / "elsewhere.db")
    assert not cases.store.database.takes_changes()
    with TestClient(FromHere(create_app(cases, Settings(hosts=("testserver",))))) as asked:
        answer = asked.get("/health")
    assert (answer.status_code, answer.json()["wrong"]) == (503, "the records cannot be read")
    assert str(tmp_path) not in answer.text
    cases.store.database.dispose()


# --- this Foible ------------------------------------------------------------------------------------------------------


def test_the_page_of_this_foible_tells_where_things_are_on_this_machine_alone(
    cases: Cases, tmp_path: Path, database_url: str
) -> None:
    cases.store.open(NewCase("foil", "White"))
    app = create_app(cases, Settings(hosts=("testserver",)))
    place = cases.store.database.place
    if database_url.startswith("sqlite"):
        app.state.daily = DailyCopies(database_url, tmp_path / "copies")
        app.state.daily.look()
    with TestClient(FromHere(app)) as asked:
        page = asked.get("/this-foible").text
    assert __version__ in page
    assert f"{cases.store.database.kind}" in page
    assert "1 case" in page
    assert place in page
    if database_url.startswith("sqlite"):
        assert "1 copy, the last of" in page
        assert str(tmp_path / "copies") in page
    app.state.settings = Settings(hosts=("testserver",), passphrase=Passphrase.of("seven candles in a boat"))
    elsewhere = TestClient(FromHere(create_app(cases, Settings(hosts=("testserver",), proxy="192.0.2.1")), "192.0.2.7"))
    assert str(tmp_path) not in elsewhere.get("/this-foible").text


def test_pages_are_stored_nowhere_and_carry_what_protects_them(here: TestClient) -> None:
    """OWASP Secure Headers, from memory: what keeps a page from being framed, sniffed, stored or given scripts."""
    for path in ("/", "/help", "/health", "/cases/nosuch", "/api/cases"):
        headers = here.get(path).headers
        assert headers["cache-control"] == "no-store"
        assert headers["x-content-type-options"] == "nosniff"
        assert headers["x-frame-options"] == "DENY"
        assert "default-src 'none'" in headers["content-security-policy"]
        assert "server" not in headers


def test_the_page_of_this_foible_counts_the_devices_that_joined(cases: Cases) -> None:
    settings = Settings(hosts=("testserver",), passphrase=Passphrase.of("seven candles in a boat"))
    with TestClient(FromHere(create_app(cases, settings))) as asked:
        assert "none has joined yet" in asked.get("/this-foible").text
        settings.devices.join("a phone")
        assert "1 device joined" in asked.get("/this-foible").text


# --- the files that start it ------------------------------------------------------------------------------------------


def options() -> set[str]:
    return set(re.findall(r"--[a-z-]+", CliRunner().invoke(command, ["serve", "--help"], terminal_width=200).output))


def test_the_service_file_and_the_container_file_name_options_that_there_are() -> None:
    unit = re.findall(r"^ExecStart=(.*)$", (ROOT / "docs" / "operation.md").read_text(encoding="utf-8"), re.MULTILINE)
    container = (ROOT / "Containerfile").read_text(encoding="utf-8")
    entry = re.findall(r"^(?:ENTRYPOINT|CMD) (\[.*\])$", container, re.MULTILINE)
    assert len(unit) == 1
    assert len(entry) == 2
    named = set(re.findall(r"--[a-z-]+", " ".join([*unit, *entry])))
    assert named
    assert named <= options()
    assert all(json.loads(each) for each in entry)


def test_an_audit_that_could_not_compare_anything_is_not_good_news() -> None:
    spec = spec_from_file_location("audit", ROOT / ".ci" / "audit.py")
    assert spec
    assert spec.loader
    audit = module_from_spec(spec)
    spec.loader.exec_module(audit)
    skipped: dict[str, Any] = {"name": "a", "skip_reason": "not found"}
    fine: dict[str, Any] = {"name": "b", "version": "1", "vulns": []}
    weak: dict[str, Any] = {"name": "c", "version": "2", "vulns": [{"id": "X-2026-1"}]}

    def told(*packages: dict[str, Any]) -> str:
        return str(audit.told(json.dumps({"dependencies": packages}), ""))

    assert "not compared" in audit.told("", "no network")
    assert "not compared" in told(skipped)
    assert told(skipped, fine) == "1 of 2 packages compared, no weakness is known of them"
    assert told(fine, weak).splitlines() == ["2 of 2 packages compared", "    c 2: X-2026-1"]


def test_the_container_is_built_from_the_lock_and_runs_as_nobody_special() -> None:
    container = (ROOT / "Containerfile").read_text(encoding="utf-8")
    assert "--requirement requirements.lock" in container
    assert re.search(r"^USER (?!root|0)\w+", container, re.MULTILINE)
    assert re.search(r"^VOLUME /\w+", container, re.MULTILINE)
    copied = " ".join(re.findall(r"^COPY (?!--from)(.*) \S+$", container, re.MULTILINE)).split()
    assert copied
    assert all((ROOT / path).exists() for path in copied)
    python = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]["requires-python"]
    assert python.removeprefix(">=") <= str(re.search(r"python:(\d\.\d+)", container)[1])  # type: ignore[index]
