"""Requests about photos of items in: one added, shown, removed; sent and shown as those of cases are."""

from __future__ import annotations

from functools import partial
from typing import Annotated

from anyio import to_thread
from fastapi import APIRouter, Path, Request
from starlette.responses import Response  # noqa: TC002 — FastAPI reads the annotations

from foible.services.photos import album_of
from foible.services.register.photos import add_item_photo, item_photo, remove_item_photo
from foible.web.lanes import looks_up, on_loop
from foible.web.photo_pages import Size, jpeg, sent_photo
from foible.web.register.asking import LARGEST_ID, Checked, register_of, who
from foible.web.shared import cases_of, in_address, redirect

__all__ = ["router"]

router = APIRouter(include_in_schema=False, prefix="/register/items")
Number = Annotated[int, Path(ge=1, le=LARGEST_ID)]


@router.post("/{code}/photos", dependencies=[Checked])
@on_loop
async def photo_added(request: Request, code: str) -> Response:
    """Add a photo to an item; decoding it takes a while, so nothing else waits behind it."""
    raw, token = await sent_photo(request)
    album = album_of(cases_of(request))
    add = partial(add_item_photo, register_of(request), album, code, raw, token=token, by=who(request))
    await to_thread.run_sync(add)
    return redirect(request, f"/register/items/{code}")


@router.get("/{code}/photos/{number}")
@looks_up
def photo_shown(request: Request, code: str, number: Number, size: Size = "large") -> Response:
    """Show a photo of an item."""
    with in_address():
        return jpeg(item_photo(register_of(request), album_of(cases_of(request)), code, number, small=size == "small"))


@router.post("/{code}/photos/{number}/remove", dependencies=[Checked])
@looks_up
def photo_removed(request: Request, code: str, number: Number) -> Response:
    """Remove a photo of an item, for good."""
    with in_address():
        remove_item_photo(register_of(request), album_of(cases_of(request)), code, number, by=who(request))
    return redirect(request, f"/register/items/{code}")
