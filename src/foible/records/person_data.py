"""A person in; out, everything kept that refers to them, and the texts in which people have written their name."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from datetime import date, datetime
from typing import TYPE_CHECKING, Any

from sqlalchemy import or_, select

from foible.records.control_tables import ControlEntryRow, ControlMarkRow, EntrantRow, HandedInRow, RejectRow
from foible.records.people import person_by_id
from foible.records.people_tables import PersonRow, TrailRow
from foible.records.practice_tables import CardRow, GroupRow, LearnerRow, ResultRow, SeriesRow
from foible.records.register_tables import ItemPhotoRow, ItemRow, JobLineRow, JobRow, LoanRow, ReadingRow
from foible.records.sheet_tables import SheetRow
from foible.records.tables import Base, CaseRow, EntryRow

if TYPE_CHECKING:
    from sqlalchemy import ColumnElement, Table
    from sqlalchemy.orm import InstrumentedAttribute, Session

__all__ = ["Mention", "kept_of_person", "mentions", "photographed"]

TEXTS: tuple[tuple[str, InstrumentedAttribute[Any], InstrumentedAttribute[Any]], ...] = (
    ("case", CaseRow.id, CaseRow.fencer),
    ("case", CaseRow.id, CaseRow.title),
    ("case", EntryRow.case_id, EntryRow.say),
    ("item", ItemRow.code, ItemRow.name),
    ("item", ItemRow.code, ItemRow.notes),
    ("job", JobRow.id, JobRow.complaint),
    ("job", JobLineRow.job_id, JobLineRow.text),
    ("loan", LoanRow.id, LoanRow.back_state),
    ("learner", LearnerRow.id, LearnerRow.nickname),
    ("group", GroupRow.code, GroupRow.name),
    ("series", SeriesRow.id, SeriesRow.title),
    ("control", ControlEntryRow.control_item_id, ControlEntryRow.note),
    ("control", RejectRow.control_item_id, RejectRow.words),
)
"""What is named, by which name or number, and the text that anybody may have written a name into."""
MOST_MENTIONS = 100
"""Of one kind of text."""
MADE = frozenset({"words", "token", "secret"})
"""Columns that hold nothing about anybody that another one does not: for searching, for repeated forms; and the secret."""


@dataclass(frozen=True)
class Mention:
    """A text in which a name occurs."""

    kind: str
    ref: str
    field: str


def mentions(session: Session, name: str) -> tuple[Mention, ...]:
    """Return the texts in which a name occurs, whether or not it is this person whom they mean."""
    found: dict[Mention, None] = {}
    for kind, ref, text in TEXTS:
        chosen = select(ref).where(text.icontains(name, autoescape=True)).distinct().limit(MOST_MENTIONS)
        found |= {Mention(kind, str(each), text.key): None for each in session.scalars(chosen)}
    return tuple(found)


def photographed(session: Session, person_id: int) -> tuple[Mention, ...]:
    """Return the items of somebody that have photos, on which they may be seen or named."""
    owned = select(ItemRow.code).where(ItemRow.owner_id == person_id, ItemRow.id.in_(select(ItemPhotoRow.item_id)))
    return tuple(Mention("item", code, "photo") for code in session.scalars(owned.order_by(ItemRow.id).limit(MOST_MENTIONS)))


def kept_of_person(session: Session, person_id: int) -> dict[str, Any]:
    """Return all rows that refer to a person, by table; their own items bring what was done and measured on them.

    Every column of every table that refers to `people` is looked at, so none is forgotten. Raises NotFoundError.
    """
    person = person_by_id(session, person_id)
    items = select(ItemRow.id).where(ItemRow.owner_id == person_id)
    jobs = select(JobRow.id).where(JobRow.item_id.in_(items))
    learners = select(LearnerRow.id).where(LearnerRow.person_id == person_id)
    handed_in = select(HandedInRow.id).where(
        HandedInRow.entrant_id.in_(select(EntrantRow.id).where(EntrantRow.person_id == person_id))
    )
    theirs: dict[str, list[ColumnElement[bool]]] = {
        "jobs": [JobRow.item_id.in_(items)],
        "job_lines": [JobLineRow.job_id.in_(jobs)],
        "readings": [ReadingRow.item_id.in_(items)],
        "loans": [LoanRow.item_id.in_(items)],
        "item_photos": [ItemPhotoRow.item_id.in_(items)],
        "practice_results": [ResultRow.learner_id.in_(learners)],
        "practice_cards": [CardRow.learner_id.in_(learners)],
        "control_items": [HandedInRow.id.in_(handed_in)],
        "control_entries": [ControlEntryRow.control_item_id.in_(handed_in)],
        "control_marks": [ControlMarkRow.control_item_id.in_(handed_in)],
        "control_sheets": [SheetRow.item_id.in_(items)],
        "control_rejects": [RejectRow.control_item_id.in_(handed_in)],
        "trail": [(TrailRow.kind == "person") & (TrailRow.ref == person_id)],
    }
    kept: dict[str, Any] = {"person": {key: _plain(value) for key, value in asdict(person).items()}}
    kept["person"]["signs in"] = person.login is not None
    for table in Base.metadata.sorted_tables:
        refers = [key.parent == person_id for key in table.foreign_keys if key.column is PersonRow.__table__.c.id]
        conditions = [*refers, *theirs.get(table.name, [])]
        if conditions:
            kept[table.name] = _rows(session, table, or_(*conditions))
    kept["named in"] = [] if person.erased else [asdict(each) for each in mentions(session, person.name)]
    return kept


def _rows(session: Session, table: Table, condition: ColumnElement[bool]) -> list[dict[str, Any]]:
    columns = [column for column in table.columns if column.name not in MADE]
    rows = session.execute(select(*columns).where(condition).order_by(table.c.id))
    return [{key: _plain(value) for key, value in row.items()} for row in rows.mappings()]


def _plain(value: object) -> object:
    """Return a value as JSON has it."""
    return value.isoformat() if isinstance(value, date | datetime) else value
