"""Requests for the table's figures in; pages, PDF and CSV out, of one competition and of all. No name stands in them."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, Annotated

from fastapi import APIRouter, Query, Request
from starlette.responses import HTMLResponse, Response

from foible.output.control_pdf import tally_pdf
from foible.services.control.reports import season_tally, tally, tally_csv
from foible.web.control.asking import Number, competition_of, overlays_of, pdf_named, register_of, show
from foible.web.lanes import looks_up
from foible.web.register.asking import FIRST_DAY, LAST_DAY

if TYPE_CHECKING:
    from foible.services.control.reports import Tally

__all__ = ["router"]

router = APIRouter(include_in_schema=False, prefix="/control")
Since = Annotated[date | None, Query(ge=FIRST_DAY, le=LAST_DAY)]


@router.get("/{number:int}/tally")
@looks_up
def of_competition(request: Request, number: Number) -> HTMLResponse:
    """Show what a table found."""
    competition = competition_of(request, number)
    return show(request, "tally.html", competition, tally=_tally(request, number), address=f"/control/{number}/tally")


@router.get("/{number:int}/tally.pdf")
@looks_up
def as_pdf(request: Request, number: Number) -> Response:
    """Return what a table found, to print."""
    competition_of(request, number)
    return Response(tally_pdf(_tally(request, number)), media_type="application/pdf", headers=pdf_named(f"control-{number}"))


@router.get("/{number:int}/tally.csv")
@looks_up
def as_csv(request: Request, number: Number) -> Response:
    """Return what a table found, as CSV."""
    competition_of(request, number)
    return _csv(_tally(request, number), f"control-{number}")


@router.get("/season")
@looks_up
def of_season(request: Request, since: Since = None) -> HTMLResponse:
    """Show what the tables of all competitions found, or of those since a day."""
    address = "/control/season"
    found = _season(request, since)
    return show(request, "tally.html", None, tally=found, address=address, ending=f"?since={since}" if since else "")


@router.get("/season.pdf")
@looks_up
def season_pdf(request: Request, since: Since = None) -> Response:
    """Return what the tables found, to print."""
    return Response(tally_pdf(_season(request, since)), media_type="application/pdf", headers=pdf_named("control-season"))


@router.get("/season.csv")
@looks_up
def season_csv(request: Request, since: Since = None) -> Response:
    """Return what the tables found, as CSV."""
    return _csv(_season(request, since), "control-season")


def _tally(request: Request, number: int) -> Tally:
    overlays = overlays_of(request)
    return register_of(request).read(lambda session: tally(session, number, overlays=overlays))


def _season(request: Request, since: date | None) -> Tally:
    overlays = overlays_of(request)
    return register_of(request).read(lambda session: season_tally(session, since=since, overlays=overlays))


def _csv(found: Tally, name: str) -> Response:
    headers = {"Content-Disposition": f'attachment; filename="{name}.csv"'}
    return Response(tally_csv(found), media_type="text/csv", headers=headers)
