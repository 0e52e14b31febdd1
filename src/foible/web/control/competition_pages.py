"""Requests about competitions in, pages out: opened, how the table stands, its stations, what decides at it, its instruments."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

from fastapi import APIRouter, Form, Query, Request
from pydantic import BaseModel
from starlette.responses import HTMLResponse, Response  # noqa: TC002 — FastAPI reads the annotations

from foible.errors import ClashError, InputError
from foible.records.control import (
    NewCompetition,
    NewInstrument,
    StationDoes,
    add_instrument,
    change_competition,
    change_instrument,
    close_station,
    competitions,
    instruments_of,
    open_station,
    stations_of,
)
from foible.records.people import names_of
from foible.services.control.competition import (
    DECISIONS,
    USUAL_DECISION,
    USUAL_RISK,
    checked_choice,
    edition_titles,
    next_items,
    open_competition,
    overview,
)
from foible.services.control.instruments import UNITS, tool_words
from foible.services.control.testing import kinds_for, work_of_table
from foible.services.register.kinds import kinds
from foible.web.control.asking import Number, competition_of, overlays_of, register_of, show
from foible.web.lanes import looks_up
from foible.web.register.asking import Checked, Short, Token, day_in, number_in, version_in
from foible.web.register.signed_in import who
from foible.web.shared import in_address, redirect

if TYPE_CHECKING:
    from datetime import date

    from sqlalchemy.orm import Session

    from foible.records.control import Competition, HandedIn
    from foible.records.register import Turn

__all__ = ["router"]

router = APIRouter(include_in_schema=False, prefix="/control")
LISTED = 12
"""Items of each list on the page of a table."""
MOST_TEAMS = 20


class CompetitionForm(BaseModel):
    """What decides at a competition."""

    name: Short = ""
    day: Short = ""
    edition: Short = ""
    decision: Short = USUAL_DECISION
    risk: Short = ""
    state: Short = "open"
    version: Short = ""
    token: Token = ""

    def date(self) -> date:
        """Return the day. Raises InputError."""
        day = day_in(self.day, "the day")
        if day is None:
            raise InputError(seen="the competition has no day", remedy="say when it is")
        return day

    def chance(self) -> float:
        """Return the risk; the form gives it in per cent. Raises InputError."""
        given = number_in(self.risk.rstrip(" %"), "the risk")
        return USUAL_RISK if given is None else given / 100


class InstrumentForm(BaseModel):
    """An instrument at the table."""

    name: Short = ""
    tool: Short = ""
    unit: Short = ""
    u: Short = ""
    number: Short = ""
    version: Short = ""
    token: Token = ""


@router.get("")
@looks_up
def home(request: Request) -> HTMLResponse:
    """Show the competitions, and offer to open one."""
    store = register_of(request)
    today = store.clock().astimezone().date()
    those = store.read(competitions)
    return show(request, "home.html", None, competitions=those, today=today, **_choices(request))


@router.post("", dependencies=[Checked])
@looks_up
def opened(request: Request, told: Annotated[CompetitionForm, Form()]) -> Response:
    """Open a competition."""
    new = NewCompetition(told.name, told.date(), told.edition, told.decision, told.chance(), told.token or None)
    overlays = overlays_of(request)
    made = register_of(request).write(
        lambda turn: open_competition(turn, new, overlays=overlays), by=who(request), what="the competition"
    )
    return redirect(request, f"/control/{made.id}")


@router.get("/{number:int}")
@looks_up
def table(request: Request, number: Number) -> HTMLResponse:
    """Show how a table stands, with what wants somebody's decision first."""

    def look(session: Session) -> dict[str, Any]:
        seen = overview(session, number)
        listed: list[HandedIn] = [*seen.to_settle[:LISTED], *seen.unmarked[:LISTED]]
        people = {seen.entrants[item.entrant_id].person_id for item in listed}
        return {"seen": seen, "names": names_of(session, people)}

    with in_address():
        found = register_of(request).read(look)
    competition, overlays = found["seen"].competition, overlays_of(request)
    offers = {weapon: kinds_for(competition.edition, weapon, overlays) for weapon in kinds()["weapon"].weapons}
    found |= {"offers": offers, "listed": LISTED, "does": list(StationDoes), "work": work_of_table()}
    return show(request, "table.html", competition, **found)


@router.get("/{number:int}/setup")
@looks_up
def setup_page(request: Request, number: Number) -> HTMLResponse:
    """Show what decides at a competition, and its instruments."""
    return _setup(request, number)


