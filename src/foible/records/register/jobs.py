"""Job cards: opened, added to, taken in hand, done and handed back, and the queue of those that wait."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import TYPE_CHECKING, Any

from sqlalchemy import func, select

from foible.errors import InputError, NotFoundError, UnknownNameError
from foible.records.register.items import item_of, set_state
from foible.records.register.job_values import Job, JobLine, JobState, LineKind
from foible.records.register.stock import put_back, use
from foible.records.register.turn import change_row, made_by_token
from foible.records.register.values import ItemState, RegisteredItem
from foible.records.register.words import index_item
from foible.records.register_tables import ItemRow, JobLineRow, JobRow

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from sqlalchemy import ColumnElement
    from sqlalchemy.orm import Session

    from foible.records.register.job_values import NewJob, NewLine
    from foible.records.register.turn import Turn

__all__ = [
    "QueueQuery", "add_line", "change_job", "job_by_number", "job_for_case", "jobs_of", "open_job", "queue", "take_line_back",
]  # fmt: skip

MOST_LINES = 200
"""Lines of one job card, taken back or not."""
OPEN = [state.value for state in JobState if state.open]
NOT_BACK = [*OPEN, JobState.DONE.value]
ITEM_AFTER = {JobState.HANDED_BACK: ItemState.IN_USE, JobState.GIVEN_UP: ItemState.FAILED}
"""What state an item is in once its last job came to this; before that it is at the bench."""
JOB_FIELDS = tuple(each.name for each in fields(Job) if each.name not in {"state", "lines"})


@dataclass(frozen=True)
class QueueQuery:
    """Which jobs the queue shows; a field left out does not narrow it."""

    owner_id: int | None = None
    club_owned: bool = False
    """Only what is the club's own."""
    kind: str | None = None
    """Kind of item."""
    state: JobState | None = None
    """By default all that is still to be done."""


def open_job(turn: Turn, new: NewJob) -> Job:
    """Open a job on an item, which is at the bench from then on; a known token opens no second one."""
    known = made_by_token(turn, JobRow, new.token)
    if known:
        return job_of(turn.session, known)
    item = turn.session.get_one(ItemRow, new.item_id)
    given = {each.name: getattr(new, each.name) for each in fields(new)} | {"evidence": new.evidence and dict(new.evidence)}
    row = JobRow(**given, state=JobState.WAITING.value, opened=turn.at, changed=turn.at, version=1)
    turn.session.add(row)
    turn.session.flush()
    if not ItemState(item.state).gone:
        set_state(turn, item, ItemState.BENCH)
    told = {key: [None, value] for key, value in given.items() if value and key != "token"}
    turn.note("job", row.id, "made", told)
    return job_of(turn.session, row)


def change_job(turn: Turn, number: int, wanted: Mapping[str, Any], *, version: int | None) -> Job:
    """Change the head of a job; where its state changes, that of its item follows. Raises NotFoundError and ClashError."""
    row = job_row(turn.session, number, lock=True)
    given, state = dict(wanted), wanted.get("state")
    if isinstance(state, JobState):
        given["state"] = state.value
        if not state.open:
            given |= {"done": row.done or turn.at, "by_id": row.by_id or turn.by.person_id}
        elif row.done is not None:
            given |= {"done": None}
    changed = change_row(turn, row, given, version=version, what=f"job {number}")
    if changed:
        turn.note("job", row.id, "changed", changed)
    if "state" in changed:
        _let_item_follow(turn, row)
    return job_of(turn.session, row)


def _let_item_follow(turn: Turn, row: JobRow) -> None:
    item, state = turn.session.get_one(ItemRow, row.item_id), JobState(row.state)
    others = select(JobRow.id).where(JobRow.item_id == row.item_id, JobRow.id != row.id, JobRow.state.in_(NOT_BACK)).limit(1)
    if not ItemState(item.state).gone and turn.session.scalar(others) is None:
        set_state(turn, item, ITEM_AFTER.get(state, ItemState.BENCH))


def add_line(turn: Turn, number: int, new: NewLine) -> Job:
    """Add a line to a job card; a part comes out of stock. What was added with a known token is there already.

    Nothing is overwritten, so no version need be named. Raises NotFoundError, and InputError where the card is full.
    """
    if made_by_token(turn, JobLineRow, new.token):
        return job_by_number(turn.session, number)
    row = job_row(turn.session, number, lock=True)
    there = turn.session.scalar(select(func.count()).where(JobLineRow.job_id == row.id)) or 0
    if there >= MOST_LINES:
        raise InputError(seen=f"job {number} has {there} lines already", remedy="open another job")
    given = {each.name: getattr(new, each.name) for each in fields(new)} | {"kind": new.kind.value}
    line = JobLineRow(**given, job_id=row.id, number=there + 1, at=turn.at, by_id=turn.by.person_id)
    turn.session.add(line)
    turn.session.flush()
    if new.kind is LineKind.PART:
        line.count = line.count or 1
        line.cost = use(turn, new.ref, round(line.count), line.id)
    _touch(turn, row)
    if new.kind is LineKind.FOUND:
        index_item(turn.session, turn.session.get_one(ItemRow, row.item_id))
    turn.note("job", row.id, "added", {"line": line.number, "kind": new.kind.value, "ref": new.ref, "count": new.count})
    return job_of(turn.session, row)


