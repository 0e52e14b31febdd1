"""What the register has seen, counted: which failures were found in which kinds of item, what jobs took, what parts were used.

Only reads, but for the one choice whether the reasoning learns. Counts are made by the database, so that many jobs stay cheap.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, NamedTuple, TypeVar

from sqlalchemy import func, select

from foible.errors import NotFoundError
from foible.records.register_tables import ChoiceRow, ItemRow, JobLineRow, JobRow, MoveRow, PartRow

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from datetime import date, datetime

    from sqlalchemy import ColumnElement
    from sqlalchemy.orm import Session

    from foible.records.database import Database

__all__ = ["Choice", "ExperienceStore", "Find", "FoundCount", "ItemFacts", "JobFacts", "KindCount", "PartUse"]

Made = TypeVar("Made")


class FoundCount(NamedTuple):
    """How often a failure was found in items of a kind made for a weapon; None: for all."""

    failure: str
    kind: str
    weapon: str | None
    times: int


class KindCount(NamedTuple):
    """How many items, or jobs that found nothing, there are of a kind made for a weapon; None: for all."""

    kind: str
    weapon: str | None
    times: int


class Find(NamedTuple):
    """A failure found in an item, and when its job was done."""

    item_id: int
    failure: str
    done: datetime


class JobFacts(NamedTuple):
    """What a job took: minutes, and what its parts cost [hundredths]."""

    item_id: int
    done: datetime
    minutes: float
    cost: int


@dataclass(frozen=True, slots=True)
class ItemFacts:
    """What lives are reckoned from: when an item came into use, and went out of it."""

    id: int
    code: str
    kind: str
    weapon: str | None
    name: str
    made_by: dict[str, str]
    state: str
    bought: date | None
    first_used: date | None
    retired: date | None
    opened: datetime
    price: int | None


@dataclass(frozen=True, slots=True)
class PartUse:
    """A part in stock: how many were used, and since when that is on record."""

    code: str
    name: str
    supplier: str
    count: int
    least: int
    price: int | None
    used: int
    since: datetime | None


@dataclass(frozen=True, slots=True)
class Choice:
    """Something that a club has chosen; version 0: nobody has yet."""

    value: bool
    version: int


LEARNS = "learning"


class ExperienceStore:
    """Counts over the register in a database."""

    def __init__(self, database: Database, *, clock: Callable[[], datetime]) -> None:
        self.database = database
        self._clock = clock

    # --- whether it learns ----------------------------------------------------------------------------------------

    def learns(self) -> Choice:
        """Return whether the reasoning learns from the register; it does until somebody switches it off."""

        def look(session: Session) -> Choice:
            row = session.get(ChoiceRow, LEARNS)
            return Choice(value=True, version=0) if row is None else Choice(bool(row.value), row.version)

        return self.database.read(look)

    def choose(self, session: Session, *, value: bool) -> Choice:
        """Switch learning on or off within a transaction, and return what held before."""
        row = session.get(ChoiceRow, LEARNS, with_for_update=True)
        if row is None:
            session.add(ChoiceRow(name=LEARNS, value=value, version=1, changed=self._clock()))
            return Choice(value=True, version=0)
        before = Choice(bool(row.value), row.version)
        row.value, row.version, row.changed = value, row.version + 1, self._clock()
        return before

    # --- counts ---------------------------------------------------------------------------------------------------

    def found(self, before: datetime | None = None, since: datetime | None = None) -> list[FoundCount]:
        """Return how often each failure was found in jobs done in a time, by kind of item and its weapon."""
        columns = (JobLineRow.ref, ItemRow.kind, ItemRow.weapon)
        chosen = select(*columns, func.count()).join(JobRow, JobRow.id == JobLineRow.job_id)
        chosen = chosen.join(ItemRow, ItemRow.id == JobRow.item_id).where(*_found(since, before)).group_by(*columns)
        return self._rows(chosen, FoundCount)

    def sound(self, before: datetime | None = None, since: datetime | None = None) -> list[KindCount]:
        """Return in how many jobs nothing was found wrong with items of which kind."""
        columns = (ItemRow.kind, ItemRow.weapon)
        chosen = select(*columns, func.count()).join(JobRow, JobRow.item_id == ItemRow.id)
        chosen = chosen.where(JobRow.sound.is_(True), *_done(since, before)).group_by(*columns)
        return self._rows(chosen, KindCount)

    def kinds(self) -> list[KindCount]:
        """Return of which kinds the register has items, and how many."""
        columns = (ItemRow.kind, ItemRow.weapon)
        chosen = select(*columns, func.count()).group_by(*columns).order_by(*columns)
        return self._rows(chosen, KindCount)

    # --- one kind, item by item -----------------------------------------------------------------------------------

    def items(self, kind: str, weapon: str | None = None) -> list[ItemFacts]:
        """Return the items of a kind; `weapon`: only those made for it."""
        made_for = [] if weapon is None else [ItemRow.weapon == weapon]
        names = tuple(ItemFacts.__dataclass_fields__)
        chosen = select(*(getattr(ItemRow, name) for name in names)).where(ItemRow.kind == kind, *made_for).order_by(ItemRow.id)
        return self._rows(chosen, ItemFacts)

    def kind_of(self, code: str) -> tuple[str, str | None]:
        """Return the kind of an item and the weapon it is made for. Raises NotFoundError."""
        chosen = select(ItemRow.kind, ItemRow.weapon).where(ItemRow.code == code.strip().lower())
        row = self.database.read(lambda session: session.execute(chosen).one_or_none())
        if row is None:
            raise NotFoundError(what="item", name=code, known=[])
        return row.kind, row.weapon

    def finds(self, kind: str, weapon: str | None = None, *, before: datetime | None = None) -> list[Find]:
        """Return what was found in items of a kind, in the order of time; `before`: only in jobs done by then."""
        made_for = [] if weapon is None else [ItemRow.weapon == weapon]
        chosen = select(JobRow.item_id, JobLineRow.ref, JobRow.done).join(JobRow, JobRow.id == JobLineRow.job_id)
        chosen = chosen.join(ItemRow, ItemRow.id == JobRow.item_id)
        chosen = chosen.where(ItemRow.kind == kind, *made_for, *_found(None, before)).order_by(JobRow.done, JobLineRow.id)
        return self._rows(chosen, Find)

    def jobs(self, kind: str | None = None, since: datetime | None = None, before: datetime | None = None) -> list[JobFacts]:
        """Return what the jobs done in a time took, on items of a kind or on all."""
        spent = func.coalesce(func.sum(JobLineRow.cost), 0)
        lines = (JobLineRow.job_id == JobRow.id) & (JobLineRow.kind == "part") & JobLineRow.taken_back.is_(None)
        chosen = select(JobRow.item_id, JobRow.done, func.coalesce(JobRow.minutes, 0.0), spent)
        chosen = chosen.join(ItemRow, ItemRow.id == JobRow.item_id).outerjoin(JobLineRow, lines)
        of_kind = [] if kind is None else [ItemRow.kind == kind]
        chosen = chosen.where(*of_kind, *_done(since, before)).group_by(JobRow.id, JobRow.item_id, JobRow.done, JobRow.minutes)
        return self._rows(chosen, JobFacts)

    # --- parts ----------------------------------------------------------------------------------------------------

    def parts(self) -> list[PartUse]:
        """Return the parts in stock with how many jobs have used of each, what was given back taken off."""
        moved = (
            select(
                MoveRow.part_id,
                func.min(MoveRow.at).label("since"),
                func.coalesce(func.sum(-MoveRow.change).filter(MoveRow.why.in_(("used", "back"))), 0).label("used"),
            )
            .group_by(MoveRow.part_id)
            .subquery()
        )
        columns = (PartRow.code, PartRow.name, PartRow.supplier, PartRow.count, PartRow.least, PartRow.price)
        chosen = select(*columns, func.coalesce(moved.c.used, 0), moved.c.since)
        chosen = chosen.outerjoin(moved, moved.c.part_id == PartRow.id).order_by(PartRow.name, PartRow.id)
        return self._rows(chosen, PartUse)

    def _rows(self, chosen: Any, make: Callable[..., Made]) -> list[Made]:  # noqa: ANN401 — a select of any columns
        return self.database.read(lambda session: [make(*row) for row in session.execute(chosen)])


def _done(since: datetime | None, before: datetime | None) -> Sequence[ColumnElement[bool]]:
    """Return the conditions for jobs that were done in a time."""
    early = [] if since is None else [JobRow.done >= since]
    late = [] if before is None else [JobRow.done < before]
    return [JobRow.done.is_not(None), *early, *late]


def _found(since: datetime | None, before: datetime | None) -> Sequence[ColumnElement[bool]]:
    """Return the conditions for lines that say what was found in such jobs."""
    return [JobLineRow.kind == "found", JobLineRow.taken_back.is_(None), *_done(since, before)]
