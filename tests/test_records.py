"""Cases kept in a database: nothing is lost, nothing is kept twice, and the tables are those that the migrations make."""

from __future__ import annotations

import sqlite3
from datetime import UTC, datetime, timedelta
from threading import Thread
from typing import TYPE_CHECKING

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from sqlalchemy import create_engine

from foible.errors import KeepingError, UnknownNameError
from foible.records import Base, EntryKind, NewEntry, Register

if TYPE_CHECKING:
    from pathlib import Path


class Clock:
    """A clock that goes on by a second each time it is looked at."""

    def __init__(self) -> None:
        self.now = datetime(2026, 10, 3, 9, 0, tzinfo=UTC)

    def __call__(self) -> datetime:
        self.now += timedelta(seconds=1)
        return self.now


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "register.db"


@pytest.fixture
def register(path: Path) -> Register:
    return Register(f"sqlite:///{path}", clock=Clock())


def said(token: str, **trial: object) -> NewEntry:
    return NewEntry(EntryKind.TRIAL, token, say="press the left point", trial=trial)


def test_a_case_is_as_it_was_after_the_program_ends(path: Path, register: Register) -> None:
    case = register.open(
        weapon="foil", title="White", complaint="It goes white", tools=("spare",), first=said("a", saw=["nothing"])
    )
    register.add(case.id, said("b", saw=["left white"]))
    register.move(case.id, place="bench", item="left weapon", tools=("meter",))
    kept = register.close(case.id, closed=True)
    register.dispose()
    again = Register(f"sqlite:///{path}", clock=Clock()).case(case.id)
    assert again == kept
    assert [dict(entry.trial) for entry in again.entries] == [{"saw": ["nothing"]}, {"saw": ["left white"]}]
    assert (again.place, again.item, again.tools, again.closed) == ("bench", "left weapon", ("meter",), True)
    assert again.opened.tzinfo is UTC


def test_the_same_answer_sent_twice_is_kept_once(register: Register) -> None:
    case = register.open(weapon="foil", title="White", first=said("a"))
    once = register.add(case.id, said("b"))
    twice = register.add(case.id, said("b"))
    assert twice == once
    assert len(twice.entries) == 2


def test_what_is_taken_back_stays_in_the_record(register: Register) -> None:
    case = register.open(weapon="foil", title="White", first=said("a"))
    register.add(case.id, said("b"))
    kept = register.take_back(case.id, 2)
    assert [entry.taken_back for entry in kept.entries] == [False, True]
    assert [entry.number for entry in kept.standing] == [1]
    assert register.take_back(case.id, 2).version == kept.version, "taking back twice changes nothing"
    assert register.add(case.id, said("c")).entries[-1].number == 3, "numbers are never used again"


def test_every_change_raises_the_version(register: Register) -> None:
    case = register.open(weapon="foil", title="White")
    versions = [
        case.version,
        register.add(case.id, said("a")).version,
        register.take_back(case.id, 1).version,
        register.move(case.id, place="bench", item=None, tools=()).version,
        register.close(case.id, closed=True).version,
    ]
    assert versions == [1, 2, 3, 4, 5]


def test_answers_of_many_threads_at_once_are_all_kept(register: Register) -> None:
    case = register.open(weapon="foil", title="White")
    threads = [Thread(target=register.add, args=(case.id, said(f"t{number}"))) for number in range(24)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    entries = register.case(case.id).entries
    assert [entry.number for entry in entries] == list(range(1, 25))


def test_answers_of_two_programs_at_once_are_all_kept(path: Path, register: Register) -> None:
    other = Register(f"sqlite:///{path}", clock=Clock())
    case = register.open(weapon="foil", title="White")
    threads = [
        Thread(target=which.add, args=(case.id, said(f"{name}{number}")))
        for number in range(10)
        for name, which in (("one", register), ("two", other))
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(other.case(case.id).entries) == 20


def test_a_failed_change_leaves_everything_as_it_was(path: Path, register: Register) -> None:
    case = register.open(weapon="foil", title="White", first=said("a"))
    with sqlite3.connect(path) as blocked:
        blocked.execute("CREATE TRIGGER refuse BEFORE INSERT ON entries BEGIN SELECT RAISE(ABORT, 'the disk is full'); END")
    with pytest.raises(KeepingError, match=r"the disk is full.*nothing was changed"):
        register.add(case.id, said("b"))
    assert register.case(case.id) == case


def test_a_place_where_nothing_can_be_kept_is_said(tmp_path: Path) -> None:
    with pytest.raises(KeepingError, match="could not be kept"):
        Register(f"sqlite:///{tmp_path / 'nowhere' / 'register.db'}", clock=Clock())


def test_a_case_that_is_not_there_is_said(register: Register) -> None:
    with pytest.raises(UnknownNameError, match="there is no case called “zzz”"):
        register.case("zzz")
    case = register.open(weapon="foil", title="White")
    with pytest.raises(UnknownNameError, match="there is no entry"):
        register.take_back(case.id, 7)


def test_the_migrations_make_the_tables_that_the_program_uses(path: Path, register: Register) -> None:
    del register  # its making has run the migrations
    engine = create_engine(f"sqlite:///{path}")
    with engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        assert compare_metadata(context, Base.metadata) == []
    engine.dispose()
