"""An item as a station has it before it: the tests it makes there, in which order, and all that is known of the item."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from foible.records.control import (
    EntryOutcome,
    HandedInState,
    StationDoes,
    competition_by_id,
    entrant_by_id,
    entries_of,
    handed_in_at,
    marks_of,
    prefetch_item,
    reject_of,
    seen_before,
    standing,
    station_by_id,
)
from foible.records.people import names_of
from foible.records.register import items_by_ids, jobs_of, readings_of
from foible.services.control.entry import missing
from foible.services.control.handing import unticked_of
from foible.services.control.rejecting import found_words
from foible.services.control.taught import look_again
from foible.services.control.test_order import in_learnt_order
from foible.services.control.testing import kind_words, what_to_test, work_of_table

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from sqlalchemy.orm import Session

    from foible.records.control import Competition, ControlEntry, ControlMark, Entrant, HandedIn, RejectForm, Station
    from foible.records.register import Job, Reading, RegisteredItem
    from foible.services.control.testing import ToTest

__all__ = ["History", "ItemView", "TestLine", "item_view"]

HISTORY = 8
"""Jobs and readings of the register that the table shows, the latest."""


@dataclass(frozen=True)
class TestLine:
    """A test that a station makes, with what is entered of it."""

    __test__ = False

    to_test: ToTest
    entries: tuple[ControlEntry, ...]
    """Those that count: several where stations differ."""

    @property
    def entry(self) -> ControlEntry | None:
        """The one that counts; the last of several."""
        return self.entries[-1] if self.entries else None

    @property
    def clash(self) -> bool:
        """Whether stations differ."""
        return any(not self.entries[0].says_the_same(each) for each in self.entries)

    @property
    def close(self) -> bool:
        """Whether a reading leaves it too close to call."""
        return any(each.outcome is EntryOutcome.TOO_CLOSE for each in self.entries)

    def words(self, entry: ControlEntry) -> str:
        """Return what was found, in words."""
        return found_words(entry, self.to_test.requirement.unit)


@dataclass(frozen=True)
class History:
    """What the register and earlier competitions know of an item."""

    item: RegisteredItem
    jobs: tuple[Job, ...]
    readings: tuple[Reading, ...]
    before: tuple[HandedIn, ...]
    """When it was handed in before."""


@dataclass(frozen=True)
class ItemView:
    """An item before a station."""

    competition: Competition
    item: HandedIn
    words: str
    entrant: Entrant
    name: str
    station: Station | None
    does: StationDoes
    lines: tuple[TestLine, ...]
    missing: frozenset[str]
    """Keys of the tests of this station that have to be made and are not."""
    missing_elsewhere: int
    """How many tests other stations still have to make."""
    entered_at: tuple[str, ...]
    marks: tuple[ControlMark, ...]
    form: RejectForm | None
    history: History | None
    first: tuple[str, ...]
    """What the rules have done to it before it is handed back, where it failed."""

    @property
    def unsettled(self) -> bool:
        """Whether something here wants a decision."""
        return any(line.clash or line.close for line in self.lines)

    @property
    def comes_again(self) -> bool:
        """Whether it may be handed in again once it has failed."""
        return self.item.passed is False and work_of_table().comes_again(self.item.kind)

    @property
    def to_mark(self) -> bool:
        """Whether it has passed and has no mark."""
        return self.item.state is HandedInState.PASSED and not self.marks


def item_view(session: Session, competition: int, number: int, station: int | None, *, overlays: Sequence[Path] = ()) -> ItemView:
    """Return an item as a station has it before it, or whoever does everything. Raises NotFoundError."""
    prefetch_item(session, number, station)
    at, item = competition_by_id(session, competition), handed_in_at(session, competition, number)
    entrant = entrant_by_id(session, item.entrant_id)
    mine = _station_of(session, competition, station)
    does = mine.does if mine else StationDoes.ALL
    every = entries_of(session, number, attempt=item.attempt)
    entries = standing(every)
    to_make = what_to_test(at.edition, item.kind, item.weapon, does, overlays=overlays)
    known = {each.test for each in to_make}
    asked = [
        each
        for each in what_to_test(at.edition, item.kind, item.weapon, does, every=True, overlays=overlays)
        if each.test not in known and any(entry.test == each.test for entry in entries)
    ]
    look_again(session, at, {each.requirement.id: each.requirement for each in to_make if each.typed}.values())
    in_turn = in_learnt_order(session, at.edition, to_make, overlays=overlays)
    lines = tuple(TestLine(each, tuple(entry for entry in entries if entry.test == each.test)) for each in (*in_turn, *asked))
    left = missing(at, item, entries, does, overlays=overlays)
    return ItemView(
        competition=at,
        item=item,
        words=kind_words(item.kind, item.weapon),
        entrant=entrant,
        name=names_of(session, [entrant.person_id]).get(entrant.person_id, f"fencer {entrant.number}"),
        station=mine,
        does=does,
        lines=lines,
        missing=frozenset(each.key for each in left),
        missing_elsewhere=len(missing(at, item, entries, overlays=overlays)) - len(left),
        entered_at=tuple(sorted({each.device for each in entries if each.device})),
        marks=tuple(each for each in marks_of(session, number) if each.attempt == item.attempt),
        form=reject_of(session, number, item.attempt),
        history=_history(session, item),
        first=unticked_of(session, item) if item.state is HandedInState.FAILED else (),
    )


def _station_of(session: Session, competition: int, number: int | None) -> Station | None:
    station = None if number is None else station_by_id(session, number)
    return station if station and station.competition_id == competition else None


def _history(session: Session, item: HandedIn) -> History | None:
    if item.item_id is None:
        return None
    known = items_by_ids(session, [item.item_id])
    if item.item_id not in known:
        return None
    before = tuple(each for each in seen_before(session, item.item_id) if each.id != item.id)
    readings = readings_of(session, item.item_id)[-HISTORY:][::-1]
    return History(known[item.item_id], jobs_of(session, item.item_id, limit=HISTORY), readings, before)
