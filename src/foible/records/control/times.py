"""What the table's clock says, summed up by the database: what was done at which station from when to when, what tests found."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from sqlalchemy import case, func, select

from foible.records.control.values import EntryOutcome
from foible.records.control_tables import ControlEntryRow, ControlMarkRow, HandedInRow, WithdrawalRow

if TYPE_CHECKING:
    from datetime import datetime

    from sqlalchemy.orm import Session

__all__ = ["FoundByTest", "StationWork", "TakenReading", "found_by_test", "readings_of_test", "station_work"]

MOST_READINGS, SAME_U = 5000, 0.01
"""How many readings of a test are asked for, the latest, and how far apart two uncertainties are that count as one."""


@dataclass(frozen=True)
class StationWork:
    """What one station did on one item in one attempt: from when it began to its last entry or mark."""

    control_item_id: int
    attempt: int
    station_id: int | None
    began: datetime
    at: datetime
    marked: bool = False
    """Whether it is the mark, rather than tests."""


@dataclass(frozen=True)
class FoundByTest:
    """On how many items a requirement was tested, and how many of them failed it."""

    requirement: str
    tested: int
    failed: int


@dataclass(frozen=True)
class TakenReading:
    """A figure that was entered for a test."""

    control_item_id: int
    attempt: int
    line: str
    reading: float
    outcome: str
    note: str


def station_work(session: Session, competition: int) -> tuple[StationWork, ...]:
    """Return what the stations of a competition have done, in the order in which it was finished."""
    entry, mark = ControlEntryRow, ControlMarkRow
    tests = select(
        entry.control_item_id, entry.attempt, entry.station_id, func.min(entry.began), func.max(entry.at).label("done")
    ).where(entry.competition_id == competition)
    tests = tests.group_by(entry.control_item_id, entry.attempt, entry.station_id)
    marks = select(mark.control_item_id, mark.attempt, mark.station_id, mark.began, mark.at)
    marks = marks.join(HandedInRow, HandedInRow.id == mark.control_item_id).where(HandedInRow.competition_id == competition)
    found = [StationWork(*row) for row in session.execute(tests)]
    found += [StationWork(*row, marked=True) for row in session.execute(marks)]
    return tuple(sorted(found, key=lambda each: (each.at, each.control_item_id)))


def found_by_test(session: Session, competition: int | None = None) -> tuple[FoundByTest, ...]:
    """Return what tests found, by requirement: at one competition, or at all.

    An item counts once for each time it went over the table, however many lines it has; what was left out, was too close to call
    or no longer counts is not in it.
    """
    entry = ControlEntryRow
    failed = func.max(case((entry.outcome == EntryOutcome.FAIL.value, 1), else_=0)).label("failed")
    items = select(entry.requirement, failed).outerjoin(WithdrawalRow, WithdrawalRow.entry_id == entry.id)
    items = items.where(WithdrawalRow.id.is_(None), entry.outcome.in_([EntryOutcome.PASS.value, EntryOutcome.FAIL.value]))
    if competition is not None:
        items = items.where(entry.competition_id == competition)
    each = items.group_by(entry.requirement, entry.control_item_id, entry.attempt).subquery()
    counted = select(each.c.requirement, func.count(), func.sum(each.c.failed)).group_by(each.c.requirement)
    return tuple(FoundByTest(name, tested, int(bad)) for name, tested, bad in session.execute(counted))


def readings_of_test(session: Session, requirement: str, u: float) -> tuple[TakenReading, ...]:
    """Return the latest figures of a test at all competitions, in their order, read with one standard uncertainty."""
    entry = ControlEntryRow
    taken = select(entry.control_item_id, entry.attempt, entry.line, entry.reading, entry.outcome, entry.note)
    taken = taken.where(entry.requirement == requirement, entry.reading.is_not(None))
    taken = taken.where(entry.u.between(u * (1 - SAME_U), u * (1 + SAME_U))).order_by(entry.id.desc()).limit(MOST_READINGS)
    return tuple(
        TakenReading(item, attempt, line, reading, outcome, note)
        for item, attempt, line, reading, outcome, note in session.execute(taken)
        if reading is not None
    )[::-1]
