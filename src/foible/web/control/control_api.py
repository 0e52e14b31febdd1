"""The control table for programs: competitions, fencers, items, tests and figures as JSON. docs/json.md describes the keys."""

from __future__ import annotations

from datetime import date  # noqa: TC003 — pydantic reads the annotations
from typing import TYPE_CHECKING, Annotated, Any

from fastapi import APIRouter, Request
from pydantic import AwareDatetime, BaseModel, ConfigDict, Field

from foible.output.table_json import competition_json, item_json, items_json, tally_json
from foible.records.control import (
    HandedInState,
    NewCompetition,
    NewHandedIn,
    competitions,
    items_at,
)
from foible.records.people import NewPerson
from foible.services.control.at_station import item_view
from foible.services.control.competition import USUAL_DECISION, USUAL_RISK, open_competition, overview, usual
from foible.services.control.entry import Found, Told, enter
from foible.services.control.handing import enter_fencer, take_in
from foible.services.control.reports import tally
from foible.web.control.asking import Number, overlays_of, register_of
from foible.web.lanes import looks_up
from foible.web.register.bodies import value_json
from foible.web.register.signed_in import who
from foible.web.shared import in_address

if TYPE_CHECKING:
    from foible.records.control import Entrant, HandedIn
    from foible.records.register import Turn

__all__ = ["router"]

router = APIRouter(include_in_schema=False, prefix="/api/control")
Name = Annotated[str, Field(max_length=200)]
Token = Annotated[str, Field(min_length=4, max_length=30)]
Version = Annotated[int, Field(ge=1, le=2**31 - 1)]
Figure = Annotated[float, Field(allow_inf_nan=False)]


class _Body(BaseModel):
    model_config = ConfigDict(extra="forbid")


class CompetitionBody(_Body):
    """A competition to be opened; what is left out is as usual."""

    name: Name
    day: date
    edition: Name = ""
    decision: Name = USUAL_DECISION
    risk: float = USUAL_RISK
    token: Token


class FencerBody(_Body):
    """A fencer to be entered."""

    name: Name
    club: Name = ""
    contact: Name = ""
    number: Version | None = None
    weapons: Annotated[list[Name], Field(max_length=5)] = []
    token: Token


class HandInBody(_Body):
    """An item to be taken in, by kind and weapon or by the code of its label."""

    kind: Name = ""
    weapon: Name | None = None
    code: Annotated[str, Field(max_length=20)] = ""
    token: Token


class TestBody(_Body):
    """What one test found: a reading, good or bad, or that it was left out and why."""

    __test__ = False

    requirement: Annotated[str, Field(max_length=80)]
    line: Annotated[str, Field(max_length=10)] = ""
    reading: Figure | None = None
    good: bool | None = None
    left_out: bool = False
    note: Name = ""


class TestsBody(_Body):
    """What a station found on an item, in the version that it had before it."""

    __test__ = False

    tests: Annotated[list[TestBody], Field(max_length=200)] = []
    rest_is_good: bool = False
    station: Version | None = None
    began: AwareDatetime | None = None
    version: Version
    token: Token


@router.get("")
@looks_up
def listed(request: Request) -> list[dict[str, Any]]:
    """List competitions, the latest first."""
    return [value_json(each) for each in register_of(request).read(competitions)]


@router.post("")
@looks_up
def opened(request: Request, body: CompetitionBody) -> dict[str, Any]:
    """Open a competition."""
    edition = body.edition or usual(body.name, body.day).edition
    new = NewCompetition(body.name, body.day, edition, body.decision, body.risk, body.token)
    made = register_of(request).write(
        lambda turn: open_competition(turn, new, overlays=overlays_of(request)), by=who(request), what="the competition"
    )
    return value_json(made)


@router.get("/{number}")
@looks_up
def standing(request: Request, number: Number) -> dict[str, Any]:
    """Tell how a table stands."""
    with in_address():
        return competition_json(register_of(request).read(lambda session: overview(session, number)))


@router.get("/{number}/tally")
@looks_up
def figures(request: Request, number: Number) -> dict[str, Any]:
    """Tell what a table found."""
    with in_address():
        return tally_json(register_of(request).read(lambda session: tally(session, number, overlays=overlays_of(request))))


@router.post("/{number}/fencers")
@looks_up
def entered(request: Request, number: Number, body: FencerBody) -> dict[str, Any]:
    """Enter a fencer."""
    person = NewPerson(body.name, club=body.club, contact=body.contact, token=body.token)

    def change(turn: Turn) -> Entrant:
        return enter_fencer(turn, number, person, weapons=body.weapons, number=body.number)

    with in_address():
        return value_json(register_of(request).write(change, by=who(request), what="the fencer"))


@router.post("/{number}/fencers/{entrant}/items")
@looks_up
def taken_in(request: Request, number: Number, entrant: Number, body: HandInBody) -> dict[str, Any]:
    """Take an item in."""
    del number  # the entrant's own competition counts
    new = NewHandedIn(body.kind, body.weapon, token=body.token)
    with in_address():
        made = register_of(request).write(
            lambda turn: take_in(turn, entrant, new, code=body.code), by=who(request), what="the item"
        )
    return items_json([made])[0]


@router.get("/{number}/items")
@looks_up
def waiting(request: Request, number: Number, state: HandedInState | None = None) -> list[dict[str, Any]]:
    """List items in a state, or all; retests last."""
    states = (state,) if state else ()
    return items_json(register_of(request).read(lambda session: items_at(session, number, *states)))


@router.get("/{number}/items/{item}")
@looks_up
def item(request: Request, number: Number, item: Number, station: int | None = None) -> dict[str, Any]:
    """Tell what is known of an item at a station."""
    overlays = overlays_of(request)
    with in_address():
        return item_json(register_of(request).read(lambda session: item_view(session, number, item, station, overlays=overlays)))


@router.post("/{number}/items/{item}")
@looks_up
def tested(request: Request, number: Number, item: Number, body: TestsBody) -> dict[str, Any]:
    """Keep what a station found on an item; the same token keeps it once."""
    overlays = overlays_of(request)
    found = {(each.requirement, each.line): Found(each.reading, each.good, each.left_out, each.note) for each in body.tests}

    def change(turn: Turn) -> HandedIn:
        began = body.began or turn.at
        told = Told(found, body.version, began, body.token, body.station, body.rest_is_good, number)
        return enter(turn, item, told, overlays=overlays).item

    with in_address():
        return items_json([register_of(request).write(change, by=who(request), what="the tests")])[0]
