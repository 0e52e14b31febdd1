"""Whole tables of the register in and out: many rows in one transaction, each noted in the trail; everything as rows.

Nothing is half taken in: whatever goes wrong with one row, the database is as it was. Rows refer to others of the same batch by
`New`, and to rows that are there by their ids.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from sqlalchemy import insert, select

from foible.records.people_tables import PersonRow, TrailRow
from foible.records.register.job_values import LineKind
from foible.records.register.words import index_item, item_words
from foible.records.register_tables import ItemRow, ItemWordRow, JobLineRow, JobRow, LoanRow, MoveRow, PartRow, ReadingRow
from foible.records.tables import Base, CaseRow

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
    from datetime import datetime

    from sqlalchemy.orm import Session

    from foible.records.database import Database
    from foible.records.trail import Who

__all__ = ["TABLES", "New", "WholeTables"]

TABLES: dict[str, type[Base]] = {
    "people": PersonRow,
    "items": ItemRow,
    "parts": PartRow,
    "jobs": JobRow,
    "lines": JobLineRow,
    "moves": MoveRow,
    "readings": ReadingRow,
    "loans": LoanRow,
}
"""The tables, each after those that its rows refer to."""
NOTED = {"people": "person", "items": "item", "parts": "part", "jobs": "job"}
"""What the trail calls a row; the others belong to one of these."""
FOUND = LineKind.FOUND.value
AT_A_TIME = 500
"""Values that one statement asks for: below what any database takes."""


@dataclass(frozen=True, slots=True)
class New:
    """The id that a row of the same batch will have: its table, and its place in the batch from 0."""

    table: str
    place: int


class WholeTables:
    """The register's tables in a database, each at once. `clock` tells the time, in UTC."""

    def __init__(self, database: Database, *, clock: Callable[[], datetime]) -> None:
        self.database = database
        self._clock = clock

    def now(self) -> datetime:
        """Return what time it is."""
        return self._clock()

    def is_empty(self) -> bool:
        """Return whether the register has no item and no part yet."""
        first = [select(table.__table__.c.id).limit(1) for table in (ItemRow, PartRow)]
        return self.database.read(lambda session: all(session.scalar(each) is None for each in first))

    def codes(self) -> set[str]:
        """Return every code that an item or a part bears."""
        chosen = (select(ItemRow.code), select(PartRow.code))
        return self.database.read(lambda session: {code for each in chosen for code in session.scalars(each)})

    def ids(self, table: str, column: str, wanted: Collection[str]) -> dict[str, int]:
        """Return the ids of the rows whose `column` is one of `wanted`, by its value."""
        row = TABLES[table]
        return self.database.read(lambda session: dict(_among(session, wanted, getattr(row, column), row.__table__.c.id)))

    def items(self, codes: Collection[str]) -> dict[str, tuple[int, str, str | None, dict[str, str]]]:
        """Return id, kind, weapon and fittings of those items whose codes are in `codes`, by their code."""
        wanted = (ItemRow.code, ItemRow.id, ItemRow.kind, ItemRow.weapon, ItemRow.fitted)
        return self.database.read(lambda session: {code: tuple(rest) for code, *rest in _among(session, codes, *wanted)})

    def people(self) -> list[tuple[int, str, str]]:
        """Return id, name and club of everybody who has not been erased."""
        chosen = select(PersonRow.id, PersonRow.name, PersonRow.club).where(PersonRow.erased.is_(None)).order_by(PersonRow.id)
        return self.database.read(lambda session: [(row.id, row.name, row.club) for row in session.execute(chosen)])

    def cases(self, wanted: Collection[str]) -> set[str]:
        """Return those of the names in `wanted` that are kept cases."""
        return self.database.read(lambda session: {name for (name,) in _among(session, wanted, CaseRow.id)})

    def everything(self) -> dict[str, list[dict[str, Any]]]:
        """Return all rows of all tables as they are, the oldest first; all of them are from one moment."""

        def look(session: Session) -> dict[str, list[dict[str, Any]]]:
            found = {}
            for name, table in TABLES.items():
                columns = table.__table__.c
                rows = session.execute(select(*columns).order_by(columns.id))
                found[name] = [dict(zip(columns.keys(), row, strict=True)) for row in rows]
            return found

        return self.database.read(look)

    def take(self, batch: Mapping[str, Sequence[Mapping[str, Any]]], *, by: Who) -> dict[str, int]:
        """Add all rows of a batch, or none; return how many there are of each table.

        A row is its values by column; what the time and the version are, and people's searched words, is filled in.
        """

        def change(session: Session) -> dict[str, int]:
            now, ids = self._clock(), dict[str, list[int]]()
            for name, table in TABLES.items():
                rows = [_completed(table, row, ids, now) for row in batch.get(name, ())]
                if not rows:
                    continue
                statement = insert(table).returning(table.__table__.c.id, sort_by_parameter_order=True)
                ids[name] = [*session.scalars(statement, rows)]
                if name in NOTED:
                    session.execute(insert(TrailRow), [_noted(NOTED[name], ref, by, now) for ref in ids[name]])
            _index(session, batch, ids)
            return {name: len(added) for name, added in ids.items()}

        return self.database.write(change, what="the import")


def _completed(table: type[Base], row: Mapping[str, Any], ids: Mapping[str, Sequence[int]], now: datetime) -> dict[str, Any]:
    """Return a row with the ids of what it refers to, and what every row of its table has."""
    given = {key: ids[value.table][value.place] if isinstance(value, New) else value for key, value in row.items()}
    columns = table.__table__.c
    usual: dict[str, Any] = {"version": 1, "changed": now, "opened": now, "at": now, "out": now}
    made = {key: value for key, value in usual.items() if key in columns} | {
        key: value for key, value in given.items() if value is not None or key not in usual
    }
    if table is PersonRow:
        person = PersonRow(**made)
        person.make_searchable()
        made["words"] = person.words
    return made


def _index(session: Session, batch: Mapping[str, Sequence[Mapping[str, Any]]], ids: Mapping[str, Sequence[int]]) -> None:
    """Note the words that items are found by: those of new ones, and of others in which something was found."""
    found: dict[int | New, list[str]] = {}
    for line in batch.get("lines", ()):
        if line["kind"] == FOUND and not line.get("taken_back"):
            found.setdefault(batch["jobs"][line["job_id"].place]["item_id"], []).append(line["ref"])
    words = [
        {"item_id": ids["items"][place], "word": word}
        for place, row in enumerate(batch.get("items", ()))
        for word in sorted(item_words(row, found.get(New("items", place), ())))
    ]
    if words:
        session.execute(insert(ItemWordRow), words)
    for ref in (ref for ref in found if isinstance(ref, int)):
        index_item(session, session.get_one(ItemRow, ref))


def _noted(kind: str, ref: int, by: Who, now: datetime) -> dict[str, Any]:
    return {"at": now, "by_id": by.person_id, "device": by.device, "kind": kind, "ref": ref, "did": "imported", "what": {}}


def _among(session: Session, wanted: Collection[str], column: Any, *others: Any) -> Iterator[tuple[Any, ...]]:  # noqa: ANN401 — columns of any table
    """Yield `column` and `others` of the rows whose `column` is among `wanted`."""
    values = [*dict.fromkeys(wanted)]
    for start in range(0, len(values), AT_A_TIME):
        chosen = select(column, *others).where(column.in_(values[start : start + AT_A_TIME]))
        yield from (tuple(row) for row in session.execute(chosen))
