"""Photos of items in, files beside those of cases out: sized down and stripped in the same way, by the same code."""

from __future__ import annotations

from typing import TYPE_CHECKING

from foible.records.register import add_photo, item_by_code, photo_by_id, remove_photo
from foible.services.photos import MOST_PHOTOS
from foible.services.pictures import cleaned

if TYPE_CHECKING:
    from foible.records.register import ItemPhoto, RegisterStore
    from foible.records.trail import Who
    from foible.services.photos import Album

__all__ = ["add_item_photo", "item_photo", "remove_item_photo"]


def add_item_photo(  # noqa: PLR0913 — a photo, where it goes and who sends it
    store: RegisterStore, album: Album, code: str, raw: bytes, *, token: str, by: Who
) -> ItemPhoto:
    """Add a photo to an item, without anything in its file but what can be seen; a known token adds none.

    Raises NotFoundError, and InputError where it is no photo or the item has enough of them.
    """
    store.read(lambda session: item_by_code(session, code))  # before anything is decoded
    name = album.keep(cleaned(raw))
    try:
        made = store.write(
            lambda turn: add_photo(turn, code, name, most=MOST_PHOTOS, token=token), by=by, what="the photo of the item"
        )
    except BaseException:
        album.drop(name)
        raise
    if made.name != name:  # the same was sent twice
        album.drop(name)
    return made


def item_photo(store: RegisterStore, album: Album, code: str, photo_id: int, *, small: bool) -> bytes:
    """Return a photo of an item, a JPEG. Raises NotFoundError, and KeepingError where its file is gone."""
    return album.read(store.read(lambda session: photo_by_id(session, code, photo_id)).name, small=small)


def remove_item_photo(store: RegisterStore, album: Album, code: str, photo_id: int, *, by: Who) -> None:
    """Remove a photo of an item, and its files. Raises NotFoundError."""
    gone = store.write(lambda turn: remove_photo(turn, code, photo_id), by=by, what="the photo of the item")
    album.drop(gone.name)
