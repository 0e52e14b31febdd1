"""Requests for the map of a lamé in; out, the jacket with its figures, where it is dead and what to do, and squares to type."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

from fastapi import APIRouter, Path, Request
from starlette.concurrency import run_in_threadpool
from starlette.responses import HTMLResponse, Response  # noqa: TC002 — FastAPI reads the annotations

from foible.drawing import lame_map_svg
from foible.records.control.sheets import sheets_kept
from foible.records.register import LineKind, add_reading, item_by_code, jobs_of, readings_of
from foible.services.control.lame_map import FACES, history_of, lame_map, layout_for, map_typed
from foible.services.register.kinds import quantities_of
from foible.services.register.measuring import measured
from foible.web.control.asking import register_of, show
from foible.web.lanes import looks_up, on_loop
from foible.web.register.asking import Checked
from foible.web.register.signed_in import who
from foible.web.shared import drawn, in_address, redirect

if TYPE_CHECKING:
    from datetime import datetime

    from markupsafe import Markup
    from sqlalchemy.orm import Session

    from foible.records.register import RegisteredItem, Turn
    from foible.services.control.lame_map import LameMap, Layout

__all__ = ["router"]

router = APIRouter(include_in_schema=False, prefix="/control/maps")
Code = Annotated[str, Path(max_length=20)]
WASH = "wash the lamé"
"""The repair of the kit that is a wash; the sheet of that name is one too."""
FIELD = "square."


@router.get("/{code}")
@looks_up
def map_page(request: Request, code: Code) -> HTMLResponse:
    """Show the latest map of a lamé, its trend over washes, and squares for the next one."""
    with in_address():
        values = register_of(request).read(lambda session: _page(session, code))
    return show(request, "map.html", None, **values)


@router.post("/{code}", dependencies=[Checked])
@on_loop
async def map_kept(request: Request, code: Code) -> Response:
    """Keep a map as a reading of the lamé."""
    form = {key: value for key, value in (await request.form()).items() if isinstance(value, str)}
    return await run_in_threadpool(_keep, request, code, form)


def _keep(request: Request, code: str, form: dict[str, str]) -> Response:
    typed = {key.removeprefix(FIELD): value[:20] for key, value in form.items() if key.startswith(FIELD)}

    def change(turn: Turn) -> object:
        item = item_by_code(turn.session, code)
        squares = map_typed(layout_for(item), typed, form.get("rest", "")[:20])
        worst, token = max(map(max, squares)), form.get("token", "")[:30] or None
        return add_reading(turn, item.id, measured(item, _quantity(item), worst, squares=squares, token=token))

    with in_address():
        layout_for(register_of(request).read(lambda session: item_by_code(session, code)))
    register_of(request).write(change, by=who(request), what="the map")
    return redirect(request, f"/control/maps/{code}")


def _quantity(item: RegisteredItem) -> str:
    """Return what the register calls the resistance of the cloth."""
    return next(each.name for each in quantities_of(item.kind, item.weapon) if not each.lines and each.unit == "Ω")


def _page(session: Session, code: str) -> dict[str, Any]:
    item = item_by_code(session, code)
    layout, readings = layout_for(item), readings_of(session, item.id)
    washes = _washes(session, item.id)
    history = history_of(layout, readings, washes)
    last = next((each for each in reversed(readings) if layout.fits(each.map)), None)
    made = None
    if last is not None and last.map is not None:
        earlier = [each.at for each in readings if layout.fits(each.map) and each.at < last.at]
        washed = any((not earlier or when > max(earlier)) and when <= last.at for when in washes)
        made = lame_map(layout, last.map, washed=washed)
    return {
        "item": item,
        "layout": layout,
        "faces": FACES,
        "map": made,
        "at": last.at if last else None,
        "svg": _drawn(layout, made),
        "history": history,
    }


def _washes(session: Session, item_id: int) -> list[datetime]:
    """Return when a lamé was washed: by its sheets, and by the jobs in which that was done."""
    by_sheet = [each.at for each in sheets_kept(session, sheet="wash", item_id=item_id) if each.outcome != "fail"]
    by_job = [
        line.at
        for job in jobs_of(session, item_id)
        for line in job.standing
        if line.kind is LineKind.REPAIR and line.ref.endswith(WASH)
    ]
    return sorted([*by_sheet, *by_job])


def _drawn(layout: Layout, made: LameMap | None) -> Markup:
    squares = {(each.face, each.row, each.column): (each.ohms, each.state) for each in made.squares} if made else {}
    dead = f"{sum(map(len, made.dead))} of {len(made.squares)} squares dead" if made else "an empty map"
    return drawn(
        lame_map_svg(FACES, layout.rows, layout.columns, squares, words=f"the jacket from the front and from the back, {dead}")
    )
