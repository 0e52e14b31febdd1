"""Job cards and parts in stock as plain values. Money is in hundredths of the club's currency."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import Enum
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import date, datetime

__all__ = ["Job", "JobLine", "JobState", "LineKind", "Move", "NewJob", "NewLine", "NewPart", "StockPart", "Why"]


class JobState(Enum):
    """How far a job is."""

    WAITING = "waiting"
    IN_HAND = "in hand"
    DONE = "done"
    """Mended, and not yet with its owner."""
    HANDED_BACK = "handed back"
    GIVEN_UP = "given up"

    @property
    def open(self) -> bool:
        """Whether there is still work to do."""
        return self in {JobState.WAITING, JobState.IN_HAND}


class LineKind(Enum):
    """What a line of a job card says."""

    FOUND = "found"
    REPAIR = "repair"
    PART = "part"
    STEP = "step"
    PROOF = "proof"
    NOTE = "note"


@dataclass(frozen=True)
class NewLine:
    """A line for a job card. `ref` is the kit's own name of failure, repair or step; of a part from stock its code."""

    kind: LineKind
    ref: str = ""
    text: str = ""
    count: float | None = None
    """How many parts, or a value measured."""
    token: str | None = None


@dataclass(frozen=True)
class JobLine:
    """A line of a job card."""

    id: int
    number: int
    kind: LineKind
    ref: str
    text: str
    count: float | None
    cost: int | None
    at: datetime
    by_id: int | None
    taken_back: bool


@dataclass(frozen=True)
class NewJob:
    """A job to be done on an item."""

    item_id: int
    kind: str = "mend"
    complaint: str = ""
    case_id: str | None = None
    evidence: Mapping[str, Any] | None = None
    promised: date | None = None
    token: str | None = None


@dataclass(frozen=True)
class Job:
    """A job card. `version` rises with every change, a line among them."""

    id: int
    item_id: int
    kind: str
    complaint: str
    case_id: str | None
    evidence: Mapping[str, Any] | None = field(repr=False)
    state: JobState
    sound: bool | None
    minutes: float | None
    promised: date | None
    opened: datetime
    changed: datetime
    done: datetime | None
    by_id: int | None
    version: int
    lines: tuple[JobLine, ...] = field(repr=False, default=())

    @property
    def standing(self) -> tuple[JobLine, ...]:
        """Lines that were not taken back."""
        return tuple(line for line in self.lines if not line.taken_back)


class Why(Enum):
    """Why the count of a part changed."""

    IN = "in"
    USED = "used"
    BACK = "back"
    COUNTED = "counted"


@dataclass(frozen=True)
class NewPart:
    """A kind of part to be kept in stock."""

    name: str
    fits: tuple[str, ...] = ()
    made_by: str = ""
    bin: str = ""
    count: int = 0
    least: int = 0
    price: int | None = None
    supplier: str = ""
    code: str | None = None
    token: str | None = None


@dataclass(frozen=True)
class StockPart:
    """A kind of part in stock."""

    id: int
    code: str
    name: str
    fits: tuple[str, ...]
    made_by: str
    bin: str
    count: int
    least: int
    price: int | None
    supplier: str
    version: int
    changed: datetime

    @property
    def short(self) -> int:
        """How many are missing to the least count."""
        return max(0, self.least - self.count)


@dataclass(frozen=True)
class Move:
    """Parts that came, went or were counted."""

    id: int
    change: int
    why: Why
    line_id: int | None
    at: datetime
    by_id: int | None
