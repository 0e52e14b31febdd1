"""Requests for the trail of changes in, pages and JSON out."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Annotated, Any

from fastapi import APIRouter, Query, Request
from starlette.responses import HTMLResponse  # noqa: TC002 — FastAPI reads the annotations

from foible.records.trail import TrailQuery
from foible.services.register.told_trail import trail_lines
from foible.web.lanes import looks_up
from foible.web.register.asking import register_of, show

if TYPE_CHECKING:
    from foible.services.register.told_trail import TrailLine

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
LISTED = 50
KINDS = ("item", "job", "part", "person")
Id = Annotated[int | None, Query(ge=1, le=2**31 - 1)]
Kind = Annotated[str, Query(max_length=10)]


@router.get("/register/trail")
@looks_up
def trail_page(request: Request, kind: Kind = "", ref: Id = None, by: Id = None, before: Id = None) -> HTMLResponse:
    """Show who changed what, the latest first."""
    lines = _lines(request, TrailQuery(kind or None, ref, by), before, LISTED + 1)
    more = lines[LISTED - 1].id if len(lines) > LISTED else None
    return show(request, "trail.html", lines=lines[:LISTED], more=more, kind=kind, ref=ref, by=by, kinds_told=KINDS)


@router.get("/api/register/trail")
@looks_up
def trail(request: Request, kind: Kind = "", ref: Id = None, by: Id = None, before: Id = None) -> Any:  # noqa: ANN401 — JSON
    """Return who changed what, the latest first; `before` is the last id of the stretch before."""
    lines = _lines(request, TrailQuery(kind or None, ref, by), before, LISTED)
    return [asdict(line) | {"at": line.at.isoformat(), "what": dict(line.what)} for line in lines]


def _lines(request: Request, query: TrailQuery, before: int | None, limit: int) -> tuple[TrailLine, ...]:
    return trail_lines(register_of(request).database, query, limit=limit, before=before)