@router.post("/{number:int}/setup", dependencies=[Checked])
@looks_up
def setup_changed(request: Request, number: Number, told: Annotated[CompetitionForm, Form()]) -> Response:
    """Change what decides at a competition: for readings from now on."""
    wanted = {"name": " ".join(told.name.split()), "day": told.date(), "edition": told.edition, "decision": told.decision}
    wanted |= {"risk": told.chance(), "state": "closed" if told.state == "closed" else "open"}
    checked_choice(told.edition, told.decision, told.chance(), overlays_of(request))
    version = version_in(told.version)

    def change(turn: Turn) -> Competition:
        return change_competition(turn, number, wanted, version=version)

    try:
        with in_address():
            register_of(request).write(change, by=who(request), what="the competition")
    except ClashError as clash:
        return _setup(request, number, told, clash)
    return redirect(request, f"/control/{number}/setup")


@router.post("/{number:int}/instruments", dependencies=[Checked])
@looks_up
def instrument(request: Request, number: Number, told: Annotated[InstrumentForm, Form()]) -> Response:
    """Add an instrument, or change how far one is trusted."""
    u = number_in(told.u, "the uncertainty")
    if u is None or not told.name.strip():
        raise InputError(seen="the instrument has no name or no uncertainty", remedy="give both")

    def change(turn: Turn) -> None:
        if told.number:
            changed: dict[str, Any] = {"name": told.name.strip()}
            known = next((each for each in instruments_of(turn.session, number) if each.id == version_in(told.number)), None)
            if known is None or told.u != f"{known.u:g}":  # the field shows it rounded; what it was made up of holds until then
                changed |= {"u": u, "made_up_of": {"stated": u}}
            change_instrument(turn, version_in(told.number) or 0, changed, version=version_in(told.version))
        else:
            new = NewInstrument(told.name.strip(), told.tool, told.unit, u, {"stated": u}, token=told.token or None)
            add_instrument(turn, number, new)

    with in_address():
        register_of(request).write(change, by=who(request), what="the instrument")
    return redirect(request, f"/control/{number}/setup")


@router.post("/{number:int}/stations", dependencies=[Checked])
@looks_up
def station_opened(
    request: Request,
    number: Number,
    does: Annotated[StationDoes, Form()],
    team: Annotated[int, Form(ge=1, le=MOST_TEAMS)] = 1,
    token: Annotated[Token, Form()] = "",
) -> Response:
    """Open a station, and go to it."""
    with in_address():
        made = register_of(request).write(
            lambda turn: open_station(turn, number, does, team=team, token=token or None), by=who(request), what="the station"
        )
    return redirect(request, f"/control/{number}/stations/{made.id}")


@router.post("/{number:int}/stations/{station}/close", dependencies=[Checked])
@looks_up
def station_closed(request: Request, number: Number, station: Number) -> Response:
    """Close a station."""
    with in_address():
        register_of(request).write(lambda turn: close_station(turn, station), by=who(request), what="the station")
    return redirect(request, f"/control/{number}")


@router.get("/{number:int}/stations/{station}")
@looks_up
def station_page(
    request: Request, number: Number, station: Number, after: Annotated[int, Query(ge=0, le=2**31 - 1)] = 0
) -> Response:
    """Lead to the next item of a station; where none waits, show that."""
    competition, overlays = competition_of(request, number), overlays_of(request)

    def look(session: Session) -> tuple[Any, tuple[HandedIn, ...]]:
        mine = next((each for each in stations_of(session, number) if each.id == station), None)
        return mine, next_items(session, mine, overlays=overlays) if mine else ()

    mine, waiting = register_of(request).read(look)
    if mine is None:
        raise InputError(seen="this competition has no such station", remedy="open one on the page of the table")
    item = next((each for each in waiting if each.id != after), waiting[0] if waiting else None)
    if item is None:
        return show(request, "station_idle.html", competition, station=mine)
    return redirect(request, f"/control/{number}/items/{item.id}?station={station}")


def _setup(request: Request, number: int, told: CompetitionForm | None = None, clash: ClashError | None = None) -> HTMLResponse:
    competition = competition_of(request, number)
    instruments = register_of(request).read(lambda session: instruments_of(session, number))
    values = {"instruments": instruments, "tools": tool_words(), "units": UNITS, "told": told, "clash": clash}
    return show(request, "setup.html", competition, 409 if clash else 200, **values, **_choices(request))


def _choices(request: Request) -> dict[str, Any]:
    return {"editions": edition_titles(overlays_of(request)), "decisions": DECISIONS, "usual_risk": USUAL_RISK}
