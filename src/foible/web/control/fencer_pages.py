"""Requests about fencers in, pages out: entered, found by name, number or label, what they hand in, the room."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

from fastapi import APIRouter, Form, Query, Request
from pydantic import BaseModel
from starlette.responses import HTMLResponse, Response

from foible.errors import InputError, NotFoundError
from foible.output.control_pdf import sheet_pdf
from foible.records.control import (
    HandedInState,
    NewHandedIn,
    entrant_by_id,
    entrants,
    entrants_found,
    items_at,
    items_of_entrants,
    seen_before,
)
from foible.records.people import NewPerson, names_of, person_by_id
from foible.records.register import item_by_code
from foible.services.control.handing import enter_fencer, over_quota, take_in, unticked_of
from foible.services.control.reports import fencer_sheet, sheet_csv
from foible.services.control.testing import kinds_for
from foible.services.register.kinds import kinds
from foible.web.control.asking import Number, competition_of, overlays_of, pdf_named, register_of, show
from foible.web.lanes import looks_up
from foible.web.register.asking import Checked, Code, Short, Token, number_in
from foible.web.register.signed_in import who
from foible.web.shared import in_address, redirect

if TYPE_CHECKING:
    from collections.abc import Sequence

    from sqlalchemy.orm import Session

    from foible.records.control import Entrant, HandedIn
    from foible.records.register import Turn

__all__ = ["router"]

router = APIRouter(include_in_schema=False, prefix="/control")
LISTED = 60
"""Fencers on one page of the list."""
FARTHEST = 10_000
HIGHEST_NUMBER = 99_999


class FencerForm(BaseModel):
    """A fencer to be entered."""

    name: Short = ""
    club: Short = ""
    contact: Short = ""
    number: Short = ""
    weapon: list[Short] = []
    kind: Short = ""
    """What they hand in at once, “kind|weapon”; empty for nothing yet."""
    token: Token = ""


@router.get("/{number:int}/fencers")
@looks_up
def fencers(
    request: Request,
    number: Number,
    words: Annotated[str, Query(max_length=100)] = "",
    offset: Annotated[int, Query(ge=0, le=FARTHEST)] = 0,
    to_test: bool = False,  # noqa: FBT001, FBT002 — a query
) -> HTMLResponse:
    """Show fencers by number, with what each has handed in; `to_test`: only those of whom something is still to be tested."""
    competition = competition_of(request, number)

    def look(session: Session) -> dict[str, Any]:
        found = entrants_found(session, number, words) if words else entrants(session, number)
        if to_test:
            states = [state for state in HandedInState if state.to_test]
            waiting = {item.entrant_id for item in items_at(session, number, *states)}
            found = tuple(each for each in found if each.id in waiting)
        some = found[offset : offset + LISTED]
        return {"fencers": some, "more": len(found) > offset + LISTED, "total": len(found), **_with_items(session, some)}

    values = register_of(request).read(look)
    return show(request, "fencers.html", competition, words=words, offset=offset, to_test=to_test, listed=LISTED, **values)


@router.post("/{number:int}/fencers", dependencies=[Checked])
@looks_up
def fencer_entered(request: Request, number: Number, told: Annotated[FencerForm, Form()]) -> Response:
    """Enter a fencer, and go on to what they hand in; what is handed in at once is tested next."""
    given = number_in(told.number, "the number")
    if given is not None and (given != int(given) or not 1 <= given <= HIGHEST_NUMBER):
        raise InputError(seen=f"number {told.number[:20]}", remedy=f"give a whole number from 1 to {HIGHEST_NUMBER}, or none")
    person = NewPerson(told.name, club=told.club, contact=told.contact, token=told.token or None)
    weapons = [word for word in told.weapon if word in kinds()["weapon"].weapons]

    kind, _, weapon = told.kind.partition("|")

    def change(turn: Turn) -> tuple[Entrant, HandedIn | None]:
        made = enter_fencer(turn, number, person, weapons=weapons, number=None if given is None else int(given))
        new = NewHandedIn(kind, weapon or None, token=told.token or None)
        return made, take_in(turn, made.id, new) if kind else None

    with in_address():
        made, item = register_of(request).write(change, by=who(request), what="the fencer")
    return redirect(request, f"/control/{number}/items/{item.id}" if item else f"/control/{number}/fencers/{made.id}")


@router.get("/{number:int}/found")
@looks_up
def found(request: Request, number: Number, words: Annotated[str, Query(max_length=100)] = "") -> Response:
    """Lead to the item that a label's code means, or to the fencer of that number or name; several are listed."""
    competition_of(request, number)

    def look(session: Session) -> str:
        item = _by_label(session, number, words)
        if item is not None:
            return f"/control/{number}/items/{item.id}"
        those = entrants_found(session, number, words) if words.strip() else ()
        return f"/control/{number}/fencers/{those[0].id}" if len(those) == 1 else ""

    leads = register_of(request).read(look)
    return redirect(request, leads) if leads else fencers(request=request, number=number, words=words, offset=0)


