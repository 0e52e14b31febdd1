"""Requests about how a circuit works in; out, its contents, and one page for each step: plain links from one to the next."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse  # noqa: TC002 — FastAPI reads the annotations

from foible.drawing import Marks, strip_svg
from foible.kit import SIDES
from foible.services.teaching import lamps_of, step_shown, walk_of
from foible.web.lanes import looks_up, reasons
from foible.web.shared import cases_of, drawn, in_address, render, weapon_of

if TYPE_CHECKING:
    from foible.services.teaching import StepShown, Walk

__all__ = ["router"]

router = APIRouter(include_in_schema=False, prefix="/circuit")


@router.get("/{word}")
@looks_up
def contents(request: Request, word: str) -> HTMLResponse:
    """Show what the steps are about, and what each lamp means."""
    reasoning, weapon = cases_of(request).reasoning, weapon_of(request, word)
    walk, lamps = walk_of(reasoning, weapon.name), lamps_of(reasoning, weapon.name)
    return render(request, "circuit.html", weapon=weapon.name, word=weapon.word, walk=walk, lamps=lamps, sides=SIDES)


@router.get("/{word}/{step}")
@reasons
def one_step(request: Request, word: str, step: str) -> HTMLResponse:
    """Show one step: what is done, what lights, the way of the current, and the way to the next step."""
    reasoning, weapon = cases_of(request).reasoning, weapon_of(request, word)
    walk = walk_of(reasoning, weapon.name)
    with in_address():
        shown = step_shown(reasoning, weapon.name, step)
    number = [each.name for each in walk.steps].index(shown.step.name)
    return render(
        request,
        "circuit_step.html",
        weapon=weapon.name,
        word=weapon.word,
        walk=walk,
        number=number,
        shown=shown,
        sides=SIDES,
        measured=[(between, _reading(ohms), circuit == shown.circuit.name) for circuit, between, ohms in shown.measured],
        drawing=drawn(_drawing(walk, shown)),
    )


def _reading(ohms: float) -> str:
    return "open" if math.isinf(ohms) else f"{ohms:.1f} Ω"


def _drawing(walk: Walk, shown: StepShown) -> str:
    setup, circuit, failures = walk.setup, shown.circuit, shown.step.failures
    marks = Marks(
        way=circuit.way,
        cuts=circuit.cuts,
        trial=shown.step.trial,
        chosen=failures[0].item if failures else None,
        lamps=shown.lamps,
        hidden=[item.id for item in setup.items.values() if item.tool or item.handling],
    )
    return strip_svg(setup, marks)
