"""Requests about one case in, its pages out: the next trial, the suspects, any other trial, and the case on paper."""

from __future__ import annotations

import json
from functools import partial
from typing import TYPE_CHECKING, Annotated
from urllib.parse import quote

from fastapi import APIRouter, Depends, Form, Query, Request
from starlette.responses import HTMLResponse, Response, StreamingResponse

from foible.drawing import Marks, item_svg, part_svg, strip_svg
from foible.errors import UnknownNameError
from foible.kit import SIDES
from foible.services.fitting import describe, fitted_named
from foible.situation import Mode
from foible.trials import box_pairs
from foible.web.answering import answered
from foible.web.case_board import changed, show_board
from foible.web.forms import own_trial
from foible.web.lanes import looks_up, on_loop, reasons
from foible.web.last_time import remember_place
from foible.web.security import check_form, device, may_ask
from foible.web.shared import (
    cases_of,
    drawn,
    hub_of,
    in_address,
    is_partial,
    names_of,
    priority_of,
    redirect,
    render,
    settings_of,
    texts,
)
from foible.web.views import board, earth_lamp_known, suspect_view

if TYPE_CHECKING:
    from foible.records import KeptCase
    from foible.services.cases import Standing

__all__ = ["router"]

router = APIRouter(include_in_schema=False, prefix="/cases")
Checked = Depends(check_form)
Token = Annotated[str, Form(max_length=40, min_length=4)]
Say = Annotated[str, Form(max_length=200)]


@router.get("/{name}")
@reasons
def case(request: Request, name: str, say: Annotated[str | None, Query(max_length=200)] = None) -> HTMLResponse:
    """Show a case; `say` picks a trial other than the one to make first."""
    return show_board(request, cases_of(request).standing(name), say=say)


@router.get("/{name}/changes")
@on_loop
async def changes(request: Request, name: str) -> Response:
    """Tell a device the case's current version, and every new one."""
    kept = await priority_of(request).look(partial(cases_of(request).store.case, name))
    told = hub_of(request).changes(kept.id, kept.version, partial(may_ask, request.scope, settings_of(request)))
    return StreamingResponse(told, media_type="text/event-stream")


@router.post("/{name}/answer", dependencies=[Checked])
@on_loop
async def answer(request: Request, name: str) -> Response:
    """Record the result of a trial, and acknowledge it before anything is reasoned: the page then asks how the case stands."""
    form = texts(await request.form())
    kept = await priority_of(request).take(partial(_answered, request, name, form))
    if not is_partial(request):
        return redirect(request, f"/cases/{kept.id}")
    return Response(status_code=204, headers={"HX-Trigger": json.dumps({"noted": {"version": kept.version}})})


def _answered(request: Request, name: str, form: dict[str, str]) -> KeptCase:
    kept = answered(cases_of(request), name, form, by=device(request))
    hub_of(request).tell(kept.id, kept.version)
    return kept


@router.post("/{name}/skip", dependencies=[Checked])
@on_loop
async def skip(request: Request, name: str, say: Say, token: Token) -> Response:
    """Skip a trial that cannot be made now."""
    return await changed(request, partial(cases_of(request).skip, name, say, token=token, by=device(request)))


@router.post("/{name}/back", dependencies=[Checked])
@on_loop
async def back(request: Request, name: str, token: Token) -> Response:
    """Record that the fencer's own kit is refitted."""
    return await changed(request, partial(cases_of(request).back, name, token=token, by=device(request)))


@router.post("/{name}/take-back", dependencies=[Checked])
@on_loop
async def take_back(request: Request, name: str, number: Annotated[int, Form(ge=1)]) -> Response:
    """Take an answer back."""
    return await changed(request, partial(cases_of(request).take_back, name, number))


@router.post("/{name}/place", dependencies=[Checked])
@on_loop
async def place(
    request: Request,
    name: str,
    place: Annotated[str, Form(pattern="^(piste|bench)$")],
    item: Annotated[str, Form(max_length=80)] = "",
    tool: Annotated[list[str] | None, Form(max_length=20)] = None,
    fact: Annotated[list[str] | None, Form(max_length=20)] = None,
) -> Response:
    """Work on the case at the piste or on the bench, with what is at hand, where some facts hold."""
    moved = partial(cases_of(request).move, name, place=Mode(place), item=item or None, tools=tool or [], facts=fact or [])

    def change() -> KeptCase:
        kept = moved()
        remember_place(request, kept)
        return kept

    return await changed(request, change)


@router.post("/{name}/about", dependencies=[Checked])
@looks_up
def about(
    request: Request,
    name: str,
    title: Annotated[str, Form(max_length=120)] = "",
    piste: Annotated[str, Form(max_length=40)] = "",
    fencer: Annotated[str, Form(max_length=80)] = "",
    fitted: Annotated[list[str] | None, Form(max_length=10)] = None,
) -> Response:
    """Change what a case is called, on which piste it is, whose kit it is and what is fitted; a title cannot be empty."""
    told = {"title": title.strip() or None, "piste": piste.strip(), "fencer": fencer.strip()}
    kept = describe(cases_of(request), name, **told, fitted=fitted_named(fitted or ()))
    hub_of(request).tell(kept.id, kept.version)
    return redirect(request, f"/cases/{kept.id}")


# --- other trials -----------------------------------------------------------------------------------------------------


