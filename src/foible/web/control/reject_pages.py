"""Requests about reject forms in, pages and PDFs out; and a rejected item passed on to the workshop."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

from fastapi import APIRouter, Form, Query, Request
from starlette.responses import HTMLResponse, Response

from foible.output.control_pdf import reject_pdf
from foible.records.control import entrants, handed_in_by_id, items_at, reject_forms
from foible.records.people import names_of
from foible.services.control.rejecting import job_for, reject_sheet
from foible.web.control.asking import Number, competition_of, overlays_of, pdf_named, register_of, show
from foible.web.lanes import looks_up
from foible.web.register.asking import Checked
from foible.web.register.signed_in import who
from foible.web.shared import in_address, redirect

if TYPE_CHECKING:
    from sqlalchemy.orm import Session

    from foible.services.control.rejecting import RejectSheet

__all__ = ["router"]

router = APIRouter(include_in_schema=False, prefix="/control")
LISTED = 200


@router.get("/{number:int}/rejects")
@looks_up
def forms(request: Request, number: Number) -> HTMLResponse:
    """Show the reject forms of a competition, the latest first."""
    competition = competition_of(request, number)

    def look(session: Session) -> dict[str, Any]:
        found = reject_forms(session, number)[::-1][:LISTED]
        items = {item.id: item for item in items_at(session, number)}
        fencers = {each.id: each for each in entrants(session, number)}
        people = {each.person_id for each in fencers.values()}
        return {"forms": found, "items": items, "fencers": fencers, "names": names_of(session, people)}

    return show(request, "rejects.html", competition, **register_of(request).read(look))


@router.get("/{number:int}/rejects/{form}")
@looks_up
def form_page(
    request: Request, number: Number, form: Number, station: Annotated[int, Query(ge=0, le=2**31 - 1)] = 0
) -> HTMLResponse:
    """Show a reject form, with what the rules have done now and where the item goes."""
    sheet = _sheet(request, number, form)
    item = register_of(request).read(lambda session: handed_in_by_id(session, sheet.item_id))
    return show(request, "reject.html", competition_of(request, number), sheet=sheet, item=item, station=station)


@router.get("/{number:int}/rejects/{form}/form.pdf")
@looks_up
def form_pdf(request: Request, number: Number, form: Number) -> Response:
    """Return a reject form to print."""
    sheet = _sheet(request, number, form)
    return Response(reject_pdf(sheet), media_type="application/pdf", headers=pdf_named(f"reject-{form}"))


@router.post("/{number:int}/rejects/{form}/job", dependencies=[Checked])
@looks_up
def to_workshop(request: Request, number: Number, form: Number, csrf: Annotated[str, Form()] = "") -> Response:
    """Open a job card for a rejected item, with its readings, and show it."""
    del csrf
    overlays = overlays_of(request)
    with in_address():
        job = register_of(request).write(
            lambda turn: job_for(turn, number, form, overlays=overlays), by=who(request), what="the job"
        )
    return redirect(request, f"/register/jobs/{job.id}")


def _sheet(request: Request, number: int, form: int) -> RejectSheet:
    with in_address():
        return register_of(request).read(lambda session: reject_sheet(session, number, form, overlays=overlays_of(request)))
