"""The register as JSON: items, jobs and parts, found, shown and written as the pages do it. docs/json.md describes the keys."""

from __future__ import annotations

from dataclasses import asdict
from datetime import date  # noqa: TC003 — pydantic reads the annotations
from typing import TYPE_CHECKING, Annotated, Any

from fastapi import APIRouter, Path, Query, Request
from pydantic import BaseModel, Field

from foible.errors import InputError
from foible.records.register import (
    JobState,
    NewItem,
    NewJob,
    QueueQuery,
    item_by_code,
    item_ids,
    items_by_ids,
    job_by_number,
    jobs_of,
    parts_in_stock,
    queue,
    readings_of,
)
from foible.records.register.turn import plain_value
from foible.services.register.items import register_item
from foible.services.register.jobs import Work, begun, record_work
from foible.services.register.measuring import measured
from foible.web.lanes import looks_up
from foible.web.register.asking import overlays_of, register_of, who
from foible.web.register.permitted import demand_for
from foible.web.shared import in_address

if TYPE_CHECKING:
    from sqlalchemy.orm import Session

    from foible.records.register import Turn

__all__ = ["router"]

router = APIRouter(include_in_schema=False, prefix="/api/register")
Number = Annotated[int, Path(ge=1, le=2**31 - 1)]
Name = Annotated[str, Field(max_length=200)]
Text = Annotated[str, Field(max_length=2000)]
Token = Annotated[str, Field(min_length=4, max_length=30)]
UNTOLD = {"token", "photo"}
"""What only this program uses."""


class ItemBody(BaseModel):
    """An item to be registered."""

    kind: Name
    weapon: Name = ""
    name: Name = ""
    fitted: dict[Name, Name] = Field(default_factory=dict)
    owner_id: int | None = None
    bought: date | None = None
    first_used: date | None = None
    price: int | None = None
    check_due: date | None = None
    notes: Text = ""
    token: Token


class JobBody(BaseModel):
    """A job to be opened."""

    item: Name
    kind: Name = "mend"
    complaint: Text = ""
    promised: date | None = None
    token: Token


class MeasuredBody(BaseModel):
    """A value measured."""

    quantity: Name
    value: float
    line: Name = ""


class WorkBody(BaseModel):
    """What was done on a job."""

    version: int
    found: list[Name] = []
    repairs: list[Name] = []
    parts: dict[Name, Annotated[int, Field(ge=1, le=1000)]] = Field(default_factory=dict)
    steps: list[Text] = []
    measured: list[MeasuredBody] = []
    proof: list[Text] = []
    note: Text = ""
    state: Name = ""
    sound: bool | None = None
    minutes: float | None = None
    promised: date | None = None
    token: Token


@router.get("/items")
@looks_up
def api_items(
    request: Request,
    words: Annotated[str, Query(max_length=100)] = "",
    limit: Annotated[int, Query(ge=1, le=200)] = 50,
    offset: Annotated[int, Query(ge=0, le=1_000_000)] = 0,
) -> list[dict[str, Any]]:
    """List items found by words, the latest changed first."""

    def look(session: Session) -> list[dict[str, Any]]:
        ids = item_ids(session, words, limit=limit, offset=offset)
        known = items_by_ids(session, ids)
        return [_json(known[each]) for each in ids]

    return register_of(request).read(look)


@router.post("/items", status_code=201)
@looks_up
def api_item_register(request: Request, body: ItemBody) -> dict[str, Any]:
    """Register an item."""
    demand_for(request, {"price"} if body.price is not None else ())
    new = NewItem(letter="", **body.model_dump())
    change = lambda turn: _json(register_item(turn, new, overlays_of(request)))  # noqa: E731
    return register_of(request).write(change, by=who(request), what="the item")


@router.get("/items/{code}")
@looks_up
def api_item(request: Request, code: str) -> dict[str, Any]:
    """Return an item with its jobs and readings."""

    def look(session: Session) -> dict[str, Any]:
        item = item_by_code(session, code)
        jobs, readings = jobs_of(session, item.id), readings_of(session, item.id)
        return _json(item) | {"jobs": [_json(job) for job in jobs], "readings": [_json(each) for each in readings]}

    with in_address():
        return register_of(request).read(look)


@router.get("/queue")
@looks_up
def api_queue(request: Request, kind: Annotated[str, Query(max_length=40)] = "") -> list[dict[str, Any]]:
    """List the jobs to be done, by the day promised, each with its item."""
    jobs = register_of(request).read(lambda session: queue(session, QueueQuery(kind=kind or None)))
    return [_json(job) | {"item": _json(item)} for job, item in jobs]


@router.post("/jobs", status_code=201)
@looks_up
def api_job_open(request: Request, body: JobBody) -> dict[str, Any]:
    """Open a job on an item."""

    def change(turn: Turn) -> dict[str, Any]:
        item = item_by_code(turn.session, body.item)
        return _json(begun(turn, item, NewJob(item.id, body.kind, body.complaint, promised=body.promised, token=body.token)))

    return register_of(request).write(change, by=who(request), what="the job")


@router.get("/jobs/{number}")
@looks_up
def api_job(request: Request, number: Number) -> dict[str, Any]:
    """Return a job card."""
    with in_address():
        return _json(register_of(request).read(lambda session: job_by_number(session, number)))


@router.post("/jobs/{number}")
@looks_up
def api_job_work(request: Request, number: Number, body: WorkBody) -> dict[str, Any]:
    """Record what was done on a job; 409 where somebody else has changed the card since `version`."""
    states = {each.value: each for each in JobState}
    if body.state and body.state not in states:
        raise InputError(seen=f"there is no state “{body.state[:20]}”", remedy=f"give one of {', '.join(states)}")

    def change(turn: Turn) -> dict[str, Any]:
        job = job_by_number(turn.session, number)
        item = items_by_ids(turn.session, [job.item_id])[job.item_id]
        readings = tuple(measured(item, each.quantity, each.value, line=each.line) for each in body.measured)
        work = Work(
            tuple(body.found), tuple(body.repairs), tuple(body.parts.items()), tuple(body.steps), readings, tuple(body.proof),
            body.note, states.get(body.state), body.sound, body.minutes, body.promised,
        )  # fmt: skip
        return _json(record_work(turn, number, work, version=body.version, token=body.token, overlays=overlays_of(request)))

    return register_of(request).write(change, by=who(request), what="the job")


@router.get("/parts")
@looks_up
def api_parts(request: Request, *, short: bool = False) -> list[dict[str, Any]]:
    """List the parts in stock, or those of which there are too few."""
    return [_json(part) for part in register_of(request).read(lambda session: parts_in_stock(session, short=short))]


def _json(value: Any) -> dict[str, Any]:  # noqa: ANN401 — any of the register's plain values
    """Return a plain value as JSON."""
    return {key: plain_value(each) for key, each in asdict(value).items() if key not in UNTOLD}
