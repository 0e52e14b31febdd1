"""Photos of a case: one attached, and each shown, large or small, as a JPEG of our own making."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Annotated

from anyio import to_thread
from fastapi import APIRouter, Depends, Path, Query, Request
from starlette.datastructures import UploadFile
from starlette.responses import Response

from foible.errors import InputError
from foible.services.photos import album_of, attach, photo_of
from foible.web import api
from foible.web.case_json import CaseName, whole_json
from foible.web.lanes import looks_up, on_loop
from foible.web.security import check_form, device
from foible.web.shared import cases_of, hub_of, in_address, is_partial, priority_of, redirect

if TYPE_CHECKING:
    from foible.records import KeptCase

__all__ = ["Number", "Size", "jpeg", "router", "sent_photo"]

router = APIRouter(include_in_schema=False, prefix="/cases")
Number = Annotated[int, Path(ge=1, le=10_000)]
Size = Annotated[str, Query(pattern="^(large|small)$")]
JPEG = "image/jpeg"
KINDS = (JPEG, "image/png", "image/webp")
HEADERS = {"Cache-Control": "private, max-age=86400, immutable", "Content-Disposition": "inline"}
BINARY: dict[str, object] = {}
"""How OpenAPI 3.1 describes bytes that are no JSON: by their kind alone (4.8.14.3)."""


@router.post("/{name}/photos", dependencies=[Depends(check_form)])
@on_loop
async def take(request: Request, name: str) -> Response:
    """Attach a photo, sent by a form."""
    raw, token = await sent_photo(request)
    kept = await _attached(request, name, raw, token, device(request))
    return Response(status_code=204) if is_partial(request) else redirect(request, f"/cases/{kept.id}")


@router.get("/{name}/photos/{number}")
@looks_up
def show(request: Request, name: str, number: Number, size: Size = "large") -> Response:
    """Show a photo of a case."""
    return _photo(request, name, number, size)


@api.router.post(
    "/cases/{name}/photos",
    status_code=201,
    openapi_extra={"requestBody": {"required": True, "content": dict.fromkeys(KINDS, BINARY)}},
)
@on_loop
async def take_in(
    request: Request, name: CaseName, token: Annotated[str, Query(min_length=1, max_length=40)]
) -> dict[str, object]:
    """Attach a photo, sent as the body itself."""
    kept = await _attached(request, name, await request.body(), token, "api")
    return await priority_of(request).reason(partial(whole_json, request, kept))


@api.router.get(
    "/cases/{name}/photos/{number}",
    response_class=Response,
    responses={200: {"content": {JPEG: BINARY}, "description": "A JPEG"}},
)
@looks_up
def photo(request: Request, name: CaseName, number: Number, size: Size = "large") -> Response:
    """Return a photo of a case."""
    return _photo(request, name, number, size)


async def sent_photo(request: Request) -> tuple[bytes, str]:
    """Return the photo that a form sends, and the token of the form; the name of its file is nothing here. Raises InputError."""
    async with request.form() as form:
        sent, token = form.get("photo"), form.get("token")
        raw = await sent.read() if isinstance(sent, UploadFile) else b""
    if not raw:
        raise InputError(seen="no photo was chosen", remedy="choose one and send it again")
    if not isinstance(token, str) or not 4 <= len(token) <= 40:  # noqa: PLR2004 — as for every form of a case
        raise InputError(seen="the form has no token", remedy="reload the page and send it again")
    return raw, token


def jpeg(content: bytes) -> Response:
    """Return a photo as an answer: a JPEG that no browser takes for anything else."""
    return Response(content, media_type=JPEG, headers=HEADERS)


async def _attached(request: Request, name: str, raw: bytes, token: str, by: str) -> KeptCase:
    """Attach a photo; decoding it takes a while, so no answer waits behind it."""
    work = partial(attach, cases_of(request), name, raw, token=token, by=by)
    kept = await to_thread.run_sync(work)
    hub_of(request).tell(kept.id, kept.version)
    return kept


def _photo(request: Request, name: str, number: int, size: str) -> Response:
    with in_address():
        kept = photo_of(cases_of(request).store.case(name), number)
    return jpeg(album_of(cases_of(request)).read(kept, small=size == "small"))