def take_line_back(turn: Turn, number: int, line_number: int) -> Job:
    """Mark a line as taken back; parts go back into stock. Doing so again changes nothing. Raises NotFoundError."""
    row = job_row(turn.session, number, lock=True)
    lines = {line.number: line for line in turn.session.scalars(select(JobLineRow).where(JobLineRow.job_id == row.id))}
    if line_number not in lines:
        raise UnknownNameError(what="line", name=str(line_number), known=map(str, lines))
    line = lines[line_number]
    if line.taken_back is None:
        line.taken_back = turn.at
        if line.kind == LineKind.PART.value:
            put_back(turn, line.ref, round(line.count or 0), line.id)
        turn.session.flush()
        _touch(turn, row)
        if line.kind == LineKind.FOUND.value:
            index_item(turn.session, turn.session.get_one(ItemRow, row.item_id))
        turn.note("job", row.id, "taken back", {"line": line_number, "kind": line.kind, "ref": line.ref})
    return job_of(turn.session, row)


def job_by_number(session: Session, number: int) -> Job:
    """Return a job with its lines. Raises NotFoundError."""
    return job_of(session, job_row(session, number))


def job_for_case(session: Session, case_id: str) -> Job | None:
    """Return the latest job still to be done for which a case was opened, or which was opened from it; None where none is."""
    chosen = select(JobRow).where(JobRow.case_id == case_id, JobRow.state.in_(OPEN)).order_by(JobRow.id.desc()).limit(1)
    row = session.scalars(chosen).one_or_none()
    return job_of(session, row) if row else None


def jobs_of(session: Session, item_id: int, *, limit: int = 50) -> tuple[Job, ...]:
    """Return the jobs of an item with their lines, the latest first."""
    rows = session.scalars(select(JobRow).where(JobRow.item_id == item_id).order_by(JobRow.id.desc()).limit(limit)).all()
    return _with_lines(session, rows)


def queue(session: Session, query: QueueQuery, *, limit: int = 100, offset: int = 0) -> tuple[tuple[Job, RegisteredItem], ...]:
    """Return jobs to be done, each with its item and without its lines: by the day promised, those without one last."""
    states = [query.state.value] if query.state else OPEN
    of_item: list[ColumnElement[bool]] = []
    if query.club_owned:
        of_item.append(ItemRow.owner_id.is_(None))
    elif query.owner_id is not None:
        of_item.append(ItemRow.owner_id == query.owner_id)
    if query.kind:
        of_item.append(ItemRow.kind == query.kind)
    first = select(JobRow.id).where(JobRow.state.in_(states))
    if of_item:
        first = first.join(ItemRow, ItemRow.id == JobRow.item_id).where(*of_item)
    by_day = JobRow.promised.is_(None), JobRow.promised, JobRow.id
    ids = first.order_by(*by_day).limit(limit).offset(offset)
    ordered = select(JobRow, ItemRow).join(ItemRow, ItemRow.id == JobRow.item_id).where(JobRow.id.in_(ids)).order_by(*by_day)
    return tuple((_job(job, ()), item_of(item)) for job, item in session.execute(ordered))


def _touch(turn: Turn, row: JobRow) -> None:
    row.version += 1
    row.changed = turn.at


def job_row(session: Session, number: int, *, lock: bool = False) -> JobRow:
    """Return the row of a job, held against other programs' changes with `lock`. Raises NotFoundError."""
    chosen = select(JobRow).where(JobRow.id == number)
    row = session.scalars(chosen.with_for_update() if lock else chosen).one_or_none()
    if row is None:
        raise NotFoundError(what="job", name=str(number), known=map(str, session.scalars(select(func.max(JobRow.id))).all()))
    return row


def job_of(session: Session, row: JobRow) -> Job:
    """Return a job as a plain value, with its lines."""
    return _with_lines(session, [row])[0]


def _with_lines(session: Session, rows: Sequence[JobRow]) -> tuple[Job, ...]:
    lines: dict[int, list[JobLine]] = {row.id: [] for row in rows}
    chosen = select(JobLineRow).where(JobLineRow.job_id.in_(lines)).order_by(JobLineRow.job_id, JobLineRow.number)
    for line in session.scalars(chosen):
        lines[line.job_id].append(_line(line))
    return tuple(_job(row, tuple(lines[row.id])) for row in rows)


def _job(row: JobRow, lines: tuple[JobLine, ...]) -> Job:
    return Job(**{name: getattr(row, name) for name in JOB_FIELDS}, state=JobState(row.state), lines=lines)


def _line(row: JobLineRow) -> JobLine:
    given = {each.name: getattr(row, each.name) for each in fields(JobLine)}
    return JobLine(**given | {"kind": LineKind(row.kind), "taken_back": row.taken_back is not None})
