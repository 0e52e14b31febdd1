"""Requests about parts in stock in, their pages out: bins, what is short, what came in, what was counted."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Form, Request
from pydantic import BaseModel
from starlette.responses import HTMLResponse, Response  # noqa: TC002 — FastAPI reads the annotations

from foible.errors import ClashError, InputError
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
from foible.services.register.items import check_money
from foible.web.lanes import looks_up
from foible.web.register.asking import (
    Checked,
    Short,
    Token,
    money_in,
    number_in,
    register_of,
    show,
    version_in,
    who,
)
from foible.web.register.permitted import demand_for
from foible.web.shared import in_address, redirect

__all__ = ["router"]

router = APIRouter(include_in_schema=False, prefix="/register/parts")


class PartForm(BaseModel):
    """What is said of a part."""

    name: Short = ""
    made_by: Short = ""
    bin: Short = ""
    supplier: Short = ""
    price: Short = ""
    least: Short = ""
    count: Short = ""
    version: Short = ""
    token: Token = ""

    def fields(self) -> dict[str, Any]:
        """Return what is said, the count apart. Raises InputError."""
        if not self.name.strip():
            raise InputError(seen="the part has no name", remedy="say what it is: pressure springs, say")
        price = money_in(self.price)
        check_money(price)
        said = {key: getattr(self, key).strip() for key in ("name", "made_by", "bin", "supplier")}
        return said | {"price": price, "least": whole(self.least, "the least count")}


def whole(text: str, what: str) -> int:
    """Return a whole number from 0 on; 0 for an empty field. Raises InputError."""
    number = number_in(text, what) or 0.0
    if not 0 <= number <= 100_000 or number != int(number):  # noqa: PLR2004 — as many as the stock takes
        raise InputError(seen=f"{what} is “{text[:20]}”", remedy="give a whole number from 0 to 100,000")
    return int(number)


@router.get("")
@looks_up
def parts_page(request: Request, short: str = "") -> HTMLResponse:
    """Show all parts by bin, or those of which there are too few."""
    parts = register_of(request).read(lambda session: parts_in_stock(session, short=short == "yes"))
    return show(request, "parts.html", parts=parts, short=short == "yes")


@router.post("", dependencies=[Checked])
@looks_up
def part_register(request: Request, told: Annotated[PartForm, Form()]) -> Response:
    """Register a part."""
    fields = told.fields()
    demand_for(request, {"price"} if fields["price"] is not None else ())
    new = NewPart(count=whole(told.count, "the count"), token=told.token or None, **fields)
    part = register_of(request).write(lambda turn: add_part(turn, new), by=who(request), what="the part")
    return redirect(request, f"/register/parts/{part.code}")


@router.get("/{code}")
@looks_up
def part_page(request: Request, code: str) -> HTMLResponse:
    """Show a part, its moves, and what can be changed."""
    with in_address():
        return _page(request, code)


@router.post("/{code}", dependencies=[Checked])
@looks_up
def part_revise(request: Request, code: str, told: Annotated[PartForm, Form()]) -> Response:
    """Change what is said of a part; where somebody else has, both are shown."""
    fields, version = told.fields(), version_in(told.version)

    def change(turn: Any) -> None:  # noqa: ANN401 — a Turn
        seen = part_by_code(turn.session, code)
        demand_for(request, {key for key, value in fields.items() if getattr(seen, key) != value})
        change_part(turn, code, fields, version=version)

    try:
        register_of(request).write(change, by=who(request), what="the part")
    except ClashError as clash:
        return _page(request, code, told, clash)
    return redirect(request, f"/register/parts/{code}")


@router.post("/{code}/count", dependencies=[Checked])
@looks_up
def part_count(request: Request, code: str, told: Annotated[PartForm, Form()]) -> Response:
    """Set the count to what somebody counted; where it was changed meanwhile, both are shown."""
    if not told.count.strip():
        raise InputError(seen="no count was given", remedy="write how many are in the bin")
    count, version = whole(told.count, "the count"), version_in(told.version)
    try:
        register_of(request).write(
            lambda turn: counted(turn, code, count, version=version, token=told.token or None), by=who(request), what="the count"
        )
    except ClashError as clash:
        return _page(request, code, told, clash)
    return redirect(request, f"/register/parts/{code}")


@router.post("/{code}/in", dependencies=[Checked])
@looks_up
def part_in(request: Request, code: str, told: Annotated[PartForm, Form()]) -> Response:
    """Add what came in."""
    count = whole(told.count, "the count")
    register_of(request).write(
        lambda turn: bring_in(turn, code, count, token=told.token or None), by=who(request), what="the parts"
    )
    return redirect(request, f"/register/parts/{code}")


def _page(request: Request, code: str, told: PartForm | None = None, clash: ClashError | None = None) -> HTMLResponse:
    def look(session: Any) -> tuple[Any, Any]:  # noqa: ANN401 — a Session, and a part with its moves
        part = part_by_code(session, code)
        return part, moves_of(session, part.id)

    part, moves = register_of(request).read(look)
    return show(request, "part.html", 409 if clash else 200, part=part, moves=moves, told=told, clash=clash)
