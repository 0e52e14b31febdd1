"""What follows from the tests: marks given, steps ticked, reject forms: functions of one transaction."""

from __future__ import annotations

from dataclasses import fields
from typing import TYPE_CHECKING, Any, TypeVar

from sqlalchemy import func, select

from foible.errors import NotFoundError
from foible.records.control.handed import handed_in_row
from foible.records.control.values import ControlMark, ControlStep, RejectForm
from foible.records.control_tables import CompetitionRow, ControlMarkRow, ControlStepRow, HandedInRow, RejectRow
from foible.records.register.turn import made_by_token

if TYPE_CHECKING:
    from datetime import datetime

    from sqlalchemy.orm import Session

    from foible.records.register.turn import Turn

__all__ = [
    "add_mark", "marks_at", "marks_of", "reject", "reject_form", "reject_forms", "reject_of", "send_reject_to", "steps_of",
    "tick_step",
]  # fmt: skip

Value = TypeVar("Value", ControlMark, ControlStep, RejectForm)


def add_mark(  # noqa: PLR0913 — what a mark is told with
    turn: Turn, number: int, what: str, *, began: datetime, station_id: int | None = None, token: str | None = None
) -> ControlMark:
    """Note that an item was given a mark; a known token notes it once. Raises NotFoundError."""
    known = made_by_token(turn, ControlMarkRow, token)
    if known:
        return _value(ControlMark, known)
    item = handed_in_row(turn.session, number, lock=True)
    row = ControlMarkRow(
        control_item_id=number, attempt=item.attempt, what=what, station_id=station_id, began=began, at=turn.at,
        by_id=turn.by.person_id, token=token,
    )  # fmt: skip
    turn.session.add(row)
    item.version += 1
    item.changed = turn.at
    turn.session.flush()
    turn.note("kit", number, "marked", {"what": what})
    return _value(ControlMark, row)


def marks_of(session: Session, number: int) -> tuple[ControlMark, ...]:
    """Return the marks of an item."""
    chosen = select(ControlMarkRow).where(ControlMarkRow.control_item_id == number).order_by(ControlMarkRow.id)
    return tuple(_value(ControlMark, row) for row in session.scalars(chosen))


def marks_at(session: Session, competition: int) -> tuple[ControlMark, ...]:
    """Return every mark given at a competition."""
    of_it = select(HandedInRow.id).where(HandedInRow.competition_id == competition)
    chosen = select(ControlMarkRow).where(ControlMarkRow.control_item_id.in_(of_it)).order_by(ControlMarkRow.id)
    return tuple(_value(ControlMark, row) for row in session.scalars(chosen))


def tick_step(turn: Turn, number: int, step: str) -> None:
    """Tick a step of what is done to an item that failed; ticking it again changes nothing. Raises NotFoundError."""
    item = handed_in_row(turn.session, number, lock=True)
    if step in {each.step for each in steps_of(turn.session, number) if each.attempt == item.attempt}:
        return
    turn.session.add(ControlStepRow(control_item_id=number, attempt=item.attempt, step=step, at=turn.at, by_id=turn.by.person_id))
    turn.session.flush()
    turn.note("kit", number, "ticked", {"step": step})


def steps_of(session: Session, number: int) -> tuple[ControlStep, ...]:
    """Return the steps ticked for an item."""
    chosen = select(ControlStepRow).where(ControlStepRow.control_item_id == number).order_by(ControlStepRow.id)
    return tuple(_value(ControlStep, row) for row in session.scalars(chosen))


def reject(turn: Turn, number: int, words: str = "") -> RejectForm:
    """Make the reject form of an item's present attempt; one that is there stays. Raises NotFoundError."""
    item = handed_in_row(turn.session, number, lock=True)
    there = reject_of(turn.session, number, item.attempt)
    if there:
        return there
    turn.session.get_one(CompetitionRow, item.competition_id, with_for_update=True)  # numbers come one after the other
    last = turn.session.scalar(select(func.max(RejectRow.number)).where(RejectRow.competition_id == item.competition_id))
    row = RejectRow(
        competition_id=item.competition_id, control_item_id=number, attempt=item.attempt, number=(last or 0) + 1, words=words,
        at=turn.at, by_id=turn.by.person_id,
    )  # fmt: skip
    turn.session.add(row)
    turn.session.flush()
    turn.note("kit", number, "rejected", {"form": row.number})
    return _value(RejectForm, row)


def send_reject_to(turn: Turn, form: int, *, job_id: int | None = None, case_id: str | None = None) -> RejectForm:
    """Note which job card or case a rejected item went to. Raises NotFoundError."""
    row = turn.session.get(RejectRow, form)
    if row is None:
        raise NotFoundError(what="reject form", name=str(form), known=())
    row.job_id, row.case_id = job_id or row.job_id, case_id or row.case_id
    turn.session.flush()
    turn.note("kit", row.control_item_id, "passed on", {"job": job_id, "case": case_id})
    return _value(RejectForm, row)


def reject_of(session: Session, number: int, attempt: int) -> RejectForm | None:
    """Return the reject form of an item's attempt; None where there is none."""
    chosen = select(RejectRow).where(RejectRow.control_item_id == number, RejectRow.attempt == attempt)
    row = session.scalars(chosen).one_or_none()
    return _value(RejectForm, row) if row else None


def reject_form(session: Session, competition: int, number: int) -> RejectForm:
    """Return a reject form by its number at a competition. Raises NotFoundError."""
    chosen = select(RejectRow).where(RejectRow.competition_id == competition, RejectRow.number == number)
    row = session.scalars(chosen).one_or_none()
    if row is None:
        raise NotFoundError(what="reject form", name=str(number), known=())
    return _value(RejectForm, row)


def reject_forms(session: Session, competition: int) -> tuple[RejectForm, ...]:
    """Return the reject forms of a competition by their number."""
    chosen = select(RejectRow).where(RejectRow.competition_id == competition).order_by(RejectRow.number)
    return tuple(_value(RejectForm, row) for row in session.scalars(chosen))


def _value(kind: type[Value], row: Any) -> Value:  # noqa: ANN401 — a row with the fields of `kind`
    return kind(**{each.name: getattr(row, each.name) for each in fields(kind)})
