"""A request for the practice strip in; out, the page with all that one can do there."""

from __future__ import annotations

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse  # noqa: TC002 — FastAPI reads the annotation

from foible.practice import subjects
from foible.services.practice.standing import next_of
from foible.web.lanes import looks_up
from foible.web.practice.learner import shelves_of, standings_of
from foible.web.shared import cases_of, render

__all__ = ["router"]

router = APIRouter(include_in_schema=False, prefix="/practice")


@router.get("")
@looks_up
def contents(request: Request) -> HTMLResponse:
    """Show what can be practised, by weapon and by idea, and what is due for whoever asks."""
    weapons = cases_of(request).reasoning.weapons()
    lessons = shelves_of(request)
    coming = next_of(standings_of(request), lessons.taught)
    values = lessons.values | {"weapons": weapons, "subjects": subjects(), "next": coming}
    return render(request, "practice/contents.html", **values)  # type: ignore[arg-type]
