"""Job cards as JSON: the queue, opened, worked on, lines taken back, as the pages do it. docs/json.md describes the keys."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

from fastapi import APIRouter, Path, Query, Request

from foible.errors import UnknownNameError
from foible.records.register import (
    JobState,
    NewJob,
    QueueQuery,
    item_by_code,
    items_by_ids,
    job_by_number,
    queue,
    take_line_back,
)
from foible.services.register.jobs import Work, begin_next, begun, record_work
from foible.services.register.measuring import measured
from foible.web.lanes import looks_up
from foible.web.register.asking import overlays_of, register_of, who
from foible.web.register.bodies import JobBody, Number, WorkBody, value_json
from foible.web.shared import in_address

if TYPE_CHECKING:
    from sqlalchemy.orm import Session

    from foible.records.register import Job, RegisteredItem, Turn

__all__ = ["router"]

router = APIRouter(include_in_schema=False, prefix="/api/register")
STATES = {each.value: each for each in JobState}
Kind = Annotated[str, Query(max_length=40)]
Owner = Annotated[int | None, Query(ge=1, le=2**31 - 1)]


@router.get("/queue")
@looks_up
def jobs_to_do(
    request: Request,
    kind: Kind = "",
    owner: Owner = None,
    limit: Annotated[int, Query(ge=1, le=200)] = 50,
    offset: Annotated[int, Query(ge=0, le=1_000_000)] = 0,
) -> list[dict[str, Any]]:
    """List the jobs to be done, by the day promised, each with its item."""
    query = QueueQuery(owner, kind=kind or None)
    jobs = register_of(request).read(lambda session: queue(session, query, limit=limit, offset=offset))
    return [_with_item(job, item) for job, item in jobs]


@router.post("/queue/next")
@looks_up
def next_job(request: Request, kind: Kind = "", owner: Owner = None) -> dict[str, Any] | None:
    """Take the next job that waits in hand and return it with its item; `null` where none waits."""

    def change(turn: Turn) -> dict[str, Any] | None:
        job = begin_next(turn, QueueQuery(owner, kind=kind or None))
        return None if job is None else _with_item(job, _item_of(turn.session, job))

    return register_of(request).write(change, by=who(request), what="the job")


@router.post("/jobs", status_code=201)
@looks_up
def job_open(request: Request, body: JobBody) -> dict[str, Any]:
    """Open a job on an item."""

    def change(turn: Turn) -> dict[str, Any]:
        item = item_by_code(turn.session, body.item)
        new = NewJob(item.id, body.kind, body.complaint.strip(), promised=body.promised, token=body.token)
        return value_json(begun(turn, item, new))

    return register_of(request).write(change, by=who(request), what="the job")


@router.get("/jobs/{number}")
@looks_up
def job(request: Request, number: Number) -> dict[str, Any]:
    """Return a job card."""
    with in_address():
        return value_json(register_of(request).read(lambda session: job_by_number(session, number)))


@router.post("/jobs/{number}")
@looks_up
def job_work(request: Request, number: Number, body: WorkBody) -> dict[str, Any]:
    """Record what was done on a job; 409 with both where somebody else has changed the card since `version`."""
    if body.state and body.state not in STATES:
        raise UnknownNameError(what="state", name=body.state, known=STATES, all_named=True)

    def change(turn: Turn) -> dict[str, Any]:
        with in_address():
            item = _item_of(turn.session, job_by_number(turn.session, number))
        readings = tuple(measured(item, each.quantity, each.value, line=each.line) for each in body.measured)
        work = Work(
            tuple(body.found), tuple(body.repairs), tuple(body.parts.items()), tuple(body.steps), readings, tuple(body.proof),
            body.note, STATES.get(body.state), body.sound, body.minutes, body.promised, body.again,
        )  # fmt: skip
        return value_json(record_work(turn, number, work, version=body.version, token=body.token, overlays=overlays_of(request)))

    return register_of(request).write(change, by=who(request), what="the job")


@router.post("/jobs/{number}/lines/{line}/back")
@looks_up
def line_back(request: Request, number: Number, line: Annotated[int, Path(ge=1, le=10_000)]) -> dict[str, Any]:
    """Take a line of a job back."""

    def change(turn: Turn) -> dict[str, Any]:
        take_line_back(turn, number, line)
        return value_json(job_by_number(turn.session, number))

    with in_address():
        return register_of(request).write(change, by=who(request), what="the line")


def _item_of(session: Session, job: Job) -> RegisteredItem:
    return items_by_ids(session, [job.item_id])[job.item_id]


def _with_item(job: Job, item: RegisteredItem) -> dict[str, Any]:
    return value_json(job) | {"item": value_json(item)}
