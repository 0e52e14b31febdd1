"""Photos of items: which there are, added and removed. Their files lie beside the database, and only their names are here."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from sqlalchemy import func, select

from foible.errors import InputError, NotFoundError
from foible.records.register.items import item_row
from foible.records.register.turn import made_by_token
from foible.records.register_tables import ItemPhotoRow

if TYPE_CHECKING:
    from datetime import datetime

    from sqlalchemy.orm import Session

    from foible.records.register.turn import Turn

__all__ = ["ItemPhoto", "add_photo", "photo_by_id", "photos_of", "remove_photo"]


@dataclass(frozen=True)
class ItemPhoto:
    """A photo of an item."""

    id: int
    name: str
    """What it is kept under, outside the database."""
    at: datetime


def photos_of(session: Session, item_id: int) -> tuple[ItemPhoto, ...]:
    """Return the photos of an item, the first one first."""
    rows = session.scalars(select(ItemPhotoRow).where(ItemPhotoRow.item_id == item_id).order_by(ItemPhotoRow.id))
    return tuple(map(_photo, rows))


def photo_by_id(session: Session, code: str, photo_id: int) -> ItemPhoto:
    """Return a photo of an item. Raises NotFoundError."""
    return _photo(_row(session, code, photo_id))


def add_photo(turn: Turn, code: str, name: str, *, most: int, token: str | None = None) -> ItemPhoto:
    """Add a photo to an item, which has `most` at most; a known token adds none. Raises NotFoundError and InputError."""
    known = made_by_token(turn, ItemPhotoRow, token)
    if known:
        return _photo(known)
    item = item_row(turn.session, code, lock=True)
    there = turn.session.scalar(select(func.count()).where(ItemPhotoRow.item_id == item.id)) or 0
    if there >= most:
        raise InputError(seen=f"this item has {there} photos already", remedy="remove one first")
    row = ItemPhotoRow(item_id=item.id, photo=name, at=turn.at, by_id=turn.by.person_id, token=token)
    turn.session.add(row)
    turn.session.flush()
    turn.note("item", item.id, "photo added", {"number": row.id})
    return _photo(row)


def remove_photo(turn: Turn, code: str, photo_id: int) -> ItemPhoto:
    """Remove a photo of an item; its files are still to be removed. Raises NotFoundError."""
    row = _row(turn.session, code, photo_id)
    turn.session.delete(row)
    turn.note("item", row.item_id, "photo removed", {"number": row.id})
    return _photo(row)


def _row(session: Session, code: str, photo_id: int) -> ItemPhotoRow:
    item = item_row(session, code)
    row = session.get(ItemPhotoRow, photo_id)
    if row is None or row.item_id != item.id:
        raise NotFoundError(what="photo", name=str(photo_id), known=[str(each.id) for each in photos_of(session, item.id)])
    return row


def _photo(row: ItemPhotoRow) -> ItemPhoto:
    return ItemPhoto(row.id, row.photo, row.at)
