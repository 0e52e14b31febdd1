"""Changes in, the trail of them out: who changed what, from what to what.

The trail can be added to and nothing else, and it holds no names: people are ids in it, and of a text in which somebody may be
named it tells only that it changed. So it need not be touched when a person is erased.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from sqlalchemy import or_, select

from foible.records.people_tables import TrailRow

if TYPE_CHECKING:
    from collections.abc import Mapping

    from sqlalchemy.orm import Session

    from foible.records.database import Database

__all__ = ["NOBODY", "Change", "TrailQuery", "TrailStore", "Who", "note"]

UNTOLD = "…"
"""Stands in the trail for a text in which somebody may be named."""
PRIVATE: Mapping[str, frozenset[str]] = MappingProxyType(
    {
        "person": frozenset({"name", "club", "contact", "login"}),
        "item": frozenset({"name", "notes"}),
        "loan": frozenset({"back_state"}),
        "job": frozenset({"complaint", "evidence", "text"}),
        "line": frozenset({"text"}),
    }
)
"""By the kind of what was changed, the fields that the trail does not repeat: names, and whatever anybody writes freely."""
STRETCH = 50
"""Changes in one stretch of the trail, by default."""


@dataclass(frozen=True)
class Who:
    """Who changes something: a person by id, None where nobody has signed in; and the device, by its few letters."""

    person_id: int | None = None
    device: str = ""


NOBODY = Who()
"""The program itself: demo, import at the start."""


@dataclass(frozen=True)
class Change:
    """A change as the trail tells it."""

    id: int
    at: datetime
    by: Who
    kind: str
    """What was changed: “item”, “job”, “part”, “person” …"""
    ref: int
    """Its id."""
    did: str
    what: Mapping[str, Any] = field(default_factory=dict)
    """By field: [from what, to what], or what was added."""


@dataclass(frozen=True)
class TrailQuery:
    """Which changes: of one thing, by one person, or of a kind; all of them by default."""

    kind: str | None = None
    ref: int | None = None
    by_id: int | None = None
    about_person: int | None = None
    """Changes that this person made, and those of this person."""


EVERYTHING = TrailQuery()


def note(  # noqa: PLR0913 — a change has this many sides
    session: Session,
    *,
    at: datetime,
    by: Who,
    kind: str,
    ref: int,
    did: str,
    what: Mapping[str, Any] = MappingProxyType({}),
) -> None:
    """Add a change to the trail, in the transaction that makes it. `what` is [from, to] by field, or what was added.

    `ref` is the id of what was changed: flush the session first where it is new.
    """
    private = PRIVATE.get(kind, frozenset())
    told = {name: _told(value, private=name in private) for name, value in what.items()}
    session.add(TrailRow(at=at, by_id=by.person_id, device=by.device, kind=kind, ref=ref, did=did, what=told))


class TrailStore:
    """The trail in a database, to be looked at."""

    def __init__(self, database: Database) -> None:
        self.database = database

    def stretch(self, query: TrailQuery = EVERYTHING, *, limit: int = STRETCH, before: int | None = None) -> tuple[Change, ...]:
        """Return one stretch of the trail, the latest first; `before` is the id that the stretch ends before."""
        chosen = select(TrailRow).order_by(TrailRow.id.desc()).limit(limit)
        if query.kind is not None:
            chosen = chosen.where(TrailRow.kind == query.kind)
        if query.ref is not None:
            chosen = chosen.where(TrailRow.ref == query.ref)
        if query.by_id is not None:
            chosen = chosen.where(TrailRow.by_id == query.by_id)
        if query.about_person is not None:
            of_them = (TrailRow.kind == "person") & (TrailRow.ref == query.about_person)
            chosen = chosen.where(or_(of_them, TrailRow.by_id == query.about_person))
        if before is not None:
            chosen = chosen.where(TrailRow.id < before)
        return self.database.read(lambda session: tuple(_change(row) for row in session.scalars(chosen)), what="the trail")


def _told(value: object, *, private: bool) -> object:
    """Return a value as the trail holds it, fit for JSON."""
    if isinstance(value, list | tuple):
        return [_told(each, private=private) for each in value]
    if private:
        return UNTOLD if value else value
    return value.isoformat() if isinstance(value, date | datetime) else value


def _change(row: TrailRow) -> Change:
    return Change(row.id, row.at, Who(row.by_id, row.device), row.kind, row.ref, row.did, row.what)
