"""Requests about one item in, its page out: registered, revised, lent, given back, measured, and what became of it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any
from urllib.parse import urlencode

from fastapi import APIRouter, Form, Query, Request
from pydantic import BaseModel
from starlette.responses import HTMLResponse, Response  # noqa: TC002 — FastAPI reads the annotations

from foible.drawing import creep_svg
from foible.errors import ClashError, InputError
from foible.records.register import (
    ItemState,
    NewItem,
    NewJob,
    add_reading,
    give_back,
    item_by_code,
    jobs_of,
    lend,
    loans_of,
    photos_of,
    readings_of,
)
from foible.services.control.sheets import sheet_tables, sheets_for
from foible.services.register.creep import creep_of
from foible.services.register.items import register_item, revise_item, state_change
from foible.services.register.jobs import begun
from foible.services.register.kinds import failures_of, kind_named, kinds, quantities_of, slots_for
from foible.services.register.making import job_kinds
from foible.services.register.measuring import map_written, measured
from foible.web.lanes import looks_up
from foible.web.register.asking import (
    Checked,
    Said,
    Short,
    Token,
    day_in,
    id_in,
    money_in,
    number_in,
    overlays_of,
    owners,
    register_of,
    show,
    version_in,
    who,
)
from foible.web.register.permitted import demand_for
from foible.web.shared import in_address, redirect

if TYPE_CHECKING:
    from collections.abc import Sequence

    from sqlalchemy.orm import Session

    from foible.records.register import Reading, RegisteredItem

__all__ = ["router"]

router = APIRouter(include_in_schema=False, prefix="/register/items")


class ItemForm(BaseModel):
    """What is said of an item; of fittings “slot=model”."""

    what: Short = ""
    """Kind and weapon of a new item, as “cord|foil”."""
    name: Short = ""
    owner: Annotated[str, Form(max_length=12)] = ""
    fitted: list[Short] = []
    bought: Short = ""
    first_used: Short = ""
    price: Short = ""
    check_due: Short = ""
    notes: Said = ""
    complaint: Said = ""
    state: Short = ""
    version: Short = ""
    token: Token = ""
    bench: Short = ""
    """“yes” sends a new item to the bench; “next” does too, and asks for the next one at once."""

    def fields(self) -> dict[str, Any]:
        """Return what is said of the item, as the records have it. Raises InputError."""
        return {
            "name": self.name.strip(),
            "owner_id": id_in(self.owner, "the owner"),
            "fitted": dict(each.split("=", 1) for each in self.fitted if "=" in each and not each.endswith("=")),
            "bought": day_in(self.bought, "the day it was bought"),
            "first_used": day_in(self.first_used, "the day it was first used"),
            "price": money_in(self.price),
            "check_due": day_in(self.check_due, "the day of the next check"),
            "notes": self.notes.strip(),
        }


@router.get("/new")
@looks_up
def item_new(
    request: Request, what: Annotated[str, Query(max_length=80)] = "", after: Annotated[str, Query(max_length=20)] = ""
) -> HTMLResponse:
    """Ask what is to be registered: `what` as the last one was, `after` it."""
    return _new_form(request, ItemForm(what=what), after)


@router.post("", dependencies=[Checked])
@looks_up
def item_register(request: Request, told: Annotated[ItemForm, Form()]) -> Response:
    """Register an item, and open a job on it where it goes to the bench."""
    kind, _, weapon = told.what.partition("|")
    fields = told.fields()
    demand_for(request, {"price"} if fields["price"] is not None else ())
    slots = {slot.name for slot in slots_for(kind_named(kind), weapon or None, overlays_of(request))}
    fields["fitted"] = {slot: model for slot, model in fields["fitted"].items() if slot in slots}
    new = NewItem(kind, "", weapon or None, token=told.token or None, **fields)

    def change(turn: Any) -> tuple[RegisteredItem, int | None]:  # noqa: ANN401 — a Turn
        item = register_item(turn, new, overlays_of(request))
        if told.bench not in {"yes", "next"}:
            return item, None
        return item, begun(turn, item, NewJob(item.id, complaint=told.complaint.strip(), token=told.token or None)).id

    item, job = register_of(request).write(change, by=who(request), what="the item")
    if told.bench == "next":
        return redirect(request, f"/register/items/new?{urlencode({'what': told.what, 'after': item.code})}")
    return redirect(request, f"/register/jobs/{job}" if job else f"/register/items/{item.code}")


@router.get("/{code}")
@looks_up
def item_page(request: Request, code: str) -> HTMLResponse:
    """Show an item: what it is, what is being done, its readings and its history."""
    with in_address():
        values = register_of(request).read(lambda session: _page(session, code))
    return show(request, "item.html", **values)


@router.get("/{code}/edit")
@looks_up
def item_edit(request: Request, code: str) -> HTMLResponse:
    """Ask what is to be changed of an item."""
    with in_address():
        return _edit_form(request, code)


@router.post("/{code}", dependencies=[Checked])
@looks_up
def item_revise(request: Request, code: str, told: Annotated[ItemForm, Form()]) -> Response:
    """Change what is said of an item; where somebody else has, both are shown."""
    fields, version = told.fields(), version_in(told.version)
    if told.state:
        fields |= state_change(told.state, register_of(request).clock().date())

    def change(turn: Any) -> RegisteredItem:  # noqa: ANN401 — a Turn
        seen = item_by_code(turn.session, code)
        demand_for(request, {key for key, value in fields.items() if getattr(seen, key) != value})
        return revise_item(turn, seen, fields, version=version, overlays=overlays_of(request))

    try:
        register_of(request).write(change, by=who(request), what="the item")
    except ClashError as clash:
        return _edit_form(request, code, told, clash)
    return redirect(request, f"/register/items/{code}")


@router.post("/{code}/loan", dependencies=[Checked])
@looks_up
def item_lend(
    request: Request,
    code: str,
    to: Annotated[str, Form(max_length=12)],
    version: Annotated[str, Form(max_length=12)],
    token: Annotated[str, Form(max_length=30)],
    until: Annotated[str, Form(max_length=20)] = "",
) -> Response:
    """Lend an item."""
    day, seen, whom = day_in(until, "the day it is due back"), version_in(version), id_in(to, "whom it is lent to")
    if whom is None:
        raise InputError(seen="nobody is named", remedy="say to whom it is lent")
    change = lambda turn: lend(turn, code, whom, until=day, version=seen, token=token)  # noqa: E731
    register_of(request).write(change, by=who(request), what="the loan")
    return redirect(request, f"/register/items/{code}")


@router.post("/{code}/back", dependencies=[Checked])
@looks_up
def item_back(
    request: Request, code: str, found: Annotated[str, Form(max_length=500)] = "", failed: Annotated[str, Form(max_length=5)] = ""
) -> Response:
    """Take a lent item back, in the state that it is found in."""
    state = ItemState.FAILED if failed == "yes" else ItemState.IN_USE
    change = lambda turn: give_back(turn, code, back_state=found.strip(), state=state)  # noqa: E731
    register_of(request).write(change, by=who(request), what="the loan")
    return redirect(request, f"/register/items/{code}")


class ReadingForm(BaseModel):
    """A value measured, as “quantity|line”, or a map of a lamé."""

    what: Short
    value: Short = ""
    squares: Said = ""
    token: Token


@router.post("/{code}/readings", dependencies=[Checked])
@looks_up
def item_measure(request: Request, code: str, told: Annotated[ReadingForm, Form()]) -> Response:
    """Keep a value measured on an item."""
    quantity, _, line = told.what.partition("|")
    squares = map_written(told.squares) if told.squares.strip() else None
    value = max(max(row) for row in squares) if squares else number_in(told.value, "the value")
    if value is None:
        raise InputError(seen="no value was given", remedy="write what the meter or the gauge shows")

    def change(turn: Any) -> object:  # noqa: ANN401 — a Turn
        item = item_by_code(turn.session, code)
        return add_reading(turn, item.id, measured(item, quantity, value, line=line, squares=squares, token=told.token))

    register_of(request).write(change, by=who(request), what="the reading")
    return redirect(request, f"/register/items/{code}")


def _new_form(request: Request, told: ItemForm, after: str = "") -> HTMLResponse:
    offered = [(kind, weapon) for kind in kinds().values() for weapon in (kind.weapons or ("",))]
    slots = {slot.name: slot for kind, weapon in offered if weapon for slot in slots_for(kind, weapon, overlays_of(request))}
    known = register_of(request).read(owners)
    today = register_of(request).clock().astimezone().date()
    last = register_of(request).read(lambda session: item_by_code(session, after)) if after else None
    return show(request, "item_new.html", told=told, offered=offered, slots=slots.values(), owners=known, last=last, today=today)


def _edit_form(request: Request, code: str, told: ItemForm | None = None, clash: ClashError | None = None) -> HTMLResponse:
    item, known = register_of(request).read(lambda session: (item_by_code(session, code), owners(session)))
    slots = slots_for(kind_named(item.kind), item.weapon, overlays_of(request))
    values = {"item": item, "told": told, "clash": clash, "owners": known, "slots": slots, "states": ItemState}
    return show(request, "item_edit.html", 409 if clash else 200, **values)


def _page(session: Session, code: str) -> dict[str, Any]:
    item = item_by_code(session, code)
    loans = loans_of(session, item.id)
    return {
        "item": item,
        "jobs": jobs_of(session, item.id),
        "loans": loans,
        "photos": photos_of(session, item.id),
        "loan": next((each for each in loans if each.back is None), None),
        "owners": owners(session),
        "of_strip": bool(failures_of(item.kind, item.weapon, {})),
        "quantities": quantities_of(item.kind, item.weapon),
        "plots": _plots(item, readings_of(session, item.id)),
        "job_kinds": job_kinds(item.kind, item.weapon),
        "sheets": {name: sheet_tables()[name].title for name in sheets_for(item.kind)},
    }


def _plots(item: RegisteredItem, readings: Sequence[Reading]) -> list[dict[str, object]]:
    """Return the readings of each quantity and line with their limit, plot and creep."""
    found = []
    for quantity in quantities_of(item.kind, item.weapon):
        table = quantity.limit.table
        for line in quantity.lines or ("",):
            mine = [each for each in readings if (each.quantity, each.line) == (quantity.name, line)]
            if not mine:
                continue
            points = [(each.at, each.value) for each in mine]
            creep = creep_of(points, table.value, above=table.comparator in "<≤")
            drawn = creep_svg(
                points, table.value, table.unit, line=creep.line if creep else None, crossing=creep.crossing if creep else None
            )
            found.append({"quantity": quantity, "line": line, "readings": mine, "creep": creep, "svg": drawn})
    return found
