"""Sheets filled in, and found again by sheet, item and competition. Functions of one transaction, which the trail tells of."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import TYPE_CHECKING, Any

from sqlalchemy import select

from foible.errors import NotFoundError
from foible.records.register.turn import made_by_token
from foible.records.sheet_tables import SheetRow

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import datetime

    from sqlalchemy.orm import Session

    from foible.records.register.turn import Turn

__all__ = ["KeptSheet", "NewSheet", "add_sheet", "sheet_by_id", "sheets_kept"]

LATEST = 60
"""Sheets that are looked at once, the latest."""


@dataclass(frozen=True)
class NewSheet:
    """A sheet that somebody has filled in."""

    sheet: str
    edition: str
    decision: str
    found: Mapping[str, Mapping[str, Any]]
    """By row and line: what was read or seen, and its verdict."""
    outcome: str
    weapon: str | None = None
    item_id: int | None = None
    competition_id: int | None = None
    about: str = ""
    note: str = ""
    token: str | None = None


@dataclass(frozen=True)
class KeptSheet:
    """A sheet in the records, with when and by whom."""

    id: int
    sheet: str
    weapon: str | None
    item_id: int | None
    competition_id: int | None
    about: str
    edition: str
    decision: str
    found: Mapping[str, Mapping[str, Any]]
    outcome: str
    note: str
    at: datetime
    by_id: int | None


def add_sheet(turn: Turn, new: NewSheet) -> KeptSheet:
    """Keep a sheet; a known token keeps it once."""
    known = made_by_token(turn, SheetRow, new.token)
    if known:
        return _kept(known)
    given = {each.name: getattr(new, each.name) for each in fields(new)}
    row = SheetRow(
        **given | {"found": {key: dict(value) for key, value in new.found.items()}}, at=turn.at, by_id=turn.by.person_id
    )
    turn.session.add(row)
    turn.session.flush()
    turn.note("sheet", row.id, "filled in", {"sheet": new.sheet, "outcome": new.outcome, "item": new.item_id})
    return _kept(row)


def sheet_by_id(session: Session, number: int) -> KeptSheet:
    """Return a sheet. Raises NotFoundError."""
    row = session.get(SheetRow, number)
    if row is None:
        latest = session.scalars(select(SheetRow.id).order_by(SheetRow.id.desc()).limit(LATEST)).all()
        raise NotFoundError(what="sheet", name=str(number), known=[str(each) for each in latest])
    return _kept(row)


def sheets_kept(
    session: Session, *, sheet: str | None = None, item_id: int | None = None, competition_id: int | None = None
) -> tuple[KeptSheet, ...]:
    """Return the sheets of one kind, item or competition, the latest first."""
    chosen = select(SheetRow).order_by(SheetRow.id.desc()).limit(LATEST)
    for column, value in ((SheetRow.sheet, sheet), (SheetRow.item_id, item_id), (SheetRow.competition_id, competition_id)):
        if value is not None:
            chosen = chosen.where(column == value)
    return tuple(map(_kept, session.scalars(chosen)))


def _kept(row: SheetRow) -> KeptSheet:
    return KeptSheet(**{each.name: getattr(row, each.name) for each in fields(KeptSheet)})
