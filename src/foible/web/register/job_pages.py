"""Requests about a job in, its card out: taken in hand, found, mended, measured, proved, handed back; and the queue."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

from fastapi import APIRouter, Form, Path, Query, Request
from pydantic import BaseModel
from starlette.responses import HTMLResponse, Response  # noqa: TC002 — FastAPI reads the annotations

from foible.errors import ClashError, InputError
from foible.records.people import names_of
from foible.records.register import (
    JobState,
    LineKind,
    NewJob,
    QueueQuery,
    item_by_code,
    items_by_ids,
    job_by_number,
    parts_in_stock,
    queue,
    readings_of,
    take_line_back,
)
from foible.services.register.jobs import Work, begin_next, begun, record_work, repairs_for
from foible.services.register.kinds import failures_of, quantities_of, setup_for
from foible.services.register.making import job_kinds, making_named
from foible.services.register.measuring import measured
from foible.web.lanes import looks_up
from foible.web.register.asking import (
    Checked,
    Said,
    Short,
    Token,
    day_in,
    id_in,
    number_in,
    overlays_of,
    owners,
    register_of,
    show,
    version_in,
    who,
)
from foible.web.shared import in_address, redirect

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from sqlalchemy.orm import Session

    from foible.kit import Failure
    from foible.records.register import Job, NewReading, RegisteredItem

__all__ = ["router"]

router = APIRouter(include_in_schema=False, prefix="/register")
Number = Annotated[int, Path(ge=1, le=2**31 - 1)]
CLUB = "club"
"""What a form says of the club’s own."""
STRETCH = 50
"""Jobs in one stretch of the queue."""
STATES = {
    "done": JobState.DONE,
    "sound": JobState.DONE,
    "handed back": JobState.HANDED_BACK,
    "given up": JobState.GIVEN_UP,
    "in hand": JobState.IN_HAND,
    "again": JobState.IN_HAND,
}
"""What a button of a card says that the work comes to."""
NEXT = ", next"


class WorkForm(BaseModel):
    """What was done on a job. A button says what it comes to: “save”, “sound”, “again”, or a state.

    With “, next” behind it, it goes back to its owner as well, and the next job is taken in hand at once.
    """

    found: list[Short] = []
    usual: Short = ""
    """“yes”: what was found was mended in the usual way."""
    repair: list[Short] = []
    part: list[Short] = []
    count: list[Short] = []
    step: list[Said] = []
    measure: list[Short] = []
    value: list[Short] = []
    proof: Said = ""
    note: Said = ""
    minutes: Short = ""
    promised: Short = ""
    comes_to: Short = "save"
    version: Short = ""
    token: Token = ""

    @property
    def then_next(self) -> bool:
        """Whether the next job is taken in hand."""
        return self.comes_to.endswith(NEXT)

    def work(self, item: RegisteredItem, failures: Mapping[str, Failure]) -> Work:
        """Return what was done. Raises InputError."""
        found = tuple(name for name in self.found if name)
        repairs = [name for name in self.repair if name]
        if self.usual == "yes":
            repairs += [
                repair for name in found if name in failures and (repair := failures[name].repair) and repair not in repairs
            ]
        return Work(
            found=found,
            repairs=tuple(repairs),
            parts=tuple(_part(code, count) for code, count in zip(self.part, self.count, strict=False) if code),
            steps=tuple(self.step),
            readings=tuple(self._readings(item)),
            proof=(self.proof,),
            note=self.note,
            state=JobState.HANDED_BACK if self.then_next else STATES.get(self.comes_to),
            again=self.comes_to == "again",
            sound=True if self.comes_to.removesuffix(NEXT) == "sound" else None,
            minutes=number_in(self.minutes, "the time"),
            promised=day_in(self.promised, "the day promised"),
        )

    def _readings(self, item: RegisteredItem) -> list[NewReading]:
        found = []
        for what, text in zip(self.measure, self.value, strict=False):
            value = number_in(text, "a value")
            if value is not None:
                quantity, _, line = what.partition("|")
                found.append(measured(item, quantity, value, line=line))
        return found


@router.get("/queue")
@looks_up
def queue_page(
    request: Request,
    owner: Annotated[str, Query(max_length=12)] = "",
    kind: Annotated[str, Query(max_length=40)] = "",
    state: Annotated[str, Query(max_length=12)] = "",
    offset: Annotated[int, Query(ge=0, le=1_000_000)] = 0,
) -> HTMLResponse:
    """Show the jobs to be done, by the day promised."""
    store = register_of(request)
    query = QueueQuery(None if owner == CLUB else id_in(owner, "the owner"), owner == CLUB, kind or None, STATES.get(state))

    def look(session: Session) -> tuple[tuple[tuple[Job, RegisteredItem], ...], dict[int, str], dict[int, str]]:
        found = queue(session, query, limit=STRETCH + 1, offset=offset)
        return found, names_of(session, (item.owner_id for _, item in found)), owners(session)

    jobs, names, known = store.read(look)
    values: dict[str, Any] = {
        "jobs": jobs[:STRETCH],
        "names": names,
        "more": len(jobs) > STRETCH,
        "offset": offset,
        "stretch": STRETCH,
    }
    today = store.clock().astimezone().date()
    return show(request, "queue.html", owner=owner, kind=kind, state=state, owners=known, today=today, **values)


@router.post("/queue/next", dependencies=[Checked])
@looks_up
def queue_next(
    request: Request, owner: Annotated[str, Form(max_length=12)] = "", kind: Annotated[str, Form(max_length=40)] = ""
) -> Response:
    """Take the next job in hand and show its card."""
    query = QueueQuery(None if owner == CLUB else id_in(owner, "the owner"), owner == CLUB, kind or None)
    job = register_of(request).write(lambda turn: begin_next(turn, query), by=who(request), what="the job")
    return redirect(request, f"/register/jobs/{job.id}" if job else "/register/queue")


class JobForm(BaseModel):
    """A job to be opened on an item."""

    item: Short
    kind: Short = "mend"
    complaint: Said = ""
    promised: Short = ""
    token: Token


@router.post("/jobs", dependencies=[Checked])
@looks_up
def job_open(request: Request, told: Annotated[JobForm, Form()]) -> Response:
    """Open a job on an item."""
    promised = day_in(told.promised, "the day promised")

    def change(turn: Any) -> int:  # noqa: ANN401 — a Turn
        item = item_by_code(turn.session, told.item)
        new = NewJob(item.id, told.kind, told.complaint.strip(), promised=promised, token=told.token)
        return begun(turn, item, new).id

    number = register_of(request).write(change, by=who(request), what="the job")
    return redirect(request, f"/register/jobs/{number}")


@router.get("/jobs/{number}")
@looks_up
def job_page(request: Request, number: Number) -> HTMLResponse:
    """Show a job card."""
    with in_address():
        return _card(request, number)


@router.post("/jobs/{number}", dependencies=[Checked])
@looks_up
def job_work(request: Request, number: Number, told: Annotated[WorkForm, Form()]) -> Response:
    """Record what was done on a job; where somebody else has changed its card, both are shown."""
    version, token = version_in(told.version), told.token
    if not token:
        raise InputError(seen="the form has no token", remedy="reload the page and send it again")

    def change(turn: Any) -> Job | None:  # noqa: ANN401 — a Turn
        job = job_by_number(turn.session, number)
        item = items_by_ids(turn.session, [job.item_id])[job.item_id]
        work = told.work(item, failures_of(item.kind, item.weapon, item.fitted, overlays_of(request)))
        record_work(turn, number, work, version=version, token=token, overlays=overlays_of(request))
        return begin_next(turn, QueueQuery()) if told.then_next else job

    try:
        shown = register_of(request).write(change, by=who(request), what="the job")
    except ClashError as clash:
        return _card(request, number, told, clash)
    return redirect(request, f"/register/jobs/{shown.id}" if shown else "/register/queue")


@router.post("/jobs/{number}/lines/{line}/back", dependencies=[Checked])
@looks_up
def job_line_back(request: Request, number: Number, line: Annotated[int, Path(ge=1, le=10_000)]) -> Response:
    """Take a line of a job back."""
    with in_address():
        register_of(request).write(lambda turn: take_line_back(turn, number, line), by=who(request), what="the line")
    return redirect(request, f"/register/jobs/{number}")


def _card(request: Request, number: int, told: WorkForm | None = None, clash: ClashError | None = None) -> HTMLResponse:
    values = register_of(request).read(lambda session: _values(session, number))
    item, job = values["item"], values["job"]
    failures = failures_of(item.kind, item.weapon, item.fitted, overlays_of(request))
    suspects = _suspects(job, failures)
    measurable = [(each, line) for each in quantities_of(item.kind, item.weapon) for line in each.lines or ("",)]
    return show(
        request,
        "job.html",
        409 if clash else 200,
        told=told or _as_the_case_came_to(job, failures),
        clash=clash,
        failures=failures,
        suspects=suspects,
        cautions=_cautions(request, item, job, suspects),
        repairs=repairs_for(item, overlays_of(request)),
        measurable=measurable,
        making=making_named(job.kind, item.kind, item.weapon) if job.kind in job_kinds(item.kind, item.weapon) else None,
        steps_done={line.ref for line in job.standing if line.kind is LineKind.STEP},
        **values,
    )


def _suspects(job: Job, failures: Mapping[str, Failure]) -> list[Mapping[str, Any]]:
    """Return what a case suspects, each failure once: what it has come to first."""
    evidence = job.evidence or {}
    named = {each["failure"]: each for each in evidence.get("suspects", ()) if each.get("failure") in failures}
    came_to = {name: named.get(name, {"failure": name}) for name in evidence.get("found", ()) if name in failures}
    return list((came_to | named).values())


def _as_the_case_came_to(job: Job, failures: Mapping[str, Failure]) -> WorkForm:
    """Return a form filled in as the job's case ended, for whoever mends to look over; empty where something is on the card."""
    evidence = job.evidence or {}
    if not job.state.open or job.standing or not evidence.get("ending"):
        return WorkForm()
    found = [name for name in evidence["found"] if name in failures]
    usual = {failures[name].repair for name in found}
    repairs = [name for name in evidence["repairs"] if name not in usual]
    return WorkForm(found=found, repair=repairs, proof="; ".join(evidence["proof"])[:2000])


