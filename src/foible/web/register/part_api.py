"""Parts in stock as JSON: registered, changed, counted, ordered, as the pages do it. docs/json.md describes the keys."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from fastapi import APIRouter, Request

from foible.errors import InputError
from foible.records.register import (
    NewPart,
    add_part,
    bring_in,
    change_part,
    counted,
    moves_of,
    part_by_code,
    parts_in_stock,
)
from foible.services.paperwork import orders
from foible.services.register.items import check_money
from foible.web.lanes import looks_up
from foible.web.register.asking import register_of, who
from foible.web.register.bodies import (
    CountBody,
    PartBody,
    PartChanges,
    said,
    value_json,
)
from foible.web.register.permitted import demand_for
from foible.web.shared import in_address

if TYPE_CHECKING:
    from sqlalchemy.orm import Session

    from foible.records.register import Turn

__all__ = ["router"]

router = APIRouter(include_in_schema=False, prefix="/api/register")


@router.get("/parts")
@looks_up
def parts(request: Request, *, short: bool = False) -> list[dict[str, Any]]:
    """List the parts in stock, or those of which there are too few."""
    return [value_json(part) for part in register_of(request).read(lambda session: parts_in_stock(session, short=short))]


@router.get("/orders")
@looks_up
def orders_due(request: Request) -> list[dict[str, Any]]:
    """List what to order: of every part as many as are missing to its least count."""
    return [value_json(order) | {"cost": order.cost} for order in register_of(request).read(orders)]


@router.post("/parts", status_code=201)
@looks_up
def part_register(request: Request, body: PartBody) -> dict[str, Any]:
    """Register a part."""
    demand_for(request, {"price"} if body.price is not None else ())
    new = NewPart(**_checked(body.model_dump()))
    return register_of(request).write(lambda turn: value_json(add_part(turn, new)), by=who(request), what="the part")


@router.get("/parts/{code}")
@looks_up
def part(request: Request, code: str) -> dict[str, Any]:
    """Return a part with its latest moves."""

    def look(session: Session) -> dict[str, Any]:
        found = part_by_code(session, code)
        return value_json(found) | {"moves": [value_json(move) for move in moves_of(session, found.id)]}

    with in_address():
        return register_of(request).read(look)


@router.post("/parts/{code}")
@looks_up
def part_revise(request: Request, code: str, body: PartChanges) -> dict[str, Any]:
    """Change what is said of a part; 409 with both where somebody else has changed it since `version`."""
    fields = _checked(said(body))

    def change(turn: Turn) -> dict[str, Any]:
        with in_address():
            seen = part_by_code(turn.session, code)
        demand_for(request, {key for key, value in fields.items() if getattr(seen, key) != value})
        return value_json(change_part(turn, code, fields, version=body.version))

    return register_of(request).write(change, by=who(request), what="the part")


@router.post("/parts/{code}/count")
@looks_up
def part_count(request: Request, code: str, body: CountBody) -> dict[str, Any]:
    """Set the count to what somebody counted; 409 with both where it was changed since `version`."""
    if body.version is None:
        raise InputError(seen="the count has no `version`", remedy="send the one that was seen, so that nobody's change is lost")
    version = body.version
    change = lambda turn: value_json(counted(turn, code, body.count, version=version, token=body.token))  # noqa: E731
    with in_address():
        return register_of(request).write(change, by=who(request), what="the count")


@router.post("/parts/{code}/in")
@looks_up
def part_in(request: Request, code: str, body: CountBody) -> dict[str, Any]:
    """Add what came in."""
    change = lambda turn: value_json(bring_in(turn, code, body.count, token=body.token))  # noqa: E731
    with in_address():
        return register_of(request).write(change, by=who(request), what="the parts")


def _checked(fields: dict[str, Any]) -> dict[str, Any]:
    """Return what is said of a part once it is checked. Raises InputError."""
    if "name" in fields and not fields["name"].strip():
        raise InputError(seen="the part has no name", remedy="say what it is: pressure springs, say")
    check_money(fields.get("price"))
    return {key: value.strip() if isinstance(value, str) else value for key, value in fields.items()}
