"""The tables of the control table: competitions, who hands in what, each test of each item, marks, reject forms."""

from __future__ import annotations

from datetime import date, datetime  # noqa: TC003 — SQLAlchemy reads the annotations
from typing import Any

from sqlalchemy import JSON, Double, ForeignKey, Index, String, Text, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from foible.records.tables import Base, Moment

__all__ = [
    "CompetitionRow",
    "ControlEntryRow",
    "ControlMarkRow",
    "ControlStepRow",
    "EntrantRow",
    "HandedInRow",
    "InstrumentRow",
    "RejectRow",
    "StationRow",
    "WithdrawalRow",
]


class CompetitionRow(Base):
    """A competition whose kit goes over the table. What decides at it is chosen once, and printed on every sheet."""

    __tablename__ = "competitions"
    __table_args__ = (
        UniqueConstraint("token", name="uq_competitions_token"),
        Index("ix_competitions_day", "day", "id"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    name: Mapped[str] = mapped_column(String(120))
    day: Mapped[date]
    edition: Mapped[str] = mapped_column(String(40))
    """Edition of the rules, by its id in `rules/`."""
    decision: Mapped[str] = mapped_column(String(40))
    """How a reading near a limit is decided, as `control.conformity` names it."""
    risk: Mapped[float] = mapped_column(Double)
    """The risk of a wrong decision that is accepted, 0 to 0.5."""
    state: Mapped[str] = mapped_column(String(20), server_default="open")
    """“open” or “closed”."""
    version: Mapped[int] = mapped_column(default=1)
    opened: Mapped[datetime] = mapped_column(Moment)
    changed: Mapped[datetime] = mapped_column(Moment)
    token: Mapped[str | None] = mapped_column(String(40))


class InstrumentRow(Base):
    """A meter, gauge or scale at the table, with how far its readings are to be trusted."""

    __tablename__ = "control_instruments"
    __table_args__ = (
        UniqueConstraint("token", name="uq_control_instruments_token"),
        Index("ix_control_instruments_competition_id", "competition_id", "id"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    competition_id: Mapped[int] = mapped_column(ForeignKey("competitions.id"))
    name: Mapped[str] = mapped_column(String(80))
    tool: Mapped[str] = mapped_column(String(20))
    """What kind of tool, as a requirement names it: “meter”, “gauge”, “scale” …"""
    unit: Mapped[str] = mapped_column(String(10))
    u: Mapped[float] = mapped_column(Double)
    """Standard uncertainty of one reading, in `unit`."""
    made_up_of: Mapped[dict[str, Any]] = mapped_column(JSON, server_default="{}")
    """Its parts: resolution, leads, calibration …, in `unit`."""
    item_id: Mapped[int | None] = mapped_column(ForeignKey("items.id"))
    """The same thing in the register."""
    version: Mapped[int] = mapped_column(default=1)
    changed: Mapped[datetime] = mapped_column(Moment)
    token: Mapped[str | None] = mapped_column(String(40))


class StationRow(Base):
    """A place at the table where one kind of test is made, by a team; several devices may stand at it."""

    __tablename__ = "control_stations"
    __table_args__ = (
        UniqueConstraint("token", name="uq_control_stations_token"),
        Index("ix_control_stations_competition_id", "competition_id", "id"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    competition_id: Mapped[int] = mapped_column(ForeignKey("competitions.id"))
    does: Mapped[str] = mapped_column(String(20))
    """“dimensions”, “electrics” or “marks” (m.43); “all” where one person does everything."""
    team: Mapped[int]
    opened: Mapped[datetime] = mapped_column(Moment)
    closed: Mapped[datetime | None] = mapped_column(Moment)
    token: Mapped[str | None] = mapped_column(String(40))


class EntrantRow(Base):
    """A fencer at a competition. Who it is stands in `people` alone, which is emptied when a person is erased."""

    __tablename__ = "entrants"
    __table_args__ = (
        UniqueConstraint("token", name="uq_entrants_token"),
        UniqueConstraint("competition_id", "person_id", name="uq_entrants_competition_id"),
        Index("ix_entrants_person_id", "person_id"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    competition_id: Mapped[int] = mapped_column(ForeignKey("competitions.id"))
    person_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    number: Mapped[int]
    """What the fencer is called out by, from 1 on."""
    weapons: Mapped[list[str]] = mapped_column(JSON, server_default="[]")
    """The weapons fenced, where the list says so."""
    came: Mapped[datetime | None] = mapped_column(Moment)
    """When the first item was handed in."""
    version: Mapped[int] = mapped_column(default=1)
    changed: Mapped[datetime] = mapped_column(Moment)
    token: Mapped[str | None] = mapped_column(String(40))


class HandedInRow(Base):
    """An item that a fencer has handed in."""

    __tablename__ = "control_items"
    __table_args__ = (
        UniqueConstraint("token", name="uq_control_items_token"),
        UniqueConstraint("entrant_id", "number", name="uq_control_items_entrant_id"),
        Index("ix_control_items_state", "competition_id", "state", "id"),
        Index("ix_control_items_item_id", "item_id"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    competition_id: Mapped[int] = mapped_column(ForeignKey("competitions.id"))
    entrant_id: Mapped[int] = mapped_column(ForeignKey("entrants.id"))
    number: Mapped[int]
    """Which of the fencer's, from 1 on."""
    kind: Mapped[str] = mapped_column(String(40))
    weapon: Mapped[str | None] = mapped_column(String(20))
    item_id: Mapped[int | None] = mapped_column(ForeignKey("items.id"))
    """The same item in the register."""
    state: Mapped[str] = mapped_column(String(20), server_default="handed in")
    """“handed in”, “at the table”, “passed”, “failed”, “handed back”, “kept back”."""
    attempt: Mapped[int] = mapped_column(server_default="1")
    """Which time it goes over the table; from 2 on it is a retest, after everybody's first (m.41.2)."""
    passed: Mapped[bool | None]
    """How its last attempt ended; null while it lasts."""
    handed_in: Mapped[datetime] = mapped_column(Moment)
    decided: Mapped[datetime | None] = mapped_column(Moment)
    handed_back: Mapped[datetime | None] = mapped_column(Moment)
    version: Mapped[int] = mapped_column(default=1)
    changed: Mapped[datetime] = mapped_column(Moment)
    token: Mapped[str | None] = mapped_column(String(40))


class ControlEntryRow(Base):
    """One test of one item, once and for all: triggers of the database refuse to change or delete one."""

    __tablename__ = "control_entries"
    __table_args__ = (
        UniqueConstraint("token", name="uq_control_entries_token"),
        Index("ix_control_entries_control_item_id", "control_item_id", "attempt", "id"),
        Index("ix_control_entries_competition_id", "competition_id", "id"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    competition_id: Mapped[int] = mapped_column(ForeignKey("competitions.id"))
    control_item_id: Mapped[int] = mapped_column(ForeignKey("control_items.id"))
    attempt: Mapped[int]
    requirement: Mapped[str] = mapped_column(String(80))
    """Which test, by its id in `rules/`."""
    line: Mapped[str] = mapped_column(String(10), server_default="")
    """Which of the lines of a cord, reel or cable."""
    reading: Mapped[float | None] = mapped_column(Double)
    """In the unit of the requirement; null where it is judged by eye or left out."""
    outcome: Mapped[str] = mapped_column(String(20))
    """“pass”, “fail”, “too close to call”, “left out”."""
    conforms: Mapped[float | None] = mapped_column(Double)
    """The probability that the item conforms, where there is a reading."""
    u: Mapped[float | None] = mapped_column(Double)
    """Standard uncertainty of the reading then."""
    instrument_id: Mapped[int | None] = mapped_column(ForeignKey("control_instruments.id"))
    note: Mapped[str] = mapped_column(String(200), server_default="")
    """What was seen, or why it was left out."""
    station_id: Mapped[int | None] = mapped_column(ForeignKey("control_stations.id"))
    began: Mapped[datetime] = mapped_column(Moment)
    at: Mapped[datetime] = mapped_column(Moment)
    by_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"))
    device: Mapped[str] = mapped_column(String(40), server_default="")
    seen: Mapped[int]
    """The version of the item that whoever made it had before them."""
    made: Mapped[int]
    """The version of the item that this entry made."""
    token: Mapped[str] = mapped_column(String(60))
    """The form that brought it, and which of its tests; the same one brings no second entry."""


class WithdrawalRow(Base):
    """That an entry no longer counts: measured again, or another one was chosen where two stations had different ones."""

    __tablename__ = "control_withdrawals"
    __table_args__ = (UniqueConstraint("entry_id", name="uq_control_withdrawals_entry_id"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    entry_id: Mapped[int] = mapped_column(ForeignKey("control_entries.id"))
    for_id: Mapped[int | None] = mapped_column(ForeignKey("control_entries.id"))
    """The entry that counts instead."""
    at: Mapped[datetime] = mapped_column(Moment)
    by_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"))


class ControlMarkRow(Base):
    """A mark that an item was given (m.41.1, m.42.2)."""

    __tablename__ = "control_marks"
    __table_args__ = (
        UniqueConstraint("token", name="uq_control_marks_token"),
        Index("ix_control_marks_control_item_id", "control_item_id", "id"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    control_item_id: Mapped[int] = mapped_column(ForeignKey("control_items.id"))
    attempt: Mapped[int]
    what: Mapped[str] = mapped_column(String(80))
    station_id: Mapped[int | None] = mapped_column(ForeignKey("control_stations.id"))
    began: Mapped[datetime] = mapped_column(Moment)
    at: Mapped[datetime] = mapped_column(Moment)
    by_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"))
    token: Mapped[str | None] = mapped_column(String(40))


class ControlStepRow(Base):
    """A step of what the rules have done to an item that failed, ticked: a mask made unusable, a jacket painted."""

    __tablename__ = "control_steps"
    __table_args__ = (UniqueConstraint("control_item_id", "attempt", "step", name="uq_control_steps_control_item_id"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    control_item_id: Mapped[int] = mapped_column(ForeignKey("control_items.id"))
    attempt: Mapped[int]
    step: Mapped[str] = mapped_column(String(40))
    at: Mapped[datetime] = mapped_column(Moment)
    by_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"))


class RejectRow(Base):
    """The form that tells a fencer why an item was rejected (m.38.5), and where the item went from there."""

    __tablename__ = "control_rejects"
    __table_args__ = (
        UniqueConstraint("competition_id", "number", name="uq_control_rejects_competition_id"),
        UniqueConstraint("control_item_id", "attempt", name="uq_control_rejects_control_item_id"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    competition_id: Mapped[int] = mapped_column(ForeignKey("competitions.id"))
    control_item_id: Mapped[int] = mapped_column(ForeignKey("control_items.id"))
    attempt: Mapped[int]
    number: Mapped[int]
    """Its number at the competition, from 1 on."""
    words: Mapped[str] = mapped_column(Text, server_default="")
    """What the table adds for the fencer."""
    job_id: Mapped[int | None] = mapped_column(ForeignKey("jobs.id"))
    case_id: Mapped[str | None] = mapped_column(ForeignKey("cases.id"))
    at: Mapped[datetime] = mapped_column(Moment)
    by_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"))
