"""A job card as an armourer fills it in: what was found and done, with which parts, in which time, and what proves it.

Everything that one form says is one transaction, and every line carries a token made from that of the form: a form that is sent
again, because its answer was lost, adds nothing.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from foible.errors import InputError, UnknownNameError
from foible.kit import Book
from foible.records.register import (
    JobState,
    LineKind,
    NewLine,
    QueueQuery,
    add_line,
    add_reading,
    change_job,
    items_by_ids,
    job_by_number,
    open_job,
    queue,
    readings_of,
)
from foible.services.register.kinds import failures_of, setup_for, todays_failure
from foible.services.register.making import job_kinds, making_named

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from datetime import date
    from pathlib import Path

    from foible.records.register import Job, NewJob, NewReading, Reading, RegisteredItem, Turn

__all__ = ["Work", "begin_next", "begun", "record_work", "repairs_for"]

MOST_MINUTES = 6000.0
"""A hundred hours, so that a slip of the finger is noticed."""


@dataclass(frozen=True)
class Work:
    """What was done on a job, as one form says it; whatever is left out was not done or is not known."""

    found: tuple[str, ...] = ()
    """Failures, by the kit's names without side."""
    repairs: tuple[str, ...] = ()
    parts: tuple[tuple[str, int], ...] = ()
    """(code, how many) from stock."""
    steps: tuple[str, ...] = ()
    """Steps of making up that are done."""
    readings: tuple[NewReading, ...] = ()
    proof: tuple[str, ...] = ()
    """What was tried and passed, in words."""
    note: str = ""
    state: JobState | None = None
    """None leaves it as it is."""
    sound: bool | None = None
    """Whether nothing was found."""
    minutes: float | None = None
    promised: date | None = None
    again: bool = False
    """Whether a job that was finished is taken up again, which is never done in passing."""


def begun(turn: Turn, item: RegisteredItem, new: NewJob) -> Job:
    """Open a job of a kind that there is for its item. Raises UnknownNameError."""
    known = job_kinds(item.kind, item.weapon)
    if new.kind not in known:
        raise UnknownNameError(what=f"kind of job for the {item.kind}", name=new.kind, known=known, all_named=True)
    return open_job(turn, new)


def begin_next(turn: Turn, query: QueueQuery) -> Job | None:
    """Take the next job that waits in hand, by the day promised; None where none waits."""
    waiting = QueueQuery(query.owner_id, query.club_owned, query.kind, JobState.WAITING)
    first = queue(turn.session, waiting, limit=1)
    if not first:
        return None
    job = first[0][0]
    return change_job(turn, job.id, {"state": JobState.IN_HAND}, version=None)


def record_work(  # noqa: PLR0913 — a form, its version and its token
    turn: Turn, number: int, work: Work, *, version: int | None, token: str, overlays: Sequence[Path] = ()
) -> Job:
    """Record what was done on a job, all of it or nothing.

    Raises NotFoundError, UnknownNameError for what the kit or the stock does not have, InputError, and ClashError where somebody
    changed the card since `version`.
    """
    job = job_by_number(turn.session, number)
    item = items_by_ids(turn.session, [job.item_id])[job.item_id]
    _check_measured(work, job, item, readings_of(turn.session, item.id, job_id=job.id))
    lines = tuple(_lines(work, job, item, overlays))
    head = _head(work, job)
    if head:
        change_job(turn, number, head, version=version)
    for place, line in enumerate(lines):
        add_line(turn, number, replace(line, token=f"{token}-{place}"))
    for place, reading in enumerate(work.readings):
        add_reading(turn, job.item_id, replace(reading, token=f"{token}-r{place}"), job_id=job.id)
    return job_by_number(turn.session, number)


def _check_measured(work: Work, job: Job, item: RegisteredItem, before: Sequence[Reading]) -> None:
    """Refuse a step that ends with a value, where that is neither said with it nor on the card. Raises InputError."""
    making = making_named(job.kind, item.kind, item.weapon) if work.steps else None
    known = {(each.quantity, each.line) for each in before} | {(each.quantity, each.line) for each in work.readings}
    done = {line.ref for line in job.standing if line.kind is LineKind.STEP}
    for step in making.steps if making else ():
        if step.measure and step.say in work.steps and step.say not in done:
            missing = [line for line in step.lines or ("",) if (step.measure, line) not in known]
            if missing:
                of = f" of line {' and '.join(missing)}" if any(missing) else ""
                raise InputError(
                    seen=f"“{step.say}” ends with a value, and there is none",
                    remedy=f"measure “{step.measure}”{of} and write it down",
                )


def repairs_for(item: RegisteredItem, overlays: Sequence[Path] = ()) -> tuple[str, ...]:
    """Return the repairs that the kit has for what can be wrong with an item."""
    failures = failures_of(item.kind, item.weapon, item.fitted, overlays).values()
    return tuple(sorted({failure.repair for failure in failures if failure.repair}))


def _head(work: Work, job: Job) -> dict[str, Any]:
    if work.minutes is not None and not (math.isfinite(work.minutes) and 0 <= work.minutes <= MOST_MINUTES):
        raise InputError(seen=f"{work.minutes:g} minutes", remedy=f"give a number from 0 to {MOST_MINUTES:g}")
    if work.sound and (work.found or any(line.kind is LineKind.FOUND for line in job.standing)):
        raise InputError(seen="a failure was found, and nothing was found", remedy="leave one of the two out")
    if work.state is not None and work.state.open and not job.state.open and not work.again:
        raise InputError(seen=f"job {job.id} is {job.state.value}", remedy="say that it is taken up again, or open another job")
    wanted = {"state": work.state, "sound": work.sound, "minutes": work.minutes, "promised": work.promised}
    given = {key: value for key, value in wanted.items() if value is not None}
    done = work.state is not None and not work.state.open and work.state is not JobState.GIVEN_UP
    if done and job.sound is None and work.sound is None:
        given["sound"] = False
    return given


def _lines(work: Work, job: Job, item: RegisteredItem, overlays: Sequence[Path]) -> Iterator[NewLine]:
    failures = failures_of(item.kind, item.weapon, item.fitted, overlays)
    known = Book("failure of it", {name: name for name in failures})
    for name in work.found:
        yield NewLine(LineKind.FOUND, known.name(todays_failure(name, item.weapon, overlays)))
    if work.repairs:
        repairs = setup_for(item.weapon, item.fitted, overlays).repairs
        yield from (NewLine(LineKind.REPAIR, repairs.name(name)) for name in work.repairs)
    yield from (NewLine(LineKind.PART, code, count=count) for code, count in work.parts)
    if work.steps:
        making = making_named(job.kind, item.kind, item.weapon)
        steps = Book("step", {step.say: step.say for step in making.steps} if making else {})
        done = {line.ref for line in job.standing if line.kind is LineKind.STEP}
        yield from (NewLine(LineKind.STEP, steps.name(say)) for say in work.steps if say not in done)
    yield from (NewLine(LineKind.PROOF, text=words.strip()) for words in work.proof if words.strip())
    if work.note.strip():
        yield NewLine(LineKind.NOTE, text=work.note.strip())
