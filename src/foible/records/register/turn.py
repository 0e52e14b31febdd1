"""The register's transactions: a `Turn` is one of them, in which any number of things are done together or not at all.

The other modules of this package are functions of a turn, so that one form, one import or one season of a demo can be a single
transaction whatever it consists of:

    register.write(lambda turn: add_item(turn, new), by=who, what="the item")
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from enum import Enum
from typing import TYPE_CHECKING, Any, TypeVar

from sqlalchemy import select

from foible.errors import ClashError
from foible.records.trail import Who, note

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping
    from datetime import datetime

    from sqlalchemy.orm import Session

    from foible.records.control_tables import CompetitionRow, HandedInRow, InstrumentRow
    from foible.records.database import Database
    from foible.records.register_tables import ItemRow, JobRow, PartRow

    VersionedRow = ItemRow | JobRow | PartRow | CompetitionRow | HandedInRow | InstrumentRow

__all__ = ["RegisterStore", "Turn", "change_row", "made_by_token", "plain_value"]

Made = TypeVar("Made")
Row = TypeVar("Row")


@dataclass(frozen=True)
class Turn:
    """One transaction: its session, the moment that it is dated, and who makes the change."""

    session: Session
    at: datetime
    by: Who

    def dated(self, at: datetime) -> Turn:
        """Return the same transaction at another moment: what is brought in from elsewhere keeps its own dates."""
        return replace(self, at=at)

    def note(self, kind: str, ref: int, did: str, what: Mapping[str, Any]) -> None:
        """Add a change to the trail."""
        note(self.session, at=self.at, by=self.by, kind=kind, ref=ref, did=did, what=what)


class RegisterStore:
    """The register in a database: what is read is from one moment, what is written is one transaction."""

    def __init__(self, database: Database, *, clock: Callable[[], datetime]) -> None:
        self.database = database
        self.clock = clock

    def read(self, work: Callable[[Session], Made]) -> Made:
        """Return what `work` finds. Raises KeepingError."""
        return self.database.read(work, what="the register")

    def write(self, change: Callable[[Turn], Made], *, by: Who, what: str) -> Made:
        """Make a change; `what` names it where it cannot be saved. Raises KeepingError, and whatever `change` raises."""
        return self.database.write(lambda session: change(Turn(session, self.clock(), by)), what=what)


def made_by_token(turn: Turn, table: type[Row], token: str | None) -> Row | None:
    """Return what was made with a token before: then the form was sent twice, and nothing is made again."""
    if not token:
        return None
    return turn.session.scalars(select(table).where(table.token == token)).one_or_none()  # type: ignore[attr-defined]


def change_row(
    turn: Turn, row: VersionedRow, wanted: Mapping[str, Any], *, version: int | None, what: str
) -> dict[str, list[Any]]:
    """Set fields of a row and return what changed, from what to what; raises ClashError where `version` is not today's.

    A row that says already what is wanted clashes with nobody. `version` None is for what follows from another change.
    """
    now = {key: getattr(row, key) for key in wanted}
    changed = {key: [now[key], value] for key, value in wanted.items() if now[key] != value}
    if not changed:
        return {}
    if version is not None and version != row.version:
        raise ClashError(what=what, version=row.version, now=now, wanted=wanted)
    for key, value in wanted.items():
        setattr(row, key, value)
    row.version += 1
    row.changed = turn.at
    return changed


def plain_value(value: Any) -> Any:  # noqa: ANN401 — whatever a column holds
    """Return a value as JSON has it."""
    match value:
        case Enum():
            return value.value
        case date():
            return value.isoformat()
        case dict():
            return {key: plain_value(each) for key, each in value.items()}
        case list() | tuple():
            return [plain_value(each) for each in value]
    return value
