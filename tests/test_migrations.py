"""The tables, up and down, on both kinds of database: what was kept before a step is there after it, and a cut loses nothing."""

from __future__ import annotations

import os
import shutil
import signal
import sqlite3
import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from sqlalchemy import create_engine, text

from foible.endings import CaseEnding
from foible.errors import InputError
from foible.records import Base, CaseQuery, CaseStore, Database, EntryKind, NewCase, NewEntry
from foible.records.migrating import go_back, migrate

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from datetime import datetime

    from sqlalchemy.engine import Engine

    from postgres import Server

KEPT_BEFORE = (Path(__file__).parent / "data" / "records-0001.sql").read_text(encoding="utf-8")
"""A database of three cases as Foible left it before entries had a version of the kit's names (`sqlite3.iterdump`)."""
WHITE, DARK, CUTS = "m9epxb", "c5udnv", "b8tgbc"
"""The cases in it."""


def put_back(engine: Engine) -> None:
    """Make the tables as they were then, with what was in them."""
    if engine.dialect.name == "sqlite":
        with sqlite3.connect(str(engine.url.database)) as file:
            file.executescript(KEPT_BEFORE)
        file.close()
        return
    migrate(engine, "0001")
    with engine.begin() as connection:
        for line in KEPT_BEFORE.splitlines():
            if line.startswith(('INSERT INTO "cases"', 'INSERT INTO "entries"')):
                connection.exec_driver_sql(line)
        connection.execute(text("SELECT setval(pg_get_serial_sequence('entries', 'id'), max(id)) FROM entries"))


@pytest.fixture
def engine(database_url: str) -> Iterator[Engine]:
    made = create_engine(database_url)
    yield made
    made.dispose()


def differences(engine: Engine) -> list[object]:
    """Return what the tables have otherwise than the program takes them to be."""
    with engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        return list(compare_metadata(context, Base.metadata))


def everything(engine: Engine) -> dict[str, list[dict[str, object]]]:
    """Return all rows of all tables."""
    with engine.connect() as connection:
        tables = {name: f"SELECT * FROM {name} ORDER BY id" for name in ("cases", "entries")}  # noqa: S608 — two names of ours
        return {name: [dict(row._mapping) for row in connection.execute(text(select))] for name, select in tables.items()}


def test_the_migrations_make_the_tables_that_the_program_uses(engine: Engine) -> None:
    migrate(engine)
    assert differences(engine) == []


def test_a_case_kept_before_opens_and_goes_on(database_url: str, engine: Engine, clock: Callable[[], datetime]) -> None:
    put_back(engine)
    database = Database(database_url)
    store = CaseStore(database, clock=clock)
    white = store.case(WHITE)
    assert (white.title, white.place, white.item, white.tools, white.version) == (
        "Lanternfield Autumn Open (invented), piste 3: it goes white, and I never hit anything",
        "bench",
        "left weapon",
        ("meter",),
        6,
    )
    assert [(each.number, each.kind, each.names, each.taken_back) for each in white.entries] == [
        (1, EntryKind.TRIAL, 0, False),
        (2, EntryKind.TRIAL, 0, True),
        (3, EntryKind.TRIAL, 0, False),
        (4, EntryKind.SKIP, 0, False),
    ]
    assert white.entries[0].trial == {"move": ["fence left"], "saw": ["left white flickers"]}
    assert (white.fitted, white.known_good, white.profile, white.source, white.expect) == ({}, (), None, "", None)
    assert store.case(CUTS).closed
    assert (store.case(CUTS).ending, store.case(CUTS).ended_with) == (None, ()), "how it ended was not kept then"
    assert [head.id for head in store.heads(CaseQuery("EPEE club")).rows] == [DARK], "what was kept before is found too"
    assert [head.trials for head in store.heads().rows] == [1, 0, 2]
    again = store.open(NewCase("foil", "White", token="opened-1"), [NewEntry(EntryKind.TRIAL, "opened-1")])
    assert again.id == WHITE, "the form that opened a case before the step still opens no second one"
    assert store.add(DARK, NewEntry(EntryKind.SKIP, "a", names=3)).entries[-1].names == 3
    database.dispose()
    assert differences(engine) == []


def test_the_way_back_leaves_what_was_kept_before(engine: Engine) -> None:
    put_back(engine)
    before = everything(engine)
    migrate(engine)
    after = everything(engine)
    assert all(old.items() <= new.items() for name in before for old, new in zip(before[name], after[name], strict=True))
    go_back(engine, "0001")
    assert everything(engine) == before
    migrate(engine)
    assert everything(engine) == after
    assert differences(engine) == []
    go_back(engine, "base")
    migrate(engine)
    assert everything(engine) == {"cases": [], "entries": []}