def _cautions(request: Request, item: RegisteredItem, job: Job, suspects: Sequence[Mapping[str, Any]]) -> tuple[str, ...]:
    """Return the cautions of the repairs that are noted on a card, or likely to be made."""
    setup = setup_for(item.weapon, item.fitted, overlays_of(request))
    failures = failures_of(item.kind, item.weapon, item.fitted, overlays_of(request))
    found = {line.ref for line in job.standing if line.kind is LineKind.FOUND} | {str(each["failure"]) for each in suspects}
    repairs = {failures[name].repair for name in found & failures.keys()}
    repairs |= {line.ref for line in job.standing if line.kind is LineKind.REPAIR}
    known = (setup.repairs[name] for name in sorted(filter(None, repairs)) if name in setup.repairs)
    return tuple(dict.fromkeys(caution for repair in known for caution in repair.cautions))


def _values(session: Session, number: int) -> dict[str, Any]:
    job = job_by_number(session, number)
    item = items_by_ids(session, [job.item_id])[job.item_id]
    readings = readings_of(session, item.id, job_id=number)
    return {
        "job": job,
        "item": item,
        "parts": parts_in_stock(session),
        "owners": names_of(session, [item.owner_id]),
        "readings": readings,
    }


def _part(code: str, count: str) -> tuple[str, int]:
    number = number_in(count, "the number of parts")
    if number is not None and (number != int(number) or number < 1):
        raise InputError(seen=f"{count[:20]} parts", remedy="give a whole number from 1 on")
    return code, int(number or 1)
