"""Photos of items for programs: one added, which is the body as it is; shown; removed. docs/json.md describes the keys."""

from __future__ import annotations

from functools import partial
from typing import Annotated

from anyio import to_thread
from fastapi import APIRouter, Path, Query, Request
from starlette.responses import Response

from foible.services.photos import album_of
from foible.services.register.photos import add_item_photo, item_photo, remove_item_photo
from foible.web.lanes import looks_up, on_loop
from foible.web.photo_pages import Size, jpeg
from foible.web.register.asking import LARGEST_ID, register_of, who
from foible.web.shared import cases_of, in_address

__all__ = ["router"]

router = APIRouter(include_in_schema=False, prefix="/api/register/items")
Number = Annotated[int, Path(ge=1, le=LARGEST_ID)]
Token = Annotated[str, Query(min_length=4, max_length=40)]


@router.post("/{code}/photos", status_code=201)
@on_loop
async def photo_added(request: Request, code: str, token: Token) -> dict[str, object]:
    """Add a photo to an item; decoding it takes a while, so nothing else waits behind it."""
    raw, album = await request.body(), album_of(cases_of(request))
    add = partial(add_item_photo, register_of(request), album, code, raw, token=token, by=who(request))
    with in_address():
        made = await to_thread.run_sync(add)
    return {"number": made.id, "address": f"/api/register/items/{code}/photos/{made.id}"}


@router.get("/{code}/photos/{number}")
@looks_up
def photo_shown(request: Request, code: str, number: Number, size: Size = "large") -> Response:
    """Return a photo of an item."""
    with in_address():
        return jpeg(item_photo(register_of(request), album_of(cases_of(request)), code, number, small=size == "small"))


@router.post("/{code}/photos/{number}/remove", status_code=204)
@looks_up
def photo_removed(request: Request, code: str, number: Number) -> Response:
    """Remove a photo of an item, for good."""
    with in_address():
        remove_item_photo(register_of(request), album_of(cases_of(request)), code, number, by=who(request))
    return Response(status_code=204)
