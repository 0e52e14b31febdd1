"""A weapon, a level, a count and a seed in, or faults made by hand; out, the form for worksheets and the sheets as PDF."""

from __future__ import annotations

import asyncio
import secrets
from typing import Annotated
from urllib.parse import urlencode

from fastapi import APIRouter, Query, Request
from starlette.responses import HTMLResponse, Response

from foible.practice import Level, level_named
from foible.services.practice.strip import HIGHEST
from foible.services.practice.trainer import written_fault
from foible.services.practice.worksheets import MOST_EXERCISES, ON_PAPER
from foible.web.lanes import looks_up, on_loop
from foible.web.practice.sheets import AskedSheet
from foible.web.practice.trainer_pages import address_for_others
from foible.web.shared import cases_of, in_address, render, weapon_of

__all__ = ["router"]

router = APIRouter(include_in_schema=False, prefix="/practice/worksheets")
Word = Annotated[str, Query(max_length=40)]
Made = Annotated[list[str], Query(max_length=MOST_EXERCISES)]
USUAL = 4
"""Exercises of a worksheet unless another number is asked for."""
AT_ONCE_S, AGAIN_S = 2.0, 2
"""How long a worksheet is waited for before a page is shown that asks again, and after how long it does [s]."""
SEEDS = 10_000
"""Seeds that are proposed: short enough to be read aloud."""


@router.get("")
@looks_up
def form(request: Request, weapon: Word = "", made: Made = []) -> HTMLResponse:  # noqa: B006 — FastAPI copies it
    """Ask what is to stand on the sheets; faults made by hand come with the address."""
    reasoning = cases_of(request).reasoning
    chosen = weapon_of(request, weapon) if weapon else reasoning.weapon()
    values: dict[str, object] = {"weapons": reasoning.weapons(), "chosen": chosen, "levels": ON_PAPER, "usual": Level.STEADY}
    values |= {"most": MOST_EXERCISES, "count": USUAL, "seed": 1 + secrets.randbelow(SEEDS)}
    by_hand = [number for number in made if number]
    values["wrong"] = [written_fault(reasoning, chosen.name, number) for number in by_hand]
    values["sheets"] = "/practice/worksheets/sheets.pdf?" + urlencode([("weapon", chosen.word), *(("made", n) for n in by_hand)])
    return render(request, "practice/trainer_worksheets.html", **values)  # type: ignore[arg-type]


@router.get("/sheets.pdf")
@on_loop
async def sheets(
    request: Request,
    weapon: Word = "",
    level: Word = Level.STEADY.value,
    count: Annotated[int, Query(ge=1, le=MOST_EXERCISES)] = USUAL,
    seed: Annotated[int, Query(ge=0, lt=HIGHEST)] = 1,
    made: Made = [],  # noqa: B006 — FastAPI copies it
) -> Response:
    """Return the sheets, of a seed, always the same, or of faults made by hand; until they are made, a page that asks again."""
    reasoning = cases_of(request).reasoning
    name = weapon_of(request, weapon).name if weapon else reasoning.weapon().name
    with in_address():
        asked = level_named(level)
    by_hand = tuple(number for number in made if number)
    sheet = AskedSheet(name, asked, count, seed, by_hand, address_for_others(request, ""))
    coming = request.app.state.sheets.ask(sheet)
    done, _ = await asyncio.wait([asyncio.wrap_future(coming)], timeout=AT_ONCE_S)
    if not done:
        page = render(request, "practice/worksheet_making.html", 202)
        page.headers["Refresh"] = f"{AGAIN_S}"
        return page
    raw = coming.result()
    return Response(raw, media_type="application/pdf", headers={"Content-Disposition": 'inline; filename="worksheet.pdf"'})
