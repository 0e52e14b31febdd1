"""Competitions, entrants, what they hand in and how each test of it came out, as plain values."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import date, datetime

__all__ = [
    "Competition", "ControlEntry", "ControlMark", "ControlStep", "Entrant", "EntryOutcome", "HandedIn", "HandedInState",
    "Instrument", "NewCompetition", "NewControlEntry", "NewEntrant", "NewHandedIn", "NewInstrument", "RejectForm", "Station",
    "StationDoes",
]  # fmt: skip


class StationDoes(StrEnum):
    """What is done at a station (m.43)."""

    DIMENSIONS = "dimensions"
    ELECTRICS = "electrics"
    MARKS = "marks"
    ALL = "all"
    """One person does everything, as at a small competition."""


class HandedInState(StrEnum):
    """Where an item is that a fencer has handed in."""

    HANDED_IN = "handed in"
    AT_TABLE = "at the table"
    """A first test of this attempt has been made."""
    PASSED = "passed"
    FAILED = "failed"
    HANDED_BACK = "handed back"
    KEPT_BACK = "kept back"
    """It stays with the officials."""

    @property
    def in_the_room(self) -> bool:
        """Whether its fencer has not got it back."""
        return self is not HandedInState.HANDED_BACK

    @property
    def to_test(self) -> bool:
        """Whether it waits for the table, or is on it."""
        return self in {HandedInState.HANDED_IN, HandedInState.AT_TABLE}


class EntryOutcome(StrEnum):
    """How a test came out."""

    PASS = "pass"  # noqa: S105 — no password
    FAIL = "fail"
    TOO_CLOSE = "too close to call"
    LEFT_OUT = "left out"
    """Not made, and said so: an official decides whether it has to be."""


@dataclass(frozen=True)
class NewCompetition:
    """A competition to be opened."""

    name: str
    day: date
    edition: str
    decision: str
    risk: float = 0.05
    token: str | None = None


@dataclass(frozen=True)
class Competition:
    """A competition. `version` rises with every change of these fields, not with what is tested."""

    id: int
    name: str
    day: date
    edition: str
    decision: str
    """How a reading near a limit is decided, as `control.conformity.DecisionRule` has it."""
    risk: float
    state: str
    """“open” or “closed”."""
    version: int
    opened: datetime


@dataclass(frozen=True)
class NewInstrument:
    """A meter, gauge or scale to be used at the table; `u` is the standard uncertainty of one reading in `unit`."""

    name: str
    tool: str
    unit: str
    u: float
    made_up_of: Mapping[str, float] = field(default_factory=dict)
    item_id: int | None = None
    token: str | None = None


@dataclass(frozen=True)
class Instrument:
    """A meter, gauge or scale at the table."""

    id: int
    competition_id: int
    name: str
    tool: str
    unit: str
    u: float
    made_up_of: Mapping[str, float]
    item_id: int | None
    version: int


@dataclass(frozen=True)
class Station:
    """A place at the table, from when it opened until it closed."""

    id: int
    competition_id: int
    does: StationDoes
    team: int
    opened: datetime
    closed: datetime | None


@dataclass(frozen=True)
class NewEntrant:
    """A fencer to be entered: somebody in `people`."""

    person_id: int
    weapons: tuple[str, ...] = ()
    number: int | None = None
    """What the fencer is called out by; None for the next free number."""
    token: str | None = None


@dataclass(frozen=True)
class Entrant:
    """A fencer at a competition. The name stands in `people` alone."""

    id: int
    competition_id: int
    person_id: int
    number: int
    weapons: tuple[str, ...]
    came: datetime | None
    version: int


@dataclass(frozen=True)
class NewHandedIn:
    """An item that a fencer hands in."""

    kind: str
    weapon: str | None = None
    item_id: int | None = None
    """The same item in the register."""
    token: str | None = None


@dataclass(frozen=True)
class HandedIn:
    """An item that a fencer has handed in. `version` rises with every test and change of it."""

    id: int
    competition_id: int
    entrant_id: int
    number: int
    kind: str
    weapon: str | None
    item_id: int | None
    state: HandedInState
    attempt: int
    passed: bool | None
    """How its last attempt ended; None while it lasts."""
    handed_in: datetime
    decided: datetime | None
    handed_back: datetime | None
    version: int
    changed: datetime


@dataclass(frozen=True)
class NewControlEntry:
    """A test of an item. `reading` is in the requirement's unit; None where it is judged by eye or left out."""

    requirement: str
    outcome: EntryOutcome
    reading: float | None = None
    line: str = ""
    conforms: float | None = None
    u: float | None = None
    instrument_id: int | None = None
    note: str = ""

    @property
    def test(self) -> tuple[str, str]:
        """What is tested: the requirement, and the line where there are several."""
        return self.requirement, self.line


@dataclass(frozen=True)
class ControlEntry:
    """A test of an item as it was entered. It never changes; one that no longer counts is `withdrawn`."""

    id: int
    control_item_id: int
    attempt: int
    requirement: str
    line: str
    reading: float | None
    outcome: EntryOutcome
    conforms: float | None
    u: float | None
    instrument_id: int | None
    note: str
    station_id: int | None
    began: datetime
    at: datetime
    by_id: int | None
    device: str
    seen: int
    made: int
    withdrawn: bool = False

    @property
    def test(self) -> tuple[str, str]:
        """What is tested: the requirement, and the line where there are several."""
        return self.requirement, self.line

    def says_the_same(self, other: ControlEntry | NewControlEntry) -> bool:
        """Return whether another entry of this test says nothing else."""
        return (self.reading, self.outcome) == (other.reading, other.outcome)


@dataclass(frozen=True)
class ControlMark:
    """A mark that an item was given."""

    id: int
    control_item_id: int
    attempt: int
    what: str
    station_id: int | None
    began: datetime
    at: datetime
    by_id: int | None


@dataclass(frozen=True)
class ControlStep:
    """A step of what the rules have done to an item that failed, ticked."""

    id: int
    control_item_id: int
    attempt: int
    step: str
    at: datetime
    by_id: int | None


@dataclass(frozen=True)
class RejectForm:
    """The form that tells a fencer why an item was rejected, and where the item went."""

    id: int
    competition_id: int
    control_item_id: int
    attempt: int
    number: int
    words: str
    job_id: int | None
    case_id: str | None
    at: datetime
    by_id: int | None
