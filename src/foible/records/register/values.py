"""Items, loans and readings as plain values. Money is in hundredths of the club's currency."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import Enum
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import date, datetime

__all__ = ["ItemState", "Loan", "NewItem", "NewReading", "Reading", "RegisteredItem"]


class ItemState(Enum):
    """Where an item is in its life."""

    IN_USE = "in use"
    BENCH = "at the bench"
    FAILED = "failed"
    LENT = "lent"
    RETIRED = "retired"
    LOST = "lost"

    @property
    def gone(self) -> bool:
        """Whether it is no longer among the kit."""
        return self in {ItemState.RETIRED, ItemState.LOST}


@dataclass(frozen=True)
class NewItem:
    """An item to be registered. Names are the kit's own, as the services check them."""

    kind: str
    letter: str
    """What its code begins with."""
    weapon: str | None = None
    name: str = ""
    fitted: Mapping[str, str] = field(default_factory=dict)
    """Model by slot, of what is not fitted as usual."""
    made_by: Mapping[str, str] = field(default_factory=dict)
    """Make by part or slot, as the club calls it."""
    owner_id: int | None = None
    state: ItemState = ItemState.IN_USE
    bought: date | None = None
    first_used: date | None = None
    retired: date | None = None
    price: int | None = None
    check_due: date | None = None
    notes: str = ""
    code: str | None = None
    """A code that it has already; None has one made."""
    token: str | None = None


@dataclass(frozen=True)
class RegisteredItem:
    """An item as it is registered. `version` rises with every change."""

    id: int
    code: str
    kind: str
    weapon: str | None
    name: str
    fitted: Mapping[str, str]
    made_by: Mapping[str, str]
    owner_id: int | None
    state: ItemState
    bought: date | None
    first_used: date | None
    retired: date | None
    price: int | None
    check_due: date | None
    notes: str
    version: int
    opened: datetime
    changed: datetime


@dataclass(frozen=True)
class Loan:
    """An item lent, and given back or not."""

    id: int
    item_id: int
    to_id: int
    out: datetime
    until: date | None
    back: datetime | None
    back_state: str


@dataclass(frozen=True)
class NewReading:
    """A value measured on an item."""

    quantity: str
    value: float
    unit: str
    line: str = ""
    clause: str = ""
    passed: bool | None = None
    map: tuple[tuple[float, ...], ...] | None = None
    """Rows of values over a lamé, of which `value` is the worst."""
    instrument_id: int | None = None
    token: str | None = None


@dataclass(frozen=True)
class Reading:
    """A value measured, with when and by whom."""

    id: int
    item_id: int
    job_id: int | None
    quantity: str
    line: str
    value: float
    unit: str
    clause: str
    passed: bool | None
    map: tuple[tuple[float, ...], ...] | None
    instrument_id: int | None
    at: datetime
    by_id: int | None