@router.get("/{number:int}/fencers/{entrant}")
@looks_up
def fencer(request: Request, number: Number, entrant: Number) -> HTMLResponse:
    """Show a fencer with what they have handed in, and take in more."""
    competition, overlays = competition_of(request, number), overlays_of(request)

    def look(session: Session) -> dict[str, Any]:
        one = _entrant_here(session, number, entrant)
        items = items_of_entrants(session, [entrant])[entrant]
        return {
            "entrant": one,
            "fencer": person_by_id(session, one.person_id),
            "items": items,
            "over": over_quota(competition.edition, items, overlays),
            "offers": {
                weapon: kinds_for(competition.edition, weapon, overlays) for weapon in one.weapons or kinds()["weapon"].weapons
            },
            "to_do": {item.id: unticked_of(session, item) for item in items if item.state is HandedInState.FAILED},
        }

    with in_address():
        values = register_of(request).read(look)
    return show(request, "fencer.html", competition, **values)


class HandInForm(BaseModel):
    """An item to be taken in: by its kind and weapon, or by the code of its label."""

    kind: Short = ""
    """“kind|weapon”, as a button says it."""
    code: Code = ""
    token: Token = ""


@router.post("/{number:int}/fencers/{entrant}", dependencies=[Checked])
@looks_up
def handed_in(request: Request, number: Number, entrant: Number, told: Annotated[HandInForm, Form()]) -> Response:
    """Take an item in."""
    kind, _, weapon = told.kind.partition("|")
    if not kind and not told.code.strip():
        raise InputError(seen="nothing was named", remedy="touch what is handed in, or give the code of its label")
    new = NewHandedIn(kind, weapon or None, token=told.token or None)

    def change(turn: Turn) -> HandedIn:
        _entrant_here(turn.session, number, entrant)
        return take_in(turn, entrant, new, code=told.code.strip())

    with in_address():
        register_of(request).write(change, by=who(request), what="the item")
    return redirect(request, f"/control/{number}/fencers/{entrant}")


@router.get("/{number:int}/fencers/{entrant}/sheet.pdf")
@looks_up
def fencer_pdf(request: Request, number: Number, entrant: Number) -> Response:
    """Return a fencer's sheet to print."""
    sheet = _sheet(request, number, entrant)
    return Response(sheet_pdf(sheet), media_type="application/pdf", headers=pdf_named(f"fencer-{sheet.number}"))


@router.get("/{number:int}/fencers/{entrant}/sheet.csv")
@looks_up
def fencer_csv(request: Request, number: Number, entrant: Number) -> Response:
    """Return a fencer's sheet as CSV."""
    sheet = _sheet(request, number, entrant)
    headers = {"Content-Disposition": f'attachment; filename="fencer-{sheet.number}.csv"'}
    return Response(sheet_csv(sheet), media_type="text/csv", headers=headers)


@router.get("/{number:int}/room")
@looks_up
def room(request: Request, number: Number) -> HTMLResponse:
    """Show what is still in the room, by fencer: what is ready to be handed back first."""
    competition = competition_of(request, number)

    def look(session: Session) -> dict[str, Any]:
        here = [state for state in HandedInState if state.in_the_room]
        items = items_at(session, number, *here)
        ids = dict.fromkeys(item.entrant_id for item in sorted(items, key=lambda item: item.state.to_test))
        known = {each.id: each for each in entrants(session, number)}
        some = [known[each] for each in ids]
        return {"fencers": some, "total": len(items), **_with_items(session, some)}

    return show(request, "room.html", competition, **register_of(request).read(look))


def _sheet(request: Request, number: int, entrant: int) -> Any:  # noqa: ANN401 — a FencerSheet
    competition_of(request, number)

    def look(session: Session) -> Any:  # noqa: ANN401 — a FencerSheet
        _entrant_here(session, number, entrant)
        return fencer_sheet(session, entrant, overlays=overlays_of(request))

    with in_address():
        return register_of(request).read(look)


def _with_items(session: Session, some: Sequence[Entrant]) -> dict[str, Any]:
    return {
        "names": names_of(session, [each.person_id for each in some]),
        "items": items_of_entrants(session, [each.id for each in some]),
    }


def _entrant_here(session: Session, number: int, entrant: int) -> Entrant:
    one = entrant_by_id(session, entrant)
    if one.competition_id != number:
        raise NotFoundError(what="fencer", name=str(entrant), known=())
    return one


def _by_label(session: Session, number: int, words: str) -> HandedIn | None:
    """Return the item of this competition that bears a label; None where the words are none."""
    try:
        item = item_by_code(session, words)
    except NotFoundError:
        return None
    return next((each for each in seen_before(session, item.id) if each.competition_id == number), None)
