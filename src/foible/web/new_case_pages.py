"""Requests for a new case in: where the kit is, what is at hand, what is said or was found; the case opened out."""

from __future__ import annotations

import secrets
from typing import TYPE_CHECKING, Annotated

from fastapi import APIRouter, Depends, Form, Request
from pydantic import BaseModel, Field
from starlette.responses import HTMLResponse, Response  # noqa: TC002 — FastAPI reads the annotations

from foible.errors import UnknownNameError
from foible.facts import FACTS, facts_named
from foible.kit import SIDES, slots_of
from foible.services.cases import About
from foible.services.fitting import checked_fitting, fitted_named
from foible.services.on_the_bench import first_failed, gauges_of, lying, thing_words
from foible.situation import TOOLS, Mode, Situation, tools_named
from foible.web.lanes import looks_up
from foible.web.last_time import last_place, remember_place, remember_weapon
from foible.web.security import check_form, device
from foible.web.shared import cases_of, redirect, render, weapon_of

if TYPE_CHECKING:
    from foible.kit import Setup
    from foible.records import KeptCase

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
Said = Annotated[str, Field(max_length=200)]
Names = Annotated[list[str], Field(max_length=20)]


@router.get("/new/{word}")
@looks_up
def new(request: Request, word: str) -> HTMLResponse:
    """Ask where the kit is and what is wrong; where the device worked last is offered."""
    cases, weapon = cases_of(request), weapon_of(request, word).name
    setup, last = cases.reasoning.setup(weapon), last_place(request)
    on_bench = lying(setup)
    item = last.item if last and last.item and last.item in setup.items else on_bench[0][0]
    if item not in dict(on_bench):
        on_bench = (*on_bench, (item, item))
    weapon_item = f"{SIDES[0]} weapon"
    return render(
        request,
        "new.html",
        weapon=weapon,
        word=word,
        complaints=[complaint.say for complaint in cases.complaints(weapon, SIDES[0])],
        sides=SIDES,
        at=last.mode if last else Mode.PISTE,
        hands={mode: last.tools if last and last.mode is mode else mode.usual_tools for mode in Mode},
        known=last.facts if last else (),
        item=item,
        lying=on_bench,
        weapon_item=weapon_item,
        gauges=gauges_of(cases.reasoning.ideas(setup), weapon_item),
        tools=TOOLS,
        facts=FACTS,
        slots=slots_of(weapon, cases.reasoning.overlays),
    )


class Told(BaseModel):
    """The form of a new case: a complaint is the side’s button with the fencer’s words, a failed gauge one with its trial."""

    left: Said = ""
    right: Said = ""
    say: Said = ""
    side: Annotated[str, Field(max_length=10)] = ""
    fails: Said = ""
    title: Annotated[str, Field(max_length=120)] = ""
    piste: Annotated[str, Field(max_length=40)] = ""
    fencer: Annotated[str, Field(max_length=80)] = ""
    fitted: Annotated[list[Annotated[str, Field(max_length=100)]], Field(max_length=10)] = Field(default_factory=list)
    place: Mode | None = None
    item: Annotated[str, Field(max_length=80)] = ""
    piste_tool: Names = Field(default_factory=list)
    bench_tool: Names = Field(default_factory=list)
    fact: Names = Field(default_factory=list)
    token: Annotated[str, Field(max_length=40)] = ""

    @property
    def complaint(self) -> tuple[str, str]:
        """What is said, and by whom; ("", "") where nothing is."""
        if self.say:
            return self.say, self.side
        return next(((said, side) for side in SIDES if (said := getattr(self, side))), ("", ""))

    @property
    def where(self) -> Situation | None:
        """Where the kit is, and with what; None where the form does not say. Raises UnknownNameError."""
        if self.place is None:
            return None
        on_bench = self.place is Mode.BENCH
        tools = tools_named(self.bench_tool if on_bench else self.piste_tool)
        return Situation(self.place, (self.item or None) if on_bench else None, tools, facts=facts_named(self.fact))


@router.post("/new/{word}", dependencies=[Depends(check_form)])
@looks_up
def begin(request: Request, word: str, told: Annotated[Told, Form()]) -> Response:
    """Open a case; where it is worked on is kept for the device's next one."""
    weapon = weapon_of(request, word)
    kept = _opened(request, weapon.name, told)
    remember_weapon(request, weapon.word)
    if told.place is not None:
        remember_place(request, kept)
    return redirect(request, f"/cases/{kept.id}")


def _opened(request: Request, weapon: str, told: Told) -> KeptCase:
    cases, by = cases_of(request), device(request)
    say, side = told.complaint
    if say and side not in SIDES:
        raise UnknownNameError(what="side", name=side, known=SIDES)
    fitted = checked_fitting(cases.reasoning, weapon, fitted_named(told.fitted))
    about, where, token = About(told.piste, told.fencer, fitted), told.where, told.token or secrets.token_hex(8)
    if say:
        return cases.open_complaint(weapon, say, side, title=told.title, token=token, by=by, about=about, where=where)
    first = []
    if told.fails:
        item, entry = first_failed(cases, weapon, told.fails, token=token, by=by)
        first = [entry]
        where = Situation(Mode.BENCH, item, where.tools if where else Mode.BENCH.usual_tools, facts=where.facts if where else ())
    title = told.title.strip() or _title(cases.reasoning.setup(weapon), where)
    return cases.open(weapon, title=title, token=told.token or None, about=about, where=where, first=first)


def _title(setup: Setup, where: Situation | None) -> str:
    """Return the title of a case of which nobody says anything: what lies on the bench; "" at the piste."""
    if where is None or where.mode is Mode.PISTE or where.item not in setup.items:
        return ""
    return f"{thing_words(setup, where.item or '').capitalize()} on the bench"
