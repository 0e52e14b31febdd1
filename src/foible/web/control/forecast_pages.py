"""When the queue will be gone, which test comes first, and the table planned before the event: pages, and the same as JSON."""

from __future__ import annotations

from datetime import datetime, time
from typing import TYPE_CHECKING, Annotated, Any

from fastapi import APIRouter, Query, Request
from pydantic import BaseModel, BeforeValidator, ConfigDict, Field
from starlette.responses import HTMLResponse  # noqa: TC002 — FastAPI reads the annotations

from foible.errors import InputError
from foible.output.queue_json import order_json, plan_json, queue_json
from foible.records.control import competitions
from foible.services.control.forecasts import queue_now
from foible.services.control.plans import USUAL_BAG, Wish, kinds_planned, table_planned, weapons_planned
from foible.services.control.test_order import orders_at
from foible.web.control.asking import Number, competition_of, overlays_of, register_of, show
from foible.web.lanes import looks_up
from foible.web.shared import in_address

if TYPE_CHECKING:
    from foible.services.control.forecasts import QueueNow
    from foible.services.control.plans import Planned
    from foible.services.control.test_order import StationOrder

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
Blank = BeforeValidator(lambda given: given or None)
"""An empty field of a form says nothing."""
Items = Annotated[float, Field(ge=0, le=40)]


class QueueAsked(BaseModel):
    """What somebody at the table knows better: when handing in ends, and how many fencers are still to come."""

    model_config = ConfigDict(extra="forbid")

    until: Annotated[time | None, Blank] = None
    to_come: Annotated[int | None, Field(ge=0, le=2000), BeforeValidator(lambda given: None if given == "" else given)] = None


class PlanAsked(BaseModel):
    """The form of a plan; `items` of each kind that is handed in, in the order of the form."""

    model_config = ConfigDict(extra="forbid")

    fencers: Annotated[int | None, Field(ge=1, le=2000), Blank] = None
    start: time = time(8)
    until: time = time(12)
    done_by: time = time(17)
    weapon: list[Annotated[str, Field(max_length=40)]] = []
    items: Annotated[list[Items], Field(max_length=40)] = []
    measured_at: Annotated[int | None, Field(ge=1, le=2**31 - 1), Blank] = None


WantedQueue = Annotated[QueueAsked, Query()]
WantedPlan = Annotated[PlanAsked, Query()]


@router.get("/control/{number:int}/queue")
@looks_up
def of_queue(request: Request, number: Number, asked: WantedQueue) -> HTMLResponse:
    """Show when a queue will be gone."""
    competition = competition_of(request, number)
    return show(request, "queue.html", competition, queue=_queue(request, number, asked), asked=asked)


@router.get("/api/control/{number}/queue")
@looks_up
def queue_as_json(request: Request, number: Number, asked: WantedQueue) -> dict[str, Any]:
    """Tell when a queue will be gone."""
    with in_address():
        return queue_json(_queue(request, number, asked))


@router.get("/control/{number:int}/order")
@looks_up
def of_order(request: Request, number: Number) -> HTMLResponse:
    """Show in which order each station finds most for the time."""
    return show(request, "order.html", competition_of(request, number), orders=_orders(request, number))


@router.get("/api/control/{number}/order")
@looks_up
def order_as_json(request: Request, number: Number) -> dict[str, Any]:
    """Tell in which order each station finds most for the time."""
    with in_address():
        return order_json(_orders(request, number))


@router.get("/control/plan")
@looks_up
def of_plan(request: Request, asked: WantedPlan) -> HTMLResponse:
    """Show the form of a plan, and what comes of it."""
    kinds = kinds_planned()
    values: dict[str, Any] = {
        "asked": asked,
        "bag": _bag(asked),
        "kinds": kinds,
        "weapons": weapons_planned(overlays=overlays_of(request)),
        "measured": register_of(request).read(competitions),
        "plan": _plan(request, asked) if asked.fencers else None,
    }
    return show(request, "plan.html", None, **values)


@router.get("/api/control/plan")
@looks_up
def plan_as_json(request: Request, asked: WantedPlan) -> dict[str, Any]:
    """Tell what comes of a plan."""
    return plan_json(_plan(request, asked))


def _queue(request: Request, number: int, asked: QueueAsked) -> QueueNow:
    overlays, now = overlays_of(request), register_of(request).clock()
    until = _on(now, asked.until) if asked.until else None
    return register_of(request).read(
        lambda session: queue_now(session, number, now, until=until, to_come=asked.to_come, overlays=overlays)
    )


def _orders(request: Request, number: int) -> tuple[StationOrder, ...]:
    overlays = overlays_of(request)
    return register_of(request).read(lambda session: orders_at(session, number, overlays=overlays))


def _plan(request: Request, asked: PlanAsked) -> Planned:
    if asked.fencers is None:
        raise InputError(seen="no number of fencers", remedy="say how many fencers are expected")
    now, overlays = register_of(request).clock().astimezone(), overlays_of(request)
    wish = Wish(
        asked.fencers,
        now,
        asked.start,
        asked.until,
        asked.done_by,
        tuple(asked.weapon),
        _bag(asked),
        measured_at=asked.measured_at,
    )
    return register_of(request).read(lambda session: table_planned(session, wish, overlays=overlays))


def _bag(asked: PlanAsked) -> dict[str, float]:
    """Return items by kind, as usual where the form says nothing. Raises InputError for a form of other kinds."""
    kinds = kinds_planned()
    if not asked.items:
        return {kind: USUAL_BAG.get(kind, 0.0) for kind in kinds}
    if len(asked.items) != len(kinds):
        raise InputError(seen=f"{len(asked.items)} numbers of items", remedy=f"give one each for: {', '.join(kinds.values())}")
    return dict(zip(kinds, asked.items, strict=True))


def _on(now: datetime, hour: time) -> datetime:
    """Return an hour of today, as this machine's clock has it."""
    return now.astimezone().replace(hour=hour.hour, minute=hour.minute, second=0, microsecond=0)
