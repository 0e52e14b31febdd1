"""Tests of items as they are entered: kept once, never changed, and where two stations differ both stand until one is chosen."""

from __future__ import annotations

from dataclasses import asdict, dataclass, fields
from typing import TYPE_CHECKING, Any

from sqlalchemy import and_, bindparam, exists, insert, select

from foible.errors import InputError
from foible.records.control.competitions import competition_by_id, station_by_id
from foible.records.control.handed import handed_in_by_id, handed_in_row, hold, locked_items, no_such_item
from foible.records.control.values import ControlEntry, EntryOutcome, HandedInState
from foible.records.control_tables import CompetitionRow, ControlEntryRow, EntrantRow, HandedInRow, StationRow, WithdrawalRow

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence
    from datetime import datetime

    from sqlalchemy import Select
    from sqlalchemy.orm import Session

    from foible.records.control.values import Competition, HandedIn, NewControlEntry, Station
    from foible.records.register.turn import Turn

__all__ = [
    "LockedItem",
    "add_entries",
    "choose_entry",
    "clashes",
    "entries_at",
    "entries_of",
    "entries_of_items",
    "lock_item",
    "prefetch_item",
    "standing",
]  # fmt: skip

ENTRY_FIELDS = tuple(each.name for each in fields(ControlEntry) if each.name not in {"outcome", "withdrawn"})
CHOSEN = select(*(getattr(ControlEntryRow, name) for name in ENTRY_FIELDS), ControlEntryRow.outcome, WithdrawalRow.id).outerjoin(
    WithdrawalRow, WithdrawalRow.entry_id == ControlEntryRow.id
)
"""The columns of entries, and what has withdrawn each: plain rows, of which a table has many."""
SHOWN = (
    select(HandedInRow, CompetitionRow, StationRow, EntrantRow)
    .join(CompetitionRow, CompetitionRow.id == HandedInRow.competition_id)
    .join(EntrantRow, EntrantRow.id == HandedInRow.entrant_id)
    .outerjoin(StationRow, and_(StationRow.id == bindparam("station"), StationRow.competition_id == HandedInRow.competition_id))
    .where(HandedInRow.id == bindparam("item"))
)
"""An item with all that its page begins with."""
BROUGHT = exists().where(ControlEntryRow.token == bindparam("token"))
"""Whether what a form brings is there."""
LOCKED = (
    SHOWN.with_only_columns(HandedInRow, CompetitionRow, StationRow, BROUGHT, maintain_column_froms=True)
    .with_for_update(of=HandedInRow)
    .execution_options(populate_existing=True)
)
"""The same but for the fencer, locked, and what of its form is there."""
AT_A_TIME = 500
"""Items that one statement asks for: below what any database takes."""
MOST_ENTRIES = 400
"""Entries of one attempt of one item: far above what any rulebook has tested."""


@dataclass(frozen=True)
class LockedItem:
    """An item held against other programs' changes, with all that an entry of it is weighed by."""

    item: HandedIn
    competition: Competition
    station: Station | None
    """The one that enters; None where there is no such station at this competition."""
    there: tuple[ControlEntry, ...]
    """The entries of this attempt, withdrawn ones among them."""
    token: str
    brought: bool
    """Whether what this token brings is there already."""


def lock_item(session: Session, number: int, *, token: str, station_id: int | None = None) -> LockedItem:
    """Hold an item for what a form with this token says of it. Raises NotFoundError.

    It is asked for in one statement, since a table enters thousands of forms. Where another form with the same token is just
    being kept, that statement may not see it yet: the database then refuses the second one, and the change is tried again.
    """
    found = session.execute(LOCKED, {"item": number, "station": station_id, "token": f"{token}-0"}).one_or_none()
    if found is None:
        raise no_such_item(number)
    row, competition, station, brought = found
    for each in (row, competition, station):
        hold(session, each)
    locked_items(session).add(number)
    return LockedItem(
        item=handed_in_by_id(session, number),
        competition=competition_by_id(session, competition.id),
        station=station_by_id(session, station.id) if station else None,
        there=entries_of(session, number, attempt=row.attempt),
        token=token,
        brought=brought,
    )


def prefetch_item(session: Session, number: int, station_id: int | None) -> None:
    """Fetch an item, its competition, its fencer and the station in one statement: asked for singly, they are at hand then."""
    for row in session.execute(SHOWN, {"item": number, "station": station_id}).one_or_none() or ():
        hold(session, row)


