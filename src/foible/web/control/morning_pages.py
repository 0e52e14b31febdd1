"""Requests for the morning of the event in; out, the list that proves a strip, as a page and on paper."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated
from urllib.parse import urlencode

from fastapi import APIRouter, Query, Request
from pydantic import BaseModel, ConfigDict, Field
from starlette.responses import HTMLResponse, Response

from foible.facts import METAL_PISTE, NO_METAL_PISTE, ORANGE_LAMPS
from foible.output.strip_sheets_pdf import morning_pdf, told_certainty
from foible.services.control.morning import SURE, WRONG, morning_of
from foible.web.control.asking import pdf_named, show
from foible.web.lanes import reasons
from foible.web.shared import cases_of, in_address

if TYPE_CHECKING:
    from foible.services.control.morning_list import Morning

__all__ = ["router"]

router = APIRouter(include_in_schema=False, prefix="/control")
LEVELS = (0.9, 0.95, 0.97, 0.98)
"""Certainties that the page offers."""


class Asked(BaseModel):
    """What the form asks for."""

    model_config = ConfigDict(extra="forbid")

    weapon: str = Field("", max_length=20)
    piste: bool = True
    orange: bool = False
    pistes: int = Field(6, ge=1, le=60)
    sure: float = Field(SURE, ge=0.5, le=0.999)
    wrong: int = Field(round(10 * WRONG), ge=1, le=9)
    """Of ten strips, how many have something wrong when they have just been laid out."""

    @property
    def facts(self) -> tuple[str, ...]:
        """What is known of the place."""
        return (METAL_PISTE if self.piste else NO_METAL_PISTE, *([ORANGE_LAMPS] if self.orange else []))


Wanted = Annotated[Asked, Query()]


def _morning(request: Request, asked: Asked) -> Morning:
    with in_address():
        reasoning = cases_of(request).reasoning
        return morning_of(reasoning, asked.weapon or None, facts=asked.facts, sure=asked.sure, wrong=asked.wrong / 10)


@router.get("/morning")
@reasons
def morning_page(request: Request, asked: Wanted) -> HTMLResponse:
    """Show the list for a weapon and place."""
    made = _morning(request, asked)
    weapons = cases_of(request).reasoning.weapons()
    said = {key: value for key, value in asked.model_dump(mode="json").items() if value != ""}
    return show(
        request,
        "morning.html",
        None,
        morning=made,
        asked=asked,
        weapons=weapons,
        levels=LEVELS,
        certainty=told_certainty(made),
        address=urlencode(said),
        optional=any(lamp.optional for weapon in weapons if weapon.name == made.weapon for lamp in weapon.lamps),
    )


@router.get("/morning.pdf")
@reasons
def morning_paper(request: Request, asked: Wanted) -> Response:
    """Return the same as a sheet to tick, a column for each piste."""
    made = _morning(request, asked)
    return Response(morning_pdf(made, asked.pistes), media_type="application/pdf", headers=pdf_named("morning"))
