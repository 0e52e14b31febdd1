"""Requests about an item at the table in, its page out: tests entered, close readings settled, marked, handed back."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

from fastapi import APIRouter, Form, Query, Request
from pydantic import BaseModel
from starlette.responses import HTMLResponse, Response  # noqa: TC002 — FastAPI reads the annotations

from foible.errors import InputError
from foible.records.control import HandedInState, StationDoes, choose_entry, handed_in_at, reject_of
from foible.services.control.at_station import item_view
from foible.services.control.entry import Found, Told, come_to, decide, enter
from foible.services.control.handing import hand_back, keep_back, mark, retest, tick
from foible.web.control.asking import Number, began_in, overlays_of, register_of, show
from foible.web.lanes import looks_up
from foible.web.register.asking import Checked, Short, Token, number_in, version_in
from foible.web.register.signed_in import who
from foible.web.shared import in_address, redirect

if TYPE_CHECKING:
    from collections.abc import Callable

    from foible.records.control import HandedIn
    from foible.records.register import Turn
    from foible.services.control.entry import Entered

__all__ = ["EntryForm", "router"]

router = APIRouter(include_in_schema=False, prefix="/control")
Station = Annotated[int, Query(ge=0, le=2**31 - 1)]


class EntryForm(BaseModel):
    """What a station found: a figure and a note for each test in turn, and which tests are bad or were left out."""

    test: list[Short] = []
    reading: list[Short] = []
    note: list[Short] = []
    good: list[Short] = []
    bad: list[Short] = []
    left: list[Short] = []
    comes_to: Short = "save"
    """“rest is good”, or “save” for only what is entered."""
    station: Short = ""
    began: Short = ""
    version: Short = ""
    token: Token = ""

    def told(self, request: Request, competition: int) -> Told:
        """Return what was found. Raises InputError."""
        if not self.token:
            raise InputError(seen="the form has no token", remedy="reload the page and send it again")
        found = {}
        for place, key in enumerate(self.test):
            text = self.reading[place] if place < len(self.reading) else ""
            good = False if key in self.bad else True if key in self.good else None
            note = self.note[place] if place < len(self.note) else ""
            requirement, _, line = key.partition("|")
            reading = number_in(text, "a reading")
            found[requirement, line] = Found(reading, None if reading is not None else good, key in self.left, note)
        return Told(
            found,
            seen=version_in(self.version) or 0,
            began=began_in(request, self.began),
            token=self.token,
            station_id=version_in(self.station) if self.station else None,
            rest_is_good=self.comes_to == "rest is good",
            competition_id=competition,
        )


@router.get("/{number:int}/items/{item}")
@looks_up
def item_page(request: Request, number: Number, item: Number, station: Station = 0) -> HTMLResponse:
    """Show an item with the tests that a station makes of it."""
    return _page(request, number, item, station)


@router.post("/{number:int}/items/{item}", dependencies=[Checked])
@looks_up
def entered(request: Request, number: Number, item: Number, told: Annotated[EntryForm, Form()]) -> Response:
    """Keep what a station found. A test that has to be made and was not is asked for; what failed leads to its form."""
    station, store, overlays = version_in(told.station) if told.station else None, register_of(request), overlays_of(request)

    def change(turn: Turn) -> Entered:
        return enter(turn, item, told.told(request, number), overlays=overlays)

    with in_address():
        kept = store.write(change, by=who(request), what="the tests")
    at = f"?station={station}" if station else ""
    if kept.item.state is HandedInState.FAILED:
        form = store.read(lambda session: reject_of(session, item, kept.item.attempt))
        if form is not None:
            return redirect(request, f"/control/{number}/rejects/{form.number}{at}")
    if kept.missing or kept.unsettled or not station:
        return redirect(request, f"/control/{number}/items/{item}{at}{'&' if at else '?'}asked=yes")
    if kept.item.state is HandedInState.PASSED and kept.does in (StationDoes.MARKS, StationDoes.ALL):
        return redirect(request, f"/control/{number}/items/{item}{at}")
    return redirect(request, f"/control/{number}/stations/{station}?after={item}")


@router.post("/{number:int}/items/{item}/decided", dependencies=[Checked])
@looks_up
def decided(
    request: Request,
    number: Number,
    item: Number,
    told: Annotated[EntryForm, Form()],
) -> Response:
    """Keep what the officials decide of a reading that was too close to call."""
    said, overlays = told.told(request, number), overlays_of(request)
    requirement, _, line = (told.test or [""])[0].partition("|")
    good = told.comes_to == "pass"
    return _changed(
        request,
        number,
        item,
        lambda turn: decide(turn, item, (requirement, line), said, good=good, overlays=overlays),
        told.station,
    )


@router.post("/{number:int}/items/{item}/chosen", dependencies=[Checked])
@looks_up
def chosen(
    request: Request, number: Number, item: Number, entry: Annotated[int, Form(ge=1)], station: Annotated[Short, Form()] = ""
) -> Response:
    """Let one of two different entries count."""
    overlays = overlays_of(request)

    def change(turn: Turn) -> HandedIn:
        choose_entry(turn, item, entry)
        return come_to(turn, item, overlays=overlays)

    return _changed(request, number, item, change, station)


class StateForm(BaseModel):
    """What becomes of an item."""

    version: Short = ""
    station: Short = ""
    step: Short = ""
    to: Short = ""
    """Where the page goes on: “room” or “fencer”, the item itself where it is empty."""
    token: Token = ""


@router.post("/{number:int}/items/{item}/mark", dependencies=[Checked])
@looks_up
def marked(request: Request, number: Number, item: Number, told: Annotated[StateForm, Form()]) -> Response:
    """Note that an item was marked, and go on."""
    station = version_in(told.station) if told.station else None

    def change(turn: Turn) -> HandedIn:
        handed_in_at(turn.session, number, item)
        return mark(turn, item, station_id=station, token=told.token or None)

    with in_address():
        register_of(request).write(change, by=who(request), what="the mark")
    if station:
        return redirect(request, f"/control/{number}/stations/{station}?after={item}")
    return redirect(request, f"/control/{number}/items/{item}")


@router.post("/{number:int}/items/{item}/back", dependencies=[Checked])
@looks_up
def handed_back(request: Request, number: Number, item: Number, told: Annotated[StateForm, Form()]) -> Response:
    """Tick that an item was handed back."""
    version = version_in(told.version)
    return _changed(request, number, item, lambda turn: hand_back(turn, item, version=version), told.station, told.to)


@router.post("/{number:int}/items/{item}/kept", dependencies=[Checked])
@looks_up
def kept_back(request: Request, number: Number, item: Number, told: Annotated[StateForm, Form()]) -> Response:
    """Note that an item which failed stays with the officials."""
    version = version_in(told.version)
    return _changed(request, number, item, lambda turn: keep_back(turn, item, version=version), told.station, told.to)


@router.post("/{number:int}/items/{item}/again", dependencies=[Checked])
@looks_up
def again(request: Request, number: Number, item: Number, told: Annotated[StateForm, Form()]) -> Response:
    """Take an item that failed in again, for a retest."""
    version = version_in(told.version)
    return _changed(request, number, item, lambda turn: retest(turn, item, version=version), told.station, told.to)


@router.post("/{number:int}/items/{item}/step", dependencies=[Checked])
@looks_up
def stepped(request: Request, number: Number, item: Number, told: Annotated[StateForm, Form()]) -> Response:
    """Tick a step of what the rules have done to an item that failed."""
    return _changed(request, number, item, lambda turn: tick(turn, item, told.step), told.station, told.to)


def _changed(
    request: Request, number: int, item: int, change: Callable[[Turn], HandedIn], station: str, to: str = ""
) -> Response:
    def change_here(turn: Turn) -> HandedIn:
        handed_in_at(turn.session, number, item)
        return change(turn)

    with in_address():
        kept = register_of(request).write(change_here, by=who(request), what="the item")
        form = register_of(request).read(lambda session: reject_of(session, kept.id, kept.attempt))
    if to == "room":
        return redirect(request, f"/control/{number}/room")
    if to == "fencer":
        return redirect(request, f"/control/{number}/fencers/{kept.entrant_id}")
    if kept.state is HandedInState.FAILED and form is not None:
        return redirect(request, f"/control/{number}/rejects/{form.number}{f'?station={version_in(station)}' if station else ''}")
    return redirect(request, f"/control/{number}/items/{item}{f'?station={version_in(station)}' if station else ''}")


def _view(request: Request, number: int, item: int, station: int) -> Any:  # noqa: ANN401 — an ItemView
    overlays = overlays_of(request)
    with in_address():
        return register_of(request).read(lambda session: item_view(session, number, item, station or None, overlays=overlays))


def _page(request: Request, number: int, item: int, station: int, status: int = 200) -> HTMLResponse:
    view = _view(request, number, item, station)
    now = register_of(request).clock().timestamp()
    asked = request.query_params.get("asked") == "yes"
    within = {f"/control/{number}": "table", f"/control/{number}/room": "in the room"}
    values = {"view": view, "now": f"{now:.3f}", "asked": asked, "within": within}
    return show(request, "item.html", view.competition, status, **values)
