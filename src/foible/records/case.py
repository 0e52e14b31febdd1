"""A case as the records have it, as plain values: whole, as a head for lists, and as what is asked of a list."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import Enum
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import date, datetime, tzinfo

    from foible.endings import CaseEnding

__all__ = ["CaseHead", "CaseQuery", "CaseState", "Entry", "EntryKind", "Heads", "KeptCase", "NewCase", "NewEntry"]


class EntryKind(Enum):
    """What was said."""

    TRIAL = "trial"
    SKIP = "skip"
    """A trial that cannot be made now."""
    BACK = "back"
    """What was exchanged is the fencer's own again."""
    END = "end"
    """The case was closed, with an ending; taken back where it was reopened."""
    PHOTO = "photo"


@dataclass(frozen=True)
class NewEntry:
    """Something said in a case. `token` is unique to it: sent again, by a form sent twice, it is taken once."""

    kind: EntryKind
    token: str
    say: str = ""
    trial: Mapping[str, Any] = field(default_factory=dict)
    by: str = ""
    names: int = 0
    """The version of the kit's names that `trial` is written in; 0 is from before the names had versions."""
    photo: str = ""
    """The name that a photo is kept under."""


@dataclass(frozen=True)
class Entry:
    """Something that was said, with its number in the case."""

    number: int
    kind: EntryKind
    say: str
    trial: Mapping[str, Any]
    by: str
    names: int
    at: datetime
    taken_back: bool
    token: str = field(repr=False, default="")
    """What it was sent with: the same one again is the same thing said."""
    photo: str = ""
    """The name that a photo is kept under."""


@dataclass(frozen=True)
class NewCase:
    """A case to be kept. `token` is unique to it: sent again, by a form sent twice, it opens no second case.

    From `fitted` on, the fields are those of a case file, as it writes them.
    """

    weapon: str
    title: str
    complaint: str = ""
    tools: tuple[str, ...] = ()
    token: str | None = None
    piste: str = ""
    fencer: str = ""
    place: str = "piste"
    item: str | None = None
    """What lies on the bench."""
    fitted: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    """Model by side and slot, for what is not fitted as usual."""
    known_good: tuple[str, ...] = ()
    facts: tuple[str, ...] = ()
    profile: str | None = None
    source: str = ""
    expect: Mapping[str, Any] | None = None
    ending: CaseEnding | None = None
    """How it ended, where it is closed from the start."""
    ended_with: tuple[str, ...] = ()


@dataclass(frozen=True)
class KeptCase:
    """A case as it is kept. `version` rises with every change."""

    id: str
    title: str
    piste: str
    """Which piste it is on, as people call it; "" where nobody said."""
    fencer: str
    """Whose kit it is, as free text."""
    weapon: str
    complaint: str
    place: str
    item: str | None
    tools: tuple[str, ...]
    version: int
    opened: datetime
    changed: datetime
    closed: bool
    ended: datetime | None
    """When it was closed; None where it is open."""
    ending: CaseEnding | None
    """How it ended; None where it is open, and where it was closed without one."""
    ended_with: tuple[str, ...]
    """The items and repairs that its ending is about."""
    fitted: Mapping[str, Mapping[str, str]]
    """Model by side and slot, for what is not fitted as usual."""
    known_good: tuple[str, ...]
    facts: tuple[str, ...]
    """What is known of the place and the kit."""
    profile: str | None
    source: str
    expect: Mapping[str, Any] | None
    """The known cause, as a case file writes it."""
    entries: tuple[Entry, ...] = field(repr=False)

    @property
    def standing(self) -> tuple[Entry, ...]:
        """What was said and not taken back."""
        return tuple(entry for entry in self.entries if not entry.taken_back)

    def has_heard(self, token: str) -> bool:
        """Return whether something with this token was said: then who sends it again did not hear the reply."""
        return any(entry.token == token for entry in self.entries)


@dataclass(frozen=True)
class CaseHead:
    """What a list shows of a case, without its entries."""

    id: str
    title: str
    piste: str
    """Which piste it is on, as people call it; "" where nobody said."""
    fencer: str
    """Whose kit it is, as free text."""
    weapon: str
    complaint: str
    place: str
    item: str | None
    tools: tuple[str, ...]
    version: int
    opened: datetime
    changed: datetime
    closed: bool
    ended: datetime | None
    ending: CaseEnding | None
    ended_with: tuple[str, ...]
    trials: int
    """How many trials it has: made, and not taken back."""


class CaseState(Enum):
    """Whether a case is open or closed."""

    OPEN = "open"
    CLOSED = "closed"
    ALL = "all"


@dataclass(frozen=True)
class CaseQuery:
    """Which cases a list shows; a field left out does not narrow it."""

    words: str = ""
    """Each of them must occur in the title, piste, fencer, complaint, source, item, weapon, ending or name of the case, whatever
    their case and accents."""
    weapon: str | None = None
    state: CaseState = CaseState.ALL
    since: date | None = None
    """The earliest day of the case's last change."""
    until: date | None = None
    """The latest such day."""
    zone: tzinfo | None = None
    """The time zone of these days; None is that of this machine."""


@dataclass(frozen=True)
class Heads:
    """One stretch of a list of cases, the latest changed first, and how many there are in all."""

    rows: tuple[CaseHead, ...]
    total: int
