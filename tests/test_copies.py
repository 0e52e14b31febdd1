"""Copies of the records: one whole file made while others write, checked before it is believed, put back as it was."""

from __future__ import annotations

import shutil
import sqlite3
import threading
import zipfile
from contextlib import closing
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

import pytest
from typer.testing import CliRunner

from foible.cli.main import command
from foible.errors import InputError, KeepingError
from foible.records import CaseStore, Database, EntryKind, NewCase, NewEntry, postgresql_tools
from foible.services.copying import back_up, check, restore
from foible.services.daily import DailyCopies

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from postgres import Server

NOW = datetime(2026, 10, 3, 9, tzinfo=UTC)


@pytest.fixture
def store(database_url: str, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Iterator[CaseStore]:
    """Return three kept cases with photos, in a database of each kind."""
    monkeypatch.setenv("FOIBLE_PHOTOS", str(tmp_path / "photos"))
    (tmp_path / "photos").mkdir()
    (tmp_path / "photos" / "a.jpg").write_bytes(b"a clip")
    made = CaseStore(Database(database_url), clock=lambda: NOW)
    for number in range(3):
        case = made.open(NewCase("foil", f"White {number}"))
        made.add(case.id, NewEntry(EntryKind.SKIP, "a", say="press the left point"))
    yield made
    made.database.dispose()


@pytest.fixture
def elsewhere(database_url: str, request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """Return the URL of an empty place of the same kind."""
    if database_url.startswith("sqlite"):
        yield f"sqlite:///{tmp_path / 'elsewhere.db'}"
        return
    server: Server = request.getfixturevalue("postgresql")
    with server.database() as url:
        yield url


def titles(url: str) -> dict[str, str]:
    database = Database(url)
    try:
        return {head.id: head.title for head in CaseStore(database, clock=lambda: NOW).heads().rows}
    finally:
        database.dispose()


def test_a_copy_put_back_elsewhere_holds_the_same(
    store: CaseStore, database_url: str, elsewhere: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    del store
    copy = tmp_path / "copy.zip"
    made = back_up(database_url, copy, now=NOW)
    assert (made.contents.cases, made.contents.entries, made.photos) == (3, 3, ("a.jpg",))
    assert not check(str(copy)).faults
    assert not check(database_url).faults
    monkeypatch.setenv("FOIBLE_PHOTOS", str(tmp_path / "photos elsewhere"))
    restore(copy, elsewhere)
    assert titles(elsewhere) == titles(database_url)
    assert (tmp_path / "photos elsewhere" / "a.jpg").read_bytes() == b"a clip"
    with pytest.raises(InputError, match=r"already"):
        restore(copy, elsewhere)


def test_a_copy_made_while_answers_come_in_is_of_one_moment(tmp_path: Path) -> None:
    """Two lines are added to a case in each change, so that an uneven count would be half a change."""
    url = f"sqlite:///{tmp_path / 'records.db'}"
    store = CaseStore(Database(url), clock=lambda: NOW)
    case, stop = store.open(NewCase("foil", "White")).id, threading.Event()

    def write() -> None:
        number = 0
        while not stop.is_set():
            store.add(case, *(NewEntry(EntryKind.SKIP, f"{number}{half}", say="press") for half in "ab"))
            number += 1

    writer = threading.Thread(target=write)
    writer.start()
    try:
        counts = [back_up(url, tmp_path / f"{number}.zip").contents.entries for number in range(5)]
    finally:
        stop.set()
        writer.join()
    store.database.dispose()
    assert not any(count % 2 for count in counts)
    assert counts == sorted(counts)
    assert counts[-1] > 0
    assert all(not check(str(tmp_path / f"{number}.zip")).faults for number in range(5))


def test_what_is_in_the_place_is_set_aside_and_never_while_it_is_in_use(tmp_path: Path) -> None:
    url = f"sqlite:///{tmp_path / 'records.db'}"
    store = CaseStore(Database(url), clock=lambda: NOW)
    store.open(NewCase("foil", "Before"))
    back_up(url, tmp_path / "copy.zip")
    later = store.open(NewCase("foil", "Later")).id
    with pytest.raises(InputError, match="is in use — stop Foible first"):
        restore(tmp_path / "copy.zip", url, replace=True)
    store.database.dispose()
    _, aside = restore(tmp_path / "copy.zip", url, replace=True, now=NOW)
    assert aside is not None
    assert later in titles(f"sqlite:///{aside}")
    assert list(titles(url).values()) == ["Before"]


def test_answers_beside_the_file_do_not_leak_into_what_is_put_back(tmp_path: Path) -> None:
    """A `-wal` left by a kill would be read as part of whatever lies under its name."""
    path, killed = tmp_path / "records.db", tmp_path / "killed"
    killed.mkdir()
    store = CaseStore(Database(f"sqlite:///{path}"), clock=lambda: NOW)
    store.open(NewCase("foil", "Before"))
    back_up(f"sqlite:///{path}", tmp_path / "copy.zip")
    store.open(NewCase("foil", "In the file beside it"))
    for each in (path, path.with_name("records.db-wal")):
        shutil.copy(each, killed)
    store.database.dispose()
    url = f"sqlite:///{killed / 'records.db'}"
    _, aside = restore(tmp_path / "copy.zip", url, replace=True, now=NOW)
    assert list(titles(url).values()) == ["Before"]
    assert len(titles(f"sqlite:///{aside}")) == 2, "nothing is lost with what is set aside"


DAMAGES: dict[str, Callable[[bytes], bytes]] = {
    "cut short": lambda raw: raw[: len(raw) // 2],
    "empty": lambda raw: raw[:0],
    "a bit turned": lambda raw: raw[:200] + bytes([raw[200] ^ 1]) + raw[201:],
    "something else": lambda raw: b"PK" + b"\0" * len(raw),
}


@pytest.mark.parametrize("damage", DAMAGES)
def test_a_damaged_copy_is_said_to_be_so_and_not_put_anywhere(tmp_path: Path, damage: str) -> None:
    url, copy = f"sqlite:///{tmp_path / 'records.db'}", tmp_path / "copy.zip"
    Database(url).dispose()
    back_up(url, copy)
    copy.write_bytes(DAMAGES[damage](copy.read_bytes()))
    assert check(str(copy)).faults
    with pytest.raises(InputError, match="is not whole"):
        restore(copy, f"sqlite:///{tmp_path / 'elsewhere.db'}")
    assert not (tmp_path / "elsewhere.db").exists()


@pytest.mark.parametrize("name", ["../evil", "/evil", "photos/../../evil", "other.txt"])
def test_a_copy_writes_nothing_outside_its_place(tmp_path: Path, name: str) -> None:
    url, copy = f"sqlite:///{tmp_path / 'records.db'}", tmp_path / "copy.zip"
    Database(url).dispose()
    back_up(url, copy)
    changed = tmp_path / "changed.zip"
    with zipfile.ZipFile(copy) as before, zipfile.ZipFile(changed, "w") as after:
        for member in before.namelist():
            about = before.read(member).replace(b'"members": {', f'"members": {{"{name}": "0",'.encode())
            after.writestr(member, about)
        after.writestr(name, b"x")
    assert "does not belong there" in check(str(changed)).faults[0]


def test_a_database_with_a_damaged_page_is_not_whole(tmp_path: Path) -> None:
    path = tmp_path / "records.db"
    Database(f"sqlite:///{path}").dispose()
    with closing(sqlite3.connect(path)) as made:
        made.execute("PRAGMA journal_mode = DELETE")
    with path.open("r+b") as file:
        file.seek(4096)
        file.write(b"\xff" * 4096)
    assert check(str(path)).faults
    with pytest.raises(KeepingError, match="could not be"):
        back_up(f"sqlite:///{path}", tmp_path / "copy.zip")
    assert not (tmp_path / "copy.zip").exists()


def test_without_the_tools_of_postgresql_that_is_said(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr("shutil.which", lambda _: None)
    monkeypatch.setattr(postgresql_tools, "Path", lambda _: tmp_path)
    with pytest.raises(InputError, match=r"pg_dump, PostgreSQL's own tool for copies, is not installed here — install"):
        back_up("postgresql://127.0.0.1:1/foible", tmp_path / "copy.zip")


def test_each_day_has_its_copy_and_the_oldest_goes(tmp_path: Path) -> None:
    url, now = f"sqlite:///{tmp_path / 'records.db'}", NOW
    Database(url).dispose()
    (tmp_path / "photos of ours").mkdir()
    (tmp_path / "photos of ours" / "a.jpg").write_bytes(b"a clip")
    daily = DailyCopies(url, tmp_path / "copies", keep=3, photos=str(tmp_path / "photos of ours"), clock=lambda: now)
    mine = tmp_path / "copies" / "records-of-mine.zip"
    for _ in range(5):
        assert daily.look()
        assert daily.look() is None, "one a day"
        mine.touch()
        now += timedelta(days=1)
    assert [path.name[-14:-4] for path in daily.there()] == ["2026-10-07", "2026-10-06", "2026-10-05"]
    assert mine.exists()
    assert not check(str(daily.there()[0])).faults
    assert check(str(daily.there()[0])).photos == 1


def test_photos_that_lie_elsewhere_are_copied_counted_and_put_back_elsewhere(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("FOIBLE_PHOTOS", raising=False)
    data, album, copy = tmp_path / "records.db", tmp_path / "album", tmp_path / "copy.zip"
    album.mkdir()
    (album / "a.jpg").write_bytes(b"a clip")
    CaseStore(Database(f"sqlite:///{data}"), clock=lambda: NOW).database.dispose()

    def said(*words: object) -> str:
        return CliRunner().invoke(command, [str(word) for word in words]).output

    assert "1 photo file" in said("backup", copy, "--data", data, "--photos", album)
    assert "photo file" not in said("check", data)
    assert "1 photo file" in said("check", data, "--photos", album)
    assert "1 photo file" in said("restore", copy, "--data", tmp_path / "b.db", "--photos", tmp_path / "other")
    assert (tmp_path / "other" / "a.jpg").read_bytes() == b"a clip"
    assert not (tmp_path / "b.db.photos").exists()


def test_the_commands_say_what_they_did(tmp_path: Path) -> None:
    data, copy = tmp_path / "records.db", tmp_path / "copy.zip"
    store = CaseStore(Database(f"sqlite:///{data}"), clock=lambda: NOW)
    store.open(NewCase("foil", "White"))
    store.database.dispose()

    def said(*words: object) -> tuple[int, str]:
        result = CliRunner().invoke(command, [str(word) for word in words])
        return result.exit_code, result.output

    assert said("backup", copy, "--data", data) == (0, f"1 case copied to {copy}.\n")
    code, text = said("check", copy)
    assert code == 0
    assert "1 case, last changed 2026-10-03 09:00 UTC; tables at step" in text
    assert text.endswith("Whole.\n")
    assert said("restore", copy, "--data", tmp_path / "b.db") == (0, f"1 case restored from {copy}.\n")
    copy.write_bytes(copy.read_bytes()[:-30])
    code, text = said("check", copy)
    assert code == 1
    assert "Not whole: " in text
