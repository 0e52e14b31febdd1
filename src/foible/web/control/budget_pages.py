"""Readings of the parts of a strip's circuit in; out, each way of the current beside its legal maxima and Annex B."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query, Request
from starlette.responses import HTMLResponse  # noqa: TC002 — FastAPI reads the annotation

from foible.errors import InputError
from foible.services.control.budgets import budgets_of, meters, parts_of
from foible.services.control.figures import rounded
from foible.services.control.verdicts import OFFICIALS
from foible.web.lanes import looks_up
from foible.web.shared import cases_of, render, weapon_of

__all__ = ["router"]

router = APIRouter(include_in_schema=False, prefix="/control")
Short = Annotated[str, Query(max_length=80)]


@router.get("/budget")
@looks_up
def budget(request: Request, weapon: Short = "", meter: Short = "") -> HTMLResponse:
    """Show the budget of every way of the current at a weapon."""
    weapons = cases_of(request).reasoning.weapons()
    chosen = weapon_of(request, weapon) if weapon else weapons[0]
    read = {part: request.query_params.get(f"read {part}", "")[:30] for part in parts_of(chosen.name)}
    found, problem = None, None
    try:
        found = budgets_of(chosen.name, read, meter=meter)
    except InputError as error:
        problem = error
    return render(
        request,
        "control/budget.html",
        problem.http_status if problem else 200,
        weapons=weapons,
        weapon=chosen,
        meters=meters(),
        meter=meter or meters()[0].name,
        read=read,
        found=found,
        problem=problem,
        rounded=rounded,
        officials=OFFICIALS,
    )
