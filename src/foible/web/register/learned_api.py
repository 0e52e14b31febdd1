"""What the register teaches, and a season of it, as JSON. docs/json.md describes the shapes."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Query, Request

from foible.output.register_json import learned_json, season_json
from foible.services.register.learned import among_items, learned_page
from foible.web.lanes import looks_up
from foible.web.register.learned_pages import teacher_of
from foible.web.register.season_pages import Wanted, season_asked
from foible.web.shared import cases_of

__all__ = ["router"]

router = APIRouter(prefix="/api/register", tags=["register"])
Weapon = Annotated[str | None, Query(max_length=20, description="The weapon; by default the usual one.")]
ITEMS = 100


@router.get("/season")
@looks_up
def season(request: Request, asked: Wanted) -> dict[str, Any]:
    """Return the same as JSON, but for the lives' curves."""
    return season_json(season_asked(request, asked))


@router.get("/learned")
@looks_up
def learned(request: Request, weapon: Weapon = None) -> dict[str, Any]:
    """Return what the register teaches about a weapon's kit."""
    teacher = teacher_of(request)
    page = learned_page(teacher, cases_of(request).reasoning.setup(weapon))
    makes, items = among_items(teacher, page, ITEMS)
    return learned_json(page, makes, items, counts=teacher.store.learns().value)
