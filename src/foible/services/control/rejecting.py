"""The reject form: why an item was rejected, with the clause and in words for the fencer, and what happens to it now (m.38.5).

What failed of a mask or a blade is told, and never how to use or mend it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from foible.control.conformity import DecisionRule
from foible.errors import InputError
from foible.records.control import (
    EntryOutcome,
    change_handed_in,
    competition_by_id,
    entrant_by_id,
    entries_of,
    handed_in_by_id,
    reject_form,
    send_reject_to,
    standing,
    steps_of,
)
from foible.records.people import names_of, person_by_id
from foible.records.register import NewItem, NewJob, NewReading, add_item, add_reading, items_by_ids
from foible.rules.requirements import editions, requirements
from foible.services.control.entry import missing
from foible.services.control.testing import PINS, kind_words, work_of_table
from foible.services.register.jobs import begun
from foible.services.register.kinds import kind_named

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date, datetime
    from pathlib import Path

    from sqlalchemy.orm import Session

    from foible.records.control import Competition, ControlEntry, HandedIn
    from foible.records.register import Job, Turn
    from foible.rules.requirements import Requirement

__all__ = ["Reason", "RejectSheet", "StepDone", "found_words", "job_for", "reject_sheet", "test_words"]

AGAIN = (
    "Once it has been put right, hand it in again: it is then tested from the beginning (m.38.5), after everybody's first check "
    "(m.41.2)."
)
LEAST_TOLD = 0.001
"""A probability below this is not told in figures."""
NEVER = "It is not handed in again: it is not used any more."


@dataclass(frozen=True)
class Reason:
    """One thing for which an item was rejected."""

    what: str
    found: str
    """What was found, in words: “1.4 Ω” or “not as required”."""
    demanded: str
    """What the rules demand, in words: “≤ 1 Ω”."""
    clause: str
    note: str
    doubt: str
    """How sure it is, where there is a reading."""


@dataclass(frozen=True)
class StepDone:
    """A step of what the rules have done to it."""

    id: str
    say: str
    done: datetime | None


@dataclass(frozen=True)
class RejectSheet:
    """Everything that stands on a reject form."""

    number: int
    competition: str
    day: date
    edition: str
    decision: str
    fencer: str
    club: str
    fencer_number: int
    item: str
    item_id: int
    """Its id at the table."""
    code: str
    """Of the register, where it has one."""
    attempt: int
    reasons: tuple[Reason, ...]
    steps: tuple[StepDone, ...]
    caution: str
    then: str
    """What comes now."""
    words: str
    at: datetime
    by: str
    job_id: int | None
    may_be_mended: bool
    """Whether it goes to the workshop: never a mask or a blade."""


def reject_sheet(session: Session, competition: int, number: int, *, overlays: Sequence[Path] = ()) -> RejectSheet:
    """Return a reject form by its number at a competition. Raises NotFoundError."""
    at, form = competition_by_id(session, competition), reject_form(session, competition, number)
    item = handed_in_by_id(session, form.control_item_id)
    entrant = entrant_by_id(session, item.entrant_id)
    person = person_by_id(session, entrant.person_id)
    entries = standing(entries_of(session, item.id, attempt=form.attempt))
    failed = [each for each in entries if each.outcome is EntryOutcome.FAIL]
    procedure = work_of_table().procedure_for(item.kind)
    done = {each.step: each.at for each in steps_of(session, item.id) if each.attempt == form.attempt}
    caution = procedure.warns([each.requirement for each in failed]) if procedure else ""
    known = items_by_ids(session, [item.item_id]) if item.item_id else {}
    return RejectSheet(
        number=form.number,
        competition=at.name,
        day=at.day,
        edition=editions(overlays).get(at.edition, at.edition),
        decision=decision_words(at),
        fencer="" if person.erased else person.name,
        club=person.club,
        fencer_number=entrant.number,
        item=kind_words(item.kind, item.weapon),
        item_id=item.id,
        code=known[item.item_id].code if item.item_id in known else "",
        attempt=form.attempt,
        reasons=tuple(_reason(at, item, each, overlays) for each in failed),
        steps=tuple(StepDone(each.id, each.say, done.get(each.id)) for each in procedure.step) if procedure else (),
        caution=caution,
        then=NEVER if caution else AGAIN + _untested(at, replace(item, attempt=form.attempt), entries, overlays),
        words=form.words,
        at=form.at,
        by=names_of(session, [form.by_id]).get(form.by_id or 0, ""),
        job_id=form.job_id,
        may_be_mended=not caution,
    )


def _untested(at: Competition, item: HandedIn, entries: Sequence[ControlEntry], overlays: Sequence[Path]) -> str:
    """Return how much of an item nobody has looked at in an attempt, as whoever takes it home should know; "" for nothing."""
    count = len(missing(at, item, entries, overlays=overlays))
    return f" {count} other test{' was' if count == 1 else 's were'} not made this time." if count else ""


def decision_words(competition: Competition) -> str:
    """Return how readings near a limit are decided, as it is printed."""
    rule = DecisionRule(competition.decision)
    risk = "" if rule is DecisionRule.PLAIN else f" (risk {competition.risk:.0%})"
    return f"{rule.value}{risk}: {rule.say}"


def test_words(requirement: Requirement, line: str) -> str:
    """Return what a test is called."""
    return f"{requirement.quantity}, line {line}" if line else requirement.quantity


def found_words(entry: ControlEntry, unit: str) -> str:
    """Return what was found in words."""
    if entry.outcome is EntryOutcome.LEFT_OUT:
        return "left out"
    if entry.reading is None:
        return "as required" if entry.outcome is EntryOutcome.PASS else "not as required"
    return f"{entry.reading:g} {unit}".strip()


def job_for(turn: Turn, competition: int, number: int, *, overlays: Sequence[Path] = ()) -> Job:
    """Open a job card for a rejected item, with its reading; an item that is not registered is, as its fencer's own.

    A form whose item went to the workshop already gives that card. Raises InputError for a mask, or for a failing blade.
    """
    sheet = reject_sheet(turn.session, competition, number, overlays=overlays)
    form = reject_form(turn.session, competition, number)
    if not sheet.may_be_mended:
        raise InputError(seen=f"a {sheet.item} that failed is not mended", remedy="the officials decide what becomes of it")
    item = handed_in_by_id(turn.session, form.control_item_id)
    item_id = item.item_id or _registered(turn, item)
    registered = items_by_ids(turn.session, [item_id])[item_id]
    for entry in standing(entries_of(turn.session, item.id, attempt=form.attempt)):
        requirement = _requirement(competition_by_id(turn.session, competition), item, entry, overlays)
        if entry.reading is not None and requirement is not None:
            new = NewReading(
                requirement.quantity[:60], entry.reading, requirement.unit, entry.line, requirement.clause,
                entry.outcome is EntryOutcome.PASS, token=f"control {entry.id}",
            )  # fmt: skip
            add_reading(turn, registered.id, new)
    said = "; ".join(f"{each.what}: {each.found}, {each.demanded} demanded ({each.clause})" for each in sheet.reasons)
    complaint = f"{sheet.competition}, reject form {sheet.number}: {said}"[:2000]
    job = begun(turn, registered, NewJob(registered.id, complaint=complaint, token=f"reject {form.id}"))
    if form.job_id != job.id:
        send_reject_to(turn, form.id, job_id=job.id)
    return job


def _registered(turn: Turn, item: HandedIn) -> int:
    owner = entrant_by_id(turn.session, item.entrant_id).person_id
    kind = kind_named(item.kind)
    new = NewItem(item.kind, kind.letter, item.weapon, owner_id=owner, token=f"control item {item.id}")
    made = add_item(turn, new)
    change_handed_in(turn, item.id, {"item_id": made.id}, version=None)
    return made.id


def _requirement(at: Competition, item: HandedIn, entry: ControlEntry, overlays: Sequence[Path]) -> Requirement | None:
    found = requirements(at.edition, kind=item.kind, weapon=item.weapon, overlays=overlays)
    return next((each for each in found if each.id == entry.requirement), None)


def _reason(at: Competition, item: HandedIn, entry: ControlEntry, overlays: Sequence[Path]) -> Reason:
    requirement = _requirement(at, item, entry, overlays)
    if requirement is None:  # an edition of own rules that has gone since
        return Reason(entry.requirement, found_words(entry, ""), "", "", entry.note, "")
    doubt = ""
    if entry.conforms is not None and entry.u is not None:
        doubt = f"± {2 * entry.u:.2g} {requirement.unit} (k = 2); chance that it keeps to the limit: {_chance(entry.conforms)}"
    return Reason(
        what=test_words(requirement, entry.line) + (f" ({PINS[entry.line]})" if entry.line in PINS else ""),
        found=found_words(entry, requirement.unit),
        demanded=requirement.figure if requirement.has_figure else requirement.quantity,
        clause=requirement.clause,
        note=entry.note,
        doubt=doubt,
    )


def _chance(probability: float) -> str:
    """Return a probability in words that never say 0 or 100 %."""
    if probability < LEAST_TOLD:
        return f"less than {LEAST_TOLD:.1%}"
    return f"more than {1 - LEAST_TOLD:.1%}" if probability > 1 - LEAST_TOLD else f"{probability:.1%}"