def add_entries(
    turn: Turn, locked: LockedItem, new: Sequence[NewControlEntry], *, seen: int, began: datetime
) -> tuple[ControlEntry, ...]:
    """Keep tests of an item, as one change of it; what its token has brought is there already. Returns what counts now.

    `seen` is the version of the item that whoever tested had before them. An entry withdraws what stood for the same test by
    then. What another station has entered since stays beside it: `clashes` finds where the two say different things. Raises
    InputError where the item is no longer at the table.
    """
    if locked.brought:
        return standing(locked.there)
    row = handed_in_row(turn.session, locked.item.id, lock=True)
    _check_in_room(row)
    if len(locked.there) + len(new) > MOST_ENTRIES:
        seen_there = f"this item has {len(locked.there)} entries already"
        raise InputError(seen=seen_there, remedy="decide about it, and hand it in again")
    common: dict[str, Any] = {"began": began, "at": turn.at, "by_id": turn.by.person_id, "device": turn.by.device}
    common |= {"control_item_id": row.id, "attempt": row.attempt, "seen": seen, "made": row.version + 1}
    common["station_id"] = locked.station.id if locked.station else None
    told = {f"{locked.token}-{place}": asdict(each) | common for place, each in enumerate(new)}
    rows = [
        each | {"token": token, "outcome": each["outcome"].value, "competition_id": row.competition_id}
        for token, each in told.items()
    ]
    kept = insert(ControlEntryRow).returning(ControlEntryRow.id, ControlEntryRow.token)
    ids = turn.session.execute(kept, rows, execution_options={"render_nulls": True})  # all alike, hence one statement
    made = tuple(ControlEntry(id=number, **told[token]) for number, token in sorted((number, token) for number, token in ids))
    counts = _withdrawn(turn, locked.there, made, seen)
    row.version += 1
    row.changed = turn.at
    if row.state == HandedInState.HANDED_IN.value:
        row.state = HandedInState.AT_TABLE.value
    return (*counts, *made)


def _withdrawn(turn: Turn, there: Iterable[ControlEntry], made: Iterable[ControlEntry], seen: int) -> tuple[ControlEntry, ...]:
    """Have what was there make way for what was made, as far as whoever made it had seen that; return what is left of it."""
    by_test = {each.test: each for each in made}
    gone = [old for old in standing(there) if old.test in by_test and old.made <= seen]
    rows = [{"entry_id": old.id, "for_id": by_test[old.test].id, "at": turn.at, "by_id": turn.by.person_id} for old in gone]
    if rows:
        turn.session.execute(insert(WithdrawalRow), rows)
    return tuple(old for old in standing(there) if old not in gone)


def choose_entry(turn: Turn, number: int, entry_id: int) -> tuple[ControlEntry, ...]:
    """Let one entry count where two stations have entered different ones. Returns what counts now. Raises InputError."""
    row = handed_in_row(turn.session, number, lock=True)
    there = standing(entries_of(turn.session, number, attempt=row.attempt))
    chosen = next((each for each in there if each.id == entry_id), None)
    if chosen is None:
        raise InputError(seen="that entry does not count any more", remedy="look at the item again, and choose among those shown")
    _check_in_room(row)
    others = [each for each in there if each.test == chosen.test and each.id != entry_id]
    if others:
        row.version += 1
        row.changed = turn.at
    for each in others:
        turn.session.add(WithdrawalRow(entry_id=each.id, for_id=entry_id, at=turn.at, by_id=turn.by.person_id))
        turn.note("kit", number, "withdrawn", {"entry": each.id, "for": entry_id})
    turn.session.flush()
    return tuple(each for each in there if each not in others)


def entries_of(session: Session, number: int, *, attempt: int | None = None) -> tuple[ControlEntry, ...]:
    """Return the entries of an item in the order in which they were kept, withdrawn ones among them."""
    chosen = CHOSEN.where(ControlEntryRow.control_item_id == number).order_by(ControlEntryRow.id)
    if attempt is not None:
        chosen = chosen.where(ControlEntryRow.attempt == attempt)
    return tuple(_entries(session, chosen))


def entries_at(session: Session, competition: int | None = None) -> tuple[ControlEntry, ...]:
    """Return every entry of a competition, of all competitions where none is named, withdrawn ones among them."""
    chosen = CHOSEN.order_by(ControlEntryRow.id)
    if competition is not None:
        chosen = chosen.where(ControlEntryRow.competition_id == competition)
    return tuple(_entries(session, chosen))


def entries_of_items(session: Session, numbers: Iterable[int]) -> dict[int, tuple[ControlEntry, ...]]:
    """Return the entries of some items, by item."""
    found: dict[int, list[ControlEntry]] = {each: [] for each in numbers}
    wanted = list(found)
    for start in range(0, len(wanted), AT_A_TIME):
        chosen = CHOSEN.where(ControlEntryRow.control_item_id.in_(wanted[start : start + AT_A_TIME]))
        for each in _entries(session, chosen.order_by(ControlEntryRow.id)):
            found[each.control_item_id].append(each)
    return {number: tuple(those) for number, those in found.items()}


def standing(entries: Iterable[ControlEntry]) -> tuple[ControlEntry, ...]:
    """Return the entries that count."""
    return tuple(each for each in entries if not each.withdrawn)


def clashes(entries: Iterable[ControlEntry]) -> tuple[tuple[ControlEntry, ...], ...]:
    """Return where several entries that count say different things of one test, each time all of them."""
    by_test: dict[tuple[int, str, str], list[ControlEntry]] = {}
    for each in standing(entries):
        by_test.setdefault((each.attempt, *each.test), []).append(each)
    return tuple(tuple(those) for those in by_test.values() if any(not those[0].says_the_same(each) for each in those))


def _check_in_room(row: HandedInRow) -> None:
    state = HandedInState(row.state)
    if state in {HandedInState.HANDED_BACK, HandedInState.KEPT_BACK}:
        raise InputError(seen=f"this item is no longer at the table: it was {state.value}", remedy="hand it in again first")


def _entries(session: Session, chosen: Select[Any]) -> Iterator[ControlEntry]:
    for *given, outcome, withdrawn in session.execute(chosen):
        known: dict[str, Any] = dict(zip(ENTRY_FIELDS, given, strict=True))
        yield ControlEntry(**known, outcome=EntryOutcome(outcome), withdrawn=withdrawn is not None)
