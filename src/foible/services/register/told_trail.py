"""Changes of the trail in; out, lines for people: names for ids, as they are today, and where the thing is to be seen."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from sqlalchemy import select

from foible.records.people_tables import PersonRow
from foible.records.register_tables import ItemRow, PartRow
from foible.records.trail import TrailStore

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence
    from datetime import datetime

    from sqlalchemy.orm import InstrumentedAttribute, Session

    from foible.records.database import Database
    from foible.records.trail import Change, TrailQuery

__all__ = ["TrailLine", "trail_lines"]

NAMED: dict[str, tuple[InstrumentedAttribute[int], InstrumentedAttribute[Any], str]] = {
    "item": (ItemRow.id, ItemRow.code, "/register/items/{}"),
    "part": (PartRow.id, PartRow.code, "/register/parts/{}"),
    "person": (PersonRow.id, PersonRow.name, ""),
}
"""By kind: its id, what people know it by, and its page, which for people is by id."""
BY_NUMBER = {"job": "/register/jobs/{}", "person": "/register/people/{}", "sheet": "/control/sheets/kept/{}"}


@dataclass(frozen=True)
class TrailLine:
    """A change as people read it."""

    id: int
    at: datetime
    who: str
    """A name, or the letters of the device on which nobody had signed in; empty for the program itself."""
    kind: str
    thing: str
    address: str
    """The page of the thing; empty where there is none."""
    did: str
    what: tuple[tuple[str, str], ...]
    """(field, “from → to”, or what was added)"""


def trail_lines(database: Database, query: TrailQuery, *, limit: int, before: int | None = None) -> tuple[TrailLine, ...]:
    """Return a stretch of the trail, the latest first. Raises KeepingError."""
    changes = TrailStore(database).stretch(query, limit=limit, before=before)
    return database.read(lambda session: _lines(session, changes), what="the trail")


def _lines(session: Session, changes: Sequence[Change]) -> tuple[TrailLine, ...]:
    known = {kind: _names(session, kind, {each.ref for each in changes if each.kind == kind}) for kind in NAMED}
    people = _names(session, "person", {each.by.person_id for each in changes if each.by.person_id is not None})
    return tuple(_line(each, known.get(each.kind, {}), people) for each in changes)


def _line(change: Change, known: dict[int, str], people: dict[int, str]) -> TrailLine:
    name = known.get(change.ref, "")
    place = BY_NUMBER.get(change.kind, "").format(change.ref) or (NAMED[change.kind][2].format(name) if name else "")
    by = people.get(change.by.person_id, "") if change.by.person_id is not None else change.by.device
    what = tuple((field.replace("_", " "), _words(value)) for field, value in change.what.items() if field != "version")
    return TrailLine(change.id, change.at, by, change.kind, name or str(change.ref), place, change.did, what)


def _names(session: Session, kind: str, ids: Collection[int]) -> dict[int, str]:
    key, name, _ = NAMED[kind]
    return {each: str(word) for each, word in session.execute(select(key, name).where(key.in_(ids)))} if ids else {}


def _words(value: object) -> str:
    match value:
        case [before, after]:
            return f"{_words(before)} → {_words(after)}"
        case None | "":
            return "nothing"
        case dict():
            return ", ".join(f"{key} {_words(each)}" for key, each in value.items()) or "nothing"
        case list():
            return ", ".join(_words(each) for each in value) or "nothing"
    return str(value)
