"""A request for the practice strip in; out, the page with all that one can do there."""

from __future__ import annotations

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse  # noqa: TC002 — FastAPI reads the annotation

from foible.practice import subjects
from foible.web.lanes import looks_up
from foible.web.shared import cases_of, render

__all__ = ["router"]

router = APIRouter(include_in_schema=False, prefix="/practice")


@router.get("")
@looks_up
def contents(request: Request) -> HTMLResponse:
    """Show what can be practised, by weapon and by idea."""
    weapons = cases_of(request).reasoning.weapons()
    return render(request, "practice/contents.html", weapons=weapons, subjects=subjects())
