"""Items as JSON: found, registered, changed, lent, given back, measured, as the pages do it. docs/json.md describes the keys."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

from fastapi import APIRouter, Query, Request

from foible.errors import InputError
from foible.records.register import (
    ItemState,
    NewItem,
    add_reading,
    give_back,
    item_by_code,
    item_ids,
    items_by_ids,
    jobs_of,
    lend,
    loans_of,
    readings_of,
)
from foible.services.register.items import register_item, revise_item, state_change
from foible.services.register.measuring import checked_map, measured
from foible.web.lanes import looks_up
from foible.web.register.asking import overlays_of, register_of, who
from foible.web.register.bodies import (
    BackBody,
    ItemBody,
    ItemChanges,
    LoanBody,
    ReadingBody,
    said,
    value_json,
)
from foible.web.register.permitted import demand_for
from foible.web.shared import in_address

if TYPE_CHECKING:
    from sqlalchemy.orm import Session

    from foible.records.register import Turn

__all__ = ["router"]

router = APIRouter(include_in_schema=False, prefix="/api/register/items")


@router.get("")
@looks_up
def items(
    request: Request,
    words: Annotated[str, Query(max_length=100)] = "",
    limit: Annotated[int, Query(ge=1, le=200)] = 50,
    offset: Annotated[int, Query(ge=0, le=1_000_000)] = 0,
) -> list[dict[str, Any]]:
    """List items found by words, the latest changed first."""

    def look(session: Session) -> list[dict[str, Any]]:
        ids = item_ids(session, words, limit=limit, offset=offset)
        known = items_by_ids(session, ids)
        return [value_json(known[each]) for each in ids]

    return register_of(request).read(look)


@router.post("", status_code=201)
@looks_up
def item_register(request: Request, body: ItemBody) -> dict[str, Any]:
    """Register an item."""
    demand_for(request, {"price"} if body.price is not None else ())
    new = NewItem(letter="", **body.model_dump())
    change = lambda turn: value_json(register_item(turn, new, overlays_of(request)))  # noqa: E731
    return register_of(request).write(change, by=who(request), what="the item")


@router.get("/{code}")
@looks_up
def item(request: Request, code: str) -> dict[str, Any]:
    """Return an item with its jobs, loans and readings."""

    def look(session: Session) -> dict[str, Any]:
        found = item_by_code(session, code)
        past = {
            "jobs": jobs_of(session, found.id),
            "loans": loans_of(session, found.id),
            "readings": readings_of(session, found.id),
        }
        return value_json(found) | {name: [value_json(each) for each in values] for name, values in past.items()}

    with in_address():
        return register_of(request).read(look)


@router.post("/{code}")
@looks_up
def item_revise(request: Request, code: str, body: ItemChanges) -> dict[str, Any]:
    """Change what is said of an item; 409 with both where somebody else has changed it since `version`."""
    fields = said(body, "state")
    if body.state:
        fields |= state_change(body.state, register_of(request).clock().date())

    def change(turn: Turn) -> dict[str, Any]:
        with in_address():
            seen = item_by_code(turn.session, code)
        demand_for(request, {key for key, value in fields.items() if getattr(seen, key) != value})
        return value_json(revise_item(turn, seen, fields, version=body.version, overlays=overlays_of(request)))

    return register_of(request).write(change, by=who(request), what="the item")


@router.post("/{code}/loan", status_code=201)
@looks_up
def item_lend(request: Request, code: str, body: LoanBody) -> dict[str, Any]:
    """Lend an item; 409 where somebody else has changed it since `version`."""

    def change(turn: Turn) -> dict[str, Any]:
        with in_address():
            item_by_code(turn.session, code)
        return value_json(lend(turn, code, body.to_id, until=body.until, version=body.version, token=body.token))

    return register_of(request).write(change, by=who(request), what="the loan")


@router.post("/{code}/back")
@looks_up
def item_back(request: Request, code: str, body: BackBody) -> dict[str, Any]:
    """Take a lent item back, in the state that it is found in."""
    state = ItemState.FAILED if body.failed else ItemState.IN_USE
    change = lambda turn: value_json(give_back(turn, code, back_state=body.back_state.strip(), state=state))  # noqa: E731
    with in_address():
        return register_of(request).write(change, by=who(request), what="the loan")


@router.post("/{code}/readings", status_code=201)
@looks_up
def item_measure(request: Request, code: str, body: ReadingBody) -> dict[str, Any]:
    """Keep a value measured on an item."""
    squares = checked_map(body.map) or None
    value = max(map(max, squares)) if squares else body.value
    if value is None:
        raise InputError(seen="no value was given", remedy="send `value`, or the rows of a `map`")

    def change(turn: Turn) -> dict[str, Any]:
        with in_address():
            on = item_by_code(turn.session, code)
        new = measured(on, body.quantity, value, line=body.line, squares=squares, token=body.token)
        return value_json(add_reading(turn, on.id, new))

    return register_of(request).write(change, by=who(request), what="the reading")