def test_endings_are_left_behind_on_the_way_back(database_url: str, engine: Engine, clock: Callable[[], datetime]) -> None:
    """An earlier Foible does not know what was said of an ending; the case stays closed, and what was tried stays."""
    database = Database(database_url)
    store = CaseStore(database, clock=clock)
    case = store.open(NewCase("foil", "White"), [NewEntry(EntryKind.TRIAL, "a")])
    store.end(case.id, NewEntry(EntryKind.END, "b", say="closed: out of use"), CaseEnding.OUT_OF_USE, ["left weapon"])
    database.dispose()
    go_back(engine, "0003")
    assert [entry["kind"] for entry in everything(engine)["entries"]] == ["trial"]
    migrate(engine)
    (row,) = everything(engine)["cases"]
    assert row["closed"] is not None
    assert row["ending"] is None


def test_what_a_later_foible_has_kept_is_left_alone(database_url: str, engine: Engine) -> None:
    migrate(engine)
    with engine.begin() as connection:
        connection.execute(text("UPDATE alembic_version SET version_num = '9999'"))
    with pytest.raises(InputError, match=r"written by a later version of Foible .*step 9999.* — use that version"):
        Database(database_url)


CUT = """
import os, shutil, signal, sys
from pathlib import Path
from sqlalchemy import event
from sqlalchemy.engine import Engine
from foible.records import Database

folder, killed_before, count = Path(sys.argv[1]), int(sys.argv[2]), 0

@event.listens_for(Engine, "before_cursor_execute")
def cut(connection, cursor, statement, *_):
    # The files are copied as a kill before this statement leaves them; before the one that is named, we are killed.
    global count
    if killed_before < 0:
        for file in folder.glob("now.db*"):
            if not file.name.endswith("-shm"):
                shutil.copy(file, folder / file.name.replace("now", str(count)))
    elif count == killed_before:
        os.kill(os.getpid(), signal.SIGKILL)
    count += 1

Database(f"sqlite:///{folder}/now.db")
print(count, flush=True)
os._exit(0)
"""
KILLS = 8
"""How often the migration is really killed, beside the copies of what a kill before each statement leaves."""


def cut_in(folder: Path, killed_before: int, name: str | None = None) -> subprocess.CompletedProcess[str]:
    """Migrate a copy of before.db, killed before a statement or with copies before each (-1); name its files after."""
    shutil.copy(folder / "before.db", folder / "now.db")
    words = [sys.executable, "-c", CUT, str(folder), str(killed_before)]
    done = subprocess.run(words, check=False, capture_output=True, text=True, env=os.environ, timeout=120)  # noqa: S603 — our own words
    for file in folder.glob("now.db*"):
        file.rename(folder / file.name.replace("now", name or done.stdout.strip()))
    return done


def test_a_cut_at_any_statement_leaves_the_old_state_or_the_new(tmp_path: Path) -> None:
    before = create_engine(f"sqlite:///{tmp_path / 'before.db'}")
    put_back(before)
    old = everything(before)
    before.dispose()

    steps = int(cut_in(tmp_path, -1).stdout)
    assert steps > 15, "the kill must come in many places"
    for after in range(0, steps, steps // KILLS):
        assert cut_in(tmp_path, after, f"killed-{after}").returncode == -signal.SIGKILL
    seen, taken_up = [], set[str]()
    for path in [*(tmp_path / f"{after}.db" for after in range(steps + 1)), *sorted(tmp_path.glob("killed-*.db"))]:
        with sqlite3.connect(path) as file:
            assert file.execute("PRAGMA integrity_check").fetchone() == ("ok",)
            (version,) = file.execute("SELECT version_num FROM alembic_version").fetchone()
            state = "\n".join(file.iterdump())
        file.close()
        seen.append((path.name.startswith("killed"), version))
        if state in taken_up:  # what is the same goes on in the same way
            continue
        taken_up.add(state)
        engine = create_engine(f"sqlite:///{path}")
        if version == "0001":
            assert everything(engine) == old
        migrate(engine)
        assert differences(engine) == []
        assert [row["id"] for row in everything(engine)["entries"]] == [1, 2, 3, 4, 5]
        engine.dispose()
    at_each = [version for killed, version in seen if not killed]
    assert at_each == sorted(at_each)
    assert {version for _, version in seen} == set(at_each) == {"0001", "0011"}


def test_the_tests_server_is_not_root_and_listens_to_this_machine_alone(postgresql: Server) -> None:
    assert Path(f"/proc/{postgresql.pid}").stat().st_uid != 0
    with postgresql.database() as url:
        engine = create_engine(url)
        with engine.connect() as connection:
            assert connection.scalar(text("SHOW listen_addresses")) == "127.0.0.1"
            assert not connection.scalar(text("SHOW unix_socket_directories"))
        engine.dispose()