@router.get("/{name}/trials")
@reasons
def trials(request: Request, name: str) -> HTMLResponse:
    """Show every trial that can be made, the most useful first."""
    cases = cases_of(request)
    standing = cases.standing(name)
    worth = {advice.idea.say: advice for advice in standing.diagnosis.advice}
    at_piste = standing.situation.mode is Mode.PISTE
    item = standing.kept.item or (None if at_piste else standing.diagnosis.finding.items[0].name)
    ideas = [
        idea for idea in cases.reasoning.ideas(standing.case.setup) if (idea.item is None if at_piste else idea.item == item)
    ]
    rest = [idea for idea in ideas if idea.say not in worth]
    return render(request, "trials.html", standing=standing, worth=list(worth.values()), rest=rest)


@router.get("/{name}/own")
@reasons
def own(request: Request, name: str) -> HTMLResponse:
    """Ask what else happened."""
    return _own(request, cases_of(request).standing(name), {})


def _own(request: Request, standing: Standing, given: dict[str, str]) -> HTMLResponse:
    setup = standing.case.setup
    return render(
        request,
        "own.html",
        standing=standing,
        setup=setup,
        given=given,
        lamps=setup.kind.lamps,
        sides=SIDES,
        verb="press" if setup.points[SIDES[0]].moves else "cut",
        boxed=[item.id for item in setup.items.values() if item.box],
        pairs=tuple(dict.fromkeys(pair for item in setup.items.values() if item.box for pair in box_pairs(setup, item.id))),
        there=earth_lamp_known(standing),
        exchangeable=[item.id for item in setup.items.values() if item.exchange_s is not None],
        signs=["fine", *sorted(setup.signs)],
    )


@router.post("/{name}/own", dependencies=[Checked])
@on_loop
async def note(request: Request, name: str) -> Response:
    """Record a trial of the user's own."""
    form = texts(await request.form())

    def noted() -> KeptCase:
        cases = cases_of(request)
        table = own_trial(form, cases.reasoning.weapon(cases.weapon(cases.store.case(name))))
        return cases.note(name, table, token=form.get("token", ""), by=device(request))

    kept = await priority_of(request).take(noted)
    hub_of(request).tell(kept.id, kept.version)
    return redirect(request, f"/cases/{kept.id}")


# --- suspects ---------------------------------------------------------------------------------------------------------


@router.get("/{name}/suspects/{part}")
@reasons
def suspect(
    request: Request, name: str, part: str, trial: Annotated[int | None, Query(ge=1)] = None, zoom: str = "part"
) -> HTMLResponse:
    """Show one suspect: the path of the current, the evidence, the repair and its proof."""
    cases = cases_of(request)
    standing = cases.standing(name)
    given = names_of(request)
    with in_address():
        view = suspect_view(cases, standing, given.part(part, standing.case.setup.weapon), trial)
    template = "_suspect.html" if is_partial(request) else "suspect.html"
    circuit = view.circuit
    marks = Marks(
        suspicion=view.suspicion,
        way=circuit.way if circuit else (),
        cuts=circuit.cuts if circuit else (),
        trial=view.trial,
        chosen=view.suspect.part,
        hidden=[name for name in standing.diagnosis.hidden if name != view.suspect.item],
        lamps=view.lamps,
    )
    setup = standing.case.setup
    drawing = {
        "strip": lambda: strip_svg(setup, marks),
        "item": lambda: item_svg(setup, view.suspect.item, marks),
        "part": lambda: part_svg(setup, view.suspect.part, marks),
    }.get(zoom)
    if drawing is None:
        raise UnknownNameError(what="zoom", name=zoom, known=("strip", "item", "part"))
    return render(request, template, standing=standing, view=view, drawing=drawn(drawing()), zoom=zoom, notices=given.notices)


@router.get("/{name}/items/{item}")
@reasons
def item(request: Request, name: str, item: str) -> HTMLResponse:
    """Show one item with its parts, and how much each is suspected."""
    standing = cases_of(request).standing(name)
    setup = standing.case.setup
    given = names_of(request)
    with in_address():
        known = setup.items.name(given.item(item, setup.weapon))
    suspects = [suspect for suspect in standing.diagnosis.finding.suspects if suspect.item == known]
    marks = Marks(suspicion={suspect.part: suspect.probability for suspect in suspects})
    links = {suspect.part: f"/cases/{standing.kept.id}/suspects/{quote(suspect.part)}" for suspect in suspects}
    links |= {name: f"/cases/{standing.kept.id}/items/{quote(name)}" for name in setup.items if name != known}
    drawing = drawn(item_svg(setup, known, marks, link=links.get))
    return render(
        request,
        "item.html",
        standing=standing,
        item=setup.items[known],
        suspects=suspects,
        drawing=drawing,
        notices=given.notices,
    )


@router.get("/{name}/print")
@reasons
def paper(request: Request, name: str) -> HTMLResponse:
    """Show a case for printing."""
    cases = cases_of(request)
    standing = cases.standing(name)
    view = board(cases, standing)
    first = suspect_view(cases, standing, standing.diagnosis.finding.suspects[0].part, None)
    picture = part_svg(standing.case.setup, first.suspect.part, Marks(first.suspicion, chosen=first.suspect.part))
    return render(request, "print.html", standing=standing, view=view, first=first, drawing=drawn(picture))
