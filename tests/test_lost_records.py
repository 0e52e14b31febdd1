"""Records that are taken away, replaced, damaged, full or not ours to write: told at once, by the right name, with what to do."""

from __future__ import annotations

import os
import shutil
import sqlite3
from contextlib import closing
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import pytest
from sqlalchemy import event

from foible.errors import InputError, KeepingError
from foible.records import CaseStore, Database, EntryKind, NewCase, NewEntry
from foible.records.on_file import ReadingCopy
from foible.services.copying import check

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

WHITE = NewCase("foil", "White on the lamé")


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "records.db"


@pytest.fixture
def store(path: Path) -> Iterator[CaseStore]:
    opened = opened_at(path)
    yield opened
    opened.database.dispose()


@pytest.fixture
def few_rights() -> Iterator[None]:
    """Have the files of a folder judged as anybody else may use them, where the tests run as one who may do everything."""
    root = not os.getuid()
    if root:
        os.setreuid(65534, 0)
    yield
    if root:
        os.setreuid(0, 0)


def opened_at(path: Path) -> CaseStore:
    return CaseStore(Database(f"sqlite:///{path}"), clock=lambda: datetime(2026, 10, 3, tzinfo=UTC))


def answer(token: str) -> NewEntry:
    return NewEntry(EntryKind.SKIP, token, say="press the left point")


def refused(store: CaseStore, name: str) -> str:
    """Return what is told to whoever answers, and see that whoever only looks is told as well."""
    with pytest.raises(KeepingError) as told:
        store.add(name, answer("late"))
    with pytest.raises(KeepingError):
        store.case(name)
    return str(told.value)


def test_a_database_that_is_taken_away_takes_no_more_answers(path: Path, store: CaseStore) -> None:
    case = store.open(WHITE)
    path.rename(path.with_name("elsewhere.db"))
    assert "was taken away while Foible was running" in refused(store, case.id)
    assert not path.exists(), "no new one is begun in its place"
    path.with_name("elsewhere.db").rename(path)
    assert len(store.add(case.id, answer("in time")).entries) == 1, "put back, it goes on"


def test_one_that_is_replaced_takes_no_more_answers(path: Path, store: CaseStore, tmp_path: Path) -> None:
    case = store.open(WHITE)
    other = tmp_path / "other.db"
    opened_at(other).database.dispose()
    other.replace(path)
    assert "was replaced by another file while Foible was running" in refused(store, case.id)


def test_one_that_is_cut_short_takes_no_more_answers(path: Path, store: CaseStore) -> None:
    case = store.open(WHITE)
    os.truncate(path, 100)
    told = refused(store, case.id)
    assert "was cut short while Foible was running" in told
    assert "foible restore" in told


def test_one_that_is_damaged_is_called_so(path: Path, store: CaseStore) -> None:
    store.open(WHITE)
    store.database.dispose()
    with path.open("r+b") as file:
        file.write(b"not a database at all")
    with pytest.raises(KeepingError, match=r"the file is damaged.*foible check"):
        opened_at(path)


@pytest.mark.parametrize(
    "damage",
    [
        "UPDATE cases SET tools = 'no JSON'",
        "UPDATE cases SET opened = '2026-11-.8 00:01'",
        "UPDATE cases SET title = CAST(x'cd' AS TEXT)",
        "INSERT INTO alembic_version VALUES ('0001')",
    ],
    ids=["no JSON", "no time", "no text", "two versions"],
)
def test_what_is_no_longer_what_was_written_is_called_damaged(path: Path, store: CaseStore, damage: str) -> None:
    case = store.open(WHITE)
    store.database.dispose()
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute(damage)
    with pytest.raises(KeepingError, match=r"the file is damaged.*foible check"):
        opened_at(path).case(case.id)


def test_a_schema_that_is_no_text_is_called_damaged(path: Path, store: CaseStore) -> None:
    store.open(WHITE)
    store.database.dispose()
    path.write_bytes(path.read_bytes().replace(b"CREATE INDEX ix_cases", b"CREATE I\xcdDEX ix_cases", 1))
    assert check(str(path)).faults
    with pytest.raises(KeepingError, match=r"the file is damaged.*foible check"):
        opened_at(path)


def test_a_full_disk_is_called_so_and_what_was_said_before_stays(store: CaseStore) -> None:
    """SQLite counts pages as it counts a disk: SQLITE_FULL either way (SQLite documentation, "PRAGMA max_page_count")."""
    case = store.open(WHITE)
    store.database.dispose()

    @event.listens_for(store.database._engine, "connect")
    def _no_room(connection: object, _: object) -> None:
        connection.execute("PRAGMA max_page_count = 1")  # type: ignore[attr-defined]

    with pytest.raises(KeepingError, match=r"the disk is full.*make room"):
        store.open(NewCase("foil", "x" * 200, complaint="y" * 100_000))
    assert store.case(case.id) == case


def test_where_nothing_can_be_written_old_cases_are_still_looked_at(path: Path, store: CaseStore, few_rights: None) -> None:
    del few_rights
    case = store.open(WHITE)
    store.database.dispose()
    path.chmod(0o444)
    path.parent.chmod(0o555)
    before = sorted(each.name for each in path.parent.iterdir())
    reader = opened_at(path)
    try:
        assert reader.database.read_only
        assert reader.case(case.id) == case
        with pytest.raises(KeepingError, match=r"can only be read here.*allow Foible to write"):
            reader.add(case.id, answer("a"))
        assert sorted(each.name for each in path.parent.iterdir()) == before
    finally:
        reader.database.dispose()
        path.parent.chmod(0o755)


def test_an_older_database_can_be_looked_at_where_nothing_can_be_written(tmp_path: Path, few_rights: None) -> None:
    """The tables are brought up to date in the copy that is read, and in nothing else."""
    del few_rights
    from test_old_database import DATA  # noqa: PLC0415 — its data only

    path = tmp_path / "old" / "cases.sqlite"
    path.parent.mkdir()
    shutil.copy(DATA / "cases-before-names.sqlite", path)
    was = path.read_bytes()
    path.chmod(0o444)
    path.parent.chmod(0o555)
    reader = opened_at(path)
    assert reader.count() > 0
    reader.database.dispose()
    path.parent.chmod(0o755)
    assert path.read_bytes() == was
    assert ReadingCopy.needed(path)


def test_a_later_version_is_named(path: Path, store: CaseStore) -> None:
    with store.database._engine.begin() as connection:
        connection.exec_driver_sql("UPDATE alembic_version SET version_num = '9999'")
    store.database.dispose()
    with pytest.raises(InputError, match=r"written by a later version of Foible .*9999.*use that version"):
        opened_at(path)


def test_a_line_of_an_unknown_kind_keeps_no_other_case_from_being_used(store: CaseStore) -> None:
    odd, other = store.open(WHITE), store.open(WHITE)
    store.add(odd.id, answer("a"))
    with store.database._engine.begin() as connection:
        connection.exec_driver_sql("UPDATE entries SET kind = 'hologram'")
    assert {head.id for head in store.heads().rows} == {odd.id, other.id}
    assert store.case(other.id) == other
    with pytest.raises(InputError, match=r"of a kind that this Foible does not know \(“hologram”\) — use the version"):
        store.case(odd.id)
