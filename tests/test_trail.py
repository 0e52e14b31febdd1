"""The trail of changes: added to, read in stretches, and changed by nobody; on both kinds of database."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING

import pytest
from sqlalchemy import delete, text, update

from foible.errors import KeepingError
from foible.records import Database, PersonRow, TrailRow
from foible.records.trail import NOBODY, TrailQuery, TrailStore, Who, note

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from sqlalchemy.orm import Session

AT = datetime(2026, 10, 3, 19, 30, tzinfo=UTC)


@pytest.fixture
def database(database_url: str) -> Iterator[Database]:
    made = Database(database_url)
    yield made
    made.dispose()


def written(database: Database) -> TrailStore:
    """Return a trail of three changes, two of them by Mira Lanternfield (invented)."""

    def change(session: Session) -> None:
        row = PersonRow(name="Mira Lanternfield", changed=AT, version=1)
        session.add(row)
        session.flush()
        mira = Who(row.id, "ab12cd")
        note(session, at=AT, by=NOBODY, kind="person", ref=row.id, did="made", what={"name": (None, "Mira Lanternfield")})
        note(session, at=AT, by=mira, kind="item", ref=7, did="changed", what={"name": ("Mira’s foil", "")})
        note(session, at=AT, by=mira, kind="part", ref=7, did="changed", what={"count": (3, 2), "due": (None, AT.date())})

    database.write(change, what="the trail")
    return TrailStore(database)


def test_the_trail_says_who_changed_what_from_what_to_what(database: Database) -> None:
    last, item, first = written(database).stretch()
    assert (last.at, last.by.device, last.kind, last.ref, last.did) == (AT, "ab12cd", "part", 7, "changed")
    assert last.what == {"count": [3, 2], "due": [None, "2026-10-03"]}
    assert (first.by, first.what) == (NOBODY, {"name": [None, "…"]}), "that somebody has a name, not which"
    assert item.what == {"name": ["…", ""]}, "an item may be called after somebody"


def test_the_trail_is_read_by_thing_by_person_and_in_stretches(database: Database) -> None:
    trail = written(database)
    mira = trail.stretch()[0].by.person_id
    assert [each.kind for each in trail.stretch(TrailQuery(kind="item", ref=7))] == ["item"]
    assert [each.kind for each in trail.stretch(TrailQuery(by_id=mira))] == ["part", "item"]
    assert [each.kind for each in trail.stretch(TrailQuery(about_person=mira))] == ["part", "item", "person"]
    first = trail.stretch(limit=2)
    assert [each.kind for each in trail.stretch(limit=2, before=first[-1].id)] == ["person"]


def forged(session: Session) -> None:
    session.execute(update(TrailRow).values(did="nothing"))


def erased(session: Session) -> None:
    session.execute(delete(TrailRow).where(TrailRow.kind == "item"))


def written_over(session: Session) -> None:
    """Put another row in the place of one: each kind of database has its own way to."""
    way = {
        "sqlite": "INSERT OR REPLACE INTO trail ({0}) VALUES ({1})",
        "postgresql": "INSERT INTO trail ({0}) VALUES ({1}) ON CONFLICT (id) DO UPDATE SET did = 'nothing'",
    }[session.get_bind().dialect.name]
    columns = "id, at, kind, ref, did, what", "1, '2026-10-03', 'item', 7, 'nothing', '{}'"
    session.execute(text(way.format(*columns)))


def emptied(session: Session) -> None:
    session.execute(text("TRUNCATE trail" if session.get_bind().dialect.name == "postgresql" else "DELETE FROM trail"))


@pytest.mark.parametrize("attempt", [forged, erased, written_over, emptied])
def test_nobody_changes_the_trail(database: Database, attempt: Callable[[Session], None]) -> None:
    """Not in SQL either, whatever statement a hole in the program might let through."""
    before = written(database).stretch()
    with pytest.raises(KeepingError, match="a change that was noted stays as it is"):
        database.write(attempt, what="the trail")
    assert TrailStore(database).stretch() == before
